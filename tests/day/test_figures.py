"""Figures of a day and of many days: counts, Little's law, money, intervals and plain words."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings

from sim.day.draw import DayDraw, make_cars
from sim.day.engine import Experiment
from sim.day.figures import (
    FIGURES,
    HOURLY,
    OF_COST,
    PairedDifference,
    Range,
    Word,
    range_of,
    worded,
)
from sim.day.goodwill import OF_GOODWILL
from sim.day.records import FINISHED, REWASHED, summarise
from sim.day.replicate import (
    day_range,
    difference,
    fewer_than_one_in,
    figure,
    matters,
    mean_interval,
    means_by_hour,
    run_days,
)
from sim.day.rules import FULL
from sim.day.setup import prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import INPUTS, Scenario, Site
from sim.units import UNITS
from tests.day.sites import SiteDay, conditions, site_days
from tests.day.test_goodwill import by_the_records
from tests.intervals import run_error, value_of
from tests.seeds import seed
from tests.sizes import size_now

CARS = FIGURES["cars_washed"]
LOST = FIGURES["cars_lost"]
WEAR = FIGURES["wear_cars"]


@settings(max_examples=size_now(small=60, full=600))
@given(world=site_days())
def test_a_days_figures_add_up(world: SiteDay) -> None:
    """Hours add up to the day; Little's law holds for the stack; shares lie in 0 to 1."""
    day, cars = world.parts()
    result = world.run()
    found = summarise(world.site, day, cars, result)
    total, hours = found.day, found.hours
    assert set(total) == set(FIGURES)
    assert set(hours) == set(HOURLY)
    assert total["cars_arrived"] == len(cars.arrival_s)
    assert total["cars_arrived"] == total["cars_washed"] + total["cars_lost"]
    for name in ("arrived", "washed", "lost"):
        assert hours[name].sum() == total[f"cars_{name}"]
    # Little 1961, Oper. Res. 9:383–387 (from memory): ∫ number dt = Σ time, on any path
    stays = [
        (c.pay_start_s if c.turn == 1 else c.unblocked_s) - c.arrival_s
        for c in result.passes
        if not c.lost
    ]
    assert hours["stack_mean"].sum() * 3600.0 == pytest.approx(math.fsum(stays), abs=1e-5)
    for name, value in total.items():
        if FIGURES[name].unit == "share" and name != "staff_use" and not math.isnan(value):
            assert -1e-12 <= value <= 1 + 1e-12, name
    assert (
        total["wait_p50_s"] <= total["wait_p90_s"] <= total["wait_p95_s"]
        or not total["cars_washed"]
    )
    assert total["water_taken_kg"] == pytest.approx(hours["water_taken_kg"].sum(), abs=1e-9)


@settings(max_examples=size_now(small=30, full=300))
@given(world=site_days())
def test_money_is_what_its_parts_cost(world: SiteDay) -> None:
    """Margin and cost are re-added from the trace; since a lost car costs its own margin, the two
    differ by a constant of the arrivals, but for members who drove away: their dues are paid, and
    nothing was spent on washing them. The items shown add up to both."""
    prices = {"price_per_car": 12.0, "cost_per_car": 2.5, "reduced_cost": 0.35}
    site = world.site.with_values(prices)
    world = SiteDay(site, world.conditions, world.rule, world.cloth, world.seed)
    day, cars = world.parts()
    result = world.run()
    found = summarise(site, day, cars, result).day
    passes = [c for c in result.passes if not c.lost]
    again = sum(c.fate == REWASHED for c in passes)
    open_h = site.line.close_h - site.line.open_h
    late_h = max(0.0, result.closed_s / 3600 - site.line.close_h)
    wages = 20.0 * (20 * open_h + 20 * late_h + 105 / 60)
    wear = 900 * result.wear_cars / (60000 * math.gamma(1.4))
    towels = 0.2 * sum(c.fate == FINISHED for c in passes)
    laundry = 15.0 * result.sets_changed
    overload = 20.0 * found["overload_hours"]
    looks = 20.0 * math.fsum(c.looked_s for c in passes) / 3600.0
    rinsed = 0.0 if site.water.rinse_agent_factor == 1.0 else 0.15 * len(passes)
    seen = by_the_records(site, day, cars, result)
    goodwill = math.fsum(seen[name] for name in OF_GOODWILL)
    cost = seen["cost_lost"] + goodwill + 2.5 * again + wear + wages
    cost += towels + laundry + overload + looks + rinsed
    assert found["cost"] == pytest.approx(cost, rel=1e-9)
    assert found["cost"] == pytest.approx(math.fsum(found[name] for name in OF_COST), rel=1e-12)
    spent = found["cost_washing"] + found["cost"] - found["cost_lost"]
    assert found["margin"] == pytest.approx(found["takings"] - spent, rel=1e-12)
    away = sum(bool(c.lost) and bool(cars.member[c.car]) for c in result.passes)
    whole = 9.5 * found["cars_arrived"] + 2.5 * away
    assert found["margin"] + found["cost"] == pytest.approx(whole, abs=1e-6)
    assert found["finished_cars"] == sum(c.fate == FINISHED for c in passes)


def test_every_figure_is_described() -> None:
    """Each figure names a known unit, wish and origin; the words are there for the page."""
    for name, info in FIGURES.items():
        assert info.name == name
        assert info.unit in UNITS
        assert info.better in ("more", "less", "")
        assert not info.matters or info.matters in INPUTS
        assert info.label
        assert info.origin.endswith(".")


def test_no_days_and_one_day_have_no_interval() -> None:
    """Days without the figure are left out; of one day there is a mean alone, of none nothing."""
    assert mean_interval(np.array([math.nan, 3.0]))[0] == 3.0
    assert all(math.isnan(x) for x in mean_interval(np.array([math.nan, 3.0]))[1:])
    assert all(math.isnan(x) for x in mean_interval(np.array([math.nan])))
    assert all(math.isnan(x) for x in mean_interval(np.array([])))
    assert all(math.isnan(x) for x in day_range(np.array([math.nan])))


def test_a_rare_event_gets_no_interval_but_a_bound() -> None:
    """None in 32 days: fewer than 1 in 11, by 1 − 0.05^(1/32); 20 days or more get an interval."""
    assert fewer_than_one_in(0, 32) == math.floor(1 / (1 - 0.05 ** (1 / 32))) == 11
    none = figure(LOST, np.zeros(32))
    assert (none.event_days, none.fewer_than_one_in_days) == (0, 11)
    assert none.run_error is None
    often = figure(LOST, np.arange(32.0))
    assert often.fewer_than_one_in_days == 0
    assert run_error(often).low < value_of(often) < run_error(often).high


def words(first: list[float], other: list[float], threshold: float = 10.0) -> str:
    """The plain word of a paired difference in cars washed."""
    return difference(CARS, np.array(first), np.array(other), threshold).word


def test_plain_words_of_a_difference() -> None:
    """Each word is given exactly when its definition holds."""
    base = [100.0 + n for n in range(40)]
    assert words(base, base) == "the same"
    assert words(base, [b + 1 + 0.01 * n for n, b in enumerate(base)]) == "hardly differs"
    assert words(base, [b + 30 for b in base]) == "clearly better"
    assert words(base, [b - 30 for b in base]) == "clearly worse"
    mixed = [b + (30 if n % 8 else -5) for n, b in enumerate(base)]  # 35 of 40 days
    assert words(base, mixed) == "probably better"
    often = [b + (60 if n % 3 else -10) for n, b in enumerate(base)]  # 26 of 40 days
    assert words(base, often) == "a little better"
    wild = [b + (200 if n % 2 else -190) for n, b in enumerate(base)]
    assert words(base, wild) == "can’t tell"


def test_fewer_is_better_where_less_is_better() -> None:
    """For lost cars a fall is better; where neither is better the word says more or less."""
    base, fewer = np.arange(50.0, 82.0), np.full(32, 20.0)
    assert difference(LOST, base, fewer, 10.0).word == "clearly better"
    assert difference(LOST, base, fewer, 10.0).days_better == 1.0
    assert difference(FIGURES["water_taken_kg"], base, fewer, 1.0).word == "clearly less"


def test_what_matters_is_the_managers_wish_or_three_percent() -> None:
    """A figure with a wish takes it from the site, another one 3 % of the first's figure."""
    site = Site("Wishes").with_values({"matters_cars": 25.0})
    assert matters(site, CARS, 1000.0) == 25.0
    assert matters(site, WEAR, 1000.0) == pytest.approx(30.0)


def test_what_is_a_reason_by_its_word() -> None:
    """Words of direction matter, those that say nothing or no difference do not; strong are those
    that are probable or clear. The smallest difference has its direction."""
    trifles = {"", "the same", "hardly differs", "can’t tell"}
    for word in get_args(Word):
        found = PairedDifference(1.0, None, None, word)
        assert found.matters == (word not in trifles)
        assert found.is_strong == (word.split(" ")[0] in ("probably", "clearly"))
    neither = next(info for info in FIGURES.values() if not info.better)
    fewer = next(info for info in FIGURES.values() if info.better == "less")
    assert [worded("a little", neither, sign * 0.01) for sign in (1, -1)] == [
        "a little more", "a little less",
    ]  # fmt: skip
    assert [worded("clearly", fewer, sign * 0.01) for sign in (1, -1)] == [
        "clearly worse", "clearly better",
    ]  # fmt: skip
    assert Range(-1.5, 2.0).width == 3.5


def test_paired_days_share_their_arrivals() -> None:
    """Every scenario sees the same cars arrive on each day, whatever its rule."""
    scenarios = (Scenario("a", "full"), Scenario("b", "reduced"))
    full, reduced = run_days(Experiment(Site("Paired"), conditions(20.0), 5), scenarios, 3)
    assert np.array_equal(full.day["cars_arrived"], reduced.day["cars_arrived"])
    assert len(np.unique(full.day["cars_arrived"])) > 1
    assert np.all(full.day["full_share"] == 1.0)
    assert np.all(reduced.day["full_share"] == 0.0)
    assert np.all(reduced.day["water_taken_kg"] < full.day["water_taken_kg"])


def test_a_wait_by_hour_is_what_a_car_meets() -> None:
    """Over many days the wait and the shares of an hour are means over all its cars, pooled from
    the passes of the traced model; a mean of the days' means would be shorter at a busy hour."""
    changed = {"open_h": 9.0, "close_h": 12.0, "day_factor_cv": 0.5, "stack_limit_cars": 40}
    site = Site("Busy").with_values(changed)
    day, root, count = conditions(110.0, opening=0.9), seed("hour of a car"), 6
    waits: dict[int, list[float]] = {}
    for number in range(count):
        cars = make_cars(DayDraw(root, number), site, day)
        for car in simulate_day(site, prepare_day(site, day), cars, FULL, ()).passes:
            if car.turn == 1 and not car.lost:
                own = (car.paid_s - car.pay_start_s) + (car.loaded_s - car.load_start_s)
                hour = int(car.arrival_s // 3600.0)
                waits.setdefault(hour, []).append(car.caught_s - car.arrival_s - own)
    (days,) = run_days(Experiment(site, day, root), [Scenario("full")], count)
    found = means_by_hour(days.hours)
    for hour, of_cars in waits.items():
        assert found["wait_mean_s"][hour] == pytest.approx(np.mean(of_cars), rel=1e-9)
    assert found["wait_mean_s"][11] > 1.05 * np.nanmean(days.hours["wait_mean_s"][:, 11])
    assert np.isnan(found["wait_mean_s"][3])
    assert found["arrived"].sum() == pytest.approx(days.day["cars_arrived"].mean())
    damp = (days.hours["damp_share"] * days.hours["washed"])[:, 10].sum()
    share = damp / days.hours["washed"][:, 10].sum()
    assert found["damp_share"][10] == pytest.approx(share)


def test_an_interval_has_both_its_ends() -> None:
    """Where one is missing there is none."""
    assert range_of(1.0, 2.0) == Range(1.0, 2.0)
    for low, high in ((math.nan, 2.0), (1.0, math.inf), (-math.inf, math.nan)):
        assert range_of(low, high) is None
