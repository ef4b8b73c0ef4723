"""Days that nobody counted: cars by the hour from a day's total and its busiest time."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from datetime import timedelta

from sim.inputs.history import TYPED, TYPED_WEEK, History, HourCount

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


def typed_week(
    usual: Sequence[int], busy: Sequence[int], busy_days: Collection[int], hours: Sequence[int]
) -> History:
    """A week of typed days as the past of a site, marked as what nobody counted.

    Args:
        usual, busy: cars of each clock hour of a usual and of a busy day, 24 values each.
        busy_days: weekdays that are busy, 0 for Monday.
        hours: clock hours that are open.
    """
    counts = tuple(
        HourCount(TYPED_WEEK + timedelta(days=day), hour, 0, of_day[hour])
        for day in range(7)
        for of_day in (busy if day in busy_days else usual,)
        for hour in hours
    )
    return History(TYPED, counts)
