"""The maps of a day: which speed and spacing, and which demand and weather the line bears."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from typing import Any

from app.answers.coming_days import coming_days
from app.answers.libraries import answer_key, libraries
from app.answers.planning import (
    PlanView,
    open_plan,
    simulated_days,
)
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.db.session import Database, Session
from app.db.store import StoredSite
from sim.decide.compare import Question, check_question
from sim.decide.maps.points import MapQuestion, map_question
from sim.decide.maps.record import SCHEMA, map_record
from sim.decide.maps.settings import settings_map

MAP_DAYS = 16
"""Simulated days at each point."""
FAILED = "The maps could not be worked out: {fault}"


@dataclass(frozen=True, slots=True)
class MapView:
    """The maps of a day as their page shows them.

    Attributes:
        plan: the day's plan, whose first scenario they are made for; says why there is nothing.
        asked: what is to be computed; None where the day can't be planned.
        key: names question and answer; empty with `asked`.
        result: the stored answer; None if it has not been computed.
        running: how far it is, while it is computed.
        failed: what went wrong, in a sentence.
    """

    plan: PlanView
    asked: MapQuestion | None
    key: str
    result: dict[str, Any] | None
    running: Progress | None
    failed: str


def map_key(asked: MapQuestion) -> str:
    """A hash of everything that the maps depend on, the model's version included."""
    return answer_key(SCHEMA, asdict(asked))


def answer_map(
    asked: MapQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> dict[str, Any]:
    """The maps as plain content; see `sim.decide.maps.record.map_record`."""
    found = settings_map(asked, executor, progress)
    return map_record(found, day.isoformat(), origin, libraries())


def open_map(
    session: Session, stored: StoredSite, day: date, runner: Runner | None = None
) -> MapView:
    """The maps of a day's first scenario and, where they have been computed, what they show."""
    plan = open_plan(session, stored, day, runner)
    blank = MapView(plan, None, "", None, None, "")
    question = plan.question
    if question is None or plan.expected is None or plan.expected.expected_cars <= 0:
        return blank
    asked = map_question(_of_first(question), stored.data.units)
    if check_question(asked.question):
        return blank
    key = map_key(asked)
    return MapView(
        plan,
        asked,
        key,
        store.find_result(session, key),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def _of_first(question: Question) -> Question:
    # guesses stay at their middle values, so it does not matter which of them the site knows
    first = question.scenarios[:1]
    return replace(
        question,
        site=question.middle,
        scenarios=first,
        replications=MAP_DAYS,
        known=None,
        belief=None,
    )


def begin_map(runner: Runner, site_id: int, view: MapView) -> None:
    """Begin to compute a view's maps; nothing if they are stored or under way."""
    job = map_job(site_id, view)
    if job is not None:
        runner.begin(job)


def map_job(site_id: int, view: MapView) -> Job | None:
    """What computes a view's maps; None if there is nothing to compute."""
    asked, expected = view.asked, view.plan.expected
    if asked is None or expected is None or view.result is not None:
        return None
    day, origin = view.plan.day, expected.origin

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        return answer_map(asked, day, origin, executor, report)

    points = asked.least_points
    days = points * simulated_days(asked.question)
    return Job("maps", view.key, site_id, day, points, days, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that the maps of a day ask for as things stand; None if they ask for none."""
    return map_job(stored.id, open_map(session, stored, day, runner))


def busiest_day(database: Database, stored: StoredSite, today: date, runner: Runner) -> date:
    """The busiest of the coming 14 days; tomorrow where nothing is expected of any."""
    with database.session() as session:
        data = runner.past.data(session, stored)
    days = coming_days(data, today + timedelta(days=1), look=runner.past.look)
    busy = max(days, key=lambda day: day.cars or 0.0)
    return busy.day
