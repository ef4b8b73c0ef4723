"""What makes up the cars of a day: its terms, what is thought of each, and each day's share in it.

The log of what an hour of a day may bring is the sum of a level that moves slowly, a weekday, the
time of year, rain, a day after rain, warmth, a public holiday, the hour, and the hour on such a
weekday. All guesses of how far these may reach are guesses.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from sim.inputs.history import HourWeather
from sim.learn.forecast.fit import Guesses, Layout
from sim.learn.forecast.likelihood import Counted, Floats
from sim.learn.like_days import WET_MM, LikeDays, SpreadGuess

KNOT_DAYS = 14
"""The level moves straight between points so many days apart."""
LEVEL_STEP, LEVEL_STEP_SD = 0.02, 0.7
"""How far the level moves in a week, as a share, and sd of the log of that."""
SPREAD_SD = 0.5
"""Sd of the log of how far days and hours differ."""
SEASON_SD = (0.3, 0.15)
"""Of the first and second harmonic of a year."""
HOURS_MIDDLE, HOURS_SD = math.log(30.0), 1.0
"""An hour brings 4 to 220 cars at 19 of 20 sites."""
OWN_HOURS_SD = 0.15
"""Of an hour on a weekday, beside that hour on all days: how far weekdays are pooled."""
WEEKDAY_SD, WET_SD, AFTER_SD, WARM_SD = 0.5, 0.5, 0.3, 0.2
HOLIDAY_SD, OWN_HOLIDAY_SD = 0.4, 0.25
"""Of public holidays together, and of one of them beside the rest."""
WARM_K = 10.0
NEAR_DAYS = 21
"""Weather that is usual is that within so many days of the same time of year."""
POOLED_DAYS = 20.0
"""Days of the whole year that the share of wet days of a time of year is pooled with."""
YEAR = 365.25


@dataclass(frozen=True, slots=True)
class DayWeather:
    """Rain in the open hours [mm] and highest temperature [°C] of a day."""

    rain_mm: float
    high_c: float

    @property
    def is_wet(self) -> bool:
        """Whether it rained."""
        return self.rain_mm >= WET_MM


def days_weather(weather: Sequence[HourWeather], hours: Sequence[int]) -> dict[date, DayWeather]:
    """Weather of days that have all open hours."""
    rain: dict[date, float] = {}
    high: dict[date, float] = {}
    seen: dict[date, int] = {}
    is_open = [hour in hours for hour in range(24)]
    for row in weather:
        if is_open[row.hour]:
            rain[row.day] = rain.get(row.day, 0.0) + row.rain_mm
            high[row.day] = max(high.get(row.day, -math.inf), row.temp_c)
            seen[row.day] = seen.get(row.day, 0) + 1
    return {day: DayWeather(rain[day], high[day]) for day in rain if seen[day] >= len(hours)}


@dataclass(frozen=True)
class Usual:
    """What weather is usual: for each day asked, share of wet days and highest temperature; and
    how far the latter differs [K]. Without weather nothing is wet and nothing is known."""

    wet_share: Floats
    high_c: Floats
    high_sd_k: float


def usual_weather(known: Mapping[date, DayWeather], days: Sequence[date]) -> Usual:
    """Of the same time of year, the share of wet days pooled with that of all days."""
    if not known:
        return Usual(np.zeros(len(days)), np.full(len(days), np.nan), 0.0)
    own = np.array([day.toordinal() for day in known], dtype=float)
    wet = np.array([one.is_wet for one in known.values()], dtype=float)
    high = np.array([one.high_c for one in known.values()])

    def about(asked: Floats) -> tuple[Floats, Floats]:
        apart = np.abs((asked[:, None] - own + YEAR / 2.0) % YEAR - YEAR / 2.0)
        near = (apart <= NEAR_DAYS).astype(float)
        count = near.sum(axis=1)
        share = (near @ wet + POOLED_DAYS * wet.mean()) / (count + POOLED_DAYS)
        mean = np.where(count > 0, near @ high / np.maximum(count, 1.0), high.mean())
        return share, mean

    share, mean = about(np.array([day.toordinal() for day in days], dtype=float))
    off = high - about(own)[1]
    return Usual(share, mean, float(off.std()))


@dataclass(frozen=True)
class Terms:
    """Terms of the days counted and of those to come.

    Attributes:
        counted, layout, guesses: what a fit takes.
        ahead: layout of the days to come, dry, after a dry day and as warm as usual.
        weather: places of the terms of rain, a day after rain, and warmth.
        usual: weather that is usual on the days to come.
    """

    counted: Counted
    layout: Layout
    guesses: Guesses
    ahead: Layout
    weather: tuple[int, int, int]
    usual: Usual


def whole_days(past: LikeDays) -> tuple[list[date], Floats]:
    """Days counted in every open hour, and their counts. Days without any car are left out: they
    were closed, and what is expected of an open day is no share of nothing."""
    ordinals, cars = past.whole
    chosen = cars.sum(axis=1) > 0
    return [date.fromordinal(int(at)) for at in ordinals[chosen]], cars[chosen]


def terms_of(
    past: LikeDays,
    known: Mapping[date, DayWeather],
    holidays: Mapping[date, str],
    capacity: Sequence[float] | None,
    guess: SpreadGuess,
    until: date,
) -> Terms:
    """The terms of a site's whole days, and of all days after them until one.

    Args:
        known: weather of days before today; holidays: of all days, by name.
        capacity: cars of each clock hour from which it was full; None where arrivals were counted.
    """
    days, cars = whole_days(past)
    last = days[-1]
    ahead = [last + timedelta(days=one + 1) for one in range((until - last).days)]
    full = np.zeros(cars.shape, dtype=bool)
    if capacity is not None:
        full = cars >= np.array([capacity[hour] for hour in past.hours])
    counted = Counted(cars, np.ones(cars.shape, dtype=bool), full)
    names = sorted({holidays[day] for day in (*days, *ahead) if day in holidays})
    knots = np.arange(0.0, (until - days[0]).days, KNOT_DAYS)
    usual = usual_weather(known, (*days, *ahead))
    own_weather = _weather(days, known, usual)
    parts = len(ahead)
    rows = [_shape(some, days[0], knots, names, holidays) for some in (days, ahead)]
    design = np.hstack([rows[0], own_weather])
    to_come = np.hstack([rows[1], np.zeros((parts, 3))])
    sd = np.concatenate(
        [
            np.full(len(knots), (KNOT_DAYS / 7.0) ** 0.5),
            np.full(7, WEEKDAY_SD),
            np.repeat(SEASON_SD, 2),
            [HOLIDAY_SD],
            np.full(len(names), OWN_HOLIDAY_SD),
            [WET_SD, AFTER_SD, WARM_SD],
            np.full(len(past.hours), HOURS_SD),
            np.full(7 * len(past.hours), OWN_HOURS_SD),
        ]
    )
    first = design.shape[1]
    middle = np.zeros(len(sd))
    middle[first : first + len(past.hours)] = HOURS_MIDDLE
    moving = np.arange(len(sd)) < len(knots)
    spreads = np.array([guess.day_cv, guess.hour_cv, LEVEL_STEP])
    spread_sd = np.array([SPREAD_SD, SPREAD_SD, LEVEL_STEP_SD])
    return Terms(
        counted,
        Layout(design, _weekdays(days), len(past.hours)),
        Guesses(middle, sd, moving, np.maximum(spreads, 0.01), spread_sd),
        Layout(to_come, _weekdays(ahead), len(past.hours)),
        (first - 3, first - 2, first - 1),
        Usual(usual.wet_share[len(days) :], usual.high_c[len(days) :], usual.high_sd_k),
    )


def _weekdays(days: Sequence[date]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.array([day.weekday() for day in days], dtype=np.int64)


def _shape(
    days: Sequence[date],
    start: date,
    knots: Floats,
    names: Sequence[str],
    holidays: Mapping[date, str],
) -> Floats:
    """Level, weekday, season and holidays of some days, a row each."""
    at = np.array([(day - start).days for day in days], dtype=float)
    turn = 2.0 * np.pi * np.array([day.timetuple().tm_yday for day in days]) / YEAR
    off = np.array([day in holidays for day in days], dtype=float)
    own = [[holidays.get(day) == name for name in names] for day in days]
    return np.hstack(
        [
            np.clip((at[:, None] - knots) / KNOT_DAYS, 0.0, 1.0),
            np.eye(7)[_weekdays(days)],
            np.stack([np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)], axis=1),
            off[:, None],
            np.array(own, dtype=float).reshape(len(days), len(names)),
        ]
    )


def _weather(days: Sequence[date], known: Mapping[date, DayWeather], usual: Usual) -> Floats:
    """Rain, a day after rain, and warmth beyond what is usual, of some days; where nothing was
    noted the share of days that have it."""
    found = np.zeros((len(days), 3))
    for place, day in enumerate(days):
        share = usual.wet_share[place]
        own, before = known.get(day), known.get(day - timedelta(days=1))
        wet = share if own is None else float(own.is_wet)
        rained = share if before is None else float(before.is_wet)
        warm = 0.0 if own is None else (own.high_c - usual.high_c[place]) / WARM_K
        found[place] = wet, rained * (1.0 - wet), warm
    return found
