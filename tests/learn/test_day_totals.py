"""Totals of days: spread over hours as days usually are, and never taken for counted hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from app.sites.differences import with_counts
from sim.inputs import TOTAL, DayNote, History, HourCount, Site
from sim.learn.day_totals import usual_days
from sim.learn.like_days import LikeDays, SpreadGuess, day_counts, open_hours

LINE = Site("x").with_values({"open_h": 8.0, "close_h": 18.0}).line
HOURS = open_hours(LINE)
MONDAY = date(2026, 6, 1)
GUESS = SpreadGuess(0.2, 0.15)
NONE = History()


def counted(rng: np.random.Generator, days: int, first: date = MONDAY) -> History:
    """Days counted by the hour, with noon three times as busy as the ends, Saturdays flat."""
    shape = 10.0 + 20.0 * np.sin(np.pi * (np.arange(len(HOURS)) + 0.5) / len(HOURS))
    rows = []
    for ahead in range(days):
        day = first + timedelta(days=ahead)
        means = np.full(len(HOURS), 40.0) if day.weekday() == 5 else shape
        drawn = rng.poisson(means * rng.gamma(25.0, 0.04))
        rows += [HourCount(day, h, 0, int(n)) for h, n in zip(HOURS, drawn, strict=True)]
    return History("washed", tuple(rows))


def totals(days: dict[date, int], history: History = NONE) -> History:
    """Days of which only the total is known, spread as those of a history."""
    usual = usual_days(history, LINE)
    rows = [
        HourCount(day, hour, 0, cars)
        for day, total in days.items()
        for hour, cars in enumerate(usual.hours(day, total))
        if hour in HOURS
    ]
    return History("washed", tuple(rows), days=tuple(DayNote(day, TOTAL) for day in days))


@pytest.mark.parametrize("cars", [0, 1, 7, 250, 20_000])
def test_a_total_is_kept_to_the_car(cars: int, rng: np.random.Generator) -> None:
    """Hours sum to the total, none is below zero or outside the open hours, and each is within a
    car of its share; with counts to go by and without."""
    for history in (History(), counted(rng, 35)):
        usual = usual_days(history, LINE)
        for ahead in range(7):
            day = MONDAY + timedelta(days=ahead)
            hours, shape = usual.hours(day, cars), np.array(usual.shapes[day.weekday()])
            assert sum(hours) == cars
            assert min(hours) >= 0
            assert sum(hours[h] for h in HOURS) == cars
            assert np.abs(np.array(hours) - cars * shape / shape.sum()).max() <= 1.0


def test_the_shape_is_that_of_the_weekday(rng: np.random.Generator) -> None:
    """With weeks of counts a Saturday is spread as Saturdays were, the others as theirs."""
    usual = usual_days(counted(rng, 168), LINE)
    assert usual.days == 168
    saturday = usual.hours(MONDAY + timedelta(days=5), 1_000)
    monday = usual.hours(MONDAY, 1_000)
    assert max(saturday[h] for h in HOURS) < 1.35 * min(saturday[h] for h in HOURS)
    assert monday[12] > 1.9 * monday[8]


def test_totals_tell_of_days_and_nothing_of_hours(rng: np.random.Generator) -> None:
    """Days spread alike would say that hours never differ. Their totals count for what is expected
    and for how far days differ, while what is said of hours is as without them."""
    first = counted(rng, 84)
    later = MONDAY + timedelta(days=84)
    days = {later + timedelta(days=a): int(280 * rng.gamma(25.0, 0.04)) for a in range(28)}
    both = with_counts(first, totals(days, first), replace_all=False)
    day = later + timedelta(days=35)
    alone = day_counts(LikeDays(first, HOURS), day, None, GUESS)
    found = day_counts(LikeDays(both, HOURS), day, None, GUESS)
    taken = day_counts(LikeDays(replace(both, days=()), HOURS), day, None, GUESS)
    assert found.spread.hour_cv == pytest.approx(alone.spread.hour_cv, abs=0.03)
    assert taken.spread.hour_cv is not None
    assert found.spread.hour_cv is not None
    assert taken.spread.hour_cv < found.spread.hour_cv  # what calling them counted would do
    like = [d for d in days if d.weekday() == day.weekday()]
    assert found.cars_per_h != alone.cars_per_h
    assert any("only the total was counted" in str(note) for note in found.notes)
    assert len(like) == 4


def test_totals_give_way_to_counts_and_never_the_other_way(rng: np.random.Generator) -> None:
    """A total of a day that was counted by the hour is left alone; hours that are counted later
    take the place of all of a total's hours, with its mark."""
    first = counted(rng, 2)
    tuesday, wednesday = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)
    both = with_counts(first, totals({tuesday: 999, wednesday: 300}), replace_all=False)
    assert sum(row.cars for row in both.counts if row.day == wednesday) == 300
    assert [row for row in both.counts if row.day == tuesday] == [
        row for row in first.counts if row.day == tuesday
    ]
    assert both.days == (DayNote(wednesday, TOTAL),)
    again = with_counts(both, totals({wednesday: 310}), replace_all=False)
    assert sum(row.cars for row in again.counts if row.day == wednesday) == 310
    hour = History("washed", (HourCount(wednesday, 9, 0, 12),))
    after = with_counts(again, hour, replace_all=False)
    assert [row.cars for row in after.counts if row.day == wednesday] == [12]
    assert after.days == ()
