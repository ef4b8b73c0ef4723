"""The stored past in short: days, means by weekday and hour, and as CSV."""

from __future__ import annotations

from datetime import date

import pytest

from app.files.hourly import counts_csv, read_counts, read_weather, weather_csv
from app.sites.reading import in_short
from sim.inputs import History, HourCount, HourWeather, Site

MONDAY = date(2026, 7, 13)
NEXT_MONDAY = date(2026, 7, 20)
SITE = Site("Quay", "America/New_York").with_values({"open_h": 7.5, "close_h": 10.0})


def test_means_by_weekday_and_hour() -> None:
    """Each weekday and open hour has the mean of what was counted then; days count when whole."""
    counts = (
        HourCount(MONDAY, 7, 0, 10),
        HourCount(MONDAY, 8, 0, 20),
        HourCount(MONDAY, 9, 0, 30),
        HourCount(NEXT_MONDAY, 8, 0, 25),
        HourCount(NEXT_MONDAY, 12, 0, 99),
    )
    past = in_short(History("arrived", counts), SITE)
    assert past.hours == (7, 8, 9)
    assert list(past.means[0]) == [10, 22.5, 30]
    assert list(past.means[1]) == [None, None, None]
    assert list(past.day_means) == [60, *[None] * 6]
    first = past.count_days[0]
    assert (first.hours, first.cars, first.busiest_hour, first.busiest_cars) == (3, 60, 9, 30)


def test_nothing_stored() -> None:
    """An empty past has no days and no means, and breaks nothing."""
    past = in_short(History(), SITE)
    assert past.count_days == ()
    assert past.weather_days == ()
    assert all(value is None for row in past.means for value in row)


def test_weather_in_short() -> None:
    """A day of weather has its extremes, mean humidity and rain."""
    weather = (
        HourWeather(MONDAY, 7, 0, 20.0, 0.8, 0.5),
        HourWeather(MONDAY, 14, 0, 31.0, 0.4, 1.0),
    )
    (day,) = in_short(History(weather=weather), SITE).weather_days
    assert (day.low_c, day.high_c, day.rain_mm, day.hours) == (20.0, 31.0, 1.5, 2)
    assert day.humidity == pytest.approx(0.6)


def test_csv_comes_back_as_it_went() -> None:
    """Counts and weather written as CSV are read back hour for hour, doubled hour included."""
    fall = date(2026, 11, 1)
    counts = (HourCount(fall, 1, 0, 4), HourCount(fall, 1, 1, 5), HourCount(fall, 2, 0, 6))
    weather = (HourWeather(fall, 1, 0, 11.3, 0.643, 0.2), HourWeather(fall, 1, 1, 10.9, 0.7, 0.0))
    history = History("washed", counts, weather)
    zone = "America/New_York"
    back = read_counts(counts_csv(history, zone).encode(), zone, 0.0, 24.0)
    assert (back.history.counted, back.history.counts, back.problems) == ("washed", counts, ())
    air = read_weather(weather_csv(history, zone).encode(), zone)
    assert (air.history.weather, air.problems) == (weather, ())
