"""When sets come off for good within a season, and by when new ones have to be ordered.

Many futures of the same year: how demand's level lies beside the one expected, the luck of single
days, and how long each set lasts, drawn from what is believed of a set's life given that it has
lasted until now. A set comes off at the planned age or when it wears out, whichever is first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.decide.cloth.answer import ExpectedChange, OrderBy
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
            (futures, changes).
        worn: whether that set wore out before its planned age.
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
    """Futures of a season.

    Args:
        ages: wear of each set in rotation, the one on the wheel first [full-wipe equivalents].
        planned_age: age at which a set is changed on plan; infinite where it is left to wear out.
        lead_days: mean and standard deviation of a delivery [days].
        seed: root seed.
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
    order = np.argsort(days, axis=1, kind="stable")
    most = int(np.isfinite(days).sum(axis=1).max())
    return (
        np.take_along_axis(days, order, axis=1)[:, :most],
        np.take_along_axis(worn, order, axis=1)[:, :most],
    )


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
                at + 1,
                days[_quiet(days, cars, low, int(middle), high)],
                days[int(low)],
                days[int(middle)],
                days[int(high)] if math.isfinite(high) else None,
                float(inside.mean()),
                float(found.worn[inside, at].mean()),
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
