"""Planning a day: what is expected, the scenarios, and their comparison, stored or under way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Generic, TypeVar

from app.answers.answer import Answer, Desk, Kind, answer_key, libraries
from app.answers.beliefs import BeliefView, belief_in, weighings_of
from app.answers.coming_days import Look, evening_before
from app.answers.serial import read
from app.answers.sizes import FIRST_REPLICATIONS, REPLICATIONS, SEED
from app.answers.studies.runner import Report, is_long
from app.answers.studies.stages import Stage
from app.answers.studies.workers import is_warm
from app.db import store
from app.db.session import Database, Session
from app.sites.plan_states import PlanState
from sim.day.drawn import Belief
from sim.day.night import PreviousDay
from sim.decide.answer import SCHEMA, Comparison, Plan
from sim.decide.compare import (
    Question,
    check_question,
    check_scenarios,
    compare_in_stages,
    first_stage,
)
from sim.decide.now.evening import evening_as_logged
from sim.errors import InputError, InputProblem
from sim.inputs import LogEntry, Scenario, SiteData
from sim.learn.expected_day import ExpectedDay, expected_day, parse_override

__all__ = [
    "FIRST_REPLICATIONS", "REPLICATIONS", "SEED",
    "ExpectedDay", "Look", "check_scenarios", "compare_in_stages", "first_stage",
]  # fmt: skip

Posed = TypeVar("Posed")
LogOf = Callable[[date], Sequence[LogEntry]]
"""Gives the logbook of a day."""

DEFAULT_SCENARIOS = (  # what a day without a stored plan compares
    Scenario("Always full", "full"),
    Scenario("Always reduced", "reduced"),
    Scenario("Reduced 10:00–17:00", "clock 10:00-17:00"),
)


@dataclass(frozen=True, slots=True)
class DayInputs:
    """A day as it is planned: what its answers are asked for.

    Attributes:
        version: version of the stored plan; 0 when none is stored and the defaults are shown.
        expect: what was typed over the expected day.
        expected: the expected day; None when `problems` say why there is none.
        problems: why the day can't be planned; empty when it can.
        question: what its plan asks; None for a closed day and one that can't be planned.
        held: what the site's weighings have told so far.
    """

    day: date
    version: int
    expect: str
    scenarios: tuple[Scenario, ...]
    expected: ExpectedDay | None
    problems: tuple[InputProblem, ...]
    question: Question | None
    held: BeliefView

    @property
    def has_cars(self) -> bool:
        """Whether the day is open and any car is expected."""
        day = self.expected
        return day is not None and not day.closed and day.expected_cars > 0

    @property
    def to_compare(self) -> Question | None:
        """The question of a day with cars; None where there is nothing to work out."""
        return self.question if self.has_cars else None


@dataclass(frozen=True, slots=True)
class DayAsked(Generic[Posed]):
    """What is asked of a planned day.

    Attributes:
        plan: the day; its first scenario is what is done now; says why there is nothing to ask.
        question: what is asked; None where the day can't be planned, or is without cars.
    """

    plan: DayInputs
    question: Posed | None

    @property
    def posed(self) -> Posed:
        """The question; raises ValueError where there is none."""
        if self.question is None:
            raise ValueError(f"{self.plan.day} asks for nothing")
        return self.question

    @property
    def origin(self) -> str:
        """Where the expected day comes from, in words."""
        return "" if self.plan.expected is None else self.plan.expected.origin


PlanView = Answer[DayInputs, Plan]
"""The comparison of a day's scenarios as far as it is known."""


def newest_plan(database: Database, site_id: int) -> Plan | None:
    """The plan that was worked out last for a site, whatever was changed since."""
    with database.session() as session:
        text = store.newest_result(session, site_id, SCHEMA)
    return None if text is None else read(Plan, text)


def answer_then(session: Session, site_id: int, state: PlanState) -> tuple[datetime, Plan] | None:
    """The answer that a state of a plan had while it was the newest, and when it was stored.

    The site may have been another then, so the question of today may have another answer. None
    where it was not worked out then, is not kept any more or is of another shape.
    """
    within = state.change, state.next_change
    stored = store.day_results(session, site_id, state.day, SCHEMA, *within)
    for at, text in stored:
        found = read(Plan, text)
        if tuple(column.scenario for column in found.comparison.columns) == state.scenarios:
            return at, found
    return None


def make_question(
    data: SiteData,
    day: date,
    expect: str,
    scenarios: tuple[Scenario, ...],
    replications: int = REPLICATIONS,
    seed: int = SEED,
    look: Look = expected_day,
    belief: Belief | None = None,
    log: LogOf | None = None,
) -> tuple[Question, ExpectedDay]:
    """The question that a plan asks, and the expected day it rests on.

    Args:
        look: gives the expected days; `Past.look` remembers them.
        belief: what weighings leave of the guesses.
        log: gives the logbook of a day, from which the evening before is followed; None: of `data`.

    Raises:
        InputError: if nothing can be expected of the day, or `expect` can't be read.
    """
    expected = look(data, day, parse_override(expect, data.units))
    evening = followed_evening(data, day, look, log)
    question = Question(
        data.site, expected.conditions, scenarios, replications, seed,
        evening=evening, known=data.given, belief=belief,
    )  # fmt: skip
    return question, expected


def followed_evening(
    data: SiteData, day: date, look: Look, log: LogOf | None = None
) -> PreviousDay | None:
    """The last open day before: as its log has it, where that was kept until closing, else as it
    was expected."""
    expected = evening_before(data, day, look)
    if expected is None or expected.day is None:
        return expected
    before = expected.day
    entries = log(before) if log else tuple(one for one in data.log if one.day == before)
    return evening_as_logged(expected, entries, data.site)


def simulated_days(question: Question) -> int:
    """Simulated days of a question, counted over scenarios."""
    return question.replications * len(question.scenarios)


def question_key(question: Question) -> str:
    """A hash of everything that a comparison depends on, the model's version included.

    A plan's question has the days that it is refined to at most; every answer to it lies under
    this one key in place of the one before. What the last one is follows from the question alone
    (`sim.decide.compare.is_sure_enough`), so equal keys still have equal answers.
    """
    known = None if question.known is None else sorted(question.known)
    return answer_key(SCHEMA, {**asdict(question), "known": known})


def plan_of(question: Question, expected: ExpectedDay, found: Comparison) -> Plan:
    """A comparison as the plan of a day."""
    return Plan(question.site.name, expected.day, expected.origin, libraries(), found)


def planned_day(desk: Desk, day: date) -> DayInputs:
    """A day with its plan, made once a desk; weighings that no plan uses yet are worked in."""
    return desk.once(("planned", day), lambda: _planned(desk, day))


def _planned(desk: Desk, day: date) -> DayInputs:
    plan = desk.plans.get(day)
    if plan is None:
        return planned_with(desk, day, "", DEFAULT_SCENARIOS, 0)
    return planned_with(desk, day, plan.expect, plan.scenarios, plan.version)


def planned_with(
    desk: Desk, day: date, expect: str, scenarios: tuple[Scenario, ...], version: int
) -> DayInputs:
    """A day with a plan that need not be the stored one: an earlier state, or one of a link."""
    held = weighings_of(desk)
    blank = DayInputs(day, version, expect, scenarios, None, (), question=None, held=held)
    try:
        question, expected = make_question(
            desk.data,
            day,
            expect,
            scenarios,
            look=desk.look,
            belief=belief_in(held),
            log=desk.log,
        )
    except InputError as fault:
        return replace(blank, problems=fault.problems)
    problems = () if expected.closed else tuple(check_question(question))
    asked = None if expected.closed or problems else question
    return replace(blank, expected=expected, problems=problems, question=asked)


def compared(session: Session, site_id: int, asked: DayInputs) -> Comparison | None:
    """The comparison of a day's plan, where that is worked out; while it is not, that of before its
    other scenarios were changed, as the plan's page has it."""
    key = _key(asked)
    held = store.find_results(session, [key]).get(key) if key else None
    if held is not None:
        return read(Plan, held.text).comparison
    return _of_before(session, site_id, asked, key) if key else None


def _of_before(session: Session, site_id: int, asked: DayInputs, key: str) -> Comparison | None:
    """The last comparison of a day, if nothing was changed since but scenarios behind the first."""
    question = asked.to_compare
    found = store.earlier_result(session, site_id, asked.day, SCHEMA, key)
    if question is None or found is None:
        return None
    before, _its_day, text = found
    changes = store.changes_after_result(session, site_id, asked.day, before)
    if any(change.what != "plan" for change in changes):
        return None
    told = read(Plan, text).comparison
    weighed = () if question.belief is None else tuple(question.belief.weighed)
    was, day = told.conditions, question.conditions
    typed = (was.arrivals_per_h, was.temp_c, was.humidity)  # all that a plan can change of a day
    is_like = typed == (day.arrivals_per_h, day.temp_c, day.humidity) and told.weighed == weighed
    return told if is_like and told.columns[0].scenario == question.scenarios[0] else None


def _key(asked: DayInputs) -> str:
    question = asked.to_compare
    return "" if question is None else question_key(question)


def _asked(asked: DayInputs) -> tuple[Question, ExpectedDay]:
    question, expected = asked.to_compare, asked.expected
    if question is None or expected is None:
        raise ValueError(f"{asked.day} has nothing to compare")
    return question, expected


def _work(asked: DayInputs, executor: Executor | None, report: Report) -> Plan:
    question, expected = _asked(asked)
    # The first answer does not wait until worker processes have started, unless it is long.
    is_slow = is_long(simulated_days(first_stage(question)))
    first = executor if is_slow or is_warm(executor) else None
    report.stage("first")
    for found in compare_in_stages(question, first, executor, report):
        plan = plan_of(question, expected, found)
        if found.replications < question.replications:
            report.early(plan)
            report.stage("finer")
    return plan


PLAN: Kind[DayInputs, Plan] = Kind(
    name="plan",
    label="Plan of a day",
    stages=(
        Stage("first", "a first answer from few days", 2.1),
        Stage("finer", "making it surer with more days", 3.3),
    ),
    page="plan/{day}",
    found=Plan,
    ask=planned_day,
    key=_key,
    days=lambda asked: simulated_days(_asked(asked)[0]),
    work=_work,
    failed="The plan could not be worked out: {fault}",
    schema=SCHEMA,
)
