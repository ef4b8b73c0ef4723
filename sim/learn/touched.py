"""Of which inputs weighings told something, and what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.day.belief import Belief, are_strange, prior_points
from sim.day.priors import draw_site
from sim.inputs import Site

LEAST_NARROWER, LEAST_SHIFT = 0.1, 0.1
"""An input counts as touched if its 90 % range, in quantiles of the prior, got narrower by so much,
or its median moved by so much."""


@dataclass(frozen=True, slots=True)
class Touched:
    """An input of which weighings told something.

    Attributes:
        before, after: 5th percentile, median and 95th percentile, in SI.
    """

    name: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]


def touched(site: Site, belief: Belief) -> tuple[Touched, ...]:
    """Inputs that a belief tells something of, those that it tells most of first."""
    u = belief.u
    low, middle, high = np.percentile(u, [5, 50, 95], axis=0)
    narrower = 1.0 - (high - low) / 0.9
    told = np.maximum(narrower, 2.0 * np.abs(middle - 0.5))
    felt = (narrower >= LEAST_NARROWER) | (np.abs(middle - 0.5) >= LEAST_SHIFT)
    order = [i for i in np.argsort(-told) if felt[i]]
    which = (len(belief.names), belief.size, belief.seed)
    prior = prior_points(*which)[~are_strange(*which)][: len(u)]
    before = [draw_site(site, belief.names, row) for row in prior]
    after = [draw_site(site, belief.names, row) for row in u]
    return tuple(
        Touched(belief.names[i], _range(before, belief.names[i]), _range(after, belief.names[i]))
        for i in order
    )


def _range(sites: Sequence[Site], name: str) -> tuple[float, float, float]:
    values = [float(str(site.value(name))) for site in sites]
    low, middle, high = np.percentile(values, [5, 50, 95])
    return float(low), float(middle), float(high)
