"""When to reduce, and speed, spacing and rule from there: what a day asks, and into its plan."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, replace
from datetime import date
from typing import Any

from app.answers.answer import Answer, Desk, Kind, answer_key, libraries
from app.answers.planning import DayAsked, DayInputs, compared, planned_day
from app.answers.serial import write
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.catalogue import _
from app.db.session import Session
from app.sites.changes import Gate
from sim.day.rules import parse_rule
from sim.decide.answer import Column, Comparison
from sim.decide.compare import Question
from sim.decide.switching.answer import (
    SCHEMA,
    TOGETHER_SCHEMA,
    Rule,
    RuleMeans,
    Together,
    TradeOffPoint,
    WhenToReduce,
)
from sim.decide.switching.at_exit import entered
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion, check
from sim.decide.switching.reasons import Remedy, to_have
from sim.decide.switching.search import SamplingBudget
from sim.decide.switching.study import Depth, runs_of, study
from sim.decide.switching.with_settings import EXPECTED as SETTING_RUNS
from sim.decide.switching.with_settings import choose_together
from sim.errors import InputError
from sim.inputs import MOST_SCENARIOS, Scenario

WHOLE, EXHAUSTIVE = Depth(), Depth(exhaustive=True)
"""How much is computed: poor rules dropped early, or none."""


__all__ = ["EXHAUSTIVE", "SETTING_RUNS", "WHOLE", "runs_of"]

SwitchView = Answer[DayAsked[SwitchQuestion], WhenToReduce]
"""When to reduce on a day, as far as it is known."""
TogetherView = Answer[SwitchView, Together]
"""Speed, spacing and rule of a day, as far as they are known; asks for when to reduce first, from
whose rule it starts."""


def switch_question(question: Question) -> SwitchQuestion:
    """What is asked for a plan: its day, the settings, sets and rule of its first scenario, and the
    rules that it has with these."""
    first, *others = question.scenarios
    like = (one for one in others if one.cloth == first.cloth and one.changes == first.changes)
    site = question.site.with_values(first.changes)
    return SwitchQuestion(
        site,
        question.conditions.with_inputs(first.changes),
        Wish.of(site),
        question.seed,
        first.rule,
        first.cloth,
        question.evening,
        question.known,
        question.belief,
        planned=tuple(dict.fromkeys(one.rule for one in like)),
    )


def switch_key(asked: SwitchQuestion, schema: str = SCHEMA) -> str:
    """A hash of everything that the answer depends on.

    Args:
        schema: of the answer; one of another kind does not depend on the plan's further rules.
    """
    known = None if asked.known is None else sorted(asked.known)
    planned = asked.planned if schema == SCHEMA else ()
    return answer_key(schema, {**asdict(asked), "known": known, "planned": planned})


def answer_switch(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    depth: Depth | None = None,
    early: Callable[[WhenToReduce], None] | None = None,
    stage: Callable[[str], None] = lambda name: None,
) -> WhenToReduce:
    """The answer; see `study`."""
    return study(asked, day, origin, libraries(), executor, progress, depth, early, stage)


def ask_switch(desk: Desk, day: date) -> DayAsked[SwitchQuestion]:
    """What the plan of a day asks of its rules, made once a desk."""
    return desk.once(("switch question", day), lambda: _of_plan(planned_day(desk, day)))


def _of_plan(plan: DayInputs) -> DayAsked[SwitchQuestion]:
    if plan.to_compare is None:
        return DayAsked(plan, None)
    question = switch_question(plan.to_compare)
    try:
        check(question)
    except InputError:
        return DayAsked(plan, None)  # the page of the plan names every problem
    return DayAsked(plan, question)


def _work(one: DayAsked[SwitchQuestion], executor: Executor | None, report: Report) -> WhenToReduce:
    return answer_switch(
        one.posed, one.plan.day, one.origin, executor, report,
        early=report.early, stage=report.stage,
    )  # fmt: skip


SWITCH: Kind[DayAsked[SwitchQuestion], WhenToReduce] = Kind(
    name="switch",
    label="When to reduce",
    stages=(
        Stage("first", "a first answer from few rules", 3.0),
        Stage("rules", "trying every rule", 20.0),
        Stage("cues", "putting the rule in cues for the crew", 2.0),
        Stage("figures", "simulating the day by it", 2.0),
        Stage("people", "trying more people at the exit", 4.0),
        Stage("reasons", "looking for what makes it needed", 4.5),
        Stage("remedies", "looking for what else helps", 2.3),
        Stage("moves", "trying other days", 2.2),
        Stage("bound", "working out what perfect foresight would give", 2.0),
        Stage("tipping", "looking for the day on which it turns", 10.0),
    ),
    page="reduce/{day}",
    found=WhenToReduce,
    ask=ask_switch,
    key=lambda one: "" if one.question is None else switch_key(one.question),
    days=lambda one: runs_of(one.posed),
    work=_work,
    failed="When to reduce could not be worked out: {fault}",
    schema=SCHEMA,
)


# ---- one number for one quantity of a day --------------------------------------------------------


def by_plan(session: Session, view: SwitchView) -> SwitchView:
    """The answer with the figures of the day's plan, where that is worked out; see `as_planned`."""
    told = view.result
    if told is None:
        return view
    planned = None if view.earlier is not None else compared(session, view.site_id, view.asked.plan)
    told = told if planned is None else as_planned(told, planned)
    return replace(view, result=levelled(told))


def as_planned(told: WhenToReduce, planned: Comparison) -> WhenToReduce:
    """The answer with the figures of the plan in place of its own, where the plan has each of its
    scenarios: both are simulated, on another number of days, and one quantity of a day is to be
    one number on every page."""
    first = planned.columns[0].scenario
    places = []
    for one in told.comparison.columns:
        rule = parse_rule(one.scenario.rule)
        place = next(
            (
                at
                for at, other in enumerate(planned.columns)
                if dict(other.scenario.changes) == dict(first.changes)
                and other.scenario.cloth == one.scenario.cloth
                and parse_rule(other.scenario.rule) == rule
            ),
            None,
        )
        if place is None:
            return told
        places.append(place)
    if places[0] != 0:  # differences are to the first column
        return told
    columns = tuple(
        _taken(planned.columns[place], one, places)
        for one, place in zip(told.comparison.columns, places, strict=True)
    )
    others = tuple(one for at, one in enumerate(planned.columns) if at not in places)
    return replace(told, comparison=replace(planned, columns=columns, unshown=others))


def levelled(told: WhenToReduce) -> WhenToReduce:
    """The answer with the rules of its trade-off, the cues of a crew and the plans of days a little
    different at the level of its comparison: how far they are from the chosen rule is known well,
    on days of their own."""
    day, rule = told.comparison, told.chosen.text

    def at_level(
        one: TradeOffPoint | RuleMeans, its: TradeOffPoint | RuleMeans, *names: str
    ) -> dict[str, Any]:
        own = day.with_rule(one.rule.text)

        def seen(name: str) -> float:
            known = None if own is None else own.value(name)
            value, base = getattr(one, name), getattr(its, name)
            return day.level(rule, name, value, base) if known is None else known

        return {name: seen(name) for name in names}

    chosen = next((one for one in told.trade_off if one.rule == told.chosen), None)
    if chosen is not None:
        names = "left_damp_share", "full_share", "left_damp", "cost"
        points = tuple(replace(one, **at_level(one, chosen, *names)) for one in told.trade_off)
        told = replace(told, trade_off=points)
    if told.cues is not None:
        cues, base, figures = told.cues, told.cues.chosen, ("left_damp_share", "left_damp", "cost")
        cues = replace(
            cues,
            found=tuple(replace(one, **at_level(one, base, *figures)) for one in cues.found),
            constant=replace(cues.constant, **at_level(cues.constant, base, *figures)),
            chosen=replace(base, **at_level(base, base, *figures)),
            band=cues.band and replace(cues.band, **at_level(cues.band, base, *figures)),
        )
        told = replace(told, cues=cues)
    expected = next((one for one in told.moves if one.way == "as_expected"), None)
    if expected is not None and expected.rule == told.chosen:
        share, here = "left_damp_share", expected.left_damp_share
        moves = (
            replace(one, left_damp_share=day.level(rule, share, one.left_damp_share, here))
            for one in told.moves
        )
        told = replace(told, moves=tuple(moves))
    return told


def _taken(planned: Column, named: Column, places: Sequence[int]) -> Column:
    """A plan's column by the name of another, held against the columns at those places alone."""
    against = tuple(planned.against[at] for at in places) if planned.against else ()
    return replace(planned, scenario=named.scenario, label=named.label, against=against)


# ---- speed, spacing and rule together ------------------------------------------------------------


def answer_together(
    asked: SwitchQuestion,
    rule: Rule,
    day: date,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    effort: SamplingBudget | None = None,
) -> Together:
    """The answer, from the rule that was chosen at the present setting."""
    return choose_together(asked, rule, day, libraries(), executor, progress, effort=effort)


def _together_key(switch: SwitchView) -> str:
    if switch.result is None or not switch.is_final:
        return ""
    return answer_key(TOGETHER_SCHEMA, switch.key, switch.result.chosen.text)


def _work_together(switch: SwitchView, executor: Executor | None, report: Report) -> Together:
    if switch.result is None:
        raise ValueError("the day's rule isn't known")
    return answer_together(switch.asked.posed, switch.result.chosen, switch.day, executor, report)


TOGETHER: Kind[SwitchView, Together] = Kind(
    name="together",
    label="Speed, spacing and rule",
    stages=(Stage("settings", "trying speeds and spacings, each with its rules"),),
    page="reduce/{day}/together",
    found=Together,
    ask=lambda desk, day: desk.open(SWITCH, day),
    key=_together_key,
    days=lambda _switch: SETTING_RUNS,
    work=_work_together,
    failed="Speed, spacing and rule could not be worked out: {fault}",
)


# ---- into the plan -------------------------------------------------------------------------------


def with_chosen(view: SwitchView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the advised rule as one more; None where the plan is full.

    That is what the crew is told. Where more hands at the exit are advised it is the first
    scenario, with these and the rule that goes with them, so that the day sheet and all else that
    goes by the plan's people goes by them. A plan that has it already, with the settings and sets
    of its first scenario, is returned as it is, but for that order; so is one that has its clock
    times.
    """
    if view.result is None:
        raise ValueError("nothing has been chosen yet")
    first = view.asked.plan.scenarios[0]
    rule, changes, hands = view.result.told, dict(first.changes), view.result.hands
    beats = hands is not None and hands.beats
    if hands is not None and beats:
        rule = hands.chosen.rule
        changes |= entered(view.asked.posed.site, hands.chosen.hands)
    elif view.result.as_planned:
        return view.asked.plan.scenarios
    one = Scenario(_("Advised"), rule.text, first.cloth, changes)
    return with_one_more(view.asked.plan.scenarios, one, first=beats)


def with_remedy(view: SwitchView, row: Remedy, name: str) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with a remedy and the rule that is best with it as one more; None where
    the plan is full.

    Args:
        name: what it is called.

    Raises:
        ValueError: nobody can enter it.
    """
    first = view.asked.plan.scenarios[0]
    had = to_have(view.asked.posed.site, row, first.cloth)
    if had is None:
        raise ValueError(f"nothing is entered for {row.kind}")
    changes, cloth = had
    one = Scenario(name, row.rule.text, cloth, {**first.changes, **changes})
    return with_one_more(view.asked.plan.scenarios, one)


def keep_telling(gate: Gate, before: SwitchView, now: SwitchView) -> None:
    """Store what a day told before its rule went into the plan, to be shown for the question with
    it until that is worked out: what is in the plan is kept to. Nothing for any other question."""
    told = before.result
    if told is None or now.result is not None or not now.key or now.key == before.key:
        return
    if switch_key(now.asked.posed, "") == switch_key(before.asked.posed, ""):
        told = replace(told, in_plan=(*told.in_plan, told.told), overruled=None)
        gate.store_result(now.key, now.site_id, now.day, write(told), is_final=False)


def with_setting(view: TogetherView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the found setting and its rule as one more; None where full."""
    if view.result is None:
        raise ValueError("no setting has been found yet")
    chosen, scenarios = view.result.chosen, view.asked.asked.plan.scenarios
    first = scenarios[0]
    changes = {**first.changes, **chosen.changes}
    one = Scenario(_("Advised setting"), chosen.rule.text, first.cloth, changes)
    return with_one_more(scenarios, one)


def with_one_more(
    scenarios: tuple[Scenario, ...], one: Scenario, *, first: bool = False
) -> tuple[Scenario, ...] | None:
    """A plan's scenarios and one more, its name numbered if it is taken; None where full.

    Scenarios that have its rule, sets and changes already are returned as they are.

    Args:
        first: it is to lead the others.
    """
    alike = (one.rule, one.cloth, dict(one.changes))
    for place, other in enumerate(scenarios):
        if (other.rule, other.cloth, dict(other.changes)) == alike:
            lead = scenarios[place : place + 1] if first else ()
            return (*lead, *(kept for kept in scenarios if kept not in lead))
    if len(scenarios) >= MOST_SCENARIOS:
        return None
    taken = {other.name for other in scenarios}
    numbered = (_("{name} {number}", name=one.name, number=n) for n in itertools.count(2))
    names = itertools.chain([one.name], numbered)
    one = replace(one, name=next(name for name in names if name not in taken))
    return (one, *scenarios) if first else (*scenarios, one)
