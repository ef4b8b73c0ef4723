"""How old measurements count less: a site moves, and nobody knows how fast.

Blowers weaken, soap changes, cloth ages: what was measured a year ago was measured on another site.
Between then and the newest measurement each of the logarithms that measurements tell (moisture,
water that may be left, odds of a damp car) is taken to have wandered by a normal step with

    standard deviation = rate · √(age in years),   age beyond `FRESH_DAYS`

so that an old measurement is as good as one whose error is wider by that much, in squares; it fades
and is never thrown away. Steps of several measurements are taken as independent, though those of
one day moved together, which lets many old ones of a day count for a little more than they should.

The rate is learnt: the likelihood of all measurements is worked out at each of `RATES` and
averaged, so that each rate has the weight that the measurements themselves give it. Where old and
new agree, the slow ones have it and the old ones count; where they don't, the fast ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RATES = (0.0, 0.1, 0.3, 1.0)
"""How far a site may move in a year, each as likely: deviations of a logarithm; guesses."""
FRESH_DAYS = 28
"""So many days before the newest measurement nothing has moved yet; a guess."""
YEAR_DAYS = 365.0
PARTS = (-1.563, -0.712, -0.221, 0.221, 0.712, 1.563)
"""Means of six equal parts of a normal distribution, scaled to its standard deviation."""


@dataclass(frozen=True, slots=True)
class Moved:
    """A rate at which a site moves, and the day of its newest measurement."""

    rate: float
    newest: date

    def since(self, day: date) -> float:
        """How far it has moved since a day: standard deviation of a logarithm."""
        old = max(0, (self.newest - day).days - FRESH_DAYS)
        return self.rate * math.sqrt(old / YEAR_DAYS)


def rates_of(days: Iterable[date]) -> tuple[Moved, ...]:
    """The rates that measurements of some days are judged at: all that are thought of, or standing
    still where none is old."""
    every = set(days)
    newest = max(every, default=date.min)
    fastest = Moved(RATES[-1], newest)
    if not any(fastest.since(day) for day in every):
        return (Moved(0.0, newest),)
    return tuple(Moved(rate, newest) for rate in RATES)


def known_as_by(share: Floats, moved: float) -> Floats:
    """As how many cars looked at a share is known that has moved so far in log odds, above zero.

    The sum of both parameters of the beta distribution of that mean and of the variance that the
    step makes of it at first order, (p·(1 − p)·moved)².
    """
    variance_of_one = share * (1.0 - share)
    return np.asarray(np.maximum(1.0 / (variance_of_one * moved**2) - 1.0, 1.0))
