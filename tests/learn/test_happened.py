"""A day of the log put together, and held against its plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from app.answers.happened import before
from app.sites.demo import demo_data
from sim.day.draw import DayDraw, make_cars
from sim.day.figures import Range
from sim.day.rules import parse_rule
from sim.inputs import Conditions, DemandSpread, LogEntry, PlannedShift, Site
from sim.inputs.logbook import (
    CAME,
    CARS,
    DAMP_HOODS,
    FULL,
    HOUR,
    REDUCED,
    SOMEBODY,
    STOP,
    WAIT,
    WIPING,
)
from sim.learn.expected_day import expected_day
from sim.learn.happened import (
    DayHappened,
    Planned,
    at_looks,
    cars_range,
    day_happened,
    in_range,
    late_people,
    mean_limits,
    place_in,
    share_limits,
    switches_held,
    windows_of,
)
from sim.learn.logged import Switch, logged_day, reduced_windows, rule_of
from tests.world import DAY

H = 3600.0


def entry(at_h: float, kind: str, **more: Any) -> LogEntry:
    """An entry of a day at an hour."""
    return replace(LogEntry(f"key-{kind}-{at_h}", DAY, H * at_h, kind), **more)


# ---- a day of the log


def test_a_day_is_put_together() -> None:
    """Counts, switches in order, hoods added up, stops; what was taken back says nothing."""
    found = logged_day(
        [
            entry(15.0, WIPING, word=FULL),
            entry(12.0, WIPING, word=REDUCED, text="cars came out damp"),
            entry(11.0, DAMP_HOODS, count=3, of=20),
            entry(14.0, DAMP_HOODS, count=5, of=10),
            entry(13.0, STOP, name="pull cord", lasted_s=90.0),
            entry(13.5, STOP, name="pull cord"),
            entry(16.0, STOP, name="pull cord", lasted_s=600.0, struck="yes"),
            entry(8.5, SOMEBODY, name="Ada", word=CAME),
        ],
        8.0 * H, 20.0 * H,
    )  # fmt: skip
    assert (found.damp, found.looked_at, found.looks) == (8, 30, ((11, 20), (14, 10)))
    assert found.switches == (
        Switch(12.0 * H, REDUCED, "cars came out damp"), Switch(15.0 * H, FULL),
    )  # fmt: skip
    assert (found.stops, found.stood_s, found.entries) == (2, 90.0, 7)
    assert found.came == (("Ada", 8.5 * H),)
    assert (found.cars, found.turned_away) == (None, None)


def test_cars_of_a_day() -> None:
    """The count so far near closing stands for the day; else all hours together; else nothing."""
    hours = [entry(float(hour), HOUR, count=10) for hour in range(9, 13)]
    assert logged_day(hours, 8.0 * H, 12.0 * H).cars == 40
    assert logged_day(hours[1:], 8.0 * H, 12.0 * H).cars is None
    late = entry(11.75, CARS, count=47)
    assert logged_day([*hours, late], 8.0 * H, 12.0 * H).cars == 47
    assert logged_day([entry(10.0, CARS, count=20)], 8.0 * H, 12.0 * H).cars is None


def test_windows_of_reduced_wiping() -> None:
    """From each switch to the one back; what is not switched back lasts until closing."""
    switches = [Switch(10.0 * H, FULL), Switch(12.0 * H, REDUCED), Switch(12.5 * H, REDUCED),
                Switch(15.5 * H, FULL), Switch(18.0 * H, REDUCED)]  # fmt: skip
    windows = reduced_windows(switches, 20.0 * H)
    assert windows == ((12.0 * H, 15.5 * H), (18.0 * H, 20.0 * H))
    assert rule_of(windows) == "clock 12:00-15:30,18:00-20:00"
    assert windows_of(parse_rule(rule_of(windows))) == windows
    assert (rule_of(()), windows_of(parse_rule("full"))) == ("full", ())


@pytest.mark.parametrize("rule", ["reduced", "band 60-50", "crew hoods 6-2", "class van"])
def test_a_rule_without_a_clock_has_no_windows(rule: str) -> None:
    """Its switches go by what is seen: no time is held against the crew."""
    assert windows_of(parse_rule(rule)) is None


# ---- what was told of its cars


CARS_BY_HOUR = (30.0, 60.0, 100.0, 160.0, 120.0, 60.0, 30.0)
SPREAD = Conditions(
    (0.0,) * 7 + CARS_BY_HOUR + (0.0,) * 10, (25.0,) * 24, (0.5,) * 24,
    spread=DemandSpread(0.18, 0.12, level_cv=0.06),
)  # fmt: skip


def test_the_range_of_cars_is_that_of_the_mixture(rng: np.random.Generator) -> None:
    """Poisson cars, with gamma factors of the day and of each hour drawn by NumPy: both ends to
    half a percent of the mean, by 200,000 such days; without a spread it is Poisson alone."""
    mean, ends = cars_range(SPREAD, 0.5, 0.5)
    days = 200_000
    day, hour = (0.18**2 + 0.06**2) ** -1.0, 0.12**-2.0
    factors = rng.gamma(day, 1.0 / day, (days, 1)) * rng.gamma(hour, 1.0 / hour, (days, 7))
    counts = rng.poisson(factors * np.array(CARS_BY_HOUR)).sum(axis=1)
    low, high = np.percentile(counts, [5, 95])
    assert mean == sum(CARS_BY_HOUR)
    assert ends.low == pytest.approx(low, abs=0.005 * mean)
    assert ends.high == pytest.approx(high, abs=0.005 * mean)
    _, alone = cars_range(replace(SPREAD, spread=DemandSpread(0.0, 0.0)), 0.5, 0.5)
    low, high = np.percentile(rng.poisson(mean, days), [5, 95])
    assert alone.low == pytest.approx(low, abs=1.0)
    assert alone.high == pytest.approx(high, abs=1.0)


def test_the_range_of_cars_is_that_of_simulated_days(rng: np.random.Generator) -> None:
    """Nine in ten of the model’s own days lie within it, as far as 600 of them can tell."""
    _, ends = cars_range(SPREAD, 0.5, 0.5)
    site = Site("Counted").with_values({"open_h": 7.0, "close_h": 14.0})
    seed, days = int(rng.integers(1 << 30)), 600
    counts = [len(make_cars(DayDraw(seed, n), site, SPREAD).arrival_s) for n in range(days)]
    limits = share_limits(sum(ends.low <= n <= ends.high for n in counts), days, 0.999)
    assert limits.low <= 0.9 <= limits.high


def test_how_many_days_lie_inside_at_the_demo() -> None:
    """Of the days since two months of counts were there, held against what was told of each the
    evening before: dry days after dry days nine in ten, as far as so many tell. Rain is not told
    unless somebody types it, so wet days lie below and those after them above: 84 % of all."""
    data = demo_data()
    pay, marked = data.site.pay, {note.day for note in data.history.days}
    cars: dict[date, int] = {}
    rain: dict[date, float] = {}
    for row in data.history.counts:
        cars[row.day] = cars.get(row.day, 0) + row.cars
    for air in data.history.weather:
        if 7 <= air.hour < 20:
            rain[air.day] = rain.get(air.day, 0.0) + air.rain_mm
    held: dict[str, list[str]] = {"dry": [], "rain": [], "after": []}
    for ahead in range(60, 364):
        day = data.history.counts[0].day + timedelta(days=ahead)
        if not cars.get(day) or day in marked:
            continue
        expected = expected_day(before(data, day), day)
        _, ends = cars_range(expected.conditions, pay.day_factor_cv, pay.hour_factor_cv)
        kind = "rain" if rain[day] >= 1.0 else "dry"
        if kind == "dry" and rain[day - timedelta(days=1)] >= 1.0:
            kind = "after"
        held[kind].append(place_in(Range(cars[day], cars[day]), ends))
    dry = held["dry"].count("inside")
    limits = share_limits(dry, len(held["dry"]), 0.99)
    assert len(held["dry"]) > 150
    assert limits.low <= 0.9 <= limits.high, (dry, len(held["dry"]))
    assert held["rain"].count("above") == held["after"].count("below") == 0
    every = [place for places in held.values() for place in places]
    assert every.count("inside") / len(every) == pytest.approx(0.84, abs=0.005)


def test_what_comes_later_is_not_known_before() -> None:
    """The evening before a day knows neither its count nor any later one."""
    data = demo_data()
    day = data.history.counts[-1].day - timedelta(days=30)
    told = before(data, day)
    assert max(row.day for row in told.history.counts) == day - timedelta(days=1)
    assert max(row.day for row in told.history.weather) == day


# ---- a day beside its plan


def test_limits_of_a_mean_are_students() -> None:
    """The mean of 10 values with a standard deviation of 1 by 1.833 over the root of 10, of 3 by
    2.920 over that of 3: quantiles 0.95 of Student's distribution with 9 and 2 degrees of freedom
    (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, from memory)."""
    for count, quantile in ((10, 1.833), (3, 2.920)):
        values = [20.0 + one for one in np.linspace(-1.0, 1.0, count)]
        spread = float(np.std(values, ddof=1))
        found = mean_limits(values)
        assert found is not None
        half = 0.5 * (found.high - found.low)
        assert half * count**0.5 / spread == pytest.approx(quantile, abs=5e-4)
        assert found.low + half == pytest.approx(20.0)
    assert mean_limits([5.0]) is None
    low = mean_limits([0.0, 60.0, 0.0])
    assert low is not None
    assert low.low == 0.0


def test_noted_waits_are_held_against_the_waits_of_their_hours() -> None:
    """By hand: told are 240 s in the hour of two waits and 600 s in that of one, 360 s in the mean,
    and the day range of nine in ten, 300 to 1,200 s around 900, moved by 360 of 900."""
    by_hour = tuple({11: 240.0, 14: 600.0}.get(hour) for hour in range(24))
    told = Planned("stored", {"wait_p90_s": (900.0, Range(300.0, 1200.0))}, wait_by_hour=by_hour)
    waits = [entry(11.1, WAIT, lasted_s=300.0), entry(11.6, WAIT, lasted_s=360.0)]
    last = entry(14.2, WAIT, lasted_s=420.0)
    logged = logged_day([*waits, last, entry(15.0, WAIT, lasted_s=9e3, struck="yes")], 0.0, 24 * H)
    assert logged.waits == ((11, 300.0), (11, 360.0), (14, 420.0))
    held = day_happened(told, logged, None).held
    one = next(one for one in held if one.figure == "wait_mean_s")
    assert (one.expected, one.was, one.place) == (360.0, 360.0, "inside")
    assert one.days == Range(120.0, 480.0)
    assert "wait_p90_s" not in [each.figure for each in held]
    long = logged_day([replace(each, lasted_s=1500.0 + each.at_s / H) for each in (*waits, last)],
                      0.0, 24 * H)  # fmt: skip
    assert day_happened(told, long, None).held[-1].place == "above"
    few = day_happened(told, logged_day(waits, 0.0, 24 * H), None).held[-1]
    assert (few.days, few.place) == (None, "unknown")


TOLD = Planned("stored", {"cars_arrived": (1000.0, Range(800.0, 1250.0)),
                          "damp_share": (0.1, Range(0.05, 0.2))},
               "clock 12:00-15:30", windows=((12.0 * H, 15.5 * H),))  # fmt: skip
AS_PLANNED = [entry(12.0, WIPING, word=REDUCED), entry(15.5, WIPING, word=FULL)]


def beside(cars: int | None, *entries: LogEntry, planned: Planned = TOLD) -> DayHappened:
    """A day with so many cars and some entries beside a plan."""
    return day_happened(planned, logged_day(entries, 8.0 * H, 20.0 * H), cars)


def test_wrong_is_told_apart_from_not_followed() -> None:
    """A day outside what was told; a switch off the plan; both; neither; nothing known."""
    off = [entry(13.5, WIPING, word=REDUCED, text="late"), entry(15.5, WIPING, word=FULL)]
    for cars, entries, right, followed in (
        (1000, AS_PLANNED, True, True), (1300, AS_PLANNED, False, True),
        (1000, off, True, False), (700, off, False, False),
        (None, [], None, None),
    ):  # fmt: skip
        found = beside(cars, *entries)
        assert (found.right, found.followed) == (right, followed)


def test_switches_are_held_against_their_plan() -> None:
    """Within a quarter of an hour as planned; earlier or later; not noted; and one of its own."""
    done = [
        Switch(12.0 * H + 900.0, REDUCED), Switch(16.5 * H, FULL, "still damp"),
        Switch(18.0 * H, REDUCED, "rain"),
    ]  # fmt: skip
    found = switches_held(((12.0 * H, 15.5 * H), (17.0 * H, 17.5 * H)), done)
    assert [(one.to, one.state, one.reason) for one in found] == [
        (REDUCED, "as planned", ""), (FULL, "late", "still damp"),
        (REDUCED, "late", "rain"), (FULL, "not done", ""),
    ]  # fmt: skip
    (alone,) = switches_held((), [Switch(9.0 * H, REDUCED)])
    assert (alone.state, alone.planned_s) == ("not planned", None)
    early = switches_held(((12.0 * H, 15.0 * H),), [Switch(11.5 * H, REDUCED)])
    assert [one.state for one in early] == ["early", "not done"]


def test_a_log_without_a_switch_did_not_follow_a_plan_of_switches() -> None:
    """Only where something was noted that day: an empty log tells nothing."""
    assert beside(1000, entry(11.0, DAMP_HOODS, count=2, of=20)).followed is False
    assert beside(1000).followed is None


def test_damp_hoods_are_judged_by_how_far_a_look_tells() -> None:
    """Four of twenty may be one in ten; twelve of twenty are not."""
    few, many = (
        beside(1000, *AS_PLANNED, entry(13.0, DAMP_HOODS, count=n, of=20)).held[1] for n in (4, 12)
    )
    assert (few.place, many.place) == ("inside", "above")
    assert place_in(Range(0.0, 0.04), Range(0.05, 0.2)) == "below"


def test_hoods_are_held_against_the_hours_in_which_they_were_looked_at() -> None:
    """Told of the noon rush is what the plan has of it: the mean of those hours, and the day's
    range moved by as much."""
    by_hour = tuple(0.3 if hour == 13 else 0.05 for hour in range(24))
    planned = replace(TOLD, damp_by_hour=by_hour)
    logged = logged_day([entry(13.2, DAMP_HOODS, count=6, of=20)], 8.0 * H, 20.0 * H)
    mean, days = at_looks(planned, logged).figures["damp_share"]
    assert mean == pytest.approx(0.3)
    assert days is not None
    assert (days.low, days.high) == (pytest.approx(0.15), pytest.approx(0.6))


def test_who_came_late() -> None:
    """By more than five minutes after the shift began, by when they were noted first."""
    shifts = [
        PlannedShift(DAY, name, "", 8.0 * H, 16.0 * H, 16.0 * H, 16.0 * H)
        for name in ("A", "B", "C")
    ]
    came = [("A", 8.0 * H + 300.0), ("B", 8.5 * H), ("B", 9.0 * H), ("D", 12.0 * H)]
    (late,) = late_people(shifts, came)
    assert (late.name, late.came_s) == ("B", 8.5 * H)


def test_how_often_days_lay_inside() -> None:
    """Days of which cars are not known don't count; so few inside as no chance gives is told."""
    good, bad, open_ = beside(1000), beside(1300), beside(None)
    share = in_range([good, bad, open_, good])
    assert (share.days, share.inside, share.is_off) == (3, 2, False)
    assert in_range([bad] * 6).is_off
    assert in_range([]).days == 0
