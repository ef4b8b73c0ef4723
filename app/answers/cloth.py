"""The page Cloth: its answer, worked out as a study and kept while what it rests on stands."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.coming_days import Look
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.db.session import Session
from app.db.store import StoredSite
from sim.day.rules import Rule, parse_rule
from sim.decide.cloth.advice import cloth_answer
from sim.decide.cloth.answer import ClothAnswer
from sim.errors import InputError, Note
from sim.inputs import Conditions, SiteData
from sim.learn.cloth_wear import WearDays
from sim.learn.expected_day import Override, expected_day

SCHEMA = "clothcast.cloth/8"
SEED = 20260704
"""Root seed of the days on which damp cars are counted."""
QUARTERS, QUARTER_DAYS = 4, 91
LAST_MINUTE_S = 86_340.0


@dataclass(frozen=True, slots=True)
class ClothAsked:
    """What when to change cloth depends on.

    Attributes:
        data: the site with its past.
        rules: of its planned days.
        day: the date at the site, the whole of which counts.
        look: gives expected days.
        rests_on: names inputs, past, measurements and the record of the sets.
    """

    data: SiteData
    rules: dict[date, Rule]
    day: date
    look: Look
    rests_on: str


@dataclass(frozen=True, slots=True)
class ClothFound:
    """The answer, or every problem that says why there is none."""

    schema: str = field(default=SCHEMA, kw_only=True)
    answer: ClothAnswer | None
    problems: tuple[Note, ...] = ()


ClothView = Answer[ClothAsked, ClothFound]
"""When to change cloth, as far as it is known."""


def ask_cloth(desk: Desk, day: date) -> ClothAsked:
    """What a site's sets ask for on a day."""
    rests_on = desk.rests_on("history", "weighings", "cloth")
    return ClothAsked(desk.data, planned_rules(desk), day, desk.look, rests_on)


def cloth_key(asked: ClothAsked) -> str:
    """A hash of everything that the answer depends on."""
    texts = [[when.isoformat(), rule.text] for when, rule in sorted(asked.rules.items())]
    return answer_key(SCHEMA, SEED, [asked.rests_on, asked.day.isoformat(), texts])


def time_of_day(stored: StoredSite, now: datetime, today: date) -> float:
    """Time of day at a site [s]; its last minute where `now` is of another date there."""
    there = now.astimezone(ZoneInfo(stored.data.site.timezone))
    is_now = stored.data.stands_on is not None or there.date() == today
    return there.hour * 3600.0 + there.minute * 60.0 if is_now else LAST_MINUTE_S


def work_out(data: SiteData, rules: dict[date, Rule], today: date, look: Look) -> ClothAnswer:
    """The answer to what a `ClothAsked` holds.

    Raises:
        InputError: if there is none, with every reason.
    """
    days = WearDays(data, rules)
    typical = typical_days(data, days, today, look)
    # what was entered for later today has happened as far as a day's answer goes
    return cloth_answer(data, days, today, LAST_MINUTE_S, typical, SEED)


def find_out(data: SiteData, rules: dict[date, Rule], today: date, look: Look) -> ClothFound:
    """The same, or why there is none."""
    try:
        return ClothFound(work_out(data, rules, today, look))
    except InputError as fault:
        return ClothFound(None, tuple(problem.noted() for problem in fault.problems))


def _work(asked: ClothAsked, _executor: Executor | None, report: Report) -> ClothFound:
    report(0, 1)
    return find_out(asked.data, asked.rules, asked.day, asked.look)


CLOTH: Kind[ClothAsked, ClothFound] = Kind(
    name="cloth",
    label="Cloth",
    stages=(Stage("sets", "working out each set’s life"),),
    page="cloth",
    found=ClothFound,
    ask=ask_cloth,
    key=cloth_key,
    days=lambda _asked: 0,
    work=_work,
    failed="When to change cloth could not be worked out: {fault}",
    schema=SCHEMA,
)


def answer_of_site(session: Session, stored: StoredSite, today: date) -> ClothAnswer:
    """The answer for a stored site, worked out at once; raises as `work_out` does."""
    asked = ask_cloth(Desk(session, stored), today)
    return work_out(asked.data, asked.rules, today, asked.look)


def planned_rules(desk: Desk) -> dict[date, Rule]:
    """The rule of each planned day: that of its first scenario."""
    keys = [item.key for item in desk.site.data.site.vehicles]
    found = {}
    for day, plan in desk.plans.items():
        try:
            if plan.scenarios:
                found[day] = parse_rule(plan.scenarios[0].rule, keys)
        except InputError:  # a class that the site has no more
            continue
    return found


def typical_days(
    data: SiteData, days: WearDays, today: date, look: Look = expected_day
) -> tuple[Conditions, ...]:
    """Of each coming quarter the open day with the middle number of cars, as it is expected."""
    found = []
    for quarter in range(QUARTERS):
        ahead = [
            today + timedelta(days=1 + quarter * QUARTER_DAYS + n) for n in range(QUARTER_DAYS)
        ]
        cars = sorted((float(days.cars(day).sum()), day) for day in ahead)
        open_days = [row for row in cars if row[0] > 0.0]
        if not open_days:
            continue
        found.append(look(data, open_days[len(open_days) // 2][1], Override()).conditions)
    return tuple(found)
