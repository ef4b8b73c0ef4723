"""How likely counts of days are, given what is expected of each hour: as days are drawn.

A day's counts come as `sim.day.draw` draws them: N_h ~ Poisson(λ_h·G·H_h), where the day factor G,
which all hours share, and the factors H_h of single hours are gamma with mean 1. Given G a count is
negative binomial (the gamma–Poisson mixture of Greenwood & Yule 1920); a count of cars *washed* in
a full hour says only that no fewer came. G is integrated out by adaptive Gauss–Hermite quadrature
about its mode (Liu & Pierce 1994, Biometrika 81:624–629).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.special import betainc, betaln, gammaln

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NODES = 5
"""Points of the quadrature. One is the Laplace approximation; more than five change no digit that
a fit keeps where a day has some ten cars or more."""
STEPS = 30
"""Newton steps to a day factor's mode, at most; four or five are usual."""
CLOSE = 1e-7
TINY = 1e-250
"""Probability below which the beta function has no digits left."""
SMALL = 1e-3


@dataclass(frozen=True, slots=True)
class Counted:
    """Counts, a row a day and a column an open hour.

    Attributes:
        cars: counts; whatever where nobody counted.
        seen: whether the hour was counted.
        full: whether the count is only the least that can have come.
    """

    cars: Floats
    seen: Bools
    full: Bools


@dataclass(frozen=True, slots=True)
class Terms:
    """Log-likelihood of each hour, and its first and second derivative by the log of what is
    expected of it."""

    value: Floats
    slope: Floats
    bend: Floats


def hour_terms(counted: Counted, log_expected: Floats, hour_cv: float) -> Terms:
    """Each hour given its day: negative binomial of size k = 1/cv², P(N = n), or P(N ≥ n) where the
    hour was full; 0 where nobody counted.

    P(N ≥ n) is the regularised incomplete beta function I_p(n, k), p = μ/(μ + k) (Abramowitz &
    Stegun 1964, 26.5.26).

    Args:
        log_expected: log μ, of the shape of the counts or with further axes before it.
        hour_cv: coefficient of variation of an hour's factor, above 0.
    """
    size, cars = hour_cv**-2, counted.cars
    mean = np.exp(log_expected)
    share = mean / (mean + size)
    log_rest = -np.log1p(mean / size)
    log_share = log_expected - np.log(size) + log_rest
    constant = gammaln(cars + size) - gammaln(size) - gammaln(cars + 1.0)
    value = constant + cars * log_share + size * log_rest
    slope = cars - (cars + size) * share
    bend = -(cars + size) * share * (1.0 - share)
    full = counted.full & (cars > 0)
    if full.any():
        n, p = cars[full], share[..., full]
        log_top = n * log_share[..., full] + size * log_rest[..., full] - betaln(n, size)
        # I_p(n, k) = top/n·F with F = ₂F₁(n + k, 1; n + 1; p), a sum that is nearly geometric
        # where the count lies far above what is expected (Abramowitz & Stegun, 26.5.23)
        least = betainc(n, size, p)
        is_far = least < TINY
        rest = np.maximum(1.0 - p * (n + size) / (n + 1.0), SMALL)
        log_least = np.where(
            is_far, log_top - np.log(n * rest), np.log(np.where(is_far, 1.0, least))
        )
        value[..., full] = log_least
        steep = np.exp(log_top - log_least)
        slope[..., full] = steep
        bend[..., full] = steep * (n * (1.0 - p) - size * p - steep)
    dropped = ~counted.seen | (counted.full & (cars <= 0))
    for found in (value, slope, bend):
        found[..., dropped] = 0.0
    return Terms(value, slope, bend)


@dataclass(frozen=True, slots=True)
class DayTerms:
    """Log-likelihood of each day, its slope by the log of what is expected of each hour (days,
    hours), the negative of its second derivatives (days, hours, hours), and the mode of the log of
    each day's factor, from which a next call starts."""

    value: Floats
    slope: Floats
    curve: Floats
    log_factor: Floats


def day_terms(
    counted: Counted, log_expected: Floats, day_cv: float, hour_cv: float, start: Floats | None
) -> DayTerms:
    """Each day with its factor integrated out.

    With t = log g and K = 1/cv² the integrand is K^K/Γ(K)·exp(K·t − K·e^t)·Π_h p(n_h | λ_h·e^t),
    which has one mode. Slope and curvature are means and covariances over the quadrature's points
    (Louis 1982, J. R. Stat. Soc. B 44:226–233).
    """
    shape = day_cv**-2
    t, wide = _mode(counted, log_expected, shape, hour_cv, start)
    points, weights = np.polynomial.hermite.hermgauss(NODES)
    at = t + np.sqrt(2.0) * wide * points[:, None]
    hours = hour_terms(counted, log_expected + at[:, :, None], hour_cv)
    prior = shape * np.log(shape) - gammaln(shape) + shape * (at - np.exp(at))
    log_part = prior + hours.value.sum(axis=2) + points[:, None] ** 2 + np.log(weights)[:, None]
    top = log_part.max(axis=0)
    part = np.exp(log_part - top)
    total = part.sum(axis=0)
    part /= total
    slope = np.einsum("jd,jdh->dh", part, hours.slope)
    off = hours.slope - slope
    curve = -np.einsum("jd,jdh,jdi->dhi", part, off, off, optimize=True)
    place = np.arange(counted.cars.shape[1])
    curve[:, place, place] -= np.einsum("jd,jdh->dh", part, hours.bend)
    value = top + np.log(total) + 0.5 * np.log(2.0) + np.log(wide)
    return DayTerms(value, slope, curve, t)


def _mode(
    counted: Counted, log_expected: Floats, shape: float, hour_cv: float, start: Floats | None
) -> tuple[Floats, Floats]:
    """Mode of the log of each day's factor, and how wide it is there."""
    t = np.zeros(len(log_expected)) if start is None else start.copy()
    curve = np.ones_like(t)
    for _ in range(STEPS):
        hours = hour_terms(counted, log_expected + t[:, None], hour_cv)
        slope = shape * (1.0 - np.exp(t)) + hours.slope.sum(axis=1)
        curve = shape * np.exp(t) - hours.bend.sum(axis=1)
        step = np.clip(slope / curve, -1.0, 1.0)
        t = t + step
        if np.abs(step).max(initial=0.0) < CLOSE:
            break
    return t, curve**-0.5
