"""Days side by side: the same to the bit for any number of workers, and memory that stays flat."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context

import numpy as np
import pytest

from app.answers.serial import write
from sim.day.engine import Experiment
from sim.day.replicate import Days, run_days
from sim.decide.compare import Question, compare
from sim.inputs import Scenario, Site
from tests.day.sites import conditions
from tests.seeds import seed
from tests.sizes import is_soak

SITE = Site("Side By Side").with_values({"open_h": 10.0, "close_h": 11.0, "day_factor_cv": 0.3})
DAY = conditions(60.0)
SCENARIOS = (
    Scenario("full", "full"),
    Scenario("band", "band 45-35", changes={"conveyor_speed_m_s": 0.25}),
)
OVER_SITES, PLAIN = 256, 37
"""Replications from which guesses are drawn, and an odd number of days without."""


@pytest.fixture(scope="module")
def workers(two_processes: Executor) -> Iterator[tuple[Executor, ...]]:
    """Two worker processes; eight as well at full counts."""
    with ProcessPoolExecutor(8, mp_context=get_context("spawn")) as eight:
        yield (two_processes, eight) if is_soak() else (two_processes,)


def question(replications: int) -> Question:
    """A comparison of two scenarios over an hour."""
    return Question(
        SITE, DAY, SCENARIOS, replications, seed("side by side"), None, frozenset({"open_h"})
    )


def days(executor: Executor | None, count: int = PLAIN) -> list[Days]:
    """Plain days of both scenarios."""
    return run_days(Experiment(SITE, DAY, seed("side by side")), SCENARIOS, count, executor)


@pytest.mark.soak
def test_a_comparison_is_the_same_for_any_number_of_workers(workers: tuple[Executor, ...]) -> None:
    """What is stored and shown is the same text whether drawn sites and days are computed by the
    process itself, by two workers, or at full counts by eight."""

    def text(executor: Executor | None) -> str:
        return write(compare(question(OVER_SITES), executor))

    alone = text(None)
    assert "site_uncertainty" in alone
    for pool in workers:
        assert text(pool) == alone


@pytest.mark.soak
def test_days_are_the_same_for_any_number_of_workers(workers: tuple[Executor, ...]) -> None:
    """Every figure of every day and hour, bit for bit."""
    alone = days(None)
    for pool in workers:
        for one, other in zip(alone, days(pool), strict=True):
            for name, values in asdict(one)["day"].items():
                assert values.tobytes() == other.day[name].tobytes(), name
            for name, values in one.hours.items():
                assert values.tobytes() == other.hours[name].tobytes(), name


def used_beside_figures(count: int) -> int:
    """Most memory in use at once while days are computed, less what their figures take [B]."""
    tracemalloc.start()
    try:
        found = days(None, count)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    kept = [array for one in found for array in (*one.day.values(), *one.hours.values())]
    return most - sum(array.nbytes for array in kept)


FLAT = 250_000
"""Bytes: room for a busier day than any before, not for a kept one."""


def test_memory_is_flat_in_days() -> None:
    """Ten times the days take no more than 250 kB more, their figures apart."""
    used_beside_figures(5)  # what is made once
    few, many = used_beside_figures(40), used_beside_figures(400)
    assert many - few < FLAT, (few, many)


def test_days_that_are_kept_would_be_seen() -> None:
    """A list of a tenth of those days, figures alone, passes that bound."""
    tracemalloc.start()
    try:
        kept = [run_days(Experiment(SITE, DAY, number), SCENARIOS, 1)[0] for number in range(40)]
        used, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert used > FLAT
    assert np.isfinite(kept[0].day["cars_washed"]).all()
