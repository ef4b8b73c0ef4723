"""What counts tell of a day's spread: found again in counts with a known one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sim.inputs import DemandSpread, History, HourCount, Site, SiteData
from sim.learn.expected_day import Override, expected_day
from sim.learn.like_days import LikeDays, SpreadGuess, demand_spread, hold_against_past, told_spread
from tests.seeds import generator

SATURDAY = date(2026, 7, 18)
HOURS = tuple(range(7, 20))
SHAPE = np.array([20, 30, 45, 60, 80, 90, 100, 95, 80, 60, 45, 30, 20], dtype=float)
GUESS = SpreadGuess(0.12, 0.1)
LAGS = (7, 14, 21, 28, 35)
AIR = Override(highest_temp_c=25.0, humidity=0.5)


def history(
    rng: np.random.Generator, days: int, day_cv: float, hour_cv: float, walk: float = 0.0
) -> tuple[History, float]:
    """Counts of the days before `SATURDAY` and the level on it; the level moves week by week."""
    steps = np.exp(np.cumsum(rng.normal(0.0, walk, days // 7 + 2)) if walk else np.zeros(days))
    rows = []
    for back in range(days, 0, -1):
        level = steps[(days - back) // 7]
        day = rng.gamma(day_cv**-2, day_cv**2) if day_cv else 1.0
        hour = rng.gamma(hour_cv**-2, hour_cv**2, 13) if hour_cv else np.ones(13)
        cars = rng.poisson(SHAPE * level * day * hour)
        date_of = SATURDAY - timedelta(days=back)
        rows += [HourCount(date_of, h, 0, int(n)) for h, n in zip(HOURS, cars, strict=True)]
    return History("arrived", tuple(rows)), float(steps[days // 7])


def spread_of(found: History) -> DemandSpread:
    """The spread of the Saturday."""
    past = LikeDays(found, HOURS)
    return demand_spread(past, SATURDAY, past.widened(SATURDAY)[0], GUESS)


@pytest.mark.parametrize(("day_cv", "hour_cv"), [(0.2, 0.0), (0.1, 0.25), (0.0, 0.0)])
def test_hours_and_days_are_told_apart(day_cv: float, hour_cv: float) -> None:
    """Of 40 files of 8 weeks the mean variance of an hour given its day is the true one, with
    what a mean of 3 to 5 like days leaves unsure of the hours' shares: 1/5 to 1/3 of the hours'
    own luck. The misses of totals are those of a day and of a mean of so many."""
    rng = generator(f"told apart {day_cv} {hour_cv}")
    found = []
    for _ in range(40):
        past = LikeDays(history(rng, 56, day_cv, hour_cv)[0], HOURS)
        found.append(hold_against_past(past, SATURDAY, LAGS))
    one = found[0]
    share = one.of_mean
    assert one.days == 35  # those with three of the five
    of_cars = float(1.0 / SHAPE.mean())
    hour = np.mean([held.hour_variance for held in found])
    low = hour_cv**2 * (1 + share)
    assert low - 0.004 < hour < low + 1.5 * share * of_cars + 0.006
    alone = day_cv**2 + hour_cv**2 * one.concentration + one.of_cars
    total = np.mean([held.total_variance for held in found])
    assert total == pytest.approx(alone * (1 + share) - one.of_cars, rel=0.25, abs=0.001)


def test_past_days_are_held_against_those_before_them() -> None:
    """Where every week has half as many cars again as the last, a day's mean a week back is two
    thirds of it, so totals miss by half; held against the week after they would by a third."""
    rows = [
        HourCount(SATURDAY - timedelta(days=back), hour, 0, round(256 * 1.5 ** ((56 - back) // 7)))
        for back in range(56, 0, -1)
        for hour in HOURS
    ]
    held = hold_against_past(LikeDays(History("arrived", tuple(rows)), HOURS), SATURDAY, (7,))
    assert held.days == 49
    assert held.total_variance == pytest.approx(0.25, rel=0.01)


def test_a_level_that_moves_is_told() -> None:
    """Where trade moves by 8 % from week to week, the mean of the last like days misses the level
    by what is told of it; where it stays, by the luck of the like days and little more."""
    for walk, ratio in ((0.08, (0.75, 1.25)), (0.0, (0.9, 2.0))):
        rng = generator(f"moves {walk}")
        told, missed = [], []
        for _ in range(60):
            found, level = history(rng, 56, 0.08, 0.1, walk)
            spread = spread_of(found)
            past = LikeDays(found, HOURS)
            days, _, _ = past.widened(SATURDAY)
            assert spread.like_days == len(days) == 5
            expected = sum(past.totals[day] for day in days) / 5
            told.append(spread.level_cv**2)
            missed.append((level * SHAPE.sum() / expected - 1.0) ** 2)
        found_ratio = float(np.mean(told) / np.mean(missed)) ** 0.5
        assert ratio[0] < found_ratio < ratio[1], walk


def test_like_days_of_a_year_ago_say_nothing_of_trade() -> None:
    """A day ten months ahead is expected from days a year before it. In a file of one year with a
    strong season no day lies so far behind another, and the few at its ends, which lie to one
    side in the season, are not taken for one: hours and days are found from days about their own
    time of year, to a quarter, and the movement of trade is guessed like a day's difference."""
    rng = generator("a year ago")
    rows = []
    for back in range(364, 0, -1):
        level = 1.0 + 0.6 * np.sin(2 * np.pi * back / 364)
        common = rng.gamma(10.0**2, 10.0**-2) * rng.gamma(1 / 0.15**2, 0.15**2, 13)
        cars = rng.poisson(SHAPE * level * common)
        day = SATURDAY - timedelta(days=back)
        rows += [HourCount(day, h, 0, int(n)) for h, n in zip(HOURS, cars, strict=True)]
    past, ahead = LikeDays(History("arrived", tuple(rows)), HOURS), SATURDAY + timedelta(days=308)
    like = past.widened(ahead)[0]
    found = demand_spread(past, ahead, like, GUESS)
    assert (found.like_days, found.days >= 40) == (7, True)
    assert found.hour_cv == pytest.approx(0.15, rel=0.25)
    assert found.day_cv == pytest.approx(0.1, rel=0.35)
    assert 1.0 < found.level_cv / (found.day_cv or 0.0) < 1.2


def test_too_few_days_leave_the_guess() -> None:
    """With four whole days nothing is told but how unsure their mean is, by hand: as much as a day
    differs for a level that may have moved, and a quarter of what a day has by itself."""
    days = [SATURDAY - timedelta(days=7 * k) for k in range(1, 5)]
    counts = History("arrived", tuple(HourCount(d, h, 0, 50) for d in sorted(days) for h in HOURS))
    spread = spread_of(counts)
    level = (0.12**2 + (0.12**2 + 0.1**2 / 13) / 4) ** 0.5
    assert spread == DemandSpread(None, None, spread.level_cv, 0, 4)
    assert spread.level_cv == pytest.approx(level)


def said(spread: DemandSpread, guess: SpreadGuess) -> str:
    """What is told, as one text."""
    return " ".join(map(str, told_spread(spread, guess)))


def test_what_is_told_is_said_with_the_day() -> None:
    """The sentence names the three parts and what each rests on."""
    counted = DemandSpread(0.18, 0.09, 0.07, 34, 5)
    assert said(counted, GUESS) == (
        "Days like this differ by about 18 %, hours given the day by 9 % (from 34 whole days of "
        "counts). The mean of 5 days is itself uncertain by 7 %."
    )
    own = replace(counted, day_cv=None)
    assert said(own, replace(GUESS, day_cv=0.3, day_entered=True)) == (
        "Days like this differ by about 30 % (your own entry), hours given the day by 9 % (from "
        "34 whole days of counts). The mean of 5 days is itself uncertain by 7 %."
    )
    guessed = DemandSpread(None, None, 0.17, 1, 1)
    assert said(guessed, GUESS) == (
        "Days like this differ by about 12 %, hours given the day by 10 % (a guess: too few whole "
        "days of counts). The one like day is itself uncertain by 17 %."
    )


def test_entries_of_the_site_hold() -> None:
    """What the manager entered is not replaced, each input by itself; the level is still told."""
    found, _ = history(generator("entered"), 56, 0.1, 0.2)
    data = SiteData(Site("Own"), history=found)
    both = expected_day(data, SATURDAY, AIR).conditions.spread
    assert both.day_cv is not None
    assert both.hour_cv is not None
    own = replace(data, given=frozenset({"hour_factor_cv"}))
    one = expected_day(own, SATURDAY, AIR).conditions.spread
    assert one == replace(both, hour_cv=None)
