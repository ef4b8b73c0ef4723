"""How often a rule keeps to what is allowed on days that its choice has not seen, and what else
the choice might as well have been.

A rule looks better than it is on the draws that chose it, so how often it keeps to a condition on
single days is counted on fresh ones.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import dataclass

from sim.day.blocks import MOST_POINTS
from sim.day.rules import Rule
from sim.decide.switching.advice import Gain, Gains, apart_of
from sim.decide.switching.search import SwitchAnswer
from sim.decide.switching.simplicity import kind_of
from sim.decide.switching.variants import AS_IT_IS, Told, outcomes, quiet, search_draws
from sim.decide.switching.wish import damp_share

DAYS = 1_024
NORMAL_95 = 1.959964


@dataclass(frozen=True, slots=True)
class Kept:
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


@dataclass(frozen=True, slots=True)
class Alternative:
    """What else the choice might as well have been.

    Attributes:
        same_kind: whether it is of the kind of the chosen rule; see `simplicity`.
        chance: how often the order of choice ends at it, the draws weighted at random.
        gains: of it over the choice, on the draws of both.
    """

    rule: Rule
    same_kind: bool
    chance: float
    gains: Gains


def kept(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    days: int = DAYS,
) -> Kept:
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


def of_count(good: int, days: int) -> Kept:
    """So many of so many days."""
    share, more = good / days, NORMAL_95**2 / days
    middle = (share + 0.5 * more) / (1.0 + more)
    half = math.sqrt(share * (1.0 - share) * more + 0.25 * more**2) / (1.0 + more)
    return Kept(share, max(0.0, middle - half), min(1.0, middle + half), days)


def alternatives(answer: SwitchAnswer) -> tuple[Alternative, ...]:
    """What else the choice might as well have been, the likeliest first; none where it is clear."""
    chosen = answer.selection.chosen
    found = []
    for place, chance in answer.selection.others:
        own, its = answer.paired(chosen, place)
        rule, apart = answer.rules[place], apart_of(its, own)
        same_kind = kind_of(rule) == kind_of(answer.chosen)
        gains = Gains(**{name: Gain(float(values.mean())) for name, values in apart.items()})
        found.append(Alternative(rule, same_kind, chance, gains))
    return tuple(found)
