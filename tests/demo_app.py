"""The app with the demo site in a database of its own, for tests and bench."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace
from typing import Any, cast

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from starlette.routing import Mount

from app.access.table import API
from app.answers import (
    cloth,
    coming_plans,
    planning,
    season,
    staff,
    switching,
)
from app.answers.answer import Asked, Desk, Found, Kind
from app.answers.beliefs import Weighed, belief_key, work_in
from app.answers.cloth import CLOTH, ClothAsked
from app.answers.drift import DriftAsked, changes_of
from app.answers.next_measurement import NEXT, NextAsked
from app.answers.planning import PLAN, DayAsked, DayInputs
from app.answers.scored import ScoreAsked, score_of
from app.answers.season import SEASON, SeasonBasis, rotation_of, season_asked
from app.answers.serial import write
from app.answers.settings_map import MAPS
from app.answers.staff import ROSTER, STAFF, RosterAsked, monday_of
from app.answers.studies.line import StudyQueue
from app.answers.studies.runner import Report
from app.answers.switching import SWITCH, SwitchView
from app.answers.weighings import WORTH
from app.db.session import open_database
from app.db.store import StoredSite
from app.main import create_app
from app.pages.menu import pages_line
from app.settings import read_settings
from app.sites import reading
from app.sites.changes import Gate
from app.sites.demo import demo_data
from app.sites.reading import gate
from sim.day.blocks import Shape
from sim.day.rules import parse_rule
from sim.decide.answer import Comparison, Plan
from sim.decide.cloth.answer import SeasonAnswer
from sim.decide.compare import Question, compare
from sim.decide.maps.answer import SettingsMap
from sim.decide.maps.points import MapQuestion, settings_map
from sim.decide.next_measurement import WhatNext, next_measurements
from sim.decide.staff.answer import RosterAnswer, StaffAnswer
from sim.decide.switching.answer import ComingAnswer, Together, WhenToReduce
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget
from sim.decide.switching.study import Depth
from sim.decide.worth import worth_of_measuring
from sim.inputs import HOODS, SOAKED, Scenario
from sim.inputs.roster import WEEK
from sim.learn.answer import Posterior, WorthOfMeasuring
from sim.learn.drift import LEARNT, DriftFound
from sim.learn.scored import Scored
from tests.remembering import kept

NOT_TOLD = cast("Report", SimpleNamespace(stage=lambda _name: None))
"""Where a study tells how far it is, and nobody listens."""
TODAY = datetime.date(2026, 7, 15)
"""The day that tests take for today: a Wednesday in the demo site's peak season."""
ADDRESS = "http://localhost"
HERE = ("127.0.0.1", 50_000)
"""The address of a browser on the machine itself, where it need not sign in."""
OWN_PAGE = {"Sec-Fetch-Site": "same-origin"}
"""What a browser says of what it asks for from a page of ours (W3C Fetch Metadata)."""
MORNINGS = 4
"""Mornings whose advice is scored."""
FEW_DAYS = 32
"""Simulated days of an answer that tests store: guesses stay at their middle values."""


def main_pages(slug: str, day: datetime.date) -> list[str]:
    """Addresses of every page that the menu or another page leads to, for a day; but the season."""
    behind = "coming", "weighings", f"sheet/{day}", f"watch/{day}"
    return [one.href for one in pages_line(slug, day)] + [f"/{slug}/{page}" for page in behind]


def lay_database(
    path: Path, question: object, now: datetime.datetime, fill: Callable[[Gate], object]
) -> None:
    """Puts a database in place that was filled once a run; one that is there already stays.

    Args:
        question: whatever `fill` depends on besides `now`; it is pickled.
    """

    def filled() -> bytes:
        with TemporaryDirectory() as folder:
            own = Path(folder) / path.name
            database = open_database(own)
            with gate(database, now) as opened:
                fill(opened)
            database.close()
            return own.read_bytes()

    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(kept(("database", question, now), filled))


def make_demo_app(data_dir: Path, today: datetime.date = TODAY) -> FastAPI:
    """An app whose database in `data_dir` holds the demo site before anything was weighed there:
    working weighings in would go on beside every page."""
    settings = read_settings(data_dir=data_dir, today=today)
    lay_database(
        settings.database_path,
        ("demo", today),
        settings.now(),
        lambda opened: opened.create_site(replace(demo_data(), weighings=()), "demo"),
    )
    return create_app(settings)


@contextmanager
def demo_client(data_dir: Path, today: datetime.date = TODAY) -> Iterator[TestClient]:
    """A browser without script on that app, which is started and stopped with it."""
    app = make_demo_app(data_dir, today)
    with TestClient(app, base_url=ADDRESS, headers=OWN_PAGE, client=HERE) as client:
        yield client
    app.state.web.database.close()


def app_of(client: TestClient) -> FastAPI:
    """The app behind a client."""
    app = client.app
    if not isinstance(app, FastAPI):
        raise TypeError("the client has no app of ours")
    return app


def every_route(app: FastAPI) -> Iterator[tuple[str, str]]:
    """Method and path of every route of an app, those of the interface for programs included."""
    inner = next(one for one in app.routes if isinstance(one, Mount) and one.path == API)
    of_programs = getattr(inner.app, "routes", ())
    for before, routes in (("", app.routes), (API, of_programs)):
        for route in iter_route_contexts(routes):
            for method in sorted(getattr(route, "methods", ()) or ()):
                yield method, f"{before}{route.path}"


def demo_site(client: TestClient) -> StoredSite:
    """The demo site as it is stored behind a client."""
    web = app_of(client).state.web
    with web.database.session() as session:
        return reading.find(session, demo_data().site.name)


def keep(
    client: TestClient,
    kind: Kind[Asked, Found],
    day: datetime.date,
    small: Callable[..., Found],
    *sizes: int,
) -> str:
    """Stores a day's answer as the page's, worked out once a run; returns the page.

    Args:
        small: works it out of what is asked and of `sizes`.
    """
    web, stored = app_of(client).state.web, demo_site(client)
    with web.database.session() as session:
        answer = Desk(session, stored).open(kind, day)
    if not answer.key:
        raise ValueError(f"{day} asks for nothing: {answer}")
    text = kept((answer.key, small.__qualname__, sizes), lambda: write(small(answer.asked, *sizes)))
    with gate(web.database, web.now()) as opened:
        opened.store_result(answer.key, stored.id, day, text)
    return f"/{stored.slug}/{kind.page_of(day)}"


def store_comparison(client: TestClient, day: datetime.date, replications: int = FEW_DAYS) -> str:
    """Computes and stores what the page of a day would; returns the page's address.

    Args:
        replications: fewer make a coarser answer under the same key, for tests of wiring.
    """
    return keep(client, PLAN, day, small_comparison, replications)


def store_plan(client: TestClient, day: datetime.date) -> str:
    """Stores a day's plan thrice: what it begins with, something else, and the first again, so that
    its answers are those of a day without a plan; returns the page's address."""
    web, site = app_of(client).state.web, demo_site(client)
    begun = planning.DEFAULT_SCENARIOS
    other = Scenario("Reduced", "clock 12:00-16:00", "13:00", {"conveyor_speed_m_s": 0.25})
    states = (("", begun), ("91 °F", (*begun[:2], other)), ("", begun))
    with gate(web.database, web.now()) as opened:
        for version, (expect, scenarios) in enumerate(states):
            opened.store_plan(site.id, day, expect, scenarios, version, f"plan {day} {version}")
    return f"/{site.slug}/plan/{day}"


def small_comparison(asked: DayInputs, replications: int = FEW_DAYS) -> Plan:
    """The comparison of a day by few simulated days."""
    if asked.question is None or asked.expected is None:
        raise ValueError(f"{asked.day} cannot be planned: {asked.problems}")
    question = replace(asked.question, replications=replications)
    return planning.plan_of(question, asked.expected, compare(question))


def plan_few_days(patch: pytest.MonkeyPatch, days: int) -> None:
    """While `patch` holds, plans are computed from few simulated days."""
    stages = planning.compare_in_stages

    def few(question: Question, *more: Any) -> Iterator[Comparison]:
        return stages(replace(question, replications=days), *more)

    patch.setattr(planning, "compare_in_stages", few)


def store_maps(client: TestClient, day: datetime.date) -> str:
    """Stores small maps, of an hour and one simulated day, as those of a day; returns the page."""
    return keep(client, MAPS, day, small_maps)


def small_maps(one: DayAsked[MapQuestion]) -> SettingsMap:
    """Maps of four points, of an hour and one simulated day."""
    asked = one.posed
    question = replace(
        asked.question,
        site=asked.question.site.with_values({"open_h": 8.0, "close_h": 9.0}),
        evening=None,
        replications=1,
    )
    axes = (asked.speeds, asked.spacings, asked.demands, asked.temps)
    x, y, demands, temps = (replace(one, values=(one.values[0], one.values[-1])) for one in axes)
    return settings_map(MapQuestion(question, x, y, demands, temps, asked.known, asked.belief))


def small_season(basis: SeasonBasis) -> SeasonAnswer:
    """A season of sixty days with small options, as its page would store it."""
    rotation = rotation_of(basis.data, basis.first, basis.rules, basis.look)
    asked = season_asked(
        basis.data, basis.first, rotation, basis.plans, basis.look, basis.belief, 2, length=60
    )
    few = replace(
        asked,
        options=replace(asked.options, peaks=asked.options.peaks[:1], shape=Shape(2, 2, 2)),
    )
    return season.answer_season(few)


def small_staff(one: DayAsked[SwitchQuestion]) -> StaffAnswer:
    """Who is needed by four days, as the page would store it."""
    return staff.answer_staff(one.posed, one.plan.day, one.origin, days=4)


def not_held(answer: Callable[..., StaffAnswer]) -> Callable[..., StaffAnswer]:
    """Who is needed, worked out without how that stands against who is planned, which takes most of
    the time and which no roster shows."""

    def rough(question: SwitchQuestion, *more: Any, **told: Any) -> StaffAnswer:
        return answer(replace(question, known=None), *more, **told)

    return rough


def begin_nothing(patch: pytest.MonkeyPatch) -> None:
    """What pages begin to work out is not worked out; no test waits for it."""
    patch.setattr(StudyQueue, "begin", lambda *_given: None)


def rough_staff(one: DayAsked[SwitchQuestion]) -> StaffAnswer:
    """The same, not held against who is planned."""
    return not_held(staff.answer_staff)(one.posed, one.plan.day, one.origin, days=4)


def store_staff(client: TestClient, day: datetime.date) -> str:
    """Stores who is needed on a day, by few days; returns its page."""
    return keep(client, STAFF, day, small_staff)


def store_cloth(client: TestClient) -> str:
    """Stores when to change cloth, as it is worked out; returns its page."""
    return keep(client, CLOTH, _today(client), whole_cloth)


def whole_cloth(asked: ClothAsked) -> cloth.ClothFound:
    """When to change cloth, as its page would store it."""
    return cloth.find_out(asked.data, asked.rules, asked.day, asked.look)


def store_roster(client: TestClient) -> str:
    """Stores for next week's roster that none was found in time; returns its page."""
    return keep(client, ROSTER, monday_of(_today(client)) + WEEK, no_roster)


def no_roster(asked: RosterAsked) -> RosterAnswer:
    """That none was found in time."""
    return RosterAnswer(asked.monday, None, None)


def store_season(client: TestClient) -> str:
    """Stores the season of a few days of today's, with small options; returns the page."""
    return keep(client, SEASON, _today(client), small_season)


def _today(client: TestClient) -> datetime.date:
    today: datetime.date = app_of(client).state.web.today(demo_site(client))
    return today


FEW_RULES = tuple(
    parse_rule(text)
    for text in ("clock 11:00-16:00", "clock 10:00-18:00", "clock 10:00-12:00,14:00-17:00")
)
SMALL = Depth(effort=SamplingBudget(2, 4, 4), figures=2, hours=2, bound=1, why=False)
"""So little that an answer takes a moment; its page has every part but the reasons."""


def small_switch(one: DayAsked[SwitchQuestion]) -> WhenToReduce:
    """When to reduce on a day, among a few rules on a few days, as its page would store it."""
    few = replace(one.posed, among=FEW_RULES, known=None)
    return switching.answer_switch(few, one.plan.day, one.origin, depth=SMALL)


def store_switch(client: TestClient, day: datetime.date) -> str:
    """Stores such an answer as that of a day; returns the page."""
    return keep(client, SWITCH, day, small_switch)


def belief_once(asked: Weighed, *_told: object) -> Posterior:
    """What weighings leave of a site's guesses, worked out once a run: at the demo it takes a
    sixth of a minute."""
    return kept(("belief", belief_key(asked)), lambda: work_in(asked))


def small_worth(one: DayAsked[SwitchQuestion]) -> WorthOfMeasuring:
    """What measurements are worth on a day, by few sites, as its page would store it."""
    return WorthOfMeasuring(one.plan.day, 8, worth_of_measuring(one.posed, sites=8, truths=2))


def store_worth(client: TestClient, day: datetime.date) -> str:
    """Stores such an answer as that of the busiest coming day; returns the page."""
    return keep(client, WORTH, day, small_worth)


def small_next(asked: NextAsked) -> WhatNext:
    """What to measure tomorrow, by few sites, as its page would store it."""
    if asked.asked is None or asked.made is None:
        raise ValueError(f"{asked.tomorrow} asks for nothing")
    few = next_measurements(asked.asked, asked.made, sites=8, truths=2, kinds=(HOODS, SOAKED))
    return WhatNext(asked.tomorrow, asked.busy, 8, few)


def store_next(client: TestClient) -> str:
    """Stores such an answer as of today; returns the page."""
    return keep(client, NEXT, _today(client), small_next)


def small_drift(asked: DriftAsked) -> DriftFound:
    """What has changed, by few days more than those of which a site is learnt."""
    days = sorted({item.day for item in asked.hoods})[-LEARNT - 2 :]
    return changes_of(replace(asked, hoods=tuple(one for one in asked.hoods if one.day in days)))


def small_score(asked: ScoreAsked) -> Scored:
    """How good the advice of the last mornings was."""
    return score_of(replace(asked, days=asked.days[-MORNINGS:]))


def small_together(view: SwitchView) -> Together:
    """Speed, spacing and rule of a day on very few days, as its page would store it."""
    if view.result is None:
        raise ValueError(f"{view.day} has not been decided")
    few, rule = replace(view.asked.posed, known=None), view.result.chosen
    return switching.answer_together(few, rule, view.day, effort=SamplingBudget(2, 4, 4))


def small_coming(asked: coming_plans.ComingAsked) -> ComingAnswer:
    """The plans of three coming days, and a year of four, as their page would store them."""
    return coming_plans.answer_coming(asked, count=3, year_days=4)


def store_coming(client: TestClient) -> str:
    """Stores the coming days, few of them; returns the page."""
    tomorrow = _today(client) + datetime.timedelta(days=1)
    return keep(client, coming_plans.COMING, tomorrow, small_coming)
