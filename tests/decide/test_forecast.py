"""Futures of a season: where nothing is left to chance, and where theory knows the chances."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from sim.decide.cloth.answer import Due, Moved
from sim.decide.cloth.outlook import (
    NEVER,
    Futures,
    WearAhead,
    draw_futures,
    expected_changes,
    named,
    orders_by,
    quantile_day,
)
from sim.learn.cloth_life import LifePosterior
from tests.seeds import seed
from tests.sizes import Size

DAYS = 300
FIRST = date(2026, 1, 1)
DATES = [FIRST + timedelta(days=n) for n in range(DAYS)]
CARS = [100.0] * DAYS


def life(beta: float, eta: float) -> LifePosterior:
    """A life known without doubt."""
    return LifePosterior(np.array([beta]), np.array([eta]), np.array([1.0]))


def steady(mean: float = 100.0, sd: float = 0.0, every: int = 0, launder: float = 0.0) -> WearAhead:
    """The same wear every day, a laundry after each so many."""
    at = np.arange(DAYS)
    laundered = (at > 0) & (at % every == 0) if every else np.zeros(DAYS, bool)
    return WearAhead(np.full(DAYS, mean), np.full(DAYS, sd), laundered, laundered, launder, 0.0)


def test_a_planned_age_is_reached_on_its_day() -> None:
    """A set that lasts for ever, 100 a day: at a planned age of 5,000 it comes off on the 50th day
    (number 49), a set that begins at 2,000 on the 30th, then every 50th."""
    found = draw_futures([0.0], steady(), life(8.0, 1e9), 5_000.0, (14.0, 0.0), 1, futures=20)
    assert found.days[0].tolist() == [49, 99, 149, 199, 249, 299]
    assert not found.worn.any()
    later = draw_futures([2_000.0], steady(), life(8.0, 1e9), 5_000.0, (14.0, 0.0), 1, futures=20)
    assert later.days[0, :2].tolist() == [29, 79]
    assert found.planned_per_day.sum() == pytest.approx(6.0)


def test_sets_take_turns_from_laundry_to_laundry() -> None:
    """Two sets, changed every ten days, 250 more at each laundry: the first comes off when its own
    days and launderings reach the age, and the second on its own turn."""
    wear = steady(every=10, launder=250.0)
    found = draw_futures([0.0, 0.0], wear, life(8.0, 1e9), 3_000.0, (14.0, 0.0), 1, futures=5)
    # each turn adds 1,000 and a laundry 250: 1,250, 2,500, then five days of the third turn
    assert found.days[0, :2].tolist() == [44, 54]


def test_worn_sets_are_told_apart_from_planned_ones() -> None:
    """Where life is certain to end at 3,000 and the planned age is 5,000, every set wears out."""
    found = draw_futures([0.0], steady(), life(500.0, 3_000.0), 5_000.0, (14.0, 0.0), 1, futures=50)
    assert found.worn.all()
    rows = expected_changes(found, DATES, CARS)
    assert rows[0].worn_share == 1.0
    assert (rows[0].middle - FIRST).days == pytest.approx(29, abs=1)


@pytest.mark.soak
def test_lives_without_memory_end_with_the_same_chance_each_day(size: Size) -> None:
    """With β = 1 and steady wear each day sees a set worn out with probability 1 − exp(−wear/η):
    their number in a season is binomial, the first one's day geometric (99.9 % intervals), and
    not with η 10 % larger."""
    count = size(small=20_000, full=200_000)
    eta = 6_000.0
    drawn = draw_futures(
        [4_000.0], steady(), life(1.0, eta), NEVER, (14.0, 0.0), seed("memoryless"), count
    )
    far = float(stats.norm.ppf(0.9995))
    for scale, holds in ((eta, True), (1.1 * eta, False)):
        daily = -math.expm1(-100.0 / scale)
        half = far * math.sqrt(DAYS * daily * (1.0 - daily) / count)
        assert (abs(float(drawn.counts.mean()) - DAYS * daily) <= half) is holds
        by_day = float((drawn.days[:, 0] <= 59).mean())
        chance = 1.0 - (1.0 - daily) ** 60
        wide = far * math.sqrt(chance * (1.0 - chance) / count)
        assert (abs(by_day - chance) <= wide) is holds


def test_a_level_that_may_differ_widens_the_window() -> None:
    """A year's demand that may lie 20 % off makes the window of a far change wider than the luck
    of days alone."""
    args = ([0.0], life(8.0, 1e9), 15_000.0, (14.0, 0.0))
    tight = draw_futures(args[0], steady(sd=20.0), *args[1:], seed("level"))
    loose = draw_futures(args[0], replace(steady(sd=20.0), level_cv=0.2), *args[1:], seed("level"))
    first, second = (expected_changes(one, DATES, CARS)[0] for one in (tight, loose))
    assert first.high is not None
    assert second.high is not None
    assert second.high - second.low > 5 * (first.high - first.low)


def test_a_set_past_its_age_comes_off_on_the_morning_named_for_it() -> None:
    """The first change is on that day in every future; later ones stay where they are, and without
    such a set all do."""
    found = draw_futures([9_000.0], steady(), life(8.0, 1e9), 5_000.0, (14.0, 0.0), 1, futures=20)
    rows = expected_changes(found, DATES, CARS)
    quiet = DATES[2]
    due = Due("Set 1", DATES[0], None, None, True, None, Moved(quiet, 40.0, 12.0))
    first, *later = named(rows, due)
    assert (first.day, first.low, first.middle, first.high) == (quiet,) * 4
    assert tuple(later) == rows[1:]
    assert named(rows, None) == rows
    assert named((), due) == ()


def test_a_change_is_put_on_the_quietest_day_near() -> None:
    """Where every future has the change on the 50th day, no quieter day near comes into question;
    in a wide window the quietest within three days of its middle does."""
    narrow = draw_futures([0.0], steady(), life(8.0, 1e9), 5_000.0, (14.0, 0.0), 1, futures=20)
    cars = [200.0] * DAYS
    cars[47], cars[51], cars[55] = 10.0, 20.0, 5.0
    assert expected_changes(narrow, DATES, cars)[0].day == DATES[49]
    falls = np.linspace(40.0, 60.0, 21)[:, None]
    none = np.zeros(DAYS)
    wide = Futures(falls, np.zeros(falls.shape, bool), none, none, np.full(21, 14.0))
    assert expected_changes(wide, DATES, cars)[0].day == DATES[47]


def test_quantiles_count_futures_that_never_come() -> None:
    """Ten futures of which three never have the change: the middle is the fifth, the 90 % end is
    never."""
    days = np.array([1.0, 2, 3, 4, 5, 6, 7, NEVER, NEVER, NEVER])
    assert quantile_day(days, 0.5) == 5.0
    assert quantile_day(days, 0.7) == 7.0
    assert quantile_day(days, 0.9) == NEVER


def test_orders_go_out_before_the_early_futures() -> None:
    """Changes on days 10 to 109 with a delivery of 14 days: an order on day 1 comes too late for
    the five futures before day 15 and in time for the other 95; sets in store serve the first
    change, and an order of two the next two."""
    first = np.arange(10.0, 110.0)
    days = np.stack([first, first + 100.0, first + 180.0], axis=1)
    none = np.zeros(DAYS)
    found = Futures(days, np.zeros(days.shape, bool), none, none, np.full(100, 14.0))
    rows = orders_by(found, 0, 1, 0.95, DATES)
    assert [(row.for_change, row.by) for row in rows] == [
        (1, DATES[1]), (2, DATES[101]), (3, DATES[181]),
    ]  # fmt: skip
    (two,) = orders_by(found, 1, 2, 0.95, DATES)
    assert (two.for_change, two.by, two.quantity) == (2, DATES[101], 2)
    assert orders_by(found, 3, 1, 0.95, DATES) == ()
