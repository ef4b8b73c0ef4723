"""When to reduce: the question of a day's plan, its answer in the background, and into the plan."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, replace
from datetime import date
from typing import cast

from app.answers.answer import Answer, Desk, Kind
from app.answers.libraries import answer_key, libraries
from app.answers.planning import DayAsked, PlannedDay, planned_day
from app.answers.studies.runner import Report
from app.catalogue import _
from sim.decide.compare import Question
from sim.decide.switching.answer import SCHEMA, WhenToReduce
from sim.decide.switching.search import SwitchQuestion, check
from sim.decide.switching.study import Depth, runs_of, study
from sim.decide.switching.wish import Wish, WishKind
from sim.errors import InputError
from sim.inputs import MOST_SCENARIOS, Scenario

WHOLE, EXHAUSTIVE = Depth(), Depth(exhaustive=True)
"""How much is computed: poor rules dropped early, or none."""


__all__ = ["EXHAUSTIVE", "WHOLE", "runs_of"]


SwitchView = Answer[DayAsked[SwitchQuestion], WhenToReduce]
"""When to reduce on a day, as far as it is known."""


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


def ask_switch(desk: Desk, day: date) -> DayAsked[SwitchQuestion]:
    """What the plan of a day asks of its rules, made once a desk."""
    return desk.once(("switch question", day), lambda: _of_plan(planned_day(desk, day)))


def _of_plan(plan: PlannedDay) -> DayAsked[SwitchQuestion]:
    if plan.to_compare is None:
        return DayAsked(plan, None)
    question = switch_question(plan.to_compare)
    try:
        check(question)
    except InputError:
        return DayAsked(plan, None)  # the page of the plan names every problem
    return DayAsked(plan, question)


def _key(one: DayAsked[SwitchQuestion]) -> str:
    return "" if one.question is None else switch_key(one.question)


def _size(one: DayAsked[SwitchQuestion]) -> tuple[int, int]:
    runs = runs_of(one.posed)
    return runs, runs


def _work(one: DayAsked[SwitchQuestion], executor: Executor | None, report: Report) -> WhenToReduce:
    return answer_switch(one.posed, one.plan.day, one.origin, executor, report)


SWITCH: Kind[DayAsked[SwitchQuestion], WhenToReduce] = Kind(
    name="switch",
    label="When to reduce",
    steps="simulated days",
    page="reduce/{day}",
    found=WhenToReduce,
    ask=ask_switch,
    key=_key,
    size=_size,
    work=_work,
    failed="When to reduce could not be worked out: {fault}",
)


def with_chosen(view: SwitchView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the advised rule as one more; None where the plan is full.

    That is the chosen rule, or the one by which the crew had better stay. A plan that has the rule
    already, with the settings and sets of its first scenario, is returned as it is.
    """
    if view.result is None:
        raise ValueError("nothing has been chosen yet")
    first = view.asked.plan.scenarios[0]
    one = Scenario(_("Advised"), view.result.advised.text, first.cloth, first.changes)
    return with_one_more(view.asked.plan.scenarios, one)


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
