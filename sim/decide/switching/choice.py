"""What the manager wants of a wiping rule, and the order in which a rule is chosen among others.

A wish is something to be large and conditions to keep. The order is written down once, here:

0. *What was said already*: a rule with times that is used now, stands in the plan or was advised
   on fewer days is kept to, in this order, where it keeps the wish by its mean (or is among those
   that miss it by least) and nothing that a crew can carry out is better than it, by the mean, by
   more than what matters; one that was only advised, where it is surely (as in step 2) within
   what matters of the best. Of several that were said alike the steps below choose.
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
rule is counted (`sim.decide.switching.search`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.kernel.many import TALLY
from sim.inputs import Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SURE = 0.84
"""Standard errors to spare: a condition is then kept with four chances in five."""
SURELY_WITHIN = 1.64
"""A worth is then within what matters with 19 chances in 20."""
WEIGHINGS = 400
"""Weightings of the draws by which `chance_enough` is counted."""
STREAM = 12
IN_USE, IN_PLAN, ADVISED, UNSAID = range(4)
"""Turns in which candidates that were said already are kept to; nobody has said the last yet."""


@dataclass(frozen=True, slots=True)
class Objective:
    """What difference does not matter.

    Attributes:
        slack: in worth, > 0; slacks: in the mean of each burden, > 0.
        must: how many of the conditions, from the first on, are kept even where others can't be.
    """

    slack: float
    slacks: tuple[float, ...]
    must: int = 0


@dataclass(frozen=True, slots=True)
class Samples:
    """What candidates did on some draws.

    Attributes:
        worth: what is to be large, shape (candidates, draws).
        burdens: by how much each condition is broken, to be 0 or less in the mean; shape
            (conditions, candidates, draws).
        ties: what decides between equals, each to be large, the first one first; shape (ties, …).
    """

    worth: Floats
    burdens: Floats
    ties: Floats

    def of(self, places: list[int]) -> Samples:
        """The same of some candidates."""
        return Samples(self.worth[places], self.burdens[:, places], self.ties[:, places])

    @property
    def means(self) -> tuple[Floats, Floats]:
        """Worth and burdens over the draws; shapes (candidates,) and (conditions, candidates)."""
        return self.worth.mean(axis=1), self.burdens.mean(axis=2)

    def weighed(self, weights: Floats) -> tuple[Floats, Floats]:
        """The same by weightings of the draws, each row of which adds up to 1.

        Shapes (weightings, candidates) and (conditions, weightings, candidates).
        """
        return weights @ self.worth.T, np.stack([weights @ burden.T for burden in self.burdens])


def joined(parts: Sequence[Samples], axis: int) -> Samples:
    """Other candidates on the same draws (axis −2), or the same candidates on more draws (−1)."""
    every = ([one.worth for one in parts], [one.burdens for one in parts], [o.ties for o in parts])
    return Samples(*(np.concatenate(tables, axis) for tables in every))


def excesses(burdens: Floats, aim: Objective) -> Floats:
    """Worst excess of each candidate in slacks, 0 where every condition is kept.

    Args:
        burdens: means, shape (conditions, …, candidates).
    """
    scale = np.array(aim.slacks).reshape(-1, *(1,) * (burdens.ndim - 1))
    return np.asarray(np.maximum(burdens / scale, 0.0).max(axis=0))


def shortfalls(burdens: Floats, aim: Objective) -> Floats:
    """`excesses`, infinite for who breaks what must be kept while another does not."""
    excess = excesses(burdens, aim)
    if not aim.must:
        return excess
    breaks = (burdens[: aim.must] > 0.0).any(axis=0)
    counts = breaks & ~breaks.all(axis=-1, keepdims=True)
    return np.asarray(np.where(counts & (excess > 1.0), np.inf, excess))


def choose(
    seen: Samples,
    aim: Objective,
    ranks: Ints,
    weights: Floats | None = None,
    *,
    turns: Ints | None = None,
    by_crew: Bools | None = None,
) -> Ints:
    """Numbers of the candidates that the order of choice ends at, one a weighting.

    Args:
        ranks: of each candidate, the simplest lowest.
        weights: of the draws, each row adding up to 1, shape (weightings, draws); None: all equal.
        turns: of each candidate, in which it is kept to, or `UNSAID`; None: nobody said anything.
        by_crew: whether a crew can carry it out, of each; only such are better than what was said.
    """
    count = seen.worth.shape[1]
    if weights is None:
        weights = np.full((1, count), 1.0 / count)
    worth, burdens = seen.weighed(weights)
    surely, keeps = _keeping(seen, burdens, aim)
    among = surely & _near(np.where(surely, worth, -np.inf), seen.worth, aim.slack)
    if turns is not None and (turns < UNSAID).any():
        able = keeps if by_crew is None else keeps & (by_crew | (turns < UNSAID))
        able = np.where(able.any(axis=1, keepdims=True), able, keeps)
        best = np.where(able, worth, -np.inf).argmax(axis=1)
        lead, error = _leads(worth, best, seen.worth)
        luck = SURELY_WITHIN * error
        surely_as_good = lead <= np.maximum(aim.slack - luck, 0.0)
        stand = keeps & np.where(turns < ADVISED, lead <= aim.slack, surely_as_good)
        turn = np.where(stand, turns, UNSAID)
        first = turn.min(axis=1, keepdims=True)
        said = stand & (turn == first)
        said &= _near(np.where(said, worth, -np.inf), seen.worth, aim.slack)
        among = np.where(first < UNSAID, said, among)
    rank = np.where(among, ranks, np.iinfo(np.int64).max)
    among &= rank == rank.min(axis=1, keepdims=True)
    for tie in seen.ties:
        value = np.where(among, weights @ tie.T, -np.inf)
        among &= value == value.max(axis=1, keepdims=True)
    return np.asarray(among.argmax(axis=1))


def _keeping(seen: Samples, burdens: Floats, aim: Objective) -> tuple[Bools, Bools]:
    """Step 1 of the order, and who keeps by the mean alone or misses by least; shapes (weightings,
    candidates)."""
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
    return np.where(surely.any(axis=1, keepdims=True), surely, keeps), keeps


def _near(means: Floats, draws: Floats, slack: float) -> Bools:
    """Which are surely within a slack of the best, which is; shape (weightings, candidates).

    Args:
        means: to be large, −∞ for who is not looked at; shape (weightings, candidates).
        draws: what they are means of, shape (candidates, draws).
    """
    best = means.argmax(axis=1)
    lead, error = _leads(means, best, draws)
    near = lead <= np.maximum(slack - SURELY_WITHIN * error, 0.0)
    near[np.arange(len(best)), best] = True
    return np.asarray(near)


def _leads(means: Floats, best: Ints, draws: Floats) -> tuple[Floats, Floats]:
    """By how much the best of each weighting is above each candidate, and the standard error of
    that; shapes (weightings, candidates), arguments as for `_near`."""
    spread = np.atleast_2d(np.cov(draws, bias=True))
    own, count = np.diagonal(spread), draws.shape[1]
    error = np.sqrt(np.maximum(own[None] + own[best][:, None] - 2.0 * spread[best], 0.0) / count)
    return means[np.arange(len(best)), best][:, None] - means, error


def best_by_means(seen: Samples, aim: Objective) -> int:
    """Number of the best by its means alone, however simple: the most worth of those that keep to
    every condition, else the one that misses by least."""
    worth, burdens = seen.means
    excess = shortfalls(burdens, aim)
    if np.any(excess <= 0.0):
        return int(np.argmax(np.where(excess <= 0.0, worth, -np.inf)))
    return int(np.argmin(excess))


def are_good(worth: Floats, burdens: Floats, aim: Objective) -> Bools:
    """Which candidates are good if these are the means, shape (cases, candidates).

    Good is what keeps each condition within its slack, with a worth within the slack of the best
    that keeps them all. Where none keeps them, it is what misses by no more than a slack beyond
    the least, with a worth within the slack of the best that misses by half as much.

    Args:
        worth: shape (cases, candidates); burdens: shape (conditions, cases, candidates).
    """
    excess = shortfalls(burdens, aim)
    least = excess.min(axis=1, keepdims=True)
    none = least > 0.0
    strict = np.where(none, excess <= least + 0.5, excess <= 0.0)
    best = np.where(strict, worth, -np.inf).max(axis=1, keepdims=True)
    return np.asarray((excess <= least + 1.0) & (worth >= best - aim.slack))


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


def left_damp_share(outcomes: Floats) -> Floats:
    """Cars leaving damp of cars washed, 0 on a day without any."""
    washed = column(outcomes, "cars_washed")
    return np.asarray(column(outcomes, "left_damp") / np.maximum(washed, 1.0))


@dataclass(frozen=True, slots=True)
class Wish:
    """What a rule is chosen by; every wish also keeps to the limits of switching.

    Attributes:
        kind: ``mean``: most cars fully wiped with the expected share of cars leaving damp at most
            `allowed_damp_share`; ``days``: with at most that share on 9 days of 10; ``cost``:
            least cost of the day.
        slack: cars (or money) a day that do not matter; share_slack: share leaving damp that does
            not.
        most_switches, least_between_switches_s: limits of switching, to be kept on 9 days of 10.
    """

    kind: WishKind
    allowed_damp_share: float
    slack: float
    share_slack: float
    most_switches: int
    least_between_switches_s: float

    @classmethod
    def of(cls, site: Site, kind: WishKind | None = None) -> Wish:
        """The wish that a site has entered, or another kind of it."""
        wishes = site.wishes
        kind = kind or cast("WishKind", wishes.reduce_wish)
        return cls(
            kind,
            wishes.allowed_damp_share,
            max(1e-9, wishes.matters_money if kind == "cost" else wishes.matters_cars),
            max(1e-9, wishes.matters_share),
            int(wishes.most_switches),
            wishes.least_between_switches_min * 60.0,
        )

    @property
    def aim(self) -> Objective:
        """What does not matter: of worth, of the limits of switching, and of cars leaving damp."""
        if self.kind == "cost":
            return Objective(self.slack, (DAYS_SLACK,), must=1)
        damp = self.share_slack if self.kind == "mean" else DAYS_SLACK
        return Objective(self.slack, (DAYS_SLACK, damp), must=1)

    def seen(self, outcomes: Floats) -> Samples:
        """Worth and burdens of rules on draws; outcomes of shape (rules, draws, OUTCOMES)."""
        limits = self._switching(outcomes)
        full, cost = column(outcomes, "full_cars"), column(outcomes, COST)
        ties = np.stack([full, -cost])
        if self.kind == "cost":
            return Samples(-cost, limits[None], ties)
        over = left_damp_share(outcomes) - self.allowed_damp_share
        damp = over if self.kind == "mean" else (over > 0.0) - (1.0 - DAYS_KEPT)
        return Samples(full, np.stack([limits, damp]), ties)

    def is_kept(self, table: Floats) -> bool:
        """Whether a rule keeps to every condition; table of shape (draws, OUTCOMES)."""
        return bool(excesses(self.seen(table[None]).means[1], self.aim)[0] <= 0.0)

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


# ---- whether a rule is good enough ---------------------------------------------------------------


def _enough(wish: Wish, table: Floats, weights: Floats) -> Bools:
    worth, burdens = wish.seen(table).weighed(weights)
    good = are_good(worth, burdens, wish.aim)[:, 0]
    return np.asarray((excesses(burdens, wish.aim)[:, 0] <= 0.0) & good)


def is_enough(wish: Wish, table: Floats) -> bool:
    """Whether the first rule keeps to the wish and none of the others is better by what matters.

    Args:
        table: outcomes, shape (rules, draws, OUTCOMES).
    """
    return bool(_enough(wish, table, np.full((1, table.shape[1]), 1.0 / table.shape[1]))[0])


def chance_enough(wish: Wish, table: Floats, seed: int) -> float:
    """Probability of `is_enough` over what the draws leave open of the means (Rubin 1981)."""
    stream = Generator(PCG64(SeedSequence([seed, STREAM])))
    parts = stream.standard_exponential((WEIGHINGS, table.shape[1]))
    return float(_enough(wish, table, parts / parts.sum(axis=1, keepdims=True)).mean())


def is_good_first(wish: Wish, table: Floats) -> bool:
    """Whether the first rule keeps to the wish, by less than a slack, and none is better by what
    matters; `is_enough` without room for what does not matter in the conditions."""
    worth, burdens = wish.seen(table).means
    good = are_good(worth[None], burdens[:, None], wish.aim)[0, 0]
    return bool(good and excesses(burdens, wish.aim)[0] <= 1.0)


def verdicts(worth: Floats, burdens: Floats, aim: Objective) -> Floats:
    """+1 where the first of two is better by the wish, −1 where the second is, 0 where equal.

    Less excess over the conditions comes first, then more worth.

    Args:
        worth: shape (2, cases); burdens: shape (conditions, 2, cases).
    """
    excess = excesses(burdens, aim)
    apart = np.where(excess[0] == excess[1], worth[0] - worth[1], excess[1] - excess[0])
    return np.asarray(np.sign(apart))
