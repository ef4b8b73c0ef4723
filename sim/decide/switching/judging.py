"""Whether a rule is good enough by a wish, from outcomes on common draws; and how often it keeps to
what is allowed on days that its choice has not seen.

A rule looks better than it is on the draws that chose it, so how often it keeps to a condition on
single days is counted on fresh ones.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.blocks import MOST_POINTS
from sim.day.engine import AS_IT_IS, Told, quiet
from sim.day.rules import FULL, Rule
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import Objective, Wish, are_good, damp_share, excesses
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.search import SwitchAnswer

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

WEIGHINGS = 400
STREAM = 12
FRESH_DAYS = 1_024
NORMAL_95 = 1.959964


def rivals(question: SwitchQuestion) -> tuple[Rule, ...]:
    """Always full, and what it must be held against to say that it is enough.

    A wish for few damp cars says by itself when always full keeps to it; least cost needs others.
    """
    if question.wish.kind != "cost":
        return (FULL,)
    return coarse_rules(question.site)


def is_enough(wish: Wish, table: Floats) -> bool:
    """Whether the first rule keeps to the wish and none of the others is better by what matters.

    Args:
        table: outcomes, shape (rules, draws, OUTCOMES).
    """
    weights = np.full((1, table.shape[1]), 1.0 / table.shape[1])
    return bool(_enough(wish, table, weights)[0])


def chance_enough(wish: Wish, table: Floats, seed: int) -> float:
    """Probability of `is_enough` over what the draws leave open of the means (Rubin 1981)."""
    stream = Generator(PCG64(SeedSequence([seed, STREAM])))
    parts = stream.standard_exponential((WEIGHINGS, table.shape[1]))
    return float(_enough(wish, table, parts / parts.sum(axis=1, keepdims=True)).mean())


def is_good_first(wish: Wish, table: Floats) -> bool:
    """Whether the first rule keeps to the wish, by less than a slack, and none is better by what
    matters; `is_enough` without room for what does not matter in the conditions."""
    seen = wish.seen(table)
    worth, burdens = seen.worth.mean(axis=1), seen.burdens.mean(axis=2)
    good = are_good(worth[None], burdens[:, None], wish.aim)[0, 0]
    return bool(good and excesses(burdens, wish.aim)[0] <= 1.0)


def excess_by_means(wish: Wish, table: Floats) -> Floats:
    """Worst excess of each rule in slacks, 0 where it keeps to every condition; shape (rules,)."""
    return excesses(wish.seen(table).burdens.mean(axis=2), wish.aim)


def _enough(wish: Wish, table: Floats, weights: Floats) -> Bools:
    seen, aim = wish.seen(table), wish.aim
    worth = weights @ seen.worth.T
    heavy = np.stack([weights @ burden.T for burden in seen.burdens])
    return np.asarray((excesses(heavy, aim)[:, 0] <= 0.0) & are_good(worth, heavy, aim)[:, 0])


def verdicts(worth: Floats, burdens: Floats, aim: Objective) -> Floats:
    """+1 where the first of two is better by the wish, −1 where the second is, 0 where equal.

    Less excess over the conditions comes first, then more worth.

    Args:
        worth: shape (2, cases); burdens: shape (conditions, 2, cases).
    """
    excess = excesses(burdens, aim)
    apart = np.where(excess[0] == excess[1], worth[0] - worth[1], excess[1] - excess[0])
    return np.asarray(np.sign(apart))


# ---- on fresh days -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class WishKept:
    """How often a rule kept to the allowed share of damp cars.

    Attributes:
        share: of the days; low, high: its 95 % interval (Wilson 1927, Journal of the American
            Statistical Association 22:209–212).
        days: how many they were.
    """

    share: float
    low: float
    high: float
    days: int


def kept(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    days: int = FRESH_DAYS,
) -> WishKept:
    """How often the chosen rule keeps to the allowed share, a drawn site and a day of its own each.

    Args:
        days: how many.
    """
    question = answer.asked
    used = max(len(table) for table in answer.outcomes)
    first = MOST_POINTS * math.ceil(used / MOST_POINTS)
    draws = search_draws(question, days, first)
    table = outcomes(question, [(AS_IT_IS, (answer.chosen,))], draws, executor, progress)[0]
    return of_count(int((damp_share(table) <= question.wish.allowed_damp_share).sum()), days)


def of_count(good: int, days: int) -> WishKept:
    """So many of so many days."""
    share, more = good / days, NORMAL_95**2 / days
    middle = (share + 0.5 * more) / (1.0 + more)
    half = math.sqrt(share * (1.0 - share) * more + 0.25 * more**2) / (1.0 + more)
    return WishKept(share, max(0.0, middle - half), min(1.0, middle + half), days)
