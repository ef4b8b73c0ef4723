"""Parameter draws crossed with days, in independent blocks, and what can be told apart by that.

A block is one scrambling of Sobol points over the uncertain inputs crossed with days of its own:
every drawn site lives through the same days. From the crossing come three different things that
are never mixed:

- the *day range*: what single days do at a given site;
- the *site uncertainty*: where the expected value may lie over what isn't known of the site;
- the *run error*: how far the mean of all runs may be off, from the independent blocks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray
from scipy.special import stdtrit

Floats = NDArray[np.float64]

BLOCKS = 8
DAYS = 8
FIRST_POINTS, MOST_POINTS = 4, 16
"""Parameter draws a block: 8 × 4 × 8 = 256 runs at first, 8 × 16 × 8 = 1,024 when refined."""


@dataclass(frozen=True, slots=True)
class Shape:
    """How many blocks, parameter draws a block (a power of two), and days a block."""

    blocks: int = BLOCKS
    points: int = FIRST_POINTS
    days: int = DAYS

    @property
    def runs(self) -> int:
        """Runs in all."""
        return self.blocks * self.points * self.days


def sobol_points(dimensions: int, points: int, seed: int, block: int) -> Floats:
    """Scrambled Sobol points of a block; shape (points, dimensions), inside (0, 1).

    More points of the same block begin with those of fewer, so that an answer is refined in
    place.
    """
    if dimensions == 0:
        return np.empty((points, 0))
    from scipy.stats import qmc

    stream = Generator(PCG64(SeedSequence([seed, 7, block])))
    engine = qmc.Sobol(dimensions, scramble=True, rng=stream)
    found = engine.random(points)
    return np.asarray(np.clip(found, 1e-12, 1.0 - 1e-12))


@dataclass(frozen=True, slots=True)
class Parts:
    """A figure of many runs taken apart.

    Attributes:
        mean: expected value over sites and days.
        error_low, error_high: run error, 95 %, not always centred on the mean; NaN with fewer
            than two blocks.
        site_low, site_high: site uncertainty, 90 %; equal to the mean where nothing is uncertain.
        day_low, day_high: day range, 5th to 95th percentile of single days, ranks 1 + p(N − 1).
        site_variance, day_variance: variance of the expected value over sites; of days at a site.
        sites: expected value of each drawn site, shrunk by what days have left in it; shape
            (blocks · points,).
    """

    mean: float
    error_low: float
    error_high: float
    site_low: float
    site_high: float
    day_low: float
    day_high: float
    site_variance: float
    day_variance: float
    sites: Floats


def take_apart(values: Floats, *, is_share: bool = False) -> Parts:
    """The parts of a figure from its runs; shape (blocks, points, days), NaN where it has none.

    Where no run is below 0, or none of a share above 1, neither is an end of a range.

    Two-way random effects without repetition in each block (site, day, rest). Sobol points of
    one block are spread, not independent: the variance of their mean is taken from the blocks
    and added to the spread about it, so that the sites' variance is neither over- nor
    understated.
    """
    blocks, points, days = values.shape
    flat = values[~np.isnan(values)]
    if len(flat) == 0:
        nan = math.nan
        return Parts(nan, nan, nan, nan, nan, nan, nan, 0.0, 0.0, np.full(blocks * points, nan))
    filled = _filled(values)
    site = filled.mean(axis=2)  # (blocks, points)
    day = filled.mean(axis=1)  # (blocks, days)
    block = filled.mean(axis=(1, 2))  # (blocks,)
    mean = float(block.mean())
    rest = filled - site[:, :, None] - day[:, None, :] + block[:, None, None]
    freedom = max(1, (points - 1) * (days - 1))
    rest_var = float((rest**2).sum(axis=(1, 2)).mean() / freedom) if points > 1 else 0.0
    day_ms = float(points * ((day - block[:, None]) ** 2).sum(axis=1).mean() / max(1, days - 1))
    day_var = max(0.0, (day_ms - rest_var) / points)
    low, high = _run_error(block, day)
    spread = float(((site - block[:, None]) ** 2).mean()) - (points - 1) / points * rest_var / days
    between = float(block.var(ddof=1)) if blocks > 1 else 0.0
    of_means = max(0.0, between - day_var / days - rest_var / (points * days))
    site_var = max(0.0, spread + of_means)
    sites = _rescaled((site - block[:, None]).ravel(), site_var) + mean
    single = _rescaled((filled - site[:, :, None]).ravel(), day_var + rest_var) + mean
    # of 32 sites, ranks 1 + p(N − 1) would leave out 15 % instead of 10: Hazen's ½ + pN does not
    site_low, site_high = np.percentile(sites, [5, 95], method="hazen")
    day_low, day_high = np.percentile(single, [5, 95])
    # a count or a share stays what it is
    floor = 0.0 if flat.min() >= 0 else -math.inf
    ceiling = 1.0 if is_share and flat.max() <= 1 else math.inf
    return Parts(
        mean, low, high, max(floor, float(site_low)), min(ceiling, float(site_high)),
        max(floor, float(day_low)), min(ceiling, float(day_high)), site_var, day_var + rest_var,
        sites,
    )  # fmt: skip


def _filled(values: Floats) -> Floats:
    """Runs without the figure take the mean of their block, so that they tell nothing apart."""
    if not np.isnan(values).any():
        return values
    found = values.copy()
    overall = float(np.nanmean(values))
    for one in found:
        mean = float(np.nanmean(one)) if not np.isnan(one).all() else overall
        one[np.isnan(one)] = mean
    return found


def _run_error(block: Floats, day: Floats) -> tuple[float, float]:
    """Interval, 95 %, of the mean of independent blocks: Student's t with skewness removed.

    Where a few days have most of the wait or all of the losses, mean and spread rise together,
    and plain t intervals miss the truth above far more often than below. T is therefore carried
    through the cubic that removes its skewness (Hall 1992, J. R. Stat. Soc. B 54:221–228, from
    memory): g(T) = T + A·T²/3 + A²·T³/27 + A/6, with A the skewness of the mean, is held against
    Student's quantiles.

    Args:
        block: mean of each block, shape (blocks,).
        day: mean of each day over the drawn sites, shape (blocks, days).
    """
    blocks = len(block)
    mean = float(block.mean())
    if blocks < 2:
        return math.nan, math.nan
    error = float(block.std(ddof=1)) / math.sqrt(blocks)
    student = float(stdtrit(blocks - 1, 0.975))
    skew = _skewness_of_the_mean(day, error)
    return mean - error * _unskewed(student, skew), mean - error * _unskewed(-student, skew)


MOST_SKEWED = 0.3
"""Beyond some 0.4 the lower end of the interval runs away: ∛ is taken near zero."""


def _skewness_of_the_mean(day: Floats, error: float) -> float:
    """From days within blocks, which tell more of it than the few block means.

    The scale is the larger of the error from blocks and that from days, lest few blocks that
    happen to agree make the skewness large.
    """
    count = day.shape[1]
    if count < 3:
        return 0.0
    apart = day - day.mean(axis=1, keepdims=True)
    third = (apart**3).sum(axis=1).mean() * count / ((count - 1) * (count - 2)) / day.size**2
    by_days = math.sqrt((apart**2).sum(axis=1).mean() / (count - 1) / day.size)
    scale = max(error, by_days) ** 3
    return float(np.clip(third / scale, -MOST_SKEWED, MOST_SKEWED)) if scale > 0 else 0.0


def _unskewed(student: float, skew: float) -> float:
    """T at which Hall's cubic g has the value `student`."""
    if abs(skew) < 1e-6:
        return student
    return float(3.0 * (np.cbrt(1.0 + skew * (student - skew / 6.0)) - 1.0) / skew)


def _rescaled(effects: Floats, variance: float) -> Floats:
    """Effects about zero with their shape kept and the variance set."""
    mean_square = float((effects**2).mean())
    if mean_square <= 0 or variance <= 0:
        return np.zeros_like(effects)
    return np.asarray(effects * math.sqrt(variance / mean_square))
