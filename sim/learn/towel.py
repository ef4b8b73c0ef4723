"""What a towel test tells of the allowed film: hoods that the crew would let pass, and others that
it would call back, each dried with a weighed towel.

On a scale of logarithms, with x the water on a hood, L what may be left on it and the crew's own
scatter η about it,

    called back where x + η > ln L,    η normal with standard deviation σ (probit)
    the towel shows y = x + ln q + e,  e normal with standard deviation t

where q is the share that a towel takes. The hoods that were met have x normal with mean μ and
standard deviation s, neither of which is known. So many hoods are dried of each verdict, whatever
share of the cars that is: each counts with the density of what its towel shows *given* the verdict
(sampling by the outcome; Manski & Lerman 1977, Econometrica 45:1977–1988, from memory),

    p(y | called back) = φ((y − m)/v)/v · Φ((m + β·(y − m) − l)/√(σ² + s²·(1 − β)))
                         / Φ((m − l)/√(σ² + s²))

with m = μ + ln q, l = ln L + ln q, v² = s² + t², β = s²/v², and likewise with −Φ's argument for
one let pass. Counted as if hoods were taken at random, five of each would pull the limit toward
the more usual verdict. Where it was noted how many cars went by until then, and how many of them
would have been called back, each of these counts with the probability Φ(±(m − l)/√(σ² + s²)) of
its verdict besides: that tells where the limit lies among the hoods met. What is not known
besides is averaged over: μ evenly, s over `SPREADS`, σ and q over their priors, unless the site
entered them itself.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from sim.day.drawn import prior_values
from sim.inputs import CALL_BACK, Site, Weighing
from sim.learn.fading import PARTS
from sim.special import log_ndtr, logsumexp

Floats = NDArray[np.float64]
LEAST_GAIN_KG = 1e-4
"""A towel that gained less showed nothing: scales of a wash show no tenth of a gram [kg]."""
SPREADS = (0.15, 0.25, 0.4, 0.65, 1.0)
"""How far the water on hoods met may differ, standard deviations of a logarithm; a guess."""
LOWEST_KG, HIGHEST_KG, STEPS = 2e-4, 2.0, 154
"""Limits of water on a hood that are looked at [kg], and how many."""
MIDDLES = 41
"""Means of the water on hoods met, from `BESIDE` below the driest towel to as far above the
wettest, in logarithms."""
BESIDE = 1.5


def log_likelihood(
    site: Site,
    towels: Sequence[Weighing],
    limits_kg: Floats,
    known: Collection[str] = (),
    wider: float = 1.0,
    moved: float = 0.0,
) -> Floats:
    """Logarithm of the likelihood of limits of water on the reference hood; of their shape.

    Args:
        site: says how far off a towel may be.
        limits_kg: that may be left on the reference car's hood [kg].
        known: inputs that the site entered itself.
        wider: how many times as far off towels and crew may be.
        moved: how far the limit may have moved since, see `sim.learn.fading`.
    """
    if not towels:
        return np.zeros(limits_kg.shape)
    shown = np.log([max(item.gain_kg, LEAST_GAIN_KG) for item in towels])
    sign = np.array([1.0 if item.verdict == CALL_BACK else -1.0 for item in towels])
    limits = np.linspace(math.log(LOWEST_KG), math.log(HIGHEST_KG), STEPS)
    middles = np.linspace(shown.min() - BESIDE, shown.max() + BESIDE, MIDDLES)
    off = wider * site.wheel.towel_log_sd
    went_by = gone_by(towels)
    parts = [
        _of_limits(shown, sign, limits, middles, wider * scatter, spread, off, went_by)
        for scatter in prior_values(site, "crew_damp_log_sd", known)
        for spread in SPREADS
    ]
    curve = logsumexp(parts, axis=0) - math.log(len(parts))
    at = np.log(np.maximum(limits_kg, LOWEST_KG))
    takes = prior_values(site, "towel_takes", known)
    steps = [moved * step for step in PARTS] if moved else [0.0]
    found = [
        np.interp(at + math.log(share) + step, limits, curve) for share in takes for step in steps
    ]
    return np.asarray(logsumexp(found, axis=0) - math.log(len(found)))


def _of_limits(
    shown: Floats, sign: Floats, limits: Floats, middles: Floats, scatter: float, spread: float,
    off: float, went_by: tuple[int, int] = (0, 0),
) -> Floats:  # fmt: skip
    """Log-likelihood of limits, averaged over the mean of hoods met; all as towels show them.

    Args:
        shown: logarithms of what towels gained; sign: +1 for a car called back, −1 for one let
            pass; both of shape (towels,).
        limits, middles: logarithms of limits and of means of hoods met.
        scatter, spread, off: standard deviations of the crew, of hoods met and of a towel.
        went_by: cars that were called back, and let pass, of those that were counted.
    """
    total = math.hypot(spread, off)
    share = (spread / total) ** 2
    of_hood = math.sqrt(scatter**2 + spread**2 * (1.0 - share))
    m, y = middles[:, None], shown[None, :]
    seen = -0.5 * ((y - m) / total) ** 2 - math.log(total)  # (middles, towels)
    likely = (m + share * (y - m))[:, :, None] - limits  # (middles, towels, limits)
    verdicts = log_ndtr(sign[None, :, None] * likely / of_hood)
    any_hood = (m - limits[None, :]) / math.hypot(scatter, spread)  # (middles, limits)
    backs, passes = int((sign > 0.0).sum()), int((sign < 0.0).sum())
    given = (backs - went_by[0]) * log_ndtr(any_hood) + (passes - went_by[1]) * log_ndtr(-any_hood)
    found = seen.sum(axis=1)[:, None] + verdicts.sum(axis=1) - given
    return np.asarray(logsumexp(found, axis=0) - math.log(len(middles)))


def gone_by(towels: Sequence[Weighing]) -> tuple[int, int]:
    """Cars called back, and let pass, of all that went by while the towels were at work; towels of
    one test share their count, and of a test without one nothing is known."""
    tests = {(item.day, item.cars, item.damp_cars) for item in towels}
    backs = sum(damp for _day, _cars, damp in tests)
    return backs, sum(cars for _day, cars, _damp in tests) - backs


def middle_kg(towels: Sequence[Weighing], takes: float) -> float | None:
    """The plainest estimate of the limit on a hood [kg]: halfway, by ratio, between the middles of
    both groups, for what a towel does not take; None where one group is missing."""
    middles = [
        float(np.median([math.log(max(t.gain_kg, LEAST_GAIN_KG)) for t in towels if of(t)]))
        for of in (_is_back, _is_passed)
        if any(map(of, towels))
    ]
    return math.exp(sum(middles) / 2.0) / takes if len(middles) == 2 else None


def _is_back(towel: Weighing) -> bool:
    return towel.verdict == CALL_BACK


def _is_passed(towel: Weighing) -> bool:
    return towel.verdict != CALL_BACK
