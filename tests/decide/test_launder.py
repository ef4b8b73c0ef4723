"""How often to launder: against the square-root law of lot sizes, and days gone through singly."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sim.decide.cloth.guesses import LOSSES, Beliefs, DampByLoss
from sim.decide.cloth.launder import (
    GUESSED,
    MOST_DAYS,
    Intervals,
    Laundering,
    SoilAt,
    SoilCosts,
    how_often,
    launder_prices,
)
from sim.inputs import Site
from sim.learn.cloth_looks import LossBelief, loss_prior
from tests.seeds import generator

SITE = Site("Laundered")
SLOPE = 0.7
"""More cars that leave damp for each share of the uptake lost, a straight line here."""
STRAIGHT = DampByLoss(
    tuple(0.1 + loss for loss in LOSSES), tuple(SLOPE * loss for loss in LOSSES), (0.0,) * 6
)
KNOWN = LossBelief(np.array([0.0]), np.ones(1))
CLEAN = Beliefs(STRAIGHT, 1.0, KNOWN, np.array([2.0]))
"""Beliefs about cloth whose wear takes nothing."""
SEASON = [420.0 + 160.0 * math.sin(day / 25.0) for day in range(300)]


def intervals(cars: list[float], **other: float) -> Intervals:
    """Intervals at a site whose laundering costs 40 and whose damp car costs 2."""
    at = {"loss_per_1000": 0.01, "restores": 0.9, "laundering": 40.0, "damp_cost": 2.0, **other}
    return Intervals(SoilCosts(CLEAN, 0.0), cars, SoilAt(**at))


@pytest.mark.parametrize("restores", [1.0, 0.9, 0.5])
def test_little_soil_follows_the_square_root_law(restores: float) -> None:
    """Where cost grows in proportion to the cars since, the best number of cars is √(K ÷ h), K the
    cost of a laundering and h half the growth a car plus what is left in (Harris 1913, How many
    parts to make at once, from memory)."""
    found = intervals(SEASON, loss_per_1000=1e-4, restores=restores, laundering=4.0)
    a_car = -math.log(1.0 - 1e-4) / 1000.0 * SLOPE * 2.0
    by_hand = math.sqrt(4.0 / (a_car * (0.5 + (1.0 - restores) / restores)))
    assert found.best_cars() == pytest.approx(by_hand, rel=0.01)


def test_a_day_costs_what_a_long_run_of_days_does() -> None:
    """The cost a day of an interval, by renewal reward, is that of years gone through car by car,
    and the best interval is the one that a search among these finds."""
    days, cars = 8_400, 400
    found = intervals([float(cars)] * 300)
    long_run = []
    for every in range(1, 13):
        soil, cost = 0.0, 0.0
        for day in range(days):
            if day and day % every == 0:
                soil, cost = 0.1 * soil, cost + 40.0
            met = soil + np.arange(cars) + 0.5
            cost += float((2.0 * SLOPE * (1.0 - 0.99 ** (met / 1000.0))).sum())
            soil += cars
        long_run.append(cost / days)
        assert found.rate(every) == pytest.approx(long_run[-1], rel=0.005)
    assert int(np.argmin(found.rates())) == int(np.argmin(long_run))


def test_a_season_of_unlike_days_is_gone_through_whole() -> None:
    """Whole intervals over a season whose days differ cost what they do day by day."""
    found, every = intervals(SEASON), 7
    soil, cost, launderings = found.settled(7 * sum(SEASON) / 300.0), 0.0, 0
    for day in range(43 * every):
        met = soil + np.linspace(0.0, SEASON[day % 300], 400)
        d = 2.0 * SLOPE * (1.0 - 0.99 ** (met / 1000.0))
        cost += float(np.trapezoid(d, met))
        soil += SEASON[day % 300]
        if (day + 1) % every == 0:
            soil, launderings = 0.1 * soil, launderings + 1
    assert found.rate(every) == pytest.approx((cost + 40.0 * launderings) / (43 * every), rel=1e-3)


def test_never_is_a_season_from_clean() -> None:
    """Without a laundering soil grows all season long; the closed form of its integral says what
    that costs."""
    found = intervals(SEASON)
    total, k = sum(SEASON), -math.log(0.99) / 1000.0
    # losses above the last that was simulated cost what that one does
    edge = min(total, -math.log(1.0 - LOSSES[-1]) / k)
    upto = edge - (1.0 - math.exp(-k * edge)) / k
    by_hand = 2.0 * SLOPE * (upto + (total - edge) * LOSSES[-1]) / 300.0
    assert found.never() == pytest.approx(by_hand, rel=1e-3)


def advice(
    site: Site = SITE,
    known: tuple[str, ...] = (),
    damp_cost: tuple[float, ...] = (1.0, 2.0, 3.0),
) -> Laundering:
    """The advice at a site."""
    beliefs = Beliefs(STRAIGHT, 1.0, loss_prior(site, ()), np.array(damp_cost))
    return how_often(site, known, beliefs, 0.5, 0.015, SEASON)


def test_savings_are_differences_of_the_curve() -> None:
    """What is saved a year is the difference of two costs a day, open days times; the best lies
    within the range, and every interval called near costs at most 2 % more."""
    found = advice()
    rates = {days: rate for days, rate, _ in found.curve}
    assert found.cost_per_day == min(rates.values()) == rates[found.days]
    assert found.saves_nightly == pytest.approx(300 * (rates[1] - rates[found.days]), rel=1e-12)
    assert found.saves_present == pytest.approx(300 * (rates[7] - rates[found.days]), rel=1e-12)
    assert found.saves_never > found.saves_nightly > 0.0
    assert found.low <= found.days <= found.high
    assert all(rates[days] <= 1.02 * found.cost_per_day + 1e-12 for days in found.near)
    assert {guess.input for guess in found.guesses} == set(GUESSED)
    # more soil, sooner; dearer damp cars, sooner
    by_name = {guess.input: guess for guess in found.guesses}
    for name in ("soil_loss_per_1000_cars", "damp_cost"):
        assert by_name[name].days_high <= found.days <= by_name[name].days_low
        assert by_name[name].days_high < by_name[name].days_low


def test_what_a_site_entered_is_no_guess() -> None:
    """An input that the site entered itself is drawn for no range."""
    found = advice(known=GUESSED, damp_cost=(2.0,))
    assert found.guesses == ()
    assert found.low == found.days == found.high


def test_an_interval_is_firm_by_the_one_definition() -> None:
    """With every guess entered no interval is better anywhere; with none at more than one drawn
    site of twenty another is better by 2 %, and soil decides most."""
    sure, open_ = advice(known=GUESSED, damp_cost=(2.0,)), advice()
    assert sure.standing.is_firm
    assert (sure.standing.sites, sure.standing.bettered) == (64, 0.0)
    assert not open_.standing.is_firm
    assert open_.rival in (open_.low, open_.high, open_.present_days, 1)
    assert open_.standing.turns[0].input == "soil_loss_per_1000_cars"


def test_without_soil_nothing_is_laundered_for_it() -> None:
    """Where soil takes nothing the least cost is the longest interval, and no car is damp by it."""
    found = advice(SITE.with_values({"soil_loss_per_1000_cars": 0.0}), known=GUESSED)
    assert found.days == MOST_DAYS
    assert math.isinf(found.cars)
    assert found.soil_lost == 0.0
    assert found.more_damp_share == pytest.approx(0.0, abs=1e-15)


def test_a_laundering_costs_laundry_hands_and_wear() -> None:
    """The hands are people × time × wage; where a dry set is hung every morning they come anyway.
    By hand: 35 min × 2 people × 20 $/h = 23.33 $; 250 full wipes at 1.5 cents = 3.75 $."""
    prices = launder_prices(SITE, 0.015)
    assert prices.laundry == 15.0
    assert prices.work == pytest.approx(23.3333, abs=1e-3)
    assert prices.wear == pytest.approx(3.75)
    assert prices.together == pytest.approx(42.0833, abs=1e-3)
    every_morning = SITE.with_values({"dry_set_at_opening": True})
    assert launder_prices(every_morning, 0.015).work == 0.0


def test_worn_cloth_has_less_to_lose() -> None:
    """Soil takes its share of what wear has left, so it costs less a car on worn cloth; in straight
    lines by just that share."""
    worn = replace(CLEAN, loss=LossBelief(np.array([0.4]), np.ones(1)))
    soil = generator("soil on worn cloth").uniform(0.0, 0.3, 20)
    new, old = SoilCosts(CLEAN, 1.0).of(soil, 2.0), SoilCosts(worn, 1.0).of(soil, 2.0)
    assert new == pytest.approx(2.0 * SLOPE * soil, rel=1e-12)
    assert old == pytest.approx(0.8 * new, rel=1e-12)
    assert SoilCosts(CLEAN, 1.0).damp(soil) == pytest.approx(soil, rel=1e-12)
