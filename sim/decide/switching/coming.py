"""Plans for the days ahead by a small search each, and how many days of a season need switching."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.day.night import Evening
from sim.day.rules import FULL, Rule
from sim.decide.record import number as plain
from sim.decide.switching.judging import chance_enough, is_enough, rivals
from sim.decide.switching.knowing import narrowed, neighbours
from sim.decide.switching.search import SwitchQuestion, check, search
from sim.decide.switching.selection import Effort
from sim.decide.switching.variants import AS_IT_IS, Told, outcomes, quiet, search_draws
from sim.decide.switching.wish import damp_share
from sim.errors import InputError
from sim.inputs import Conditions

Floats = NDArray[np.float64]
Day = tuple[Conditions, Evening | None]
"""What a day is expected to bring, and the open day before it."""

ROUGH, FINE = Effort(sure=16), Effort(sure=32)
"""Draws of every rule of the coarse grid, and of every neighbour of the best of it."""
DRAWS = 16
SURE = 0.9
SEASON_DRAWS = 16
"""A whole block of drawn sites: with four, a day far from the limit was often on the wrong side."""
EMPTY_CARS = 1e-9


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day's plan.

    Attributes:
        rule: None for a day that can't be simulated, such as one with frost, or without cars.
        keeps: whether it keeps to the wish; probability: that it is good among those looked at.
        full_share, damp_share: mean damp share of always full, and of the rule.
    """

    rule: Rule | None
    keeps: bool
    probability: float
    full_share: float
    damp_share: float

    @property
    def switches(self) -> bool:
        """Whether the day asks for anything but always full."""
        return self.rule is not None and self.rule != FULL


NO_PLAN = DayPlan(None, False, math.nan, math.nan, math.nan)


def plan_days(
    question: SwitchQuestion,
    days: Sequence[Day],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> tuple[DayPlan, ...]:
    """A plan for each day; the question's own day is not looked at.

    Always full is taken where it is enough with probability `SURE`; else the rule comes from a
    coarse grid, then from the neighbours of the best of it. 16 runs for a day that needs
    nothing, else about 1,000.

    Args:
        progress: told of days done; it may raise to cancel, also during a day.
    """
    plans = []
    for number, (conditions, evening) in enumerate(days):
        asked = replace(question, conditions=conditions, evening=evening, among=None)

        def told(done: int, total: int, number: int = number) -> None:
            progress(number, len(days))

        plans.append(_plan(asked, executor, told))
    progress(len(days), len(days))
    return tuple(plans)


def _plan(question: SwitchQuestion, executor: Executor | None, told: Told) -> DayPlan:
    if not _can_be_run(question):
        return NO_PLAN
    rules = rivals(question)
    draws = search_draws(question, DRAWS)
    first = outcomes(question, [(AS_IT_IS, rules)], draws, executor, told)
    share = float(damp_share(first[0]).mean())
    chance = chance_enough(question.wish, first, question.seed)
    if chance >= SURE:
        return DayPlan(FULL, True, chance, share, share)
    # so few are looked at that none is dropped on the luck of its first draws
    asked = replace(question, among=narrowed(question.site, FULL))
    rough = search(asked, executor, told, effort=ROUGH, exhaustive=True).chosen
    asked = replace(question, among=(rough, *neighbours(question.site, rough)))
    found = search(asked, executor, told, effort=FINE, exhaustive=True)
    sure, chosen = found.selection, found.selection.chosen
    return DayPlan(
        found.chosen, sure.keeps, sure.probability, share, found.points[chosen].damp_share
    )


def _can_be_run(question: SwitchQuestion) -> bool:
    try:
        check(question)
    except InputError:
        return False
    return sum(question.conditions.arrivals_per_h) > EMPTY_CARS


@dataclass(frozen=True, slots=True)
class Season:
    """How many of a season's days need switching.

    Attributes:
        days: days that could be simulated; left_out: those that could not.
        expected: days on which always full does not keep the wish, of those in `days`.
        needs: of every day given, whether it needs switching; None where it was left out.
    """

    days: int
    left_out: int
    expected: int
    needs: tuple[bool | None, ...]

    @property
    def share(self) -> float:
        """Share of days that need switching; NaN without any day."""
        return self.expected / self.days if self.days else math.nan


def season(
    question: SwitchQuestion,
    days: Sequence[Day],
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    draws: int = SEASON_DRAWS,
) -> Season:
    """Days of a season on which always full is not enough, each on its own few draws.

    `draws` runs a day, times a dozen rules in least cost. A day near the limit may come out on
    either side of it on so few draws; how many of a year need switching is surer.
    """
    needs: list[bool | None] = []
    rules = rivals(question)
    for number, (conditions, evening) in enumerate(days):
        # draws of its own: else the luck of few draws would be that of every day
        asked = replace(
            question, conditions=conditions, evening=evening, seed=question.seed + number,
            among=None,
        )  # fmt: skip
        if _can_be_run(asked):
            cells = [(AS_IT_IS, rules)]
            table = outcomes(asked, cells, search_draws(asked, draws), executor)
            needs.append(not is_enough(asked.wish, table))
        else:
            needs.append(None)
        progress(number + 1, len(days))
    known = [need for need in needs if need is not None]
    return Season(len(known), len(needs) - len(known), sum(known), tuple(needs))


# ---- as plain content ----------------------------------------------------------------------------

COMING_SCHEMA = "clothcast.coming/2"


def day_plan_content(plan: DayPlan) -> dict[str, Any]:
    """The plan of a day ahead; `rule` is None where there is none."""
    return {
        "rule": None if plan.rule is None else asdict(plan.rule),
        "switches": plan.switches,
        "keeps": plan.keeps,
        "probability": plain(plan.probability),
        "damp_share": plain(plan.damp_share),
        "full_damp_share": plain(plan.full_share),
    }


def season_content(
    found: Season, days: Sequence[date], unplanned: Mapping[date, str], draws: int
) -> dict[str, Any]:
    """How many days need switching, in all and month by month.

    Args:
        days: those of `found`, in its order.
        unplanned: further days of the season on which there is nothing to plan: ``closed``,
            ``no cars``, or ``unknown`` where nothing can be expected.
        draws: simulated days of each.
    """
    needs = dict(zip(days, found.needs, strict=True))
    every = sorted([*days, *unplanned])
    months = dict.fromkeys((day.year, day.month) for day in every)
    return {
        "first": every[0].isoformat(),
        "last": every[-1].isoformat(),
        "days": found.days,
        "left_out": found.left_out,
        "closed": sum(why == "closed" for why in unplanned.values()),
        "no_cars": sum(why == "no cars" for why in unplanned.values()),
        "unknown": sum(why == "unknown" for why in unplanned.values()),
        "expected": found.expected,
        "draws": draws,
        "months": [
            {
                "year": year,
                "month": month,
                "days": len(known),
                "expected": sum(known),
            }
            for year, month in months
            for known in [_known(needs, year, month)]
        ],
    }


def _known(needs: Mapping[date, bool | None], year: int, month: int) -> list[bool]:
    """Whether each day of a month that could be simulated needs switching."""
    return [
        need
        for day, need in needs.items()
        if need is not None and (day.year, day.month) == (year, month)
    ]
