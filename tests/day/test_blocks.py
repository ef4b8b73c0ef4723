"""Runs in blocks taken apart: variance components, site uncertainty and day range."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import combinations, pairwise

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from sim.day.blocks import Parts, Shape, at_runs, day_block, shapes_to, sobol_points, take_apart
from tests.day.crossings import (
    DAY_VARIANCE,
    FIRST,
    MEAN_COUNT,
    REFINED,
    SITE_VARIANCE,
    counts,
    day_at_most,
    site_means,
    site_scores,
)
from tests.seeds import generator
from tests.sizes import Size

Note = Callable[[str, float, str], None]


BOTH = pytest.mark.parametrize("shape", [FIRST, REFINED], ids=["first", "refined"])


def experiments(count: int, shape: Shape) -> list[Parts]:
    """Answers about counts whose parts are known."""
    runs = (counts(number)[:, : shape.points, : shape.days] for number in range(count))
    return [take_apart(values) for values in runs]


def mean(found: list[Parts], name: str) -> float:
    """Mean of an attribute."""
    return float(np.mean([getattr(parts, name) for parts in found]))


@pytest.mark.soak
@BOTH
def test_parts_are_told_apart(shape: Shape, size: Size, record_figure: Note) -> None:
    """Site and day variance of a case with a closed form come out within 5 % in the mean."""
    found = experiments(size(small=300, full=1_000), shape)
    site = mean(found, "site_variance") / SITE_VARIANCE
    day = mean(found, "day_variance") / DAY_VARIANCE
    record_figure(f"{shape.runs} runs: site variance ÷ truth", site, "")
    record_figure("day variance ÷ truth", day, "")
    assert site == pytest.approx(1.0, abs=0.05)
    assert day == pytest.approx(1.0, abs=0.05)


@pytest.mark.soak
@BOTH
def test_the_ranges_are_those_of_sites_and_of_days(
    shape: Shape, size: Size, record_figure: Note
) -> None:
    """Site uncertainty: 5th and 95th percentile of the sites' expected counts. Day range: those
    of a day's count about its site's, at the mean. Each end within 2 % of the truth, each width
    within 6 %, in the mean over experiments."""
    found = experiments(size(small=300, full=1_000), shape)
    site = site_means(norm.ppf([0.05, 0.95]))
    day = [
        MEAN_COUNT + float(brentq(lambda apart, p=p: day_at_most(apart) - p, -90.0, 200.0))
        for p in (0.05, 0.95)
    ]
    for what, (low, high) in (("site", site), ("day", day)):
        found_low, found_high = mean(found, f"{what}_low"), mean(found, f"{what}_high")
        width = (found_high - found_low) / (high - low)
        record_figure(f"{shape.runs} runs: {what} range, low end ÷ truth", found_low / low, "")
        record_figure("high end ÷ truth", found_high / high, "")
        record_figure("width ÷ truth", width, "")
        assert found_low == pytest.approx(low, rel=0.02)
        assert found_high == pytest.approx(high, rel=0.02)
        assert width == pytest.approx(1.0, abs=0.06)


@pytest.mark.parametrize("shape", [*shapes_to(8_192), Shape(8, 2, 4), Shape(12, 16, 2)])
def test_every_site_is_tied_to_every_other_through_days(shape: Shape) -> None:
    """Each day is lived through by as many different sites, two sites share one day at most, and
    from any site a chain of shared days leads to all others."""
    sites: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for block in range(shape.blocks):
        for point in range(shape.points):
            for day in range(shape.days):
                at = (day_block(block, point, day, shape.blocks), day)
                sites.setdefault(at, set()).add((block, point))
    assert len(sites) == shape.different_days
    assert {len(of_day) for of_day in sites.values()} == {shape.points}
    if shape.points <= shape.blocks and shape.days <= shape.blocks:
        pairs = [pair for of_day in sites.values() for pair in combinations(sorted(of_day), 2)]
        assert max(Counter(pairs).values()) <= max(1, shape.points * shape.days // shape.blocks)
    reached, found = set[tuple[int, int]](), {(0, 0)}
    while found - reached:
        reached |= found
        found = set().union(*(of_day for of_day in sites.values() if of_day & reached))
    assert len(reached) == shape.sites


def test_a_refined_shape_has_the_runs_of_the_coarser() -> None:
    """A run's site and day follow from its place alone, so that more runs keep the fewer."""
    for few, more in pairwise(shapes_to(8_192)):
        assert more.runs == 2 * few.runs
        assert (more.blocks, more.points >= few.points, more.days >= few.days) == (16, True, True)
    assert [shape.different_days for shape in shapes_to(1_024)] == [32, 64, 128]
    assert [shape.sites for shape in shapes_to(1_024)] == [128, 128, 128]


@BOTH
def test_the_luck_of_days_is_no_part_of_a_site(shape: Shape) -> None:
    """Days that differ widely, at sites that are all the same: no site uncertainty at all."""
    rng = generator(f"luck {shape.runs}")
    days = rng.gamma(70.0, 1_250.0 / 70.0, (shape.blocks, shape.days))
    found = take_apart(at_runs(days, shape.points))
    assert found.site_high - found.site_low < 1e-6
    assert found.site_variance < 1e-6
    assert found.day_high - found.day_low > 300.0


def test_sites_keep_the_shape_that_they_have() -> None:
    """Effects that are never below zero, most of them zero, get no end below it."""
    z = site_scores(0)[:, : FIRST.points]
    effects = np.maximum(0.0, z - 0.5)
    rng = generator("skewed")
    days = at_runs(rng.normal(0.0, 3.0, (FIRST.blocks, FIRST.days)), FIRST.points)
    found = take_apart(effects + days)
    low, high = found.site_low - found.sites.min(), found.site_high - found.sites.min()
    assert low == pytest.approx(0.0, abs=1e-9)
    assert high == pytest.approx(np.percentile(effects, 95, method="hazen"), abs=1e-9)


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
    days = np.random.default_rng(3).poisson(50, (16, 4)).astype(float)
    found = take_apart(at_runs(days, 4))
    assert found.site_low == pytest.approx(found.mean, abs=1e-9)
    assert found.site_high == pytest.approx(found.mean, abs=1e-9)
    assert found.day_low < found.mean < found.day_high


def test_without_days_that_differ_there_is_no_day_range() -> None:
    """Sites that never vary from day to day: the day range closes, the site uncertainty stays."""
    sites = np.repeat(np.random.default_rng(4).normal(50, 5, (8, 4, 1)), 8, axis=2)
    found = take_apart(sites)
    assert (found.day_low, found.day_high) == (pytest.approx(found.mean), pytest.approx(found.mean))
    assert found.site_low < found.mean < found.site_high


def test_luck_of_runs_is_no_luck_of_days() -> None:
    """Where neither sites nor days differ, what the rest leaves in days is taken from their
    variance: the run error is that of independent runs and three tenths more at most."""
    rng, shape = generator("rest alone"), (16, 8, 8)
    widths = []
    for _ in range(60):
        parts = take_apart(rng.normal(10.0, 1.0, shape))
        widths.append((parts.error_high - parts.error_low) / 2.0)
    usual = 1.96 / np.prod(shape) ** 0.5
    assert usual < np.mean(widths) < 1.3 * usual


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
