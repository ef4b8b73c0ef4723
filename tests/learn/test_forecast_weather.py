"""Coming days by all counts together: what rain does, what stays open, what is used."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sim.inputs import (
    TOGETHER,
    Effect,
    Forecast,
    ForecastDay,
    History,
    HourCount,
    HourWeather,
    Site,
    SiteData,
)
from sim.learn.expected_day import expected_day, parse_override
from sim.learn.forecast.ahead import Learning, SaidWeather, look_ahead, with_weather
from sim.learn.forecast.calendar import public_holidays
from sim.learn.forecast.judge import Expectation, by_all_counts, by_like_days, judge, learn
from sim.learn.forecast.terms import days_weather
from sim.learn.like_days import LikeDays, SpreadGuess
from tests.seeds import generator

START = date(2025, 1, 6)
HOURS = (8, 10, 12, 14)
SHAPE = np.array([30.0, 60.0, 80.0, 50.0])
WEEK = np.array([0.7, 0.7, 0.8, 0.9, 1.0, 1.4, 1.2])
GUESS = SpreadGuess(0.12, 0.1)


def site_data(
    name: str, days: int, growth: float = 0.0, wet: float = 0.5, after: float = 1.3
) -> SiteData:
    """A site whose cars halve in the rain and come back after it; its trade grows by so much a
    year, as a log."""
    rng = generator(name)
    counts, weather = [], []
    rained = False
    for ahead in range(days):
        day = START + timedelta(days=ahead)
        rain = bool(rng.random() < 0.25)
        level = math.exp(growth * ahead / 365.25) * WEEK[day.weekday()]
        level *= wet if rain else after if rained else 1.0
        cars = rng.poisson(SHAPE * level * rng.gamma(100.0, 0.01) * rng.gamma(100.0, 0.01, 4))
        counts += [HourCount(day, h, 0, int(n)) for h, n in zip(HOURS, cars, strict=True)]
        weather += [HourWeather(day, h, 0, 20.0, 0.5, 2.0 if rain else 0.0) for h in HOURS]
        rained = rain
    history = History("arrived", tuple(counts), tuple(weather))
    return SiteData(Site(name).with_values({"open_h": 8.0, "close_h": 15.0}), history=history)


def past_of(data: SiteData) -> LikeDays:
    """The counts of the four hours that are counted."""
    return LikeDays(data.history, HOURS)


def learning(data: SiteData) -> Learning:
    """With the site's weather, and no holiday."""
    return Learning(days_weather(data.history.weather, HOURS), {}, None, GUESS)


def test_rain_and_the_day_after_are_found_again() -> None:
    """In a year in which rain halves cars and the day after has three tenths more, both are found
    within three of their own errors, which are below 5 %; and days and hours differ by a tenth,
    found to a fifth."""
    data = site_data("rain", 364)
    forecast, _ = look_ahead(past_of(data), learning(data))
    for effect, true in ((forecast.wet, 0.5), (forecast.after_rain, 1.3)):
        assert effect.log_sd < 0.05
        assert abs(effect.log_mean - math.log(true)) < 3.0 * effect.log_sd
    assert forecast.day_cv == pytest.approx(0.1, rel=0.2)
    assert forecast.hour_cv == pytest.approx(0.1, rel=0.2)


def one_day() -> tuple[Forecast, ForecastDay]:
    """A day of 100 cars that is wet once in five times, which halves them."""
    cars = tuple(100.0 if hour == 12 else 0.0 for hour in range(24))
    day = ForecastDay(date(2026, 7, 18), cars, 0.05, wet_share=0.2, after_wet=False)
    none = Effect(0.0, 0.0)
    wet = Effect(math.log(0.5), 0.0)
    return Forecast((day,), 0.1, 0.1, wet, none, none, 0.0, 300, 60), day


@pytest.mark.parametrize(("said", "wet"), [(None, 0.2), (True, 0.8), (False, 0.1)])
def test_weather_that_is_open_goes_to_how_far_days_differ(said: bool | None, wet: float) -> None:
    """By hand: the mean is 100·(1 − w/2), and of the day's factor 1 + cv² is that of the day's own
    times E W²/(E W)² of W, one half with chance w, else 1."""
    forecast, day = one_day()
    found = with_weather(forecast, day, SaidWeather(rain=said))
    mean, square = 1.0 - wet / 2.0, 1.0 - 0.75 * wet
    assert found.cars_per_h[12] == pytest.approx(100.0 * mean)
    assert found.spread.day_cv == pytest.approx((1.01 * square / mean**2 - 1.0) ** 0.5)
    assert found.spread.like_days == TOGETHER


def test_too_few_wet_days_change_nothing() -> None:
    """With four wet days rain that is said changes no car, and a note says so."""
    forecast, day = one_day()
    found = with_weather(replace(forecast, wet_days=4), day, SaidWeather(rain=True))
    assert found.cars_per_h[12] == pytest.approx(100.0)
    assert "too few wet days" in str(found.notes[0])


def test_a_days_own_forecast_is_expected() -> None:
    """A site whose forecast has the day expects that, says so, takes a typed rain, and keeps what
    the site entered of days; a day beyond it is expected by like days."""
    forecast, day = one_day()
    data = replace(site_data("expected", 84), forecast=forecast)
    found = expected_day(data, day.day)
    assert found.expected_cars == pytest.approx(90.0)
    assert "by all 300 days counted by the hour" in found.origin
    assert "all counts together lead to expect is itself uncertain by 5" in found.origin
    wet = expected_day(data, day.day, parse_override("rain, +10 %"))
    assert wet.expected_cars == pytest.approx(100.0 * 0.6 * 1.1)
    own = replace(data, given=frozenset({"day_factor_cv"}))
    assert expected_day(own, day.day).conditions.spread.day_cv is None
    beyond = expected_day(data, day.day + timedelta(days=1))
    assert "mean of" in beyond.origin


def test_all_counts_are_used_where_they_are_better() -> None:
    """Where trade has grown by half within a year, which like days of a year ago don't know, all
    counts together score better on the eight weeks held back, surely, and are used; both scores
    stand beside each other."""
    data = site_data("grows", 500, 0.4, wet=1.0, after=1.0)
    found = judge(past_of(data), learning(data))
    assert found is not None
    assert (found.days, found.weeks) == (56, 8)
    assert found.last - found.first == timedelta(days=55)
    assert found.is_used
    assert found.difference.high < 0.0
    assert found.together.crps < found.like.crps


def backwards(one: Expectation) -> tuple[float, ...]:
    """The open hours of a day, last first."""
    cars = {hour: one.cars_per_h[other] for hour, other in zip(HOURS, HOURS[::-1], strict=True)}
    return tuple(cars.get(hour, 0.0) for hour in range(24))


def test_nothing_is_used_that_is_not_better() -> None:
    """The same way against itself is not better; nor one that has days right and hours wrong."""
    data = site_data("same", 140)
    past, known = past_of(data), learning(data)
    like = by_like_days(GUESS)
    found = judge(past, known, (like, like))
    assert found is not None
    assert found.difference.mean == 0.0
    assert not found.is_used
    good = by_all_counts(known)

    def turned(begun: LikeDays, days: Sequence[date]) -> dict[date, Expectation]:
        """Right in all, with the hours of the day in the wrong order."""
        told = good(begun, days)
        return {day: replace(one, cars_per_h=backwards(one)) for day, one in told.items()}

    worse = judge(past, known, (like, turned))
    assert worse is not None
    assert not worse.is_used


def test_too_few_days_are_not_judged() -> None:
    """Eleven weeks of days are not tried; twelve are, and tell when and by what they were."""
    decided = date(2026, 1, 1)
    few = site_data("few", 77)
    assert learn(past_of(few), learning(few), "", decided) is None
    data = site_data("few", 84)
    found = learn(past_of(data), learning(data), "US", decided)
    assert found is not None
    assert (found.decided, found.through) == (decided, START + timedelta(days=83))
    assert len(found.cars) == len(found.like_cars) == len(found.forecast.days) == 28


def test_days_without_a_car_are_no_days() -> None:
    """Two days on which nobody came, not marked as closed, change nothing that is expected."""
    data = site_data("nobody", 140)
    empty = {START + timedelta(days=40), START + timedelta(days=77)}
    rows = tuple(replace(row, cars=0) if row.day in empty else row for row in data.history.counts)
    without = tuple(row for row in data.history.counts if row.day not in empty)
    found, left = (
        look_ahead(LikeDays(replace(data.history, counts=counts), HOURS), learning(data))[0]
        for counts in (rows, without)
    )
    assert found == left


def test_public_holidays_of_a_country() -> None:
    """The United States' Independence Day of 2026, a Saturday, and the Friday in its place, have
    one name; a country that nobody knows has none. The dates are those of 5 U.S.C. 6103."""
    found = public_holidays("US", date(2026, 7, 1), date(2026, 7, 31))
    assert found == {date(2026, 7, 3): "Independence Day", date(2026, 7, 4): "Independence Day"}
    assert public_holidays("", date(2026, 7, 1), date(2026, 7, 31)) == {}


def test_a_holiday_is_told_apart() -> None:
    """Where each of five holidays brought half as many cars again, one to come is expected to bring
    a fifth more than the same weekday a week on, or more."""
    data = site_data("holiday", 364, wet=1.0, after=1.0)
    off = {START + timedelta(days=at): f"holiday {at % 3}" for at in (30, 90, 151, 212, 333)}
    counts = tuple(
        replace(row, cars=round(row.cars * 1.5)) if row.day in off else row
        for row in data.history.counts
    )
    coming = START + timedelta(days=368)
    off[coming] = "holiday 0"
    past = LikeDays(replace(data.history, counts=counts), HOURS)
    forecast, _ = look_ahead(past, replace(learning(data), holidays=off))
    own, usual = forecast.of(coming), forecast.of(coming + timedelta(days=7))
    assert own is not None
    assert usual is not None
    assert own.holiday == "holiday 0"
    assert sum(own.cars_per_h) > 1.2 * sum(usual.cars_per_h)
