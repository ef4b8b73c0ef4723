"""Perfect foresight: equal to trying every plan, and never beaten by any rule."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from sim.day.engine import AS_IT_IS, PreparedDay
from sim.day.kernel import FlowResult
from sim.day.kernel.many import _after
from sim.day.rules import Clock, Rule
from sim.decide.switching.best_possible import PRICES, best_possible, bound_day
from sim.decide.switching.choice import OUTCOMES, Wish, WishKind, column, left_damp_share
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.inputs import Scenario, Site, Value
from tests.day.sites import conditions, replication
from tests.seeds import generator, seed
from tests.sizes import Size

TODAY = date(2026, 7, 6)
DEMO_DAYS = ("humid_peak", "quiet", "hot_dry_peak", "after_rain")
ROUNDING = 1e-9


def small_question(name: str, number: int, kind: WishKind, wear_matters: bool) -> SwitchQuestion:
    """A short day of few cars and little cloth, so that every wipe matters to the next."""
    rng = generator(f"{name}{number}")
    values: dict[str, Value] = {
        "open_h": 8.0,
        "close_h": 9.0,
        "damp_rewash_share": 0.0,
        "full_service_share": 0.0,
        "strip_count": int(rng.choice([6, 10, 15])),
        "film_after_rinse_kg_m2": float(rng.uniform(0.08, 0.3)),
        "damp_limit_saturation": float(rng.uniform(0.3, 0.7)),
        "throw_off_time_s": float(rng.uniform(200, 2000)),
        "stops_per_h": float(rng.choice([0.0, 6.0])),
        "uptake_loss_at_life": 0.6 if wear_matters else 0.0,
        "life_scale_cars": 1000.0,
        "soil_loss_per_1000_cars": 0.3,
        "wet_wear_factor": float(rng.uniform(0.5, 2.0)) if wear_matters else 1.0,
        "set_price": float(rng.uniform(0, 4000)),
        "reduced_cost": float(rng.uniform(0.1, 1.0)),
        "allowed_damp_share": float(rng.uniform(0.0, 0.4)),
    }
    site = Site("Small").with_values(values)
    day = conditions(float(rng.uniform(6, 11)), opening=float(rng.uniform(0.3, 1.2)))
    return SwitchQuestion(site, day, Wish.of(site, kind), seed(name, number))


def every_plan(
    question: SwitchQuestion, most_cars: int = 11
) -> tuple[PreparedDay, FlowResult, np.ndarray] | None:
    """Outcomes of every order of full and reduced wipes on a day; None where cars are too many."""
    first = search_draws(question, 1)
    day = replication(question.experiment, first[0])
    line = day.line()
    assert line is not None
    cars = int(line.rows.counts[1])
    if not 2 <= cars <= most_cars:
        return None
    hoods = np.sort(line.rows.times[line.rows.order[:cars], 7])
    rules = []
    for plan in itertools.product((False, True), repeat=cars):
        windows = tuple((h, h + 1e-3) for h, one in zip(hoods, plan, strict=True) if one)
        rules.append(Rule(((Clock(windows),),)) if windows else Rule())
    return day.of, line, outcomes(question, [(AS_IT_IS, tuple(rules))], first)[:, 0]


@pytest.mark.soak
def test_equals_enumeration_on_short_days(size: Size) -> None:
    """At every price the bound is the best of all orders of wipes of up to 16 cars, within its
    grid error."""
    seen = exact = 0
    most_cars = size(small=11, full=16)
    for number in range(size(small=12, full=200)):
        question = small_question("enumerate", number, "days", wear_matters=False)
        found = every_plan(question, most_cars)
        if found is None:
            continue
        world, line, plans = found
        seen += 1
        bound = bound_day(question, world, line)
        full, damp = column(plans, "full_cars"), column(plans, "left_damp")
        wanted = np.array([(full - price * damp).max() for price in PRICES])
        assert np.all(bound.values >= wanted - 1e-9)
        near = wanted + np.array(PRICES) * question.wish.allowed_damp_share * bound.cars
        near_ones = near <= near.min() + 0.1 * bound.cars
        apart = (bound.values - wanted)[near_ones]
        assert np.all(apart <= 1.0 + 1e-9), "more than a car above the best of all plans"
        exact += bool(np.all(apart <= 1e-6))
    assert seen >= 4
    assert exact >= 0.8 * seen


@pytest.mark.soak
def test_no_plan_beats_the_bound_where_wear_matters(size: Size) -> None:
    """With uptake that falls with wear, and wear with wetness, no order of wipes is above it."""
    seen = 0
    for number in range(size(small=10, full=200)):
        for kind in ("days", "cost"):
            question = small_question("wear", number, kind, wear_matters=True)
            found = every_plan(question)
            if found is None:
                continue
            world, line, plans = found
            seen += 1
            values = bound_day(question, world, line).values
            if kind == "cost":
                assert -values[0] <= column(plans, "cost").min() + 1e-6
                continue
            full, damp = column(plans, "full_cars"), column(plans, "left_damp")
            for price, value in zip(PRICES, values, strict=True):
                assert value >= (full - price * damp).max() - 1e-9
    assert seen >= 6


@pytest.mark.parametrize("kind", ["days", "cost"])
def test_no_plan_beats_the_bound_with_finishers(kind: WishKind) -> None:
    """Where a finisher who is there at times dries some of the damp cars, none of all orders of
    wipes is above the bound at any price; and the bound knows that hands are few: it is often below
    that of a site whose finishers take no time."""
    seen = nearer = 0
    there = tuple((28_830.0 + 300.0 * at, float(at % 6 == 5)) for at in range(12))
    for number in range(10):
        question = small_question("hands", number, kind, wear_matters=False)
        slow: dict[str, Value] = {
            "people": ((0.0, 4.0),), "finishers": ((0.0, 1.0), *there), "exit_patience_s": 10.0,
            "finish_area_s_m2": 120.0, "finish_film_s_kg": 2000.0, "reduced_cost": 3.0,
            "damp_cost": 3.0,
        }  # fmt: skip
        quick: dict[str, Value] = {**slow, "finish_area_s_m2": 0.0, "finish_film_s_kg": 0.0}
        found = every_plan(replace(question, site=question.site.with_values(slow)))
        free = every_plan(replace(question, site=question.site.with_values(quick)))
        if found is None or free is None:
            continue
        seen += 1
        world, line, plans = found
        values = bound_day(question, world, line).values
        if kind == "cost":
            assert -values[0] <= column(plans, "cost").min() + 1e-6
        else:
            full, damp = column(plans, "full_cars"), column(plans, "left_damp")
            for price, value in zip(PRICES, values, strict=True):
                assert value >= (full - price * damp).max() - 1e-9
        nearer += bool(values.sum() < bound_day(question, *free[:2]).values.sum() - 1e-6)
    assert seen >= 3
    assert nearer >= 1


def test_least_cost_equals_enumeration() -> None:
    """Without wear that changes the uptake, the least cost is that of the best of all plans."""
    seen = 0
    for number in range(8):
        question = small_question("cost", number, "cost", wear_matters=False)
        found = every_plan(question)
        if found is None:
            continue
        world, line, plans = found
        seen += 1
        least = -bound_day(question, world, line).values[0]
        best = column(plans, "cost").min()
        assert best - 0.5 <= least <= best + 1e-6
    assert seen >= 3


@pytest.mark.parametrize("kind", DEMO_DAYS)
def test_no_candidate_beats_it_on_a_demo_day(kind: str) -> None:
    """On each demo day no rule of the search is above the bound, priced and constrained."""
    data = demo_data()
    asked, _ = make_question(data, demo_days()[kind], "", (Scenario("a"),), 1)
    site = asked.site.with_values({"damp_rewash_share": 0.0})
    question = SwitchQuestion(
        site, asked.conditions, Wish.of(site, "days"), asked.seed, evening=asked.evening
    )
    first = search_draws(question, 1)
    table = outcomes(question, [(AS_IT_IS, question.rules)], first)[:, 0]
    full, damp = column(table, "full_cars"), column(table, "left_damp")
    day = replication(question.experiment, first[0])
    line = day.line()
    assert line is not None
    priced = bound_day(question, day.of, line)
    for price, value in zip(PRICES, priced.values, strict=True):
        assert value >= (full - price * damp).max() - ROUNDING
    keeps = left_damp_share(table) <= question.wish.allowed_damp_share
    for wish in ("mean", "days"):
        bound = best_possible(replace(question, wish=Wish.of(site, wish)), 1)
        assert bound.bound >= (full[keeps].max() if keeps.any() else 0.0) - ROUNDING
        assert bound.moved < 0.002
    cheapest = best_possible(replace(question, wish=Wish.of(site, "cost")), 1)
    assert cheapest.bound <= table[:, OUTCOMES.index("cost")].min() + ROUNDING


def test_re_washes_and_dry_sets_are_spoken_of() -> None:
    """The bound says when it leaves re-washes out, and refuses days with a change of set."""
    question = small_question("spoken", 0, "mean", wear_matters=False)
    coupled = replace(question, site=question.site.with_values({"damp_rewash_share": 0.2}))
    assert not best_possible(question, 2).without_rewash
    assert best_possible(coupled, 2) == replace(best_possible(question, 2), without_rewash=True)
    with pytest.raises(ValueError, match="change of set"):
        best_possible(replace(question, cloth="8:30"), 1)


def test_moisture_after_a_car_is_never_overstated() -> None:
    """Between nodes the bound takes the least that a map can be which rises, and by no more than
    what was there before: never above the map itself, and less than a node's distance below."""

    def after_of(moisture: float) -> float:
        return 0.6 * moisture + 0.05 * math.sin(6.0 * moisture)  # slopes of 0.3 to 0.9

    low, step, points = 0.2, 0.1, 9
    after = np.array([after_of(low + node * step) for node in range(points)])
    moisture = np.sort(generator("never overstated").uniform(low, low + 0.8, 200))
    for at, before in enumerate(moisture):
        found = _after(after, low, step, points, moisture, at, len(moisture))
        assert after_of(before) - step < found <= after_of(before)
