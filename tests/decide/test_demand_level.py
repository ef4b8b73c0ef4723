"""What is not known of the level of demand: in the site uncertainty, the day range, and named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from sim.day.blocks import Shape
from sim.day.figures import FIGURES
from sim.decide.how_sure import PairedRunCache, figures_of, run_blocks, site_figure, widest
from sim.inputs import INPUTS, LEVEL, DemandSpread, Scenario, Site
from tests.day.sites import conditions, over_sites
from tests.intervals import day_range, site_range

SITE = Site("Level").with_values({"open_h": 10.0, "close_h": 12.0, "stack_limit_cars": 300})
ALL = frozenset(INPUTS)
DAY = replace(conditions(60.0), spread=DemandSpread(0.1, 0.1, 0.2, 40, 5))
SURE = replace(DAY, spread=DemandSpread(0.1, 0.1, 0.0, 40, 5))
SCENARIOS = (Scenario("full", "full"), Scenario("reduced", "reduced"))
SHAPE = Shape(blocks=16, points=8, days=4)
ARRIVED = FIGURES["cars_arrived"]


def test_arrivals_have_a_site_range_and_a_day_range_that_a_coming_day_falls_into() -> None:
    """With every input known, cars expected may lie off by the level's gamma, 9 of 10, to 15 % of
    the width; where the level is sure that range has no width. The day range is that of level,
    day, hours and luck together, from a million such days, to 12 %."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, ALL), SCENARIOS[:1], SHAPE)
    found = site_figure(ARRIVED, crossed.runs[0].day["cars_arrived"], crossed.level)
    low, high = 120.0 * stats.gamma(a=25, scale=1 / 25).ppf([0.05, 0.95])
    assert site_range(found).width == pytest.approx(high - low, rel=0.15)
    rng = np.random.default_rng(3)
    common = rng.gamma(25, 1 / 25, (1_000_000, 1)) * rng.gamma(100, 1 / 100, (1_000_000, 1))
    coming = rng.poisson(60.0 * common * rng.gamma(100, 1 / 100, (1_000_000, 2))).sum(axis=1)
    low, high = np.percentile(coming, [5, 95])
    assert day_range(found).width == pytest.approx(high - low, rel=0.12)
    sure = run_blocks(over_sites(SITE, SURE, 5, ALL), SCENARIOS[:1], Shape(8, 4, 4))
    known = site_figure(ARRIVED, sure.runs[0].day["cars_arrived"], sure.level)
    assert site_range(known).high == pytest.approx(site_range(known).low, abs=1e-6)
    assert day_range(known).width < 0.8 * day_range(found).width


def test_the_level_is_named_where_it_widens_an_answer() -> None:
    """Cars that come hang on nothing but the level; where it is sure nothing is named."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, ALL), SCENARIOS[:1], SHAPE)
    (named,) = widest(crossed, crossed.runs[0].day["cars_arrived"])
    assert named.input == LEVEL
    assert named.share > 0.9
    sure = run_blocks(over_sites(SITE, SURE, 5, ALL), SCENARIOS[:1], Shape(blocks=4))
    assert widest(sure, sure.runs[0].day["cars_arrived"]) == ()


def test_scenarios_meet_the_same_level() -> None:
    """The same cars come under each scenario at every drawn site and day."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, Shape(4, 4, 2))
    one, other = (runs.day["cars_arrived"] for runs in crossed.runs)
    assert np.array_equal(one, other)
    assert len(set(crossed.level.tolist())) == 16


def test_kept_ground_has_the_same_levels() -> None:
    """What answers at once finds the very figures that a plan would, ranges of days included."""
    shape = Shape(4, 4, 2)
    crossed = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS[:1], shape)
    kept = PairedRunCache(over_sites(SITE, DAY, 5, frozenset()), shape)
    assert np.array_equal(kept.levels(DAY), crossed.level)
    found = figures_of(kept.runs(SCENARIOS[0], DAY), ["cars_arrived"], kept.levels(DAY))
    wanted = site_figure(ARRIVED, crossed.runs[0].day["cars_arrived"], crossed.level)
    assert found["cars_arrived"] == wanted
