"""The maps of a day: which speed and spacing, and which demand and weather the line bears."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import asdict, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.coming_days import coming_days
from app.answers.planning import DayAsked, planned_day, simulated_days
from app.answers.studies.runner import Report, Runner
from app.db.session import Database
from app.db.store import StoredSite
from sim.decide.compare import Question, check_question
from sim.decide.maps.answer import SCHEMA, SettingsMap
from sim.decide.maps.points import MapQuestion, map_question
from sim.decide.maps.settings import settings_map

MAP_DAYS = 16
"""Simulated days at each point."""


MapView = Answer[DayAsked[MapQuestion], SettingsMap]
"""The maps of a day's first scenario, as far as they are known."""


def map_key(asked: MapQuestion) -> str:
    """A hash of everything that the maps depend on, the model's version included."""
    return answer_key(SCHEMA, asdict(asked))


def _ask(desk: Desk, day: date) -> DayAsked[MapQuestion]:
    plan = planned_day(desk, day)
    if plan.to_compare is None:
        return DayAsked(plan, None)
    question = map_question(_of_first(plan.to_compare), desk.site.data.units)
    return DayAsked(plan, None if check_question(question.question) else question)


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


def _key(one: DayAsked[MapQuestion]) -> str:
    return "" if one.question is None else map_key(one.question)


def _size(one: DayAsked[MapQuestion]) -> tuple[int, int]:
    points = one.posed.least_points
    return points, points * simulated_days(one.posed.question)


def _work(one: DayAsked[MapQuestion], executor: Executor | None, report: Report) -> SettingsMap:
    return settings_map(one.posed, executor, report)


MAPS: Kind[DayAsked[MapQuestion], SettingsMap] = Kind(
    name="maps",
    label="Speed and spacing",
    steps="settings",
    page="settings/{day}",
    found=SettingsMap,
    ask=_ask,
    key=_key,
    size=_size,
    work=_work,
    failed="The maps could not be worked out: {fault}",
)


def busiest_day(database: Database, stored: StoredSite, today: date, runner: Runner) -> date:
    """The busiest of the coming 14 days; tomorrow where nothing is expected of any."""
    with database.session() as session:
        data = runner.past.data(session, stored)
    days = coming_days(data, today + timedelta(days=1), look=runner.past.look)
    busy = max(days, key=lambda day: day.cars)
    return busy.day
