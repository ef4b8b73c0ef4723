"""How a site is drawn: from the priors of its guesses, or from what weighings leave of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from sim.day.blocks import sobol_points
from sim.day.priors import draw_site
from sim.inputs import Site

Floats = NDArray[np.float64]
PRIOR = 1_000_005
"""Index of the points that beliefs are made of, which no block of a plan has."""
DRAWN_STRANGE = 0.25
"""Share of the points that are strange sites, which lie further out than is believed of a site."""
FURTHER_OUT = 2.0
"""So many times as far from the middle of a prior does a strange site lie; a guess."""
EDGE = 1e-4
"""Points stay so far from 0 and 1."""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of a site's guesses after it was weighed: an ensemble of drawn sites.

    The ensemble is kept as numbers of Sobol points of the prior, some more than once, so that
    what belongs together stays together: weighings tell products of inputs, not each by itself.

    Attributes:
        names: inputs that are drawn, in the order of `sim.day.priors.uncertain`.
        seed, size: which points of the prior, and how many, it was chosen from.
        kept: numbers of the chosen points, those that are alike in what matters beside each other.
        weighed: kinds of the weighings that it rests on, see `sim.inputs.WEIGHINGS`, and
            `sim.inputs.MISFIT` where the model does not explain them.
        effective: effective number of the prior's points after weighting (Kish).
    """

    names: tuple[str, ...]
    seed: int
    size: int
    kept: tuple[int, ...]
    weighed: tuple[str, ...]
    effective: float

    @property
    def u(self) -> Floats:
        """Quantiles of the priors, a row a drawn site; shape (kept, names)."""
        return np.asarray(prior_points(len(self.names), self.size, self.seed)[list(self.kept)])

    def middle(self, site: Site) -> Site:
        """The site with each drawn input at its median over the ensemble."""
        return draw_site(site, self.names, np.median(self.u, axis=0))


@lru_cache(maxsize=8)
def prior_points(dimensions: int, size: int, seed: int) -> Floats:
    """Points of the prior that a belief is chosen from; more begin with the fewer.

    Shape (size, dimensions). Those of strange sites lie further out: their normal scores are
    `FURTHER_OUT` times those of Sobol points.
    """
    points = sobol_points(dimensions + 1, size, seed, PRIOR)[:, :-1]
    strange = are_strange(dimensions, size, seed)
    points[strange] = np.clip(ndtr(FURTHER_OUT * ndtri(points[strange])), EDGE, 1.0 - EDGE)
    points.flags.writeable = False  # kept in memory, shared
    return points


@lru_cache(maxsize=8)
def are_strange(dimensions: int, size: int, seed: int) -> NDArray[np.bool_]:
    """Which of these points are of strange sites; shape (size,)."""
    strange = sobol_points(dimensions + 1, size, seed, PRIOR)[:, -1] >= 1.0 - DRAWN_STRANGE
    strange.flags.writeable = False
    return strange


def block_points(
    names: tuple[str, ...], belief: Belief | None, points: int, seed: int, block: int
) -> Floats:
    """Quantiles at which the sites of a block are drawn; shape (points, names), inside (0, 1).

    Without a belief Sobol points of the priors; with one, members of its ensemble, one from each
    of as many equal parts of it, placed at random (stratified sampling). Blocks are independent,
    and more points of a block begin with those of fewer.
    """
    if belief is None:
        return sobol_points(len(names), points, seed, block)
    # in one dimension scrambled Sobol points are stratified and nested
    places = sobol_points(1, points, seed, block)[:, 0]
    return np.asarray(belief.u[(places * len(belief.kept)).astype(int)])
