"""The demo site: made again it is the same, laid it ends before today, and it has what it says."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from app.files.site_clock import SiteClock
from app.sites.checks import check_data
from app.sites.demo import DEMO_FOLDER, demo_data, demo_days
from app.sites.folder import look_into, read_folder, write_folder
from demo_site.make_demo import YEAR_DAYS, make
from sim.inputs import History
from sim.learn.expected_day import ExpectedDay, expected_day

TODAY = date(2026, 7, 15)
TODAYS = [TODAY + timedelta(days=step) for step in (*range(8), 100, 200, 366, 1000, 5000, -3000)]


def totals(history: History) -> dict[date, int]:
    """Cars of each day."""
    cars: dict[date, int] = {}
    for row in history.counts:
        cars[row.day] = cars.get(row.day, 0) + row.cars
    return cars


def day(kind: str, today: date = TODAY) -> ExpectedDay:
    """One of the demo's days as it is expected."""
    return expected_day(demo_data(today), demo_days(today)[kind])


def test_made_again_it_is_the_same(tmp_path: Path) -> None:
    """The script beside the demo gives the stored files, byte for byte, and all of them; over
    files that are there it takes none away."""
    names = sorted(path.name for path in DEMO_FOLDER.glob("*") if path.suffix in (".toml", ".csv"))
    assert "people.csv" in names
    for _again in range(2):
        write_folder(tmp_path, make())
        assert sorted(path.name for path in tmp_path.iterdir()) == names
        for name in names:
            assert (tmp_path / name).read_bytes() == (DEMO_FOLDER / name).read_bytes(), name


def test_its_files_are_in_order() -> None:
    """The folder has no problem, and can be stored; all it says is that closed days are missing."""
    preview = look_into(DEMO_FOLDER)
    assert preview.problems == ()
    assert [note.field for note in preview.notes] == ["date"]
    assert check_data(preview.data) == []
    assert "invented" in (DEMO_FOLDER / "README.md").read_text().splitlines()[0]


@pytest.mark.parametrize("today", TODAYS)
def test_the_year_is_laid_before_today(today: date) -> None:
    """Its 364 days end one to seven days before today, each day on its own weekday and with its
    own cars, marked days moved along."""
    stored, laid = read_folder(DEMO_FOLDER).history, demo_data(today).history
    shift = laid.counts[0].day - stored.counts[0].day
    assert shift.days % 7 == 0
    assert 1 <= (today - laid.counts[-1].day).days <= 7
    assert (laid.counts[-1].day - laid.counts[0].day).days == YEAR_DAYS - 1
    assert [(row.day - shift, row.hour, row.cars) for row in laid.counts] == [
        (row.day, row.hour, row.cars) for row in stored.counts
    ]
    assert [note.day - shift for note in laid.days] == [note.day for note in stored.days]
    assert list(laid.weather) == sorted(laid.weather)


def test_the_folder_as_it_stands_is_laid_for_mid_july_2026() -> None:
    """Planned as a folder for July 18, 2026 the demo shows the same humid peak."""
    assert read_folder(DEMO_FOLDER) == demo_data(TODAY)
    assert demo_days(TODAY)["humid_peak"] == date(2026, 7, 18)


@pytest.mark.parametrize("today", [date(2026, 7, 15), date(2026, 11, 25), date(2031, 2, 3)])
def test_its_weather_has_the_hours_of_the_days_it_is_laid_on(today: date) -> None:
    """A day on which clocks change has 23 or 25 hours of weather, every other day 24."""
    data = demo_data(today)
    clock = SiteClock(data.site.timezone)
    hours: dict[date, int] = {}
    for row in data.history.weather:
        hours[row.day] = hours.get(row.day, 0) + 1
    assert {len(hours), len(totals(data.history)) + 4} == {YEAR_DAYS}
    for one, count in hours.items():
        assert count == sum(clock.times(one, hour) for hour in range(24)), one
    assert sorted(set(hours.values())) == [23, 24, 25]


@pytest.mark.parametrize("today", TODAYS)
def test_its_days_are_where_they_should_be(today: date) -> None:
    """The humid peak is the coming Saturday, the hot dry peak a Saturday and the quiet day a
    Tuesday of the coming year, the day after rain past, the closed day still to come."""
    days = demo_days(today)
    data = demo_data(today)
    assert days["humid_peak"].weekday() == 5
    assert 1 <= (days["humid_peak"] - today).days <= 7
    assert days["hot_dry_peak"].weekday() == 5
    assert days["quiet"].weekday() == 1
    assert today < days["hot_dry_peak"] < days["quiet"] < today + timedelta(days=YEAR_DAYS)
    assert data.history.counts[0].day < days["after_rain"] < today
    assert today < days["closed"] < today + timedelta(days=30)
    marked = {note.day: note.kind for note in data.history.days}
    assert marked[days["closed"]] == "closed"
    assert not {days["humid_peak"], days["quiet"], days["hot_dry_peak"]} & set(marked)


@pytest.mark.parametrize("today", TODAYS[:7])
def test_the_humid_peak(today: date) -> None:
    """About 1,500 cars, more than 134 an hour (what the default belt takes) from 11 to 16, 33 °C
    and 65 to 75 % humidity in the hottest hour, on whatever weekday one looks."""
    expected = day("humid_peak", today)
    assert 1400 <= expected.expected_cars <= 1650
    assert min(expected.conditions.arrivals_per_h[11:16]) > 140
    assert 150 <= expected.conditions.arrivals_per_h[13] <= 175
    assert 32.0 <= expected.highest_temp_c <= 34.5
    assert 0.65 <= expected.humidity_then <= 0.75
    assert expected.notes == ()


def test_the_hot_dry_peak() -> None:
    """A busy Saturday of 35 to 38 °C and 14 to 20 % humidity."""
    expected = day("hot_dry_peak")
    assert 1300 <= expected.expected_cars <= 1550
    assert 35.0 <= expected.highest_temp_c <= 38.0
    assert 0.14 <= expected.humidity_then <= 0.20
    assert expected.notes == ()


def test_the_quiet_day() -> None:
    """A Tuesday of about 300 cars in mild air without frost."""
    expected = day("quiet")
    assert 250 <= expected.expected_cars <= 350
    assert 10.0 <= expected.highest_temp_c <= 18.0
    assert expected.notes == ()


def test_the_day_after_rain() -> None:
    """It was dry after a wet day, and brought at least a fifth more than a week before."""
    data, when = demo_data(TODAY), demo_days(TODAY)["after_rain"]
    rain = dict.fromkeys((when, when - timedelta(days=1)), 0.0)
    for row in data.history.weather:
        if row.day in rain and 7 <= row.hour < 20:
            rain[row.day] += row.rain_mm
    assert rain[when] == 0.0
    assert rain[when - timedelta(days=1)] >= 5.0
    cars = totals(data.history)
    assert cars[when] >= 1.2 * cars[when - timedelta(days=7)]


def test_the_closed_day() -> None:
    """No car is expected on it, and the reason is told."""
    expected = day("closed")
    assert expected.closed
    assert expected.expected_cars == 0.0
    assert "(“belt and wheel serviced”)" in expected.origin


def test_days_differ_more_than_poisson() -> None:
    """In the dry season, where rain does not blur it, the day factor that made the demo is found
    again within the spread of 42 days."""
    expected = day("hot_dry_peak")
    spread = expected.conditions.spread
    assert spread.days >= 40
    assert spread.day_cv is not None
    assert 0.06 <= spread.day_cv <= 0.13
