"""Life by maximum likelihood alone: shown beside the posterior, never what the decision rests on.

Shape and scale by `scipy.stats` with censoring; intervals by the likelihood ratio: every value
whose profile log-likelihood lies within χ²₁/2 of the greatest (Meeker & Escobar, Statistical
Methods for Reliability Data, from memory). That is exact for many failures only; with fewer than
`ENOUGH_FAILURES` the page calls it approximate.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, fmin
from scipy.special import chdtri

from sim.learn.cloth_life import Life, check_ages, log_likelihood

Floats = NDArray[np.float64]
ENOUGH_FAILURES = 20
"""From so many failures on the likelihood-ratio interval is no longer called approximate."""
FEWEST_FAILURES = 2
"""With fewer the likelihood may rise without end: no fit."""
FARTHEST_LOG = 12.0
"""How far from the best an end of an interval is looked for, in logarithms."""

Ends = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LifeFit:
    """Maximum likelihood.

    Attributes:
        beta, eta: shape [–] and scale [full-wipe equivalents].
        beta_range, eta_range: 95 % likelihood-ratio intervals; an end may be infinite.
        log_likelihood: at the best, over the ages as they are.
        failures, censored: sets of each kind.
    """

    beta: float
    eta: float
    beta_range: Ends
    eta_range: Ends
    log_likelihood: float
    failures: int
    censored: int

    @property
    def is_approximate(self) -> bool:
        """Whether too few failures are in for the intervals to be more than approximate."""
        return self.failures < ENOUGH_FAILURES

    @property
    def mean_life(self) -> float:
        """Mean life [full-wipe equivalents]."""
        return self.eta * math.gamma(1.0 + 1.0 / self.beta)


def fit_life(lives: Sequence[Life], level: float = 0.95) -> LifeFit | None:
    """The fit; None with fewer than two failures, or where all failures came at one age.

    Raises:
        InputError: an age that is negative or not a number.
    """
    check_ages(lives)
    told = [life for life in lives if life.wear_cars > 0.0]
    failed = [life.wear_cars for life in told if life.failed]
    censored = [life.wear_cars for life in told if not life.failed]
    latest = max((life.wear_cars for life in told), default=0.0)
    if len(failed) < FEWEST_FAILURES or min(failed) == latest:
        return None
    # ages as shares of the latest, so that the search does not depend on the unit
    from scipy.stats import CensoredData, weibull_min

    data = CensoredData(uncensored=np.array(failed) / latest, right=np.array(censored) / latest)
    beta, _, scale = weibull_min.fit(data, floc=0, optimizer=_fine)
    best = math.log(beta), math.log(scale * latest)
    top = _at(told, *best)
    fall = 0.5 * float(chdtri(1, 1.0 - level))
    profile_beta = _profile(told, top - fall, lambda value: _best_eta(told, failed, value))
    profile_eta = _profile_of_eta(told, top - fall, best[0])
    return LifeFit(
        float(beta),
        float(scale * latest),
        _ends(profile_beta, best[0]),
        _ends(profile_eta, best[1]),
        top,
        len(failed),
        len(censored),
    )


def _fine(
    function: Callable[..., float], start: Floats, args: tuple[object, ...], disp: int
) -> Floats:
    """SciPy's own search, to more digits than it asks for by itself."""
    found = fmin(function, start, args, xtol=1e-11, ftol=1e-13, maxfun=8000, disp=disp)
    return np.asarray(found)


def _at(lives: Sequence[Life], log_beta: float, log_eta: float) -> float:
    return float(log_likelihood(lives, np.array(log_beta), np.array(log_eta)))


def _best_eta(lives: Sequence[Life], failed: Sequence[float], log_beta: float) -> float:
    """ln η of greatest likelihood at a β: η^β = Σ t^β / failures."""
    beta = math.exp(log_beta)
    logs = np.array([beta * math.log(life.wear_cars) for life in lives])
    high = float(logs.max())
    return (high + math.log(float(np.sum(np.exp(logs - high)))) - math.log(len(failed))) / beta


def _profile(
    lives: Sequence[Life], level: float, other: Callable[[float], float]
) -> Callable[[float], float]:
    return lambda log_beta: _at(lives, log_beta, other(log_beta)) - level


def _profile_of_eta(
    lives: Sequence[Life], level: float, log_beta: float
) -> Callable[[float], float]:
    """Greatest log-likelihood at an η over β, less a level; β on a fine grid, then by parabola."""
    grid = np.linspace(log_beta - 3.0, log_beta + 3.0, 601)

    def height(log_eta: float) -> float:
        found = log_likelihood(lives, grid, np.full(grid.shape, log_eta))
        at = min(max(int(np.argmax(found)), 1), len(grid) - 2)
        before, top, after = found[at - 1 : at + 2].tolist()
        bend = before - 2.0 * top + after
        rise = 0.0 if bend >= 0.0 else -0.125 * (after - before) ** 2 / bend
        return float(top + rise - level)

    return height


def _ends(height: Callable[[float], float], best: float) -> Ends:
    """Where a profile falls below zero on either side of the best, as values, not logarithms."""
    found = []
    for way in (-1.0, 1.0):
        reach = 0.05
        while reach < FARTHEST_LOG and height(best + way * reach) > 0.0:
            reach *= 1.6
        if reach >= FARTHEST_LOG:
            found.append(0.0 if way < 0 else math.inf)
        else:
            found.append(math.exp(float(brentq(height, best, best + way * reach, xtol=1e-9))))
    return found[0], found[1]
