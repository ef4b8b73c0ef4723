"""Totals of days, spread over the hours as a site's days usually are: hours that are a guess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import accumulate, pairwise

from sim.inputs.history import History
from sim.inputs.line import Line
from sim.learn.like_days import ENOUGH_DAYS, LikeDays, open_hours
from sim.learn.typed_days import day_curve

FINE = 1_000_000
"""Cars of a curve of which only the shape is asked."""


@dataclass(frozen=True, slots=True)
class UsualDays:
    """How cars of a day usually fall into its hours.

    Attributes:
        shapes: 24 numbers in proportion to them, a row a weekday, Monday first.
        days: whole days counted by the hour that they rest on; 0 for a guess.
    """

    shapes: tuple[tuple[float, ...], ...]
    days: int

    def hours(self, day: date, cars: int) -> tuple[int, ...]:
        """Whole cars of each clock hour of a day, 24 values that sum to its cars.

        What has come by the end of each hour is rounded, so that none is off by more than one.
        """
        shape = self.shapes[day.weekday()]
        come = [0.0, *accumulate(shape)]
        so_far = [round(cars * part / come[-1]) for part in come]
        return tuple(b - a for a, b in pairwise(so_far))


def usual_days(history: History, line: Line) -> UsualDays:
    """The mean shape of each weekday over days counted by the hour, of all days together where a
    weekday has fewer than four; without any, open hours with the peak of `day_curve` amidst them.
    """
    past = LikeDays(history, open_hours(line))
    ordinals, counts = past.whole

    def of(weekday: int) -> Sequence[float] | None:
        own = counts[(ordinals - 1) % 7 == weekday]  # day 1 was a Monday
        some = own if len(own) >= ENOUGH_DAYS and own.sum() > 0 else counts
        return some.sum(axis=0).tolist() if some.sum() > 0 else None

    shapes = []
    for weekday in range(7):
        found = of(weekday)
        if found is None:
            ends = line.open_h, line.close_h
            shapes.append(tuple(map(float, day_curve(*ends, FINE, *ends))))
        else:
            by_hour = dict(zip(past.hours, found, strict=True))
            shapes.append(tuple(by_hour.get(hour, 0.0) for hour in range(24)))
    return UsualDays(tuple(shapes), len(ordinals) if counts.sum() > 0 else 0)
