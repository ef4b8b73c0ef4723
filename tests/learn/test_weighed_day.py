"""What the day of a weighing was like: its own counts, the cars so far, or nothing."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import draw_site, uncertain
from sim.day.engine import prepared_day
from sim.day.kernel import run
from sim.day.kernel import tables as r
from sim.day.kernel.tables import make_tables
from sim.day.rules import parse_rule
from sim.day.setup import prepare_day
from sim.inputs import AFTERNOON, DAMP, DemandSpread, History, HourCount, Site, Weighing
from sim.learn.weighed_day import (
    NEAR,
    Cars,
    WeighedDay,
    cars_of_day,
    cars_until,
    damp_until,
    guessed_cv,
    live,
    look_at,
    scaled,
    so_far,
    spread_of,
    total_cv,
    washed_until,
)
from tests.day.sites import conditions
from tests.seeds import generator

SITE = Site("Weighed wash")
DAY = date(2026, 7, 18)
EXPECTED = tuple(60.0 if 8 <= hour < 18 else 0.0 for hour in range(24))
OPEN = tuple(range(8, 18))
NOON_S, LATE_S = 12.5 * 3600.0, 15.5 * 3600.0


def strip(at_s: float, cars_so_far: int = 0, kind: str = AFTERNOON) -> Weighing:
    """A strip from the wheel, with the cars washed until then."""
    return Weighing(kind, DAY, at_s, 0.2, 0.1, "full", 20, 3, cars_so_far)


def history(per_h: dict[int, int], day: date = DAY) -> History:
    """Counts of some hours of a day."""
    return History("arrived", tuple(HourCount(day, hour, 0, n) for hour, n in per_h.items()))


def test_the_counts_of_the_day_itself_come_first() -> None:
    """Hour by hour until the weighing, whatever else was noted; those of other days don't count,
    nor do hours after it."""
    per_h = {hour: 90 - hour for hour in OPEN}
    noted = [strip(LATE_S, 400)]
    found = cars_of_day(history(per_h), DAY, OPEN, EXPECTED, noted, LATE_S)
    assert found.known == "counts"
    assert found.per_h[8:16] == tuple(float(per_h[hour]) for hour in range(8, 16))
    assert found.until_s == LATE_S
    assert found.seen == pytest.approx(sum(per_h[h] for h in range(8, 15)) + 0.5 * per_h[15])
    assert found.expected == pytest.approx(7.5 * 60.0)
    other = history(per_h, DAY - timedelta(days=7))
    assert cars_of_day(other, DAY, OPEN, EXPECTED, noted, LATE_S).known == "so far"


def test_an_hour_without_a_count_is_scaled_like_the_others() -> None:
    """Missing is not zero: six hours of a third more make the seventh a third more; a single
    counted hour of eight tells nothing."""
    per_h = {hour: 80 for hour in range(8, 16) if hour != 11}
    found = cars_of_day(history(per_h), DAY, OPEN, EXPECTED, [], LATE_S)
    assert found.known == "counts"
    assert found.per_h[11] == pytest.approx(80.0)
    assert cars_of_day(history({9: 80}), DAY, OPEN, EXPECTED, [], LATE_S).known == "nothing"


def test_an_hour_that_comes_twice_is_one_hour() -> None:
    """When clocks go back the two counts of the hour are two sights of one."""
    twice = (*history(dict.fromkeys(OPEN, 80)).counts, HourCount(DAY, 8, 1, 60))
    found = cars_of_day(History("arrived", twice), DAY, OPEN, EXPECTED, [], LATE_S)
    assert found.per_h[8] == 70.0


def test_cars_so_far_are_taken_by_time() -> None:
    """Of all weighings of the day; a number that falls is left out; without any the day is as
    expected and its cars are unsure."""
    noted = [strip(LATE_S, 560), strip(NOON_S, 330, DAMP), strip(LATE_S + 600.0, 500), strip(9e4)]
    assert so_far(noted) == ((NOON_S, 330), (LATE_S, 560))
    found = cars_of_day(History(), DAY, OPEN, EXPECTED, noted, LATE_S)
    assert (found.known, found.seen, found.until_s) == ("so far", 560.0, LATE_S)
    assert found.washed == ((NOON_S, 330), (LATE_S, 560))
    assert found.expected == pytest.approx(450.0)
    assert cars_of_day(History(), DAY, OPEN, EXPECTED, [strip(NOON_S)], NOON_S).known == "nothing"


def test_a_day_of_which_nothing_is_known_is_as_unsure_as_counts_say() -> None:
    """Level, day factor and hours of the expected day, the level wider by the guess for days that
    were picked, by hand, 0.09² + 0.2² = 0.0481; only where no counts tell them all a guess. A day
    whose cars so far are known has the hours' factors left, one that was counted nothing. What is
    told of a whole day is day factor and level in squares, by hand, 0.09² + 0.12² = 0.15²."""
    own = DemandSpread(0.12, 0.15, 0.09, 34, 5)
    picked = spread_of("nothing", own, 0.3)
    assert picked.level_cv == pytest.approx(0.0481**0.5)
    assert replace(picked, level_cv=own.level_cv) == own
    assert spread_of("so far", own, 0.3) == DemandSpread(0.0, 0.15)
    assert spread_of("counts", own, 0.3) == DemandSpread(0.0, 0.0)
    assert total_cv(own, 0.3) == pytest.approx(0.15)
    assert total_cv(replace(own, day_cv=None), 0.4) == pytest.approx(0.41)
    few = DemandSpread(None, None, 0.13, 0, 4)
    # the spread of days, of a mean of four of them, of picked ones: √(0.12² + 0.06² + 0.2²)
    assert guessed_cv(0.12) == pytest.approx(0.2408319, abs=1e-6)
    assert spread_of("nothing", few, 0.12) == DemandSpread(guessed_cv(0.12))
    assert spread_of("so far", few, 0.12) == DemandSpread(0.0, None)


def test_scaling_by_parts_of_a_day_keeps_their_cars() -> None:
    """Until 12:30 by 1.5, after by 0.5: cars until any time are those of the parts."""
    day = replace(conditions(0), arrivals_per_h=EXPECTED)
    found = scaled(day, [NOON_S, LATE_S], [1.5, 0.5]).arrivals_per_h
    assert cars_until(found, 12 * 3600.0) == pytest.approx(1.5 * 240.0)
    assert found[12] == pytest.approx(60.0 * (0.5 * 1.5 + 0.5 * 0.5))
    assert cars_until(found, 24 * 3600.0) == pytest.approx(1.5 * 270.0 + 0.5 * 330.0)
    assert scaled(day, [], []) is day


def test_a_simulated_day_washes_as_many_cars_as_were_counted() -> None:
    """At drawn sites and on days of their own, until both times, to a hundredth or a car, as
    long as the line can: a third more than expected, then half as many."""
    names, rng = uncertain(SITE, ()), generator("so far")
    day = conditions(60)
    at = ((11 * 3600.0, 320), (14 * 3600.0, 410))
    weighed = WeighedDay((strip(at[1][0]),), day, None, Cars("so far", (), at))
    for number in range(6):
        site = draw_site(SITE, names, rng.uniform(0.1, 0.9, len(names)))
        prepared = prepared_day(site, day, prepare_day(site, day))
        done = live(weighed, prepared, parse_rule("full"), DayDraw(5, number))
        had = washed_until(done, [time for time, _ in at])
        wanted = np.array([cars for _, cars in at])
        assert np.all(np.abs(had - wanted) <= np.maximum(1.0, 2.0 * NEAR * wanted))


def test_more_cars_make_wetter_cloth() -> None:
    """The same site on the same day: the more cars were washed so far, by count or by note, the
    wetter the strip is expected to be, and the more cars leave damp."""
    item, day = strip(LATE_S), replace(conditions(0), arrivals_per_h=EXPECTED)
    looked = []
    for factor in (0.7, 1.0, 1.3):
        per_h = tuple(factor * n for n in day.arrivals_per_h)
        certain = replace(day, arrivals_per_h=per_h, spread=DemandSpread(0.0))
        counted = WeighedDay((item,), certain, None)
        cars = round(cars_until(per_h, LATE_S))
        told = Cars("so far", (), ((LATE_S, cars),))
        noted = WeighedDay((item,), replace(certain, arrivals_per_h=EXPECTED), None, told)
        looked.append([look_at(SITE, [one], 7) for one in (counted, noted)])
    wet = np.array([[one.moistures[0, 2] for one in row] for row in looked])
    damp = np.array([[one.damp[0, 0] for one in row] for row in looked])
    assert np.all(np.diff(wet, axis=0) > 0.0)
    assert np.all(np.diff(damp, axis=0) > 0.0)
    assert np.ptp(wet, axis=1).max() < 0.1  # told by either, the day is much the same


def test_damp_cars_until_a_time_are_those_of_the_day() -> None:
    """Over days of their own the expected damp cars until two times are as many as the simulated
    days left damp: within a tenth and four standard errors, for the formula leaves out that the
    cloth gets wetter within one car (99.9 % and 60 days)."""
    day, rule = replace(conditions(100), opening_moisture_kg_kg=1.2), parse_rule("full")
    numbers = prepare_day(SITE, day)
    tables, times = make_tables(SITE, numbers), [10 * 3600.0, 14 * 3600.0]
    off, had = [], []
    for number in range(60):
        done = run(SITE, numbers, make_cars(DayDraw(5, number), SITE, day), rule, tables=tables)
        count = int(done.flow.rows.counts[r.ROWS])
        left, damp = done.flow.rows.times[:count, r.EXIT], done.wiped.marks[:count, r.DAMP]
        had.append([float(damp[left <= at].sum()) for at in times])
        off.append(damp_until(SITE, tables, done, times) - had[-1])
    error = np.std(off, axis=0) / math.sqrt(len(off))
    assert np.mean(had, axis=0).min() > 5.0
    assert np.all(np.abs(np.mean(off, axis=0)) < 0.1 * np.mean(had, axis=0) + 4.0 * error)


def test_of_a_day_of_which_nothing_is_known_levels_are_drawn() -> None:
    """Drawn sites that differ in nothing but their number differ in their cloth by more where the
    level is open than where it is known."""
    item, day = strip(LATE_S), conditions(60)
    spreads = []
    for cv in (0.0, 0.2):
        weighed = WeighedDay((item,), replace(day, spread=DemandSpread(cv)), None)
        spreads.append(np.std([look_at(SITE, [weighed], 7, n).moistures[0, 2] for n in range(24)]))
    assert spreads[1] > 1.5 * spreads[0]
