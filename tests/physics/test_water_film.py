"""Water on the car and what the cloth takes of it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sim.physics.water_film import (
    allowed_film,
    damp_limit_of,
    film_at_wheel,
    film_sigma,
    left_by_soil,
    soil_after_laundering,
    uptake_now,
    wipe_zone,
    wiping_share,
)
from tests import seeds

ZONES_INTEGRATED = 200


@st.composite
def zones(draw: st.DrawFn) -> tuple[float, float, float, float, float, float]:
    """Arguments of `wipe_zone`, from no water to far more than the cloth can hold."""
    holding = draw(st.floats(0.5, 6.0))
    moisture = holding * draw(st.one_of(st.sampled_from([0.0, 1.0]), st.floats(0.0, 1.2)))
    film = draw(st.one_of(st.sampled_from([0.0, 1e-300, 1e-9]), st.floats(0.0, 5.0)))
    area = draw(st.one_of(st.just(0.0), st.floats(0.01, 8.0)))
    kappa = draw(st.floats(0.0, 1.0))
    mass = draw(st.one_of(st.floats(0.05, 50.0), st.just(1e-6)))
    return moisture, film, area, kappa, holding, mass


@given(zones())
def test_saturation_never_passes_one_and_no_more_is_taken_than_there_is(
    zone: tuple[float, float, float, float, float, float],
) -> None:
    """However much water meets however little cloth, S ≤ 1 and 0 ≤ w ≤ film · area."""
    moisture, film, area, _, holding, _ = zone
    after, water, left = wipe_zone(*zone)
    assert moisture <= after <= max(moisture, holding)
    assert 0.0 <= water <= film * area
    assert 0.0 <= left <= film


@given(zones())
def test_what_the_car_loses_the_cloth_gains(
    zone: tuple[float, float, float, float, float, float],
) -> None:
    """Water taken is the gain of the cloth and the loss of the zone."""
    moisture, film, area, _, _, mass = zone
    after, water, left = wipe_zone(*zone)
    assert after - moisture == pytest.approx(water / mass, abs=1e-12 * max(1.0, after))
    assert (film - left) * area == pytest.approx(water, abs=1e-12 * max(1.0, water))


def test_wiping_equals_the_integral_over_the_zone() -> None:
    """The closed form equals a solver's integral of κ·(1 − S)·film over the area, to 1e-9."""
    rng = seeds.generator("wipe zone integral")
    for _ in range(ZONES_INTEGRATED):
        holding, mass = rng.uniform(0.5, 4.0), rng.uniform(0.1, 30.0)
        moisture = holding * rng.uniform(0.0, 1.0)
        film, area, kappa = rng.uniform(0.0, 0.5), rng.uniform(0.1, 4.0), rng.uniform(0.0, 1.0)

        def gain(
            _: float, x: list[float], rate: float = kappa * film / mass, holding: float = holding
        ) -> list[float]:
            return [rate * (1.0 - x[0] / holding)]

        solved = solve_ivp(gain, (0.0, area), [moisture], rtol=1e-12, atol=1e-14, method="DOP853")
        expected = float(solved.y[0, -1])
        after, water, _ = wipe_zone(moisture, film, area, kappa, holding, mass)
        assert after == pytest.approx(expected, abs=1e-9)
        assert water == pytest.approx((expected - moisture) * mass, abs=1e-8)


def test_much_cloth_takes_its_share_of_the_film() -> None:
    """For much cloth the water taken is κ·(1 − S)·film·area."""
    _, water, left = wipe_zone(0.55, 0.03, 1.5, 0.8, 2.2, 1e9)
    assert water == pytest.approx(0.8 * 0.75 * 0.03 * 1.5, rel=1e-9)
    assert left == pytest.approx(0.03 * (1 - 0.8 * 0.75), rel=1e-9)


def test_a_zone_cut_in_two_is_wiped_the_same() -> None:
    """Two halves of a zone, one after the other, load the cloth as the whole zone does."""
    whole = wipe_zone(0.3, 0.05, 2.0, 0.8, 2.2, 0.5)
    first = wipe_zone(0.3, 0.05, 1.0, 0.8, 2.2, 0.5)
    second = wipe_zone(first[0], 0.05, 1.0, 0.8, 2.2, 0.5)
    assert second[0] == pytest.approx(whole[0], abs=1e-14)
    assert first[1] + second[1] == pytest.approx(whole[1], abs=1e-14)
    assert second[1] < first[1]


@pytest.mark.parametrize("moisture", [2.2, 2.5])
def test_full_cloth_takes_nothing(moisture: float) -> None:
    """Cloth at or above its holding capacity leaves the film as it was."""
    assert wipe_zone(moisture, 0.03, 1.5, 0.9, 2.2, 20.0) == (moisture, 0.0, 0.03)


def test_a_zone_without_area_is_skipped() -> None:
    """An open bed has no rear to wipe: nothing changes."""
    assert wipe_zone(0.4, 0.03, 0.0, 0.9, 2.2, 20.0) == (0.4, 0.0, 0.03)


@given(st.floats(0.05, 0.6), st.floats(0.05, 0.6), st.floats(0.0, 0.99))
def test_a_slower_belt_removes_more(one: float, other: float, saturation: float) -> None:
    """At the same cloth and the same film the slower belt leaves no more water on the car."""
    slow, fast = sorted((one, other))

    def left(speed: float) -> float:
        kappa = wiping_share(0.92, 0.5, speed, 0.8)
        return wipe_zone(saturation * 2.2, 0.03, 1.5, kappa, 2.2, 20.0)[2]

    assert left(slow) <= left(fast)
    if fast > 1.01 * slow:
        assert left(slow) < left(fast)


def test_the_share_wiped_by_hand() -> None:
    """Contact for one time constant takes 1 − 1/e of what endless contact takes."""
    assert wiping_share(0.9, 0.4, 0.5, 0.8) == pytest.approx(0.9 * (1 - math.exp(-1)), rel=1e-15)
    assert wiping_share(0.9, 2.0, 0.01, 0.05) == pytest.approx(0.9, rel=1e-15)


def test_film_at_the_reference_speed() -> None:
    """At the reference speed the blowers leave 1 − removal, times zone factor and car factor."""
    film = film_at_wheel(1.3, 0.1, 0.7, 0.25, 0.5, 0.25, 1.1)
    assert film == pytest.approx(1.3 * 0.1 * 0.3 * 1.1, rel=1e-14)


def test_half_the_speed_blows_twice_as_long() -> None:
    """With exponent 1 half the speed is blowing twice; with exponent 0 speed does not matter."""
    assert film_at_wheel(1, 0.1, 0.7, 0.25, 1.0, 0.125, 1) == pytest.approx(0.1 * 0.3**2)
    assert film_at_wheel(1, 0.1, 0.7, 0.25, 0.0, 0.125, 1) == pytest.approx(0.1 * 0.3)
    slower = film_at_wheel(1, 0.1, 0.7, 0.25, 0.5, 0.2, 1)
    faster = film_at_wheel(1, 0.1, 0.7, 0.25, 0.5, 0.3, 1)
    assert slower < 0.03 < faster


@given(st.floats(0.0, 1.5))
def test_the_spread_of_films_is_the_entered_one(cv: float) -> None:
    """A lognormal with log-sd of `film_sigma` has the coefficient of variation it was made from."""
    assert math.sqrt(math.expm1(film_sigma(cv) ** 2)) == pytest.approx(cv, abs=1e-12)


def test_uptake_falls_in_a_straight_line_until_worn_out() -> None:
    """Uptake is whole when new, loses half its loss at half life and no more after life."""
    assert uptake_now(0.9, 0.2, 0.0, 60_000, 1.0) == 0.9
    assert uptake_now(0.9, 0.2, 30_000, 60_000, 1.0) == pytest.approx(0.81)
    assert uptake_now(0.9, 0.2, 60_000, 60_000, 1.0) == pytest.approx(0.72)
    assert uptake_now(0.9, 0.2, 90_000, 60_000, 1.0) == uptake_now(0.9, 0.2, 60_000, 60_000, 1.0)


def test_soil_takes_its_share_of_what_is_left() -> None:
    """A thousand cars take the entered share, each further thousand the same of what is left, and
    the whole of wear and soil is their product; no soil changes no bit."""
    assert left_by_soil(0.01, 0.0) == left_by_soil(0.0, 5_000.0) == 1.0
    assert left_by_soil(0.01, 1_000.0) == pytest.approx(0.99, rel=1e-15)
    assert left_by_soil(0.05, 3_000.0) == pytest.approx(0.95**3, rel=1e-14)
    # the limit of many small steps: a loss in proportion to what is left decays exponentially
    assert left_by_soil(1e-6, 5e8) == pytest.approx(math.exp(-0.5), rel=1e-6)
    worn = uptake_now(0.92, 0.2, 12_345.0, 60_000, 1.0)
    assert uptake_now(0.92, 0.2, 12_345.0, 60_000, 0.75) == pytest.approx(0.75 * worn, rel=1e-15)


@given(st.floats(0.0, 1.0), st.floats(1.0, 1e4))
def test_soil_between_launderings_settles(restores: float, cars: float) -> None:
    """Laundered each so many cars, cloth comes to hold cars ÷ restores before a laundering: the
    sum of a geometric series."""
    held = 0.0
    for _ in range(2_000):
        held = soil_after_laundering(held + cars, restores)
    if restores > 0.02:
        assert held == pytest.approx(cars * (1.0 - restores) / restores, rel=1e-9, abs=1e-9)


@given(st.floats(0.005, 0.2), st.floats(0.05, 1.0), st.floats(0.0, 1.0))
def test_damp_limit_and_allowed_film_are_inverse(film: float, kappa: float, limit: float) -> None:
    """The damp limit derived from the film that was derived from it is the same."""
    allowed = allowed_film(film, kappa, limit)
    assert damp_limit_of(film, kappa, allowed) == pytest.approx(limit, abs=1e-12)
    assert film * (1.0 - kappa) - 1e-15 <= allowed <= film


def test_allowed_film_is_what_much_cloth_at_the_limit_leaves() -> None:
    """The reference car wiped by much cloth just at the damp limit keeps the allowed film."""
    kappa = wiping_share(0.92, 0.5, 0.25, 0.8)
    left = wipe_zone(0.6 * 2.2, 0.03, 1.5, kappa, 2.2, 1e9)[2]
    assert allowed_film(0.03, kappa, 0.6) == pytest.approx(left, rel=1e-9)
    # the two defaults of the table of inputs, to half the last digit
    assert allowed_film(0.03, kappa, 0.6) == pytest.approx(0.0199, abs=5e-5)


def test_films_beyond_wiping_are_told_apart() -> None:
    """A film that dry cloth leaves gives a limit of 0, one that needs no wiping a limit of 1."""
    assert damp_limit_of(0.03, 0.8, 0.03 * 0.2) == pytest.approx(0.0, abs=1e-12)
    assert damp_limit_of(0.03, 0.8, 0.03 * 0.1) < 0.0
    assert damp_limit_of(0.03, 0.8, 0.03) == 1.0
    assert damp_limit_of(0.03, 0.8, 0.04) > 1.0
