"""Figures of the pages: one from stored results, a change tried."""

from __future__ import annotations

import tempfile
import time
from dataclasses import replace
from pathlib import Path

from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.planning import PLAN
from app.answers.studies.runner import Runner
from app.sites import reading
from app.sites.demo import demo_data, demo_days
from sim.decide.compare import Question
from tests.bench.figures import Figure, percentile
from tests.demo_app import app_of, demo_client, store_comparison

REQUESTS = 200
MOVES = 60
WORKERS = 2
BUSY_CARS = 2_000


def page_figures() -> list[Figure]:
    """Times of pages on the demo site, whose peak day has been computed and stored before."""
    with tempfile.TemporaryDirectory() as folder, demo_client(Path(folder)) as client:
        spent, computed = stored_page_seconds(client)
        figures, charts = change_seconds(client)
        whole = request_to_page_seconds(client)
    return [
        Figure("3 scenarios × 256 days of 2,000 cars, request to page", min(whole), "s", 1.0),
        Figure("page from stored results, processor time", computed * 1e3, "ms"),
        Figure("page from stored results, median", percentile(spent, 50) * 1e3, "ms"),
        Figure("page from stored results, p95", percentile(spent, 95) * 1e3, "ms", 100.0),
        Figure(
            "one input changed on an open plan: new figures, p95",
            percentile(figures, 95) * 1e3,
            "ms",
            300.0,
        ),
        Figure(
            "one input changed on an open plan: new charts, p95",
            percentile(charts, 95) * 1e3,
            "ms",
            700.0,
        ),
    ]


def stored_page_seconds(client: TestClient) -> tuple[list[float], float]:
    """Times of the page of the demo's humid peak day, its comparison stored [s].

    Returns:
        Each time from request to page, and the mean processor time of one.
    """
    address = store_comparison(client, demo_days()["humid_peak"])
    page = client.get(address)
    if page.status_code != 200:
        raise RuntimeError(f"{address} answers {page.status_code}")
    spent = []
    used = time.process_time()
    for _ in range(REQUESTS):
        start = time.perf_counter()
        client.get(address)
        spent.append(time.perf_counter() - start)
    return spent, (time.process_time() - used) / REQUESTS


def change_seconds(client: TestClient) -> tuple[list[float], list[float]]:
    """Times from a moved input to new figures and to new charts, on the demo's peak day [s].

    What every change is compared with has been computed when the part came into view; each move
    is one that was not tried before: of the speed, of the spacing, and of the day in turn.

    Returns:
        Until the figures are there, and until the charts are, which are asked for after them.
    """
    address = store_comparison(client, demo_days()["humid_peak"])
    client.get(f"{address}/change/figures")
    figures: list[float] = []
    charts: list[float] = []
    for number in range(MOVES):
        moved = (
            ("scenario-tried.conveyor_speed_m_s", f"{46 + 0.25 * number}"),
            ("scenario-tried.car_spacing_m", f"{17 + 0.1 * number}"),
            ("tried.cars", f"{number - MOVES // 2:+d}.5"),
        )[number % 3]
        start = time.perf_counter()
        for part, spent in (("figures", figures), ("charts", charts)):
            answer = client.get(f"{address}/change/{part}", params=dict([moved]))
            spent.append(time.perf_counter() - start)
            if answer.status_code != 200:
                raise RuntimeError(f"{address}: {moved} answers {answer.status_code}")
    return figures, charts


def request_to_page_seconds(client: TestClient) -> list[float]:
    """Times from asking for a comparison to the page that shows it, by two warm workers [s].

    Days of the demo with the demand that makes 2,000 cars of them, over drawn sites.
    """
    web = app_of(client).state.web
    runner, spent = Runner(web.database, WORKERS, web.now), []
    try:
        # the first one is long enough to start the workers, and is not told of
        for kind, days in (("quiet", 1_024), ("hot_dry_peak", 256), ("after_rain", 256)):
            with web.database.session() as session:
                stored = reading.find(session, demo_data().site.name)
                view = Desk(session, stored).open(PLAN, demo_days()[kind])
            asked = replace(
                view, asked=replace(view.asked, question=busy(view.asked.question, days))
            )
            start = time.perf_counter()
            computed = asked.begin(runner)
            if computed is None:
                raise RuntimeError(f"{view.day} had been computed before")
            computed.result()
            page = client.get(f"/{stored.slug}/plan/{view.day.isoformat()}")
            spent.append(time.perf_counter() - start)
            if '<table class="compare' not in page.text:
                raise RuntimeError(f"the page of {view.day} shows no comparison of {days} days")
    finally:
        runner.close()
    return spent[1:]


def busy(question: Question | None, days: int) -> Question:
    """The question about so many days of 2,000 cars."""
    if question is None:
        raise RuntimeError("a day of the demo can't be planned")
    open_hours = slice(int(question.site.line.open_h), int(question.site.line.close_h))
    arrivals = question.conditions.arrivals_per_h
    factor = BUSY_CARS / sum(arrivals[open_hours])
    conditions = replace(
        question.conditions, arrivals_per_h=tuple(factor * cars for cars in arrivals)
    )
    return replace(question, conditions=conditions, replications=days)
