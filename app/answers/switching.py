"""When to reduce: the question of a day's plan, its answer in the background, and into the plan."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, cast

from app.answers.libraries import answer_key, libraries
from app.answers.planning import PlanView, open_plan
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.catalogue import _
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from sim.decide.compare import Question
from sim.decide.switching.answer import SCHEMA, WhenToReduce
from sim.decide.switching.search import SwitchQuestion, check
from sim.decide.switching.study import Depth, runs_of, study
from sim.decide.switching.wish import Wish, WishKind
from sim.errors import InputError
from sim.inputs import MOST_SCENARIOS, Scenario

WHOLE, EXHAUSTIVE = Depth(), Depth(exhaustive=True)
"""How much is computed: poor rules dropped early, or none."""
FAILED = "When to reduce could not be worked out: {fault}"


__all__ = ["EXHAUSTIVE", "WHOLE", "runs_of"]


@dataclass(frozen=True, slots=True)
class SwitchView:
    """When to reduce on a day, as its pages show it.

    Attributes:
        plan: the day's plan; its first scenario is what is done now; says why there is nothing.
        asked: what is to be computed; None where the day can't be planned.
        key: names question and answer; empty with `asked`.
        result: the stored answer; None if it has not been computed.
        running: how far it is, while it is computed.
        failed: what went wrong, in a sentence.
    """

    plan: PlanView
    asked: SwitchQuestion | None
    key: str
    result: WhenToReduce | None
    running: Progress | None
    failed: str


def switch_question(question: Question) -> SwitchQuestion:
    """What is asked for a plan: its day, the settings, sets and rule of its first scenario."""
    first = question.scenarios[0]
    site = question.site.with_values(first.changes)
    return SwitchQuestion(
        site,
        question.conditions.with_inputs(first.changes),
        Wish.of(site, cast("WishKind", site.wishes.reduce_wish)),
        question.seed,
        first.rule,
        first.cloth,
        question.evening,
        question.known,
        question.belief,
    )


def switch_key(asked: SwitchQuestion) -> str:
    """A hash of everything that the answer depends on, the model's version included."""
    known = None if asked.known is None else sorted(asked.known)
    return answer_key(SCHEMA, {**asdict(asked), "known": known})


def answer_switch(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    depth: Depth | None = None,
) -> WhenToReduce:
    """The answer.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    return study(asked, day, origin, libraries(), executor, progress, depth)


def open_switch(
    session: Session, stored: StoredSite, day: date, runner: Runner | None = None
) -> SwitchView:
    """When to reduce on a day and, where it has been computed, the answer."""
    plan = open_plan(session, stored, day, runner)
    blank = SwitchView(plan, None, "", None, None, "")
    if plan.question is None or plan.expected is None or plan.expected.expected_cars <= 0:
        return blank
    asked = switch_question(plan.question)
    try:
        check(asked)
    except InputError:
        return blank  # the page of the plan names every problem
    key = switch_key(asked)
    stored_result = store.find_result(session, key)
    return SwitchView(
        plan,
        asked,
        key,
        None if stored_result is None else read(WhenToReduce, json.dumps(stored_result)),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def begin_switch(runner: Runner, site_id: int, view: SwitchView) -> None:
    """Begin to compute a view's answer; nothing if it is stored or under way."""
    job = switch_job(site_id, view)
    if job is not None:
        runner.begin(job)


def switch_job(site_id: int, view: SwitchView) -> Job | None:
    """What computes a view's answer; None if there is nothing to compute."""
    asked, expected = view.asked, view.plan.expected
    if asked is None or expected is None or view.result is not None:
        return None
    day, origin = view.plan.day, expected.origin

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(
            write(answer_switch(asked, day, origin, executor, report))
        )
        return found

    runs = runs_of(asked)
    return Job("switch", view.key, site_id, day, runs, runs, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that a day asks for as things stand; None if it asks for none."""
    return switch_job(stored.id, open_switch(session, stored, day, runner))


def with_chosen(view: SwitchView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the advised rule as one more; None where the plan is full.

    That is the chosen rule, or the one by which the crew had better stay. A plan that has the rule
    already, with the settings and sets of its first scenario, is returned as it is.
    """
    if view.result is None:
        raise ValueError("nothing has been chosen yet")
    first = view.plan.scenarios[0]
    one = Scenario(_("Advised"), view.result.advised.text, first.cloth, first.changes)
    return with_one_more(view.plan.scenarios, one)


def with_one_more(scenarios: tuple[Scenario, ...], one: Scenario) -> tuple[Scenario, ...] | None:
    """A plan's scenarios and one more, its name numbered if it is taken; None where full.

    Scenarios that have its rule, sets and changes already are returned as they are.
    """
    alike = (one.rule, one.cloth, dict(one.changes))
    if any((other.rule, other.cloth, dict(other.changes)) == alike for other in scenarios):
        return scenarios
    if len(scenarios) >= MOST_SCENARIOS:
        return None
    taken = {other.name for other in scenarios}
    names = (
        one.name,
        *(_("{name} {number}", name=one.name, number=n) for n in range(2, MOST_SCENARIOS + 2)),
    )
    return (*scenarios, replace(one, name=next(name for name in names if name not in taken)))
