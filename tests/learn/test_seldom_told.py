"""What entries, hours and days tell where there is little of it, or what nobody would expect."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from sim.day.figures import Range
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, History, HourCount, LogEntry
from sim.inputs.forecast import Effect, Forecast, ForecastDay
from sim.inputs.logbook import FELT, NOTE, REDUCED, TIMED
from sim.inputs.timed import LOADING
from sim.learn.cloth_wear import day_of_age
from sim.learn.felt import Felt, felt_in
from sim.learn.forecast.ahead import SaidWeather, day_ahead
from sim.learn.full_hours import capacity_notes
from sim.learn.happened import at_waits, cars_range
from sim.learn.like_days import SpreadGuess
from sim.learn.logged import Switch, reduced_windows
from sim.learn.scored import lost_events
from sim.learn.timed import cars_timed
from sim.learn.typed_days import TypedDays
from tests.learn.test_full_hours import CARRIED, site

DAY = date(2026, 7, 18)


def entry(kind: str, text: str, **more: Any) -> LogEntry:
    """An entry at noon."""
    return LogEntry("one", DAY, 43_200.0, kind, text=text, **more)


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (entry(FELT, "30 C, 60 %"), Felt(43_200.0, 30.0, 0.6)),
        (entry(FELT, "60 %"), Felt(43_200.0, None, 0.6)),
        (entry(FELT, "rain 3 mm"), None),
        (entry(FELT, "as it was by an older book"), None),
        (entry(NOTE, "90 F, 60 %"), None),
    ],
    ids=lambda one: f"{one.kind} {one.text}" if isinstance(one, LogEntry) else "",
)
def test_air_as_felt_is_read_where_it_is_told(one: LogEntry, told: Felt | None) -> None:
    """Of entries of another kind, of rain alone, and of lines that can't be read, nothing."""
    assert felt_in(one) == told


def test_times_that_cannot_be_read_leave_the_others() -> None:
    """A line of another time is left out; the cars of the other entries count."""
    good, bad = entry(TIMED, "12 15", name=LOADING), entry(TIMED, "quickly", name=LOADING)
    found = cars_timed([bad, good])
    assert [one.took_s for one in found[LOADING]] == [12.0, 15.0]
    assert found == cars_timed([good])


def test_what_was_switched_on_and_off_at_once_is_no_window() -> None:
    """Two switches of one moment reduce for no time; one that nothing ends lasts until closing."""
    on, off = Switch(36_000.0, REDUCED), Switch(36_000.0, "full")
    later = Switch(39_600.0, REDUCED)
    assert reduced_windows([on, off], 72_000.0) == ()
    assert reduced_windows([on, off, later], 72_000.0) == ((39_600.0, 72_000.0),)
    assert reduced_windows([off, later, later], 36_000.0) == ()


def test_a_day_without_cars_has_no_range() -> None:
    """None is expected and none comes; with some the range holds what is expected."""
    none = Conditions((0.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.5)
    assert cars_range(none, 0.2, 0.2) == (0.0, Range(0.0, 0.0))
    some = Conditions((0.0,) * 8 + (60.0,) * 8 + (0.0,) * 8, (20.0,) * 24, (0.5,) * 24, 0.5)
    mean, days = cars_range(some, 0.2, 0.2)
    assert mean == 480.0
    assert days.low < mean < days.high


@dataclass(frozen=True)
class Waits:
    """What a plan says of waits."""

    wait_by_hour: tuple[float | None, ...]
    figures: dict[str, Any]


def test_a_plan_is_moved_to_waits_of_hours_that_it_knows() -> None:
    """Where the plan has no wait of an hour that was noted, it stays as it is."""
    plan = cast(Any, Waits((None,) * 9 + (60.0, 120.0) + (None,) * 13, {}))
    noted = cast(Any, SimpleNamespace(waits=((9, 70.0), (10, 100.0), (10, 130.0))))
    assert at_waits(plan, noted).figures["wait_mean_s"] == (100.0, None)
    unknown = cast(Any, SimpleNamespace(waits=((9, 70.0), (12, 100.0))))
    assert at_waits(plan, unknown) is plan


def test_lost_cars_are_scored_only_where_some_were_told() -> None:
    """A plan of no car tells no share of lost ones."""
    logged = cast(Any, SimpleNamespace(turned_away=3, cars=None))

    def plan(cars: float) -> Any:
        return SimpleNamespace(figures={"cars_arrived": (cars, None), "cars_lost": (20.0, None)})

    assert lost_events(DAY, plan(0.0), logged, 100) is None
    told = lost_events(DAY, plan(200.0), logged, 100)
    assert told is not None
    assert (told.told, told.of, told.came) == (0.1, 100, 3)


def test_opening_hours_that_cannot_be_are_told_once() -> None:
    """Lists of cars by the hour say nothing of a site that closes before it opens."""
    typed = TypedDays(usual_hours=(10.0,) * 23)
    assert typed.problems(18.0, 9.0) == []
    assert typed.problems(9.0, 18.0)


class NoDays:
    """A site of whose days nothing can be expected after the first."""

    def wear(self, day: date) -> np.ndarray:
        """A hundred full wipes on the first day."""
        if day > date(2026, 7, 19):
            raise InputError([InputProblem("day", "Nothing is known of it.")])
        return np.array([100.0])


def test_the_day_of_an_age_that_nothing_tells_is_none() -> None:
    """Today for a set that is past it; a day while days can be expected; none beyond."""
    days = cast(Any, NoDays())
    assert day_of_age(days, DAY, 0.0, 1.0) == DAY
    assert day_of_age(days, DAY, 80.0, 1.0) == date(2026, 7, 19)
    assert day_of_age(days, DAY, 180.0, 1.0) is None


FORECAST = Forecast(
    (), 0.2, 0.2, Effect(-0.5, 0.1), Effect(0.1, 0.1), Effect(0.2, 0.05), 4.0, 300, 40
)
HOLIDAY = ForecastDay(DAY, (0.0,) * 9 + (50.0,) * 8 + (0.0,) * 7, 0.05, "New Day", 0.2, False, 28.0)


def test_a_holiday_ahead_is_named_and_warmth_is_taken_in() -> None:
    """Ten kelvin more than usual make a tenth more in the logarithm of what they make by ten, less
    sure where nothing is said of the day's heat; a day without a usual heat has none of it."""
    guess = SpreadGuess(0.3, 0.3)
    told = day_ahead(FORECAST, HOLIDAY, SaidWeather(rain=False, high_c=38.0), guess)
    assert "as a public holiday (New Day)" in str(told.origin)
    usual = day_ahead(FORECAST, HOLIDAY, SaidWeather(rain=False, high_c=28.0), guess)
    assert sum(told.cars_per_h) / sum(usual.cars_per_h) == pytest.approx(np.exp(0.2), rel=0.02)
    unsaid = day_ahead(FORECAST, HOLIDAY, SaidWeather(rain=False), guess)
    assert (unsaid.spread.day_cv or 0.0) > (usual.spread.day_cv or 0.0)
    plain = replace(HOLIDAY, holiday="", usual_high_c=None)
    cool = day_ahead(FORECAST, plain, SaidWeather(rain=False, high_c=38.0), guess)
    assert sum(cool.cars_per_h) < sum(told.cars_per_h)
    assert "holiday" not in str(cool.origin)


def test_full_hours_of_two_weekdays_are_told_one_after_the_other() -> None:
    """Each with its hours, Saturday before Sunday."""
    hours = [
        HourCount(DAY + timedelta(days=7 * week + after), 12, 0, round(CARRIED))
        for week in range(8)
        for after in (0, 1)
    ]
    (note,) = capacity_notes(site(), History(counts=tuple(hours), counted="washed"))
    assert "Saturdays at 12:00; Sundays at 12:00" in str(note)
