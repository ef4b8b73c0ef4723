"""The best of many candidates by simulation: which to drop early, and how sure the choice is.

Every candidate meets the same draws, so that differences between two are far surer than either.

*Dropping* is sequential halving (Karnin, Koren & Somekh 2013, Almost optimal exploration in
multi-armed bandits, ICML, from memory): rounds of about equal cost, each with twice the draws a
candidate, after each of which the worse half (after the first, seven eighths) is dropped. For a
single figure with independent normal differences of standard deviation s a round of n draws that
keeps m of k drops the best with probability at most k/m · exp(−n·d²/(4·s²)), where d is the least
lead of the best over the m/2 last of those kept: expected number of candidates that pass it by
luck over number that must (Markov). With conditions the order is that of the probability of being
good, and the bound is no longer proven; tests hold the claim against fresh draws instead.

*How sure*: the probability that the choice is good, over what the draws leave open of all means
jointly (Bayesian bootstrap: Rubin 1981, Annals of Statistics 9:130–134; probability of good
selection as in Branke, Chick & Schmidt 2007, Management Science 53:1916–1932, from memory). A
candidate dropped early counts with the draws that it had, by its differences to the choice.

*The choice*: by means, of those that keep to every condition the one of most worth; with
candidates dropped, only among those at least half as probably good as the most probable. A mean
that is a hair beyond a condition would else hand the choice to one that is surely worse.

*Taking back*: those left may all turn out to break a condition that they seemed to keep, having
been chosen for seeming so. While the choice is not sure enough, candidates that were dropped but
are more probably good than it come back, a few at a time, and catch up on its draws.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WEIGHINGS = 1_000
"""Weightings of the draws by which a probability is counted."""
STREAM = 11
FAIR = 0.5
"""Means decide among candidates whose probability is at least so much of the highest."""
FIRST_CUT = 8
"""One of so many candidates is kept after the first round."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What candidates did on some draws.

    Attributes:
        worth: what is to be large, shape (candidates, draws).
        burdens: by how much each condition is broken; the mean of each must be 0 or less. Shape
            (conditions, candidates, draws).
    """

    worth: Floats
    burdens: Floats


@dataclass(frozen=True, slots=True)
class Aim:
    """What difference does not matter.

    Attributes:
        slack: in worth, > 0.
        slacks: in the mean of each burden, > 0.
    """

    slack: float
    slacks: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Effort:
    """How many draws.

    Attributes:
        first: that every candidate gets.
        sure: that the survivors get at least; first · 2ⁿ.
        most: that the last few may get while the choice is less sure than `target`.
        keep: candidates that are never dropped for want of draws, and that may come back at a time.
        returns: how often some may come back.
    """

    first: int = 16
    sure: int = 256
    most: int = 1024
    target: float = 0.95
    keep: int = 4
    returns: int = 6


Sampler = Callable[[Sequence[int], int, int], Seen]
"""Asked for numbers of candidates, and for draws `first` to `last` − 1."""


@dataclass(frozen=True, slots=True)
class Selection:
    """The choice.

    Attributes:
        chosen: number of the candidate.
        keeps: whether it keeps to every condition by its mean over its draws; with candidates
            dropped, within its slack.
        probability: that it is good: keeps to each condition within its slack, with a worth
            within the slack of the best that keeps to all; or, where none does, that its worst
            excess is within a slack of the least.
        draws: of each candidate, shape (candidates,).
        worth, burdens: means of each candidate over its draws; shapes (candidates,) and
            (conditions, candidates).
        good: probability of each candidate to be good; 0 for those dropped.
    """

    chosen: int
    keeps: bool
    probability: float
    draws: Ints
    worth: Floats
    burdens: Floats
    good: Floats

    @property
    def runs(self) -> int:
        """Runs made in all."""
        return int(self.draws.sum())

    @property
    def equal_runs(self) -> int:
        """Runs that it takes to give every candidate as many draws as the chosen one had."""
        return int(self.draws.max()) * len(self.draws)


def select(
    count: int,
    sampler: Sampler,
    aim: Aim,
    effort: Effort,
    seed: int,
    *,
    stay: Collection[int] = (),
    exhaustive: bool = False,
) -> Selection:
    """Choose among `count` candidates; of equals the one with the lowest number.

    Args:
        stay: candidates that are never dropped, to be compared with on every draw.
        exhaustive: give every candidate `effort.sure` draws and drop none.
    """
    pool = _Pool(count, sampler, aim, seed, frozenset(stay))
    if exhaustive:
        pool.reach(effort.sure)
        return pool.answer(by_means=True)
    draws, kept = effort.first, count
    pool.reach(draws)
    while draws < effort.sure:
        kept //= FIRST_CUT if draws == effort.first else 2
        draws *= 2
        pool.drop_to(max(kept, effort.keep))
        pool.reach(draws)
    answer, returns = pool.answer(), effort.returns
    while answer.probability < effort.target:
        if returns and pool.take_back(answer.chosen, effort.keep):
            returns -= 1
        elif draws < effort.most:
            kept //= 2
            draws *= 2
            pool.drop_to(max(kept, effort.keep))
        else:
            break
        pool.reach(draws)
        answer = pool.answer()
    return answer


class _Pool:
    """Candidates with what was seen of them."""

    def __init__(
        self, count: int, sampler: Sampler, aim: Aim, seed: int, stay: frozenset[int]
    ) -> None:
        self._sampler, self._aim, self._seed, self._stay = sampler, aim, seed, stay
        self._alive = list(range(count))
        self._worth: list[Floats] = [np.empty(0)] * count
        self._burdens: list[Floats] = [np.empty((len(aim.slacks), 0))] * count

    def reach(self, draws: int) -> None:
        """See every candidate that is left on so many draws in all."""
        for had in sorted({len(self._worth[one]) for one in self._alive} - {draws}):
            group = [one for one in self._alive if len(self._worth[one]) == had]
            seen = self._sampler(group, had, draws)
            for place, one in enumerate(group):
                self._worth[one] = np.concatenate([self._worth[one], seen.worth[place]])
                more = seen.burdens[:, place]
                self._burdens[one] = np.concatenate([self._burdens[one], more], axis=1)

    def drop_to(self, kept: int) -> None:
        """Keep so many and those that stay: the most probably good, of equals the better."""
        if kept >= len(self._alive):
            return
        worth, burdens = self._stacked(self._alive)
        excess = excesses(burdens.mean(axis=2), self._aim)
        likely = self._good(worth, burdens)
        order = np.lexsort((-worth.mean(axis=1), excess, -likely))
        best = {self._alive[place] for place in order[:kept]}
        self._alive = sorted(best | self._stay)

    def take_back(self, chosen: int, most: int) -> bool:
        """Let dropped ones back that are more probably good than the choice; False: there is none.

        The most probable first, of equals the lowest number.
        """
        likely = self._good_beside(chosen)
        own = float(likely[chosen])
        likely[self._alive] = 0.0
        back = np.argsort(-likely, kind="stable")[:most]
        found = [one for one in back.tolist() if likely[one] > own]
        self._alive = sorted([*self._alive, *found])
        return bool(found)

    def answer(self, by_means: bool = False) -> Selection:
        """The choice by what has been seen; see the module."""
        worth, burdens = self._stacked(self._alive)
        means, heavy = worth.mean(axis=1), burdens.mean(axis=2)
        place = choose(means, heavy, self._aim)
        if not by_means:
            likely = self._good_beside(self._alive[place])[self._alive]
            among = np.flatnonzero(likely >= FAIR * likely.max())
            place = int(among[choose(means[among], heavy[:, among], self._aim)])
        good = np.zeros(len(self._worth))
        good[self._alive] = self._good(worth, burdens)
        chosen = self._alive[place]
        return Selection(
            chosen,
            bool(excesses(heavy[:, place], self._aim) <= (0.0 if by_means else 1.0)),
            float(self._good_beside(chosen)[chosen]),
            np.array([len(values) for values in self._worth], dtype=np.int64),
            np.array([values.mean() for values in self._worth]),
            np.array([values.mean(axis=1) for values in self._burdens]).T,
            good,
        )

    def _stacked(self, chosen: Sequence[int]) -> tuple[Floats, Floats]:
        worth = np.stack([self._worth[one] for one in chosen])
        return worth, np.stack([self._burdens[one] for one in chosen], axis=1)

    def _weights(self, draws: int) -> Floats:
        """Weightings of the first draws, shape (WEIGHINGS, draws); fewer are part of more."""
        stream = Generator(PCG64(SeedSequence([self._seed, STREAM])))
        # a column a draw, so that the first columns are the same however many there are
        parts = stream.standard_exponential((draws, WEIGHINGS)).T
        return np.asarray(parts / parts.sum(axis=1, keepdims=True))

    def _good(self, worth: Floats, burdens: Floats) -> Floats:
        """How often each of some candidates is good among them."""
        weights = self._weights(worth.shape[1])
        heavy = np.stack([weights @ burden.T for burden in burdens]) if len(burdens) else None
        return np.asarray(are_good(weights @ worth.T, heavy, self._aim).mean(axis=0))

    def _good_beside(self, chosen: int) -> Floats:
        """How often each is good among all, those dropped long ago by their differences to one."""
        own_worth, own_burdens = self._worth[chosen], self._burdens[chosen]
        weights = self._weights(len(own_worth))
        mine = weights @ own_worth
        mine_heavy = own_burdens @ weights.T  # (conditions, weighings)
        count = len(self._worth)
        worths = np.empty((WEIGHINGS, count))
        heavies = np.empty((len(own_burdens), WEIGHINGS, count))
        worths[:, chosen], heavies[:, :, chosen] = mine, mine_heavy
        lengths = np.array([len(values) for values in self._worth])
        for draws in np.unique(lengths).tolist():
            group = [one for one in np.flatnonzero(lengths == draws).tolist() if one != chosen]
            if not group:
                continue
            early = self._weights(draws)
            worth, burdens = self._stacked(group)
            worths[:, group] = mine[:, None] + early @ (worth - own_worth[:draws]).T
            apart = burdens - own_burdens[:, None, :draws]
            heavies[:, :, group] = mine_heavy[:, :, None] + np.einsum("wd,cgd->cwg", early, apart)
        return np.asarray(are_good(worths, heavies, self._aim).mean(axis=0))


def excesses(burdens: Floats, aim: Aim) -> Floats:
    """Worst excess of each candidate in slacks, 0 where every condition is kept.

    Args:
        burdens: means, shape (conditions, …, candidates).
    """
    if not aim.slacks:
        return np.zeros(burdens.shape[1:])
    scale = np.array(aim.slacks).reshape(-1, *(1,) * (burdens.ndim - 1))
    return np.asarray(np.maximum(burdens / scale, 0.0).max(axis=0))


def choose(worth: Floats, burdens: Floats, aim: Aim) -> int:
    """Number of the best by means: of those that keep to all the most worth, else least excess."""
    excess = excesses(burdens, aim)
    if np.any(excess <= 0.0):
        return int(np.argmax(np.where(excess <= 0.0, worth, -np.inf)))
    return int(np.argmin(excess))


def are_good(worth: Floats, burdens: Floats | None, aim: Aim) -> Bools:
    """Which candidates are good if these are the means; shapes (cases, candidates).

    See `Selection.probability` for the word.
    """
    if burdens is None:
        burdens = np.empty((0, *worth.shape))
    excess = excesses(burdens, aim)
    keeps = excess <= 0.0
    best = np.where(keeps, worth, -np.inf).max(axis=1, keepdims=True)
    least = excess.min(axis=1, keepdims=True)
    found = (excess <= 1.0) & (worth >= best - aim.slack)
    return np.asarray(np.where(keeps.any(axis=1, keepdims=True), found, excess <= least + 1.0))
