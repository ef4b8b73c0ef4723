"""The page of weighings: what is stored, what it told, and what it does to the busiest day."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date

from app.answers.answer import Answer, Desk, Kind, open_or_begin
from app.answers.planning import DayAsked, planned_day, question_key
from app.answers.settings_map import busiest_day
from app.answers.studies.runner import Runner
from app.db.session import Database
from app.db.store import StoredSite
from sim.decide.answer import Figure
from sim.decide.compare import LEAST_RUNS, Question, check_question, compare

SCHEMA = "clothcast.weighings-effect/2"
FIGURE = "damp_share"


@dataclass(frozen=True, slots=True)
class WeighingsEffect:
    """Share of damp cars of a plan's first scenario without and with a site's weighings."""

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
    """Share of damp cars without and with the weighings, each with its site uncertainty.

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
    steps="simulated days",
    page="weighings",
    found=WeighingsEffect,
    ask=_ask,
    key=_key,
    size=lambda one: (2 * one.posed.replications, 2 * one.posed.replications),
    work=effect_of,
    failed="What the weighings change could not be worked out: {fault}",
)
