"""What a log leaves of two guessed inputs, by quadrature over their guesses.

A guess is standard normal on a scale of its own, so an even grid over some standard deviations
integrates anything smooth; it is laid anew about what is left until it is fine enough for that
(trapezoidal rule, whose error falls exponentially for such integrands; Trefethen & Weideman 2014,
SIAM Rev. 56:385–458, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.drawn import prior_quantile
from sim.inputs import INPUTS, Site
from sim.learn.answer import LogFinding, Three, Told
from sim.special import ndtr, ndtri

Floats = NDArray[np.float64]
SPAN = 7.0
"""The first grid reaches so many standard deviations of the guess, both ways; further up quantiles
are no longer told from one."""
GRIDS = (61, 41, 41, 101)
"""Points along each input of the grids that are laid one after another."""
NOTHING_LEFT = 18.0
"""Where the log of the density lies so far below the top, nothing is left: 1.5e-8 of it."""
TELLS = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class Guess:
    """A guessed number: its value at a standard normal coordinate, which rises with it."""

    name: str
    at: Callable[[Floats], Floats]


def of_input(site: Site, name: str) -> Guess:
    """An input by its own guess about its default, whatever the site has entered: what the log told
    once is not to be counted twice.

    Raises:
        ValueError: for an input without a guess.
    """
    plain = site.with_values({name: INPUTS[name].default})

    def at(z: Floats) -> Floats:
        places = ndtr(z).tolist()
        return np.array([prior_quantile(plain, name, place) for place in places])

    return Guess(name, at)


def of_spread(name: str, log_sd: float) -> Guess:
    """An input without a guess of its own, lognormal about its default within its limits."""
    row = INPUTS[name]
    middle = float(str(row.default))
    return Guess(name, lambda z: np.clip(middle * np.exp(log_sd * z), row.low, row.high))


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one guess: points of its coordinate, rising, and the probability of each."""

    guess: Guess
    z: Floats
    weights: Floats

    def quantiles(self, shares: Sequence[float]) -> Floats:
        """Coordinates below which so much of the probability lies."""
        return np.interp(shares, np.cumsum(self.weights) - 0.5 * self.weights, self.z)

    def below(self, value: float) -> float:
        """Probability of less than a value."""
        return float(
            np.interp(value, self.guess.at(self.z), np.cumsum(self.weights) - 0.5 * self.weights)
        )

    def told(self, now: float) -> Told:
        """In words of the input: what was guessed and what is left."""
        wide = np.array(ndtri(TELLS))
        narrow = self.quantiles(TELLS)
        before, after = self.guess.at(wide).tolist(), self.guess.at(narrow).tolist()
        left = float((narrow[2] - narrow[0]) / (wide[2] - wide[0]))
        return Told(self.guess.name, now, three(before), three(after), left)


def finding(site: Site, kind: str, entries: int, days: int, left: Sequence[Left]) -> LogFinding:
    """What entries of a kind leave of guesses, beside what the site counts on now; see
    `LogFinding`."""
    told = tuple(one.told(float(str(site.value(one.guess.name)))) for one in left)
    return LogFinding(kind, entries, days, told)


def three(values: Sequence[float]) -> Three:
    """Three numbers as such."""
    low, middle, high = values
    return low, middle, high


LogLikelihood = Callable[[Floats, Floats], Floats]
"""Of values of two guesses, arrays of one shape."""


def left_of(guesses: tuple[Guess, Guess], log_likelihood: LogLikelihood) -> tuple[Left, Left]:
    """What is left of two guesses by what was seen."""
    ends = np.array([[-SPAN, SPAN], [-SPAN, SPAN]])
    for points in GRIDS:
        one, other = (np.linspace(low, high, points) for low, high in ends)
        first, second = guesses[0].at(one)[:, None], guesses[1].at(other)[None, :]
        log_density = log_likelihood(*np.broadcast_arrays(first, second))
        log_density = log_density - 0.5 * (one[:, None] ** 2 + other[None, :] ** 2)
        density = np.exp(log_density - log_density.max())
        is_left = log_density > log_density.max() - NOTHING_LEFT
        if points < GRIDS[-1]:
            ends = np.array([_about(one, is_left.any(axis=1)), _about(other, is_left.any(axis=0))])
    density /= density.sum()
    return Left(guesses[0], one, density.sum(axis=1)), Left(guesses[1], other, density.sum(axis=0))


def _about(z: Floats, is_left: NDArray[np.bool_]) -> tuple[float, float]:
    """Ends of what is left along a grid, a step further out."""
    there = np.flatnonzero(is_left)
    return float(z[max(there[0] - 1, 0)]), float(z[min(there[-1] + 1, len(z) - 1)])
