"""A season's days against comparisons of the same days, and what is made of them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sim.day.figures import FIGURES
from sim.day.night import PreviousDay
from sim.day.replicate import run_days
from sim.decide.cloth.outlook import laundry_days, peak_days, wants
from sim.decide.cloth.season import KEPT, SeasonDay, SeasonQuestion, run_season
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site

DAY = date(2026, 7, 18)


def question(rules: tuple[str, ...], replications: int = 3) -> SeasonQuestion:
    """As many days as rules, warmer and busier from one to the next; damp cars are re-washed."""
    site = Site("Season").with_values({"open_h": 8.0, "close_h": 11.0})
    days = []
    evening: PreviousDay | None = None
    for ahead, rule in enumerate(rules):
        cars = tuple(40.0 + 15.0 * ahead if 8 <= hour < 11 else 0.0 for hour in range(24))
        conditions = Conditions(cars, (22.0 + ahead,) * 24, (0.8,) * 24)
        cloth = "9:30" if ahead == 1 else ""
        planned = Scenario("planned", rule, cloth, {"car_spacing_m": 6.0 + 0.1 * ahead})
        days.append(SeasonDay(DAY + timedelta(days=ahead), conditions, evening, planned))
        evening = PreviousDay(conditions, 1)
    return SeasonQuestion(site, tuple(days), replications, 20260701)


RULES = ("full", "band 30-20", "clock 9:00-10:00", "reduced")


def test_a_day_has_the_figures_of_its_comparison() -> None:
    """Every figure of every replication equals that of a comparison of the two scenarios, with the
    evening before, dry sets and changed settings, to the last bit."""
    asked = question(RULES)
    found = run_season(asked)
    for at in range(len(asked.days)):
        one = asked.of_day(at)
        assert [scenario.rule for scenario in one.scenarios] == ["full", RULES[at]]
        assert one.scenarios[0].cloth == one.scenarios[1].cloth
        runs = run_days(one.experiment, one.scenarios, one.replications)
        for name in KEPT:
            for rule in range(2):
                ours = found.figures[name][at, rule]
                assert np.array_equal(ours, runs[rule].day[name], equal_nan=True), (at, name)


def test_figures_do_not_depend_on_who_runs_them() -> None:
    """Two workers give what one gives, bit for bit."""
    asked = question(RULES[:3])
    alone = run_season(asked)
    with ThreadPoolExecutor(2) as pool:
        together = run_season(asked, pool)
    for name in KEPT:
        assert np.array_equal(alone.figures[name], together.figures[name], equal_nan=True)


def test_progress_is_told_by_day() -> None:
    """After each day it is told how many are done, of how many."""
    told: list[tuple[int, int]] = []
    run_season(question(RULES[:3], 1), None, lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_a_day_that_cannot_be_simulated_is_refused_before_any_is() -> None:
    """A season with a frozen day raises that day's problem and simulates nothing."""
    asked = question(RULES)
    cold = replace(asked.days[3].conditions, temp_c=(-5.0,) * 24)
    days = (*asked.days[:3], replace(asked.days[3], conditions=cold))
    told: list[int] = []
    with pytest.raises(InputError, match="frost"):
        run_season(replace(asked, days=days), None, lambda done, total: told.append(done))
    assert told == []


def test_totals_and_luck_come_from_the_replications() -> None:
    """The total's mean is that of replications summed over days, its luck their spread by day."""
    found = run_season(question(RULES, 4))
    values = found.figures["wear_cars"][:, 1]
    mean, low, high = found.total("wear_cars", 1)
    assert mean == pytest.approx(float(values.sum(axis=0).mean()), rel=1e-12)
    assert low < mean < high
    assert found.luck("wear_cars", 1) == pytest.approx(values.std(axis=1, ddof=1), rel=1e-12)


def test_peaks_are_the_busiest_days() -> None:
    """The busiest share is marked, at least one day, the earlier of two equal ones."""
    days = question(RULES).days
    assert peak_days(days, 0.5).tolist() == [False, False, True, True]
    assert peak_days(days, 0.01).tolist() == [False, False, False, True]
    equal = tuple(replace(one, conditions=days[0].conditions) for one in days)
    assert peak_days(equal, 0.25).tolist() == [True, False, False, False]


def test_laundry_follows_each_stretch_of_open_days() -> None:
    """Seven open days on the wheel, then the laundry in the morning of the eighth; where the first
    morning is known of the set on the wheel, seven open days from there on, whatever days lie
    between are closed."""
    days = [date(2026, 7, 1) + timedelta(days=n) for n in range(22)]
    assert np.flatnonzero(laundry_days(days, 7)).tolist() == [7, 14, 21]
    assert np.flatnonzero(laundry_days(days, 7, date(2026, 7, 3))).tolist() == [2, 9, 16]
    closed = [day for day in days if day.weekday() != 0]
    marks = laundry_days(closed, 7, date(2026, 7, 6))
    assert [closed[at] for at in np.flatnonzero(marks)][:2] == [date(2026, 7, 7), date(2026, 7, 15)]
    assert not laundry_days(days, 7, date(2027, 1, 1)).any()


def test_a_dry_set_every_morning_turns_the_sets_daily() -> None:
    """Where a dry set is hung every morning the next one is hung on each day but the first, and is
    away to dry alone unless it goes to the laundry; else the laundry alone turns them."""
    days = question(RULES).days
    laundered, none = np.array([False, False, True, False]), np.zeros(4, bool)
    site = Site("Turns").with_values({"set_dry_h": 16.0, "launder_turn_h": 24.0, "open_h": 8.0})
    weekly = [(want.at_h, want.away_h) for want in wants(site, days, none, laundered)]
    assert weekly == [(56.0, 40.0)]
    daily = site.with_values({"dry_set_at_opening": True})
    found = [(want.at_h, want.away_h) for want in wants(daily, days, none, laundered)]
    assert found == [(32.0, 16.0), (56.0, 40.0), (80.0, 16.0)]
    noons = wants(site, days, np.array([False, True, False, False]), none)
    assert [(want.at_h, want.away_h, want.is_peak) for want in noons] == [(36.0, 16.0, True)]


def test_kept_figures_are_figures_of_a_day() -> None:
    """What a season keeps is told by the table of figures."""
    assert set(KEPT) <= set(FIGURES)
