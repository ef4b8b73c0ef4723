"""A drying agent, blowers that are down, a second kind of cloth: each a scenario of a day, held
against the same day with those very numbers entered."""

from __future__ import annotations

import pytest

from sim.day.draw import DayDraw
from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite, Variant
from sim.day.rules import FULL
from sim.day.setup import damp_criterion
from sim.inputs import Site, Value
from tests.day.sites import conditions

SITE = Site("Two cloths").with_values({"life_scale_cars": 20_000.0, "cloth_wear_cars": 4_000.0})
DAY = conditions(70.0, opening=0.9)
ALLOWED = damp_criterion(SITE)[0]
JUDGED_BY_FILM: dict[str, Value] = {"damp_limit_from": "film", "allowed_film_kg_m2": ALLOWED}


def day_with(changes: dict[str, Value], site: Site = SITE) -> dict[str, float]:
    """Figures of a day wiped in full, some inputs changed for it."""
    prepared = DrawnSite(Drawn(site), DAY, None).prepare(Variant(tuple(changes.items())))
    return prepared.replication(DayDraw(3, 0)).figures(FULL).day


def nearly(found: dict[str, float]) -> object:
    """The same figures, but for rounding."""
    return pytest.approx(found, rel=1e-9, abs=1e-9, nan_ok=True)


def test_an_agent_is_a_film_scaled() -> None:
    """A day with an agent is the day with so much less film, judged by the same allowed film, and
    costs what the agent does for every car rinsed with it."""
    by_factor = day_with({"rinse_agent_factor": 0.7, "rinse_agent_cost": 0.2})
    film = 0.7 * SITE.water.film_after_rinse_kg_m2
    by_film = day_with({"film_after_rinse_kg_m2": film, **JUDGED_BY_FILM})
    cars = by_factor["cars_washed"] + by_factor["rewashed_cars"]
    assert by_factor["cost_agent"] == pytest.approx(0.2 * cars, rel=1e-12)
    assert by_factor["cost"] - by_film["cost"] == pytest.approx(0.2 * cars, rel=1e-9)
    assert by_film["margin"] - by_factor["margin"] == pytest.approx(0.2 * cars, rel=1e-9)
    other = ("cost_agent", "cost", "margin")
    assert {k: v for k, v in by_factor.items() if k not in other} == nearly(
        {k: v for k, v in by_film.items() if k not in other}
    )
    assert by_factor["damp_cars"] < day_with({})["damp_cars"]


def test_without_an_agent_none_is_paid() -> None:
    """A factor of 1 is no agent, whatever one would cost."""
    assert day_with({"rinse_agent_cost": 3.0}) == day_with({"rinse_agent_cost": 0.0})


def test_blowers_that_are_down_remove_nothing() -> None:
    """Such a day is the day with a removal of 0; what counts as damp stays what it was, and more
    cars are."""
    down = day_with({"blowers_down": True})
    assert down == nearly(day_with({"blower_removal": 0.0, **JUDGED_BY_FILM}))
    assert down["damp_cars"] > day_with({})["damp_cars"]
    assert down["over_damp_limit_minutes"] > day_with({})["over_damp_limit_minutes"]


def test_a_second_cloth_like_the_first_changes_nothing() -> None:
    """With all ratios at 1 and no price of its own the second kind is the usual one."""
    assert day_with({"cloth_kind": "second"}) == nearly(day_with({}))


def test_a_second_cloth_is_the_cloth_of_its_numbers() -> None:
    """Each ratio acts on its own number, the price is that of the second kind, and damp is judged
    by the same film."""
    second: dict[str, Value] = {
        "second_mass_factor": 1.2,
        "second_holding_factor": 1.3,
        "second_throw_off_factor": 0.8,
        "second_throw_off_time_factor": 0.6,
        "second_uptake_factor": 0.95,
        "second_life_factor": 0.5,
        "second_set_price": 1_500.0,
    }
    wheel, wiping = SITE.wheel, SITE.wiping
    by_hand: dict[str, Value] = {
        **JUDGED_BY_FILM,
        "strip_dry_mass_kg": 1.2 * wheel.strip_dry_mass_kg,
        "holding_capacity_kg_kg": 1.3 * wheel.holding_capacity_kg_kg,
        "throw_off_moisture_kg_kg": 0.8 * wheel.throw_off_moisture_kg_kg,
        "throw_off_time_s": 0.6 * wheel.throw_off_time_s,
        "uptake_max": 0.95 * wiping.uptake_max,
        "life_scale_cars": 0.5 * SITE.wear.life_scale_cars,
        "set_price": 1_500.0,
    }
    told = SITE.with_values(second)
    assert day_with({"cloth_kind": "second"}, told) == nearly(day_with(by_hand))
    assert day_with({}, told) == day_with({})
    # at a drawn site whose cloth holds more than any cloth may, it holds as much as one may
    soaking = SITE.with_values({**second, "holding_capacity_kg_kg": 5.9})
    assert day_with({"cloth_kind": "second"}, soaking)["saturation_max"] < 1.0
