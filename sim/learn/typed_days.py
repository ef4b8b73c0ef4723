"""Days that nobody counted: cars by the hour from a day's total and its busiest time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from sim.errors import InputProblem, Sentence
from sim.inputs.entry import Times, choice, entries_of, number, numbers, whole
from sim.inputs.history import MOST_CARS_PER_H, TYPED, TYPED_WEEK, History, HourCount
from sim.units import show_clock

PEAK = 2.0
"""Cars an hour in the middle of the busiest time, to those of the hours before and after: guess."""


def day_curve(
    open_h: float, close_h: float, cars: int, busy_from_h: float, busy_to_h: float
) -> tuple[int, ...]:
    """Cars of each clock hour of a day of so many cars, 24 values that sum to them.

    Open hours are flat; between the two ends of the busiest time a raised cosine stands on them:
    rate(t) = r·(1 + (PEAK − 1)·(1 − cos(2π(t − from)/(to − from)))/2). The simplest shape with one
    peak and no jump, a guess; r follows from the total. An hour has the integral over what of it
    is open, rounded to whole cars by largest remainders.

    Args:
        open_h, close_h: opening hours [h], the first before the second.
        busy_from_h, busy_to_h: within them, the first before the second [h].
    """
    shares = _shares(open_h, close_h, np.array([busy_from_h]), np.array([busy_to_h]))
    return tuple(map(int, _whole(cars, shares)[0]))


def _whole(cars: int, shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Whole cars of each hour that sum to all of them, by largest remainders, the earlier hour
    first; a row for each row of shares."""
    exact = cars * shares
    found: NDArray[np.float64] = np.floor(exact)
    place = np.argsort(np.argsort(found - exact, axis=1, kind="stable"), axis=1, kind="stable")
    found += place < (cars - found.sum(1))[:, None]
    return found


def _shares(
    open_h: float, close_h: float, begin_h: NDArray[np.float64], end_h: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share of a day's cars in each clock hour, a row for each busiest time: ∫ of rate."""
    at = np.clip(np.arange(25.0), open_h, close_h)
    width = (end_h - begin_h)[:, None]
    into = np.clip(at - begin_h[:, None], 0.0, width)
    wave = np.sin(2.0 * np.pi * into / width) * width / (2.0 * np.pi)
    until = at - open_h + (PEAK - 1.0) * (into - wave) / 2.0
    shares: NDArray[np.float64] = np.diff(until, axis=1) / until[:, -1:]
    return shares


def busiest_time(
    open_h: float, close_h: float, days: Sequence[Sequence[float]]
) -> tuple[float, float, bool]:
    """The busiest time by which `day_curve` draws some days, and whether it draws just them.

    Quarter hours are tried, the guess first, then full ones; where none draws the days, it is the
    one that comes nearest (least squares).

    Args:
        days: cars of each clock hour, 24 values a day.
    """
    ends = np.arange(np.ceil(4.0 * open_h), np.floor(4.0 * close_h) + 1.0) / 4.0
    first, last = np.triu_indices(len(ends), 1)
    fine = np.where(ends % 1.0 == 0.0, 0, np.where(ends % 0.5 == 0.0, 1, 2))
    begin, end = ends[first], ends[last]
    guess = [float(str(TYPED_INPUTS[name].default)) for name in ("busy_from_h", "busy_to_h")]
    is_other = (begin != guess[0]) | (end != guess[1])
    order = np.lexsort((np.maximum(fine[first], fine[last]), is_other))
    begin, end = begin[order], end[order]
    shares = _shares(open_h, close_h, begin, end)
    off = np.array([_whole(round(sum(day)), shares) - np.array(day) for day in days])
    least = int(np.argmin((off**2).sum((0, 2))))
    return float(begin[least]), float(end[least]), not off[:, least].any()


BUSY_DAYS = {
    "5": "Saturdays",
    "5 6": "Saturdays and Sundays",
    "4 5": "Fridays and Saturdays",
    "4 5 6": "Fridays, Saturdays and Sundays",
    "6": "Sundays",
    "0 1 2 3 4": "Mondays to Fridays",
    "0 1 2 3 4 5 6": "all days alike",
}
"""Weekdays that are busy, 0 for Monday, and their words."""
BY_HOUR = "An hour each from opening on. Empty: drawn from the cars of the day."
ROUND = "guess; how many cars, nobody counted"
HOUR_LISTS = ("usual_hours", "busy_hours")
"""Inputs that have a number for each open hour."""


@dataclass(frozen=True, slots=True)
class TypedDays:
    """A usual and a busy day as somebody knows them who has no counts at hand."""

    usual_cars: int = whole(250, "Cars on a usual day", "cars", 0, 20_000, ROUND)
    busy_cars: int = whole(450, "Cars on a busy day", "cars", 0, 20_000, ROUND)
    busy_days: str = choice("5 6", "Busy days", BUSY_DAYS, "guess")
    busy_from_h: float = number(11, "Busiest from", "clock_h", 0, 24, "guess")
    busy_to_h: float = number(16, "Busiest until", "clock_h", 0, 24, "guess")
    usual_hours: Times = numbers(
        (), "Usual day, cars by the hour", "cars", 0, MOST_CARS_PER_H, ROUND, advice=BY_HOUR
    )
    busy_hours: Times = numbers(
        (), "Busy day, cars by the hour", "cars", 0, MOST_CARS_PER_H, ROUND, advice=BY_HOUR
    )
    closed_days: Times = numbers(
        (), "Closed on", "number", 0, 6, "guess: open every day",
        advice="Weekdays on which no car is let in; holidays are marked on the page Counts.",
    )  # fmt: skip

    @property
    def closed(self) -> frozenset[int]:
        """Closed weekdays, 0 for Monday."""
        return frozenset(map(int, self.closed_days))

    @property
    def busy(self) -> frozenset[int]:
        """Busy weekdays that are not closed, 0 for Monday."""
        return frozenset(map(int, self.busy_days.split())) - self.closed

    def problems(self, open_h: float, close_h: float) -> list[InputProblem]:
        """Why no week can be made of it for a site open from one hour to another."""
        found, hours = [], len(_open(open_h, close_h))
        filling: dict[str, object] = {"open": show_clock(3600.0 * open_h)}
        filling |= {"close": show_clock(3600.0 * close_h)}
        if open_h >= close_h:
            return []  # said of the opening hours
        for name in HOUR_LISTS:
            if not (typed := getattr(self, name)):
                continue
            row = TYPED_INPUTS[name]
            told = {**filling, "label": row.label, "count": len(typed), "hours": hours}
            if len(typed) != hours:
                sentence = (
                    "{label}: {count} numbers for {hours} hours, {open} to {close}. Give one for "
                    "each, or none."
                )
                found.append(InputProblem(name, sentence, told))
            elif any(cars != int(cars) for cars in typed):
                sentence = "{label}: not all are whole numbers. Give whole cars."
                found.append(InputProblem(name, sentence, told))
        begin, end = self.busy_from_h, self.busy_to_h
        if not open_h <= begin < end <= close_h and not (self.usual_hours and self.busy_hours):
            sentence = (
                "{label} {value} does not fit: the busiest time has to begin before it ends, "
                "within {open} to {close}."
            )
            wrong = "busy_from_h" if not open_h <= begin < close_h else "busy_to_h"
            value = show_clock(3600.0 * float(getattr(self, wrong)))
            told = {**filling, "label": TYPED_INPUTS[wrong].label, "value": value}
            found.append(InputProblem(wrong, sentence, told))
        if not self.busy:
            sentence = (
                "{label} {value}: all of them are ticked as closed. Choose days on which you are "
                "open, or untick one."
            )
            told = {"label": TYPED_INPUTS["busy_days"].label}
            told["value"] = Sentence(BUSY_DAYS.get(self.busy_days, self.busy_days))
            found.append(InputProblem("busy_days", sentence, told))
        return found

    def drawn(self, open_h: float, close_h: float) -> tuple[Times, Times]:
        """Cars of each open hour of a usual and of a busy day: as typed, else by `day_curve`."""
        hours = _open(open_h, close_h)

        def of(typed: Times, cars: int) -> Times:
            if typed:
                return typed
            curve = day_curve(open_h, close_h, cars, self.busy_from_h, self.busy_to_h)
            return tuple(float(curve[hour]) for hour in hours)

        return of(self.usual_hours, self.usual_cars), of(self.busy_hours, self.busy_cars)

    def week(self, open_h: float, close_h: float) -> History:
        """A week of such days as the past of a site, marked as what nobody counted; there must be
        no `problems`. A closed weekday has no car."""
        usual, busy = self.drawn(open_h, close_h)
        none = (0.0,) * len(usual)
        of_day = [
            none if day in self.closed else busy if day in self.busy else usual for day in range(7)
        ]
        counts = tuple(
            HourCount(TYPED_WEEK + timedelta(days=day), hour, 0, int(cars))
            for day in range(7)
            for hour, cars in zip(_open(open_h, close_h), of_day[day], strict=True)
        )
        return History(TYPED, counts)


TYPED_INPUTS = entries_of(TypedDays)


def _open(open_h: float, close_h: float) -> Sequence[int]:
    return [hour for hour in range(24) if hour < close_h and hour + 1 > open_h]


def typed_days(history: History, open_h: float, close_h: float) -> TypedDays:
    """What was typed of a stored week of typed days, hours outside the opening hours left out;
    `TypedDays` as a start where none is stored."""
    if history.counted != TYPED or not history.counts:
        return TypedDays()
    of_day = [[0.0] * 24 for _day in range(7)]
    for row in history.counts:
        of_day[row.day.weekday()][row.hour] = float(row.cars)
    sums = [sum(cars) for cars in of_day]
    open_days = [day for day in range(7) if sums[day]]
    if not open_days or not _open(open_h, close_h):
        return TypedDays(usual_cars=0, busy_cars=0)
    closed = {day for day in range(7) if day not in open_days}
    usual_day = min(open_days, key=lambda day: sums[day])
    busy_day = max(open_days, key=lambda day: sums[day])
    busy = {day for day in open_days if sums[day] == sums[busy_day]}
    known = (key for key in BUSY_DAYS if set(map(int, key.split())) - closed == busy)
    usual_cars, busy_cars = of_day[usual_day], of_day[busy_day]
    begin, end, is_drawn = busiest_time(open_h, close_h, (usual_cars, busy_cars))
    hours = () if is_drawn else _open(open_h, close_h)
    return TypedDays(
        usual_cars=int(sums[usual_day]),
        busy_cars=int(sums[busy_day]),
        busy_days=next(known, "5 6"),
        busy_from_h=begin,
        busy_to_h=end,
        usual_hours=tuple(usual_cars[hour] for hour in hours),
        busy_hours=tuple(busy_cars[hour] for hour in hours),
        closed_days=tuple(float(day) for day in sorted(closed)),
    )
