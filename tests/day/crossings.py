"""Crossings of drawn sites and days whose expected values are known, as answers of pages use them.

Each is a model of a day in a line or two, fed by the sampler of the product: scrambled Sobol
points over half as many uncertain inputs as a site may have, crossed with days as the product
crosses them, how busy these are spread evenly as it spreads that.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gammaincc, gammaincinv, ndtri
from scipy.stats import nbinom

from sim.day.blocks import Shape, at_runs, day_luck, shapes_to, sobol_points
from tests.seeds import generator, seed

Floats = NDArray[np.float64]
Experiment = Callable[[int], Floats]
"""The runs of an experiment by its number, of the `REFINED` shape."""

FIRST, REFINED = Shape(), shapes_to(1_024)[-1]
BLOCKS, MOST_POINTS, DAYS = REFINED.blocks, REFINED.points, REFINED.days
"""What first answers and refined ones are made of."""

INPUTS = 21
WEIGHTS = {0: 0.8, 7: 0.5, 20: 0.332}
"""Normal scores of three of the inputs make the site's own: squares add up to 1."""


@lru_cache(maxsize=1_024)
def site_scores(experiment: int) -> Floats:
    """Standard normal score of each drawn site; shape (blocks, most points, 1)."""
    points = np.stack(
        [sobol_points(INPUTS, MOST_POINTS, seed("coverage", experiment), b) for b in range(BLOCKS)]
    )
    z = ndtri(points[:, :, list(WEIGHTS)]) @ np.array(list(WEIGHTS.values()))
    return np.asarray(z[:, :, None] / math.hypot(*WEIGHTS.values()))


def day_stream(name: str, experiment: int) -> np.random.Generator:
    """What happens on the days of an experiment; every drawn site meets the same."""
    return generator(f"{name} {experiment}")


def busy(name: str, experiment: int) -> Floats:
    """Quantiles of how busy the days of an experiment are; shape (blocks, days)."""
    return day_luck(BLOCKS, DAYS, seed(name, experiment))


def busy_factors(name: str, experiment: int, shape: float) -> Floats:
    """How busy they are, gamma with mean 1, at each run."""
    return at_runs(gammaincinv(shape, busy(name, experiment)) / shape, MOST_POINTS)


# ---- a wait --------------------------------------------------------------------------------------

MEDIAN_S, BY_SITE, BY_DAY, BY_RUN = 140.0, 0.3, 0.3, 0.15
"""M/M/1 waits S·ρ/(1 − ρ) with a load whose logit is normal: the wait is lognormal.

Its logarithm has these standard deviations over sites, over days and over runs.
"""
RELIEF, RELIEF_BY_SITE = 0.3, 0.05
"""How far another scenario lowers the logit of the load, and how that differs between sites."""


def _loads(name: str, experiment: int) -> tuple[Floats, Floats]:
    """Site scores, and what days and runs add to the logit of the load."""
    z, rng = site_scores(experiment), day_stream(name, experiment)
    days = at_runs(BY_DAY * ndtri(busy(name, experiment)), MOST_POINTS)
    return z, days + BY_RUN * rng.standard_normal((BLOCKS, MOST_POINTS, DAYS))


def waits(experiment: int) -> Floats:
    """Mean waits [s]."""
    z, rest = _loads("wait", experiment)
    return np.asarray(MEDIAN_S * np.exp(BY_SITE * z + rest))


def _mean_wait(median: float, by_site: float) -> float:
    return median * math.exp((by_site**2 + BY_DAY**2 + BY_RUN**2) / 2.0)


MEAN_WAIT_S = _mean_wait(MEDIAN_S, BY_SITE)


def waits_saved(experiment: int) -> Floats:
    """Differences of mean waits of two scenarios, paired in site, day and run [s]."""
    z, rest = _loads("saved", experiment)
    first = MEDIAN_S * np.exp(BY_SITE * z + rest)
    other = MEDIAN_S * np.exp((BY_SITE - RELIEF_BY_SITE) * z + rest - RELIEF)
    return np.asarray(other - first)


MEAN_SAVED_S = _mean_wait(MEDIAN_S * math.exp(-RELIEF), BY_SITE - RELIEF_BY_SITE) - MEAN_WAIT_S

CARS = 91
"""So many exponential waits that the 90th percentile, rank 1 + 0.9·90, is the 82nd in order."""


def wait_p90s(experiment: int) -> Floats:
    """The 90th percentile of a day's waits, which are exponential with the day's mean [s]."""
    rng = day_stream("p90", experiment)
    cars = np.percentile(rng.standard_exponential((BLOCKS, DAYS, CARS)), 90, axis=2)
    return np.asarray(waits(experiment) * at_runs(cars, MOST_POINTS))


MEAN_P90_S = MEAN_WAIT_S * sum(1.0 / (CARS - j) for j in range(82))
"""Order statistics of exponentials: the k-th of n is Σ 1/(n − j), j < k, in the mean."""

# ---- a lost share --------------------------------------------------------------------------------

DAY_SHAPE = 100.0
"""The day's demand is gamma with mean 1 and this shape: a coefficient of variation of 10 %."""
CAPACITY_BY_SITE = 0.05
LOSING_DAYS = 0.2

_nodes, _weights = np.polynomial.hermite_e.hermegauss(80)
_weights = _weights / _weights.sum()
_capacities = np.exp(CAPACITY_BY_SITE * _nodes)
CAPACITY = float(
    brentq(
        lambda c: float(_weights @ gammaincc(DAY_SHAPE, DAY_SHAPE * c * _capacities)) - LOSING_DAYS,
        0.8,
        1.5,
    )
)
"""Cars are lost on a fifth of the days, over sites and days."""


def lost_shares(experiment: int) -> Floats:
    """What of a day's demand is above what the line can take, as a share of it; mostly none."""
    demand = busy_factors("lost", experiment, DAY_SHAPE)
    capacity = CAPACITY * np.exp(CAPACITY_BY_SITE * site_scores(experiment))
    return np.asarray(np.maximum(0.0, 1.0 - capacity / demand))


def _mean_lost(capacity: Floats) -> Floats:
    """E[(1 − c/G)⁺] of a gamma G: upper incomplete gamma functions of shapes k and k − 1."""
    k = DAY_SHAPE
    above = gammaincc(k, k * capacity) - capacity * k / (k - 1.0) * gammaincc(k - 1.0, k * capacity)
    return np.asarray(above)


MEAN_LOST = float(_weights @ _mean_lost(CAPACITY * _capacities))


# ---- counts --------------------------------------------------------------------------------------

MEAN_COUNT, COUNT_BY_SITE, COUNT_BY_DAY = 100.0, 0.2, 0.1
"""Cars of a day: Poisson given a lognormal site mean and a gamma day factor.

Mean of all, log standard deviation over sites, coefficient of variation over days.
"""
SITE_VARIANCE = MEAN_COUNT**2 * math.expm1(COUNT_BY_SITE**2)
DAY_VARIANCE = MEAN_COUNT + MEAN_COUNT**2 * math.exp(COUNT_BY_SITE**2) * COUNT_BY_DAY**2
"""Of a site's expected count over sites; of a day's count at a site, in the mean over sites."""


def site_means(z: Floats) -> Floats:
    """Expected count of a site with a standard normal score."""
    return np.asarray(MEAN_COUNT * np.exp(COUNT_BY_SITE * z - COUNT_BY_SITE**2 / 2.0))


def counts(experiment: int) -> Floats:
    """Cars of a day."""
    rng = day_stream("counts", experiment)
    factor = busy_factors("counts", experiment, 1.0 / COUNT_BY_DAY**2)
    return rng.poisson(site_means(site_scores(experiment)) * factor).astype(float)


def day_at_most(apart: float) -> float:
    """Chance that a day's count is at most so far above its site's expected count.

    At a site it is negative binomial; sites by Gauss–Hermite quadrature.
    """
    shape = 1.0 / COUNT_BY_DAY**2
    means = site_means(_nodes)
    return float(_weights @ nbinom.cdf(np.floor(means + apart), shape, shape / (shape + means)))


# ---- cars washed at a known line -----------------------------------------------------------------

WASHED, WASHED_BY_SITE, WASHED_BY_DAY = 1_250.0, 1.0, 0.12
"""Cars of a day whose guesses are of the cloth alone: days differ by a gamma factor, sites by the
few cars that re-washes take room from, runs by as much again."""


def washed(experiment: int) -> Floats:
    """Cars washed on a day."""
    rng = day_stream("washed", experiment)
    days = WASHED * busy_factors("washed", experiment, 1.0 / WASHED_BY_DAY**2)
    rest = rng.standard_normal((BLOCKS, MOST_POINTS, DAYS))
    return np.asarray(days + WASHED_BY_SITE * (site_scores(experiment) + rest))


# ---- sites that luck hides -----------------------------------------------------------------------

OVERTIME, OVERTIME_BY_SITE, OVERTIME_BY_DAY, OVERTIME_BY_RUN = 12.0, 1.0, 0.5, 4.0
"""Minutes of a day that hang on its last few cars: luck of every single run is four times what
sites differ by, and 128 sites on two days each hardly tell them apart."""


def overtimes(experiment: int) -> Floats:
    """Overtime of a day [min]."""
    rng = day_stream("overtime", experiment)
    days = at_runs(OVERTIME_BY_DAY * ndtri(busy("overtime", experiment)), MOST_POINTS)
    rest = OVERTIME_BY_RUN * rng.standard_normal((BLOCKS, MOST_POINTS, DAYS))
    return np.asarray(OVERTIME + OVERTIME_BY_SITE * site_scores(experiment) + days + rest)


# ---- what is known of them -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Known:
    """A figure whose expected value is known.

    Attributes:
        figure: name in the table of figures.
        days: name of its days' stream.
        of_site: expected value of a site, by its standard normal score.
    """

    figure: str
    days: str
    runs: Experiment
    truth: float
    of_site: Callable[[Floats], Floats]

    def luck(self, experiment: int, shape: Shape) -> Floats:
        """How busy the days of an answer are."""
        return busy(self.days, experiment)[:, : shape.days]


def _waits_of(z: Floats) -> Floats:
    return np.asarray(_mean_wait(MEDIAN_S, 0.0) * np.exp(BY_SITE * z))


def _saved_of(z: Floats) -> Floats:
    eased = (BY_SITE - RELIEF_BY_SITE) * z - RELIEF
    return np.asarray(_mean_wait(MEDIAN_S, 0.0) * np.exp(eased) - _waits_of(z))


KNOWN = {
    "count": Known("cars_arrived", "counts", counts, MEAN_COUNT, site_means),
    "mean wait": Known("wait_p50_s", "wait", waits, MEAN_WAIT_S, _waits_of),
    "paired difference": Known("wait_p50_s", "saved", waits_saved, MEAN_SAVED_S, _saved_of),
    "p90": Known(
        "wait_p90_s", "wait", wait_p90s, MEAN_P90_S,
        lambda z: MEAN_P90_S / MEAN_WAIT_S * _waits_of(z),
    ),
    "lost share": Known(
        "cars_lost", "lost", lost_shares, MEAN_LOST,
        lambda z: _mean_lost(CAPACITY * np.exp(CAPACITY_BY_SITE * z)),
    ),
    "line known": Known(
        "cars_washed", "washed", washed, WASHED, lambda z: WASHED + WASHED_BY_SITE * z
    ),
}  # fmt: skip
HIDDEN = Known(
    "overtime_minutes", "overtime", overtimes, OVERTIME, lambda z: OVERTIME + OVERTIME_BY_SITE * z
)
"""Apart from the others: with so much luck of single runs the run error is too wide, as
`sim.day.blocks` says where it is made: it held the truth in 99.5 % of 1,000 refined answers."""
