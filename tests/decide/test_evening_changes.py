"""The evening before is lived with what a scenario changes for good, and nothing else of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim.day.blocks import Shape
from sim.day.engine import Experiment
from sim.day.figures import FIGURES
from sim.day.night import PreviousDay
from sim.day.replicate import scenario_cell
from sim.day.setup import prepare_day
from sim.decide.compare import Question, compare
from sim.decide.how_sure import run_blocks
from sim.inputs import Conditions, Scenario, Site, Value
from tests import seeds
from tests.day.sites import conditions, flat, over_sites
from tests.intervals import value_of

SITE = Site("Evenings").with_values({"open_h": 8.0, "close_h": 10.0})
DAY = replace(conditions(), humidity=flat(0.9), opening_moisture_kg_kg=None)
EVENING = PreviousDay(conditions(90.0, humidity=0.95), 1)
SEED = seeds.seed("evening changes")
FULL = Scenario("Always full")
THIN: dict[str, Value] = {"holding_capacity_kg_kg": 0.6, "throw_off_moisture_kg_kg": 0.5}
SLOW: dict[str, Value] = {"conveyor_speed_m_s": 0.16, "idle_speed_rev_s": 0.6}


def ask(*scenarios: Scenario, site: Site = SITE, **more: Any) -> Question:
    """Scenarios on a humid morning after a humid, busy evening."""
    asked: dict[str, Any] = {"replications": 2, "seed": SEED, "evening": EVENING, **more}
    return Question(site, DAY, scenarios, **asked)


def test_cloth_that_holds_less_opens_with_no_more_than_it_holds() -> None:
    """With cloth that holds a quarter, neither its opening nor any car finds it above 100 %."""
    thin = Scenario("Thin", changes=THIN)
    opening = compare(ask(thin)).opening
    assert opening is not None
    assert 0.0 < opening.saturation <= 1.0
    (alone,) = run_blocks(
        over_sites(SITE, DAY, SEED, frozenset(), EVENING), (thin,), Shape(2, 1, 2)
    ).runs
    assert np.nanmax(alone.day["saturation_max"]) <= 1.0 + 1e-12
    for scenarios in ((FULL, thin), (thin, FULL)):
        for column in compare(ask(*scenarios)).columns:
            assert value_of(column.figures["saturation_max"]) <= 1.0 + 1e-12


def test_no_day_opens_with_more_than_the_cloth_holds() -> None:
    """A weighed morning too, where a scenario's cloth holds less than was weighed."""
    weighed = replace(DAY, opening_moisture_kg_kg=1.5)
    day = prepare_day(SITE.with_values(THIN), weighed)
    assert day.opening_moisture == day.cloth.holding == 0.6


@pytest.mark.parametrize("changes", [SLOW, THIN])
def test_a_lasting_change_is_as_if_the_site_were_so(changes: dict[str, Value]) -> None:
    """A scenario's figures are those of a site that has its inputs by itself, its evening and
    night included."""
    beside = compare(ask(FULL, Scenario("Changed", changes=changes))).columns[1]
    by_itself = compare(ask(FULL, site=SITE.with_values(changes))).columns[0]
    for name in FIGURES:
        ours, theirs = beside.figures[name].value, by_itself.figures[name].value
        assert ours == pytest.approx(theirs, rel=1e-12, nan_ok=True), name


def test_so_it_is_over_drawn_sites() -> None:
    """The same at every drawn site, to the last bit."""
    known, shape = frozenset(SLOW), Shape(2, 2, 2)
    both = (FULL, Scenario("Slow", changes=SLOW))
    drawn = run_blocks(over_sites(SITE, DAY, SEED, known, EVENING), both, shape).runs[1]
    slow = SITE.with_values(SLOW)
    alone = run_blocks(over_sites(slow, DAY, SEED, known, EVENING), (FULL,), shape).runs[0]
    for name in FIGURES:
        assert np.array_equal(drawn.day[name], alone.day[name], equal_nan=True), name


def openings(site: Site, day: Conditions, *scenarios: Scenario) -> list[float]:
    """Moistures at which scenarios open a day [kg/kg]."""
    here = Experiment(site, day, SEED, EVENING, evenings=2).at()
    days = [here.prepare(scenario_cell(site, one)[0]) for one in scenarios]
    return [one.numbers.opening_moisture for one in days]


def test_what_is_for_the_day_alone_leaves_the_evening_as_it_was() -> None:
    """Another rule, a dry set at noon, or another demand today open with the same water."""
    same = (FULL, Scenario("Reduced", "reduced"), Scenario("Dry set", "full", "9:00"))
    first, reduced, dry = openings(SITE, DAY, *same)
    assert first == reduced == dry
    busy = replace(DAY, arrivals_per_h=tuple(2.0 * cars for cars in DAY.arrivals_per_h))
    assert openings(SITE, busy, FULL) == [first]
    assert openings(SITE, DAY, Scenario("Slow", changes=SLOW)) != [first]


def test_a_dry_set_every_morning_is_each_scenarios_own() -> None:
    """Where only one scenario hangs a dry set every morning, only that one opens with it."""
    hung = Scenario("Hung", changes={"dry_set_at_opening": True})
    assert openings(SITE, DAY, FULL)[0] > SITE.wear.dry_set_moisture_kg_kg
    assert openings(SITE, DAY, FULL, hung)[1] == SITE.wear.dry_set_moisture_kg_kg
    site = SITE.with_values({"dry_set_at_opening": True})
    none = Scenario("Not hung", changes={"dry_set_at_opening": False})
    dry, wet = openings(site, DAY, FULL, none)
    assert dry == SITE.wear.dry_set_moisture_kg_kg
    assert [wet] == openings(SITE, DAY, FULL)
