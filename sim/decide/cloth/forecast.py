"""When sets come off for good within a season, and by when new ones have to be ordered.

Many futures of the same year: how demand's level lies beside the one expected, the luck of single
days, and how long each set lasts, drawn from what is believed of a set's life given that it has
lasted until now. A set comes off at the planned age or when it wears out, whichever is first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

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


@dataclass(frozen=True, slots=True)
class ExpectedChange:
    """The k-th set that comes off for good; days are numbers of open days, maybe `NEVER`.

    Attributes:
        low, middle, high: 10 %, 50 % and 90 % of futures have had it by then.
        chance: that it falls within the season.
        worn_share: of these, share of futures in which the set wore out before its planned age.
    """

    number: int
    low: float
    middle: float
    high: float
    chance: float
    worn_share: float


def expected_changes(found: Futures) -> list[ExpectedChange]:
    """The changes that are more likely than not to fall within the season."""
    rows = []
    for at in range(found.days.shape[1]):
        days = found.days[:, at]
        middle = quantile_day(days, 0.5)
        if not math.isfinite(middle):
            break
        inside = np.isfinite(days)
        rows.append(
            ExpectedChange(
                at + 1,
                quantile_day(days, LOW),
                middle,
                quantile_day(days, HIGH),
                float(inside.mean()),
                float(found.worn[inside, at].mean()),
            )
        )
    return rows


@dataclass(frozen=True, slots=True)
class OrderBy:
    """An order of new sets.

    Attributes:
        for_change: number of the first change that it is for.
        by: days from the season's first midnight by which it has to be placed, may be below 0.
        quantity: sets.
    """

    for_change: int
    by: float
    quantity: int


def orders_by(
    found: Futures, position: int, quantity: int, service: float, days_ahead: Sequence[int]
) -> list[OrderBy]:
    """By when to order, so that the set is there in time in a share `service` of futures.

    Args:
        position: sets in store and on order, which serve the first changes.
        quantity: sets in an order.
        days_ahead: days from the season's first to each open day.
    """
    ahead = np.asarray([*days_ahead, 0], dtype=float)
    rows = []
    for at in range(position, found.days.shape[1], quantity):
        days = found.days[:, at]
        inside = np.isfinite(days)
        due = np.where(inside, ahead[np.where(inside, days, -1).astype(int)], NEVER)
        by = latest_day(due - found.delivery_days, service)
        if not math.isfinite(quantile_day(days, 0.5)):
            break
        rows.append(OrderBy(at + 1, math.floor(by), quantity))
    return rows
