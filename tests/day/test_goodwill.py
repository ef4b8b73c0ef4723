"""What wet roofs and rears, members and their waits cost: by the records of days, and by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from hypothesis import given

from sim.day.draw import DayCars
from sim.day.figures import FIGURES, OF_COST
from sim.day.goodwill import OF_GOODWILL, Goodwill, damp_car_price
from sim.day.kernel import figures
from sim.day.records import LEFT, REWASHED, DayResult, summarise
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import Site, Value
from tests.day.sites import SiteDay, conditions, hand_made_cars, site_days

DAY = conditions(0.0, opening=0.1)
EIGHT = 8 * 3600.0


def by_the_records(
    site: Site, day: DayNumbers, cars: DayCars, result: DayResult
) -> dict[str, float]:
    """What no bill shows, and takings, added up car by car from films and times of a day's records.

    Written from the definition: a damp car of somebody else is damp_cost; a roof or rear with more
    than the allowed film is that price times how much it is minded; a member's is the chance to
    leave times a year's margin, as is each ten minutes of a wait, or of patience of one who left.
    """
    money = site.money
    found = dict.fromkeys((*OF_GOODWILL, "cost_lost", "takings"), 0.0)
    leaves = money.member_margin_year * money.member_leave_per_damp
    ten_minutes = money.member_margin_year * money.member_leave_per_ten_minutes
    for car in result.passes:
        member = bool(cars.member[car.car])
        if car.lost:
            if member:
                patience = float(cars.patience_s[car.car])
                found["cost_members"] += ten_minutes * patience / 600.0
                found["takings"] += money.price_per_car
            else:
                found["cost_lost"] += money.lost_car_cost
            continue
        found["cost_reduced"] += money.reduced_cost if car.reduced else 0.0
        if car.turn == 1:
            found["takings"] += money.price_per_car
            if member:
                served = (car.paid_s - car.pay_start_s) + (car.loaded_s - car.load_start_s)
                wait = car.caught_s - car.arrival_s - served
                found["cost_members"] += ten_minutes * wait / 600.0
        if car.fate == REWASHED:
            continue
        minded = 0.0
        for zone, weight in ((2, money.zone_minded_roof), (3, money.zone_minded_rear)):
            left = car.film_left[zone]
            minded += weight if not math.isnan(left) and left > day.allowed_film else 0.0
        damp = car.fate == LEFT
        if member:
            found["cost_members"] += leaves * (damp + minded)
        else:
            found["cost_damp"] += money.damp_cost * damp
            found["cost_zones"] += money.damp_cost * minded
    return found


@given(site_days())
def test_money_is_a_sum_over_the_records(world: SiteDay) -> None:
    """On generated days with every feature in play each item is what an independent sum over the
    SimPy day's records gives, and the compiled day has the same; cost and margin hold them."""
    day, cars = world.parts()
    rule, site = parse_rule(world.rule), world.site
    changes = parse_changes(world.cloth, site.wear.sets_owned)
    result = simulate_day(site, day, cars, rule, changes)
    seen, same = summarise(site, day, cars, result).day, figures(site, day, cars, rule, changes).day
    for name, wanted in by_the_records(site, day, cars, result).items():
        assert seen[name] == pytest.approx(wanted, rel=1e-9, abs=1e-9), name
        assert same[name] == pytest.approx(wanted, rel=1e-9, abs=1e-9), name
    assert seen["cost"] == pytest.approx(math.fsum(seen[name] for name in OF_COST), rel=1e-12)
    # margin: takings less washing and every item but cars lost
    paid = seen["cost_washing"] + seen["cost"] - seen["cost_lost"]
    assert seen["margin"] == pytest.approx(seen["takings"] - paid, rel=1e-9, abs=1e-6)


@given(site_days())
def test_where_nobody_minds_and_nobody_is_a_member_money_is_as_it_was(world: SiteDay) -> None:
    """With both weights 0 and no members the goodwill is that of damp cars that leave, lost cars
    and reduced wipes at their prices, and takings are of cars washed."""
    none: dict[str, Value] = {
        "zone_minded_roof": 0.0, "zone_minded_rear": 0.0, "member_share": 0.0,
        "reduced_cost": 0.35,
    }  # fmt: skip
    site = world.site.with_values(none)
    day, cars = replace(world, site=site).parts()
    assert not cars.member.any()
    rule, changes = parse_rule(world.rule), parse_changes(world.cloth, site.wear.sets_owned)
    result = simulate_day(site, day, cars, rule, changes)
    seen = summarise(site, day, cars, result).day
    assert (seen["cost_zones"], seen["cost_members"]) == (0.0, 0.0)
    assert seen["cost_damp"] == pytest.approx(2.0 * seen["left_damp"])
    assert seen["cost_lost"] == pytest.approx(9.5 * seen["cars_lost"])
    assert seen["cost_reduced"] == pytest.approx(0.35 * sum(p.reduced for p in result.passes))
    assert seen["takings"] == pytest.approx(12.0 * seen["cars_washed"])


# ---- by hand -------------------------------------------------------------------------------------

PLAIN: dict[str, Value] = {
    # an hour without stops; sedans all alike, whose film of 30 g/m² dry cloth takes down to some 5
    "open_h": 8.0, "close_h": 9.0, "stops_per_h": 0.0, "film_cv": 0.0, "set_price": 0.0,
    "damp_cost": 4.0, "zone_minded_roof": 0.25, "zone_minded_rear": 0.5, "reduced_cost": 0.0,
    "member_margin_year": 200.0, "member_leave_per_damp": 0.01,
    "member_leave_per_ten_minutes": 0.005, "allowed_film_kg_m2": 0.02,
    "damp_rewash_share": 0.0, "price_per_car": 10.0, "cost_per_car": 3.0,
}  # fmt: skip


def money(
    members: int,
    count: int = 10,
    rule: str = "reduced",
    apart_s: float = 240.0,
    also: Mapping[str, Value] = MappingProxyType({}),
) -> dict[str, float]:
    """The figures of a day of sedans, the first ones members', by the day in SimPy."""
    site = Site("By hand").with_values({**PLAIN, **also})
    cars = hand_made_cars(tuple(EIGHT + apart_s * n for n in range(count)), (5.0,) * count)
    cars = replace(cars, member=np.arange(count) < members, patience_s=np.full(count, 1200.0))
    numbers = prepare_day(site, DAY)
    seen = summarise(site, numbers, cars, simulate_day(site, numbers, cars, parse_rule(rule)))
    same = figures(site, numbers, cars, parse_rule(rule))
    for name in FIGURES:
        assert same.day[name] == pytest.approx(seen.day[name], rel=1e-9, abs=1e-9, nan_ok=True)
    return seen.day


def test_a_reduced_wipe_costs_the_zones_it_leaves_wet() -> None:
    """Ten sedans of people who are no members, wiped reduced: hood and windshield come out dry,
    roof (30 g/m²) and rear (39) stay above 20 g/m² and are minded by a quarter and a half of a damp
    car of 4: 3 a car. Wiped in full by dry cloth nothing is left wet and nothing is paid."""
    day = money(0)
    assert (day["left_damp"], day["rear_wet_share"]) == (0.0, 1.0)
    assert day["cost_zones"] == pytest.approx(10 * 4.0 * (0.25 + 0.5))
    assert (day["cost_damp"], day["cost_members"], day["cost_reduced"]) == (0.0, 0.0, 0.0)
    assert money(0, rule="full")["cost_zones"] == 0.0


def test_a_members_wet_zones_are_a_chance_to_leave() -> None:
    """Four of the ten are members: each of theirs costs 0.75 of a hundredth of 200, that is 1.5;
    the six others 3 each. Cars come four minutes apart and hardly wait; what they wait costs a
    two-hundredth of 200 for ten minutes."""
    day, none = money(4), money(0)
    assert day["cost_zones"] == pytest.approx(6 * 3.0)
    waits = day["cost_members"] - 4 * 1.5
    assert 0.0 <= waits < 0.1
    assert none["cost_members"] == 0.0
    assert day["cost"] - none["cost"] == pytest.approx(4 * (1.5 - 3.0) + waits)


def test_a_member_who_drives_away_has_lost_no_ticket() -> None:
    """Of ten cars at once with room for two some drive away at once. A member's is a wait as long
    as the patience of 20 minutes, 2 · 1; anybody else's is a car lost, at 10 − 3. Members' dues
    are paid: with nothing but members the takings are those of all ten."""
    full: dict[str, Value] = {"stack_limit_cars": 1, "loading_line_cars": 1}
    others, members = (money(some, rule="full", apart_s=1.0, also=full) for some in (0, 10))
    lost = others["cars_lost"]
    assert lost == members["cars_lost"] > 0.0
    assert others["cost_lost"] == pytest.approx(7.0 * lost)
    assert members["cost_lost"] == 0.0
    assert members["takings"] == pytest.approx(100.0)
    assert others["takings"] == pytest.approx(10.0 * (10 - lost))
    waits = members["cost_members"] - 2.0 * lost
    assert 0.0 < waits < 10 * 0.1 * 10.0  # below ten minutes each
    twice = money(10, rule="full", apart_s=1.0, also={**full, "member_leave_per_ten_minutes": 0.01})
    assert twice["cost_members"] == pytest.approx(2.0 * members["cost_members"])


def test_a_finisher_dries_hood_and_windshield_alone() -> None:
    """Under a film of half a litre a square metre and with a finisher all day every car is dried by
    hand: none leaves damp, but roof and rear stay wet and are minded."""
    soaked: dict[str, Value] = {
        "film_after_rinse_kg_m2": 0.5, "blower_removal": 0.0, "finishers": ((0.0, 1.0),),
        "finish_film_s_kg": 0.0, "finish_area_s_m2": 5.0,
    }  # fmt: skip
    day = money(0, also=soaked)
    assert (day["finished_cars"], day["left_damp"]) == (10.0, 0.0)
    assert day["cost_damp"] == 0.0
    assert day["cost_zones"] == pytest.approx(10 * 3.0)


def test_a_damp_car_on_average() -> None:
    """A share of members between the two prices: 0.25 · 2 + 0.75 · 4."""
    site = Site("Mixed").with_values({**PLAIN, "member_share": 0.25})
    assert damp_car_price(site.money) == pytest.approx(0.25 * 2.0 + 0.75 * 4.0)


def test_all_of_it_and_a_damp_car_of_each_kind() -> None:
    """By hand: of six damp cars two are members', one member's roof is wet and two others'; members
    waited for 100 s, and three wipes were reduced. A damp car costs 4, or 2 a member's."""
    goodwill = Goodwill(
        damp=4.0, member_damp=2.0, roof=0.5, rear=0.25, member_wait=0.01, reduced=0.3
    )
    counts = {
        "left_damp": 6, "left_damp_members": 2, "roof_left_wet": 3, "roof_left_wet_members": 1,
        "rear_left_wet": 0, "rear_left_wet_members": 0, "member_waits_s": 100.0, "reduced": 3,
    }  # fmt: skip
    expected = 4.0 * 4 + 4.0 * (0.5 * 2) + (2.0 * (2 + 0.5 * 1) + 0.01 * 100.0) + 0.3 * 3
    assert goodwill.of(counts) == pytest.approx(expected)
    members = np.array([True, False, False])
    assert goodwill.a_damp_car(members).tolist() == [2.0, 4.0, 4.0]
