"""What is not known of a plan, drawn: the site as it might be, and the level of its demand."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.belief import Belief
from sim.day.blocks import sobol_points
from sim.day.draw import demand_factors
from sim.day.priors import uncertain
from sim.inputs import Conditions, Site

Floats = NDArray[np.float64]
LEVELS = 2_000_000
"""Index of the points of levels of the first block, which no block of drawn sites has."""

SHUFFLED = 4
"""Levels of a block are shuffled within the first so many points, then within as many as there
are already."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plan's unknowns at one point of a block.

    Attributes:
        site: the site as it might be.
        level_u: quantile of the level; None: nothing is drawn, the level comes with each day.
    """

    site: Site
    level_u: float | None = None

    def day(self, conditions: Conditions) -> Conditions:
        """The day as it is to be expected here: with the drawn level, which is sure then."""
        return at_level(conditions, self.level_u)


def at_level(conditions: Conditions, level_u: float | None) -> Conditions:
    """A day with its level of demand at a quantile, which is sure then; None: as it is."""
    spread = conditions.spread
    if level_u is None or not spread.level_cv:
        return conditions
    factor = float(demand_factors(np.array([level_u]), spread.level_cv)[0])
    cars = tuple(hour * factor for hour in conditions.arrivals_per_h)
    return replace(conditions, arrivals_per_h=cars, spread=replace(spread, level_cv=0.0))


def drawn_names(
    site: Site, known: Collection[str] | None, belief: Belief | None
) -> tuple[str, ...]:
    """Names of the inputs that are drawn: those of the belief, if there is one, else every guess.

    Args:
        known: inputs that the site entered itself; None: no input is drawn.
    """
    if known is None:
        return ()
    return uncertain(site, known) if belief is None else belief.names


@lru_cache(maxsize=32)
def level_points(points: int, seed: int, block: int) -> Floats:
    """Quantiles of the level at the points of a block; shape (points,), inside (0, 1).

    A stream of their own, so that sites are drawn alike whatever their demand. Like the sites'
    points they are spread evenly, and more begin with those of fewer; they are shuffled within
    each stage, since two sequences of Sobol points in their own order go hand in hand.
    """
    found = sobol_points(1, max(points, SHUFFLED), seed, LEVELS + block)[:, 0]
    stream = Generator(PCG64(SeedSequence([seed, 8, block])))
    first, last = 0, SHUFFLED
    while first < points:
        found[first:last] = stream.permutation(found[first:last])
        first, last = last, 2 * last
    found.flags.writeable = False  # one array for all who ask
    return found[:points]
