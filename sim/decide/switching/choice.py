"""The order in which a rule is chosen among others, written down once.

1. *Those that keep the wish*: every condition by its mean with `SURE` standard errors to spare. Is
   there none, those that keep by their means alone; is there none either, of those that keep to
   what must be kept (the limits of switching) those that surely miss the rest by no more than what
   matters beyond the one that misses by least.
2. *Those that are worth the most*: of these, all whose worth is surely within what matters of the
   best. *Surely*: by `SURELY_WITHIN` standard errors of the difference on common draws.
3. *The simplest*: of these, the one of lowest rank (`sim.decide.switching.candidates`).
4. *The most full wipes, then the least cost*; of equals the one named first.

Two rules between which this order decides by less than the draws can tell are *too close to tell*:
how often the whole order, gone through anew with the draws weighted at random, ends at the same
rule is counted (Bayesian bootstrap: Rubin 1981, Annals of Statistics 9:130–134, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SURE = 0.84
"""Standard errors to spare: a condition is then kept with four chances in five."""
SURELY_WITHIN = 1.64
"""A worth is then within what matters with 19 chances in 20."""


@dataclass(frozen=True, slots=True)
class Aim:
    """What difference does not matter.

    Attributes:
        slack: in worth, > 0.
        slacks: in the mean of each burden, > 0.
        must: how many of the conditions, from the first on, are kept even where others can't be.
    """

    slack: float
    slacks: tuple[float, ...] = ()
    must: int = 0


@dataclass(frozen=True, slots=True)
class Seen:
    """What candidates did on some draws.

    Attributes:
        worth: what is to be large, shape (candidates, draws).
        burdens: by how much each condition is broken; the mean of each must be 0 or less. Shape
            (conditions, candidates, draws).
        ties: what decides between equals, each to be large, the first one first. Shape
            (ties, candidates, draws).
    """

    worth: Floats
    burdens: Floats
    ties: Floats

    def of(self, places: slice | list[int]) -> Seen:
        """The same of some candidates."""
        return Seen(self.worth[places], self.burdens[:, places], self.ties[:, places])


def excesses(burdens: Floats, aim: Aim) -> Floats:
    """Worst excess of each candidate in slacks, 0 where every condition is kept.

    Args:
        burdens: means, shape (conditions, …, candidates).
    """
    if not aim.slacks:
        return np.zeros(burdens.shape[1:])
    scale = np.array(aim.slacks).reshape(-1, *(1,) * (burdens.ndim - 1))
    return np.asarray(np.maximum(burdens / scale, 0.0).max(axis=0))


def shortfalls(burdens: Floats, aim: Aim) -> Floats:
    """`excesses`, infinite for who breaks what must be kept while another does not."""
    excess = excesses(burdens, aim)
    if not aim.must:
        return excess
    breaks = (burdens[: aim.must] > 0.0).any(axis=0)
    counts = breaks & ~breaks.all(axis=-1, keepdims=True)
    return np.asarray(np.where(counts & (excess > 1.0), np.inf, excess))


def choose(seen: Seen, aim: Aim, ranks: Ints, weights: Floats | None = None) -> Ints:
    """Numbers of the candidates that the order of choice ends at, one a weighting.

    Args:
        ranks: of each candidate, the simplest lowest.
        weights: of the draws, each row adding up to 1, shape (weightings, draws); None: all equal.
    """
    count = seen.worth.shape[1]
    if weights is None:
        weights = np.full((1, count), 1.0 / count)
    worth = weights @ seen.worth.T
    burdens = np.stack([weights @ b.T for b in seen.burdens]) if len(seen.burdens) else None
    among = _keeping(seen, burdens, aim, worth.shape)
    among &= _near(np.where(among, worth, -np.inf), seen.worth, aim.slack)
    rank = np.where(among, ranks, np.iinfo(np.int64).max)
    among &= rank == rank.min(axis=1, keepdims=True)
    for tie in seen.ties:
        value = np.where(among, weights @ tie.T, -np.inf)
        among &= value == value.max(axis=1, keepdims=True)
    return np.asarray(among.argmax(axis=1))


def _keeping(seen: Seen, burdens: Floats | None, aim: Aim, shape: tuple[int, ...]) -> Bools:
    """Step 1 of the order, shape (weightings, candidates)."""
    if burdens is None:
        return np.ones(shape, np.bool_)
    errors = seen.burdens.std(axis=2) / np.sqrt(seen.burdens.shape[2])
    surely = excesses(burdens + SURE * errors[:, None], aim) <= 0.0
    excess = shortfalls(burdens, aim)
    keeps = excess <= 0.0
    if not keeps.any(axis=1).all():
        # what binds the one that misses by least, in slacks on each draw
        scaled = seen.burdens / np.array(aim.slacks)[:, None, None]
        least = int(shortfalls(seen.burdens.mean(axis=2), aim).argmin())
        binds = int(scaled[:, least].mean(axis=1).argmax())
        near = _near(-excess, -scaled[binds], 1.0)
        keeps = np.where(keeps.any(axis=1, keepdims=True), keeps, near)
    return np.where(surely.any(axis=1, keepdims=True), surely, keeps)


def _near(means: Floats, draws: Floats, slack: float) -> Bools:
    """Which are surely within a slack of the best, which is; shape (weightings, candidates).

    Args:
        means: to be large, −∞ for who is not looked at; shape (weightings, candidates).
        draws: what they are means of, shape (candidates, draws).
    """
    best, count = means.argmax(axis=1), draws.shape[1]
    spread = np.atleast_2d(np.cov(draws, bias=True))
    own = np.diagonal(spread)
    error = np.sqrt(np.maximum(own[None] + own[best][:, None] - 2.0 * spread[best], 0.0) / count)
    lead = means.max(axis=1, keepdims=True) - means
    near = lead <= np.maximum(slack - SURELY_WITHIN * error, 0.0)
    near[np.arange(len(best)), best] = True
    return np.asarray(near)


def best_by_means(worth: Floats, burdens: Floats, aim: Aim) -> int:
    """Number of the best by its means alone, however simple: the most worth of those that keep to
    every condition, else the one that misses by least; shapes (candidates,)."""
    excess = shortfalls(burdens, aim)
    if np.any(excess <= 0.0):
        return int(np.argmax(np.where(excess <= 0.0, worth, -np.inf)))
    return int(np.argmin(excess))


def are_good(worth: Floats, burdens: Floats | None, aim: Aim) -> Bools:
    """Which candidates are good if these are the means; shapes (cases, candidates).

    Good is what keeps each condition within its slack, with a worth within the slack of the best
    that keeps them all. Where none keeps them, it is what misses by no more than a slack beyond
    the least, with a worth within the slack of the best that misses by half as much.
    """
    if burdens is None:
        burdens = np.empty((0, *worth.shape))
    excess = shortfalls(burdens, aim)
    least = excess.min(axis=1, keepdims=True)
    none = least > 0.0
    strict = np.where(none, excess <= least + 0.5, excess <= 0.0)
    best = np.where(strict, worth, -np.inf).max(axis=1, keepdims=True)
    return np.asarray((excess <= least + 1.0) & (worth >= best - aim.slack))
