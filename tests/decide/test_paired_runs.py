"""Runs on kept ground are those of `run_blocks`, whatever was tried before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.day.blocks import Shape, by_day
from sim.day.figures import FIGURES, HOURLY
from sim.day.night import Night, PreviousDay, Rest
from sim.decide.how_sure import (
    PairedRunCache,
    Runs,
    differences_of,
    figures_of,
    run_blocks,
    site_difference,
    site_figure,
)
from sim.inputs import Scenario, Site
from tests.day.sites import conditions, over_sites

SMALL = Shape(blocks=2, points=2, days=2)
SITE = Site("Kept").with_values({"open_h": 10.0, "close_h": 12.0, "day_factor_cv": 0.3})
DAY = replace(conditions(30.0), opening_moisture_kg_kg=None)
EVENING = PreviousDay(conditions(25.0), 1)
FASTER = Scenario("faster", "reduced", "", {"conveyor_speed_m_s": 0.3})
FULL = Scenario("full")
UNKEPT = 6
"""A seed whose drawn sites no other test has: a process keeps the evenings of some sites."""


def assert_same(found: Runs, wanted: Runs) -> None:
    """Every figure of every run, and every hour, to the last digit."""
    for name in FIGURES:
        assert np.array_equal(found.day[name], wanted.day[name], equal_nan=True), name
    for name in HOURLY:
        assert np.array_equal(found.hours[name], wanted.hours[name], equal_nan=True), name


@pytest.mark.parametrize("evening", [EVENING, None])
def test_kept_ground_finds_what_fresh_runs_find(evening: PreviousDay | None) -> None:
    """One scenario after the other on kept ground gives the figures of all of them at once."""
    both = run_blocks(over_sites(SITE, DAY, 5, frozenset(), evening), (FULL, FASTER), SMALL)
    kept = PairedRunCache(over_sites(SITE, DAY, 5, frozenset(), evening), SMALL)
    busier = replace(DAY, arrivals_per_h=tuple(2 * cars for cars in DAY.arrivals_per_h))
    kept.runs(FULL, busier)  # draws grow by what is tried; what was drawn stays
    assert_same(kept.runs(FULL, DAY), both.runs[0])
    assert_same(kept.runs(FASTER, DAY), both.runs[1])
    assert_same(kept.runs(FULL, DAY), both.runs[0])


def test_changed_morning_changes_the_night_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Evenings are simulated once a drawn site; another morning gives what fresh runs give."""
    asked: list[Site] = []
    simulate = Night.rest

    def watched(self: Night, site: Site) -> Rest:
        asked.append(site)
        return simulate(self, site)

    monkeypatch.setattr(Night, "rest", watched)
    kept = PairedRunCache(over_sites(SITE, DAY, UNKEPT, frozenset(), EVENING), SMALL)
    dry = replace(DAY, humidity=(0.2,) * 24)
    kept.runs(FULL, DAY)
    found = kept.runs(FULL, dry)
    assert len(asked) == SMALL.blocks * SMALL.points
    fresh = run_blocks(over_sites(SITE, dry, UNKEPT, frozenset(), EVENING), (FULL,), SMALL)
    assert_same(found, fresh.runs[0])


def test_nothing_is_drawn_of_a_site_without_priors() -> None:
    """Where no input is to be drawn, every point of a block is the site itself."""
    runs = PairedRunCache(over_sites(SITE, DAY, 5, None), SMALL).runs(FULL, DAY)
    for name in FIGURES:
        days = by_day(runs.day[name])
        assert np.array_equal(days[:, 0], days[:, 1], equal_nan=True)


def test_figures_and_differences_are_those_of_the_comparison() -> None:
    """A figure and a paired difference come from the functions of the comparison itself."""
    first, other = run_blocks(over_sites(SITE, DAY, 5, frozenset()), (FULL, FASTER), SMALL).runs
    level = figures_of(first, ("margin", "cars_washed"))
    apart = differences_of(SITE, first.day, level, other.day, site_difference)
    info = FIGURES["cars_washed"]
    assert level["cars_washed"] == site_figure(info, first.day["cars_washed"])
    assert apart["cars_washed"] == site_difference(
        info, first.day["cars_washed"], other.day["cars_washed"], SITE.wishes.matters_cars
    )
    assert set(apart) == {"margin", "cars_washed"}
