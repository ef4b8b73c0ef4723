"""How long a set of cloth lasts: a Weibull life, learnt from the sets that a site has had.

Age is counted in full-wipe equivalents ("cars"), the unit of wear. A set lasts longer than t with
probability R(t) = exp(−(t/η)^β). Sets that did not wear out (still on, taken off on plan, stolen,
torn by accident) are censored on the right: they tell that the life is longer than their age.

Priors of β and η are lognormal and independent, cut off at what the table of inputs allows. Their
posterior is a grid, evenly spaced in ln β and ln η: first over the priors, then once more over
the rectangle in which what the lives leave of them lies. No chance is in it; the same code serves
from zero lives upwards. Beside it stands the life by maximum likelihood alone, on which no decision
rests: shape and scale by `scipy.stats` with censoring, intervals by the likelihood ratio, which is
every value whose profile log-likelihood lies within χ²₁/2 of the greatest. That is exact for many
failures only; with fewer than `ENOUGH_FAILURES` the page calls it approximate.

Likelihoods with censoring on the right and their ratio are those of any textbook on reliability,
such as Meeker & Escobar, Statistical Methods for Reliability Data (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.drawn import Z_975
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, Site
from sim.special import chdtri

Floats = NDArray[np.float64]
Span = tuple[float, float]

GRID = 41
"""Points each way; ±`REACH` standard deviations of a prior, or of what the lives leave of it."""
REACH = 4.5
NEGLIGIBLE = 1e-6
"""Draws that weigh less than that, beside the heaviest, are left out."""


@dataclass(frozen=True, slots=True)
class Life:
    """One set at its end, or as it is now: its age [full-wipe equivalents], above zero, and whether
    it wore out; otherwise it is censored."""

    wear_cars: float
    failed: bool


@dataclass(frozen=True, slots=True)
class LifePrior:
    """A lognormal belief about β [–] or η [full-wipe equivalents], cut off at what is allowed.

    Attributes:
        median: the site's own value.
        log_sd: standard deviation of the logarithm, above zero.
    """

    median: float
    log_sd: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class LifePosterior:
    """What is believed of a set's life: pairs of Weibull shape β [–] and scale η [full-wipe
    equivalents] and their weights, which sum to 1; each of shape (draws,)."""

    beta: Floats
    eta: Floats
    weight: Floats

    def quantile(self, name: str, share: float) -> float:
        """The value of `name` ("beta" or "eta") below which `share` of the weight lies."""
        values = self.beta if name == "beta" else self.eta
        return math.exp(weighted_quantile(np.log(values), self.weight, share))

    def interval(self, name: str, level: float = 0.95) -> tuple[float, float]:
        """Equal-tailed interval of "beta" or "eta"."""
        tail = 0.5 * (1.0 - level)
        return self.quantile(name, tail), self.quantile(name, 1.0 - tail)

    @property
    def mean_life(self) -> float:
        """Expected life of a new set [full-wipe equivalents]."""
        of_draw = [math.gamma(1.0 + 1.0 / b) for b in self.beta.tolist()]
        return float(np.sum(self.weight * self.eta * np.array(of_draw)))


def weighted_quantile(values: Floats, weight: Floats, share: float) -> float:
    """Quantile of weighted values; each distinct value's weight counts half below it."""
    distinct, place = np.unique(values, return_inverse=True)
    of_value = np.bincount(place.ravel(), weights=weight)
    middle = np.cumsum(of_value) - 0.5 * of_value
    return float(np.interp(share * of_value.sum(), middle, distinct))


def life_priors(site: Site) -> tuple[LifePrior, LifePrior]:
    """Priors of shape and scale at a site: its own values as medians, the table's spread."""
    return _prior(site, "life_shape"), _prior(site, "life_scale_cars")


def _prior(site: Site, name: str) -> LifePrior:
    row = INPUTS[name]
    if row.prior is None:
        raise ValueError(f"{name} has no prior")
    log_sd = math.log(row.prior.high / row.prior.low) / (2.0 * Z_975)
    return LifePrior(float(str(site.value(name))), log_sd, row.low, row.high)


def life_posterior(
    lives: Sequence[Life],
    beta_prior: LifePrior,
    eta_prior: LifePrior,
    more: Callable[[Floats], Floats] | None = None,
) -> LifePosterior:
    """What sets' lives leave of the priors of β and η.

    Args:
        lives: none or more; ages of zero tell nothing and are left out.
        more: log-likelihood, at each ln η, of what else was seen, such as inspections.

    Raises:
        InputError: an age that is negative or not a number.
    """
    told = _of_some_age(lives)
    beta_span, eta_span = _span(beta_prior), _span(eta_prior)
    for _ in range(2 if told or more else 1):
        log_beta, log_eta, weight = _grid(told, (beta_prior, eta_prior), beta_span, eta_span, more)
        beta_span = _narrow(log_beta, weight, beta_span)
        eta_span = _narrow(log_eta, weight, eta_span)
    kept = weight > NEGLIGIBLE * weight.max()
    weight = weight[kept] / weight[kept].sum()
    return LifePosterior(np.exp(log_beta[kept]), np.exp(log_eta[kept]), weight)


def _of_some_age(lives: Sequence[Life]) -> list[Life]:
    """Lives above zero, which alone tell something; raises as `life_posterior` does."""
    sentence = "{age} full-wipe equivalents is no age of a set. Enter 0 or more."
    problems = [
        InputProblem("cars", sentence, {"age": life.wear_cars})
        for life in lives
        if not (math.isfinite(life.wear_cars) and life.wear_cars >= 0.0)
    ]
    if problems:
        raise InputError(problems)
    return [life for life in lives if life.wear_cars > 0.0]


def log_likelihood(lives: Sequence[Life], log_beta: Floats, log_eta: Floats) -> Floats:
    """Σ over failures of ln f(t) + Σ over censored sets of ln R(t); shape of the arguments.

    ln f(t) = ln β − ln t + z − e^z and ln R(t) = −e^z, with z = β·ln(t/η).
    """
    beta = np.exp(log_beta)
    total = np.zeros(np.broadcast(log_beta, log_eta).shape)
    for life in lives:
        log_age = math.log(life.wear_cars)
        z = beta * (log_age - log_eta)
        total -= np.exp(np.minimum(z, 700.0))
        if life.failed:
            total += log_beta - log_age + z
    return total


def _span(prior: LifePrior) -> Span:
    middle, reach = math.log(prior.median), REACH * prior.log_sd
    low, high = math.log(prior.least), math.log(prior.most)
    return max(middle - reach, low), min(middle + reach, high)


def _grid(
    lives: Sequence[Life],
    priors: tuple[LifePrior, LifePrior],
    beta_span: Span,
    eta_span: Span,
    more: Callable[[Floats], Floats] | None,
) -> tuple[Floats, Floats, Floats]:
    """Logarithms of β and η over a rectangle, and the posterior's weight, each (GRID²,)."""
    log_beta, log_eta = np.meshgrid(
        np.linspace(*beta_span, GRID), np.linspace(*eta_span, GRID), indexing="ij"
    )
    log_weight = log_likelihood(lives, log_beta, log_eta)
    if more is not None:
        log_weight += more(log_eta[0])  # each row of the grid has the same η
    for prior, place in zip(priors, (log_beta, log_eta), strict=True):
        log_weight -= 0.5 * ((place - math.log(prior.median)) / prior.log_sd) ** 2
    weight = np.exp(log_weight - log_weight.max())
    return log_beta.ravel(), log_eta.ravel(), weight.ravel() / weight.sum()


def _narrow(place: Floats, weight: Floats, span: Span) -> Span:
    """The part of a span in which the weight lies, with room; never less than two steps wide."""
    step = (span[1] - span[0]) / (GRID - 1)
    mean = float(np.sum(weight * place))
    spread = math.sqrt(float(np.sum(weight * (place - mean) ** 2)))
    reach = REACH * max(spread, step)
    return max(mean - reach, span[0]), min(mean + reach, span[1])


# ---- by maximum likelihood alone -----------------------------------------------------------------


ENOUGH_FAILURES = 20
"""From so many failures on the likelihood-ratio interval is no longer called approximate."""
FEWEST_FAILURES = 2
"""With fewer the likelihood may rise without end: no fit."""
FARTHEST_LOG = 12.0
"""How far from the best an end of an interval is looked for, in logarithms."""


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
    beta_range: Span
    eta_range: Span
    log_likelihood: float
    failures: int
    censored: int

    @property
    def is_approximate(self) -> bool:
        """Whether too few failures are in for the intervals to be more than approximate."""
        return self.failures < ENOUGH_FAILURES


def fit_life(lives: Sequence[Life], level: float = 0.95) -> LifeFit | None:
    """The fit; None with fewer than two failures, or where all failures came at one age.

    Raises:
        InputError: an age that is negative or not a number.
    """
    told = _of_some_age(lives)
    failed = [life.wear_cars for life in told if life.failed]
    latest = max((life.wear_cars for life in told), default=0.0)
    if len(failed) < FEWEST_FAILURES or min(failed) == latest:
        return None
    log_beta = math.log(_best_beta(told, failed, latest))
    best = log_beta, _best_eta(told, failed, log_beta)
    top = _at(told, *best)
    fall = 0.5 * float(chdtri(1, 1.0 - level))

    def profile_of_beta(log_beta: float) -> float:
        return _at(told, log_beta, _best_eta(told, failed, log_beta)) - (top - fall)

    ranges = (
        _ends(profile_of_beta, best[0]),
        _ends(_profile_of_eta(told, top - fall, best[0]), best[1]),
    )
    beta, eta = math.exp(best[0]), math.exp(best[1])
    return LifeFit(beta, eta, *ranges, top, len(failed), len(told) - len(failed))


def _best_beta(lives: Sequence[Life], failed: Sequence[float], latest: float) -> float:
    """β of greatest likelihood, η going with it: Σ t^β ln t / Σ t^β − 1/β rises with β, and equals
    the mean ln t of the failures there.

    Args:
        latest: age, whose shares the ages are taken as: no power of them grows too large.
    """
    from scipy.optimize import brentq  # slow to load; no page waits for it

    logs = np.log([life.wear_cars / latest for life in lives])
    mean = float(np.mean(np.log(np.array(failed) / latest)))

    def slope(beta: float) -> float:
        powers = np.exp(beta * logs)
        return float(np.sum(powers * logs) / np.sum(powers)) - 1.0 / beta - mean

    low = high = 1.0
    while slope(low) > 0.0:
        low *= 0.5
    while slope(high) < 0.0:
        high *= 2.0
    return low if low == high else float(brentq(slope, low, high, xtol=1e-13))


def _at(lives: Sequence[Life], log_beta: float, log_eta: float) -> float:
    return float(log_likelihood(lives, np.array(log_beta), np.array(log_eta)))


def _best_eta(lives: Sequence[Life], failed: Sequence[float], log_beta: float) -> float:
    """ln η of greatest likelihood at a β: η^β = Σ t^β / failures."""
    beta = math.exp(log_beta)
    logs = np.array([beta * math.log(life.wear_cars) for life in lives])
    high = float(logs.max())
    return (high + math.log(float(np.sum(np.exp(logs - high)))) - math.log(len(failed))) / beta


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


def _ends(height: Callable[[float], float], best: float) -> Span:
    """Where a profile falls below zero on either side of the best, as values, not logarithms."""
    from scipy.optimize import brentq  # as above

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
