"""When to change cloth: cost rates against plain integration, and what the answer is made of."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from sim.day.engine import Experiment
from sim.day.replicate import run_days
from sim.decide.cloth.advice import age_worn_out
from sim.decide.cloth.change import (
    FLAT,
    LEAST_SAVING,
    SETUP_SHARE,
    ChangePrices,
    Costs,
    change_age,
    change_prices,
    damp_car_cost,
    every_season_rate,
    in_parts,
    mean_length,
    renewal_function,
    unwiped_car_cost,
)
from sim.inputs import Conditions, Scenario, Site, Value
from sim.learn.cloth_life import LifePosterior, life_posterior
from tests.day.sites import flat
from tests.learn.life_histories import PRIORS

SITE = Site(name="Mill Lane")
LEFT = 0.5 * 2.0 + 0.5 * 0.005 * 250.0
"""A car left damp: half are members, who leave at a chance of 0.5 % and earn 250 $ a year; the
others' goodwill is 2 $ each."""
PRICES = ChangePrices(900.0, 25.0, 150.0, 500.0)


def known(beta: float, eta: float) -> LifePosterior:
    """A life that is known."""
    return LifePosterior(np.array([beta]), np.array([eta]), np.array([1.0]))


@pytest.mark.parametrize("age", [0.3, 0.9, 1.7])
def test_cost_rates_are_the_integrals(age: float) -> None:
    """Planned, unplanned and damp cars' cost by adaptive quadrature of the definition."""
    beta, damp = 2.2, (0.0, 0.4, 0.5, 1.4)
    knots = np.linspace(0.0, 1.0, len(damp))
    costs = Costs(known(beta, 1000.0), 3.0, 11.0, damp)

    def lasts(t: float) -> float:
        return math.exp(-((t / 1000.0) ** beta))

    def damp_at(t: float) -> float:
        return float(np.interp(t / 1000.0, knots, damp)) * lasts(t)

    end = 1000.0 * age
    breaks = [k * 1000.0 for k in knots[1:] if k < age] or None
    length, _ = quad(lasts, 0.0, end, epsabs=1e-10)
    extra, _ = quad(damp_at, 0.0, end, points=breaks, epsabs=1e-10, limit=200)
    expected = (3.0 * lasts(end) + 11.0 * (1.0 - lasts(end)) + extra) / length
    assert costs.mean_rate(np.array([end]))[0] == pytest.approx(expected, rel=1e-9)
    assert mean_length(costs.posterior, np.array([end]))[0] == pytest.approx(length, rel=1e-9)


def by_hand(posterior: LifePosterior, planned: float, unplanned: float, age: float) -> float:
    """Expected cost beside expected length of sets drawn from a belief, by the trapezoid rule."""
    times = np.linspace(0.0, age, 2_001)
    lasts = np.exp(-((times[:, None] / posterior.eta) ** posterior.beta)) @ posterior.weight
    return float((planned * lasts[-1] + unplanned * (1.0 - lasts[-1])) / np.trapezoid(lasts, times))


def test_the_answer_is_least_over_the_beliefs() -> None:
    """No other age has a lower expected cost beside expected length; the flat range is that."""
    posterior = life_posterior([], *PRIORS)
    found = change_age(posterior, 900.0, 7200.0)
    costs = Costs(posterior, 900.0, 7200.0)
    for age in np.geomspace(5_000.0, 500_000.0, 60).tolist():
        assert found.cost_rate <= by_hand(posterior, 900.0, 7200.0, age)
    assert found.cost_rate == pytest.approx(by_hand(posterior, 900.0, 7200.0, found.age))
    for age in found.flat:
        rate = costs.mean_rate(np.array([age]))[0]
        assert rate == pytest.approx((1.0 + FLAT) * found.cost_rate, rel=2e-3)
    assert found.flat[0] < found.age < found.flat[1]
    ages, rates = (np.array(column) for column in zip(*found.curve, strict=True))
    assert np.all(np.diff(ages) > 0.0)
    assert ages[0] < found.flat[0] < found.flat[1] < ages[-1]
    assert rates == pytest.approx(costs.mean_rate(ages))


def test_dearer_failures_mean_earlier_changes_and_worn_cloth_too() -> None:
    """The age falls as unplanned changes or damp cars of worn cloth cost more."""
    posterior = life_posterior([], *PRIORS)
    ages = [change_age(posterior, 900.0, cost).age for cost in (1_800.0, 3_000.0, 9_000.0)]
    assert ages == sorted(ages, reverse=True)
    damp = change_age(posterior, 900.0, 1_800.0, damp_cost=(0.0, 0.02, 0.06)).age
    assert damp < ages[0]


def test_a_saving_too_small_to_plan_for_is_waited_out() -> None:
    """Shape 1.2: changing on plan would save a hair; the answer says to wait, and why."""
    found = change_age(known(1.2, 1000.0), 1.0, 3.0)
    assert found.waits
    assert found.least_rate > (1.0 - LEAST_SAVING) * found.at_failure
    assert found.flat[1] == math.inf
    assert not change_age(known(1.5, 1000.0), 1.0, 3.0).waits


@pytest.mark.parametrize(("planned", "unplanned"), [(0.0, 5.0), (1.0, 0.0), (-1.0, 2.0)])
def test_costs_that_are_none_are_refused(planned: float, unplanned: float) -> None:
    """A change that costs nothing has no best age."""
    with pytest.raises(ValueError, match="costs of a change must be above zero"):
        change_age(known(2.0, 1000.0), planned, unplanned)


def test_a_season_without_wear_is_refused() -> None:
    """Nothing can be changed every season of no length."""
    with pytest.raises(ValueError, match="a season's wear must be above zero"):
        every_season_rate(Costs(known(2.0, 1000.0), 1.0, 5.0), 0.0)


def test_renewals_without_wear_out_come_evenly() -> None:
    """Shape 1: the expected number of failures until t is t/η, a theorem; steps cost 3 in 10⁴."""
    places = np.linspace(0.0, 5.0, 65)[:, None]
    assert renewal_function(np.array([1.0]), places)[:, 0] == pytest.approx(places[:, 0], rel=3e-4)


def test_renewals_agree_with_simulated_lives(rng: np.random.Generator) -> None:
    """Mean number of failures until 3η by drawing lives one after the other, shape 2.5."""
    lives = rng.weibull(2.5, (20_000, 12)).cumsum(axis=1)
    counts = (lives <= 3.0).sum(axis=1)
    error = counts.std() / math.sqrt(len(counts))
    places = np.linspace(0.0, 3.0, 65)[:, None]
    found = renewal_function(np.array([2.5]), places)[-1, 0]
    assert abs(found - counts.mean()) < 4.0 * error + 2e-3


def test_every_season_agrees_with_simulated_seasons(rng: np.random.Generator) -> None:
    """Cost of a change a season with damp cars, by drawing seasons: within 4 standard errors."""
    damp, season, runs = (0.0, 0.8), 1.6, 20_000
    costs = Costs(known(2.5, 1.0), 1.0, 3.0, damp)
    totals = np.ones(runs)
    begun = np.zeros(runs)
    while np.any(begun < season):
        life = rng.weibull(2.5, runs)
        end = np.minimum(begun + life, season)
        age = np.maximum(0.0, end - begun)
        # ∫ of 0.8·min(1, age): half the square until 1, straight after
        totals += 0.8 * (0.5 * np.minimum(age, 1.0) ** 2 + np.maximum(0.0, age - 1.0))
        totals += 3.0 * ((begun < season) & (begun + life < season))
        begun = np.where(begun < season, begun + life, begun)
    error = totals.std() / math.sqrt(runs) / season
    found = every_season_rate(costs, season)
    assert abs(found - totals.mean() / season) < 4.0 * error + 4e-3 * found


def test_damp_cars_of_a_season_are_the_integral() -> None:
    """A season of two fifths of a life of shape 8, in which one set of 1,500 wears out: what damp
    cars cost from new on, by adaptive quadrature, and one change on plan."""
    beta, eta, season, damp = 8.0, 1000.0, 400.0, (2.0, 3.0, 7.0)

    def damp_at(wear: float) -> float:
        still = math.exp(-((wear / eta) ** beta))
        return still * float(np.interp(wear / eta, (0.0, 0.5, 1.0), damp))

    extra, _ = quad(damp_at, 0.0, season, epsabs=1e-9)
    found = change_age(known(beta, eta), 50.0, 60.0, damp_cost=damp, season_cars=season)
    assert found.every_season == pytest.approx((50.0 + extra) / season, rel=1e-3)


def test_a_set_that_has_lasted_is_judged_from_its_age_on() -> None:
    """Remaining life of one belief by hand: R(a + x) = (1 − p)·R(a)."""
    life = known(2.0, 1000.0)
    for age, share in ((0.0, 0.5), (600.0, 0.1), (1500.0, 0.9)):
        expected = 1000.0 * math.sqrt((age / 1000.0) ** 2 - math.log(1.0 - share))
        assert age_worn_out(life, age, share) == pytest.approx(expected, rel=2e-3)


def test_prices_by_hand() -> None:
    """Set, people and minutes; an unplanned change loses the cars that find no room."""
    hours = [0.0] * 8 + [60.0, 120.0] + [0.0] * 14
    found = change_prices(SITE, hours)
    work = 35 / 60 * 2 * 20.0
    # of 35 and 70 cars in 35 minutes, stack and loading line take 27; weighed by their hours' cars
    lost = (60 * (35 - 27) + 120 * (70 - 27)) / 180 * 9.5
    assert found.planned == pytest.approx(900 + work)
    assert found.unplanned == pytest.approx(900 + work + lost + 500)
    unwiped = SITE.with_values({"set_change_cars": "unwiped"})
    # they leave damp: left 97 %, washed again 3 %; the roofs of those left are wet and minded by
    # 0.2 of a damp car, and the rears by 0.4 but for pickups, 17 % of cars, which have none
    minded = 1.0 + 0.2 + 0.83 * 0.4
    passed = (60**2 + 120**2) / 180 * 35 / 60 * (0.97 * minded * LEFT + 0.03 * 2.5)
    assert change_prices(unwiped, hours).lost == pytest.approx(passed)
    assert change_prices(SITE, [0.0] * 24).lost == 0.0


def test_a_damp_car_costs_what_is_done_with_it() -> None:
    """Left 97 %, washed again 3 %: goodwill, a wash; towels are where a finisher is."""
    expected = 0.97 * LEFT + 0.03 * 2.5
    assert damp_car_cost(SITE) == pytest.approx(expected)


def test_an_unwiped_car_by_hand() -> None:
    """Where nobody minds roofs and rears it costs what a damp car costs; where they are minded as
    much as a hood, a car that is not washed again costs two damp cars more, less the share of
    pickups, which have no rear."""
    plain = SITE.with_values({"zone_minded_roof": 0.0, "zone_minded_rear": 0.0})
    assert unwiped_car_cost(plain) == pytest.approx(damp_car_cost(plain))
    whole = SITE.with_values({"zone_minded_roof": 1.0, "zone_minded_rear": 1.0})
    expected = damp_car_cost(whole) + 0.97 * (1.0 + 0.83) * LEFT
    assert unwiped_car_cost(whole) == pytest.approx(expected)


def test_cars_unwiped_cost_what_a_plan_says() -> None:
    """A day of cars that come while a set is changed for as long as they do: the plan's items of
    goodwill and re-washes, a car that leaves, are the price of a car that no cloth touches."""
    soaked: dict[str, Value] = {
        "open_h": 8.0, "close_h": 10.0, "set_change_cars": "unwiped", "set_change_min": 240.0,
        "film_after_rinse_kg_m2": 0.5, "film_cv": 0.0, "allowed_film_kg_m2": 0.001,
        "damp_rewash_share": 0.0, "member_leave_per_ten_minutes": 0.0, "sets_owned": 2,
    }  # fmt: skip
    site = SITE.with_values(soaked)
    rates = tuple(60.0 if 8 <= hour < 10 else 0.0 for hour in range(24))
    day = Conditions(rates, flat(24.0), flat(0.6), opening_moisture_kg_kg=0.4)
    (found,) = run_days(Experiment(site, day, 11), [Scenario("change", cloth="8:00")], 40)
    washed = found.day["cars_washed"]
    items = ("cost_damp", "cost_zones", "cost_members", "cost_rewash")
    each = sum(float(found.day[name].sum()) for name in items) / washed.sum()
    assert (found.day["left_damp"] == washed).all()
    # classes and members are drawn, and a price varies by a quarter of itself from car to car:
    # 1.1 % is three standard errors of some 4 800 cars
    assert each == pytest.approx(unwiped_car_cost(site), rel=0.011)


def test_damp_cars_of_a_set_in_parts_by_hand() -> None:
    """Where a car costs as much more as the wheel's wear is of the set's scale, parts cost half the
    age at which each is changed, or half the mean life where none is; however many parts."""
    life = known(2.5, 1000.0)
    for age, span in ((500.0, 500.0), (math.inf, 1000.0 * math.gamma(1.4))):
        dry, damp = (
            in_parts(life, PRICES, age, damp_cost=cost, uptake_loss_at_life=0.2)
            for cost in ((0.0, 0.0), (0.0, 1.0))
        )
        more = [b.cost_rate - a.cost_rate for a, b in zip(dry[1:], damp[1:], strict=True)]
        assert more == pytest.approx([0.5 * span / 1000.0] * 2)


def test_in_parts_by_hand() -> None:
    """Halves: twice as many changes of half the cloth; the whole set is as always."""
    life, age = known(2.5, 1000.0), 500.0
    whole, halves, _ = in_parts(life, PRICES, age, damp_cost=(0.0, 0.0), uptake_loss_at_life=0.2)
    assert whole.cost_rate == pytest.approx(
        Costs(life, PRICES.planned, PRICES.unplanned).mean_rate(np.array([age]))[0]
    )
    work = 25.0 * (SETUP_SHARE + (1.0 - SETUP_SHARE) / 2)
    half = Costs(life, 450.0 + work, 450.0 + work + 150.0 * work / 25.0 + 500.0)
    assert halves.cost_rate == pytest.approx(2.0 * half.mean_rate(np.array([age]))[0])
    # half the strips are as old as the age, half of them half as old
    assert whole.uptake_loss == pytest.approx(0.2 * 0.5)
    assert halves.uptake_loss == pytest.approx(0.2 * 0.5 * 0.75)
    free = in_parts(
        life, replace(PRICES, work=0.0, lost=0.0), age, damp_cost=(0.0, 0.0),
        uptake_loss_at_life=0.2,
    )  # fmt: skip
    # without work half the cars of a change are lost to one of half the strips
    lost = in_parts(
        life, replace(PRICES, work=0.0), age, damp_cost=(0.0, 0.0), uptake_loss_at_life=0.2
    )[1]
    half = Costs(life, 450.0, 450.0 + 150.0 / 2 + 500.0)
    assert lost.cost_rate == pytest.approx(2.0 * half.mean_rate(np.array([age]))[0])
    assert [way.parts for way in free] == [1, 2, 4]
