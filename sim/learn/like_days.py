"""Which past days are like a coming one, by weekday and time of year, and their counts."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.inputs.history import History
from sim.inputs.line import Line

WEEKDAYS = (
    "Mondays",
    "Tuesdays",
    "Wednesdays",
    "Thursdays",
    "Fridays",
    "Saturdays",
    "Sundays",
)
YEAR_DAYS = 364
"""A year of whole weeks, so that a day a year ago has the same weekday. It slips by 1¼ days a
year against the sun, far less than the weeks that are pooled."""


def days_apart(day: date, other: date) -> int:
    """How far two days lie apart in the time of year, whatever the year; 0 to 182 days."""
    rest = (day - other).days % YEAR_DAYS
    return min(rest, YEAR_DAYS - rest)


def open_hours(line: Line) -> tuple[int, ...]:
    """The clock hours of which some part is open, ascending; empty if the site never opens.

    Hour 7 runs from 7:00 to 8:00; a site open from 7:30 counts it.
    """
    if line.close_h <= line.open_h:
        return ()
    return tuple(h for h in range(24) if h < line.close_h and h + 1 > line.open_h)


def hours_text(hours: list[int] | tuple[int, ...]) -> str:
    """Hours as clock times, runs drawn together: ``7:00, 9:00 to 11:00``."""
    runs: list[list[int]] = []
    for hour in sorted(hours):
        if runs and hour == runs[-1][1] + 1:
            runs[-1][1] = hour
        else:
            runs.append([hour, hour])
    return ", ".join(f"{a}:00" if a == b else f"{a}:00 to {b}:00" for a, b in runs)


ENOUGH_DAYS = 4
"""Days below which the season is widened; a mean of four days has half the spread of one."""
SEASON_DAYS = 21
STEPS: tuple[tuple[bool, int, str], ...] = (
    (True, SEASON_DAYS, "within 3 weeks of this time of year"),
    (True, 35, "within 5 weeks of this time of year"),
    (True, 56, "within 8 weeks of this time of year"),
    (True, 91, "within 13 weeks of this time of year"),
    (True, 182, "of the whole year"),
    (False, 182, "of the whole year and of every weekday"),
)
"""How like days are sought: same weekday or not, days to either side, said in words."""


class LikeDays:
    """The counts of a file, day by day, without closed days and days marked as events.

    Whoever asks for many days of one file makes it once.
    """

    def __init__(self, history: History, hours: tuple[int, ...]) -> None:
        """Args:
        hours: clock hours that are open.
        """
        self.history = history
        marked = {note.day for note in history.days}
        self.hours = hours
        self.stray: set[int] = set()
        self.cars: dict[date, dict[int, float]] = {}
        times: dict[tuple[date, int], int] = {}
        for row in history.counts:
            if row.hour not in hours:
                if row.cars:
                    self.stray.add(row.hour)
                continue
            if row.day in marked:
                continue
            # The hour that comes twice when clocks go back is one clock hour seen twice.
            seen = times.get((row.day, row.hour), 0)
            times[row.day, row.hour] = seen + 1
            of_day = self.cars.setdefault(row.day, {})
            of_day[row.hour] = (of_day.get(row.hour, 0.0) * seen + row.cars) / (seen + 1)
        self.totals = {
            day: sum(cars.values()) for day, cars in self.cars.items() if len(cars) == len(hours)
        }

    def whole(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Ordinals of the days with every open hour, ascending, and their counts (days, hours)."""
        days = sorted(self.totals)
        rows = [[self.cars[day][hour] for hour in self.hours] for day in days]
        return (
            np.array([day.toordinal() for day in days], dtype=np.int64),
            np.array(rows, dtype=float).reshape(len(days), len(self.hours)),
        )

    def like(self, day: date, same_weekday: bool, reach_days: int) -> list[date]:
        """Days with counts, other than the day itself, in order of time."""
        return sorted(
            d
            for d in self.cars
            if d != day
            and days_apart(day, d) <= reach_days
            and (not same_weekday or d.weekday() == day.weekday())
        )

    def widened(self, day: date) -> tuple[list[date], bool, str]:
        """Days of the first step with enough, else of the last; same weekday or not; in words."""
        for same, reach, words in STEPS[:-1]:
            days = self.like(day, same, reach)
            if len(days) >= ENOUGH_DAYS:
                return days, same, words
        same, reach, words = STEPS[-1]
        return self.like(day, same, reach), same, words
