"""The page of weighings: what is stored, what it told, and what it does to the busiest day."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from app.answers import planning
from app.answers.beliefs import BeliefView
from app.answers.coming_days import coming_days
from app.answers.planning import PlanView
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from sim.decide.answer import Figure
from sim.decide.compare import LEAST_RUNS, Question, check_question, compare

KIND = "effect"
SCHEMA = "clothcast.weighings-effect/2"
FAILED = "What the weighings change could not be worked out: {fault}"
FIGURE = "damp_share"


@dataclass(frozen=True, slots=True)
class WeighingsEffect:
    """Share of damp cars of a plan's first scenario without and with a site's weighings."""

    day: date
    scenario: str
    before: Figure
    after: Figure


@dataclass(frozen=True, slots=True)
class WeighingsView:
    """What the page shows.

    Attributes:
        plan: of the busiest coming day, whose first scenario shows what the weighings change.
        asked: that question with the weighings; None where there is nothing to compare.
        key: names its answer.
        effect: the answer; None until it has been worked out.
        running, failed: how far it is, or what went wrong.
    """

    plan: PlanView
    asked: Question | None
    key: str
    effect: WeighingsEffect | None
    running: Progress | None
    failed: str

    @property
    def held(self) -> BeliefView | None:
        """What the weighings have told so far."""
        return self.plan.held

    @property
    def day(self) -> date:
        """The day that is compared."""
        return self.plan.day


def open_weighings(
    session: Session, stored: StoredSite, today: date, runner: Runner
) -> WeighingsView:
    """What the weighings of a site have told, and what they change on its busiest coming day.

    What is not there yet begins to be worked out.
    """
    data, look = runner.past.data(session, stored), runner.past.look
    ahead = coming_days(data, today + timedelta(days=1), look=look)
    day = max(ahead, key=lambda one: one.cars or 0.0).day
    view = open_effect(session, stored, day, runner)
    job = effect_job(stored.id, view)
    if job is None or view.failed:
        return view
    runner.begin(job)
    return replace(view, running=runner.progress(view.key, session))


def open_effect(session: Session, stored: StoredSite, day: date, runner: Runner) -> WeighingsView:
    """What the weighings of a site change on a day, as far as it is known."""
    plan = planning.open_plan(session, stored, day, runner)
    question = plan.question
    if question is None or question.belief is None:
        return WeighingsView(plan, None, "", None, None, "")
    asked = replace(question, scenarios=question.scenarios[:1], replications=LEAST_RUNS)
    if check_question(asked):
        return WeighingsView(plan, None, "", None, None, "")
    parts = "".join(planning.question_key(one) for one in (_before(asked), asked))
    key = hashlib.sha256(f"{SCHEMA} {parts}".encode()).hexdigest()[:32]
    held = store.find_result(session, key)
    return WeighingsView(
        plan,
        asked,
        key,
        None if held is None else read(WeighingsEffect, json.dumps(held)),
        runner.progress(key, session),
        runner.failure(key, session),
    )


def _before(asked: Question) -> Question:
    return replace(asked, belief=None)


def effect_of(
    asked: Question,
    day: date,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> WeighingsEffect:
    """Share of damp cars without and with the weighings, each with its site uncertainty.

    A day without any car has no share: the page is not led to such a day.
    """
    runs = asked.replications

    def figure(question: Question, first: int) -> Figure:
        def told(done: int) -> None:
            progress(first + done, 2 * runs)

        return compare(question, executor, told).columns[0].figures[FIGURE]

    before, after = figure(_before(asked), 0), figure(asked, runs)
    return WeighingsEffect(day, asked.scenarios[0].name, before, after)


def effect_job(site_id: int, view: WeighingsView) -> Job | None:
    """What works out what the weighings change; None if there is nothing to do."""
    asked, day = view.asked, view.day
    if asked is None or view.effect is not None:
        return None

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(write(effect_of(asked, day, executor, report)))
        return found

    days = 2 * asked.replications
    return Job(KIND, view.key, site_id, day, days, days, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that the weighings ask for on a day as things stand; None if they ask for none."""
    return effect_job(stored.id, open_effect(session, stored, day, runner))
