"""How a plan moves: order of tipping points, days ahead, and seasons whose answer is known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from sim.day.rules import FULL, REDUCED, parse_rule
from sim.decide.switching.candidates import narrowed, neighbours
from sim.decide.switching.choice import Wish
from sim.decide.switching.coming import (
    WAYS,
    Corner,
    border,
    corner_of,
    how_it_moves,
    moved_day,
    plan_days,
)
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget
from sim.decide.switching.year import count_year, need_switching
from sim.inputs import Site, Value
from tests.day.sites import PLAIN_GOODWILL, conditions, flat

SHORT = Site("Short").with_values(
    {
        "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0, "strip_count": 30,
        "day_factor_cv": 0.1, "matters_cars": 2.0, "allowed_damp_share": 0.2,
        "damp_limit_saturation": 0.6, "throw_off_time_s": 3600.0,
    }
)  # fmt: skip
"""Cloth so slow to throw water off, and cars judged so, that the busy day turns on the rule."""
BUSY = conditions(45.0, opening=0.5)
ENDLESS: dict[str, Value] = {"holding_capacity_kg_kg": 6.0, "strip_count": 3000}


def question(values: dict[str, Value] | None = None) -> SwitchQuestion:
    """A short day."""
    site = SHORT.with_values(values or {})
    return SwitchQuestion(site, BUSY, Wish.of(site, "mean"), 3)


# ---- few rules -----------------------------------------------------------------------------------


def test_neighbours_differ_in_one_number_and_stay_within_the_day() -> None:
    """Each neighbour of a rule can be written and read, is another rule, and lies in open hours."""
    rule = parse_rule("clock 9:30-10:30 or band 50-40")
    found = list(neighbours(SHORT, rule))
    assert len(set(found)) == len(found) >= 8
    for other in found:
        assert other != rule
        assert parse_rule(other.text) == other
        same = [a == b for a, b in zip(rule.either, other.either, strict=True)]
        assert same.count(False) == 1
    assert set(narrowed(SHORT, rule)) >= {rule, FULL, REDUCED, *found}
    assert list(neighbours(SHORT, FULL)) == []


# ---- moved days ----------------------------------------------------------------------------------


def test_moved_days_are_what_their_names_say() -> None:
    """A hotter day has the water of the day as expected, a wetter one more, a busier more cars."""
    day = conditions(45.0, 25.0, 0.6)
    assert moved_day(day, "as_expected") == day
    assert max(moved_day(day, "hotter").temp_c) > 25.0 > max(moved_day(day, "cooler").temp_c)
    assert moved_day(day, "hotter").humidity[9] < 0.6 < moved_day(day, "cooler").humidity[9]
    assert moved_day(day, "wetter").humidity == pytest.approx(flat(0.75))
    busier, quieter = (sum(moved_day(day, way).arrivals_per_h) for way in ("busier", "quieter"))
    assert quieter < 24 * 45 < busier


def test_plans_of_moved_days() -> None:
    """A plan a way; the day as expected leads, and always full leaves more damp if busier."""
    told: list[int] = []
    plans = how_it_moves(
        question(), parse_rule("band 50-40"), None, lambda done, _: told.append(done),
        effort=SamplingBudget(first=8, sure=8, most=8),
    )  # fmt: skip
    assert told == sorted(told)
    assert tuple(plan.way for plan in plans) == WAYS
    by = {plan.way: plan for plan in plans}
    assert by["as_expected"].same
    assert by["quieter"].full_left_damp_share < by["busier"].full_left_damp_share
    assert by["cooler"].full_left_damp_share >= by["hotter"].full_left_damp_share
    for plan in plans:
        assert plan.keeps
        assert plan.left_damp_share <= 0.2


def table(rows: tuple[tuple[float | None, ...], ...]) -> np.ndarray:
    """Rows of tipping points, not a number where there is none."""
    return np.array(rows, dtype=float)


def test_tipping_points_fall_with_demand_and_rise_with_temperature() -> None:
    """More cars never allow damper air, warmer air (with as much water) never less of it."""
    found = border(
        question({"strip_count": 45}), temps_k=(-6.0, 0.0, 6.0), demands=(0.4, 1.0, 1.3), draws=8
    )
    rows = np.nan_to_num(table(found.humidity), nan=-1.0)
    assert len(np.unique(rows)) > 2
    assert np.all(np.diff(rows, axis=0) <= 0.0)
    assert np.all(np.diff(rows, axis=1) >= 0.0)


def test_a_point_near_the_limit_gets_more_days_or_is_left_open() -> None:
    """By least cost a few days do not tell on which side a point lies: they leave open what more
    days narrow down, and what they tell is not taken back by more."""
    dear: dict[str, Value] = {
        **PLAIN_GOODWILL, "strip_count": 45, "damp_cost": 3.0, "reduced_cost": 0.3,
    }  # fmt: skip
    site = SHORT.with_values({**dear, "matters_money": 2.0})
    asked = SwitchQuestion(site, BUSY, Wish.of(site, "cost"), 3)
    few, more = (
        border(asked, temps_k=(0.0, 6.0), demands=(0.4, 1.0), draws=8, most_draws=most)
        for most in (8, 64)
    )
    for found in (few, more):
        enough, not_from = table(found.humidity), table(found.not_from)
        known = ~np.isnan(enough + not_from)
        assert np.all(enough[known] < not_from[known])
    wide, narrow = (
        np.nan_to_num(table(found.not_from), nan=1.0)
        - np.nan_to_num(table(found.humidity), nan=0.0)
        for found in (few, more)
    )
    assert narrow.sum() < wide.sum()
    assert more.runs > few.runs


def test_the_corner_of_a_border_holds_at_every_warmer_temperature() -> None:
    """The sentence covers most of what was looked at; without any day it is not made."""
    temps, dip = (20.0, 24.0, 28.0, 32.0), (0.9, 0.9, 0.2, 0.9)
    assert corner_of(temps, (None, 0.55, 0.6, 0.65)) == Corner(24.0, 0.55)
    assert corner_of(temps, (None,) * 4) is None
    corner = corner_of(temps, dip)
    assert corner is not None
    assert corner.humidity <= min(dip[temps.index(corner.highest_temp_c) :])


# ---- days ahead ----------------------------------------------------------------------------------

FROST = conditions(45.0, temp_c=-3.0)
EMPTY = conditions(0.0)


def test_dry_cloth_needs_no_switch_day() -> None:
    """Endless capacity: always full on each day, none of a season; frost and empty days are out."""
    asked = question(ENDLESS)
    days = [(BUSY, None), (FROST, None), (EMPTY, None), (BUSY, None)]
    plans = plan_days(asked, days)
    assert [plan and plan.rule for plan in plans] == [FULL, None, None, FULL]
    assert not any(plan.switches for plan in plans if plan is not None)
    needs = need_switching(asked, days)
    assert needs == (False, None, None, False)
    dates = [date(2026, 7, 30) + timedelta(days=n) for n in range(4)]
    year = count_year(dict(zip(dates, needs, strict=True)), {date(2026, 8, 3): "closed"})
    assert (year.days, year.left_out, year.expected, year.closed) == (2, 2, 0, 1)
    assert (year.first, year.last) == (dates[0], date(2026, 8, 3))
    assert [(one.first, one.days) for one in year.months] == [(dates[0], 1), (dates[2], 1)]


def test_wet_days_are_switch_days() -> None:
    """A day that always full spoils is a switch day, with a rule that meets the wish."""
    asked = question()
    quiet = conditions(3.0, humidity=0.2, opening=0.05)
    days = [(BUSY, None), (quiet, None)]
    plans = plan_days(asked, days)
    wet, dry = plans
    assert wet is not None
    assert wet.switches
    assert wet.keeps
    assert wet.left_damp_share <= 0.2 < wet.full_left_damp_share
    assert dry is not None
    assert dry.rule == FULL
    assert need_switching(asked, days * 2) == (True, False, True, False)
