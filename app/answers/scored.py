"""How good the advice of the last days was: what the plan of each morning told beside its log.

Where no plan was stored before a day opened, what one would have told is worked out as on the
day's own page (`app.answers.happened`), of fewer simulated days.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.beliefs import belief_in, weighings_of
from app.answers.happened import afterwards_of, plan_stood, planned_in
from app.answers.serial import write
from app.answers.stops import day_cars
from app.answers.studies.stages import Stage
from app.db import store
from sim.day.drawn import Belief
from sim.day.engine import parallel_map
from sim.decide.compare import Question, compare
from sim.inputs import LogEntry, SiteData
from sim.learn.happened import Planned
from sim.learn.logged import LoggedDay, logged_day
from sim.learn.scored import SCHEMA, WINDOWS, Scored, ToldDay, score_days

RUNS = 32
"""Simulated days of each day of which no plan was stored: what they leave open is small beside how
far hoods of one day scatter."""
NOTHING_TOLD = Planned("nothing", {})


@dataclass(frozen=True, slots=True)
class ScoreAsked:
    """What is asked of the days until a last one.

    Attributes:
        days: with entries; where no plan stood, nothing is told yet.
        belief: what measurements leave of the site's guesses; None for none.
        rests_on: names inputs and past of the site.
    """

    data: SiteData
    last: date
    days: tuple[ToldDay, ...]
    belief: Belief | None
    rests_on: str


ScoreView = Answer[ScoreAsked, Scored]
"""How good the advice was, as far as it is known."""


def _ask(desk: Desk, day: date) -> ScoreAsked:
    held, data, last = weighings_of(desk), desk.data, day - timedelta(days=1)
    rests_on = desk.rests_on("history")
    # while measurements are worked in, another question is soon asked in its place
    if held.is_awaited:
        return ScoreAsked(data, last, (), None, rests_on)
    log = store.load_log(desk.session, desk.site.id, day - timedelta(days=max(WINDOWS)), last)
    days = told_days(data, log, lambda at: plan_stood(desk, at)[0])
    return ScoreAsked(data, last, days, belief_in(held), rests_on)


def told_days(
    data: SiteData, log: Iterable[LogEntry], stood: Callable[[date], Planned | None]
) -> tuple[ToldDay, ...]:
    """The days of some entries.

    Args:
        stood: gives what the plan of a day's morning told; None where none was stored by then.
    """
    entries: dict[date, list[LogEntry]] = {}
    for one in log:
        if one.counts:
            entries.setdefault(one.day, []).append(one)
    line, counted = data.site.line, day_cars(data)
    days = []
    for at, some in sorted(entries.items()):
        logged = logged_day(some, 3600.0 * line.open_h, 3600.0 * line.close_h)
        arrived = _arrived(logged, counted.get(at), data.history.counted)
        days.append(ToldDay(at, stood(at) or NOTHING_TOLD, logged, arrived))
    return tuple(days)


def _arrived(logged: LoggedDay, counted: int | None, what: str) -> int | None:
    """Cars that came on a day, those that drove away among them; None where nobody counted."""
    if counted is not None and what == "arrived":
        return counted
    washed = logged.cars if counted is None else counted
    return None if washed is None else washed + (logged.turned_away or 0)


def _key(asked: ScoreAsked) -> str:
    if not asked.days:
        return ""
    return answer_key(SCHEMA, write((asked.last, asked.days, asked.belief, asked.rests_on, RUNS)))


def score_of(
    asked: ScoreAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Scored:
    """How good what was told of some days was."""
    questions: dict[int, Question] = {}
    for place, one in enumerate(asked.days):
        if one.planned.source != "stored":
            later = afterwards_of(asked.data, one.day, one.logged, asked.belief, RUNS)
            if later.question is not None:
                questions[place] = later.question
    told = parallel_map(
        _told_in, list(questions.values()), executor, lambda done: progress(done, len(questions))
    )
    days = list(asked.days)
    for place, planned in zip(questions, told, strict=True):
        days[place] = replace(days[place], planned=planned)
    line = asked.data.site.line
    return score_days(asked.last, days, 3600.0 * line.open_h, 3600.0 * line.close_h)


def _told_in(question: Question) -> Planned:
    return planned_in("afterwards", compare(question).columns[0])


SCORE: Kind[ScoreAsked, Scored] = Kind(
    name="scored",
    label="How good the advice was",
    stages=(Stage("days", "working out what each day would have been told"),),
    page="happened",
    found=Scored,
    ask=_ask,
    key=_key,
    days=lambda asked: RUNS * len(asked.days),
    work=score_of,
    failed="How good the advice was could not be worked out: {fault}",
    schema=SCHEMA,
)
