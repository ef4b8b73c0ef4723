"""Runs in blocks taken apart: variance components, intervals and their coverage."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from sim.day.blocks import MOST_POINTS, Parts, Shape, sobol_points, take_apart
from tests.seeds import seed
from tests.sizes import Size

Floats = NDArray[np.float64]
DIMENSIONS = 44
MEAN, SITE_SD, DAY_CV = 100.0, 0.2, 0.1
SITE_VARIANCE = MEAN**2 * (np.exp(SITE_SD**2) - 1)
DAY_VARIANCE = MEAN + MEAN**2 * np.exp(SITE_SD**2) * DAY_CV**2
"""Poisson counts given a gamma day factor and a lognormal site mean: both in closed form."""


def experiment(number: int) -> Parts:
    """One answer as pages make it: counts whose site and day parts are known exactly."""
    shape = Shape(points=MOST_POINTS)
    days = np.random.default_rng(np.random.SeedSequence([seed("blocks"), number]))
    values = np.empty((shape.blocks, shape.points, shape.days))
    for block in range(shape.blocks):
        u = sobol_points(DIMENSIONS, shape.points, seed("blocks", number), block)[:, 0]
        site = MEAN * np.exp(SITE_SD * stats.norm.ppf(u) - 0.5 * SITE_SD**2)
        factor = days.gamma(1 / DAY_CV**2, DAY_CV**2, shape.days)
        values[block] = days.poisson(site[:, None] * factor[None, :])
    return take_apart(values)


@pytest.mark.soak
def test_parts_are_told_apart(size: Size, record_figure: Callable[[str, float, str], None]) -> None:
    """Site and day variance of a case with a closed form come out within 5 % in the mean."""
    found = [experiment(n) for n in range(size(small=200, full=1_000))]
    site = float(np.mean([p.site_variance for p in found])) / SITE_VARIANCE
    day = float(np.mean([p.day_variance for p in found])) / DAY_VARIANCE
    record_figure("site variance ÷ truth", site, "")
    record_figure("day variance ÷ truth", day, "")
    assert site == pytest.approx(1.0, abs=0.05)
    assert day == pytest.approx(1.0, abs=0.05)


@pytest.mark.soak
def test_the_run_error_covers_the_mean(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """The 95 % run error holds the true mean in 93 to 97 % of experiments (wider when few)."""
    count = size(small=300, full=1_000)
    hits = sum(p.error_low <= MEAN <= p.error_high for p in map(experiment, range(count)))
    record_figure("coverage of the run error", 100 * hits / count, "%")
    slack = 0.02 if count >= 1_000 else 0.04
    assert 0.95 - slack <= hits / count <= 0.95 + slack


def test_the_site_uncertainty_is_that_of_the_sites() -> None:
    """Its ends are the 5th and 95th percentile of the true site means, to 4 % in the mean."""
    found = [experiment(n) for n in range(60)]
    truth = MEAN * np.exp(SITE_SD * stats.norm.ppf([0.05, 0.95]) - 0.5 * SITE_SD**2)
    assert np.mean([p.site_low for p in found]) == pytest.approx(truth[0], rel=0.04)
    assert np.mean([p.site_high for p in found]) == pytest.approx(truth[1], rel=0.04)


def test_more_points_begin_with_the_fewer_ones() -> None:
    """A refined answer keeps the sites it has; blocks and seeds have points of their own."""
    few, many = sobol_points(5, 4, 1, 0), sobol_points(5, 16, 1, 0)
    assert np.array_equal(few, many[:4])
    assert not np.array_equal(few, sobol_points(5, 4, 1, 1))
    assert not np.array_equal(few, sobol_points(5, 4, 2, 0))
    assert np.all((many > 0) & (many < 1))
    assert sobol_points(0, 4, 1, 0).shape == (4, 0)


def test_without_anything_uncertain_there_is_no_site_uncertainty() -> None:
    """Equal sites on each day: the range closes on the mean, the day range stays."""
    days = np.random.default_rng(3).poisson(50, (8, 1, 8)).astype(float)
    found = take_apart(np.repeat(days, 4, axis=1))
    assert found.site_low == pytest.approx(found.mean, abs=1e-9)
    assert found.site_high == pytest.approx(found.mean, abs=1e-9)
    assert found.day_low < found.mean < found.day_high


def test_without_days_that_differ_there_is_no_day_range() -> None:
    """Sites that never vary from day to day: the day range closes, the site uncertainty stays."""
    sites = np.repeat(np.random.default_rng(4).normal(50, 5, (8, 4, 1)), 8, axis=2)
    found = take_apart(sites)
    assert (found.day_low, found.day_high) == (pytest.approx(found.mean), pytest.approx(found.mean))
    assert found.site_low < found.mean < found.site_high


def test_a_figure_that_some_runs_lack() -> None:
    """Runs without the figure are left out of the mean; none at all gives nothing."""
    values = np.full((8, 4, 8), 2.0)
    values[0, 0, 0] = np.nan
    assert take_apart(values).mean == pytest.approx(2.0)
    assert np.isnan(take_apart(np.full((8, 4, 8), np.nan)).mean)
