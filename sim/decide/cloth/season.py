"""A year of expected days: each by always full and by the rule planned for it.

Every day is what `sim.decide.compare` makes of the same scenarios, replications and seed with the
guesses at their middle values; only what a season needs of each simulated day is kept. All days
meet the same draws, so the luck of a year is told from the spread of each day, day for day
independent, and the run error from the replications, which go through the whole year.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions
from sim.day.costs import OF_COST, Prices, money_of
from sim.day.draw import PURPOSES, DayDraw
from sim.day.kernel.many import TALLY
from sim.day.night import PreviousDay
from sim.day.parallel import parallel_map
from sim.day.replicate import mean_interval, scenario_cell
from sim.decide.compare import Question, check_question
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site

Floats = NDArray[np.float64]
KEPT = (
    "cars_washed", "cars_lost", "damp_cars", "damp_share", "full_share", "finished_cars",
    "rewashed_cars", "wear_cars", "margin", "cost", "takings", "cost_washing", *OF_COST,
)  # fmt: skip
"""Figures of a day that a season keeps, of those in `sim.day.figures`."""
RULES = ("full", "planned")
"""The two rules of each day: always full, and the one that is planned."""
FULL, PLANNED = 0, 1
"""Their places."""


@dataclass(frozen=True, slots=True)
class SeasonDay:
    """An open day of a season.

    Attributes:
        conditions: what it is expected to bring.
        evening: the last open day before; None where there is none.
        planned: rule, dry sets and changes that are planned for it.
    """

    day: date
    conditions: Conditions
    evening: PreviousDay | None
    planned: Scenario

    @property
    def cars(self) -> float:
        """Cars expected."""
        return sum(self.conditions.arrivals_per_h)

    def scenarios(self) -> tuple[Scenario, Scenario]:
        """Always full and as planned, on the same settings and sets."""
        return replace(self.planned, name=RULES[0], rule="full"), self.planned


@dataclass(frozen=True, slots=True)
class SeasonQuestion:
    """Everything that a season's figures depend on.

    Attributes:
        site: the site, its guesses at their middle values.
        days: open days in order; closed ones are left out.
        replications: simulated days of each day and rule.
        seed: root seed.
    """

    site: Site
    days: tuple[SeasonDay, ...]
    replications: int
    seed: int

    def of_day(self, at: int) -> Question:
        """The question that `compare` would be asked of a day."""
        one = self.days[at]
        return Question(
            self.site, one.conditions, one.scenarios(), self.replications, self.seed, one.evening
        )


@dataclass(frozen=True, slots=True)
class SeasonRun:
    """Figures of all days: by name of `KEPT`, shape (days, rules, replications)."""

    asked: SeasonQuestion
    figures: dict[str, Floats]

    def means(self, name: str, rule: int) -> Floats:
        """Expected value of a figure on each day, days without it left out; shape (days,)."""
        return _mean(self.figures[name][:, rule])

    def luck(self, name: str, rule: int) -> Floats:
        """Standard deviation of a figure between single days, on each day; shape (days,)."""
        values = self.figures[name][:, rule]
        if values.shape[1] < 2:
            return np.zeros(len(values))
        return np.asarray(np.nanstd(values, axis=1, ddof=1))

    def total(self, name: str, rule: int) -> tuple[float, float, float]:
        """Expected total of a figure over the season with its run error: mean, low, high."""
        return mean_interval(self.figures[name][:, rule].sum(axis=0))


def _mean(values: Floats) -> Floats:
    seen = ~np.isnan(values)
    total = np.where(seen, values, 0.0).sum(axis=-1)
    count = seen.sum(axis=-1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def run_season(
    asked: SeasonQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SeasonRun:
    """Simulate every day of a season.

    Args:
        executor: runs days side by side; the figures don't depend on it.
        progress: told after each day how many are done, of how many.

    Raises:
        InputError: with every problem of the first day that has any.
    """
    _check(asked)
    total = len(asked.days)
    questions = (asked.of_day(at) for at in range(total))
    rows = list(parallel_map(run_date, questions, executor, lambda done: progress(done, total)))
    size = (total, len(RULES), asked.replications)
    whole = np.stack(rows, axis=1) if rows else np.empty((len(KEPT), *size))
    return SeasonRun(asked, dict(zip(KEPT, whole, strict=True)))


def _check(asked: SeasonQuestion) -> None:
    """Raise InputError with every problem of the first day that has any; what days share is looked
    at once."""
    told: list[Scenario] = []
    for at, one in enumerate(asked.days):
        if one.planned in told:
            problems = check_conditions(asked.site, one.conditions)
        else:
            problems = check_question(asked.of_day(at))
            told.append(one.planned)
        if problems:
            raise InputError(problems)


def run_date(question: Question) -> Floats:
    """Figures of one day under each scenario: shape (KEPT, scenarios, replications).

    Scenarios must differ in their rule alone.
    """
    day = question.first_day
    sets = day.sets(question.scenarios[0].cloth)
    asked = [rule for one in question.scenarios for rule in scenario_cell(day.site, one)[1]]
    rules = tuple(dict.fromkeys(asked))
    places = [rules.index(rule) for rule in asked]
    found = np.empty((len(KEPT), len(asked), question.replications))
    expected = sum(question.conditions.arrivals_per_h)
    for number in range(question.replications):
        rows = day.replication(day_draw(question.seed, number, expected)).tallies(rules, sets)
        kept = np.array([list(_figures(day.prices, row)) for row in rows.tolist()])
        found[:, :, number] = kept[places].T
    return found


ROOM = 3_072
"""Variates of each purpose that are drawn at once; a day with more cars draws its own."""


@lru_cache(maxsize=64)
def _shared_draw(seed: int, number: int) -> DayDraw:
    """The draws of a replication, which every day of the season shares; nobody makes them grow."""
    draw = DayDraw(seed, number)
    for purpose in PURPOSES:
        draw.take(purpose, ROOM)
    return draw


def day_draw(seed: int, number: int, cars: float) -> DayDraw:
    """The draws of a replication for a day that expects so many cars."""
    return _shared_draw(seed, number) if 2.0 * cars + 500.0 < ROOM else DayDraw(seed, number)


def _figures(prices: Prices, row: list[float]) -> Iterator[float]:
    """What `sim.day.records` makes of a day, from what `tallies` keeps of it."""
    known = dict(zip(TALLY, row, strict=True))
    washed = known["cars_washed"]
    known["damp_share"] = known["damp_cars"] / washed if washed else math.nan
    known["full_share"] = known["full_cars"] / washed if washed else math.nan
    known |= money_of(prices, known, max(known["last_s"], prices.close_s))
    return (float(known[name]) for name in KEPT)
