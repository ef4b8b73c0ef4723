"""The demo site: made again it is the same, it stands on its day, and it has what it says."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import fmean
from unittest.mock import patch

from app.files.site_clock import SiteClock
from app.settings import Settings, read_settings
from app.sites.checks import check_data
from app.sites.demo import DEMO_FOLDER, demo_data, demo_days, standing_day
from app.sites.folder import look_into, read_folder, write_folder
from demo_site.make_demo import YEAR_DAYS, make
from demo_site.make_log import LAST, WEAK, WEAKENS, removal_on
from sim.inputs import History, LogEntry
from sim.inputs.logbook import CARS, DAMP_HOODS, HOUR, STOP, TURNED_AWAY, WIPING
from sim.learn.expected_day import ExpectedDay, expected_day
from sim.physics.air import saturation_pressure_pa

STANDS_ON = standing_day(demo_data())


def totals(history: History) -> dict[date, int]:
    """Cars of each day."""
    cars: dict[date, int] = {}
    for row in history.counts:
        cars[row.day] = cars.get(row.day, 0) + row.cars
    return cars


def day(kind: str) -> ExpectedDay:
    """One of the demo's days as it is expected."""
    return expected_day(demo_data(), demo_days()[kind])


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


def test_it_always_is_one_day_there() -> None:
    """Whatever the clock says, it is the Saturday after the counts end, in every time zone."""
    for moment in (datetime(2026, 7, 1, tzinfo=UTC), datetime(2031, 2, 3, 23, tzinfo=UTC)):
        with patch.object(Settings, "now", lambda _self, moment=moment: moment):
            assert (
                read_settings().today_at("UTC", demo_data().stands_on)
                == STANDS_ON
                == date(2026, 7, 18)
            )
    assert demo_data() == read_folder(DEMO_FOLDER)
    assert 1 <= (STANDS_ON - demo_data().history.counts[-1].day).days <= 7


def test_its_weather_has_the_hours_of_its_days() -> None:
    """A day on which clocks change has 23 or 25 hours of weather, every other day 24."""
    data = demo_data()
    clock = SiteClock(data.site.timezone)
    hours: dict[date, int] = {}
    for row in data.history.weather:
        hours[row.day] = hours.get(row.day, 0) + 1
    assert {len(hours), len(totals(data.history)) + 4} == {YEAR_DAYS}
    for one, count in hours.items():
        assert count == sum(clock.times(one, hour) for hour in range(24)), one
    assert sorted(set(hours.values())) == [23, 24, 25]


NORMAL_HIGH_C = (14.8, 17.2, 21.2, 25.4, 29.4, 32.7, 34.4, 33.4, 30.7, 25.7, 20.2, 15.9)
"""Mean highest temperature of each month at Augusta, Georgia, 1991 to 2020 (NOAA U.S. Climate
Normals, from memory): a place in the demo's time zone with humid summers and mild winters."""
DROUGHT = (9, 10)
"""Months in which the demo's year has its weeks of drought."""


def test_its_weather_fits_its_place_and_season() -> None:
    """Every month is as warm as such a place is, to 3.5 K, or to 6 K above in a drought; the air
    never holds more water than at a dew point of 27 °C, and is driest in the drought."""
    highest: dict[date, float] = {}
    vapor: dict[int, list[float]] = {}
    for row in demo_data().history.weather:
        highest[row.day] = max(highest.get(row.day, -99.0), row.temp_c)
        pressure = row.humidity * saturation_pressure_pa(row.temp_c)
        vapor.setdefault(row.day.month, []).append(row.humidity)
        assert pressure <= saturation_pressure_pa(27.0), row
    for month, normal in enumerate(NORMAL_HIGH_C, 1):
        mean = fmean(temp for day, temp in highest.items() if day.month == month)
        warmer = 6.0 if month in DROUGHT else 3.5
        assert normal - 3.5 <= mean <= normal + warmer, month
    assert min(vapor, key=lambda month: fmean(vapor[month])) in DROUGHT


def test_its_days_are_where_they_should_be() -> None:
    """The humid peak is the Saturday on which it stands, the hot dry peak a Saturday and the quiet
    day a Tuesday of the coming year, the day after rain past, the closed day still to come."""
    days = demo_days()
    data = demo_data()
    assert days["humid_peak"] == STANDS_ON
    assert STANDS_ON.weekday() == 5
    assert days["hot_dry_peak"].weekday() == 5
    assert days["quiet"].weekday() == 1
    year = timedelta(days=YEAR_DAYS)
    assert STANDS_ON < days["hot_dry_peak"] < days["quiet"] < STANDS_ON + year
    assert data.history.counts[0].day < days["after_rain"] < STANDS_ON
    assert STANDS_ON < days["closed"] < STANDS_ON + timedelta(days=30)
    marked = {note.day: note.kind for note in data.history.days}
    assert marked[days["closed"]] == "closed"
    assert not {days["humid_peak"], days["quiet"], days["hot_dry_peak"]} & set(marked)


def test_the_humid_peak() -> None:
    """About 1,300 cars, more than 134 an hour (what the default belt takes) from 11 to 16, 33 °C
    and about 60 % humidity in the hottest hour."""
    expected = day("humid_peak")
    assert 1200 <= expected.expected_cars <= 1400
    assert min(expected.conditions.arrivals_per_h[11:16]) > 134
    assert 150 <= expected.conditions.arrivals_per_h[13] <= 175
    assert 32.0 <= expected.highest_temp_c <= 34.5
    assert 0.56 <= expected.humidity_then <= 0.66
    assert expected.notes == ()


def test_the_hot_dry_peak() -> None:
    """A busy Saturday of 35 to 38 °C and 14 to 20 % humidity."""
    expected = day("hot_dry_peak")
    assert 1200 <= expected.expected_cars <= 1400
    assert 35.0 <= expected.highest_temp_c <= 38.0
    assert 0.16 <= expected.humidity_then <= 0.24
    assert expected.notes == ()


def test_the_quiet_day() -> None:
    """A Tuesday of about 300 cars in mild air without frost."""
    expected = day("quiet")
    assert 250 <= expected.expected_cars <= 350
    assert 10.0 <= expected.highest_temp_c <= 18.0
    assert expected.notes == ()


def test_the_day_after_rain() -> None:
    """It was dry after a wet day, and brought at least a fifth more than a week before."""
    data, when = demo_data(), demo_days()["after_rain"]
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


# ---- its logbook


def noted(kind: str) -> list[LogEntry]:
    """The entries of a kind."""
    return [one for one in demo_data().log if one.kind == kind]


def test_its_log_has_every_open_day_and_no_other() -> None:
    """Until the eve of the day on which it stands, 15 to 30 entries a day on average, in a file of
    less than 3 MB; nothing on a closed day, nothing on the day itself."""
    days = {one.day for one in demo_data().log}
    closed = {note.day for note in demo_data().history.days if note.kind == "closed"}
    first = demo_data().history.counts[0].day
    every = {first + timedelta(days=ahead) for ahead in range((LAST - first).days + 1)}
    assert days == every - closed
    assert STANDS_ON - timedelta(days=1) == LAST
    assert 15 <= len(demo_data().log) / len(days) <= 30
    assert (DEMO_FOLDER / "logbook.csv").stat().st_size < 3_000_000


def test_its_log_counts_the_cars_of_its_counts() -> None:
    """Cars washed and driven away are those that arrived; hours add up to the day's count."""
    arrived = totals(demo_data().history)
    hours, away = dict.fromkeys(arrived, 0), dict.fromkeys(arrived, 0)
    for one in noted(HOUR):
        hours[one.day] = hours.get(one.day, 0) + (one.count or 0)
    for one in noted(TURNED_AWAY):
        away[one.day] = away.get(one.day, 0) + (one.count or 0)
    washed = {one.day: one.count or 0 for one in noted(CARS)}
    for when, count in arrived.items():
        assert washed[when] + away[when] == count, when
        assert 0 <= washed[when] - hours[when] <= 27, when  # those still in line at closing


def test_a_blower_lost_power_and_nobody_noted_it() -> None:
    """From the spring on hoods are damp clearly more often than in the same weeks a year before;
    no entry speaks of a blower, and the site's own input stays."""
    entered = demo_data().site.water.blower_removal
    assert removal_on(WEAKENS, entered) == entered
    assert removal_on(WEAK, entered) < entered
    seen = {2025: [0, 0], 2026: [0, 0]}
    for one in noted(DAMP_HOODS):
        if (7, 13) < (one.day.month, one.day.day) <= (7, 31) or one.day > date(2026, 6, 30):
            seen[one.day.year][0] += one.count or 0
            seen[one.day.year][1] += one.of or 0
    shares = {year: damp / hoods for year, (damp, hoods) in seen.items()}
    assert shares[2026] > 1.5 * shares[2025]
    told = " ".join(f"{one.name} {one.text}" for one in demo_data().log).lower()
    assert "blower" not in told


def test_its_switches_and_stops() -> None:
    """Whoever reduces goes back to full that day; some switches have a reason, most have none;
    stops have causes and lengths of whole quarters of a minute."""
    of_day: dict[date, list[str]] = {}
    for one in noted(WIPING):
        of_day.setdefault(one.day, []).append(one.word)
    assert {tuple(words) for words in of_day.values()} == {("reduced", "full")}
    given = [bool(one.text) for one in noted(WIPING)]
    assert 0 < sum(given) < len(given)
    assert len(noted(STOP)) > 300
    assert all(one.name and one.lasted_s and one.lasted_s % 15.0 == 0.0 for one in noted(STOP))
