"""The compiled day is the SimPy day: every field of every car, every hour, every figure."""

from __future__ import annotations

import dataclasses
import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings

from app.services.demo import demo_data, demo_days
from app.services.planning import make_question
from sim.day import kernel
from sim.day.draw import DayDraw, make_cars
from sim.day.records import CarPass, ClothHour, DayResult
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import prepare_day
from sim.day.summary import DayFigures, summarise
from sim.day.tunnel import simulate_day
from sim.inputs import Scenario, Site
from tests.day.sites import World, conditions, hand_made_cars, worlds
from tests.seeds import seed
from tests.sizes import size_now

CLOSE = 1e-9
TODAY = date(2026, 7, 6)
OPEN = 7 * 3600.0
RULES = (
    "full", "reduced", "service", "clock 10:00-17:00", "band 45-38", "class van or band 40-30",
)  # fmt: skip


def alike(one: object, other: object) -> bool:
    """Equal, or equal to 1e-9 of the larger of 1 and the value; NaN is alike NaN."""
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, float) and isinstance(other, float):
        if math.isnan(one) or math.isnan(other):
            return math.isnan(one) and math.isnan(other)
        return abs(one - other) <= CLOSE * max(1.0, abs(one))
    return one == other


def fields_unlike(kind: type[CarPass] | type[ClothHour], one: object, other: object) -> list[str]:
    """Every field in which two records of a kind differ, with both values."""
    found = []
    for item in dataclasses.fields(kind):
        a, b = getattr(one, item.name), getattr(other, item.name)
        if not alike(a, b):
            found.append(f"{kind.__name__}.{item.name}: {a} and {b}")
    return found


def unlike(simpy_day: DayResult, compiled: DayResult) -> list[str]:
    """Every field in which two days differ, with both values."""
    found = []
    if len(simpy_day.passes) != len(compiled.passes):
        return [f"passes {len(simpy_day.passes)} and {len(compiled.passes)}"]
    for car, twin in zip(simpy_day.passes, compiled.passes, strict=True):
        found += fields_unlike(CarPass, car, twin)
    for hour, other in zip(simpy_day.hours, compiled.hours, strict=False):
        found += fields_unlike(ClothHour, hour, other)
    for name in (
        "travel_m", "start_kg", "end_kg", "carried_off_kg", "sets_changed", "wear_cars",
        "closed_s", "rest_s", "closing_moisture",
    ):  # fmt: skip
        if not alike(getattr(simpy_day, name), getattr(compiled, name)):
            found.append(f"{name}: {getattr(simpy_day, name)} and {getattr(compiled, name)}")
    return found


def figures_unlike(one: DayFigures, other: DayFigures) -> list[str]:
    """Every figure of the day or of an hour in which two days differ."""
    found = [n for n in one.day if not alike(one.day[n], other.day[n])]
    for name, row in one.hours.items():
        near = np.isclose(row, other.hours[name], rtol=CLOSE, atol=CLOSE, equal_nan=True)
        found += [] if near.all() else [name]
    return found


@settings(max_examples=size_now(small=200, full=2_000))
@given(world=worlds())
def test_both_days_agree_on_every_generated_site(world: World) -> None:
    """All features at once: car by car, hour by hour, figure by figure, to 1e-9."""
    day, cars = world.parts()
    rule = parse_rule(world.rule)
    changes = parse_changes(world.cloth, world.site.wear.sets_owned)
    here = simulate_day(world.site, day, cars, rule, changes)
    there = kernel.run_day(world.site, day, cars, rule, changes)
    assert unlike(here, there) == []
    quick = kernel.figures(world.site, day, cars, rule, changes)
    assert figures_unlike(summarise(world.site, day, cars, here), quick) == []


@pytest.mark.parametrize("kind", ["humid_peak", "quiet", "hot_dry_peak", "after_rain"])
@pytest.mark.parametrize("rule", RULES)
def test_both_days_agree_on_the_demo(kind: str, rule: str) -> None:
    """Each kind of day of the demo under each kind of rule."""
    question, _ = make_question(
        demo_data(TODAY), demo_days(TODAY)[kind], "", (Scenario("f"),), 1, seed("agree")
    )
    site = question.site
    day = prepare_day(site, question.conditions)
    cars = make_cars(DayDraw(seed("agree")), site, question.conditions)
    parsed = parse_rule(rule)
    here = simulate_day(site, day, cars, parsed)
    assert unlike(here, kernel.run_day(site, day, cars, parsed, ())) == []
    quick = kernel.figures(site, day, cars, parsed, ())
    assert figures_unlike(summarise(site, day, cars, here), quick) == []


@pytest.mark.parametrize("places", [0, 1, 3])
@pytest.mark.parametrize("stack", [0, 2, 20])
def test_both_days_break_ties_alike(places: int, stack: int) -> None:
    """Arrivals, payments and loads on a grid of seconds, so that many things coincide."""
    arrivals = tuple(OPEN + 10.0 * (n // 2) for n in range(60))
    pay = tuple(float((10, 20, 30)[n % 3]) for n in range(60))
    site = Site("Ties").with_values(
        {
            "pusher_pitch_m": 1.0,
            "least_gap_m": 1.0,
            "pay_lanes": ((0.0, 2.0), (OPEN + 100.0, 3.0)),
            "loading_line_cars": places,
            "stack_limit_cars": stack,
        }
    )
    day = prepare_day(site, conditions())
    cars = hand_made_cars(arrivals, pay)
    rule = parse_rule("band 30-24")
    assert (
        unlike(simulate_day(site, day, cars, rule), kernel.run_day(site, day, cars, rule, ())) == []
    )
