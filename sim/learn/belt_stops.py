"""How often the belt stands and for how long, by the stops of a log.

Stops of a day are Poisson about a·(open hours) + b·(cars), as a simulated day draws them: days with
many and with few cars tell a and b apart, as far as they do. A stop lasts lognormally long. What
was noted in whole minutes lay within half a minute of that, and counts so: of stops of 45 seconds
most are noted as a minute.

A day without a stop tells something only where one would have been noted. Days are taken for such
whose log has anything else than stops and alarms; where no stop lies on one of them, as with a
control's file alone, the counted days between the first and the last stop. How long a stop was is
told by all of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.inputs import LogEntry, Site
from sim.inputs.logbook import STOP
from sim.learn.answer import LogFinding
from sim.learn.guesses import Left, finding, left_of, of_input, of_spread
from sim.learn.like_days import open_hours
from sim.special import ndtr

Floats = NDArray[np.float64]
LENGTH_SD = 0.4
"""Sd of the logarithm of how far lengths of stops differ, about its default; a guess."""
MINUTE_S = 60.0
FINEST_S = 1.0
"""What was noted in other than whole minutes is right to half of this [s]."""
LEAST_SHARE = 1e-12
"""Of a length that no lognormal explains: somebody mistyped it."""


@dataclass(frozen=True, slots=True)
class StopDay:
    """A day on which stops were noted if there were any, and whose cars were counted."""

    open_h: float
    cars: int
    stops: int


def stop_days(
    site: Site, stops: Sequence[LogEntry], kept: Collection[date], cars: Mapping[date, int]
) -> tuple[tuple[StopDay, ...], bool]:
    """Days that tell how often the belt stands, and whether they would not do so without any stop.

    Args:
        kept: days with an entry of another kind than stops and alarms. cars: of counted days.
    """
    times = Counter(one.day for one in stops)
    is_for_one = any(day in times and cars.get(day) for day in kept)
    days = {day for day in kept if day in cars}
    if not is_for_one and times:
        days = {day for day in cars if min(times) < day < max(times)}
    open_h = float(len(open_hours(site.line)))
    told = (StopDay(open_h, cars[day], times[day]) for day in sorted(days) if cars[day] > 0)
    return tuple(told), is_for_one


def rates_left(site: Site, days: Sequence[StopDay], is_noted_for_one: bool) -> tuple[Left, Left]:
    """Stops an open hour and a car, as far as they are told.

    Args:
        days: one at least, with an hour open each. is_noted_for_one: a site that never notes a stop
            tells nothing, so what these days tell is told given that there was one.
    """
    hours, cars, stops = np.array([[one.open_h, one.cars, one.stops] for one in days]).T
    some = stops > 0.0

    def log_likelihood(an_hour: Floats, a_car: Floats) -> Floats:
        total = an_hour * hours.sum() + a_car * cars.sum()
        value = -total
        for open_h, n, count in zip(hours[some], cars[some], stops[some], strict=True):
            value = value + count * np.log(an_hour * open_h + a_car * n)
        if is_noted_for_one:
            value = value - np.log(-np.expm1(-total))
        return np.asarray(value)

    return left_of((of_input(site, "stops_per_h"), of_input(site, "stops_per_car")), log_likelihood)


def bounds_of(lasted_s: float) -> tuple[float, float]:
    """Between which lengths one lay that was noted as so long [s]."""
    step = MINUTE_S if lasted_s % MINUTE_S == 0.0 else FINEST_S
    return max(lasted_s - 0.5 * step, 0.0), lasted_s + 0.5 * step


def lengths_left(site: Site, lasted_s: Sequence[float]) -> tuple[Left, Left]:
    """Median of the length of a stop, and how far lengths differ."""
    noted = Counter(bounds_of(one) for one in lasted_s)

    def log_likelihood(median_s: Floats, log_sd: Floats) -> Floats:
        value = np.zeros(median_s.shape)
        for (low, high), count in noted.items():
            share = ndtr(np.log(high / median_s) / log_sd)
            if low > 0.0:
                share = share - ndtr(np.log(low / median_s) / log_sd)
            value += count * np.log(np.maximum(share, LEAST_SHARE))
        return value

    return left_of(
        (of_input(site, "stop_median_s"), of_spread("stop_log_sd", LENGTH_SD)), log_likelihood
    )


def rates(site: Site, days: Sequence[StopDay], is_noted_for_one: bool) -> LogFinding | None:
    """What the log tells of how often; None where no stop is noted on any such day."""
    count = sum(one.stops for one in days)
    if not count:
        return None
    return finding(site, STOP, count, len(days), rates_left(site, days, is_noted_for_one))


def lengths(site: Site, stops: Sequence[LogEntry]) -> LogFinding | None:
    """What the log tells of how long; None where no length is noted."""
    noted = [one.lasted_s for one in stops if one.lasted_s is not None]
    return finding(site, STOP, len(noted), 0, lengths_left(site, noted)) if noted else None
