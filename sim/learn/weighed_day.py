"""What a day was like on which strips were weighed: its own cars and air, as far as known.

A day is weighed because it is busy, seldom because it is as expected. What its cars really were
is taken from the first of these that there is:

1. the site's counts of that very day, hour by hour until the last weighing; hours without a
   count are scaled like those with one, as long as most of the cars fall into counted hours;
2. the cars washed until a weighing, which whoever weighed has noted with it: each simulated day
   is then made to have washed as many (`sim.learn.weighed_cloth`);
3. nothing: its cars are as unsure as those of any day that the counts lead to expect, level, day
   factor and hours alike (`sim.learn.demand_spread`), its level more so because the day was picked,
   and drawn anew for every drawn site; where counts tell nothing of that, by a guess.

Its air is that of the stored weather of the day or of its season, with what was noted as felt.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Literal

from sim.day.night import PreviousDay
from sim.inputs import Conditions, DemandSpread, History, HourCount, Weighing

Known = Literal["counts", "so far", "nothing"]
"""What the cars of a weighed day are taken from: its counts, the cars so far, or nothing."""

MOST = 0.5
"""Share of the cars expected until a weighing that must fall into counted hours."""
LIKE_DAYS = 4
"""A mean of so many like days is what a day is expected from, at the least."""
PICKED_CV = 0.2
"""How much further the level of a day may be off because it was picked for weighing, as a busy day
or as one with time for it: a coefficient of variation, a guess. The days that counts tell of were
not picked: by their spread alone 90 % ranges held 82 to 95 of 128 truths on days 20 to 35 % quieter
than expected."""


@dataclass(frozen=True, slots=True)
class Cars:
    """The cars of a weighed day until its last weighing.

    Attributes:
        known: what they are taken from.
        per_h: as they were counted or expected; 24 values by clock hour [cars].
        washed: times [s] and cars washed until then, by time, where they are known by those.
        until_s: until when they are known; 0 for nothing [s].
        seen, expected: cars until then, and as many as were expected.
    """

    known: Known
    per_h: tuple[float, ...]
    washed: tuple[tuple[float, int], ...] = ()
    until_s: float = 0.0
    seen: float = 0.0
    expected: float = 0.0


NOTHING = Cars("nothing", ())


@dataclass(frozen=True, slots=True)
class WeighedDay:
    """The weighings of one day and rule, with what the day really had.

    Attributes:
        conditions: its cars by hour, counted where they were, how far they may be off, and its
            air.
        evening: the last open day before, from which the morning's moisture comes; None for a
            dry set in the morning, or the moisture of the conditions.
        cars: what its cars are taken from.
    """

    weighings: tuple[Weighing, ...]
    conditions: Conditions
    evening: PreviousDay | None
    cars: Cars = NOTHING


def cars_of_day(
    history: History,
    day: date,
    open_hours: Sequence[int],
    expected_per_h: Sequence[float],
    noted: Sequence[Weighing],
    last_s: float,
) -> Cars:
    """What is known of the cars of a day until a time.

    Args:
        open_hours: clock hours in which the site is open.
        expected_per_h: cars that were expected in each clock hour, 24 values.
        noted: the weighings of that day, some of which may tell the cars so far.
        last_s: when the last strip of those to be judged was weighed [s].
    """
    until = [hour for hour in open_hours if hour * 3600.0 < last_s]
    counted = {h: n for h, n in hourly(history.counts, day).items() if h in until}
    expected = math.fsum(expected_per_h[hour] for hour in counted)
    if counted and expected >= MOST * math.fsum(expected_per_h[hour] for hour in until):
        scale = math.fsum(counted.values()) / expected if expected else 1.0
        per_h = tuple(counted.get(h, n * scale) for h, n in enumerate(expected_per_h))
        end_s = min(last_s, (max(counted) + 1) * 3600.0)
        seen, usual = (cars_until(cars, end_s) for cars in (per_h, expected_per_h))
        return Cars("counts", per_h, (), end_s, seen, usual)
    washed = so_far(noted)
    if washed:
        end_s, cars = washed[-1]
        usual = cars_until(expected_per_h, end_s)
        return Cars("so far", tuple(expected_per_h), washed, end_s, float(cars), usual)
    return Cars("nothing", tuple(expected_per_h))


def hourly(counts: Sequence[HourCount], day: date) -> Mapping[int, float]:
    """Cars of each counted clock hour of a day; an hour that comes twice is its mean."""
    found: dict[int, list[int]] = {}
    for row in counts:
        if row.day == day:
            found.setdefault(row.hour, []).append(row.cars)
    return {hour: sum(cars) / len(cars) for hour, cars in found.items()}


def so_far(noted: Sequence[Weighing]) -> tuple[tuple[float, int], ...]:
    """Times and cars washed until then, by time; a number below an earlier one is left out."""
    found: list[tuple[float, int]] = []
    for at_s, cars in sorted({(w.at_s, w.cars_so_far) for w in noted if w.cars_so_far}):
        if not found or (at_s > found[-1][0] and cars >= found[-1][1]):
            found.append((at_s, cars))
    return tuple(found)


def cars_until(per_h: Sequence[float], at_s: float) -> float:
    """Cars of clock hours until a time of the day [s], an hour's cars spread evenly."""
    return math.fsum(
        cars * min(1.0, max(0.0, at_s / 3600.0 - hour)) for hour, cars in enumerate(per_h)
    )


def guessed_cv(day_factor_cv: float) -> float:
    """How far a day may be off of which nothing is known, where counts tell of no spread.

    The spread of days, that of the mean of the like days which it is expected from, and that of
    days that are picked for weighing, added in squares; a coefficient of variation.
    """
    return math.hypot(day_factor_cv * math.sqrt(1.0 + 1.0 / LIKE_DAYS), PICKED_CV)


def spread_of(known: Known, expected: DemandSpread, day_factor_cv: float) -> DemandSpread:
    """How far the cars of a weighed day come out from what its hours say: not where known.

    Args:
        expected: of the day, as it was expected; where it rests on counts and nothing is known of
            the day itself it holds, but for the level of a day that was picked.
        day_factor_cv: the site's own, for the guess.
    """
    if known == "counts":
        return DemandSpread(0.0, 0.0)
    if known == "so far":
        return DemandSpread(0.0, expected.hour_cv)
    if not expected.days:
        return DemandSpread(guessed_cv(day_factor_cv))
    return replace(expected, level_cv=math.hypot(expected.level_cv, PICKED_CV))


def total_cv(spread: DemandSpread, day_factor_cv: float) -> float:
    """How far the cars of a whole day may come out from what is expected of it.

    Day factor and level, in squares, as a day is simulated (`sim.day.draw.as_it_comes`).
    """
    of_day = day_factor_cv if spread.day_cv is None else spread.day_cv
    return math.hypot(of_day, spread.level_cv)


def scaled(
    conditions: Conditions, times_s: Sequence[float], factors: Sequence[float]
) -> Conditions:
    """The day with its cars multiplied: until the first time by the first factor, and so on.

    Args:
        times_s: rising [s]; after the last one its factor holds on.
    """
    if not times_s:
        return conditions
    edges = [0.0, *(at / 3600.0 for at in times_s[:-1]), 24.0]
    per_h = []
    for hour, cars in enumerate(conditions.arrivals_per_h):
        overlaps = (
            max(0.0, min(hour + 1.0, end) - max(float(hour), start))
            for start, end in pairwise(edges)
        )
        per_h.append(cars * math.fsum(part * f for part, f in zip(overlaps, factors, strict=True)))
    return replace(conditions, arrivals_per_h=tuple(per_h))
