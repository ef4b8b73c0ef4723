"""Plans for the days ahead by a small search each, and how many days of a year need switching."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from datetime import date

from sim.day.engine import AS_IT_IS, Told, quiet
from sim.day.night import PreviousDay
from sim.day.rules import FULL
from sim.decide.switching.answer import DayPlan, DayState, MonthCount, YearCount
from sim.decide.switching.candidates import narrowed, neighbours
from sim.decide.switching.choice import chance_enough, damp_share, is_enough
from sim.decide.switching.question import SwitchQuestion, check, outcomes, search_draws
from sim.decide.switching.search import SamplingBudget, search
from sim.errors import InputError
from sim.inputs import Conditions

Day = tuple[Conditions, PreviousDay | None]
"""What a day is expected to bring, and the open day before it."""

ROUGH, FINE = SamplingBudget(sure=16), SamplingBudget(sure=32)
"""Draws of every rule of the coarse grid, and of every neighbour of the best of it."""
DRAWS = 16
SURE = 0.9
YEAR_DRAWS = 16
"""A whole block of drawn sites: with four, a day far from the limit was often on the wrong side."""
EMPTY_CARS = 1e-9


def plan_days(
    question: SwitchQuestion,
    days: Sequence[Day],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> tuple[DayPlan | None, ...]:
    """A plan for each day, None for one that can't be simulated, such as one with frost, or without
    cars; the question's own day is not looked at.

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


def _plan(question: SwitchQuestion, executor: Executor | None, told: Told) -> DayPlan | None:
    if not _can_be_run(question):
        return None
    rules = question.rivals
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
    sure = found.selection
    own = float(damp_share(found.outcomes[sure.chosen]).mean())
    return DayPlan(found.chosen, sure.keeps, sure.probability, own, share)


def _can_be_run(question: SwitchQuestion) -> bool:
    try:
        check(question)
    except InputError:
        return False
    return sum(question.conditions.arrivals_per_h) > EMPTY_CARS


def need_switching(
    question: SwitchQuestion,
    days: Sequence[Day],
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    draws: int = YEAR_DRAWS,
) -> tuple[bool | None, ...]:
    """Whether always full is not enough on each day, by its own few draws; None for a day that
    can't be simulated.

    `draws` runs a day, times a dozen rules in least cost. A day near the limit may come out on
    either side of it on so few draws; how many of a year need switching is surer.
    """
    needs: list[bool | None] = []
    rules = question.rivals
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
    return tuple(needs)


def count_year(
    needs: Mapping[date, bool | None], unplanned: Mapping[date, DayState], draws: int = YEAR_DRAWS
) -> YearCount:
    """How many days need switching, in all and month by month.

    Args:
        needs: what `need_switching` says of each day.
        unplanned: further days of the year on which there is nothing to plan.
        draws: simulated days of each.
    """
    every = sorted([*needs, *unplanned])
    months: dict[tuple[int, int], date] = {}
    for day in every:
        months.setdefault((day.year, day.month), day)
    known = [(day, need) for day, need in needs.items() if need is not None]
    why = list(unplanned.values())
    return YearCount(
        first=every[0],
        last=every[-1],
        days=len(known),
        expected=sum(need for _day, need in known),
        left_out=len(needs) - len(known),
        closed=why.count("closed"),
        no_cars=why.count("no cars"),
        unknown=why.count("unknown"),
        draws=draws,
        months=tuple(
            MonthCount(first, len(own), sum(own))
            for month, first in months.items()
            for own in [[need for day, need in known if (day.year, day.month) == month]]
        ),
    )
