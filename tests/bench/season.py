"""The season of the demo site: a year of days by two rules, and the page that shows it."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

from app.answers.season import rotation_of, season_asked
from app.answers.sizes import SEASON_REPLICATIONS
from app.sites.demo import demo_data
from app.sites.reading import Past
from sim.decide.cloth.season import SeasonQuestion, run_season
from sim.inputs import Scenario
from tests.bench.figures import Figure, used_seconds
from tests.demo_app import TODAY

WORKERS = 2
RULE = "clock 10:00-17:00"
"""A second rule for every day, so that none has both rules in one."""


def year() -> SeasonQuestion:
    """The year's question, its days looked up."""
    data, look = demo_data(), Past().look
    rotation = rotation_of(data, TODAY, {}, look)
    question = season_asked(data, TODAY, rotation, {}, look).question
    days = tuple(replace(one, planned=Scenario("planned", RULE)) for one in question.days)
    return replace(question, days=days)


def on_workers(asked: SeasonQuestion) -> tuple[float, float]:
    """Seconds by the clock on workers that are warm, and processor time of all of it, the workers'
    start included."""
    before = used_seconds()
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        run_season(replace(asked, days=asked.days[:8], replications=4), pool)
        start = time.perf_counter()
        run_season(asked, pool)
        spent = time.perf_counter() - start
    return spent, used_seconds() - before  # the workers are waited for by now, so theirs is told


def season_figures() -> list[Figure]:
    """The year by the clock, and the processor time of each core without the workers' start."""
    asked = year()
    _spent, of_start = on_workers(replace(asked, days=asked.days[:1], replications=1))
    spent, used = on_workers(asked)
    days = f"year of {len(asked.days)} days × {SEASON_REPLICATIONS} replications × 2 rules"
    return [
        Figure(f"{days}, {WORKERS} workers", spent, "s", 15.0),
        Figure(f"{days}, processor time a core", (used - of_start) / WORKERS, "s", 15.0),
    ]
