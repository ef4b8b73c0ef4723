"""The line before and on the belt: hand-worked days, ties, capacity, and where cars are lost."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.records import FULL_STACK, IMPATIENT, DayResult, summarise
from sim.day.rules import FULL
from sim.day.setup import prepare_day
from sim.day.tunnel import BeltTime, simulate_day
from sim.inputs import Conditions, Site, Value
from sim.physics.belt import belt_capacity_per_s
from tests.day.sites import conditions, hand_made_cars
from tests.seeds import seed

OPEN = 7 * 3600.0
EASY: dict[str, Value] = {
    "pusher_pitch_m": 1.0,
    "conveyor_speed_m_s": 0.25,
    "car_spacing_m": 6.0,
    "least_gap_m": 1.0,
    "wheel_position_m": 30.0,
    "pay_lanes": ((0.0, 1.0),),
    "loading_line_cars": 1,
    "stack_limit_cars": 20,
}


def run(site: Site, cars: DayCars) -> DayResult:
    """One day of always full on the plain day."""
    return simulate_day(site, prepare_day(site, conditions()), cars, FULL)


def site_with(**changes: Value) -> Site:
    """The easy site with some inputs changed."""
    return Site("Easy").with_values({**EASY, **changes})


def test_a_day_of_three_cars_worked_by_hand() -> None:
    """Every time of three cars equals what was worked out with pencil and paper.

    Pushers 1 m apart at 0.25 m/s pass every 4 s from opening. Sedans of 4.85 m need
    max(6, 4.85 + 1) = 6 m, 6 pushers, 24 s. Pushed wheel 0.95 m, hood 0.25 m behind the nose,
    so the hood meets the wheel at pusher·1 − 0.95 + 30 + 0.25 m and the tail passes it at
    pusher·1 − 0.95 + 30 + 4.85 m.
    """
    arrivals = (OPEN + 1.0, OPEN + 2.0, OPEN + 3.0)
    result = run(site_with(), hand_made_cars(arrivals, (10.0, 10.0, 10.0)))
    first, second, third = result.passes
    # first: pays 1–11, loads 11–21, pusher ⌈21·0.25⌉ = 6 is there at 24
    assert (first.pay_start_s, first.paid_s, first.unblocked_s) == (OPEN + 1, OPEN + 11, OPEN + 11)
    assert (first.load_start_s, first.loaded_s, first.pusher) == (OPEN + 11, OPEN + 21, 6)
    assert first.caught_s == pytest.approx(OPEN + 24, abs=1e-9)
    # second: pays 11–21, waits in the loading line, loads 24–34, pusher max(⌈8.5⌉, 12) at 48
    assert (second.pay_start_s, second.unblocked_s) == (OPEN + 11, OPEN + 21)
    assert second.load_start_s == pytest.approx(OPEN + 24, abs=1e-9)
    assert second.loaded_s == pytest.approx(OPEN + 34, abs=1e-9)
    assert second.pusher == 12
    assert second.caught_s == pytest.approx(OPEN + 48, abs=1e-9)
    # third: pays 21–31; the one place is free since 24, so nothing blocks it; pusher 18 at 72
    assert (third.pay_start_s, third.paid_s, third.unblocked_s) == (OPEN + 21, OPEN + 31, OPEN + 31)
    assert third.pusher == 18
    assert third.caught_s == pytest.approx(OPEN + 72, abs=1e-9)
    for car in result.passes:
        hood, tail = car.pusher - 0.95 + 30.0 + 0.25, car.pusher - 0.95 + 30.0 + 4.85
        assert car.wheel_s == pytest.approx(OPEN + hood / 0.25, abs=1e-6)
        assert car.exit_s == pytest.approx(OPEN + tail / 0.25, abs=1e-6)


def test_without_a_loading_line_the_lane_stays_blocked() -> None:
    """With no place a car leaves its lane only when the car ahead has been caught."""
    arrivals = (OPEN + 1.0, OPEN + 2.0)
    result = run(site_with(loading_line_cars=0), hand_made_cars(arrivals, (10.0, 5.0)))
    first, second = result.passes
    # the first leaves its lane at 11 and is caught at 24; the second pays 11–16, blocked till 24
    assert first.unblocked_s == OPEN + 11
    assert second.paid_s == OPEN + 16
    assert second.unblocked_s == pytest.approx(OPEN + 24, abs=1e-9)
    assert second.load_start_s == second.unblocked_s


def test_a_departure_comes_before_an_arrival_of_the_same_instant() -> None:
    """A car that arrives just when the only lane frees takes it, though nobody may wait."""
    arrivals = (OPEN + 1.0, OPEN + 11.0)
    site = site_with(stack_limit_cars=0, loading_line_cars=5)
    result = run(site, hand_made_cars(arrivals, (10.0, 10.0)))
    assert [car.lost for car in result.passes] == ["", ""]
    assert result.passes[1].pay_start_s == OPEN + 11


def test_of_payments_that_end_together_the_lower_lane_goes_first() -> None:
    """Two lanes end payment in one instant: lane 0 goes ahead though its car came later."""
    # car 0 takes lane 0 at 1 and ends at 11; car 1 takes lane 1 at 2 and ends at 31;
    # car 2 takes lane 0 at 11 and ends at 31 as well
    arrivals = (OPEN + 1.0, OPEN + 2.0, OPEN + 11.0)
    site = site_with(pay_lanes=((0.0, 2.0),), loading_line_cars=5)
    result = run(site, hand_made_cars(arrivals, (10.0, 29.0, 20.0)))
    by_load = sorted(result.passes, key=lambda car: car.load_start_s)
    assert [car.lane for car in result.passes] == [0, 1, 0]
    assert result.passes[1].paid_s == result.passes[2].paid_s == OPEN + 31
    assert [car.car for car in by_load] == [0, 2, 1]


def test_an_arrival_at_the_limit_of_the_stack_is_lost() -> None:
    """One lane, two may wait: of five cars at once the last two drive away."""
    arrivals = tuple(OPEN + 1.0 + 0.001 * n for n in range(5))
    result = run(site_with(stack_limit_cars=2), hand_made_cars(arrivals, (30.0,) * 5))
    assert [car.lost for car in result.passes] == ["", "", "", FULL_STACK, FULL_STACK]


def test_a_car_without_patience_leaves_at_once() -> None:
    """A car that expects more than it accepts drives away; one with nobody ahead stays."""
    arrivals = (OPEN + 1.0, OPEN + 2.0)
    cars = replace(hand_made_cars(arrivals, (30.0, 30.0)), patience_s=np.array([0.0, 10.0]))
    result = run(site_with(), cars)
    # capacity is at most one car in 24 s, so one car ahead is at least 24 s
    assert [car.lost for car in result.passes] == ["", IMPATIENT]


def test_a_stop_freezes_the_belt_and_all_on_it() -> None:
    """A stop of 60 s while a car rides delays its wheel and exit by 60 s, its wiping by nothing."""
    arrivals, pay = (OPEN + 1.0,), (10.0,)
    calm = run(site_with(), hand_made_cars(arrivals, pay)).passes[0]
    stops = ((OPEN + 50.0, OPEN + 110.0),)
    held = run(site_with(), hand_made_cars(arrivals, pay, clock_stops=stops)).passes[0]
    assert held.caught_s == calm.caught_s
    assert held.wheel_s == pytest.approx(calm.wheel_s + 60.0, abs=1e-6)
    assert held.exit_s == pytest.approx(calm.exit_s + 60.0, abs=1e-6)


def test_a_car_may_stop_the_belt_when_it_is_caught() -> None:
    """A stop that a car causes holds back the car ahead of it by its whole length."""
    arrivals, pay = (OPEN + 1.0, OPEN + 2.0), (10.0, 10.0)
    calm = run(site_with(), hand_made_cars(arrivals, pay))
    held = run(site_with(), hand_made_cars(arrivals, pay, stop_s=(0.0, 45.0)))
    # the second is caught at 48, when the first still rides to the wheel at 30 m
    assert held.stops == [(pytest.approx(OPEN + 48), pytest.approx(OPEN + 93))]
    assert held.passes[0].wheel_s == pytest.approx(calm.passes[0].wheel_s + 45.0, abs=1e-6)


def test_the_belt_follows_timetable_and_stops() -> None:
    """Travel adds up speeds by time and nothing in stops; the way back gives the time."""
    belt = BeltTime(0.0, ((0.0, 0.2), (100.0, 0.4)), ((50.0, 70.0), (60.0, 80.0), (150.0, 160.0)))
    # 50 s at 0.2, standing to 80, 20 s at 0.2, then 0.4 but for 10 s
    assert belt.time_at(10.0, 0.0) == pytest.approx(50.0)
    assert belt.time_at(14.0, 0.0) == pytest.approx(100.0)
    assert belt.time_at(14.0 + 20.0, 0.0) == pytest.approx(150.0)
    assert belt.time_at(14.0 + 24.0, 0.0) == pytest.approx(170.0)
    assert belt.travel(65.0) == pytest.approx(10.0)
    assert belt.stops == [(50.0, 80.0)]
    belt.stop(90.0, 5.0)
    assert belt.travel(120.0) == pytest.approx(10.0 + 3.0 + 8.0)
    assert belt.stops == [(50.0, 80.0), (90.0, 95.0)]


BUSY: dict[str, Value] = {
    "open_h": 7.0,
    "close_h": 20.0,
    "pay_lanes": ((0.0, 4.0),),
    "stops_per_h": 0.0,
    "stops_per_car": 0.0,
    "patience_median_s": 14400.0,
    "patience_log_sd": 0.0,
    "day_factor_cv": 0.0,
    "hour_factor_cv": 0.0,
    "damp_rewash_share": 0.0,
    "stack_limit_cars": 5,
    "loading_line_cars": 5,
}


def busy_day(
    changes: dict[str, Value], cars_per_h: float, number: int = 0
) -> tuple[Site, DayResult, DayCars]:
    """A day on which the belt is the bottleneck, all but the changes alike."""
    site = Site("Busy").with_values({**BUSY, **changes})
    day = conditions(cars_per_h)
    cars = make_cars(DayDraw(seed("busy day", number)), site, day)
    return site, simulate_day(site, prepare_day(site, day), cars, FULL), cars


def test_with_the_belt_as_bottleneck_cars_per_hour_are_its_capacity() -> None:
    """With 180 cars an hour coming cars are lost, and the belt takes 3600·v/(pitch·pushers).

    The flow identity q = k·v in whole pushers; the hour counts whole cars, so ±1 of it.
    """
    site, result, cars = busy_day({}, 180.0)
    figures = summarise(site, prepare_day(site, conditions(180.0)), cars, result)
    assert figures.day["cars_lost"] > 100
    passes = sorted((c for c in result.passes if not c.lost), key=lambda c: c.exit_s)
    for hour in range(9, 19):
        inside = [c for c in passes if hour * 3600 <= c.exit_s < (hour + 1) * 3600]
        pushers = float(np.mean([c.pushers_apart for c in inside]))
        capacity = 3600 * belt_capacity_per_s(0.25, site.line.pusher_pitch_m, pushers)
        assert abs(len(inside) - capacity) <= 1.5
        assert figures.hours["washed"][hour] == len(inside)


def test_an_unlimited_loading_line_loses_no_car() -> None:
    """A two-hour rush over capacity loses cars with 5 places, and none with places for all."""
    arrivals = [30.0] * 24
    arrivals[10] = arrivals[11] = 150.0
    day = Conditions(tuple(arrivals), (25.0,) * 24, (0.6,) * 24, opening_moisture_kg_kg=0.3)
    lost = {}
    for places in (5, 60):
        site = Site("Rush").with_values({**BUSY, "loading_line_cars": places})
        cars = make_cars(DayDraw(seed("rush")), site, day)
        result = simulate_day(site, prepare_day(site, day), cars, FULL)
        lost[places] = sum(bool(car.lost) for car in result.passes)
        waiting = max(
            sum(c.unblocked_s <= t < c.load_start_s for c in result.passes if not c.lost)
            for t in np.arange(10 * 3600.0, 13 * 3600.0, 20.0)
        )
        assert waiting <= places
    assert lost[5] > 0
    assert lost[60] == 0


@pytest.mark.parametrize("number", range(3))
def test_a_slower_belt_and_a_wider_spacing_never_wash_more(number: int) -> None:
    """With the belt as bottleneck and equal draws, cars washed fall with speed and with spacing."""
    by_speed = [
        sum(not c.lost for c in busy_day({"conveyor_speed_m_s": v}, 200.0, number)[1].passes)
        for v in (0.30, 0.27, 0.24, 0.21, 0.18)
    ]
    assert all(a > b for a, b in itertools.pairwise(by_speed)), by_speed
    by_spacing = [
        sum(not c.lost for c in busy_day({"car_spacing_m": s}, 200.0, number)[1].passes)
        for s in (5.0, 6.0, 6.2, 7.5, 9.0, 12.0)
    ]
    assert all(a >= b for a, b in itertools.pairwise(by_spacing)), by_spacing
    assert by_spacing[0] > by_spacing[-1]


def test_overtime_ends_when_the_last_car_has_left() -> None:
    """Cars in the stack at closing are washed; the day closes with the last one's exit."""
    _, result, cars = busy_day({"stack_limit_cars": 20}, 180.0)
    last = max(car.exit_s for car in result.passes if not car.lost)
    assert result.closed_s == pytest.approx(last)
    assert last > 20 * 3600
    assert max(cars.arrival_s) < 20 * 3600
    assert not any(math.isnan(car.exit_s) for car in result.passes if not car.lost)
