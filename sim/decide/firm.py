"""When an advice is firm: the one definition, for every page and the terminal.

An advice is held against a rival at each drawn site, by what either is expected to do there. At a
site the rival is *better* where it keeps nearer to the conditions of the wish by more than matters,
or as near and is worth more by more than matters; and the advice *loses money* where it costs more
than the rival by more than matters. What does not matter speaks neither for nor against.

Firm is an advice that no rival betters at more than 1 of 20 drawn sites, that loses money at no
more than 1 of 5, and that the simulated days tell from its rivals, or tell to be as good. Guesses
that nobody has measured are drawn as widely as they are believed, so an advice is firm before any
weighing only where none of them could turn it. Where fewer than `LEAST_SITES` were drawn, 19 of 20
can't be told, and no advice is firm. The shares are our own rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_BETTERED = 1 / 20
MOST_LOSING = 1 / 5
LEAST_SITES = 20
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Widener:
    """An input and the share of a variance over drawn sites that it carries, 0 to 1."""

    input: str
    share: float


@dataclass(frozen=True, slots=True)
class Standing:
    """How an advice stands against a rival over drawn sites.

    Attributes:
        sites: how many were drawn; 0 where guesses stood at their middle values.
        bettered: share of them at which the rival is better by the wish, by more than matters.
        loses: share at which the advice costs more money than the rival, by more than matters.
        told: whether the run error of what decides between the two leaves zero out, or lies within
            what does not matter; else they may differ by luck alone.
        turns: the inputs that decide most between the two, as far as that is known.
    """

    sites: int
    bettered: float
    loses: float
    told: bool = True
    turns: tuple[Widener, ...] = ()

    @property
    def is_firm(self) -> bool:
        """Whether the advice is firm against this rival."""
        return (
            self.sites >= LEAST_SITES
            and self.told
            and self.bettered <= MOST_BETTERED + ROUNDING
            and self.loses <= MOST_LOSING + ROUNDING
        )

    @property
    def doubt(self) -> float:
        """How far it is from firm, 1 at the border: by this rivals are told from one another."""
        doubt = max(self.bettered / MOST_BETTERED, self.loses / MOST_LOSING)
        return doubt if self.told else max(doubt, 1.0)


NOT_DRAWN = Standing(0, 0.0, 0.0, told=False)
"""What is known where no site was drawn: nothing, so it is not firm."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What two ways are expected to do at each drawn site, in one thing.

    Attributes:
        sites: the advice first, then the rival; shape (2, sites).
        low, high: run error of the difference of their means, 95 %.
        slack: difference that does not matter, at least 0; of a condition above 0.
    """

    sites: Floats
    low: float
    high: float
    slack: float

    @property
    def apart(self) -> Floats:
        """What the advice has more than the rival, at each site."""
        return np.asarray(self.sites[0] - self.sites[1])

    @property
    def turned(self) -> Measure:
        """The same where little of it is wanted."""
        return Measure(-self.sites, -self.high, -self.low, self.slack)

    @property
    def is_told(self) -> bool:
        """Whether the difference is no luck alone, or too small to matter."""
        return is_told(self.low, self.high, self.slack)

    @property
    def excess(self) -> Floats:
        """Of a condition, which is kept at 0 or less: by how many slacks it is broken."""
        return np.asarray(np.maximum(self.sites / self.slack, 0.0))


def is_told(low: float, high: float, slack: float) -> bool:
    """Whether a difference with this run error is no luck alone, or too small to matter."""
    return not low <= 0.0 <= high or max(-low, high) <= slack + ROUNDING


@dataclass(frozen=True, slots=True)
class Contest:
    """An advice against a rival.

    Attributes:
        worth: what the wish wants much of; cost: of the day [money].
        conditions: by how much each is broken, kept at 0 or less.
    """

    worth: Measure
    conditions: tuple[Measure, ...]
    cost: Measure

    @property
    def leads(self) -> Floats:
        """By how many slacks the advice is ahead at each site: of what is worth, and where either
        keeps nearer to the conditions by more than a slack, of these."""
        slack = max(self.worth.slack, ROUNDING)
        nearer = self._nearer
        return np.asarray(
            np.where(np.abs(nearer) <= 1.0 + ROUNDING, self.worth.apart / slack, nearer)
        )

    @property
    def standing(self) -> Standing:
        """What that makes of the advice."""
        nearer, decides = self._nearer, self.worth
        if self.conditions and abs(float(nearer.mean())) > 1.0:
            binds = [float(np.abs(np.diff(one.excess, axis=0)).mean()) for one in self.conditions]
            decides = self.conditions[int(np.argmax(binds))]
        bettered = self.leads < -1.0 - ROUNDING
        loses = self.cost.apart > self.cost.slack + ROUNDING
        return Standing(len(bettered), float(bettered.mean()), float(loses.mean()), decides.is_told)

    @property
    def _nearer(self) -> Floats:
        """By how many slacks the advice keeps nearer to the conditions, at each site."""
        if not self.conditions:
            return np.zeros(self.worth.sites.shape[1])
        excess = np.max([one.excess for one in self.conditions], axis=0)
        return np.asarray(excess[1] - excess[0])


def by_cost(ours: Floats, theirs: Floats, slack: float) -> Contest:
    """What costs so much at each drawn site against another that costs so much, shape (sites,)
    each, both known without the luck of days; by least cost, what does not matter being `slack`."""
    sites = np.stack([ours, theirs])
    apart = float((ours - theirs).mean())
    costs = Measure(sites, apart, apart, slack)
    return Contest(costs.turned, (), costs)


def strongest(rivals: Iterable[tuple[int, Standing]]) -> tuple[int, Standing] | None:
    """The rival that leaves an advice least firm, the first of equals; None without any."""
    return max(rivals, key=lambda rival: rival[1].doubt, default=None)
