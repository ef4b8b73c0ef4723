"""How many days of a year need switching, each told by few draws of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date

from sim.day.engine import AS_IT_IS, Told, quiet
from sim.decide.switching.choice import is_enough
from sim.decide.switching.coming import Day, DayState, can_be_run
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws

YEAR_DRAWS = 16
"""A whole block of drawn sites: with four, a day far from the limit was often on the wrong side."""


@dataclass(frozen=True, slots=True)
class MonthCount:
    """Days of a month that could be simulated, and on how many of them always full is too little;
    `first` is the month's first day in the year that is counted."""

    first: date
    days: int
    expected: int


@dataclass(frozen=True, slots=True)
class YearCount:
    """How many days of a year need switching.

    Attributes:
        days: that could be simulated; expected: of these, days on which always full does not keep
            the wish.
        left_out, closed, no_cars, unknown: days that could not be simulated, on which no car is let
            in, none expected, or nothing can be expected.
        draws: simulated days of each.
    """

    first: date
    last: date
    days: int
    expected: int
    left_out: int
    closed: int
    no_cars: int
    unknown: int
    draws: int
    months: tuple[MonthCount, ...]


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
        if can_be_run(asked):
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
