"""Days that nobody counted: the curve of a day, what is expected from it, and typical weather."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.integrate import quad

from app.catalogue import say
from sim.inputs import TYPED, History, HourCount, Site, SiteData, Value
from sim.inputs.climate import CLIMATES, MONTHS, Climate
from sim.learn.expected_day import NO_OVERRIDE, Override, day_air, expected_day
from sim.learn.like_days import TYPED_SPREAD
from sim.learn.typed_days import PEAK, TypedDays, day_curve, typed_days
from sim.physics.air import saturation_pressure_pa

OPEN_HOURS = tuple(range(7, 20))
SATURDAY = date(2026, 7, 18)


def site_of(history: History, **inputs: Value) -> SiteData:
    """A site with a past and some inputs."""
    return SiteData(Site("Typed wash").with_values(inputs), history=history)


# ---- the curve of a day --------------------------------------------------------------------------


def test_a_curve_keeps_its_total_and_is_nowhere_negative(rng: np.random.Generator) -> None:
    """Whatever the hours and the busiest time, the hours sum to the cars typed, none has fewer than
    no car, and none outside the opening hours has any."""
    for _time in range(300):
        open_h, close_h = sorted(rng.choice(np.arange(0, 24.25, 0.25), 2, replace=False))
        begin, end = sorted(rng.uniform(open_h, close_h, 2))
        cars = int(rng.integers(0, 3_000))
        found = day_curve(float(open_h), float(close_h), cars, float(begin), float(end))
        assert sum(found) == cars
        assert min(found) >= 0
        closed = [h for h in range(24) if h + 1 <= open_h or h >= close_h]
        assert not any(found[hour] for hour in closed)


def test_a_curve_is_flat_with_a_raised_cosine() -> None:
    """Each hour is within a car of the integral of the stated shape (by quadrature), highest in the
    middle of the busiest time."""
    open_h, close_h, begin, end, cars = 7.5, 20.0, 11.0, 16.0, 900

    def rate(at: float) -> float:
        if not open_h <= at <= close_h:
            return 0.0
        inside = begin < at < end
        wave = (1.0 - math.cos(math.tau * (at - begin) / (end - begin))) / 2.0
        return 1.0 + (PEAK - 1.0) * wave if inside else 1.0

    edges = [7.5, begin, end]
    hours = [quad(rate, h, h + 1, points=[e for e in edges if h < e < h + 1])[0] for h in range(24)]
    expected = cars * np.array(hours) / sum(hours)
    found = day_curve(open_h, close_h, cars, begin, end)
    assert np.abs(np.array(found) - expected).max() < 1.0
    assert found.index(max(found)) == 13


# ---- what is expected from typed days ------------------------------------------------------------


def test_typed_days_are_expected_all_year_and_said_to_be_typed() -> None:
    """A Saturday has the busy day's cars, a Tuesday the usual one's, at any time of the year; the
    day says that nobody counted, and that how many come is itself uncertain."""
    busy = day_curve(7, 20, 450, 11, 16)
    data = site_of(TypedDays(200, 450, "5 6", 11, 16).week(7, 20))
    for week in range(0, 52, 7):
        saturday = SATURDAY + timedelta(weeks=week)
        assert expected_day(data, saturday).expected_cars == 450
        assert expected_day(data, saturday + timedelta(days=3)).expected_cars == 200
    found = expected_day(data, SATURDAY)
    assert found.conditions.arrivals_per_h == tuple(map(float, busy))
    assert "as somebody typed them for such a day, a guess; nobody counted" in found.origin
    assert "What was typed is itself uncertain by 20\u00a0%, a guess." in found.origin
    assert found.conditions.spread == TYPED_SPREAD


def test_equal_typed_days_are_not_taken_for_steady_demand() -> None:
    """A week of equal days that somebody counted says that days hardly differ; typed, it says
    nothing, and the site's own guess holds."""
    flat = day_curve(7, 20, 390, 11, 16)
    typed = TypedDays(390, 390, "5").week(7, 20)
    counted = History("arrived", tuple(
        HourCount(SATURDAY - timedelta(days=back), hour, 0, flat[hour])
        for back in range(1, 29) for hour in OPEN_HOURS
    ))  # fmt: skip
    of_counts = expected_day(site_of(counted), SATURDAY).conditions.spread
    of_typed = expected_day(site_of(typed), SATURDAY).conditions.spread
    assert of_typed.day_cv is None
    assert of_counts.day_cv is not None
    assert of_counts.day_cv < Site("Any").pay.day_factor_cv
    assert of_typed.level_cv > of_counts.level_cv
    assert typed.counted == TYPED


def test_a_typed_week_is_read_back_as_it_was_typed() -> None:
    """A stored week says which days are busy and how many cars each hour brings; a week that is
    made of what was read is the same."""
    for entered in (
        TypedDays(230, 510, "4 5", 10, 15),
        TypedDays(busy_hours=(9.0,) * 13, usual_hours=(4.0,) * 12 + (0.0,)),
    ):
        week = entered.week(7, 20)
        read = typed_days(week, 7, 20)
        assert read.week(7, 20) == week
        assert read.busy_days == entered.busy_days
        assert read.busy_cars == sum(entered.drawn(7, 20)[1])


def test_a_drawn_week_keeps_its_busiest_time(rng: np.random.Generator) -> None:
    """Days that were drawn are read back as drawn: with the busiest time by which they were, to the
    quarter hour wherever no other draws the same cars, and no hours typed. Days that somebody typed
    keep their hours, and the time is one about their hill."""
    told = 0
    for _time in range(40):
        begin, end = np.sort(rng.choice(np.arange(7, 20.25, 0.25), 2, replace=False))
        entered = TypedDays(400, 3_000, "5", float(begin), float(end))
        week = entered.week(7, 20)
        read = typed_days(week, 7, 20)
        assert read.usual_hours == read.busy_hours == ()
        assert read.week(7, 20) == week
        told += (read.busy_from_h, read.busy_to_h) == (begin, end)
    assert told >= 36
    hill = tuple(float(20 + 5 * (hour in (16, 17, 18))) for hour in range(7, 20))
    read = typed_days(TypedDays(busy_hours=hill, usual_hours=hill).week(7, 20), 7, 20)
    assert read.busy_hours == hill
    assert 16 <= (read.busy_from_h + read.busy_to_h) / 2 <= 19
    assert typed_days(TypedDays().week(7, 20), 9, 9) == TypedDays(0, 0)


def test_a_closed_weekday_is_closed_all_year_and_read_back() -> None:
    """On a weekday that is ticked no car is let in, all year, and the day says why; other weekdays
    are as they were, and counts know of no such tick."""
    entered = TypedDays(200, 450, "5 6", closed_days=(0.0, 6.0))
    data = site_of(entered.week(7, 20))
    for week in range(0, 52, 7):
        sunday = SATURDAY + timedelta(days=1, weeks=week)
        found = expected_day(data, sunday)
        assert (found.closed, found.expected_cars) == (True, 0.0)
        assert "somebody typed that no car is let in on this weekday" in found.origin
        assert expected_day(data, sunday + timedelta(days=1)).closed
        assert expected_day(data, sunday - timedelta(days=1)).expected_cars == 450
        assert not expected_day(data, sunday + timedelta(days=2)).closed
    read = typed_days(data.history, 7, 20)
    assert read.closed == {0, 6}
    assert read.busy == {5}
    assert (read.usual_cars, read.busy_cars) == (200, 450)
    assert read.week(7, 20) == data.history
    counted = History("arrived", data.history.counts)
    assert not expected_day(site_of(counted), SATURDAY + timedelta(days=1)).closed


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        (TypedDays(busy_from_h=5), "busy_from_h", "Busiest from 5:00 does not fit"),
        (TypedDays(busy_to_h=11), "busy_to_h", "Busiest until 11:00 does not fit"),
        (TypedDays(busy_to_h=21), "busy_to_h", "within 7:00 to 20:00"),
        (TypedDays(usual_hours=(1.0, 2.0)), "usual_hours", "2 numbers for 13 hours, 7:00 to 20:00"),
        (TypedDays(busy_hours=(1.5,) * 13), "busy_hours", "not all are whole numbers"),
        (TypedDays(closed_days=(5.0, 6.0)), "busy_days", "Saturdays and Sundays: all of them"),
    ],
)
def test_typed_days_that_cannot_be_say_why(typed: TypedDays, field: str, said: str) -> None:
    """The field is named, the value and what would be right; hours that were typed need no busiest
    time."""
    (problem,) = typed.problems(7, 20)
    assert problem.field == field
    assert said in str(problem)
    assert TypedDays(0, 0, "5", 3, 2, (1.0,) * 13, (2.0,) * 13).problems(7, 20) == []


# ---- typical weather -----------------------------------------------------------------------------


@pytest.mark.parametrize("southern", [False, True])
@pytest.mark.parametrize("climate", sorted(CLIMATES))
def test_typical_days_give_the_months_back(climate: str, southern: bool) -> None:
    """The mean over a month's days of highest, lowest and mean temperature and of the humidity in
    the warmest hour is what stands in the table of climates, turned by half a year in the south."""
    place, named = Climate(climate, southern), CLIMATES[climate].normals
    for month in range(1, 13):
        days = [date(2026, month, 1) + timedelta(days=n) for n in range(28)]
        airs = [day_air((), day, OPEN_HOURS, NO_OVERRIDE, place) for day in days]
        row = (month - 1 + 6 * southern) % 12
        high, low = named.high_c[row], named.low_c[row]
        assert np.mean([max(air.temp_c) for air in airs]) == pytest.approx(high)
        assert np.mean([min(air.temp_c) for air in airs]) == pytest.approx(low)
        assert np.mean([air.temp_c for air in airs]) == pytest.approx((high + low) / 2)
        humid = [air.humidity[air.temp_c.index(max(air.temp_c))] for air in airs]
        assert np.mean(humid) == pytest.approx(named.humidity[row])
        assert all(0.0 < value <= 1.0 for air in airs for value in air.humidity)


def test_typical_water_stays_in_the_air_all_day() -> None:
    """The vapor pressure of a typical day is that of its warmest hour, except where the air of a
    cool hour cannot hold it."""
    air = day_air((), SATURDAY, OPEN_HOURS, NO_OVERRIDE, Climate("dfa"))
    vapor = [h * saturation_pressure_pa(t) for h, t in zip(air.humidity, air.temp_c, strict=True)]
    highest = 0.54 * saturation_pressure_pa(29.0)
    for pressure, humidity in zip(vapor, air.humidity, strict=True):
        assert pressure == pytest.approx(highest) if humidity < 1.0 else pressure <= highest


def test_own_months_take_the_place_of_the_climate_and_say_so() -> None:
    """Months that the site entered hold; until all are its own, the day says that it is a guess."""
    own = tuple(float(20 + month) for month in range(12))
    part = Climate("dfa", usual_high_c=own)
    whole = Climate("dfa", True, own, tuple(t - 8.0 for t in own), (0.4,) * 12)
    for place, words in ((part, "a guess"), (whole, "by your own months")):
        air = day_air((), SATURDAY, OPEN_HOURS, NO_OVERRIDE, place)
        assert max(air.temp_c) == pytest.approx(26.0)
        assert words in str(air.origin[0])
        assert f"a typical day of {MONTHS[6]} by" in str(air.notes[0])
    typed = day_air((), SATURDAY, OPEN_HOURS, Override(highest_temp_c=33.0), whole)
    assert max(typed.temp_c) == 33.0
    assert min(typed.temp_c) == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        (
            TypedDays(usual_hours=(5.0,) * 12),
            "usual_hours",
            "12 numbers for 13 hours, 7:00",
        ),
        (TypedDays(busy_hours=(5.5,) * 13), "busy_hours", "not all are whole numbers"),
        (TypedDays(busy_from_h=6.0), "busy_from_h", "6:00 does not fit"),
        (TypedDays(busy_to_h=21.0), "busy_to_h", "21:00 does not fit"),
        (TypedDays(closed_days=(5.0, 6.0)), "busy_days", "all of them are ticked as closed"),
    ],
)
def test_days_that_make_no_week_are_named(typed: TypedDays, field: str, says: str) -> None:
    """Too few numbers, parts of a car, a busiest time outside the opening hours, busy days that are
    closed: each by its field, with the hours that are meant; default days have nothing of it."""
    assert TypedDays().problems(7.0, 20.0) == []
    (found,) = typed.problems(7.0, 20.0)
    assert found.field == field
    assert says in say(found, "si")
