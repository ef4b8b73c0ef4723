"""Planning a day: what is expected, the scenarios, and their comparison, stored or under way."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from app.answers.beliefs import BeliefView, begin_belief, open_belief
from app.answers.evenings import Look, evening_before
from app.answers.libraries import answer_key, libraries
from app.answers.studies.runner import Job, Progress, Report, Runner, is_long
from app.answers.studies.workers import is_warm
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.sites.sites import with_history
from sim.day.belief import Belief
from sim.decide.compare import Question, check_question, check_scenarios, compare
from sim.decide.record import SCHEMA, record
from sim.decide.stages import compare_in_stages, first_stage
from sim.errors import InputError, InputProblem
from sim.inputs import Scenario, SiteData
from sim.learn.expected_day import ExpectedDay, expected_day, parse_override

__all__ = ["Look", "check_scenarios", "first_stage"]

FIRST_REPLICATIONS = 256
"""Simulated days of a plan's first answer, and of the command line unless told otherwise."""
REPLICATIONS = 1_024
"""Simulated days to which a plan is refined, unless fewer make it sure enough."""
SEED = 20260701
"""Root seed of plans unless told otherwise."""
FAILED = "The plan could not be worked out: {fault}"

DEFAULT_SCENARIOS = (  # what a day without a stored plan compares
    Scenario("Always full", "full"),
    Scenario("Always reduced", "reduced"),
    Scenario("Reduced 10:00–17:00", "clock 10:00-17:00"),
)


@dataclass(frozen=True, slots=True)
class PlanView:
    """A day as its page shows it.

    Attributes:
        version: version of the stored plan; 0 when none is stored and the defaults are shown.
        expect: what was typed over the expected day.
        expected: the expected day; None when `problems` say why there is none.
        problems: why the day can't be planned; empty when it can.
        result: the finest stored comparison; None if it has not been computed.
        running: how far it is, while it is computed or refined.
        failed: what went wrong when it was computed, in a sentence.
        key: names question and answer; empty when the day can't be planned.
        is_final: whether `result` is not to be refined any further.
        held: what the site's weighings have told so far.
    """

    day: date
    version: int
    expect: str
    scenarios: tuple[Scenario, ...]
    expected: ExpectedDay | None
    problems: tuple[InputProblem, ...]
    result: dict[str, Any] | None
    running: Progress | None
    failed: str
    key: str
    question: Question | None
    is_final: bool = True
    held: BeliefView | None = None

    @property
    def is_wanting(self) -> bool:
        """Whether there is something left to compute, and cars to compute it for."""
        day = self.expected
        has_cars = day is not None and not day.closed and day.expected_cars > 0
        is_done = self.result is not None and self.is_final
        return self.question is not None and has_cars and not is_done


def make_question(
    data: SiteData,
    day: date,
    expect: str,
    scenarios: tuple[Scenario, ...],
    replications: int = REPLICATIONS,
    seed: int = SEED,
    look: Look = expected_day,
    belief: Belief | None = None,
) -> tuple[Question, ExpectedDay]:
    """The question that a plan asks, and the expected day it rests on.

    Args:
        look: gives the expected days; `Past.look` remembers them.
        belief: what weighings leave of the guesses.

    Raises:
        InputError: if nothing can be expected of the day, or `expect` can't be read.
    """
    expected = look(data, day, parse_override(expect, data.units))
    evening = evening_before(data, day, look)
    question = Question(
        data.site, expected.conditions, scenarios, replications, seed, evening, data.given, belief
    )
    return question, expected


def simulated_days(question: Question) -> int:
    """Simulated days of a question, counted over scenarios."""
    return question.replications * len(question.scenarios)


def question_key(question: Question) -> str:
    """A hash of everything that a comparison depends on, the model's version included.

    A plan's question has the days that it is refined to at most. Its first answer, the finer
    ones and the last lie under this one key, each in place of the one before; with which days
    an answer was computed is written in it. What the last answer is follows from the question
    alone (`sim.decide.stages`), so equal keys still have equal answers.
    """
    known = None if question.known is None else sorted(question.known)
    return answer_key(SCHEMA, {**asdict(question), "known": known})


def answer(
    question: Question,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> dict[str, Any]:
    """The comparison of a question as plain content; see `sim.decide.compare.record`."""
    found = compare(question, executor, progress)
    return record(found, question.site, day.isoformat(), origin, libraries())


def answers(
    question: Question,
    day: date,
    origin: str,
    first: Executor | None = None,
    later: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Iterator[dict[str, Any]]:
    """Finer and finer answers as plain content; see `sim.decide.stages.compare_in_stages`."""
    for found in compare_in_stages(question, first, later, progress):
        yield record(found, question.site, day.isoformat(), origin, libraries())


def open_plan(
    session: Session, stored: StoredSite, day: date, runner: Runner | None = None
) -> PlanView:
    """A day's plan with its expected day and, where it has been computed, its comparison.

    With a runner, weighings that no plan uses yet begin to be worked in.
    """
    plan = store.find_plan(session, stored.id, day)
    data = runner.past.data(session, stored) if runner else with_history(session, stored)
    expect = plan.expect if plan else ""
    scenarios = plan.scenarios if plan else DEFAULT_SCENARIOS
    version_ = plan.version if plan else 0
    look = runner.past.look if runner else expected_day
    held = open_belief(session, data, look, runner)
    if runner:
        begin_belief(runner, stored.id, data, held)
    blank = PlanView(
        day, version_, expect, scenarios, None, (), None, None, "", "", None, held=held
    )
    try:
        question, expected = make_question(
            data, day, expect, scenarios, look=look, belief=held.belief
        )
    except InputError as fault:
        return replace(blank, problems=fault.problems)
    view = replace(blank, expected=expected)
    if expected.closed:
        return view
    problems = check_question(question)
    if problems:
        return replace(view, problems=tuple(problems))
    key = question_key(question)
    return replace(
        view,
        result=store.find_result(session, key),
        running=runner.progress(key, session) if runner else None,
        failed=runner.failure(key, session) if runner else "",
        key=key,
        question=question,
        is_final=store.is_final(session, key),
    )


def begin_plan(runner: Runner, site_id: int, view: PlanView) -> Future[None] | None:
    """Begin to compute or to refine a view's question; nothing if it is done or under way."""
    job = plan_job(site_id, view)
    return None if job is None else runner.begin(job)


def plan_job(site_id: int, view: PlanView) -> Job | None:
    """What is left to compute of a view's question; None if nothing is."""
    question, expected = view.question, view.expected
    if question is None or expected is None or (view.result is not None and view.is_final):
        return None
    origin = expected.origin
    first_days = simulated_days(first_stage(question))

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        # The first answer does not wait until worker processes have started, unless it is long.
        first = executor if is_long(first_days) or is_warm(executor) else None
        found: dict[str, Any] = {}
        for found in answers(question, view.day, origin, first, executor, report):
            if found["replications"] < question.replications:
                report.early(found)
        return found

    total = first_stage(question).replications
    days = simulated_days(question)
    return Job("plan", view.key, site_id, view.day, total, days, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that the plan of a day asks for as things stand; None if it asks for none."""
    view = open_plan(session, stored, day, runner)
    return plan_job(stored.id, view) if view.is_wanting else None
