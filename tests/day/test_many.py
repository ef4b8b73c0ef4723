"""Many rules at once are the same days as one rule at a time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from sim.day.draw import DayDraw, make_cars
from sim.day.figures import OF_COST, money_of
from sim.day.kernel import figures, flow, is_coupled, tallies
from sim.day.kernel.many import TALLY
from sim.day.kernel.tables import make_tables
from sim.day.rules import FULL, REDUCED, Clock, Rule, parse_changes, parse_rule
from sim.day.setup import prepare_day
from sim.inputs import Scenario, Site
from tests.day.sites import RULES, SiteDay, conditions, hand_made_cars, prompt_crew, site_days
from tests.seeds import generator, seed

TODAY = date(2026, 7, 6)
KINDS = ("humid_peak", "quiet", "hot_dry_peak", "after_rain")
SHARED = (
    "cars_washed", "cars_lost", "damp_cars", "finished_cars", "rewashed_cars", "wear_cars",
)  # fmt: skip
MONEY = ("takings", "cost_washing", *OF_COST, "cost", "margin")


def random_rule(rng: np.random.Generator, keys: list[str]) -> Rule:
    """A rule of random terms, as its text is read."""

    def term() -> str:
        kind = rng.integers(7)
        if kind == 0:
            start, last = sorted(rng.choice(np.arange(7 * 60, 20 * 60), 2, replace=False))
            return f"clock {start // 60}:{start % 60:02}-{last // 60}:{last % 60:02}"
        if kind == 1:
            lower, upper = sorted(rng.choice(np.arange(5, 90), 2, replace=False))
            return f"band {upper}-{lower}"
        if kind == 2:
            return "class " + ",".join(rng.choice(keys, rng.integers(1, len(keys)), replace=False))
        if kind == 3:
            start = rng.integers(7, 19)
            return f"crew clock {start}:00-{start + 1}:30"
        if kind == 4:
            lower, upper = sorted(rng.choice(np.arange(20, 140), 2, replace=False))
            return f"crew cars {upper}-{lower}"
        if kind == 5:
            lower, upper = sorted(rng.choice(np.arange(110, 300), 2, replace=False))
            return f"crew strip {upper}-{lower}"
        return "service"

    rows = [" and ".join(term() for _ in range(rng.integers(1, 3))) for _ in range(2)]
    return parse_rule(" or ".join(rows[: rng.integers(1, 3)]), keys)


@pytest.mark.parametrize("rewashed", [0.0, 0.05])
@pytest.mark.parametrize("kind", KINDS)
def test_demo_days_under_random_rules(kind: str, rewashed: float) -> None:
    """On every demo day random rules run together are what each of them is alone, exactly."""
    data = demo_data()
    question, _ = make_question(data, demo_days()[kind], "", (Scenario("a"),), 1)
    site = question.site.with_values({"damp_rewash_share": rewashed})
    ready = replace(question, site=site).first_day
    rng = generator(f"{kind}{rewashed}")
    keys = [item.key for item in site.vehicles]
    rules = [FULL, REDUCED, *(random_rule(rng, keys) for _ in range(30))]
    cars = ready.replication(DayDraw(seed(kind))).cars
    assert is_coupled(ready.tables, ()) == (rewashed > 0)
    found = tallies(site, ready.numbers, cars, rules, tables=ready.tables)
    for rule, row in zip(rules, found, strict=True):
        got = dict(zip(TALLY, row.tolist(), strict=True))
        wanted = figures(site, ready.numbers, cars, rule, tables=ready.tables).day
        assert {name: got[name] for name in SHARED} == {name: wanted[name] for name in SHARED}
        assert got["full_cars"] / got["cars_washed"] == wanted["full_share"]
        assert got["rear_wet"] / got["cars_washed"] == wanted["rear_wet_share"]
        money = money_of(ready.prices, got, max(got["last_s"], ready.numbers.close_s))
        assert {name: money[name] for name in MONEY} == {name: wanted[name] for name in MONEY}
        assert got["overload_s"] / 3600.0 == wanted["overload_hours"]


@given(site_days(), st.lists(st.sampled_from(RULES), min_size=2, max_size=3))
def test_rules_run_together_leave_no_trace_on_one_another(world: SiteDay, more: list[str]) -> None:
    """A rule's day is the same whatever was run before it, every feature of the day in play."""
    day, cars = world.parts()
    changes = parse_changes(world.cloth, world.site.wear.sets_owned)
    rules = [parse_rule(text) for text in (world.rule, *more, world.rule)]
    found = tallies(world.site, day, cars, rules, changes)
    assert np.array_equal(found[0], found[-1])
    wanted = figures(world.site, day, cars, rules[0], changes).day
    got = dict(zip(TALLY, found[0].tolist(), strict=True))
    assert {name: got[name] for name in SHARED} == {name: wanted[name] for name in SHARED}


@given(site_days(), st.lists(st.sampled_from(RULES), min_size=3, max_size=8), st.integers(0, 99))
def test_each_rule_has_the_day_that_it_has_alone(
    world: SiteDay, texts: list[str], number: int
) -> None:
    """Rules that decide alike share their day until they part: whatever parts them, re-washes,
    stops of the belt and sets that wait for a moisture in play, each has every figure that it has
    by itself, to the last bit."""
    day, cars = world.parts()
    site, changes = world.site, parse_changes(world.cloth, world.site.wear.sets_owned)
    rng, keys = generator(f"alone{number}"), [item.key for item in site.vehicles]
    rules = [FULL, REDUCED, *map(parse_rule, texts), *(random_rule(rng, keys) for _ in range(4))]
    together = tallies(site, day, cars, rules, changes)
    for rule, row in zip(rules, together, strict=True):
        assert np.array_equal(row, tallies(site, day, cars, [rule], changes)[0])


@pytest.mark.parametrize("number", range(3))
def test_rules_whose_lines_part_are_alone_too(number: int) -> None:
    """Every damp car is sent round again, the belt stops for many cars and whenever a wet set is
    changed, and people are few: from the car that parts two rules on nothing of their lines is the
    same, and each has the figures that it has by itself, to the last bit."""
    site = Site("Parting").with_values({
        "damp_rewash_share": 1.0, "rewash_return_s": 2.0, "stops_per_car": 0.25,
        "stops_per_h": 12.0, "stop_median_s": 25.0, "damp_limit_saturation": 0.3 + 0.1 * number,
        "set_change_cars": "wait", "set_change_min": 5.0, "sets_owned": 9, "strip_count": 30,
        "close_h": 8.5, "patience_median_s": 600.0, "stack_limit_cars": 12,
        "loading_line_cars": number, "full_service_share": 0.2,
    })  # fmt: skip
    air = conditions(80.0, humidity=0.9, opening=0.2)
    ready, draw = prepare_day(site, air), DayDraw(seed("parting", number))
    cars = make_cars(draw, site, air)
    texts = [
        *(f"clock 7:{at:02}-8:{at:02}" for at in range(5, 60, 7)),
        *(f"band {at}-{at - 12}" for at in range(20, 70, 3)),
        "class van,pickup", "class sedan and clock 7:30-8:00", "service", "reduced", "full",
    ]  # fmt: skip
    rules, changes = [parse_rule(text) for text in texts], parse_changes("33 %; 45 %; 57 %", 9)
    together = tallies(site, ready, cars, rules, changes)
    assert len(np.unique(together, axis=0)) > len(rules) / 2
    for rule, row in zip(rules, together, strict=True):
        assert np.array_equal(row, tallies(site, ready, cars, [rule], changes)[0])


SWITCHES, APART = TALLY.index("switches"), TALLY.index("apart_s")


def test_switches_are_changes_of_the_wiping() -> None:
    """A window switches twice; one that begins before the first car, once; what never changes,
    and what was sold, never."""
    site = Site("Switches").with_values({"damp_rewash_share": 0.0, "close_h": 9.0})
    day_conditions = conditions()
    arrivals = tuple(7 * 3600.0 + 300.0 * i for i in range(20))
    cars = hand_made_cars(arrivals, (10.0,) * 20)
    day = prepare_day(site, day_conditions)
    line = flow(site, day, cars, make_tables(site, day))
    hoods = line.rows.times[:20, 7]

    def count(*windows: tuple[float, float]) -> tuple[float, float]:
        row = tallies(site, day, cars, [Rule(((Clock(windows),),))], given=line)[0]
        return row[SWITCHES], row[APART]

    inside = (hoods[3], hoods[6])
    assert count(inside) == (2.0, hoods[6] - hoods[3])
    assert count((0.0, hoods[6])) == (1.0, math.inf)
    assert count(inside, (hoods[9], hoods[10])) == (4.0, hoods[10] - hoods[9])
    for rule in (FULL, REDUCED, parse_rule("service")):
        row = tallies(site, day, cars, [rule], given=line)[0]
        assert (row[SWITCHES], row[APART]) == (0.0, math.inf)


@given(site_days(), st.sampled_from([text for text in RULES if "crew" not in text]))
def test_every_change_between_two_cars_is_a_switch(world: SiteDay, text: str) -> None:
    """A rule by class switches whenever the next car is of another class: as often, and as soon, as
    the day in SimPy, wiped by that rule with nothing sold, goes from one wiping to another."""
    site = world.site.with_values({"full_service_share": 0.0})
    world = replace(world, site=site, rule=text)
    day, cars = world.parts()
    changes = parse_changes(world.cloth, site.wear.sets_owned)
    done = sorted((car for car in world.run().passes if not car.lost), key=lambda car: car.wheel_s)
    turned = [b.wheel_s for a, b in pairwise(done) if a.reduced != b.reduced]
    row = tallies(site, day, cars, [parse_rule(text)], changes)[0]
    assert row[SWITCHES] == len(turned)
    apart = min((b - a for a, b in pairwise(turned)), default=math.inf)
    assert row[APART] == pytest.approx(apart, abs=1e-6)


def test_a_crew_forgets_from_one_rule_to_the_next() -> None:
    """On a steady flow a count switches once, and so it does when it is run again after others."""
    site = Site("Crew").with_values({"damp_rewash_share": 0.0, "close_h": 9.0})
    day_conditions = conditions()
    arrivals = tuple(7 * 3600.0 + 120.0 * i for i in range(50))
    crew = prompt_crew(site, count_every_s=300.0)
    cars = hand_made_cars(arrivals, (10.0,) * 50, crew=crew)
    day = prepare_day(site, day_conditions)
    rules = [parse_rule(text) for text in ("crew cars 20-5", "crew strip 500-90", "crew cars 20-5")]
    found = tallies(site, day, cars, rules)
    switches = found[:, TALLY.index("switches")].tolist()
    reduced = found[:, TALLY.index("reduced")].tolist()
    assert (switches, reduced[1]) == ([1.0, 0.0, 1.0], 0.0)
    # looks at every third car: of those after the twentieth the first is the 22nd, 21 before it
    assert reduced[0] == reduced[2] == 50 - 21
