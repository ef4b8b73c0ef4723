"""The answer on a season: its days, laundry days, changes of sets with their windows, orders, cost
by month, and what else helps on peak days."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.replicate import day_range
from sim.day.rules import parse_rule
from sim.decide.cloth.answer import (
    ByRule,
    DayFound,
    LeftOut,
    Month,
    OrderBy,
    Ranged,
    SeasonAnswer,
    StockPlan,
)
from sim.decide.cloth.forecast import (
    Futures,
    WearAhead,
    draw_futures,
    expected_changes,
    orders_by,
)
from sim.decide.cloth.options import OptionsQuestion, options_of, weigh_options
from sim.decide.cloth.rotation import Owned, Want, away_hours, compare_owned
from sim.decide.cloth.season import (
    FULL,
    KEPT,
    PLANNED,
    SeasonDay,
    SeasonQuestion,
    SeasonRun,
    run_season,
)
from sim.decide.cloth.stock import plan_stock, stock_problems
from sim.inputs import WEIGHINGS, Site
from sim.learn.cloth_life import LifePosterior

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
NOON_H = 12.0
SUMS = tuple(name for name in KEPT if not name.endswith("_share"))
"""Figures that add up over days."""


@dataclass(frozen=True, slots=True)
class Rotation:
    """The sets in use and how they are changed.

    Attributes:
        ages: wear of each set, the one on the wheel first [full-wipe equivalents].
        posterior: what is believed of a set's life.
        planned_age: when a set is changed on plan; infinite where it is left to wear out.
        new: sets of the record that were never put on.
        ended: sets of the record whose life has ended.
    """

    ages: tuple[float, ...]
    posterior: LifePosterior
    planned_age: float
    new: int = 0
    ended: int = 0


@dataclass(frozen=True, slots=True)
class SeasonAsked:
    """Everything that a season depends on.

    Attributes:
        question: its open days, at least one; options: its peak days and what is known of the site.
        rotation: the sets in use and what is believed of their lives.
        left_out: days without figures, in order.
    """

    question: SeasonQuestion
    options: OptionsQuestion
    rotation: Rotation
    left_out: tuple[LeftOut, ...]

    @property
    def steps(self) -> int:
        """Days of the season, and simulated days of the options' drawn sites."""
        return len(self.question.days) + len(self.options.peaks) * self.options.shape.runs

    @property
    def simulated(self) -> int:
        """Simulated days, counted over rules and options."""
        site, runs = self.question.site, self.options.shape.runs
        options = sum(len(options_of(site, one.planned)) for one in self.options.peaks)
        return 2 * len(self.question.days) * self.question.replications + runs * options


def season_answer(
    asked: SeasonAsked,
    libraries: Mapping[str, str],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SeasonAnswer:
    """The answer.

    Args:
        libraries: versions of what computes it.
        executor: runs days side by side; no figure depends on it.
        progress: told how many steps are done, of how many.

    Raises:
        InputError: with every problem of the first day that has any.
    """
    question, rotation, total = asked.question, asked.rotation, asked.steps
    site, days = question.site, question.days
    run = run_season(question, executor, lambda done, _: progress(done, total))
    peaks = peak_days(days, site.wishes.peak_days_share)
    laundered = laundry_days(len(days), site.wear.launder_every_days)
    futures = _futures(run, rotation, laundered)
    dates, cars = [one.day for one in days], [one.cars for one in days]
    years = ((dates[-1] - dates[0]).days + 1) / 365.0
    demand = float(futures.counts.mean()) / years
    problems = stock_problems(site, demand)
    stock: StockPlan | None = None
    orders: tuple[OrderBy, ...] = ()
    if not problems:
        stock = plan_stock(site, demand, float(futures.counts.var()) / years, rotation.new)
        orders = orders_by(
            futures, stock.position, stock.order.quantity, stock.asked_service, dates
        )
    begun, belief, wishes = len(days), asked.options.belief, site.wishes
    options = weigh_options(asked.options, executor, lambda done, _: progress(begun + done, total))
    return SeasonAnswer(
        site=site.name,
        first=dates[0],
        last=dates[-1],
        seed=question.seed,
        replications=question.replications,
        libraries=libraries,
        weighed=belief is not None and set(belief.weighed) == set(WEIGHINGS),
        days=tuple(_days(run, peaks, laundered)),
        left_out=asked.left_out,
        totals={name: ByRule(run.total(name, FULL), run.total(name, PLANNED)) for name in SUMS},
        months=tuple(_months(run, laundered, futures)),
        lives=rotation.ended,
        ages=rotation.ages,
        planned_age=rotation.planned_age,
        changes=expected_changes(futures, dates, cars),
        sets_per_year=float(futures.counts.mean()),
        laundry_days=tuple(day for day, due in zip(dates, laundered, strict=True) if due),
        orders=orders,
        stock=stock,
        stock_problems=tuple(problem.noted() for problem in problems),
        owned=tuple(_owned(site, days, peaks, laundered)),
        options=tuple(options),
        peaks=tuple(one.day for one in asked.options.peaks),
        peak_days=asked.options.count,
        allowed={
            "damp_share": wishes.allowed_damp_share,
            "cars_lost": wishes.allowed_lost_cars,
            "wait_p90_s": wishes.allowed_wait_p90_s,
        },
    )


def peak_days(days: Sequence[SeasonDay], share: float) -> Bools:
    """The busiest share of days by expected cars, at least one; of equal days the earlier."""
    cars = np.array([one.cars for one in days])
    marks = np.zeros(len(days), bool)
    count = max(1, math.floor(share * len(days))) if len(days) else 0
    marks[np.argsort(-cars, kind="stable")[:count]] = True
    return marks


def laundry_days(count: int, every: int) -> Bools:
    """Mornings on which the set on the wheel goes to the laundry, after each `every` open days."""
    at = np.arange(count)
    return np.asarray((at > 0) & (at % every == 0))


def _futures(run: SeasonRun, rotation: Rotation, laundered: Bools) -> Futures:
    """What sets may do in the season's days."""
    site = run.asked.site
    wear = WearAhead(
        run.means("wear_cars", PLANNED),
        run.luck("wear_cars", PLANNED),
        laundered,
        turns(site, laundered),
        site.wear.launder_wear,
        site.stock.year_level_cv,
    )
    lead = (site.wear.order_lead_days, site.stock.order_lead_sd_days)
    return draw_futures(
        rotation.ages, wear, rotation.posterior, rotation.planned_age, lead, run.asked.seed
    )


def turns(site: Site, laundered: Bools) -> Bools:
    """Mornings on which the next set is hung: each but the first where a dry set is hung every
    morning, else those of the laundry."""
    if not site.wear.dry_set_at_opening:
        return laundered
    return np.asarray(np.arange(len(laundered)) > 0)


def _owned(site: Site, days: Sequence[SeasonDay], peaks: Bools, laundered: Bools) -> list[Owned]:
    """What numbers of sets are good for, by the mean time between two mornings' changes."""
    asked = wants(site, days, peaks, laundered)
    mornings = [want.away_h for want in asked if not want.is_peak]
    if not mornings:
        away = away_hours(site, laundered=True)
        return compare_owned(site, asked, 24.0 * site.wear.launder_every_days, away)
    between = 24.0 * ((days[-1].day - days[0].day).days + 1) / len(mornings)
    return compare_owned(site, asked, between, sum(mornings) / len(mornings))


def wants(
    site: Site, days: Sequence[SeasonDay], peaks: Bools, laundered: Bools
) -> tuple[Want, ...]:
    """The changes that a calendar asks for: in the morning, to the laundry or to dry, and a dry set
    at noon of peak days."""
    turned = turns(site, laundered)
    found = []
    for at, one in enumerate(days):
        start = 24.0 * (one.day - days[0].day).days
        if turned[at]:
            away = away_hours(site, laundered=bool(laundered[at]))
            found.append(Want(start + site.line.open_h, away, False))
        if peaks[at]:
            noon = min(max(NOON_H, site.line.open_h), site.line.close_h)
            found.append(Want(start + noon, away_hours(site, laundered=False), True))
    return tuple(found)


def _months(run: SeasonRun, laundered: Bools, futures: Futures) -> Iterator[Month]:
    days, money = run.asked.days, run.asked.site.money
    means = {name: run.means(name, PLANNED) for name in SUMS}
    for year, month in sorted({(one.day.year, one.day.month) for one in days}):
        at = [i for i, d in enumerate(days) if (d.day.year, d.day.month) == (year, month)]
        figures = {name: float(values[at].sum()) for name, values in means.items()}
        worn = float(futures.worn_per_day[at].sum())
        sets = float(futures.planned_per_day[at].sum()) + worn
        count = int(laundered[at].sum())
        yield Month(
            days[at[0]].day,
            len(at),
            figures,
            count,
            count * money.launder_price,
            sets,
            worn,
            sets * money.set_price + worn * money.unplanned_change_cost,
            # the cost of a day holds its wear at the price of a set; sets are bought instead
            figures["cost"] - figures["cost_wear"],
        )


def _days(run: SeasonRun, peaks: Bools, laundered: Bools) -> Iterator[DayFound]:
    for at, one in enumerate(run.asked.days):
        yield DayFound(
            one.day,
            one.cars,
            max(one.conditions.temp_c),
            one.planned.rule,
            parse_rule(one.planned.rule).words(),
            one.planned.cloth,
            bool(peaks[at]),
            bool(laundered[at]),
            {
                name: ByRule(_figure(values[at, FULL]), _figure(values[at, PLANNED]))
                for name, values in run.figures.items()
            },
        )


def _figure(values: Floats) -> Ranged:
    """Expected value and day range of a figure on a day, as a plan of that day gives them."""
    seen = values[~np.isnan(values)]
    return (float(np.mean(seen)) if len(seen) else math.nan, *day_range(values))
