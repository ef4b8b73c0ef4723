"""What the manager wants of a wiping rule, as something to be large and conditions to keep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.kernel import TALLY
from sim.decide.switching.choice import Aim, Seen
from sim.inputs import Site

Floats = NDArray[np.float64]
WishKind = Literal["mean", "days", "cost"]

COST = "cost"
OUTCOMES = (*TALLY, COST)
"""What is known of a rule on a draw, in the order of the last axis of every table of outcomes."""
DAYS_KEPT = 0.9
"""Share of days on which a condition on single days must be kept."""
DAYS_SLACK = 0.02
"""Shares of days nearer to one another are alike: one day more in fifty. No rule is taken to keep a
condition that it misses by so much; among rules that all miss it, it makes no difference."""


def column(outcomes: Floats, name: str) -> Floats:
    """One of `OUTCOMES` of a table of them."""
    return np.asarray(outcomes[..., OUTCOMES.index(name)])


def damp_share(outcomes: Floats) -> Floats:
    """Damp cars of cars washed, 0 on a day without any."""
    washed = column(outcomes, "cars_washed")
    return np.asarray(column(outcomes, "damp_cars") / np.maximum(washed, 1.0))


@dataclass(frozen=True, slots=True)
class Wish:
    """What a rule is chosen by; every wish also keeps to the limits of switching.

    Attributes:
        kind: ``mean``: most cars fully wiped with the expected share of damp cars at most
            `allowed_damp_share`; ``days``: the same with at most that share on 9 days of 10;
            ``cost``: least cost of the day.
        slack: cars (or money) a day that do not matter; share_slack: damp share that does not.
        most_switches, least_between_switches_s: limits of switching, to be kept on 9 days of 10.
    """

    kind: WishKind
    allowed_damp_share: float
    slack: float
    share_slack: float
    most_switches: int
    least_between_switches_s: float

    @classmethod
    def of(cls, site: Site, kind: WishKind) -> Wish:
        """The wish with what the site has entered."""
        wishes = site.wishes
        return cls(
            kind,
            wishes.allowed_damp_share,
            max(1e-9, wishes.matters_money if kind == "cost" else wishes.matters_cars),
            max(1e-9, wishes.matters_share),
            int(wishes.most_switches),
            wishes.least_between_switches_min * 60.0,
        )

    @property
    def aim(self) -> Aim:
        """What does not matter: of worth, of the limits of switching, and of damp cars."""
        if self.kind == "cost":
            return Aim(self.slack, (DAYS_SLACK,), must=1)
        damp = self.share_slack if self.kind == "mean" else DAYS_SLACK
        return Aim(self.slack, (DAYS_SLACK, damp), must=1)

    def seen(self, outcomes: Floats) -> Seen:
        """Worth and burdens of rules on draws; outcomes of shape (rules, draws, OUTCOMES)."""
        burdens: list[Floats] = [self._switching(outcomes)]
        ties = np.stack([column(outcomes, "full_cars"), -column(outcomes, COST)])
        if self.kind == "cost":
            return Seen(-column(outcomes, COST), np.stack(burdens), ties)
        share = damp_share(outcomes)
        if self.kind == "mean":
            burdens.append(np.asarray(share - self.allowed_damp_share))
        else:
            burdens.append(np.asarray((share > self.allowed_damp_share) - (1.0 - DAYS_KEPT)))
        return Seen(column(outcomes, "full_cars"), np.stack(burdens), ties)

    def may_switch(self, table: Floats) -> bool:
        """Whether a rule keeps to the limits of switching; table of shape (draws, OUTCOMES)."""
        return bool(self._switching(table).mean() <= 0.0)

    def _switching(self, outcomes: Floats) -> Floats:
        often = column(outcomes, "switches") > self.most_switches
        soon = column(outcomes, "apart_s") < self.least_between_switches_s
        return np.asarray((often | soon) - (1.0 - DAYS_KEPT))


def undominated(damp: Floats, full: Floats, usable: NDArray[np.bool_]) -> list[bool]:
    """Pareto marks: few damp cars, many fully wiped; what can't be used neither has one nor takes.

    Equal points all keep their mark.
    """
    marks = [False] * len(damp)
    best, level = -np.inf, -np.inf
    for i in np.lexsort((-full, damp)).tolist():
        if not usable[i]:
            continue
        equal = full[i] == best and damp[i] == level
        if full[i] > best or equal:
            marks[i] = True
            best, level = float(full[i]), float(damp[i])
    return marks
