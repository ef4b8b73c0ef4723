"""Whether all counts together tell coming days better than like days do, tried on days held back.

Rolling origin: the site's last eight weeks are taken away, and given back week by week; each time
the 14 days that follow are expected in both ways, as a plan would, without their weather. Both are
scored on the same days; weeks, not days, are taken for independent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from sim.errors import InputError
from sim.inputs import DemandSpread
from sim.inputs.forecast import Forecast
from sim.inputs.history import History
from sim.learn.forecast.ahead import Learning, look_ahead, with_weather
from sim.learn.forecast.answer import Arrivals, Judged, Score
from sim.learn.forecast.likelihood import Floats
from sim.learn.forecast.score import crps, held, paired, scaled_error
from sim.learn.forecast.terms import whole_days
from sim.learn.like_days import LikeDays, SpreadGuess, day_counts

WEEKS = 8
"""Weeks held back."""
AHEAD_DAYS = 14
LEAST_DAYS = 84
"""Whole days of counts below which nothing is tried: four weeks to learn from, eight to try on."""
DRAWS = 400
SEED = 20260720


@dataclass(frozen=True, slots=True)
class Expectation:
    """Cars by clock hour [cars] and how far they come out from that."""

    cars_per_h: tuple[float, ...]
    spread: DemandSpread


@dataclass(frozen=True, slots=True)
class Tried:
    """A day held back, what one way to expect it drew, and what came.

    Attributes:
        week: of those held back, from 0 on.
        drawn: (draws, open hours); came: (open hours).
    """

    day: date
    week: int
    drawn: Floats
    came: Floats


Way = Callable[[LikeDays, Sequence[date]], dict[date, Expectation]]
"""Expects some days from counts that end before them."""


def rolling(
    past: LikeDays, ways: Sequence[Way], guess: SpreadGuess, capacity: Sequence[float] | None
) -> list[list[Tried]]:
    """Days held back as each way expected them, the same days for all.

    Where cars washed were counted, a draw's hour has no more than can be washed, as the count.
    """
    days, cars = whole_days(past)
    came = dict(zip(days, cars, strict=True))
    end = days[-1] + timedelta(days=1)
    most = np.full(len(past.hours), np.inf)
    if capacity is not None:
        most = np.array([capacity[hour] for hour in past.hours])
    found: list[list[Tried]] = [[] for _way in ways]
    for week in range(WEEKS):
        origin = end - timedelta(days=7 * (WEEKS - week))
        begun = LikeDays(_before(past.history, origin), past.hours)
        asked = [origin + timedelta(days=one) for one in range(AHEAD_DAYS)]
        asked = [day for day in asked if day in came]
        told = [way(begun, asked) for way in ways]
        for day in asked:
            if not all(day in one for one in told):
                continue
            of_week = WEEKS - 1 - (end - day - timedelta(days=1)).days // 7
            for rows, one in zip(found, told, strict=True):
                drawn = np.minimum(draw_day(one[day], past.hours, guess), most)
                rows.append(Tried(day, of_week, drawn, np.minimum(came[day], most)))
    return found


def _before(history: History, day: date) -> History:
    counts = tuple(row for row in history.counts if row.day < day)
    weather = tuple(row for row in history.weather if row.day < day)
    return replace(history, counts=counts, weather=weather)


def draw_day(expected: Expectation, hours: Sequence[int], guess: SpreadGuess) -> Floats:
    """Counts of a day's open hours as a plan draws them (draws, hours); the day's factor spread
    evenly over its quantiles."""
    spread = expected.spread
    day_cv = guess.day_cv if spread.day_cv is None else spread.day_cv
    hour_cv = guess.hour_cv if spread.hour_cv is None else spread.hour_cv
    rng = np.random.Generator(np.random.PCG64(SEED))
    shape = (DRAWS, len(hours))
    day = _factors(rng, math.hypot(day_cv, spread.level_cv), (DRAWS, 1))
    cars = np.array([expected.cars_per_h[hour] for hour in hours])
    found: Floats = rng.poisson(cars * day * _factors(rng, hour_cv, shape)).astype(float)
    return found


def _factors(rng: np.random.Generator, cv: float, shape: tuple[int, int]) -> Floats:
    if cv < 1e-6:
        return np.ones(shape)
    return rng.gamma(cv**-2, cv**2, shape)


def by_like_days(guess: SpreadGuess) -> Way:
    """The mean of like days."""

    def way(past: LikeDays, days: Sequence[date]) -> dict[date, Expectation]:
        found = {}
        for day in days:
            try:
                counts = day_counts(past, day, None, guess)
            except InputError:
                continue
            found[day] = Expectation(counts.cars_per_h, counts.spread)
        return found

    return way


def by_all_counts(learning: Learning) -> Way:
    """All counts together; spreads are fitted once, by the counts of the first call."""
    kept: list[Floats] = []

    def way(past: LikeDays, days: Sequence[date]) -> dict[date, Expectation]:
        if not whole_days(past)[0]:
            return {}
        forecast, spreads = look_ahead(past, learning, kept[0] if kept else None)
        kept.append(spreads)
        return expectations(forecast, days)

    return way


def expectations(forecast: Forecast, days: Sequence[date]) -> dict[date, Expectation]:
    """Some days of a forecast, nothing said of their weather."""
    found = {}
    for one in forecast.days:
        if one.day in days:
            told = with_weather(forecast, one)
            found[one.day] = Expectation(told.cars_per_h, told.spread)
    return found


def score(tried: Sequence[Tried], past: Sequence[float]) -> Score:
    """How good one way was; `past` are totals of days before, in order, NaN where none is."""
    totals = np.stack([one.drawn.sum(axis=1) for one in tried], axis=1)
    came = np.array([one.came.sum() for one in tried])
    missed = np.median(totals, axis=0) - came
    try:
        scaled = scaled_error(past, missed.tolist(), 7)
    except ValueError:
        scaled = None
    return Score(
        float(np.abs(missed).mean()),
        scaled,
        float(crps(totals, came).mean()),
        float(np.mean([crps(one.drawn, one.came).mean() for one in tried])),
        float(held(totals, came, 0.8).mean()),
        float(held(totals, came, 0.95).mean()),
    )


def judge(past: LikeDays, learning: Learning, ways: tuple[Way, Way] | None = None) -> Judged | None:
    """Like days against all counts together; None where fewer than two weeks can be tried.

    All counts together are used if they score better on days and the 95 % interval of the
    difference lies below zero, and hours are not told worse.

    Args:
        ways: in place of these two.
    """
    both = ways or (by_like_days(learning.guess), by_all_counts(learning))
    like, together = rolling(past, both, learning.guess, learning.capacity)
    weeks = sorted({one.week for one in like})
    if len(weeks) < 2:
        return None
    days, cars = whole_days(past)
    held_back = {one.day for one in like}
    by_day = dict(zip(days, cars.sum(axis=1).tolist(), strict=True))
    span = range((min(held_back) - days[0]).days)
    before = [by_day.get(days[0] + timedelta(days=one), math.nan) for one in span]
    gained = [
        float(np.mean([
            _crps_of(new) - _crps_of(old)
            for old, new in zip(like, together, strict=True) if old.week == week
        ]))
        for week in weeks
    ]  # fmt: skip
    difference = paired(gained)
    scores = score(like, before), score(together, before)
    is_used = difference.high < 0.0 and scores[1].hours_crps <= scores[0].hours_crps
    return Judged(
        min(held_back), max(held_back), len(held_back), len(weeks), *scores, difference, is_used
    )


def _crps_of(one: Tried) -> float:
    return float(crps(one.drawn.sum(axis=1)[:, None], one.came.sum()[None])[0])


def learn(past: LikeDays, learning: Learning, country: str, decided: date) -> Arrivals | None:
    """What a site's counts teach of its coming days; None where they are too few to try it."""
    days, _cars = whole_days(past)
    if len(days) < LEAST_DAYS:
        return None
    judged = judge(past, learning)
    if judged is None:
        return None
    forecast, _spreads = look_ahead(past, learning)
    coming = [one.day for one in forecast.days]
    like, together = by_like_days(learning.guess)(past, coming), expectations(forecast, coming)
    cars, like_cars = (
        tuple(sum(told[day].cars_per_h) if day in told else 0.0 for day in coming)
        for told in (together, like)
    )
    has_weather = bool(learning.weather)
    return Arrivals(decided, days[-1], country, has_weather, forecast, judged, cars, like_cars)
