"""Soil on the cloth: what it takes of the uptake within a day, against the law by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.day.draw import DayDraw, make_cars
from sim.day.records import CarPass
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import Site, Value
from sim.physics.water_film import wiping_share
from tests.day.sites import conditions

DAY = conditions(50.0, opening=0.8)
# much cloth, so that a car hardly changes it; no wear and no stops
PLAIN: dict[str, Value] = {
    "uptake_loss_at_life": 0.0,
    "damp_rewash_share": 0.0,
    "strip_count": 3000,
    "strip_dry_mass_kg": 2.0,
}


def water_by_car(values: dict[str, Value], cloth: str = "") -> list[tuple[int, float]]:
    """Number of the set that wiped each car, in order at the wheel, and the share of the water on
    its hood that dry cloth would have taken."""
    site = Site("Soiled").with_values({**PLAIN, **values})
    numbers = prepare_day(site, DAY)
    cars = make_cars(DayDraw(5, 0), site, DAY)
    sets = parse_changes(cloth, site.wear.sets_owned)
    day = simulate_day(site, numbers, cars, parse_rule("full"), sets)
    passes = sorted((one for one in day.passes if not math.isnan(one.exit_s)), key=_at_wheel)
    holding = site.wheel.holding_capacity_kg_kg
    found = []
    for one in passes:
        area = site.vehicles[one.class_index].areas_m2[0]
        taken = one.water_kg[0] / (one.film_before[0] * area)
        found.append((one.cloth_set, taken / (1.0 - one.moisture_before / holding)))
    return found


def _at_wheel(one: CarPass) -> float:
    return one.wheel_s


def test_each_car_leaves_its_soil() -> None:
    """The share that much cloth takes of the n-th car's hood is κ·(1 − loss)^((before + n) ÷ 1000),
    the law worked out by hand; a car wiped reduced soils like any other."""
    values: dict[str, Value] = {"soil_loss_per_1000_cars": 0.2, "cloth_soil_cars": 1_500.0}
    found = [share for _, share in water_by_car(values)]
    kappa = wiping_share(0.92, 0.5, 0.25, 0.8)
    by_hand = kappa * 0.8 ** ((1_500.0 + np.arange(len(found))) / 1000.0)
    assert len(found) > 300
    assert found == pytest.approx(by_hand, rel=1e-4)
    assert found[0] == pytest.approx(kappa * 0.8**1.5, rel=1e-4)


def test_without_loss_soil_changes_no_bit() -> None:
    """Cars since the laundering make no difference to a site whose soil takes nothing."""
    clean, soiled = (
        water_by_car({"soil_loss_per_1000_cars": 0.0, "cloth_soil_cars": cars})
        for cars in (0.0, 9_000.0)
    )
    assert clean == soiled


def test_a_set_put_on_brings_its_own_soil() -> None:
    """After a change of set the cloth holds the soil that a set put on brings, and gathers anew."""
    values: dict[str, Value] = {"soil_loss_per_1000_cars": 0.3, "cloth_soil_cars": 200.0}
    found = water_by_car(values, "12:00")
    kappa = wiping_share(0.92, 0.5, 0.25, 0.8)
    for number in (0, 1):
        shares = [share for wiped_by, share in found if wiped_by == number]
        by_hand = kappa * 0.7 ** ((200.0 + np.arange(len(shares))) / 1000.0)
        assert len(shares) > 100
        assert shares == pytest.approx(by_hand, rel=1e-4)
