"""The days that follow a site's counts, as all counts together lead to expect them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from sim.errors import InputProblem, Sentence
from sim.inputs import TOGETHER, DemandSpread
from sim.inputs.forecast import Effect, Forecast, ForecastDay
from sim.learn.forecast.fit import Fitted, fit
from sim.learn.forecast.likelihood import Floats
from sim.learn.forecast.terms import WARM_K, DayWeather, Terms, terms_of, whole_days
from sim.learn.like_days import LEAST_RAIN_DAYS, DayCounts, LikeDays, SpreadGuess

REACH_DAYS = 28
"""Days after the last one counted that are forecast: twice as far as it is tried."""
DRAWS = 400
SEED = 20260719
SAID_WET, SAID_DRY = 0.8, 0.1
"""Share of days that are wet where a forecast of the weather says so, and where it says dry:
guesses for a day or two ahead."""
SAID_HIGH_SD_K = 2.0
"""Standard deviation of a highest temperature that was forecast [K]; guess."""


@dataclass(frozen=True, slots=True)
class Learning:
    """What a forecast is made from, beside counts.

    Attributes:
        weather: of days; holidays: by name.
        capacity: cars of each clock hour from which it was full; None where arrivals were counted.
        guess: how far days and hours differ.
    """

    weather: Mapping[date, DayWeather]
    holidays: Mapping[date, str]
    capacity: Sequence[float] | None
    guess: SpreadGuess


def look_ahead(
    past: LikeDays, learning: Learning, spreads: Floats | None = None
) -> tuple[Forecast, Floats]:
    """The days after the last whole one, and the spreads fitted.

    Weather after that day says nothing here: it would be forecast.

    Args:
        past: with at least one whole day that had cars.
        spreads: taken as known where given, see `fit`.
    """
    days, _cars = whole_days(past)
    last = days[-1]
    known = {day: one for day, one in learning.weather.items() if day <= last}
    until = last + timedelta(days=REACH_DAYS)
    terms = terms_of(past, known, learning.holidays, learning.capacity, learning.guess, until)
    fitted = fit(terms.counted, terms.layout, terms.guesses, spreads)
    ahead = _days(terms, fitted, past.hours, last, known, learning.holidays)
    sds = np.sqrt(np.diag(_cov(fitted))[list(terms.weather)])
    wet, after_rain, warmer = (
        Effect(float(fitted.terms[at]), float(sd))
        for at, sd in zip(terms.weather, sds, strict=True)
    )
    found = Forecast(
        ahead,
        float(fitted.spreads[0]),
        float(fitted.spreads[1]),
        wet,
        after_rain,
        warmer,
        high_sd_k=terms.usual.high_sd_k,
        counted=len(days),
        wet_days=sum(day in known and known[day].is_wet for day in days),
        full=int(terms.counted.full.sum()),
    )
    return found, fitted.spreads


def _cov(fitted: Fitted) -> Floats:
    count = len(fitted.terms)
    root = np.linalg.solve(fitted.factor, np.eye(count))
    found: Floats = root @ root.T + fitted.moves.T @ fitted.log_cov @ fitted.moves
    return found


def _days(
    terms: Terms,
    fitted: Fitted,
    hours: Sequence[int],
    last: date,
    known: Mapping[date, DayWeather],
    holidays: Mapping[date, str],
) -> tuple[ForecastDay, ...]:
    rng = np.random.Generator(np.random.PCG64(SEED))
    drawn, _spreads = fitted.draws(rng, DRAWS)
    cars = np.exp(terms.ahead.log_expected(drawn))
    totals = cars.sum(axis=2)
    means, level = cars.mean(axis=0), totals.std(axis=0) / totals.mean(axis=0)
    found = []
    for place in range(len(means)):
        day = last + timedelta(days=place + 1)
        by_hour = dict(zip(hours, means[place].tolist(), strict=True))
        high = float(terms.usual.high_c[place])
        before = known.get(day - timedelta(days=1))
        found.append(
            ForecastDay(
                day,
                tuple(by_hour.get(hour, 0.0) for hour in range(24)),
                float(level[place]),
                holidays.get(day, ""),
                float(terms.usual.wet_share[place]),
                None if before is None else before.is_wet,
                None if math.isnan(high) else high,
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class SaidWeather:
    """What is said of a coming day's weather: rain or none, and its highest temperature [°C]; and
    whether it rained the day before; None where nothing is."""

    rain: bool | None = None
    high_c: float | None = None
    rain_before: bool | None = None


NOTHING_SAID = SaidWeather()


@dataclass(frozen=True, slots=True)
class DayForecast:
    """Cars by clock hour [cars] and how far they come out from that; what rain and warmth multiply
    them by on average; what a reader should know."""

    cars_per_h: tuple[float, ...]
    spread: DemandSpread
    factor: float
    notes: tuple[InputProblem, ...] = ()


def with_weather(
    forecast: Forecast, one: ForecastDay, said: SaidWeather = NOTHING_SAID
) -> DayForecast:
    """A day of a forecast with what is said of its weather, which may prove wrong: the mean over
    wet days, days after rain and dry ones, by the chance of each, and what these differ by goes
    to how far days differ.

    A rule of total variance: for a factor W of rain and warmth, independent of the day's own,
    1 + cv² = (1 + cv_day²)(1 + cv_W²).
    """
    wet = one.wet_share
    if said.rain is not None:
        wet = SAID_WET if said.rain else SAID_DRY
    before = one.after_wet if said.rain_before is None else said.rain_before
    rained = one.wet_share if before is None else float(before)
    notes: tuple[InputProblem, ...] = ()
    effects = [forecast.wet, forecast.after_rain, Effect(0.0, 0.0)]
    if forecast.wet_days < LEAST_RAIN_DAYS:
        effects = [Effect(0.0, 0.0)] * 3
        if said.rain is not None:
            sentence = (
                "The counts have too few wet days to learn from ({days}), so rain changes no "
                "number of cars here. Five or more would do; or add a change by hand, as in -30 %."
            )
            notes = (InputProblem("expect", sentence, {"days": forecast.wet_days}),)
    chances = [wet, (1.0 - wet) * rained, (1.0 - wet) * (1.0 - rained)]
    log_warm, warm_variance = _warmth(forecast, one, said)
    mean = square = 0.0
    for chance, effect in zip(chances, effects, strict=True):
        log_mean, variance = effect.log_mean + log_warm, effect.log_sd**2 + warm_variance
        mean += chance * math.exp(log_mean + 0.5 * variance)
        square += chance * math.exp(2.0 * log_mean + 2.0 * variance)
    varied = square / mean**2
    day_cv = math.sqrt((1.0 + forecast.day_cv**2) * varied - 1.0)
    spread = DemandSpread(day_cv, forecast.hour_cv, one.level_cv, forecast.counted, TOGETHER)
    cars = tuple(cars * mean for cars in one.cars_per_h)
    return DayForecast(cars, spread, mean, notes)


def _warmth(forecast: Forecast, one: ForecastDay, said: SaidWeather) -> tuple[float, float]:
    """Mean and variance of the log of what warmth multiplies cars by."""
    if one.usual_high_c is None:
        return 0.0, 0.0
    effect, above_k, sd_k = forecast.warmer, 0.0, forecast.high_sd_k
    if said.high_c is not None:
        above_k, sd_k = said.high_c - one.usual_high_c, min(SAID_HIGH_SD_K, sd_k)
    above, sd = above_k / WARM_K, sd_k / WARM_K
    square = effect.log_mean**2 + effect.log_sd**2
    return effect.log_mean * above, effect.log_sd**2 * above**2 + square * sd**2


def day_ahead(
    forecast: Forecast, one: ForecastDay, said: SaidWeather, guess: SpreadGuess
) -> DayCounts:
    """A day of a forecast, in place of the mean of like days; what the site entered itself of how
    far days and hours differ holds."""
    found = with_weather(forecast, one, said)
    spread = replace(
        found.spread,
        day_cv=None if guess.day_entered else found.spread.day_cv,
        hour_cv=None if guess.hour_entered else found.spread.hour_cv,
    )
    filling: dict[str, object] = {"count": forecast.counted, "factor": f"{found.factor:.2f}"}
    sentence = (
        "Cars: by all {count} days counted by the hour: level, weekday, time of year, hour; what "
        "is known of the weather makes them {factor} times those of a dry day."
    )
    if one.holiday:
        sentence = (
            "Cars: by all {count} days counted by the hour: level, weekday, time of year, hour, "
            "and as a public holiday ({holiday}); what is known of the weather makes them "
            "{factor} times those of a dry day."
        )
        filling["holiday"] = one.holiday
    return DayCounts(found.cars_per_h, Sentence(sentence, filling), spread, found.notes)
