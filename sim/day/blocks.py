"""Drawn sites crossed with days, in linked blocks, and what can be told apart by that.

A block is one scrambling of Sobol points over the uncertain inputs, so drawn sites of different
blocks are independent. Every site lives through as many days, every day is lived through by as
many sites, and each pair of sites is tied to each other through days that they share, directly or
by way of others. From the crossing come three different things that are never mixed:

- the *day range*: what single days do at a given site;
- the *site uncertainty*: where the expected value may lie over what isn't known of the site;
- the *run error*: how far the mean of all runs may be off, from its sites and from its days.

How busy days are for what was expected of them, which moves most figures most, is spread evenly
over all days like the inputs over sites, so that the mean of so many days owes next to nothing to
it. What is left of the luck of days is told by days that are about as busy.

Which day a run has is an alpha design: a site has one day of each of `days` rounds, in round k
the sites of a block at point i have day b + i·k (mod blocks) (Patterson & Williams 1976,
Biometrika 63:83–92, from memory). What tells sites apart is then free of the luck of days: it is
the least-squares fit of a site's and a day's own effect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.special import erfcx, stdtrit

Floats = NDArray[np.float64]
Number = TypeVar("Number", bound=np.generic)

DAYS = 1_000_003
"""Number of the block of Sobol points that days are spread by: none of sites."""

MOST_POINTS = 16
"""Points of a block for whoever draws one site after the other and no more than he needs."""


@dataclass(frozen=True, slots=True)
class Shape:
    """How runs are spread: blocks, drawn sites a block (a power of two), days a site.

    The first answer has 256 runs: 128 sites of two days each, 32 days with eight sites each. Many
    sites make the site uncertainty as wide as it is; few days will do, as busy days are spread
    evenly, and that eight sites share each of them tells sites apart well.
    """

    blocks: int = 16
    points: int = 8
    days: int = 2

    @property
    def runs(self) -> int:
        """Runs in all."""
        return self.blocks * self.points * self.days

    @property
    def sites(self) -> int:
        """Drawn sites in all."""
        return self.blocks * self.points

    @property
    def different_days(self) -> int:
        """Days in all; each is lived through by `points` sites."""
        return self.blocks * self.days

    @property
    def refined(self) -> Shape:
        """Twice the runs, these among them: more days a site, then more sites, by turns."""
        if self.days > self.points:
            return replace(self, points=2 * self.points)
        return replace(self, days=2 * self.days)


def shapes_to(runs: int) -> list[Shape]:
    """The first shape and those refined from it, as far as so many runs allow."""
    found = [Shape()]
    while 2 * found[-1].runs <= runs:
        found.append(found[-1].refined)
    return found


def day_block(block: int, point: int, day: int, blocks: int) -> int:
    """Which of the `blocks` days of round `day` the site at a point of a block has."""
    return (block + point * day) % blocks


@lru_cache(maxsize=64)
def day_luck(blocks: int, days: int, seed: int) -> Floats:
    """Quantiles of how busy each day is for what was expected, shape (blocks, days), in (0, 1).

    Scrambled Sobol points of one dimension over all days, by rounds and shuffled within each, so
    that more days of a site begin with the fewer and each stage is spread evenly.
    """
    stream = Generator(PCG64(SeedSequence([seed, 9])))
    points = sobol_points(1, 2 ** math.ceil(math.log2(blocks * days)), seed, DAYS)[:, 0]
    rounds = points[: blocks * days].reshape(days, blocks)
    found = np.array([stream.permutation(row) for row in rounds]).T
    found.flags.writeable = False  # one array for all who ask
    return found


def by_day(values: NDArray[Number]) -> NDArray[Number]:
    """Runs of shape (blocks, points, days) put where their day is: [b, i, k] has day (b, k).

    The second axis then goes through the sites that lived through the day.
    """
    blocks, points, days = values.shape
    at, point, day = np.ogrid[:blocks, :points, :days]
    found: NDArray[Number] = values[(at - point * day) % blocks, point, day]
    return found


def at_runs(of_days: Floats, points: int) -> Floats:
    """What days have, shape (blocks, days), at each run; shape (blocks, points, days)."""
    blocks, days = of_days.shape
    block, point, day = np.ogrid[:blocks, :points, :days]
    return np.asarray(of_days[(block + point * day) % blocks, day])


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


def take_apart(values: Floats, *, is_share: bool = False, luck: Floats | None = None) -> Parts:
    """The parts of a figure from its runs; shape (blocks, points, days), NaN where it has none.

    Args:
        luck: `day_luck` of the days, where it was spread evenly over them; None: days are
            independent of each other.

    Where no run is below 0, or none of a share above 1, neither is an end of a range.

    Two-way random effects without repetition (site, day, rest), each site told from others on
    the same days. What the rest leaves in a site's effect is known from the crossing, so it is
    taken from the sites' variance, and each site is brought that much nearer to the mean, by its
    own reliability; nothing is stretched. Where they can't be told from the rest, they differ by
    what may be in it, not by nothing.
    """
    blocks, points, days = values.shape
    flat = values[~np.isnan(values)]
    if len(flat) == 0:
        nan = math.nan
        return Parts(nan, nan, nan, nan, nan, nan, nan, 0.0, 0.0, np.full(blocks * points, nan))
    filled = _filled(values)
    mean = float(filled.mean())
    fit = _site_fit(blocks, points, days)
    site = (fit.covariance @ _within_days(filled).ravel()).reshape(blocks, points)
    single = filled - site[:, :, None]
    day = by_day(single).mean(axis=1)  # (blocks, days)
    rest = single - at_runs(day, points)
    freedom = max(1, values.size - fit.rank - day.size)
    rest_var = float((rest**2).sum()) / freedom
    of_means = _variance_of_the_mean(site, rest_var * fit.left_in_blocks)
    left = rest_var * np.diag(fit.covariance)
    squares = (site**2).ravel()
    site_var = _expected_variance(
        float(squares.mean() - left.mean()) + of_means, float(squares.std()) / math.sqrt(site.size)
    )
    sites = site.ravel() * np.sqrt(_share(site_var, left)) + mean
    day_left = rest_var * fit.left_in_days
    day_var = max(0.0, _plain(day).variance - day_left)
    own = _own_luck(day, luck)
    of_each = max(0.0, own.variance - day_left) + rest_var / points
    low, high = _run_error(mean, site.mean(axis=1), of_means, own, of_each / day.size)
    single = _rescaled((single - mean).ravel(), day_var + rest_var) + mean
    # of 128 sites, ranks 1 + p(N − 1) would leave out 11 % instead of 10: Hazen's ½ + pN does not
    ends = [*np.percentile(sites, [5, 95], method="hazen"), *np.percentile(single, [5, 95])]
    # a count or a share stays what it is
    floor = 0.0 if flat.min() >= 0 else -math.inf
    ceiling = 1.0 if is_share and flat.max() <= 1 else math.inf
    site_low, site_high, day_low, day_high = (min(ceiling, max(floor, float(v))) for v in ends)
    return Parts(
        mean=mean, error_low=low, error_high=high, site_low=site_low, site_high=site_high,
        day_low=day_low, day_high=day_high, site_variance=site_var,
        day_variance=day_var + rest_var, sites=sites,
    )  # fmt: skip


def _filled(values: Floats) -> Floats:
    """Runs without the figure take the mean of their day, or of all runs where it has none."""
    missing = np.isnan(values)
    if not missing.any():
        return values
    seen = by_day(~missing).sum(axis=1)
    total = by_day(np.where(missing, 0.0, values)).sum(axis=1)
    mean = np.where(seen > 0, total / np.maximum(seen, 1), total.sum() / seen.sum())
    return np.where(missing, at_runs(mean, values.shape[1]), values)


# ---- sites on the same days ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _SiteFit:
    """What the least-squares fit of site effects needs and knows, the same for every figure.

    Attributes:
        covariance: of site effects about their mean, in units of the rest's variance: the
            generalised inverse of what the crossing tells of sites; shape (sites, sites).
        rank: how many contrasts of sites it tells.
        left_in_blocks, left_in_days: what the rest adds to the variance of block means and of
            days' effects, in the same units.
    """

    covariance: Floats
    rank: int
    left_in_blocks: float
    left_in_days: float


@lru_cache(maxsize=16)
def _site_fit(blocks: int, points: int, days: int) -> _SiteFit:
    sites = blocks * points
    each = np.eye(sites).reshape(sites, blocks, points, 1).repeat(days, axis=3)
    told = np.array([_within_days(one).ravel() for one in each])
    size, directions = np.linalg.eigh((told + told.T) / 2.0)
    is_told = size > 1e-9 * days
    kept = directions[:, is_told]
    covariance = (kept / size[is_told]) @ kept.T
    of_blocks = covariance.reshape(blocks, points, blocks, points).mean(axis=(1, 3))
    number = np.arange(sites).reshape(blocks, points, 1).repeat(days, axis=2)
    of_day = by_day(number).swapaxes(1, 2).reshape(-1, points)  # sites that have the day
    pairs = covariance[of_day[:, :, None], of_day[:, None, :]].mean(axis=(1, 2))
    count = len(of_day)
    left_in_days = (float(pairs.sum()) + (count - 1) / points) / max(1, count - 1)
    left_in_blocks = float(np.trace(of_blocks)) / max(1, blocks - 1)
    return _SiteFit(covariance, int(is_told.sum()), left_in_blocks, left_in_days)


def _within_days(values: Floats) -> Floats:
    """Sum over its days of how far a site is from the mean of its day; shape (blocks, points)."""
    day = by_day(values).mean(axis=1)
    return np.asarray((values - at_runs(day, values.shape[1])).sum(axis=2))


def _variance_of_the_mean(site: Floats, left: float) -> float:
    """Variance of the mean of all site effects, from independent blocks; `left`: see the fit.

    Sobol points of one block are spread, not independent, so it is below variance ÷ number.
    """
    blocks = len(site)
    if blocks < 2:
        return 0.0
    return max(0.0, float(site.mean(axis=1).var(ddof=1)) - left) / blocks


def _expected_variance(found: float, error: float) -> float:
    """Expectation of a variance that was found to an error: normal, none below zero.

    Zero for every estimate below it would say of sites that luck hides that they are all alike.
    The mean of the normal distribution cut off at zero, found + error·φ(r)/Φ(r) with
    r = found ÷ error, is the estimate itself where that is sure (Johnson, Kotz & Balakrishnan
    1994, Continuous Univariate Distributions, vol. 1, §13.10.1, from memory).
    """
    if error <= 0:
        return max(0.0, found)
    hazard = math.sqrt(2.0 / math.pi) / float(erfcx(-found / error / math.sqrt(2.0)))
    return max(0.0, found + error * hazard)


def _share(variance: float, left: Floats) -> Floats:
    """Reliability of site effects: their own variance, of that with what the rest leaves."""
    return variance / (variance + left) if variance > 0 else np.zeros_like(left)


# ---- the run error -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Luck:
    """How days differ by what their mean does not even out.

    Attributes:
        count: days.
        variance, third: second and third central moment of a day.
        freedom: degrees of freedom of the variance.
    """

    count: int
    variance: float
    third: float
    freedom: float


LEAST_IN_ORDER = 16
"""With fewer days neighbours by demand are not alike enough to tell luck by."""


def _plain(day: Floats) -> _Luck:
    """Independent days."""
    count = day.size
    if count < 3:
        variance = float(day.var(ddof=1)) if count > 1 else 0.0
        return _Luck(count, variance, 0.0, max(1.0, count - 1.0))
    third = float(((day - day.mean()) ** 3).sum()) * count / ((count - 1) * (count - 2))
    return _Luck(count, float(day.var(ddof=1)), third, count - 1.0)


def _own_luck(day: Floats, luck: Floats | None) -> _Luck:
    """Days that differ evenly by how busy they are for what was expected: luck beside that.

    Each day in order of that is held against the mean of its two neighbours, which takes out
    whatever changes smoothly from day to day (Gasser, Sroka & Jennen-Steinmetz 1986, Biometrika
    73:625–633, from memory). Of independent days' moments such a difference has 1 + 2/4 of the
    second and 1 − 2/8 of the third; neighbouring differences share days, correlations −2/3 and
    1/6, so n of them tell a variance as n ÷ (1 + 2·(4/9 + 1/36)) independent ones would. The
    quietest and the busiest day are held against their one neighbour: how far the tail beyond
    them reaches is part of their luck.
    """
    if luck is None or day.size < LEAST_IN_ORDER:
        return _plain(day)
    ordered = day.ravel()[np.argsort(luck.ravel())]
    apart = ordered[1:-1] - (ordered[:-2] + ordered[2:]) / 2.0
    ends = np.diff(ordered)[[0, -1]]
    variance = (float((apart**2).sum()) / 1.5 + float((ends**2).sum()) / 2.0) / day.size
    third = float((apart**3).mean()) / 0.75
    return _Luck(day.size, variance, third, len(apart) / (1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)))


def _run_error(
    mean: float, block: Floats, of_sites: float, luck: _Luck, of_days: float
) -> tuple[float, float]:
    """Interval, 95 %, of the mean of all runs: Student's t with skewness removed.

    The variance is the sum of what drawn sites and what days contribute, its degrees of freedom
    those of Satterthwaite (1946, Biometrics Bulletin 2:110–114, from memory).

    Where a few days have most of the wait or all of the losses, mean and spread rise together,
    and plain t intervals miss the truth above far more often than below. T is therefore carried
    through the cubic that removes its skewness (Hall 1992, J. R. Stat. Soc. B 54:221–228, from
    memory): g(T) = T + A·T²/3 + A²·T³/27 + A/6, with A the skewness of the mean, is held against
    Student's quantiles.

    Args:
        block: mean effect of each block's sites.
        of_sites: variance that they contribute, without what the rest adds, which `of_days` has
            already; its degrees of freedom are those of the variance with it.
        luck: of the mean of each day over the sites that it has, their own effects taken off.
        of_days: variance that days and the rest contribute.
    """
    blocks = len(block)
    if blocks < 2:
        return math.nan, math.nan
    of_blocks = float(block.var(ddof=1)) / blocks
    variance = of_sites + of_days
    if variance <= 0:
        return mean, mean
    freedom = variance**2 / (of_blocks**2 / (blocks - 1) + of_days**2 / luck.freedom)
    error, student = math.sqrt(variance), float(stdtrit(freedom, 0.975))
    skew = float(np.clip(luck.third / luck.count**2 / error**3, -MOST_SKEWED, MOST_SKEWED))
    return mean - error * _unskewed(student, skew), mean - error * _unskewed(-student, skew)


MOST_SKEWED = 0.3
"""Beyond some 0.4 the lower end of the interval runs away: ∛ is taken near zero."""


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
