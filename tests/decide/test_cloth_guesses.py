"""The guesses that an age of change rests on: priced as a plan prices, named, drawn, measured."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from sim.day.engine import Experiment
from sim.day.night import PreviousDay
from sim.day.replicate import run_days
from sim.decide.cloth.advice import ClothLearnt, learn_cloth
from sim.decide.cloth.change import ChangePrices, Costs, change_age
from sim.decide.cloth.guesses import (
    DAMP_DRAWS,
    LOSSES,
    Beliefs,
    DampByLoss,
    damp_by_loss,
    damp_costs,
    range_of_ages,
)
from sim.inputs import (
    HOODS_COUNTED,
    PUT_ON,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    ClothSet,
    Scenario,
    Site,
    SiteData,
)
from sim.learn.cloth_life import LifePosterior, life_posterior, life_priors
from sim.learn.cloth_looks import LOSS, loss_prior
from sim.learn.cloth_wear import WearDays
from tests.day.sites import conditions
from tests.small_wash import TODAY, small_wash

# soil is apart: what it costs is read off the same losses, from clean cloth on
WET = Site("Wet").with_values(
    {"open_h": 8.0, "close_h": 9.0, "film_after_rinse_kg_m2": 0.2, "damp_cost": 3.0,
     "uptake_loss_at_life": 0.2, "soil_loss_per_1000_cars": 0.0, "allowed_film_kg_m2": 0.0397}
)  # fmt: skip
BUSY = replace(conditions(80.0, humidity=0.8), opening_moisture_kg_kg=None)
SEED = 7
PRICES = ChangePrices(900.0, 60.0, 100.0, 500.0)


@pytest.fixture(scope="module")
def by_loss() -> DampByLoss:
    """An hour's busy day with cloth that has lost more and more."""
    return damp_by_loss(WET, (BUSY,), SEED)


def test_a_damp_car_costs_what_a_plan_says(by_loss: DampByLoss) -> None:
    """The cost of worn cloth, a car, is the difference that a plan of the same day finds between a
    set at the scale of life and a new one, wear apart, at the site's own cost of a damp car. The
    set lives so long that a new one is still as new in the evening."""
    lasting = WET.with_values({"life_scale_cars": 1_000_000.0})
    worn = {"cloth_wear_cars": lasting.wear.life_scale_cars}
    scenarios = [Scenario("new"), Scenario("worn", changes=worn)]
    days = Experiment(lasting, BUSY, SEED, PreviousDay(BUSY, 1), evenings=1)
    new, old = run_days(days, scenarios, DAMP_DRAWS)
    spent = [(one.day["cost"] - one.day["cost_wear"]).sum() for one in (new, old)]
    cars = new.day["cars_washed"].sum()
    assert old.day["cars_washed"].sum() == cars
    loss = WET.wear.uptake_loss_at_life
    assert loss in LOSSES
    ours = float(by_loss.cost_at(np.array(loss), WET.money.damp_cost))
    assert ours == pytest.approx((spent[1] - spent[0]) / cars, rel=1e-9)
    assert ours > 0.0
    damp = float(by_loss.share_at(np.array(loss)))
    assert damp == pytest.approx(old.day["damp_cars"].sum() / cars, rel=1e-9)


def posterior() -> LifePosterior:
    """What is believed of a life before any set has worn out."""
    return life_posterior([], *life_priors(WET), None)


def beliefs(by_loss: DampByLoss, known: frozenset[str] = frozenset()) -> Beliefs:
    """What is believed beside it, a car for each full wipe."""
    return Beliefs(by_loss, 1.0, loss_prior(WET, known), damp_costs(WET, known))


def test_damp_cars_and_their_guesses_move_the_age(by_loss: DampByLoss) -> None:
    """Damp cars that cost nothing let a set stay on longer; more loss or dearer damp cars take it
    off sooner; each guess that is entered is no guess any more; the range holds the advice."""
    life, held = posterior(), beliefs(by_loss)
    advised = change_age(life, PRICES.planned, PRICES.unplanned, damp_cost=held.expected).age
    found = range_of_ages(life, PRICES, held, advised)
    assert found.without_damp_cars > advised
    assert found.low < advised < found.high
    assert [one.input for one in found.guesses] == [LOSS, "damp_cost"]
    for one in found.guesses:
        assert one.age_low > advised > one.age_high
        assert one.matters == (one.excess > 0.02)
    assert found.guesses[0].low == pytest.approx(0.095, abs=0.01)
    known = beliefs(by_loss, frozenset({LOSS, "damp_cost"}))
    assert range_of_ages(life, PRICES, known, advised).guesses == ()


def test_an_age_is_firm_by_the_one_definition(by_loss: DampByLoss) -> None:
    """Lives and guesses that are believed widely leave another age better by 2 % at more than one
    drawn site of twenty, and what decides is told; where both guesses are entered and the life is
    known, no age is better anywhere."""
    life, held = posterior(), beliefs(by_loss)
    advised = change_age(life, PRICES.planned, PRICES.unplanned, damp_cost=held.expected).age
    wide = range_of_ages(life, PRICES, held, advised)
    assert wide.rival in (wide.low, wide.high, math.inf)
    assert not wide.standing.is_firm
    assert wide.standing.bettered == wide.standing.loses > 0.05
    assert {one.input for one in wide.standing.turns} <= {"life_scale_cars", LOSS, "damp_cost"}
    one = LifePosterior(np.array([2.5]), np.array([60_000.0]), np.ones(1))
    known = beliefs(by_loss, frozenset({LOSS, "damp_cost"}))
    best = change_age(one, PRICES.planned, PRICES.unplanned, damp_cost=known.expected).age
    sure = range_of_ages(one, PRICES, known, best)
    assert sure.standing.is_firm
    assert sure.standing.bettered == 0.0
    other = range_of_ages(one, PRICES, known, 0.3 * best)
    assert other.standing.bettered == 1.0


def test_the_excess_is_what_the_advice_costs_there(by_loss: DampByLoss) -> None:
    """At the dear end of a damp car's cost the advised age costs the told share more than the best
    age there; the cheap end costs less of it or more, and the worse of the two is told."""
    life, held = posterior(), beliefs(by_loss)
    advised = change_age(life, PRICES.planned, PRICES.unplanned, damp_cost=held.expected).age
    guess = range_of_ages(life, PRICES, held, advised).guesses[1]
    shares = []
    for end in (guess.low, guess.high):
        damp = held.cost(held.loss.value, held.loss.weight, end)
        costs = Costs(life, PRICES.planned, PRICES.unplanned, damp)
        best = change_age(life, PRICES.planned, PRICES.unplanned, damp_cost=damp)
        shares.append(float(costs.mean_rate(np.array([advised]))[0]) / best.cost_rate - 1.0)
    assert guess.excess == pytest.approx(max(shares), rel=1e-9)


def hoods(new: int, old: int) -> SiteData:
    """A wash whose set A was counted under when new, and set B when worn: damp hoods of twenty."""
    wash = small_wash()
    site = wash.site.with_values({"film_after_rinse_kg_m2": 0.2})
    first = TODAY - timedelta(days=20)

    def event(after: int, kind: str, name: str, reason: str = "") -> ClothEvent:
        return ClothEvent(first + timedelta(days=after), 7 * 3600.0, kind, name, reason)

    def counted(after: int, name: str, damp: int) -> ClothEvent:
        at = event(after, HOODS_COUNTED, name)
        return replace(at, at_s=9 * 3600.0, hoods=20, damp_hoods=damp)

    book = ClothBook(
        (ClothSet("A"), ClothSet("B", None, 58_000.0)),
        (
            event(0, PUT_ON, "A"),
            counted(1, "A", new),
            event(2, TAKEN_OFF, "A", "rotated"),
            event(2, PUT_ON, "B"),
            counted(3, "B", old),
        ),
    )
    return replace(wash, site=site, cloth=book)


def learnt_of(data: SiteData) -> ClothLearnt:
    """What is known by one busy day that stands for the year."""
    day = replace(conditions(60.0, humidity=0.8), opening_moisture_kg_kg=None)
    return learn_cloth(data, WearDays(data), TODAY, 86_340.0, (day,), SEED)


def test_damp_hoods_move_the_answer() -> None:
    """Far more damp hoods under an old set than under a new one raise the loss that is believed and
    bring the change forward; as many under both do the opposite."""
    worse, alike = learnt_of(hoods(2, 19)), learnt_of(hoods(5, 5))
    assert [one.damp for one in worse.counts] == [2, 19]
    assert worse.counts[1].wear_cars > 58_000.0
    assert worse.beliefs.loss.mean > alike.beliefs.loss.mean + 0.02
    dear = worse.beliefs.expected
    assert dear[-1] > alike.beliefs.expected[-1]
    assert worse.change.age < alike.change.age
    assert all(math.isfinite(one) for one in dear)
