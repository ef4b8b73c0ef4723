"""A season's calendar: laundry days, changes of sets with their windows, orders, cost by month."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.day.replicate import day_range
from sim.decide.cloth.forecast import (
    ExpectedChange,
    Futures,
    OrderBy,
    WearAhead,
    draw_futures,
    expected_changes,
    orders_by,
)
from sim.decide.cloth.rotation import Owned, Want, away_hours, compare_owned
from sim.decide.cloth.season import KEPT, SeasonDay, SeasonRun
from sim.decide.cloth.stock import StockPlan, plan_stock, stock_problems
from sim.errors import InputProblem
from sim.inputs import Site
from sim.learn.cloth_life import LifePosterior

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
FULL, PLANNED = 0, 1
QUIET_DAYS = 3
"""A change is put on the quietest open day within so many days of the middle of its window."""
NOON_H = 12.0


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
class Month:
    """A month's expected totals by the planned rule.

    Attributes:
        first: its first day in the season.
        figures: by name of `sim.decide.cloth.season.KEPT`, but for shares.
        launderings: launderings; laundry_cost: of them [money].
        sets: sets that come off for good, expected; worn: of these before their planned age.
        set_cost: new sets, and what unplanned changes cost more [money].
        running_cost: the days' cost without the wear that `set_cost` pays for [money].
    """

    first: date
    days: int
    figures: dict[str, float]
    launderings: int
    laundry_cost: float
    sets: float
    worn: float
    set_cost: float
    running_cost: float

    @property
    def total(self) -> float:
        """Everything together [money]."""
        return self.running_cost + self.laundry_cost + self.set_cost


@dataclass(frozen=True, slots=True)
class Outlook:
    """The calendar of a season.

    Attributes:
        peaks, laundered: marks of each open day.
        futures: what sets may do.
        changes: expected changes; quiet: open day on which each is best put.
        orders: by when to order; empty with `problems`.
        stock: reorder point and quantity; None with `problems`.
        owned: what numbers of sets are good for.
    """

    run: SeasonRun
    peaks: Bools
    laundered: Bools
    futures: Futures
    changes: tuple[ExpectedChange, ...]
    quiet: tuple[int, ...]
    orders: tuple[OrderBy, ...]
    stock: StockPlan | None
    problems: tuple[InputProblem, ...]
    owned: tuple[Owned, ...]
    months: tuple[Month, ...]

    @property
    def ahead(self) -> list[int]:
        """Days from the first open day to each."""
        days = self.run.asked.days
        return [(one.day - days[0].day).days for one in days]


def peak_days(days: Sequence[SeasonDay], share: float) -> Bools:
    """The busiest share of days by expected cars, at least one; of equal days the earlier."""
    cars = np.array([sum(one.conditions.arrivals_per_h) for one in days])
    marks = np.zeros(len(days), bool)
    count = max(1, math.floor(share * len(days))) if len(days) else 0
    marks[np.argsort(-cars, kind="stable")[:count]] = True
    return marks


def laundry_days(count: int, every: int) -> Bools:
    """Mornings on which the set on the wheel goes to the laundry, after each `every` open days."""
    at = np.arange(count)
    return np.asarray((at > 0) & (at % every == 0))


def look_ahead(run: SeasonRun, rotation: Rotation) -> Outlook:
    """The calendar that follows from a season's days and the sets in use.

    Raises:
        ValueError: a season without any open day.
    """
    site, days = run.asked.site, run.asked.days
    if not days:
        raise ValueError("a season needs an open day")
    peaks = peak_days(days, site.wishes.peak_days_share)
    laundered = laundry_days(len(days), site.wear.launder_every_days)
    wear = WearAhead(
        run.means("wear_cars", PLANNED),
        run.luck("wear_cars", PLANNED),
        laundered,
        turns(site, laundered),
        site.wear.launder_wear,
        site.stock.year_level_cv,
    )
    lead = (site.wear.order_lead_days, site.stock.order_lead_sd_days)
    futures = draw_futures(
        rotation.ages, wear, rotation.posterior, rotation.planned_age, lead, run.asked.seed
    )
    changes = tuple(expected_changes(futures))
    ahead = [(one.day - days[0].day).days for one in days]
    years = (ahead[-1] + 1) / 365.0
    demand = float(futures.counts.mean()) / years
    problems = tuple(stock_problems(site, demand))
    stock: StockPlan | None = None
    orders: tuple[OrderBy, ...] = ()
    if not problems:
        stock = plan_stock(site, demand, float(futures.counts.var()) / years, rotation.new)
        orders = tuple(
            orders_by(
                futures, stock.position, int(stock.order.quantity), stock.asked_service, ahead
            )
        )
    return Outlook(
        run,
        peaks,
        laundered,
        futures,
        changes,
        tuple(_quiet(days, ahead, change) for change in changes),
        orders,
        stock,
        problems,
        tuple(_owned(site, wants(site, days, peaks, laundered), ahead)),
        tuple(_months(site, run, laundered, futures)),
    )


def _quiet(days: Sequence[SeasonDay], ahead: Sequence[int], change: ExpectedChange) -> int:
    """The open day with the fewest expected cars within `QUIET_DAYS` of the middle, inside the
    window; of equal ones the nearest."""
    middle = int(change.middle)
    near = [
        at
        for at in range(len(days))
        if abs(ahead[at] - ahead[middle]) <= QUIET_DAYS and change.low <= at <= change.high
    ]
    return min(
        near,
        key=lambda at: (sum(days[at].conditions.arrivals_per_h), abs(at - middle), at),
    )


def turns(site: Site, laundered: Bools) -> Bools:
    """Mornings on which the next set is hung: each but the first where a dry set is hung every
    morning, else those of the laundry."""
    if not site.wear.dry_set_at_opening:
        return laundered
    return np.asarray(np.arange(len(laundered)) > 0)


def _owned(site: Site, asked: Sequence[Want], ahead: Sequence[int]) -> list[Owned]:
    """What numbers of sets are good for, by the mean time between two mornings' changes."""
    mornings = [want.away_h for want in asked if not want.is_peak]
    if not mornings:
        away = away_hours(site, laundered=True)
        return compare_owned(site, asked, 24.0 * site.wear.launder_every_days, away)
    between = 24.0 * (ahead[-1] + 1) / len(mornings)
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


def _months(site: Site, run: SeasonRun, laundered: Bools, futures: Futures) -> list[Month]:
    days, money = run.asked.days, site.money
    means = {name: run.means(name, PLANNED) for name in KEPT if not name.endswith("_share")}
    months = sorted({(one.day.year, one.day.month) for one in days})
    rows = []
    for year, month in months:
        at = [i for i, d in enumerate(days) if (d.day.year, d.day.month) == (year, month)]
        figures = {name: float(values[at].sum()) for name, values in means.items()}
        worn = float(futures.worn_per_day[at].sum())
        sets = float(futures.planned_per_day[at].sum()) + worn
        count = int(laundered[at].sum())
        # the cost of a day holds its wear at the price of a set; sets are bought instead
        running = figures["cost"] - figures["cost_wear"]
        rows.append(
            Month(
                days[at[0]].day,
                len(at),
                figures,
                count,
                count * money.launder_price,
                sets,
                worn,
                sets * money.set_price + worn * money.unplanned_change_cost,
                running,
            )
        )
    return rows


def figure_of(run: SeasonRun, name: str, at: int, rule: int) -> tuple[float, float, float]:
    """Expected value and day range of a figure on a day, as a plan of that day gives them."""
    values = run.figures[name][at, rule]
    seen = values[~np.isnan(values)]
    mean = float(np.mean(seen)) if len(seen) else math.nan
    return (mean, *day_range(values))
