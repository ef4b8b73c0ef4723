"""The maps of a day: which speed and spacing, and which demand and weather the line bears."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import asdict, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.coming_days import busiest, coming_days
from app.answers.planning import DayAsked, planned_day, simulated_days
from app.answers.studies.runner import Report, Runner
from app.answers.studies.stages import Stage
from app.answers.switching import with_one_more
from app.db.session import Database
from app.db.store import StoredSite
from sim.decide.compare import check_question
from sim.decide.maps.answer import SCHEMA, SettingsMap
from sim.decide.maps.first import first_maps
from sim.decide.maps.points import MapQuestion, at_setting, map_question, settings_map
from sim.inputs import Scenario

MAP_DAYS = 16
"""Simulated days at each point."""
MapView = Answer[DayAsked[MapQuestion], SettingsMap]
"""The maps of a day's first scenario, as far as they are known."""


def _ask(desk: Desk, day: date) -> DayAsked[MapQuestion]:
    plan = planned_day(desk, day)
    asked = plan.to_compare
    if asked is None:
        return DayAsked(plan, None)
    middle = replace(asked, site=asked.middle, known=None, belief=None)
    question = replace(middle, scenarios=asked.scenarios[:1], replications=MAP_DAYS)
    maps = None if check_question(question) else map_question(question, desk.site.data.units)
    if maps is not None:
        maps = replace(maps, known=asked.known, belief=asked.belief)
    return DayAsked(plan, maps)


def _key(one: DayAsked[MapQuestion]) -> str:
    asked = one.question
    if asked is None:
        return ""
    known = None if asked.known is None else sorted(asked.known)
    return answer_key(SCHEMA, {**asdict(asked), "known": known})


def _days(one: DayAsked[MapQuestion]) -> int:
    return one.posed.least_points * simulated_days(one.posed.question)


def _work(one: DayAsked[MapQuestion], executor: Executor | None, report: Report) -> SettingsMap:
    report.stage("first")
    report.early(first_maps(one.posed, executor, report))
    report.stage("points")
    return settings_map(one.posed, executor, report)


MAPS: Kind[DayAsked[MapQuestion], SettingsMap] = Kind(
    name="maps",
    label="Speed and spacing",
    stages=(
        Stage("first", "first maps from few points", 1.0),
        Stage("points", "trying speeds and spacings", 10.0),
    ),
    page="settings/{day}",
    found=SettingsMap,
    ask=_ask,
    key=_key,
    days=_days,
    work=_work,
    failed="The maps could not be worked out: {fault}",
    schema=SCHEMA,
)


def with_best(view: MapView, name: str) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the best setting as one more, by the rule and the sets of the
    first; None where the plan is full.

    Args:
        name: what it is called.
    """
    if view.result is None or view.result.better is None:
        raise ValueError("no setting is better than the present one")
    best, scenarios = view.result.better, view.asked.plan.scenarios
    first = scenarios[0]
    site = view.asked.posed.question.site.with_values(first.changes)
    return with_one_more(scenarios, replace(at_setting(first, site, best.x, best.y), name=name))


def busiest_day(database: Database, stored: StoredSite, today: date, runner: Runner) -> date:
    """The busiest of the coming 14 days; tomorrow where nothing is expected of any."""
    with database.session() as session:
        data = Desk(session, stored, runner).data
    return busiest(coming_days(data, today + timedelta(days=1), look=runner.past.look))
