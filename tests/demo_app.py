"""The app with the demo site in a database of its own, for tests and bench."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.answers import (
    cloth,
    coming_plans,
    planning,
    season,
    settings_map,
    staff,
    switching,
    together,
)
from app.answers.roster import monday_of, open_roster
from app.answers.season_basis import ask_season, rotation_of
from app.answers.serial import write
from app.main import create_app
from app.settings import read_settings
from app.sites import sites
from app.sites.demo import demo_data
from app.sites.reading import gate
from sim.day.blocks import Shape
from sim.day.rules import parse_rule
from sim.decide.cloth.answer import SeasonAnswer
from sim.decide.staff.answer import RosterAnswer
from sim.decide.switching.answer import ComingAnswer, Together, WhenToReduce
from sim.decide.switching.selection import Effort
from sim.decide.switching.study import Depth
from sim.inputs.roster import WEEK
from sim.learn.expected_day import expected_day

TODAY = datetime.date(2026, 7, 15)
"""The day that tests take for today: a Wednesday in the demo site's peak season."""
ADDRESS = "http://localhost"
OWN_PAGE = {"Sec-Fetch-Site": "same-origin"}
"""What a browser says of what it asks for from a page of ours (W3C Fetch Metadata)."""
FEW_DAYS = 32
"""Simulated days of an answer that tests store: guesses stay at their middle values."""


def make_demo_app(data_dir: Path, today: datetime.date = TODAY) -> FastAPI:
    """An app whose database in `data_dir` holds the demo site, laid out around `today`."""
    app = create_app(read_settings(data_dir=data_dir, today=today))
    web = app.state.web
    with gate(web.database, web.now()) as opened:
        opened.create_site(demo_data(today), "demo")
    return app


@contextmanager
def demo_client(data_dir: Path, today: datetime.date = TODAY) -> Iterator[TestClient]:
    """A browser without script on that app, which is started and stopped with it."""
    app = make_demo_app(data_dir, today)
    with TestClient(app, base_url=ADDRESS, headers=OWN_PAGE) as client:
        yield client
    app.state.web.database.close()


def app_of(client: TestClient) -> FastAPI:
    """The app behind a client."""
    app = client.app
    if not isinstance(app, FastAPI):
        raise TypeError("the client has no app of ours")
    return app


def store_comparison(client: TestClient, day: datetime.date, replications: int = FEW_DAYS) -> str:
    """Computes and stores what the page of a day would; returns the page's address.

    Args:
        replications: fewer make a coarser answer under the same key, for tests of wiring.
    """
    web = app_of(client).state.web
    with web.database.session() as session:
        stored = sites.find(session, demo_data(web.today("UTC")).site.name)
        view = planning.open_plan(session, stored, day)
        if view.question is None or view.expected is None:
            raise ValueError(f"{day} cannot be planned: {view.problems or view.expected}")
        question = replace(view.question, replications=replications)
        found = planning.answer(question, day, view.expected.origin)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, day, found)
    return f"/{stored.slug}/plan/{day.isoformat()}"


def store_maps(client: TestClient, day: datetime.date) -> str:
    """Stores small maps, of an hour and one simulated day, as those of a day; returns the page."""
    web = app_of(client).state.web
    with web.database.session() as session:
        stored = sites.find(session, demo_data(web.today("UTC")).site.name)
        view = settings_map.open_map(session, stored, day)
        if view.asked is None or view.plan.expected is None:
            raise ValueError(f"{day} cannot be mapped: {view.plan.problems}")
    asked = view.asked
    question = replace(
        asked.question,
        site=asked.question.site.with_values({"open_h": 8.0, "close_h": 9.0}),
        evening=None,
        replications=1,
    )
    few = {
        name: replace(axis, values=(axis.values[0], axis.values[-1]))
        for name, axis in (
            ("speeds", asked.speeds),
            ("spacings", asked.spacings),
            ("demands", asked.demands),
            ("temps", asked.temps),
        )
    }
    small = replace(asked, question=question, **few)
    found = settings_map.answer_map(small, day, view.plan.expected.origin)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, day, found)
    return f"/{stored.slug}/settings/{day.isoformat()}"


def small_season(view: season.SeasonView) -> SeasonAnswer:
    """A season of sixty days with small options, as its page would store it."""
    if view.basis is None:
        raise ValueError(f"the season can't be worked out: {view.problems}")
    basis = view.basis
    rotation = rotation_of(basis.data, basis.first, basis.rules, basis.look)
    asked = ask_season(
        basis.data, basis.first, rotation, basis.plans, basis.look, basis.belief, 2, length=60
    )
    few = replace(
        asked,
        options=replace(asked.options, peaks=asked.options.peaks[:1], shape=Shape(2, 2, 2)),
    )
    return season.answer_season(few)


def small_staff(view: staff.StaffView) -> dict[str, Any]:
    """Who is needed by four days, as the page would store it."""
    if view.asked is None or view.plan.expected is None:
        raise ValueError("the day can't be planned")
    found = staff.answer_staff(view.asked, view.plan.day, view.plan.expected.origin, days=4)
    content: dict[str, Any] = json.loads(write(found))
    return content


def store_staff(client: TestClient, day: datetime.date) -> str:
    """Stores who is needed on a day, by few days; returns its page."""
    web = app_of(client).state.web
    with web.database.session() as session:
        stored = sites.find(session, demo_data(web.today("America/New_York")).site.name)
        view = staff.open_staff(session, stored, day, web.runner)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, day, small_staff(view))
    return f"/{stored.slug}/staff/{day.isoformat()}"


def store_cloth(client: TestClient) -> str:
    """Stores when to change cloth, as it is worked out; returns its page."""
    web = app_of(client).state.web
    today = web.today("America/New_York")
    with web.database.session() as session:
        stored = sites.find(session, demo_data(today).site.name)
        view = cloth.open_cloth(session, stored, web.now(), today, web.runner)
        rules = cloth.planned_rules(session, stored)
        found = cloth.find_out(sites.with_history(session, stored), rules, today, expected_day)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, today, json.loads(write(found)))
    return f"/{stored.slug}/cloth"


def store_roster(client: TestClient) -> str:
    """Stores for next week's roster that none was found in time; returns its page."""
    web = app_of(client).state.web
    monday = monday_of(web.today("America/New_York")) + WEEK
    with web.database.session() as session:
        stored = sites.find(session, demo_data(web.today("America/New_York")).site.name)
        view = open_roster(session, stored, monday, web.runner)
    if view.week is None:
        raise ValueError("the demo has no people")
    content = json.loads(write(RosterAnswer(monday, None, None)))
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, monday, content)
    return f"/{stored.slug}/roster/{monday.isoformat()}/made"


def store_season(client: TestClient) -> str:
    """Stores the season of a few days of today's, with small options; returns the page."""
    web = app_of(client).state.web
    today = web.today("America/New_York")
    with web.database.session() as session:
        stored = sites.find(session, demo_data(today).site.name)
        view = season.open_season(session, stored, today, web.runner)
    with gate(web.database, web.now()) as opened:
        found = json.loads(write(small_season(view)))
        opened.store_result(view.key, stored.id, today, found)
    return f"/{stored.slug}/cloth/season"


FEW_RULES = tuple(
    parse_rule(text)
    for text in ("clock 11:00-16:00", "clock 10:00-18:00", "clock 10:00-12:00,14:00-17:00")
)
SMALL = Depth(effort=Effort(2, 4, 4), figures=2, hours=2, bound=1, why=False)
"""So little that an answer takes a moment; its page has every part but the reasons."""


def small_switch(view: switching.SwitchView) -> WhenToReduce:
    """When to reduce on a day, among a few rules on a few days, as its page would store it."""
    if view.asked is None or view.plan.expected is None:
        raise ValueError(f"{view.plan.day} can't be decided: {view.plan.problems}")
    few = replace(view.asked, among=FEW_RULES, known=None)
    return switching.answer_switch(few, view.plan.day, view.plan.expected.origin, depth=SMALL)


def store_switch(client: TestClient, day: datetime.date) -> str:
    """Stores such an answer as that of a day; returns the page."""
    web = app_of(client).state.web
    with web.database.session() as session:
        stored = sites.find(session, demo_data(web.today("UTC")).site.name)
        view = switching.open_switch(session, stored, day)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, stored.id, day, json.loads(write(small_switch(view))))
    return f"/{stored.slug}/reduce/{day.isoformat()}"


def small_together(view: switching.SwitchView) -> Together:
    """Speed, spacing and rule of a day on very few days, as its page would store it."""
    if view.asked is None or view.result is None:
        raise ValueError(f"{view.plan.day} has not been decided")
    few, rule = replace(view.asked, known=None), view.result.chosen
    return together.answer_together(few, rule, view.plan.day, effort=Effort(2, 4, 4))


def small_coming(view: coming_plans.ComingView) -> ComingAnswer:
    """The plans of three coming days, and a year of four, as their page would store them."""
    if view.asked is None:
        raise ValueError("nothing can be planned")
    return coming_plans.answer_coming(view.asked, count=3, year_days=4)
