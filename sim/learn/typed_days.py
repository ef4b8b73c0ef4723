"""Days that nobody counted: cars by the hour from a day's total and its busiest time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from sim.errors import InputProblem
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
    width, height = busy_to_h - busy_from_h, PEAK - 1.0

    def until(at_h: float) -> float:
        """∫ of rate/r from opening to an hour."""
        at_h = min(max(at_h, open_h), close_h)
        into = min(max(at_h - busy_from_h, 0.0), width)
        wave = math.sin(math.tau * into / width) * width / math.tau
        return at_h - open_h + height * (into - wave) / 2.0

    whole = until(close_h)
    exact = [cars * (until(hour + 1.0) - until(hour)) / whole for hour in range(24)]
    found = [math.floor(value) for value in exact]
    rest = sorted(range(24), key=lambda hour: (found[hour] - exact[hour], hour))
    for hour in rest[: cars - sum(found)]:
        found[hour] += 1
    return tuple(found)


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

    def problems(self, open_h: float, close_h: float) -> list[InputProblem]:
        """Why no week can be made of it for a site open from one hour to another."""
        found, hours = [], len(_open(open_h, close_h))
        filling: dict[str, object] = {"open": show_clock(3600.0 * open_h)}
        filling |= {"close": show_clock(3600.0 * close_h)}
        if open_h >= close_h:
            return []  # said of the opening hours
        for name, row in TYPED_INPUTS.items():
            if row.kind != "times" or not (typed := getattr(self, name)):
                continue
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
        no `problems`."""
        usual, busy = self.drawn(open_h, close_h)
        busy_days = set(map(int, self.busy_days.split()))
        counts = tuple(
            HourCount(TYPED_WEEK + timedelta(days=day), hour, 0, int(cars))
            for day in range(7)
            for hour, cars in zip(
                _open(open_h, close_h), busy if day in busy_days else usual, strict=True
            )
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
    most, least = max(sums), min(sums)
    busy = {day for day in range(7) if sums[day] == most}
    known = (key for key in BUSY_DAYS if set(map(int, key.split())) == busy)
    hours = _open(open_h, close_h)
    usual_day, busy_day = sums.index(least), sums.index(most)
    return TypedDays(
        usual_cars=int(least),
        busy_cars=int(most),
        busy_days=next(known, "5 6"),
        usual_hours=tuple(of_day[usual_day][hour] for hour in hours),
        busy_hours=tuple(of_day[busy_day][hour] for hour in hours),
    )
