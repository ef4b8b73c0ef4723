"""The list of costs by days made by hand, each item worked out in the test, in both models."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest

from sim.day.draw import DayCars
from sim.day.figures import (
    ANYWAY,
    CAUSED,
    COSTS,
    FIGURES,
    OF_COST,
    UNBOOKED,
    able_s,
    present_s,
    prices_of,
)
from sim.day.kernel import figures
from sim.day.records import summarise
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import prepare_day
from sim.day.tunnel import simulate_day
from sim.errors import InputError
from sim.inputs import FOLLOWS, INPUTS, Site, Value
from tests.day.sites import conditions, hand_made_cars

DAY = conditions(0.0, opening=0.1)
EIGHT = 8 * 3600.0
BARE: dict[str, Value] = {
    # an hour of two people; every work takes a round time, and nothing wears
    "open_h": 8.0, "close_h": 9.0, "people": ((0.0, 2.0),), "opening_work_min": 30.0,
    "closing_work_min": 30.0, "prep_work_s": 60.0, "load_work_s": 60.0, "exit_work_s": 60.0,
    "reduced_work_s": 30.0, "damp_rewash_share": 0.0, "wage_per_h": 36.0, "price_per_car": 10.0,
    "cost_per_car": 3.0, "damp_cost": 4.0, "reduced_cost": 0.5, "towel_cost": 0.25,
    "launder_price": 20.0, "set_price": 0.0, "stops_per_h": 0.0, "film_cv": 0.0,
    "zone_minded_roof": 0.0, "zone_minded_rear": 0.0,
}  # fmt: skip
DRIPPING: dict[str, Value] = {
    # whatever the cloth does, a film of a litre a square metre is left damp
    "film_after_rinse_kg_m2": 1.0, "blower_removal": 0.0, "damp_limit_from": "film",
    "allowed_film_kg_m2": 0.001,
}  # fmt: skip


BOTH_ZONES_M2 = 1.5 + 0.95
"""Hood and windshield of a sedan."""


def drying(work_s: float, finishers: float = 1.0) -> dict[str, Value]:
    """Finishers who take so long for hood and windshield of a sedan and wait for no car."""
    return {
        "finishers": ((0.0, finishers),), "finish_area_s_m2": work_s / BOTH_ZONES_M2,
        "finish_film_s_kg": 0.0, "exit_patience_s": 0.0,
    }  # fmt: skip


def money(
    cars: DayCars,
    rule: str = "full",
    cloth: str = "",
    also: Mapping[str, Value] = MappingProxyType({}),
    **values: Value,
) -> dict[str, float]:
    """The figures of a day by the day in SimPy; those of the compiled one are the same."""
    site = Site("By hand").with_values({**BARE, **also, **values})
    numbers = prepare_day(site, DAY)
    changes = parse_changes(cloth, site.wear.sets_owned)
    seen = summarise(
        site, numbers, cars, simulate_day(site, numbers, cars, parse_rule(rule), changes)
    )
    same = figures(site, numbers, cars, parse_rule(rule), changes)
    for name in FIGURES:
        assert same.day[name] == pytest.approx(seen.day[name], rel=1e-9, abs=1e-9, nan_ok=True), (
            name
        )
    assert same.hours["staff_use"].tolist() == pytest.approx(seen.hours["staff_use"].tolist())
    return seen.day


def spread_out(count: int, apart_s: float = 240.0, start_s: float = EIGHT) -> DayCars:
    """So many cars, one after the other, patient, all of one class and none a member's."""
    moments = tuple(start_s + apart_s * n for n in range(count))
    cars = hand_made_cars(moments, (5.0,) * count)
    return replace(cars, member=np.zeros(count, dtype=bool))


def items(day: dict[str, float]) -> dict[str, float]:
    """The items that are not zero."""
    return {name: day[name] for name in OF_COST if abs(day[name]) > 1e-9}


def test_a_day_without_cars_costs_its_wages() -> None:
    """Two people for an hour, and an hour of opening and closing work: 3 h at 36."""
    day = money(spread_out(0))
    assert items(day) == {"cost_wages": pytest.approx(108.0)}
    assert day["cost"] == pytest.approx(108.0)
    assert (day["takings"], day["margin"]) == (0.0, pytest.approx(-108.0))


def test_people_by_the_half_hour() -> None:
    """1 person until 8:15, 3 until 8:45, 2 then: (¼ + 3·½ + 2·¼) h and the work outside, at 36."""
    table = ((0.0, 1.0), (EIGHT + 900.0, 3.0), (EIGHT + 2700.0, 2.0))
    day = money(spread_out(0), people=table)
    assert day["cost_wages"] == pytest.approx(36.0 * (0.25 + 1.5 + 0.5 + 1.0))
    site = Site("By hand").with_values({**BARE, "people": table})
    able = able_s(site, prepare_day(site, DAY))
    assert able[16:18] == [pytest.approx(900.0 + 2700.0), pytest.approx(2700.0 + 1800.0)]
    assert (able[0], able[40]) == (1800.0, 3600.0)
    there = present_s(site, prepare_day(site, DAY))
    assert there[16:18] == [pytest.approx(900.0 + 2700.0), pytest.approx(2700.0 + 1800.0)]
    assert sum(there) == pytest.approx(sum(there[16:18]))


def test_the_last_half_hour_lasts_until_the_last_car() -> None:
    """Two people, and cars until 0:30 of the next day: the half-hour before midnight has twice the
    time; where the last car leaves before midnight, no half-hour has more or less than its own."""
    site = Site("By hand").with_values({**BARE, "close_h": 24.0})
    numbers, midnight_s = prepare_day(site, DAY), 86_400.0
    assert able_s(site, numbers, midnight_s + 1800.0) == [3600.0] * 47 + [7200.0]
    for closed_s in (0.0, midnight_s - 900.0, midnight_s):
        assert able_s(site, numbers, closed_s) == [3600.0] * 48


def test_cars_washed_are_margin_and_not_cost() -> None:
    """Ten cars of three minutes' work each fit into two people's hour: takings and washing move the
    margin, the cost stays the wages."""
    day = money(spread_out(10))
    assert items(day) == {"cost_wages": pytest.approx(108.0)}
    assert day["work_hours"] == pytest.approx(10 * 180.0 / 3600.0)
    assert (day["takings"], day["cost_washing"]) == (100.0, 30.0)
    assert day["margin"] == pytest.approx(100.0 - 30.0 - 108.0)


def test_a_towel_is_cloth_and_work() -> None:
    """Ten damp cars, all dried by hand: towels at 0.25 each; a finisher's two minutes a car show as
    work and cost nothing but the wage that is paid anyway."""
    day = money(spread_out(10), also={**DRIPPING, **drying(120.0)})
    assert (day["damp_cars"], day["finished_cars"]) == (10.0, 10.0)
    assert items(day) == {"cost_wages": pytest.approx(108.0), "cost_towels": pytest.approx(2.5)}
    assert day["work_hours"] == pytest.approx(10 * 300.0 / 3600.0)
    assert day["overload_hours"] == 0.0


def test_what_finishers_have_no_time_for_leaves_damp() -> None:
    """A car every four minutes and eleven minutes with the towel: the first, fourth, seventh and
    tenth are dried, the others leave damp at 4 each, and no work is beyond anybody."""
    day = money(spread_out(10), also={**DRIPPING, **drying(660.0)})
    assert (day["finished_cars"], day["left_damp"], day["damp_cars"]) == (4.0, 6.0, 10.0)
    assert day["left_damp_share"] == pytest.approx(0.6)
    assert items(day) == {
        "cost_wages": pytest.approx(108.0), "cost_towels": 1.0, "cost_damp": pytest.approx(24.0),
    }  # fmt: skip
    assert day["work_hours"] == pytest.approx((10 * 180.0 + 4 * 660.0) / 3600.0)
    assert day["overload_hours"] == 0.0


def test_a_finisher_does_nothing_else() -> None:
    """With both people drying cars nobody is there for other work: all of it is beyond the people,
    though the finishers stand about for most of the hour."""
    day = money(spread_out(10), also={**DRIPPING, **drying(120.0, 2.0)})
    assert day["overload_hours"] == pytest.approx(10 * 180.0 / 3600.0)
    assert day["cost_overload"] == pytest.approx(36.0 * 10 * 180.0 / 3600.0)
    site = Site("By hand").with_values({**BARE, **drying(120.0, 3.0)})
    assert able_s(site, prepare_day(site, DAY)) == [0.0] * 48


def test_work_beyond_the_people_by_half_hours() -> None:
    """One person and four cars loaded between 8:00 and 8:30, with ten minutes' preparing each and
    nothing else to do: 2,400 s of work where 1,800 can be done, so 600 s at 36 an hour are 6."""
    day = money(
        spread_out(4, 300.0), people=((0.0, 1.0),), prep_work_s=600.0, load_work_s=0.0,
        exit_work_s=0.0,
    )  # fmt: skip
    assert day["work_hours"] == pytest.approx(2400.0 / 3600.0)
    assert day["overload_hours"] == pytest.approx(600.0 / 3600.0)
    assert day["cost_overload"] == pytest.approx(6.0)
    assert day["staff_use"] == pytest.approx(2400.0 / 3600.0)  # of the hour it fits
    both = money(
        spread_out(4, 300.0), people=((0.0, 2.0),), prep_work_s=600.0, load_work_s=0.0,
        exit_work_s=0.0,
    )  # fmt: skip
    assert both["cost_overload"] == 0.0


def test_reduced_wipes_are_goodwill_and_work() -> None:
    """Ten reduced wipes: 0.5 each, and half a minute's work."""
    day = money(spread_out(10), "reduced")
    assert items(day) == {"cost_wages": pytest.approx(108.0), "cost_reduced": pytest.approx(5.0)}
    assert day["work_hours"] == pytest.approx(10 * 210.0 / 3600.0)


def test_damp_cars_that_leave_are_goodwill() -> None:
    """Ten damp cars that nobody finishes: 4 each."""
    day = money(spread_out(10), also=DRIPPING)
    assert items(day) == {"cost_wages": pytest.approx(108.0), "cost_damp": pytest.approx(40.0)}


def test_a_dry_set_at_noon_is_a_laundering_and_hands() -> None:
    """A set changed at 8:20 by three people in 15 minutes: a laundering at 20; 45 minutes of work,
    of which 30 lie before 8:30. With one person there, who has half an hour until then, nothing is
    left over in the first half-hour and nothing in the second: with nobody else to do, only the
    cars' work comes on top."""
    alone = money(spread_out(1, start_s=EIGHT + 1200.0), cloth="8:20", people=((0.0, 1.0),),
                  set_change_min=15.0, set_change_people=3, exit_work_s=0.0, prep_work_s=0.0,
                  load_work_s=0.0)  # fmt: skip
    changed = alone["work_hours"] * 3600.0
    assert changed == pytest.approx(3 * 900.0)
    assert alone["cost_laundry"] == 20.0
    idle = money(spread_out(1, start_s=EIGHT + 1200.0), people=((0.0, 1.0),), exit_work_s=0.0,
                 prep_work_s=0.0, load_work_s=0.0)  # fmt: skip
    assert idle["cost_laundry"] == 0.0
    assert alone["cost"] - idle["cost"] == pytest.approx(
        20.0 + alone["cost_overload"] + alone["cost_overtime"] - idle["cost_overtime"]
    )


def test_hands_of_a_change_beyond_the_people() -> None:
    """The change begins when the first car meets the wheel, some minutes after 8:00, so its quarter
    of an hour lies before 8:30: with four people 3,600 s of hands for one person's 1,800, so
    1,800 s at 36 an hour are 18."""
    day = money(
        spread_out(1), cloth="8:00", people=((0.0, 1.0),), set_change_min=15.0,
        set_change_people=4, exit_work_s=0.0, prep_work_s=0.0, load_work_s=0.0,
    )  # fmt: skip
    assert day["work_hours"] == pytest.approx(1.0)
    assert day["cost_overload"] == pytest.approx(18.0)


def test_after_closing_the_people_of_closing_time_are_paid() -> None:
    """A car that comes a second before nine: until it has left, two people are paid."""
    day = money(spread_out(1, start_s=EIGHT + 3599.0))
    late = day["overtime_minutes"]
    assert late > 1.0
    assert day["cost_overtime"] == pytest.approx(2 * 36.0 * late / 60.0)
    assert day["cost_wages"] == pytest.approx(108.0)


def test_a_lost_car_costs_what_a_car_leaves_today() -> None:
    """Of ten cars at once some find no room. Each costs 10 − 3 at today's prices, 17 − 3 where the
    price was changed, and what was entered where something was."""
    rush = spread_out(10, 1.0)
    full: dict[str, Value] = {"stack_limit_cars": 1, "loading_line_cars": 1}
    day = money(rush, also=full)
    lost = day["cars_lost"]
    assert lost > 0.0
    assert day["cost_lost"] == pytest.approx(7.0 * lost)
    assert day["margin"] + day["cost"] == pytest.approx(7.0 * 10)
    assert money(rush, also=full, price_per_car=17.0)["cost_lost"] == pytest.approx(14.0 * lost)
    assert money(rush, also=full, lost_cost=2.0)["cost_lost"] == pytest.approx(2.0 * lost)
    typed = money(rush, also=full, lost_cost=2.0, price_per_car=17.0)
    assert typed["cost_lost"] == pytest.approx(2.0 * lost)
    assert money(rush, also=full, lost_cost=0.0)["cost_lost"] == 0.0


def test_a_wash_again_is_water_and_soap_again() -> None:
    """Five damp cars, all washed again and damp again: 3 each for the second pass and a towel after
    it, since nobody goes round a third time; nothing for the first."""
    also = {**DRIPPING, **drying(120.0)}
    day = money(spread_out(5, 400.0), also=also, damp_rewash_share=1.0)
    assert day["rewashed_cars"] == 5.0
    assert day["cost_rewash"] == pytest.approx(15.0)
    assert day["cost_damp"] == 0.0
    assert day["cost_towels"] == pytest.approx(0.25 * 5)
    assert day["cost_washing"] == pytest.approx(15.0)
    agent: dict[str, Value] = {"rinse_agent_factor": 0.8, "rinse_agent_cost": 0.2}
    day = money(spread_out(5, 400.0), also=also | agent, damp_rewash_share=1.0)
    assert day["cost_agent"] == pytest.approx(0.2 * 10)


def test_wear_is_a_share_of_a_sets_price() -> None:
    """A set of 600 that lasts 1,000 full wipes on average, by an exponential life: 0.6 each."""
    day = money(spread_out(10), set_price=600.0, life_scale_cars=1000.0, life_shape=1.0)
    assert day["cost_wear"] == pytest.approx(0.6 * day["wear_cars"])
    assert day["wear_cars"] > 5.0


def test_every_item_is_a_figure_with_its_words() -> None:
    """The list holds each item once, a figure of the same name each, with what an accountant asks:
    whether it is paid anyway, caused by how the day is run, or stands in no book."""
    assert len(set(OF_COST)) == len(COSTS)
    for item in COSTS:
        assert FIGURES[item.name].label == item.label
        assert FIGURES[item.name].origin == item.origin
        assert FIGURES[item.name].note
        assert item.nature in (ANYWAY, CAUSED, UNBOOKED)
    assert {item.name for item in COSTS if item.nature == ANYWAY} == {"cost_wages"}
    assert {item.name for item in COSTS if item.nature == UNBOOKED} == {
        "cost_lost", "cost_damp", "cost_zones", "cost_members", "cost_reduced",
    }  # fmt: skip


def test_what_nobody_entered_follows() -> None:
    """The cost of a lost car has no default of its own: an empty field follows from the prices, a
    number holds, 0 among them, and no other number outside its range is taken."""
    row = INPUTS["lost_cost"]
    assert Site("New").money.lost_cost == FOLLOWS == row.default
    assert Site("New").money.lost_car_cost == 12.0 - 2.5
    assert row.parse("") == row.parse("  ") == FOLLOWS
    assert (row.text(FOLLOWS), row.text(0.0)) == ("", "0")
    assert row.parse("0") == 0.0
    assert not row.problems(FOLLOWS)
    assert row.problems(-2.0)
    with pytest.raises(InputError, match="Enter 0"):
        row.parse("-1")


def test_prices_are_those_of_the_site() -> None:
    """Each price is the input it comes from, in its unit."""
    site = Site("By hand").with_values({**BARE, "set_price": 900.0})
    found: Any = prices_of(site, prepare_day(site, DAY))
    assert found.work_per_s == pytest.approx(36.0 / 3600.0)
    assert found.overtime_per_s == pytest.approx(2 * 36.0 / 3600.0)
    assert found.wear == pytest.approx(900.0 / (60000.0 * math.gamma(1.4)))
    assert replace(found, lost=7.0) == found
