"""How far the cars of a day come out from what is expected of it, as days and sites are drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sim.day.blocks import sobol_points
from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import LEVELS, Belief, Drawn, draw_site, level_points, uncertain
from sim.day.engine import Experiment
from sim.day.replicate import run_days
from sim.inputs import Conditions, DemandSpread, Scenario, Site
from tests.day.sites import over_sites
from tests.seeds import seed

SITE = Site("Spread").with_values({"day_factor_cv": 0.12, "hour_factor_cv": 0.1})
DAY = Conditions((40.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.3)
DAYS = 400
HOURS = range(7, 20)


def counts(day: Conditions, days: int = DAYS) -> NDArray[np.float64]:
    """Cars that come in each open hour of many days; shape (days, hours)."""
    rows = []
    for number in range(days):
        times = make_cars(DayDraw(seed("spread"), number), SITE, day).arrival_s
        rows.append(np.bincount((times // 3600).astype(int), minlength=24)[list(HOURS)])
    return np.array(rows, dtype=float)


@pytest.mark.parametrize(
    ("spread", "wanted"),
    [
        (DemandSpread(0.25, 0.0, days=30), 0.25),
        (DemandSpread(0.0, 0.0, days=30), 0.0),
        (DemandSpread(None, 0.0), 0.12),
        (DemandSpread(0.15, 0.0, 0.2), 0.25),
    ],
)
def test_days_differ_by_what_counts_told(spread: DemandSpread, wanted: float) -> None:
    """Beside the luck of whole cars the totals of drawn days have the day's own variation, and
    with it that of a level which no site was drawn with; the site's input holds only where the
    day says nothing. To 4 standard errors."""
    found = counts(replace(DAY, spread=spread)).sum(axis=1)
    mean = found.mean()
    apart = found.var(ddof=1) / mean**2 - 1.0 / mean
    assert apart == pytest.approx(wanted**2, abs=4 * (wanted**2 + 1 / mean) * (2 / DAYS) ** 0.5)


@pytest.mark.parametrize(("counted", "wanted"), [(0.3, 0.3), (0.0, 0.0), (None, 0.1)])
def test_hours_are_over_dispersed_given_their_day(counted: float | None, wanted: float) -> None:
    """Pearson's chi-square of the hours about their day's mean, a degree of freedom, is
    1 + cars·c² for a factor of variation c on each hour, and 1 without: to 4 standard errors."""
    found = counts(replace(DAY, spread=DemandSpread(0.2, counted, days=30)))
    mean = found.mean(axis=1, keepdims=True)
    chi = ((found - mean) ** 2 / mean).sum(axis=1) / (len(HOURS) - 1)
    error = float(chi.std(ddof=1)) / DAYS**0.5
    day_mean = float((mean**2).mean() / mean.mean())
    assert chi.mean() == pytest.approx(1.0 + day_mean * wanted**2, abs=4 * error + 0.03 * wanted)


def test_a_scenario_that_sets_the_variation_has_its_own() -> None:
    """What a scenario sets holds against the counts, and the others keep what was counted."""
    day = replace(DAY, spread=DemandSpread(0.0, 0.0, days=30))
    wild = Scenario("wild", changes={"day_factor_cv": 0.6})
    calm, own = run_days(Experiment(SITE, day, 3), [Scenario("as counted"), wild], 24)
    assert calm.day["cars_arrived"].std() < 0.1 * calm.day["cars_arrived"].mean()
    assert own.day["cars_arrived"].std() > 0.35 * own.day["cars_arrived"].mean()


def test_scenarios_meet_the_same_hours() -> None:
    """Twice the demand has twice the cars in every hour of the same draw, up to whole cars."""
    day = replace(DAY, spread=DemandSpread(0.3, 0.4, days=30))
    twice = replace(day, arrivals_per_h=(80.0,) * 24)
    few, many = counts(day, 60), counts(twice, 60)
    assert many.mean(axis=0) == pytest.approx(2 * few.mean(axis=0), rel=0.1)
    assert np.corrcoef(few.ravel(), many.ravel())[0, 1] > 0.9


# ---- the level that a site is drawn with ---------------------------------------------------------


def test_levels_of_a_block_are_spread_evenly_and_nested() -> None:
    """Each stage has one level in every equal part, more points begin with those of fewer, and
    over blocks levels have nothing to do with the points that sites are drawn from."""
    many = level_points(16, 5, 3)
    for points in (2, 4, 8, 16):
        few = level_points(points, 5, 3)
        assert np.array_equal(few, many[:points])
        if points > 2:
            assert sorted((few * points).astype(int)) == list(range(points))
    levels = np.array([level_points(4, 5, block) for block in range(100)])
    belief = Belief(("uptake_max",), 3, 256, tuple(range(256)), (), 256.0)
    days = over_sites(SITE, DAY, 5, frozenset(), belief=belief)
    rows = [[days.drawn(block, point) for point in range(4)] for block in range(100)]
    values = np.array([[float(str(one.site.value("uptake_max"))) for one in row] for row in rows])
    apart = [x - x.mean(axis=1, keepdims=True) for x in (levels, values)]
    assert abs(np.corrcoef(apart[0].ravel(), apart[1].ravel())[0, 1]) < 4 / (3 * 100) ** 0.5


def test_levels_are_shuffled_within_their_stages_alone() -> None:
    """Each stage has the values that its Sobol points have, in an order that is hardly ever theirs:
    two sequences in their own order go hand in hand."""
    stages, as_they_came = ((0, 4), (4, 8), (8, 16)), 0
    for block in range(40):
        plain, levels = sobol_points(1, 16, 5, LEVELS + block)[:, 0], level_points(16, 5, block)
        for first, last in stages:
            assert sorted(levels[first:last]) == sorted(plain[first:last])
            as_they_came += np.array_equal(levels[first:last], plain[first:last])
    # of 40 orders of four, 1 in 24; of eight or more, none: Poisson with mean 1.7
    assert as_they_came <= 7


def test_a_drawn_level_moves_what_is_expected_and_is_sure_then() -> None:
    """Levels have mean 1 and the variation of the day's; a site that draws nothing leaves the
    day as it is."""
    day = replace(DAY, spread=DemandSpread(0.1, 0.1, 0.2, 30, 5))
    sites = over_sites(SITE, DAY, 5, frozenset())
    drawn = [sites.drawn(block, point) for block in range(64) for point in range(4)]
    found = np.array([one.day(day).arrivals_per_h[12] for one in drawn]) / 40.0
    assert found.mean() == pytest.approx(1.0, abs=0.01)
    assert found.std() == pytest.approx(0.2, rel=0.1)
    assert {one.day(day).spread for one in drawn} == {DemandSpread(0.1, 0.1, 0.0, 30, 5)}
    assert Drawn(SITE).day(day) is day
    sure = replace(DAY, spread=DemandSpread(0.1, 0.1))
    assert drawn[0].day(sure) is sure


def test_sites_are_drawn_alike_whatever_their_demand() -> None:
    """The level has points of its own, which leave those of the sites as they are; where no input
    is drawn, no level is."""
    names = uncertain(SITE, frozenset())
    sites = over_sites(SITE, DAY, 9, frozenset())
    found = [sites.drawn(2, point) for point in range(4)]
    assert [one.site for one in found] == [
        draw_site(SITE, names, u) for u in sobol_points(len(names), 4, 9, 2)
    ]
    assert len({one.level_u for one in found}) == 4
    assert over_sites(SITE, DAY, 9, None).drawn(2, 3) == Drawn(SITE)
