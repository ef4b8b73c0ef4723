"""Wear of sets: from cars and launderings, spell by spell, and its forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sim.day.engine import Experiment
from sim.day.replicate import run_days
from sim.day.rules import parse_rule
from sim.errors import InputError
from sim.inputs import (
    ACCIDENT,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    WORN,
    ClothBook,
    ClothEvent,
    ClothSet,
    Conditions,
    Scenario,
    Site,
    SiteData,
)
from sim.learn.cloth_life import Life
from sim.learn.cloth_wear import (
    SetState,
    WearDays,
    day_of_age,
    set_states,
    wear_by_hour,
    wear_of_car,
    wear_per_car_with_launderings,
    wheel_share,
)
from tests.small_wash import CLOSED, TODAY, small_wash

SITE = Site(name="Mill Lane")
FIRST = TODAY - timedelta(days=20)


def event(
    day: date,
    hour: float,
    kind: str,
    name: str = "A",
    reason: str = "",
    cars: float | None = None,
    length_m: float | None = None,
) -> ClothEvent:
    """An entry of a record."""
    return ClothEvent(day, hour * 3600.0, kind, name, reason, cars, length_m)


def states(
    *events: ClothEvent, sets: tuple[ClothSet, ...] = (ClothSet("A"), ClothSet("B"))
) -> tuple[SetState, ...]:
    """States of two sets at the end of the day before today."""
    data = replace(small_wash(), cloth=ClothBook(sets, events))
    return set_states(data.cloth, WearDays(data), TODAY - timedelta(days=1))


def test_the_reference_car_fully_wiped_is_one() -> None:
    """By definition, at the usual speed; hood and windshield alone are their share of the way."""
    reference = SITE.reference.wiped_m
    assert wear_of_car(SITE, reference, 0.25) == pytest.approx(1.0, abs=1e-12)
    part = sum(reference[:2]) / sum(reference)
    assert wear_of_car(SITE, reference[:2], 0.25) == pytest.approx(part, abs=1e-12)


@pytest.mark.parametrize("rule", ["full", "reduced", "clock 10:00-15:00", "class van,utility"])
def test_a_days_wear_is_that_of_the_simulated_day(rule: str) -> None:
    """Mean wear of simulated days of 40 cars an hour, nobody lost: within 3 %, by four rules."""
    cars = tuple(40.0 if 8 <= hour < 18 else 0.0 for hour in range(24))
    site = SITE.with_values(
        {"open_h": 8.0, "close_h": 18.0, "day_factor_cv": 0.0, "hour_factor_cv": 0.0}
    )
    conditions = Conditions(cars, (22.0,) * 24, (0.5,) * 24)
    (days,) = run_days(Experiment(site, conditions, 7), [Scenario("as it is", rule)], 24)
    parsed = parse_rule(rule, [item.key for item in site.vehicles])
    washed = float(days.day["cars_washed"].mean()) / sum(cars)
    found = wear_by_hour(site, [washed * n for n in cars], parsed)
    assert float(found.sum()) == pytest.approx(float(days.day["wear_cars"].mean()), rel=0.03)


def test_wear_between_cars_is_that_of_the_simulated_day() -> None:
    """Where spinning wears most of the cloth and the wheel takes 10 s for each change of its
    speed: mean wear of simulated days within 3 %."""
    cars = tuple(40.0 if 8 <= hour < 18 else 0.0 for hour in range(24))
    site = SITE.with_values(
        {
            "open_h": 8.0,
            "close_h": 18.0,
            "day_factor_cv": 0.0,
            "hour_factor_cv": 0.0,
            "idle_wear_per_h": 100.0,
            "spin_change_s": 10.0,
        }
    )
    conditions = Conditions(cars, (22.0,) * 24, (0.5,) * 24)
    (days,) = run_days(Experiment(site, conditions, 7), [Scenario("as it is")], 24)
    washed = float(days.day["cars_washed"].mean()) / sum(cars)
    found = float(wear_by_hour(site, [washed * n for n in cars]).sum())
    assert found == pytest.approx(float(days.day["wear_cars"].mean()), rel=0.03)
    quick = site.with_values({"spin_change_s": 0.0})
    assert found < 0.95 * float(wear_by_hour(quick, [washed * n for n in cars]).sum())


def test_cars_sold_the_full_wipe_are_wiped_in_full() -> None:
    """A rule reduces only the others; always reduced reduces them all."""
    cars = [0.0] * 10 + [30.0] + [0.0] * 13
    service = parse_rule("service")
    full = wear_by_hour(SITE, cars)
    reduced = wear_by_hour(SITE, cars, parse_rule("reduced"))
    half = wear_by_hour(SITE.with_values({"full_service_share": 0.5}), cars, service)
    assert half[10] == pytest.approx(0.5 * (full[10] + reduced[10]))


def test_idling_wears_too() -> None:
    """An open hour without a car wears as much as the table says, a closed one not at all."""
    found = wear_by_hour(SITE, [0.0] * 24)
    assert found[12] == pytest.approx(3.0)
    assert found[3] == found[20] == 0.0
    on = wear_by_hour(SITE.with_values({"close_spin_s": 1800.0}), [0.0] * 24)
    assert on[20] == pytest.approx(1.5)  # the wheel spins on for half an hour


def test_a_spell_has_the_wear_of_its_hours() -> None:
    """From noon to noon of the next day is one day; a part of an hour its part."""
    days = WearDays(small_wash())
    day = FIRST
    whole = float(days.wear(day).sum())
    assert days.between(day, 43_200.0, day + timedelta(days=1), 43_200.0) == pytest.approx(whole)
    eight = days.between(day, 8.25 * 3600.0, day, 8.75 * 3600.0)
    assert eight == pytest.approx(0.5 * days.wear(day)[8])


def test_days_nobody_counted_are_expected_ones() -> None:
    """A day without counts has the mean of like days; a closed one has no wear; both are known."""
    data = small_wash(cars_per_h=50)
    missing = FIRST + timedelta(days=3)
    history = replace(
        data.history, counts=tuple(c for c in data.history.counts if c.day != missing)
    )
    days = WearDays(replace(data, history=history))
    assert days.cars(missing) == pytest.approx(days.cars(FIRST))
    assert not days.is_counted(missing)
    assert days.is_counted(FIRST)
    assert float(days.wear(CLOSED).sum()) == 0.0


def test_the_planned_rule_holds_where_nothing_else_is_known() -> None:
    """A day planned reduced wears less than one like it."""
    day = FIRST + timedelta(days=2)
    plain = WearDays(small_wash()).wear(day)
    planned = WearDays(small_wash(), {day: parse_rule("reduced")}).wear(day)
    assert float(planned.sum()) < 0.8 * float(plain.sum())


def test_without_counts_there_is_no_wear_to_tell() -> None:
    """The reason is the one that plans give."""
    with pytest.raises(InputError, match="There are no counts of open hours"):
        WearDays(SiteData(SITE)).wear(TODAY)


def test_a_set_ages_by_spells_and_launderings() -> None:
    """Two spells, a laundering between; the other set meanwhile; ages add up."""
    first, second, third = (FIRST + timedelta(days=n) for n in (0, 5, 9))
    a, b = states(
        event(first, 7, PUT_ON),
        event(second, 7, TAKEN_OFF, reason=ROTATED),
        event(second, 7, PUT_ON, "B"),
        event(second, 16, LAUNDERED),
        event(third, 7, TAKEN_OFF, "B", reason=ROTATED),
        event(third, 7, PUT_ON),
    )
    day = float(WearDays(small_wash()).wear(first).sum())
    assert b.age_cars == pytest.approx(4 * day)
    assert a.launderings == 1
    assert a.age_cars == pytest.approx(5 * day + 250.0 + 11 * day)
    # a laundering takes out nine tenths of the soil of the cars before
    cars = float(WearDays(small_wash()).cars(first).sum())
    assert b.soil_cars == pytest.approx(4 * cars)
    assert a.soil_cars == pytest.approx(0.1 * 5 * cars + 11 * cars)
    assert (a.state, b.state) == ("on", "off")
    assert a.life == Life(a.age_cars, False)
    assert [spell.origin for spell in a.spells] == ["counted", "counted"]
    assert wheel_share((a, b), "A", TODAY) == pytest.approx(16 / 20)
    spent = 20 * day
    assert wear_per_car_with_launderings((a, b), 250.0) == pytest.approx(1 + 250.0 / spent)


@pytest.mark.parametrize(
    ("reason", "failed"),
    [(WORN, True), (ACCIDENT, False), ("planned", False), ("stolen", False)],
)
def test_only_a_set_that_wore_out_has_failed(reason: str, failed: bool) -> None:
    """Torn by accident, changed on plan and stolen are censored."""
    a, b = states(event(FIRST, 7, PUT_ON), event(FIRST, 9, TAKEN_OFF, reason=reason))
    assert a.state == "ended"
    assert a.life.failed is failed
    assert b.state == "new"
    assert b.life == Life(0.0, False)


def test_wear_that_was_written_down_is_taken() -> None:
    """In place of what counts would give; wear before the record is added."""
    a, _ = states(
        event(FIRST, 7, PUT_ON),
        event(FIRST + timedelta(days=9), 7, TAKEN_OFF, reason=WORN, cars=12_345.0),
        sets=(ClothSet("A", None, 1_000.0), ClothSet("B")),
    )
    assert a.age_cars == pytest.approx(13_345.0)
    assert a.spells[0].origin == "known"


def test_what_lies_in_the_future_is_left_out() -> None:
    """A set taken off next week is still on, and its age is that of now."""
    a, _ = states(
        event(FIRST, 7, PUT_ON), event(TODAY + timedelta(days=5), 7, TAKEN_OFF, reason=WORN)
    )
    assert a.state == "on"


def test_an_inspection_has_the_age_of_its_moment() -> None:
    """Half way through a spell, not at its end."""
    a, _ = states(
        event(FIRST, 0, PUT_ON),
        event(FIRST + timedelta(days=4), 0, INSPECTED, length_m=0.85),
        event(FIRST + timedelta(days=9), 7, TAKEN_OFF, reason=WORN),
    )
    ((_, age),) = a.inspections
    assert age == pytest.approx(4 * float(WearDays(small_wash()).wear(FIRST).sum()))


def test_the_day_of_an_age_is_the_first_that_reaches_it() -> None:
    """Days add up, a set that takes half the wheel needs twice as many; none beyond the reach."""
    days = WearDays(small_wash())
    wear = np.cumsum([float(days.wear(TODAY + timedelta(days=n)).sum()) for n in range(1, 40)])
    wanted = float(wear[9])
    assert day_of_age(days, TODAY, wanted - 0.1, 1.0) == TODAY + timedelta(days=10)
    assert day_of_age(days, TODAY, wanted + 0.1, 1.0) == TODAY + timedelta(days=11)
    assert day_of_age(days, TODAY, 0.5 * wanted - 0.1, 0.5) == TODAY + timedelta(days=10)
    assert day_of_age(days, TODAY, 0.0, 1.0) == TODAY
    assert day_of_age(days, TODAY, 1e9, 1.0, most_days=30) is None
