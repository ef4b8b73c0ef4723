"""The expected day: which days it is made of, and what typed values do to it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from datetime import date, timedelta

import numpy as np
import pytest

from sim.errors import InputError, InputProblem
from sim.inputs import DayNote, DemandSpread, History, HourCount, HourWeather, Site, SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day
from sim.learn.like_days import LikeDays, day_variance, days_apart, hours_text, open_hours
from sim.physics.air import saturation_pressure_pa

SATURDAY = date(2026, 7, 18)
HOURS = range(7, 20)


def days_back(count: int, last: date = SATURDAY - timedelta(days=1)) -> list[date]:
    """The `count` days that end with `last`, in order."""
    return [last - timedelta(days=back) for back in reversed(range(count))]


def counts_of(days: Iterable[date], cars: Callable[[date, int], int]) -> tuple[HourCount, ...]:
    """Counts of every open hour of some days."""
    return tuple(HourCount(day, hour, 0, cars(day, hour)) for day in days for hour in HOURS)


def weather_of(
    days: Iterable[date],
    air: Callable[[date, int], tuple[float, float]],
    rain_mm: Callable[[date], float] = lambda day: 0.0,
) -> tuple[HourWeather, ...]:
    """Weather of every hour of some days; the rain all falls at noon."""
    return tuple(
        HourWeather(day, hour, 0, *air(day, hour), rain_mm(day) if hour == 12 else 0.0)
        for day in days
        for hour in range(24)
    )


def mild(day: date, hour: int) -> tuple[float, float]:
    """A day between 15 and 25 °C with its maximum at 15:00."""
    return 25.0 - abs(hour - 15) / 1.5, 0.5


def site_of(
    counts: tuple[HourCount, ...],
    weather: tuple[HourWeather, ...] | None = None,
    marked: tuple[DayNote, ...] = (),
    counted: str = "arrived",
) -> SiteData:
    """A site with a past; a year of mild weather unless another is given."""
    air = weather_of(days_back(364), mild) if weather is None else weather
    return SiteData(Site("Test wash"), history=History(counted, counts, air, marked))


def said(notes: Iterable[InputProblem]) -> str:
    """All notes as one text."""
    return " ".join(note.say("si") for note in notes).replace("\u00a0", " ")


def flat(cars: int) -> Callable[[date, int], int]:
    """The same count in every hour."""
    return lambda day, hour: cars


def refusal(data: SiteData, day: date, override: Override | None = None) -> str:
    """What is said of a day that can't be expected."""
    with pytest.raises(InputError) as caught:
        expected_day(data, day, override or Override())
    return said(caught.value.problems)


def test_cars_are_the_mean_of_the_same_weekday_and_season() -> None:
    """Saturdays within three weeks of the same time of year, a year ago or last week, and only
    those, make a Saturday."""

    def cars(day: date, hour: int) -> int:
        if day.weekday() != 5 or days_apart(SATURDAY, day) > 21:
            return 999
        return hour + (10 if day.year == 2025 else 0)

    data = site_of(counts_of(days_back(364), cars))
    expected = expected_day(data, SATURDAY)
    used = [d for d in days_back(364) if d.weekday() == 5 and days_apart(SATURDAY, d) <= 21]
    last_year = sum(d.year == 2025 for d in used)
    assert (len(used), last_year) == (7, 4)
    for hour in HOURS:
        mean = hour + 10 * last_year / len(used)
        assert expected.conditions.arrivals_per_h[hour] == pytest.approx(mean)
    assert expected.expected_cars == pytest.approx(sum(expected.conditions.arrivals_per_h))
    assert expected.origin.startswith(
        "Cars: mean of 7 Saturdays within 3 weeks of this time of year, "
        "from 2025-07-19 to 2026-07-11."
    )
    assert expected.conditions.opening_moisture_kg_kg is None
    assert not expected.closed


def test_conditions_have_24_hours_and_no_cars_when_closed() -> None:
    """Each curve has 24 values; hours that are not open bring nobody, which is noted if there
    were counts."""
    night = tuple(HourCount(day, 22, 0, 5) for day in days_back(60))
    data = site_of(counts_of(days_back(60), flat(8)) + night)
    expected = expected_day(data, SATURDAY)
    conditions = expected.conditions
    assert {
        len(c) for c in (conditions.arrivals_per_h, conditions.temp_c, conditions.humidity)
    } == {24}
    assert [h for h, cars in enumerate(conditions.arrivals_per_h) if cars] == list(HOURS)
    assert "There are counts at 22:00, outside the opening hours; they are left out." in said(
        expected.notes
    )


def test_missing_hours_are_left_out_of_the_mean() -> None:
    """An hour that one day lacks is the mean of the days that have it, never pulled to zero."""
    days = [d for d in days_back(60) if d.weekday() == 5 and days_apart(SATURDAY, d) <= 21]
    counts = counts_of(days_back(60), flat(40))
    holed = tuple(r for r in counts if not (r.hour == 12 and r.day in days[1:]))
    expected = expected_day(site_of(holed), SATURDAY)
    assert expected.conditions.arrivals_per_h[12] == 40.0


def test_an_hour_nobody_ever_counted_is_filled_from_its_neighbors() -> None:
    """Without any count of an hour the nearest hours stand in, and a note names it."""
    counts = counts_of(days_back(60), lambda day, hour: 10 * hour)
    holed = tuple(r for r in counts if r.hour not in (7, 11, 12))
    expected = expected_day(site_of(holed), SATURDAY)
    cars = expected.conditions.arrivals_per_h
    assert cars[7] == 80.0
    assert cars[11] == pytest.approx(110.0)
    assert cars[12] == pytest.approx(120.0)
    assert (
        "No like day has a count at 7:00, 11:00 to 12:00; the counts of the nearest hours stand "
        "in. Missing is not zero." in said(expected.notes)
    )


def test_the_hour_that_comes_twice_counts_once() -> None:
    """Two lines of one clock hour are averaged, not added."""
    site = Site("Night wash").with_values({"open_h": 0.0, "close_h": 3.0})
    days = days_back(60)
    rows = tuple(HourCount(d, h, f, 4 + 2 * f) for d in days for h in range(3) for f in (0, 1))
    data = SiteData(site, history=History("arrived", rows, weather_of(days, mild)))
    assert expected_day(data, SATURDAY).conditions.arrivals_per_h[:3] == (5.0, 5.0, 5.0)


def test_marked_days_are_left_out() -> None:
    """Closed days and events of the past do not bend the mean, nor does the day itself."""
    week = SATURDAY - timedelta(days=7)
    two = SATURDAY - timedelta(days=14)
    odd = {week: 900, two: 0, SATURDAY: 777}
    days = days_back(90, SATURDAY)
    marked = (DayNote(two, "closed"), DayNote(week, "event", "fair"))
    data = site_of(counts_of(days, lambda d, h: odd.get(d, 30)), marked=marked)
    assert set(expected_day(data, SATURDAY).conditions.arrivals_per_h) == {0.0, 30.0}


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (364, "mean of 7 Saturdays within 3 weeks of this time of year"),
        (28, "mean of 4 Saturdays within 5 weeks of this time of year"),
        (14, "mean of 14 days of the whole year and of every weekday"),
    ],
)
def test_the_season_widens_until_there_are_four_days(days: int, words: str) -> None:
    """With too few like days the reach grows step by step, and the origin says how far."""
    data = site_of(counts_of(days_back(days), flat(20)))
    assert words in expected_day(data, SATURDAY).origin


def test_wider_seasons_are_tried_before_other_weekdays() -> None:
    """Saturdays of the other half of the year come before Mondays of this week."""
    days = [SATURDAY - timedelta(days=7 * k) for k in (20, 22, 24, 26)]
    counts = counts_of(days, flat(50)) + counts_of(days_back(5), flat(1))
    expected = expected_day(site_of(tuple(sorted(counts))), SATURDAY)
    assert "mean of 4 Saturdays of the whole year" in expected.origin
    assert expected.conditions.arrivals_per_h[10] == 50.0


def test_few_days_are_noted() -> None:
    """A mean of fewer than four days is used, and said to be luck."""
    data = site_of(counts_of(days_back(2), flat(20)))
    expected = expected_day(data, SATURDAY)
    assert "Like days with counts: only 2." in said(expected.notes)
    one = expected_day(site_of(counts_of(days_back(1), flat(20))), SATURDAY)
    assert "the counts of one day, 2026-07-17, the only one of the whole year" in one.origin


def test_zero_cars_are_noted() -> None:
    """Days without any car give a day without any, and both are said."""
    expected = expected_day(site_of(counts_of(days_back(60), flat(0))), SATURDAY)
    notes = said(expected.notes)
    assert expected.expected_cars == 0.0
    assert "No cars are expected on 2026-07-18: the counts of like days are all zero." in notes
    assert "Like days without any car: 5, the last on 2026-07-11." in notes
    assert "mark them as closed" in notes
    none = expected_day(site_of(counts_of(days_back(60), flat(9))), SATURDAY, Override(event=-1.0))
    assert "No cars are expected on 2026-07-18: they were taken away by hand." in said(none.notes)


def test_cars_washed_are_said_to_be_a_lower_bound() -> None:
    """Counts of cars washed carry the warning that a full hour hides arrivals."""
    data = site_of(counts_of(days_back(60), flat(9)), counted="washed")
    assert "Cars washed were counted: in a full hour more may have arrived" in said(
        expected_day(data, SATURDAY).notes
    )


def test_without_counts_the_day_is_refused() -> None:
    """No history is a problem that says what to bring in; the same with counts at night only."""
    sentence = "There are no counts of open hours to expect a day from. Bring in at least four days"
    assert sentence in refusal(site_of(()), SATURDAY)
    night = tuple(HourCount(day, 22, 0, 5) for day in days_back(60))
    assert "between 7:00 and 20:00" in refusal(site_of(night), SATURDAY)


def test_a_closed_day_needs_nothing() -> None:
    """A day marked closed has no cars, and lacks neither counts nor weather."""
    marked = (DayNote(SATURDAY, "closed", "holiday"), DayNote(SATURDAY, "event", "fair"))
    expected = expected_day(site_of((), (), marked), SATURDAY)
    assert expected.closed
    assert expected.expected_cars == 0.0
    assert "Closed: this is marked as a closed day (“holiday”)." in expected.origin
    assert "so a typical day of July by the climate chosen on the Site page" in said(expected.notes)
    assert max(expected.conditions.temp_c) == Site("Any").climate.normals.high_c[6]


def test_a_site_that_never_opens_is_closed() -> None:
    """Without opening hours every day is closed, and the origin says why."""
    data = site_of(counts_of(days_back(60), flat(9)))
    site = data.site.with_values({"open_h": 9.0, "close_h": 9.0})
    expected = expected_day(dataclasses.replace(data, site=site), SATURDAY)
    assert expected.closed
    assert expected.origin.startswith("Closed: the site has no opening hours.")


def test_an_event_scales_every_hour() -> None:
    """A typed ± % multiplies the whole day and stands in the origin."""
    data = site_of(counts_of(days_back(60), lambda day, hour: hour))
    plain = expected_day(data, SATURDAY)
    more = expected_day(data, SATURDAY, Override(event=0.25))
    for a, b in zip(plain.conditions.arrivals_per_h, more.conditions.arrivals_per_h, strict=True):
        assert b == pytest.approx(1.25 * a)
    assert "Typed by hand: +25 % cars." in more.origin
    assert more.conditions.temp_c == plain.conditions.temp_c


def test_a_marked_event_asks_for_a_number() -> None:
    """A coming day marked as an event says that nothing was changed, until a change is typed."""
    data = site_of(counts_of(days_back(60), flat(9)), marked=(DayNote(SATURDAY, "event", "fair"),))
    assert "2026-07-18 is marked as an event (“fair”), which changes no number here." in said(
        expected_day(data, SATURDAY).notes
    )
    assert "marked as an event" not in said(expected_day(data, SATURDAY, Override(event=0.2)).notes)


# ---- day factor ------------------------------------------------------------------------------


def test_the_day_factor_is_found_again() -> None:
    """Counts drawn with a day factor of 0.20 on top of Poisson hours give 0.20 back to 3.2
    standard errors (±0.01) of 60 repetitions; pure Poisson counts give next to nothing."""
    rng = np.random.default_rng(7)
    weather = weather_of(days_back(1), mild)
    for truth, low, high in ((0.20, 0.19, 0.21), (0.0, 0.0, 0.035)):
        found = []
        for _ in range(60):
            days = days_back(42)
            factor = {d: rng.gamma(truth**-2, truth**2) if truth else 1.0 for d in days}

            def drawn(day: date, hour: int, factor: dict[date, float] = factor) -> int:
                return int(rng.poisson(60.0 * factor[day]))

            counts = counts_of(days, drawn)
            data = site_of(counts, weather)
            variance, freedom, whole = day_variance(LikeDays(data.history, tuple(HOURS)), SATURDAY)
            assert (freedom, whole) == (14, 21)
            found.append(variance)
        root = max(0.0, float(np.mean(found))) ** 0.5
        assert low <= root <= high, truth


def test_the_day_factor_by_hand() -> None:
    """Two Saturdays of 1,300 ± 130 cars, three equal Sundays and a Monday: method of moments by
    hand, three degrees of freedom, averaged with the guess of 12 %, which counts for four."""
    totals = {0: 90, 7: 110}

    def cars(day: date, hour: int) -> int:
        back = (SATURDAY - timedelta(days=7) - day).days
        return totals.get(back, 50)

    saturdays = [SATURDAY - timedelta(days=7 * k) for k in (1, 2)]
    sundays = [SATURDAY - timedelta(days=7 * k - 1) for k in (1, 2, 3)]
    counts = counts_of(sorted(saturdays + sundays), cars)
    expected = expected_day(site_of(counts), SATURDAY)
    spread = expected.conditions.spread
    assert spread == DemandSpread(None, None, spread.level_cv, 0, 5)
    assert "differ by about 12 %, hours given the day by 10 % (a guess" in expected.origin
    monday = SATURDAY - timedelta(days=5)
    six = expected_day(site_of(tuple(sorted(counts + counts_of([monday], cars)))), SATURDAY)
    saturday, sunday = 13 * 100.0, 13 * 50.0
    above = 2 * (13 * 10.0) ** 2 - saturday - 2 * sunday
    below = saturday**2 + 2 * sunday**2
    alone = above / below - 0.1**2 / 13  # less what the guess of 10 % on each of 13 hours does
    found = (3 * alone + 4 * 0.12**2) / 7
    assert six.conditions.spread.days == 6
    assert six.conditions.spread.day_cv == pytest.approx(found**0.5)
    assert f"differ by about {100 * found**0.5:.0f} % (from 6 whole days of counts)" in six.origin
    assert "hours given the day by 10 % (a guess: too few whole days of counts)" in six.origin


def test_days_with_a_hole_do_not_count_for_the_day_factor() -> None:
    """A day with a missing hour would look like a weak day, so it is left out."""
    counts = counts_of(days_back(42), flat(50))
    whole = expected_day(site_of(counts), SATURDAY).conditions.spread
    holed = tuple(r for r in counts if not (r.hour == 13 and r.day.day % 2))
    assert whole.days == 21
    assert whole.day_cv == pytest.approx((4 * 0.12**2 / 18) ** 0.5)  # no more than the guess's part
    less = expected_day(site_of(holed), SATURDAY).conditions.spread
    assert 0 < less.days < whole.days
    assert less.day_cv is not None
    assert less.day_cv < 0.12


def test_what_the_manager_entered_holds() -> None:
    """A day-to-day variation that the site entered itself is not replaced by counts, and is told
    as his own."""
    data = site_of(counts_of(days_back(42), flat(50)))
    site = data.site.with_values({"day_factor_cv": 0.3})
    own = dataclasses.replace(data, site=site, given=data.given | {"day_factor_cv"})
    found = expected_day(own, SATURDAY)
    assert found.conditions.spread.day_cv is None
    assert "differ by about 30 % (your own entry)" in found.origin


# ---- weather ---------------------------------------------------------------------------------


def vapor(expected: ExpectedDay) -> list[float]:
    """Vapor pressure of each hour [Pa]."""
    air = zip(expected.conditions.temp_c, expected.conditions.humidity, strict=True)
    return [humidity * saturation_pressure_pa(temp) for temp, humidity in air]


def test_air_is_averaged_by_its_water() -> None:
    """The mean of cool damp and hot dry days holds the mean of their vapor pressures, at the mean
    of their temperatures; the mean of relative humidities would not."""
    days = days_back(20)

    def air(day: date, hour: int) -> tuple[float, float]:
        return (10.0, 0.9) if day.toordinal() % 2 else (34.0, 0.3)

    near = [d for d in days if days_apart(SATURDAY, d) <= 10]
    cool = sum(d.toordinal() % 2 for d in near)
    assert (len(near), cool) == (10, 5)
    expected = expected_day(site_of(counts_of(days, flat(9)), weather_of(days, air)), SATURDAY)
    mean = (0.9 * saturation_pressure_pa(10.0) + 0.3 * saturation_pressure_pa(34.0)) / 2.0
    assert expected.conditions.temp_c == pytest.approx((22.0,) * 24)
    assert vapor(expected) == pytest.approx([mean] * 24)
    assert abs(expected.conditions.humidity[12] - 0.6) > 0.02
    assert "Weather: mean of 10 days within 10 days of this time of year." in expected.origin


def test_weather_comes_from_the_same_time_of_year() -> None:
    """Days more than ten days away in the season do not count, last year's near ones do."""
    days = days_back(364)

    def air(day: date, hour: int) -> tuple[float, float]:
        return (20.0, 0.5) if days_apart(SATURDAY, day) <= 10 else (-5.0, 0.9)

    data = site_of(counts_of(days, flat(9)), weather_of(days, air))
    expected = expected_day(data, SATURDAY)
    assert expected.conditions.temp_c == pytest.approx((20.0,) * 24)
    assert "mean of 21 days" in expected.origin


def test_weather_of_the_day_itself_comes_first() -> None:
    """A day that the file has is taken as it is, with the rain that fell."""
    days = days_back(30, SATURDAY)

    def air(day: date, hour: int) -> tuple[float, float]:
        return (30.0 + hour / 10.0, 0.4) if day == SATURDAY else (10.0, 0.9)

    weather = weather_of(days, air, lambda day: 7.5 if day == SATURDAY else 0.0)
    expected = expected_day(site_of(counts_of(days, flat(9)), weather), SATURDAY)
    assert expected.conditions.temp_c == pytest.approx([30.0 + h / 10.0 for h in range(24)])
    assert expected.conditions.humidity == pytest.approx((0.4,) * 24)
    assert expected.rain_mm == 7.5
    assert "Weather: the file has this very day." in expected.origin
    holed = tuple(r for r in weather if not (r.day == SATURDAY and r.hour == 12))
    other = expected_day(site_of(counts_of(days, flat(9)), holed), SATURDAY)
    assert other.conditions.temp_c[12] == pytest.approx(10.0)


def test_rain_is_the_mean_of_the_days() -> None:
    """Without anything typed the rain is what such days bring on average."""
    days = days_back(20)
    weather = weather_of(days, mild, lambda day: 3.0)
    assert expected_day(
        site_of(counts_of(days, flat(9)), weather), SATURDAY
    ).rain_mm == pytest.approx(3.0)


def test_a_typed_temperature_shifts_the_day() -> None:
    """The maximum is exactly what was typed, the shape stays, and so does the water in the air."""
    data = site_of(counts_of(days_back(60), flat(9)))
    plain = expected_day(data, SATURDAY)
    hot = expected_day(data, SATURDAY, Override(highest_temp_c=33.3))
    assert hot.highest_temp_c == 33.3
    shift = 33.3 - plain.highest_temp_c
    for a, b in zip(plain.conditions.temp_c, hot.conditions.temp_c, strict=True):
        assert b == pytest.approx(a + shift)
    assert vapor(hot) == pytest.approx(vapor(plain))
    assert "The highest temperature was typed by hand." in hot.origin


def test_a_typed_humidity_holds_in_the_hottest_hour() -> None:
    """The hottest hour has it, every other hour the same water unless it would be saturated."""
    data = site_of(counts_of(days_back(60), flat(9)))
    expected = expected_day(data, SATURDAY, Override(highest_temp_c=33.0, humidity=0.4))
    hottest = expected.conditions.temp_c.index(33.0)
    assert expected.conditions.humidity[hottest] == pytest.approx(0.4)
    assert expected.humidity_then == pytest.approx(0.4)
    water = 0.4 * saturation_pressure_pa(33.0)
    assert vapor(expected) == pytest.approx([water] * 24)
    assert max(expected.conditions.humidity) < 1.0


def test_saturated_hours_are_capped_and_named() -> None:
    """Where the typed water does not fit into cool hours, the air is saturated and a note says
    which hours."""
    data = site_of(counts_of(days_back(60), flat(9)))
    expected = expected_day(data, SATURDAY, Override(highest_temp_c=33.0, humidity=0.9))
    assert max(expected.conditions.humidity) == 1.0
    assert "With what was typed the air is saturated at 0:00" in said(expected.notes)


def test_typical_weather_stands_in_for_none() -> None:
    """With no weather in the file a typical day of the month stands in and is said to; what is
    typed acts on it as on any other."""
    data = site_of(counts_of(days_back(60), flat(9)), ())
    typical = data.site.climate.normals
    plain = expected_day(data, SATURDAY)
    assert plain.highest_temp_c == typical.high_c[6]
    assert plain.humidity_then == pytest.approx(typical.humidity[6])
    typed = expected_day(data, SATURDAY, Override(highest_temp_c=33.0, humidity=0.5))
    assert typed.conditions.temp_c[15] == 33.0
    assert typed.conditions.temp_c[3] == pytest.approx(33.0 - typical.high_c[6] + typical.low_c[6])
    assert typed.humidity_then == pytest.approx(0.5)
    assert "The humidity was typed by hand." in typed.origin
    for expected in plain, typed:
        assert "Weather: typical of July for the climate" in expected.origin
        assert "No hourly weather is stored, so a typical day of July" in said(expected.notes)


def test_weather_of_another_season_is_noted() -> None:
    """When the file has no weather near the time of year, a note says which days stand in."""
    far = [SATURDAY - timedelta(days=100 + k) for k in range(10)]
    data = site_of(counts_of(days_back(60), flat(9)), weather_of(sorted(far), mild))
    expected = expected_day(data, SATURDAY)
    assert "The file has no weather within 10 days of the time of year of 2026-07-18" in said(
        expected.notes
    )
    assert "mean of 10 days of the whole year" in expected.origin


def test_missing_hours_of_weather_are_drawn_between_their_neighbors() -> None:
    """Hours that no day has are filled around midnight as well, and named."""
    weather = tuple(
        row
        for row in weather_of(days_back(8), lambda day, hour: (10.0 + hour, 0.5))
        if row.hour not in (12, 23, 0)
    )
    expected = expected_day(site_of(counts_of(days_back(60), flat(9)), weather), SATURDAY)
    temps = expected.conditions.temp_c
    assert temps[12] == pytest.approx(22.0)
    assert temps[23] == pytest.approx(32.0 - 21.0 / 3.0)
    assert temps[0] == pytest.approx(32.0 - 2.0 * 21.0 / 3.0)
    assert "No weather at 0:00, 12:00, 23:00; values between the nearest hours stand in." in said(
        expected.notes
    )


def test_frost_in_open_hours_is_noted() -> None:
    """Open hours below freezing are named with the coldest; frost at night is not."""
    data = site_of(counts_of(days_back(60), flat(9)))
    cold = expected_day(data, SATURDAY, Override(highest_temp_c=3.0))
    assert "Frost at 7:00 to 10:00, down to −2.33 °C. Ice on cars and cloth is not in" in said(
        cold.notes
    )
    night = expected_day(data, SATURDAY, Override(highest_temp_c=6.0))
    assert min(night.conditions.temp_c) < 0.0
    assert "Frost" not in said(night.notes)


# ---- rain and cars ---------------------------------------------------------------------------


def test_typed_rain_scales_cars_as_the_file_shows() -> None:
    """If wet days brought half the cars of their neighbors, a day typed as rainy is scaled by
    about that, a day typed as dry goes up, and a note tells the factor."""
    days = days_back(364)
    wet = {day for day in days if day.toordinal() % 10 == 3}
    counts = counts_of(days, lambda day, hour: 50 if day in wet else 100)
    weather = weather_of(days, mild, lambda day: 8.0 if day in wet else 0.0)
    data = site_of(counts, weather)
    plain = expected_day(data, SATURDAY).expected_cars
    rainy = expected_day(data, SATURDAY, Override(rain_mm=5.0))
    dry = expected_day(data, SATURDAY, Override(rain_mm=0.0))
    assert 0.5 * plain < rainy.expected_cars < 0.56 * plain
    assert plain < dry.expected_cars < 1.08 * plain
    assert rainy.rain_mm == 5.0
    assert "wet days of the file brought against their neighbors." in said(rainy.notes)
    assert "dry days of the file brought" in said(dry.notes)


def test_rain_without_wet_days_changes_no_cars() -> None:
    """Fewer than five wet days teach nothing, and that is said."""
    data = site_of(counts_of(days_back(364), flat(40)))
    rainy = expected_day(data, SATURDAY, Override(rain_mm=5.0))
    assert rainy.expected_cars == pytest.approx(40.0 * 13)
    sentence = "The file has too few wet days to learn from (0), so rain changes no number of cars"
    assert sentence in said(rainy.notes)


# ---- season ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("other", "apart"),
    [
        (SATURDAY, 0),
        (SATURDAY - timedelta(days=364), 0),
        (SATURDAY - timedelta(days=3 * 364 + 5), 5),
        (SATURDAY + timedelta(days=20), 20),
        (SATURDAY - timedelta(days=182), 182),
        (SATURDAY - timedelta(days=183), 181),
    ],
)
def test_days_apart_ignores_the_year(other: date, apart: int) -> None:
    """Distance in the time of year is taken modulo 52 weeks, the short way round."""
    assert days_apart(SATURDAY, other) == apart
    assert days_apart(other, SATURDAY) == apart


def test_open_hours_include_partly_open_ones() -> None:
    """A site open from 7:30 to 19:30 is open in the hours of 7 and of 19."""
    site = Site("x").with_values({"open_h": 7.5, "close_h": 19.5})
    assert open_hours(site.line) == tuple(range(7, 20))
    assert hours_text([7, 8, 9, 12]) == "7:00 to 9:00, 12:00"
