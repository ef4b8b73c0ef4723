"""Runs in blocks taken apart: variance components, site uncertainty and day range."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from sim.day.blocks import FIRST_POINTS, MOST_POINTS, Parts, sobol_points, take_apart
from tests.day.crossings import (
    DAY_VARIANCE,
    MEAN_COUNT,
    SITE_VARIANCE,
    counts,
    day_at_most,
    site_means,
)
from tests.seeds import generator
from tests.sizes import Size

Note = Callable[[str, float, str], None]


def experiments(count: int, points: int) -> list[Parts]:
    """Answers about counts whose parts are known, at so many points a block."""
    return [take_apart(counts(number)[:, :points]) for number in range(count)]


def mean(found: list[Parts], name: str) -> float:
    """Mean of an attribute."""
    return float(np.mean([getattr(parts, name) for parts in found]))


@pytest.mark.soak
@pytest.mark.parametrize("points", [FIRST_POINTS, MOST_POINTS])
def test_parts_are_told_apart(points: int, size: Size, record_figure: Note) -> None:
    """Site and day variance of a case with a closed form come out within 5 % in the mean."""
    found = experiments(size(small=300, full=1_000), points)
    site = mean(found, "site_variance") / SITE_VARIANCE
    day = mean(found, "day_variance") / DAY_VARIANCE
    record_figure(f"{points} points: site variance ÷ truth", site, "")
    record_figure("day variance ÷ truth", day, "")
    assert site == pytest.approx(1.0, abs=0.05)
    assert day == pytest.approx(1.0, abs=0.05)


@pytest.mark.soak
@pytest.mark.parametrize("points", [FIRST_POINTS, MOST_POINTS])
def test_the_ranges_are_those_of_sites_and_of_days(
    points: int, size: Size, record_figure: Note
) -> None:
    """Site uncertainty: 5th and 95th percentile of the sites' expected counts. Day range: those
    of a day's count about its site's, at the mean. Each end within 2 % of the truth, each width
    within 6 %, in the mean over experiments."""
    found = experiments(size(small=300, full=1_000), points)
    site = site_means(norm.ppf([0.05, 0.95]))
    day = [
        MEAN_COUNT + float(brentq(lambda apart, p=p: day_at_most(apart) - p, -90.0, 200.0))
        for p in (0.05, 0.95)
    ]
    for what, (low, high) in (("site", site), ("day", day)):
        found_low, found_high = mean(found, f"{what}_low"), mean(found, f"{what}_high")
        width = (found_high - found_low) / (high - low)
        record_figure(f"{points} points: {what} range, low end ÷ truth", found_low / low, "")
        record_figure("high end ÷ truth", found_high / high, "")
        record_figure("width ÷ truth", width, "")
        assert found_low == pytest.approx(low, rel=0.02)
        assert found_high == pytest.approx(high, rel=0.02)
        assert width == pytest.approx(1.0, abs=0.06)


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


def test_no_range_of_a_share_goes_beyond_the_whole() -> None:
    """Ranges of a share that is never above 1 end at 1, those of a count go on."""
    rng = generator("share")
    high = 1.0 - 0.2 * rng.random((8, 4, 8)) ** 4
    share, count = take_apart(high, is_share=True), take_apart(high)
    assert max(share.day_high, share.site_high) <= 1.0
    assert share.mean == count.mean
    spread = np.where(rng.random((8, 4, 1)) < 0.5, 1.0, 0.5) * np.ones((8, 4, 8))
    assert take_apart(spread).site_high > 1.0
    assert take_apart(spread, is_share=True).site_high == 1.0
