"""Rates of rare events, such as belt stops, with exact limits.

Events are taken to come one by one and independently of each other (Poisson). The limits are those
of Garwood (1936), Fiducial limits for the Poisson distribution, Biometrika 28, 437–442: the means
under which so many events or more, and so many or fewer, have a chance of 2.5 % each. They hold
the truth at least as often as they say. All four ways of stating a rate are the limits of the one
count, divided by what it was counted over.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sim.decide.stops.answer import CauseRates, ClassRate, Rate, StopRates
from sim.special import gammaincinv

LEVEL = 0.95
THOUSAND = 1000.0


@dataclass(frozen=True, slots=True)
class Event:
    """A stop or an alarm.

    Attributes:
        cause: as it was noted.
        lasted_s: how long [s]; None where that was not noted.
        vehicle: class of the car that it is about; empty where that is not known.
    """

    cause: str
    lasted_s: float | None
    vehicle: str = ""


@dataclass(frozen=True, slots=True)
class Exposure:
    """What events were counted over: days, cars and open hours [h]."""

    days: int
    cars: int
    open_h: float


def spelled(causes: Iterable[str]) -> dict[str, str]:
    """Each cause as it is told: of spellings that differ in capitals and spaces alone, the one that
    was used most, of equals the first."""
    times = Counter(causes)
    used: dict[str, str] = {}
    for cause in times:
        key = " ".join(cause.casefold().split())
        if key not in used or times[cause] > times[used[key]]:
            used[key] = cause
    return {cause: used[" ".join(cause.casefold().split())] for cause in times}


def poisson_limits(count: int, level: float = LEVEL) -> tuple[float, float]:
    """Exact limits of the mean of a Poisson count.

    Half the quantiles of chi-square with 2·count and 2·count + 2 degrees of freedom, which are
    quantiles of gamma distributions with those shapes halved.

    Args:
        count: events, 0 or more.
        level: of the two-sided interval, 0 to 1.
    """
    tail = 0.5 * (1.0 - level)
    low = float(gammaincinv(count, tail)) if count else 0.0
    return low, float(gammaincinv(count + 1, 1.0 - tail))


def rate_of(count: int, over: float) -> Rate:
    """Events for each unit of what they were counted over, which is above 0."""
    low, high = poisson_limits(count)
    return Rate(count / over, low / over, high / over)


def one_in(count: int, cars: int) -> Rate:
    """Cars from one event to the next; without bound where there was none."""
    low, high = poisson_limits(count)
    return Rate(cars / count if count else None, cars / high, cars / low if low else None)


def cause_rates(cause: str, events: Sequence[Event], over: Exposure) -> CauseRates:
    """A cause in four ways; all of them need a car, a day and an hour."""
    count = len(events)
    lengths = [one.lasted_s for one in events if one.lasted_s is not None]
    return CauseRates(
        cause=cause,
        count=count,
        stood_s=sum(lengths),
        without=count - len(lengths),
        per_thousand_cars=rate_of(count, over.cars / THOUSAND),
        per_day=rate_of(count, over.days),
        per_open_hour=rate_of(count, over.open_h),
        one_in_cars=one_in(count, over.cars),
    )


def stop_rates(
    events: Sequence[Event],
    over: Exposure,
    left_out: int,
    shares: Mapping[str, float],
) -> StopRates | None:
    """Every cause of some events; None where no car was counted.

    Args:
        events: on days with a count.
        left_out: events on days without one.
        shares: of cars by class, 0 to 1.
    """
    if over.cars <= 0 or over.days <= 0 or over.open_h <= 0.0:
        return None
    told = spelled(one.cause for one in events)
    named: dict[str, list[Event]] = {}
    for one in events:
        named.setdefault(told[one.cause], []).append(one)
    causes = [cause_rates(cause, some, over) for cause, some in named.items()]
    counts = {key: sum(one.vehicle == key for one in events) for key in shares}
    classes = [
        ClassRate(key, count, rate_of(count, shares[key] * over.cars / THOUSAND))
        for key, count in counts.items()
        if count and shares[key] > 0.0
    ]
    return StopRates(
        days=over.days,
        cars=over.cars,
        open_h=over.open_h,
        together=cause_rates("", events, over),
        causes=tuple(sorted(causes, key=lambda one: (-one.count, one.cause))),
        left_out=left_out,
        classes=tuple(sorted(classes, key=lambda one: (-one.count, one.vehicle))),
    )
