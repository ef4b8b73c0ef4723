"""The page Cloth: its answer, worked out as a study and kept while what it rests on stands."""

from __future__ import annotations

import json
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.answers.libraries import answer_key
from app.answers.planning import Look
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.sites.sites import with_history
from sim.day.rules import Rule, parse_rule
from sim.decide.cloth.advice import cloth_answer
from sim.decide.cloth.answer import ClothAnswer
from sim.errors import InputError, Note
from sim.inputs import WEIGHINGS, Conditions, SiteData
from sim.learn.cloth_wear import WearDays
from sim.learn.expected_day import Override, expected_day

KIND = "cloth"
SCHEMA = "clothcast.cloth/3"
FAILED = "When to change cloth could not be worked out: {fault}"
SEED = 20260704
"""Root seed of the days on which damp cars are counted."""
QUARTERS, QUARTER_DAYS = 4, 91
LAST_MINUTE_S = 86_340.0


@dataclass(frozen=True, slots=True)
class ClothFound:
    """The answer, or every problem that says why there is none."""

    answer: ClothAnswer | None
    problems: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class ClothView:
    """What the page shows.

    Attributes:
        found: None while it is not there.
        day: the date at the site, the whole of which counts.
        now_s: time of day at the site [s].
        key: names question and answer.
        running, failed: how far it is, or what went wrong with it.
    """

    found: ClothFound | None
    day: date
    now_s: float
    key: str = ""
    running: Progress | None = None
    failed: str = ""


def cloth_key(stored: StoredSite, day: date, rules: dict[date, Rule]) -> str:
    """A hash of everything that the answer depends on: a version of a site is never changed, so it
    stands for inputs, past and sets."""
    texts = [[when.isoformat(), rule.text] for when, rule in sorted(rules.items())]
    return answer_key(SCHEMA, SEED, [stored.id, stored.version, day.isoformat(), texts])


def open_cloth(
    session: Session, stored: StoredSite, now: datetime, today: date, runner: Runner
) -> ClothView:
    """The answer for a site as far as it is known.

    Args:
        now: gives the time of day where `today` is the date of that very moment, else it is the
            last minute.
    """
    key = cloth_key(stored, today, planned_rules(session, stored))
    found = store.find_result(session, key)
    now_s = _time_of_day(stored, now, today)
    if found is not None:
        return ClothView(read(ClothFound, json.dumps(found)), today, now_s, key)
    running, failed = runner.progress(key, session), runner.failure(key, session)
    return ClothView(None, today, now_s, key, running, failed)


def _time_of_day(stored: StoredSite, now: datetime, today: date) -> float:
    there = now.astimezone(ZoneInfo(stored.data.site.timezone))
    return there.hour * 3600.0 + there.minute * 60.0 if there.date() == today else LAST_MINUTE_S


def work_out(data: SiteData, rules: dict[date, Rule], today: date, look: Look) -> ClothAnswer:
    """The answer.

    Args:
        data: the site with its past; rules: of its planned days.

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


def cloth_job(session: Session, stored: StoredSite, view: ClothView, runner: Runner) -> Job | None:
    """What works a view's answer out; None if that has been done."""
    if view.found is not None:
        return None
    data, look, day = runner.past.data(session, stored), runner.past.look, view.day
    rules = planned_rules(session, stored)

    def work(_executor: Executor | None, report: Report) -> dict[str, Any]:
        report(0, 1)
        found: dict[str, Any] = json.loads(write(find_out(data, rules, day, look)))
        return found

    return Job(KIND, view.key, stored.id, day, 1, 0, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that a site's sets ask for on a day as things stand; None if they ask for none."""
    key = cloth_key(stored, day, planned_rules(session, stored))
    if store.find_result(session, key) is not None:
        return None
    return cloth_job(session, stored, ClothView(None, day, LAST_MINUTE_S, key), runner)


def answer_of_site(session: Session, site_id: int, today: date) -> tuple[ClothAnswer, bool]:
    """The answer for a stored site, worked out at once, and whether its three weighings are in;
    raises as `work_out` does."""
    stored = store.get_site(session, site_id)
    rules = planned_rules(session, stored)
    found = work_out(with_history(session, stored), rules, today, expected_day)
    return found, is_weighed(stored)


def is_weighed(stored: StoredSite) -> bool:
    """Whether all three weighings are in; before that no advice is firm."""
    return {item.kind for item in stored.data.weighings}.issuperset(WEIGHINGS)


def planned_rules(session: Session, stored: StoredSite) -> dict[date, Rule]:
    """The rule of each planned day: that of its first scenario."""
    keys = [item.key for item in stored.data.site.vehicles]
    found = {}
    for day in store.list_plan_days(session, stored.id):
        plan = store.find_plan(session, stored.id, day)
        try:
            if plan is not None and plan.scenarios:
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
        try:
            found.append(look(data, open_days[len(open_days) // 2][1], Override()).conditions)
        except InputError:  # no weather is known
            continue
    return tuple(found)
