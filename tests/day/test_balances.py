"""What must hold on every generated site, all features in play at once."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings

from sim.day.records import FULL_STACK, IMPATIENT, REWASHED, CarPass, DayResult
from sim.inputs import value_at
from tests.day.sites import SiteDay, site_days
from tests.sizes import size_now

EXAMPLES = size_now(small=100, full=2_000)
CLOSE = 1e-9


def near(found: float, wanted: float, scale: float = 1.0) -> bool:
    """Equal to 1e-9 of the larger of 1 and the scale."""
    return abs(found - wanted) <= CLOSE * max(1.0, abs(scale))


def check_water(result: DayResult) -> None:
    """Water at the start and taken = thrown off + evaporated + held + carried off with sets."""
    taken = math.fsum(hour.taken_kg for hour in result.hours)
    thrown = math.fsum(hour.thrown_kg for hour in result.hours)
    evaporated = math.fsum(hour.evaporated_kg for hour in result.hours)
    given_ = result.start_kg + taken
    assert near(thrown + evaporated + result.end_kg + result.carried_off_kg, given_, given_)
    per_car = math.fsum(water for car in result.passes for water in car.water_kg)
    assert near(per_car, taken, taken)


def check_cars(world: SiteDay, result: DayResult, arrived: int) -> None:
    """Every car that arrived was washed or lost, none is left inside, each re-wash came back."""
    firsts = [car for car in result.passes if car.turn == 1]
    lost = [car for car in firsts if car.lost]
    assert len(firsts) == arrived
    assert all(car.lost in (FULL_STACK, IMPATIENT) for car in lost)
    washed = [car for car in result.passes if not car.lost]
    assert all(not math.isnan(car.exit_s) for car in washed)
    sent_back = sorted(car.car for car in result.passes if car.fate == REWASHED)
    assert sent_back == sorted(car.car for car in result.passes if car.turn == 2)
    assert all(car.water_kg == (0.0, 0.0, 0.0, 0.0) for car in lost)


def on_belt(result: DayResult) -> list[CarPass]:
    """Passes in the order in which they were caught."""
    return sorted((c for c in result.passes if not c.lost), key=lambda car: car.caught_s)


def check_gaps(world: SiteDay, result: DayResult) -> None:
    """No car is closer than its gap or the spacing, and pushers only rise."""
    line, vehicles = world.site.line, world.site.vehicles
    spacing = line.car_spacing_m
    if world.site.degraded.failed_sensor != "none":
        spacing *= world.site.degraded.failed_spacing_factor

    cars = on_belt(result)
    for ahead, behind in itertools.pairwise(cars):
        # the pusher stands behind the pushed wheel, so a nose is ahead of its pusher
        at_ahead = ahead.pusher * line.pusher_pitch_m - (
            vehicles[ahead.class_index].numbers.pushed_wheel_m
        )
        at_behind = behind.pusher * line.pusher_pitch_m - (
            vehicles[behind.class_index].numbers.pushed_wheel_m
        )
        least = max(spacing, ahead.length_m + line.least_gap_m)
        assert at_behind - at_ahead >= least - 1e-6 * line.pusher_pitch_m


def travel_at(world: SiteDay, result: DayResult, moment: float) -> float:
    """Belt travel by adding up moving stretches, independent of the model's own clock."""
    site = world.site
    table = site.line.speed_timetable or ((0.0, site.line.conveyor_speed_m_s),)
    slower = site.degraded.failed_speed_factor if site.degraded.failed_sensor != "none" else 1.0
    opened = site.line.open_h * 3600.0
    edges = {opened, moment}
    edges |= {row[0] for row in table if opened < row[0] < moment}
    for start, end in result.stops:
        edges |= {t for t in (start, end) if opened < t < moment}
    total = 0.0
    ordered = sorted(edges)
    for start, end in itertools.pairwise(ordered):
        middle = (start + end) / 2
        if not any(a <= middle < b for a, b in result.stops):
            total += slower * value_at(table, start) * (end - start)
    return total


def check_line(world: SiteDay, result: DayResult) -> None:
    """Lanes, loading line, loader and belt follow their written rules, car by car."""
    places, pitch = world.site.pay.loading_line_cars, world.site.line.pusher_pitch_m
    cars = on_belt(result)
    for number, car in enumerate(cars):
        free = cars[number - 1].caught_s if number else -math.inf
        assert near(car.load_start_s, max(car.unblocked_s, free), car.load_start_s)
        assert car.loaded_s <= car.caught_s + 1e-6
        # the pusher that catches it is the first that it may have
        at = travel_at(world, result, car.loaded_s) / pitch
        firsts = {math.ceil(at - 1e-6), math.ceil(at + 1e-6)}  # either, on a pusher's edge
        if number:
            firsts = {max(k, cars[number - 1].pusher + car.pushers_apart) for k in firsts}
        assert car.pusher in firsts
        assert abs(travel_at(world, result, car.caught_s) - car.pusher * pitch) < 1e-5
        if car.turn == 1:
            assert car.pay_start_s >= car.arrival_s - 1e-9
            assert car.unblocked_s >= car.paid_s - 1e-9
    if any(car.turn == 2 for car in cars):
        return
    for number, car in enumerate(cars):
        if places == 0:
            room = cars[number - 1].caught_s if number else -math.inf
        else:
            room = cars[number - places].load_start_s if number >= places else -math.inf
        assert near(car.unblocked_s, max(car.paid_s, room), car.unblocked_s)


@settings(max_examples=EXAMPLES)
@given(world=site_days())
def test_every_generated_day_keeps_its_accounts(world: SiteDay) -> None:
    """Water, cars, gaps, saturation, order of the line and travel of the belt hold to 1e-9."""
    _, cars = world.parts()
    result = world.run()
    check_water(result)
    check_cars(world, result, len(cars.arrival_s))
    check_gaps(world, result)
    check_line(world, result)
    holding = world.site.wheel.holding_capacity_kg_kg
    for car in result.passes:
        for moisture in (car.moisture_before, car.moisture_after):
            assert car.lost or -1e-12 <= moisture <= holding * (1 + 1e-12)
    assert all(h.thrown_kg >= -1e-12 and h.evaporated_kg >= -1e-12 for h in result.hours)


@settings(max_examples=size_now(small=40, full=400))
@given(world=site_days())
def test_time_of_the_cloth_is_all_accounted_for(world: SiteDay) -> None:
    """The hours of the cloth's account add up to the time from opening to rest."""
    result = world.run()
    total = math.fsum(hour.time_s for hour in result.hours)
    assert total == pytest.approx(result.rest_s - world.site.line.open_h * 3600.0, abs=1e-6)
    held = [h.held_s / h.time_s for h in result.hours if h.time_s > 0]
    top = world.site.wheel.holding_capacity_kg_kg
    assert all(-1e-9 <= mean <= top * (1 + 1e-9) for mean in held)


@settings(max_examples=size_now(small=20, full=200))
@given(world=site_days())
def test_the_same_seed_makes_the_same_day(world: SiteDay) -> None:
    """Two runs of one world agree in every field of every car."""
    first, second = world.run(), world.run()
    assert [repr(car) for car in first.passes] == [repr(car) for car in second.passes]
    assert np.array_equal(first.stops, second.stops)
