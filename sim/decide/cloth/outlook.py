"""The answer on a season: its days, laundry days, changes of sets with their windows, orders, cost
by month, and what else helps on peak days.

When sets come off for good is told by many futures of the same year: how demand's level lies beside
the one expected, the luck of single days, and how long each set lasts, drawn from what is believed
of a set's life given that it has lasted until now. A set comes off at the planned age or when it
wears out, whichever is first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.replicate import day_range
from sim.day.rules import parse_rule
from sim.decide.cloth.answer import (
    ByRule,
    DayFound,
    Due,
    ExpectedChange,
    LeftOut,
    Month,
    OrderBy,
    Ranged,
    SeasonAnswer,
)
from sim.decide.cloth.season import (
    FULL,
    KEPT,
    PLANNED,
    SUMS,
    OptionsQuestion,
    SeasonDay,
    SeasonQuestion,
    SeasonRun,
    first_season,
    limits,
    options_of,
    run_season,
    weigh_options,
)
from sim.decide.cloth.stock import (
    Owned,
    StockPlan,
    Want,
    away_hours,
    compare_owned,
    plan_stock,
    stock_problems,
)
from sim.decide.firm import Standing
from sim.inputs import Site
from sim.learn.cloth_life import LifePosterior

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
FUTURES = 2_000
"""Futures that are drawn; a quantile of 10 % is then sure to 0.7 percentage points."""
LOW, HIGH = 0.1, 0.9
"""The window in which a change falls with 80 % probability."""
STREAM = 11
NEVER = math.inf


@dataclass(frozen=True, slots=True)
class WearAhead:
    """Wear of coming days, open days alone, in order.

    Attributes:
        mean, sd: of a day's wear by the planned rule [full-wipe equivalents], shape (days,).
        laundered: whether the set on the wheel goes to the laundry that morning.
        turned: whether the next set is hung that morning; at every laundry, maybe more often.
        launder_wear: wear of one laundering [full-wipe equivalents].
        level_cv: how far the whole year's demand may lie from what is expected, as share.
    """

    mean: Floats
    sd: Floats
    laundered: Bools
    turned: Bools
    launder_wear: float
    level_cv: float


@dataclass(frozen=True, slots=True)
class Futures:
    """Sets that come off for good, by future.

    Attributes:
        days: number of the open day of each change in turn, `NEVER` beyond the season; shape
            (futures, changes). worn: whether that set wore out before its planned age.
        planned_per_day, worn_per_day: expected number on each open day, shape (days,).
        delivery_days: a delivery time in each future [days].
    """

    days: Floats
    worn: Bools
    planned_per_day: Floats
    worn_per_day: Floats
    delivery_days: Floats

    @property
    def counts(self) -> NDArray[np.int64]:
        """Sets that come off within the season, in each future."""
        return np.asarray(np.isfinite(self.days).sum(axis=1))


def draw_futures(
    ages: Sequence[float],
    wear: WearAhead,
    posterior: LifePosterior,
    planned_age: float,
    lead_days: tuple[float, float],
    seed: int,
    futures: int = FUTURES,
) -> Futures:
    """Futures of a season; `ages` and `planned_age` are those of a `Rotation`.

    Args:
        lead_days: mean and standard deviation of a delivery [days].
    """
    rng = Generator(PCG64(SeedSequence([seed, STREAM])))
    count, days = len(ages), len(wear.mean)
    level = _level(rng, wear.level_cv, futures)
    luck = rng.standard_normal((days, futures))
    age = np.tile(np.asarray(ages, dtype=float)[:, None], (1, futures))
    limit = _lives(rng, posterior, age)
    comes: list[tuple[Floats, Bools]] = []
    planned, worn = np.zeros(days), np.zeros(days)
    on = 0
    for day in range(days):
        if wear.laundered[day]:
            age[on] += wear.launder_wear
        if wear.turned[day]:
            on = (on + 1) % count
        age[on] += np.maximum(0.0, level * wear.mean[day] + wear.sd[day] * luck[day])
        is_worn = age[on] >= limit[on]
        is_off = is_worn | (age[on] >= planned_age)
        fresh = int(is_off.sum())
        if not fresh:
            continue
        planned[day], worn[day] = (is_off & ~is_worn).mean(), is_worn.mean()
        comes.append((np.where(is_off, float(day), NEVER), is_worn))
        age[on, is_off] = 0.0
        limit[on, is_off] = _lives(rng, posterior, np.zeros(fresh))
    ordered, which = _in_turn(comes, futures)
    mean, sd = lead_days
    delivery = np.full(futures, mean)
    if sd > 0.0 and mean > 0.0:
        delivery = rng.gamma((mean / sd) ** 2, sd**2 / mean, futures)
    return Futures(ordered, which, planned, worn, delivery)


def _level(rng: Generator, cv: float, futures: int) -> Floats:
    sigma = math.sqrt(math.log1p(cv**2))
    return np.asarray(np.exp(sigma * rng.standard_normal(futures) - 0.5 * sigma**2))


def _lives(rng: Generator, posterior: LifePosterior, age: Floats) -> Floats:
    """Life of each set that has reached an age: η·((age/η)^β + E)^(1/β), E exponential.

    That a set has lasted so long is told to the posterior before, as a life that is censored.
    """
    at = rng.choice(len(posterior.weight), size=age.shape, p=posterior.weight)
    beta, eta = posterior.beta[at], posterior.eta[at]
    return np.asarray(eta * ((age / eta) ** beta + rng.exponential(size=age.shape)) ** (1.0 / beta))


def _in_turn(comes: list[tuple[Floats, Bools]], futures: int) -> tuple[Floats, Bools]:
    """The changes of each future one after another, gaps closed."""
    if not comes:
        return np.full((futures, 0), NEVER), np.zeros((futures, 0), bool)
    days = np.stack([day for day, _ in comes], axis=1)
    worn = np.stack([mark for _, mark in comes], axis=1)
    most = int(np.isfinite(days).sum(axis=1).max())
    order = np.argsort(days, axis=1, kind="stable")[:, :most]
    return np.take_along_axis(days, order, axis=1), np.take_along_axis(worn, order, axis=1)


def quantile_day(days: Floats, share: float) -> float:
    """The day by which a share of futures has had its change; `NEVER` where fewer ever do."""
    ordered = np.sort(days)
    return float(ordered[max(0, math.ceil(share * len(ordered) - HAIR) - 1)])


HAIR = 1e-9
"""What rounding may add to a whole number of futures."""


def latest_day(days: Floats, share: float) -> float:
    """The latest day that comes no later than `days` in a share of futures."""
    ordered = np.sort(days)
    missed = math.floor((1.0 - share) * len(ordered) + HAIR)
    return float(ordered[min(missed, len(ordered) - 1)])


def named(changes: tuple[ExpectedChange, ...], due: Due | None) -> tuple[ExpectedChange, ...]:
    """The changes, the first one of a set past its age on the morning that is named for it."""
    if due is None or due.best is None or not changes:
        return changes
    first = replace(changes[0], day=due.best, low=due.best, middle=due.best, high=due.best)
    return (first, *changes[1:])


QUIET_DAYS = 3
"""A change is put on the quietest open day within so many days of the middle of its window."""


def expected_changes(
    found: Futures, days: Sequence[date], cars: Sequence[float]
) -> tuple[ExpectedChange, ...]:
    """The changes that are more likely than not to fall within the season.

    Args:
        days: open days of the season; cars: expected on each.
    """
    rows = []
    for at in range(found.days.shape[1]):
        falls = found.days[:, at]
        low, middle, high = (quantile_day(falls, share) for share in (LOW, 0.5, HIGH))
        if not math.isfinite(middle):
            break
        inside = np.isfinite(falls)
        rows.append(
            ExpectedChange(
                number=at + 1,
                day=days[_quiet(days, cars, low, int(middle), high)],
                low=days[int(low)],
                middle=days[int(middle)],
                high=days[int(high)] if math.isfinite(high) else None,
                chance=float(inside.mean()),
                worn_share=float(found.worn[inside, at].mean()),
            )
        )
    return tuple(rows)


def _quiet(
    days: Sequence[date], cars: Sequence[float], low: float, middle: int, high: float
) -> int:
    """The open day with the fewest expected cars within `QUIET_DAYS` of the middle, inside the
    window; of equal ones the nearest."""
    near = [
        at
        for at in range(len(days))
        if abs((days[at] - days[middle]).days) <= QUIET_DAYS and low <= at <= high
    ]
    return min(near, key=lambda at: (cars[at], abs(at - middle), at))


def orders_by(
    found: Futures, position: int, quantity: int, service: float, days: Sequence[date]
) -> tuple[OrderBy, ...]:
    """By when to order, so that the set is there in time in a share `service` of futures.

    Args:
        position: sets in store and on order, which serve the first changes.
        quantity: sets in an order.
        days: open days of the season.
    """
    ahead = np.array([*((day - days[0]).days for day in days), 0], dtype=float)
    rows = []
    for at in range(position, found.days.shape[1], quantity):
        falls = found.days[:, at]
        inside = np.isfinite(falls)
        due = np.where(inside, ahead[np.where(inside, falls, -1).astype(int)], NEVER)
        by = latest_day(due - found.delivery_days, service)
        if not math.isfinite(quantile_day(falls, 0.5)):
            break
        rows.append(OrderBy(days[0] + timedelta(days=math.floor(by)), at + 1, quantity))
    return tuple(rows)


# ---- the answer ----------------------------------------------------------------------------------


NOON_H = 12.0
OF_FIRST = ("wear_cars",)
"""Figures of single days in a first form, where most days have those of another."""


@dataclass(frozen=True, slots=True)
class Rotation:
    """The sets in use and how they are changed.

    Attributes:
        ages: wear of each set, the one on the wheel first [full-wipe equivalents].
        posterior: what is believed of a set's life.
        planned_age: when a set is changed on plan; infinite where it is left to wear out.
        new, ended: sets of the record that were never put on, and those whose life has ended.
        launder_days: open days between launderings that are advised; None where none are, and the
            site's own interval counts.
        rival, standing: what the planned age is held against, and how; None where it was not.
        due: when the set on the wheel is changed, where it is past its age.
        launder_on: morning on which the set on the wheel goes to the laundry; None where the first
            is after `launder_days`.
    """

    ages: tuple[float, ...]
    posterior: LifePosterior
    planned_age: float
    new: int = 0
    ended: int = 0
    launder_days: int | None = None
    rival: float = math.inf
    standing: Standing | None = None
    due: Due | None = None
    launder_on: date | None = None


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
    early: Callable[[SeasonAnswer], None] | None = None,
    stage: Callable[[str], None] = lambda name: None,
) -> SeasonAnswer:
    """The answer.

    Args:
        executor: runs days side by side; no figure depends on it.
        progress: told how many steps of a stage are done, of how many.
        early: handed a first form within seconds, then the whole year without options.
        stage: told of each stage as it begins.

    Raises:
        InputError: with every problem of the first day that has any.
    """
    if early is not None:
        early(_told(asked, first_season(asked.question, executor), libraries))
    stage("days")
    year = _told(asked, run_season(asked.question, executor, progress), libraries)
    if early is not None:
        early(year)
    stage("options")
    return replace(year, options=tuple(weigh_options(asked.options, executor, progress)))


def _told(asked: SeasonAsked, run: SeasonRun, libraries: Mapping[str, str]) -> SeasonAnswer:
    """What a year of days tells, without options."""
    question, rotation, belief = run.asked, asked.rotation, asked.options.belief
    site, days = question.site, question.days
    peaks = peak_days(days, site.wishes.peak_days_share)
    every = rotation.launder_days or site.wear.launder_every_days
    dates, cars = [one.day for one in days], [one.cars for one in days]
    laundered = laundry_days(dates, every, rotation.launder_on)
    futures = _futures(run, rotation, laundered)
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
    return SeasonAnswer(
        site=site.name,
        first=dates[0],
        last=dates[-1],
        seed=question.seed,
        replications=question.replications,
        lived=run.lived,
        libraries=libraries,
        weighed=() if belief is None else tuple(belief.weighed),
        days=tuple(_days(run, peaks, laundered)),
        left_out=asked.left_out,
        totals={name: ByRule(run.total(name, FULL), run.total(name, PLANNED)) for name in SUMS},
        months=tuple(_months(run, laundered, futures)),
        lives=rotation.ended,
        ages=rotation.ages,
        planned_age=rotation.planned_age,
        rival_age=rotation.rival,
        standing=rotation.standing,
        changes=named(expected_changes(futures, dates, cars), rotation.due),
        sets_per_year=float(futures.counts.mean()),
        launder_every=every,
        launder_advised=rotation.launder_days is not None,
        laundry_days=tuple(day for day, due in zip(dates, laundered, strict=True) if due),
        orders=orders,
        stock=stock,
        stock_problems=tuple(problem.noted() for problem in problems),
        owned=tuple(_owned(site, days, peaks, laundered)),
        options=(),
        peaks=tuple(one.day for one in asked.options.peaks),
        peak_days=asked.options.count,
        allowed=limits(site),
    )


def peak_days(days: Sequence[SeasonDay], share: float) -> Bools:
    """The busiest share of days by expected cars, at least one; of equal days the earlier."""
    cars = np.array([one.cars for one in days])
    marks = np.zeros(len(days), bool)
    count = max(1, math.floor(share * len(days))) if len(days) else 0
    marks[np.argsort(-cars, kind="stable")[:count]] = True
    return marks


def laundry_days(days: Sequence[date], every: int, first: date | None = None) -> Bools:
    """Mornings on which the set on the wheel goes to the laundry, after each `every` open days.

    Args:
        first: the first of them, where that is known of the set on the wheel.
    """
    at, begins = np.arange(len(days)), every
    if first is not None:
        begins = sum(day < first for day in days)
    return np.asarray((at >= begins) & ((at - begins) % every == 0))


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
            first=days[at[0]].day,
            days=len(at),
            figures=figures,
            launderings=count,
            laundry_cost=count * money.launder_price,
            sets=sets,
            worn=worn,
            set_cost=sets * money.set_price + worn * money.unplanned_change_cost,
            # the cost of a day holds its wear at the price of a set; sets are bought instead
            running_cost=figures["cost"] - figures["cost_wear"],
        )


def _days(run: SeasonRun, peaks: Bools, laundered: Bools) -> Iterator[DayFound]:
    is_whole = run.lived == len(run.asked.days)
    shown = {name: run.figures[name] for name in (KEPT if is_whole else OF_FIRST)}
    for at, one in enumerate(run.asked.days):
        yield DayFound(
            day=one.day,
            cars=one.cars,
            highest_temp_c=max(one.conditions.temp_c),
            rule=one.planned.rule,
            label=parse_rule(one.planned.rule).words(),
            cloth=one.planned.cloth,
            is_peak=bool(peaks[at]),
            is_laundry=bool(laundered[at]),
            figures={
                name: ByRule(_figure(values[at, FULL]), _figure(values[at, PLANNED]))
                for name, values in shown.items()
            },
        )


def _figure(values: Floats) -> Ranged:
    """Expected value and day range of a figure on a day, as a plan of that day gives them."""
    seen = values[~np.isnan(values)]
    return (float(np.mean(seen)) if len(seen) else math.nan, *day_range(values))
