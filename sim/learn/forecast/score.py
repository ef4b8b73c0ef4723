"""How good a forecast was: what it missed by, beside what came."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.special import stdtrit

Floats = NDArray[np.float64]


def crps(drawn: Floats, came: Floats) -> Floats:
    """Continuous ranked probability score of each of some forecasts, in units of what came.

    E|X − y| − E|X − X'|/2 over draws, the second without pairs of a draw with itself (Gneiting &
    Raftery 2007, J. Am. Stat. Assoc. 102:359–378; Ferro 2014). 0 is perfect; for a single number
    it is the absolute error.

    Args:
        drawn: (draws, forecasts); at least two draws.
    """
    count = len(drawn)
    ordered = np.sort(drawn, axis=0)
    weights = (2.0 * np.arange(count) - count + 1.0)[:, None]
    apart = 2.0 * (weights * ordered).sum(axis=0) / (count * (count - 1))
    found: Floats = np.abs(drawn - came).mean(axis=0) - 0.5 * apart
    return found


def scaled_error(past: Sequence[float], missed: Sequence[float], season: int) -> float:
    """Mean absolute scaled error (Hyndman & Koehler 2006, Int. J. Forecasting 22:679–688): mean
    absolute error beside that of taking the value a season before, over the past.

    Args:
        past: values before, in order; NaN where there is none.
        missed: forecast less what came.
        season: steps back, such as 7 for the same weekday of days.

    Raises:
        ValueError: if no two values of the past lie a season apart, or all such are alike.
    """
    before = np.asarray(past, dtype=float)
    steps = np.abs(before[season:] - before[:-season])
    steps = steps[~np.isnan(steps)]
    if not len(steps) or not steps.mean() > 0.0:
        raise ValueError("the past has no two values a season apart that differ")
    return float(np.abs(np.asarray(missed, dtype=float)).mean() / steps.mean())


def held(drawn: Floats, came: Floats, share: float) -> NDArray[np.bool_]:
    """Whether each of some values lay in the middle `share` of its draws (draws, forecasts)."""
    tail = 50.0 * (1.0 - share)
    low, high = np.percentile(drawn, [tail, 100.0 - tail], axis=0)
    found: NDArray[np.bool_] = (low <= came) & (came <= high)
    return found


@dataclass(frozen=True, slots=True)
class Paired:
    """Mean of paired differences with its 95 % confidence interval."""

    low: float
    mean: float
    high: float


def paired(differences: Sequence[float]) -> Paired:
    """Student's t interval of the mean of independent differences; without end where fewer than
    two."""
    values = np.asarray(differences, dtype=float)
    mean = float(values.mean())
    if len(values) < 2:
        return Paired(-math.inf, mean, math.inf)
    reach = stdtrit(len(values) - 1, 0.975) * values.std(ddof=1) / math.sqrt(len(values))
    return Paired(mean - float(reach), mean, mean + float(reach))
