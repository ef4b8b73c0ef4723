"""The page of measurements: what they told, what that does to the busiest day, and what each kind
would be worth there."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from typing import cast

from app.answers.answer import Answer, Desk, Kind, open_or_begin, with_earlier
from app.answers.drift import DRIFT, DriftView
from app.answers.next_measurement import NEXT, NextView
from app.answers.planning import DayAsked, planned_day, question_key
from app.answers.settings_map import busiest_day
from app.answers.studies.runner import Report, Runner
from app.answers.studies.stages import Stage
from app.answers.switching import ask_switch, switch_key
from app.db.session import Database
from app.db.store import StoredSite
from sim.decide.answer import Figure
from sim.decide.compare import LEAST_RUNS, Question, check_question, compare
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import DAYS, SITES, TRUTHS, worth_of_measuring
from sim.learn.answer import WORTH_SCHEMA, WorthOfMeasuring

SCHEMA = "clothcast.weighings-effect/3"
FIGURE = "left_damp_share"
"""What plans show of damp cars."""


@dataclass(frozen=True, slots=True)
class WeighingsEffect:
    """Share of cars that leave damp by a plan's first scenario, without and with a site's
    weighings."""

    day: date
    scenario: str
    before: Figure
    after: Figure


WeighingsView = Answer[DayAsked[Question], WeighingsEffect]
"""What weighings change on a day, as far as it is known; asks the day's question with them."""


def open_weighings(
    database: Database, stored: StoredSite, today: date, runner: Runner
) -> WeighingsView:
    """What a site's weighings have told and what they change on its busiest coming day; what is
    not there yet begins to be worked out."""
    day = busiest_day(database, stored, today, runner)
    return open_or_begin(database, runner, stored, EFFECT, day)


def _ask(desk: Desk, day: date) -> DayAsked[Question]:
    plan = planned_day(desk, day)
    question = plan.question
    if question is None or question.belief is None:
        return DayAsked(plan, None)
    asked = replace(question, scenarios=question.scenarios[:1], replications=LEAST_RUNS)
    return DayAsked(plan, None if check_question(asked) else asked)


def _key(one: DayAsked[Question]) -> str:
    if one.question is None:
        return ""
    parts = "".join(question_key(each) for each in (_before(one.question), one.question))
    return hashlib.sha256(f"{SCHEMA} {parts}".encode()).hexdigest()[:32]


def _before(asked: Question) -> Question:
    return replace(asked, belief=None)


def effect_of(
    one: DayAsked[Question],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> WeighingsEffect:
    """Share of cars that leave damp without and with the weighings, each with its site
    uncertainty.

    A day without any car has no share: the page is not led to such a day.
    """
    asked, runs = one.posed, one.posed.replications

    def figure(question: Question, first: int) -> Figure:
        def told(done: int) -> None:
            progress(first + done, 2 * runs)

        return compare(question, executor, told).columns[0].figures[FIGURE]

    before, after = figure(_before(asked), 0), figure(asked, runs)
    return WeighingsEffect(one.plan.day, asked.scenarios[0].name, before, after)


EFFECT: Kind[DayAsked[Question], WeighingsEffect] = Kind(
    name="effect",
    label="What weighings change",
    stages=(Stage("days", "simulating the day without and with what was measured"),),
    page="weighings",
    found=WeighingsEffect,
    ask=_ask,
    key=_key,
    days=lambda one: 2 * one.posed.replications,
    work=effect_of,
    failed="What the weighings change could not be worked out: {fault}",
)


# ---- what each would be worth --------------------------------------------------------------------

WorthView = Answer[DayAsked[SwitchQuestion], WorthOfMeasuring]
"""What measurements would change in a day's advice, as far as it is known."""
RULES_HELD = 12
"""About so many rules are held against one another at each drawn site."""


def open_measuring(
    database: Database, stored: StoredSite, today: date, runner: Runner
) -> tuple[WeighingsView, WorthView, DriftView, NextView]:
    """What a site's weighings have told and change on its busiest coming day, what each kind of
    measurement would be worth there, whether the site has changed, and what to measure tomorrow;
    what is not there yet begins to be worked out."""
    day = busiest_day(database, stored, today, runner)
    with database.session() as session:
        desk = Desk(session, stored, runner)
        of_busy, of_today = ((EFFECT, WORTH), day), ((DRIFT, NEXT), today)
        desk.read_together(
            [
                (cast("Kind[object, object]", kind), at)
                for kinds, at in (of_busy, of_today)
                for kind in kinds
            ]
        )
        effect, worth, drift, tomorrow = (
            desk.open(EFFECT, day),
            desk.open(WORTH, day),
            desk.open(DRIFT, today),
            desk.open(NEXT, today),
        )
    every = (effect, worth, drift, tomorrow)
    begun = [one.begin(runner) for one in every if _is_to_begin(one)]
    with database.session() as session:
        if any(begun):
            effect, worth = effect.now(session, runner), worth.now(session, runner)
            drift, tomorrow = drift.now(session, runner), tomorrow.now(session, runner)
        return effect, worth, with_earlier(session, drift), tomorrow


def _is_to_begin(one: WeighingsView | WorthView | DriftView | NextView) -> bool:
    return one.is_awaited and not one.running


def _ask_worth(desk: Desk, day: date) -> DayAsked[SwitchQuestion]:
    asked = ask_switch(desk, day)
    held = asked.plan.held
    # while weighings are being worked in, another question is soon asked in its place
    nothing = asked.question is None or not asked.question.drawn
    return DayAsked(asked.plan, None) if held.is_awaited or nothing else asked


def _worth_key(one: DayAsked[SwitchQuestion]) -> str:
    return "" if one.question is None else switch_key(one.question, WORTH_SCHEMA)


def _worth_of(
    one: DayAsked[SwitchQuestion], executor: Executor | None, report: Report
) -> WorthOfMeasuring:
    each = worth_of_measuring(one.posed, executor, report, sites=SITES, truths=TRUTHS)
    return WorthOfMeasuring(one.plan.day, SITES, each)


WORTH: Kind[DayAsked[SwitchQuestion], WorthOfMeasuring] = Kind(
    name="worth",
    label="What measurements are worth",
    stages=(Stage("worth", "trying what each measurement might tell"),),
    page="weighings",
    found=WorthOfMeasuring,
    ask=_ask_worth,
    key=_worth_key,
    days=lambda _one: SITES * DAYS * RULES_HELD,
    work=_worth_of,
    failed="What measurements are worth could not be worked out: {fault}",
)
