"""The answer for a site: when its set is due, and the quiet morning near."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from sim.decide.cloth.advice import cloth_answer, learn_cloth
from sim.decide.cloth.answer import ClothAnswer
from sim.decide.cloth.change import Costs, mean_length
from sim.errors import InputError
from sim.inputs import PUT_ON, ClothBook, ClothEvent, ClothSet, SiteData
from sim.learn.cloth_wear import WearDays
from tests.day.sites import conditions
from tests.small_wash import CLOSED, TODAY, small_wash

END_S = 86_340.0
BEGAN = TODAY - timedelta(days=20)


def wash(age_cars: float) -> SiteData:
    """A site whose sets last some 2,000 full wipes, with a set of that age on its wheel."""
    data = small_wash()
    values = {"life_scale_cars": 2_000.0, "unplanned_change_cost": 9_000.0}
    blank = replace(data, site=data.site.with_values(values))
    worn = WearDays(blank).between(BEGAN, 0.0, TODAY, END_S)
    book = ClothBook(
        (ClothSet("A", None, age_cars - worn),), (ClothEvent(BEGAN, 0.0, PUT_ON, "A"),)
    )
    return replace(blank, cloth=book)


def answer_of(data: SiteData) -> ClothAnswer:
    """The answer without damp cars, which need no simulated day."""
    return cloth_answer(data, WearDays(data), TODAY, END_S, (), 1)


def test_a_set_is_due_on_the_day_that_reaches_the_age() -> None:
    """By the wear of the days in between; the days of the flat part lie around it."""
    age = answer_of(wash(1_700.0)).change.age
    data = wash(age - 800.0)
    found = answer_of(data)
    assert found.due is not None
    day = found.due.day
    assert day is not None
    days = WearDays(data)

    def age_on(ahead: int) -> float:
        passed = [TODAY + timedelta(days=n) for n in range(1, ahead + 1)]
        return found.sets[0].age_cars + sum(float(days.wear(one).sum()) for one in passed)

    ahead = (day - TODAY).days
    assert age_on(ahead - 1) < found.change.age <= age_on(ahead)
    assert found.due.first is not None
    assert found.due.last is not None
    assert found.due.first <= day <= found.due.last
    assert not found.due.overdue


def test_the_quiet_morning_is_a_closed_day_and_its_cost_is_told() -> None:
    """Nothing is quieter than no car; the cost is the rate's excess over the life it ends."""
    data = wash(560.0)
    found = answer_of(data)
    assert found.due is not None
    quiet = found.due.quiet
    assert quiet is not None
    assert (quiet.day, quiet.morning_cars) == (CLOSED, 0.0)
    days = WearDays(data)
    life = learn_cloth(data, days, TODAY, END_S, (), 1).posterior
    damp = found.damp.cost_per_full_wipe
    costs = Costs(life, found.prices.planned, found.prices.unplanned, damp)
    passed = [TODAY + timedelta(days=n) for n in range(1, (CLOSED - TODAY).days + 1)]
    age = np.array([found.sets[0].age_cars + sum(float(days.wear(one).sum()) for one in passed)])
    more = costs.mean_rate(age)[0] - found.change.cost_rate
    expected = more * mean_length(life, age)[0]
    assert quiet.cost == pytest.approx(max(0.0, expected), abs=1e-9)


def test_a_set_past_its_age_is_due_now() -> None:
    """It is said to be overdue, and the quietest morning of the coming week is named, at the age
    of flat cost or beyond; waiting for it costs what that adds to the excess of the life."""
    data = wash(1_900.0)
    found = answer_of(data)
    assert found.due is not None
    assert found.due.overdue
    assert found.due.day == TODAY
    days, quiet = WearDays(data), found.due.quiet
    week = [TODAY + timedelta(days=n) for n in range(1, 8)]
    assert quiet is not None
    assert quiet.day in week
    assert quiet.morning_cars == min(float(days.cars(day)[:12].sum()) for day in week)
    life = learn_cloth(data, days, TODAY, END_S, (), 1).posterior
    damp = found.damp.cost_per_full_wipe
    costs = Costs(life, found.prices.planned, found.prices.unplanned, damp)
    worn = sum(float(days.wear(day).sum()) for day in week if day <= quiet.day)
    ages = np.array([found.sets[0].age_cars, found.sets[0].age_cars + worn])
    excess = (costs.mean_rate(ages) - found.change.cost_rate) * mean_length(life, ages)
    assert quiet.cost == pytest.approx(max(0.0, excess[1] - excess[0]), abs=1e-9)


def test_a_site_that_is_never_open_has_no_answer() -> None:
    """No car is expected in a year: that is said instead of dividing by it."""
    data = small_wash()
    shut = replace(data, site=data.site.with_values({"open_h": 9.0, "close_h": 9.0}))
    with pytest.raises(InputError, match="so no set will wear"):
        answer_of(shut)


def test_the_set_on_the_wheel_is_due_at_the_laundry_when_it_holds_that_soil() -> None:
    """The soil of a set is that of its cars since it was put on, and it goes to the laundry on the
    first morning on which it holds that of as many cars as the best interval has."""
    data = wash(500.0)
    dear = {"launder_wear": 0.0, "damp_cost": 50.0, "soil_loss_per_1000_cars": 0.1}
    data = replace(data, site=data.site.with_values(dear))
    days = WearDays(data)
    typical = replace(conditions(60.0), opening_moisture_kg_kg=None)
    found = cloth_answer(data, days, TODAY, END_S, (typical,), 1)
    due, laundering = found.laundry_due, found.laundering
    assert due is not None
    assert laundering is not None
    assert math.isfinite(laundering.cars)
    assert due.soil_cars == pytest.approx(days.cars_between(BEGAN, 0.0, TODAY, END_S))
    soil, day = due.soil_cars, TODAY + timedelta(days=1)
    while soil < laundering.cars:
        soil += float(days.cars(day).sum())
        day += timedelta(days=1)
    assert due.day == day
    assert cloth_answer(data, days, TODAY, END_S, (), 1).laundry_due is None
