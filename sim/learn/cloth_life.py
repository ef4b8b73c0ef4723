"""How long a set of cloth lasts: a Weibull life, learnt from the sets that a site has had.

Age is counted in full-wipe equivalents ("cars"), the unit of wear. A set lasts longer than t with
probability R(t) = exp(−(t/η)^β). Sets that did not wear out (still on, taken off on plan, stolen,
torn by accident) are censored on the right: they tell that the life is longer than their age.

Priors of β and η are lognormal and independent, cut off at what the table of inputs allows. Their
posterior is a grid, evenly spaced in ln β and ln η: first over the priors, then once more over
the rectangle in which what the lives leave of them lies. No chance is in it; the same code serves
from zero lives upwards.

The likelihood with censoring on the right is that of any textbook on reliability, such as Meeker &
Escobar, Statistical Methods for Reliability Data (from memory).
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

Floats = NDArray[np.float64]

GRID = 41
"""Points each way; ±`REACH` standard deviations of a prior, or of what the lives leave of it."""
REACH = 4.5
NEGLIGIBLE = 1e-6
"""Draws that weigh less than that, beside the heaviest, are left out."""


@dataclass(frozen=True, slots=True)
class Life:
    """One set at its end, or as it is now.

    Attributes:
        wear_cars: its age [full-wipe equivalents], above zero.
        failed: whether it wore out; otherwise it is censored.
    """

    wear_cars: float
    failed: bool


@dataclass(frozen=True, slots=True)
class LifePrior:
    """A lognormal belief about β [–] or η [full-wipe equivalents], cut off at both ends.

    Attributes:
        median: the value in the site's table.
        log_sd: standard deviation of the logarithm, above zero.
        least, most: what is allowed.
    """

    median: float
    log_sd: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class LifePosterior:
    """What is believed of a set's life: weighted pairs of shape and scale, shape (draws,).

    Attributes:
        beta: Weibull shape β [–].
        eta: Weibull scale η [full-wipe equivalents].
        weight: of each pair, summing to 1.
    """

    beta: Floats
    eta: Floats
    weight: Floats

    def quantile(self, name: str, share: float) -> float:
        """The value of `name` ("beta" or "eta") below which `share` of the weight lies."""
        values = self.beta if name == "beta" else self.eta
        return weighted_quantile(np.log(values), self.weight, share, back=True)

    def interval(self, name: str, level: float = 0.95) -> tuple[float, float]:
        """Equal-tailed interval of "beta" or "eta"."""
        tail = 0.5 * (1.0 - level)
        return self.quantile(name, tail), self.quantile(name, 1.0 - tail)

    @property
    def mean_life(self) -> float:
        """Expected life of a new set [full-wipe equivalents]."""
        of_draw = [math.gamma(1.0 + 1.0 / b) for b in self.beta.tolist()]
        return float(np.sum(self.weight * self.eta * np.array(of_draw)))


def weighted_quantile(values: Floats, weight: Floats, share: float, back: bool = False) -> float:
    """Quantile of weighted values; each distinct value's weight counts half below it.

    Args:
        back: take the exponential of the result.
    """
    distinct, place = np.unique(values, return_inverse=True)
    of_value = np.bincount(place.ravel(), weights=weight)
    middle = np.cumsum(of_value) - 0.5 * of_value
    found = float(np.interp(share * of_value.sum(), middle, distinct))
    return math.exp(found) if back else found


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
    check_ages(lives)
    told = [life for life in lives if life.wear_cars > 0.0]
    beta_span, eta_span = _span(beta_prior), _span(eta_prior)
    for _ in range(2 if told or more else 1):
        log_beta, log_eta, weight = _grid(told, (beta_prior, eta_prior), beta_span, eta_span, more)
        beta_span = _narrow(log_beta, weight, beta_span)
        eta_span = _narrow(log_eta, weight, eta_span)
    kept = weight > NEGLIGIBLE * weight.max()
    weight = weight[kept] / weight[kept].sum()
    return LifePosterior(np.exp(log_beta[kept]), np.exp(log_eta[kept]), weight)


def check_ages(lives: Sequence[Life]) -> None:
    """Raises `InputError` for ages that are negative or not numbers."""
    sentence = "{age} full-wipe equivalents is no age of a set. Enter 0 or more."
    problems = [
        InputProblem("cars", sentence, {"age": life.wear_cars})
        for life in lives
        if not (math.isfinite(life.wear_cars) and life.wear_cars >= 0.0)
    ]
    if problems:
        raise InputError(problems)


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


Span = tuple[float, float]


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
