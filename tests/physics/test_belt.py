"""Belt and wheel speed: whole pushers, flow, g-force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.inputs import DEFAULT_CLASSES, INPUTS
from sim.physics.belt import (
    belt_capacity_per_s,
    cars_per_s,
    mean_pushers_apart,
    pusher_at_or_after,
    pushers_apart,
)
from tests import seeds

PITCHES = st.floats(0.2, 5.0)
CAR_PAIRS = 8_000


@given(st.integers(0, 200_000), PITCHES)
def test_a_car_on_a_pusher_stays_on_it(number: int, pitch: float) -> None:
    """Travel of exactly k pitches, rounded as it may be, is pusher k and never k + 1."""
    assert pusher_at_or_after(number * pitch, pitch) == number


@given(st.floats(0.0, 20_000.0), PITCHES)
def test_the_next_pusher_is_the_first_that_is_not_behind(travel: float, pitch: float) -> None:
    """Pusher k is at or after the travel and pusher k − 1 before it, but for rounding."""
    number = pusher_at_or_after(travel, pitch)
    assert number * pitch >= travel - 2e-9 * pitch
    assert (number - 1) * pitch < travel


@given(
    st.floats(4.0, 15.0), st.floats(0.3, 6.0), PITCHES,
    st.floats(2.0, 8.0), st.floats(0.0, 3.0), st.floats(0.0, 3.0),
)  # fmt: skip
def test_neither_spacing_nor_gap_is_undercut_nor_a_pusher_wasted(
    spacing: float, gap: float, pitch: float, length: float, ahead: float, pushed: float
) -> None:
    """Noses are at least the spacing apart, bumpers the gap, and one pusher less would not do."""
    number = pushers_apart(spacing, gap, pitch, length, ahead, pushed)

    def noses_m(pushers: int) -> float:
        return pushers * pitch + ahead - pushed

    needed = max(spacing, length + gap)
    assert noses_m(number) >= needed - 1e-8
    assert noses_m(number - 1) < needed
    assert number >= 1


def test_pushers_between_two_cars_by_hand() -> None:
    """A sedan behind a sedan needs 6.05 m of nose to nose: nine pushers of 0.75 m."""
    assert pushers_apart(6.0, 1.2, 0.75, 4.85, 0.95, 0.95) == 9
    assert pushers_apart(6.0, 1.15, 0.75, 4.85, 0.95, 0.95) == 8  # 6.00 m are eight exactly
    assert pushers_apart(6.0, 1.2, 0.75, 4.10, 0.85, 0.95) == 9  # 6.00 m + 0.10 m to the wheel
    assert pushers_apart(6.0, 1.2, 0.75, 4.10, 0.95, 0.85) == 8  # 6.00 m − 0.10 m


def test_stops_take_their_share_of_the_capacity() -> None:
    """A belt without stops carries a car each spacing; with seldom ones it stands λ·E[S] of the
    time, and a car that stops it costs the stop; with many at once it still moves e^(−λE[S])."""
    running = belt_capacity_per_s(0.25, 0.75, 8.0)
    assert running == pytest.approx(cars_per_s(0.25, 6.0))
    seldom = belt_capacity_per_s(0.25, 0.75, 8.0, stops_per_s=1e-7, mean_stop_s=10.0)
    assert seldom == pytest.approx((1.0 - 1e-6) * running, rel=1e-11)
    by_car = belt_capacity_per_s(0.25, 0.75, 8.0, stops_per_car=0.01, mean_stop_s=60.0)
    assert 1.0 / by_car == pytest.approx(24.0 + 0.6)
    often = belt_capacity_per_s(0.25, 0.75, 8.0, stops_per_s=0.02, mean_stop_s=100.0)
    assert often == pytest.approx(np.exp(-2.0) * running)
    assert belt_capacity_per_s(0.25, 0.75, 8.0, stops_per_s=1.0, mean_stop_s=5_000.0) > 0.0


@pytest.mark.parametrize("mean_m", [4.4, 4.79, 4.81, 5.6])
def test_mean_pushers_are_those_of_random_lengths(mean_m: float) -> None:
    """Half a million drawn lengths need as many pushers as the formula says, to 4 errors; at the
    mean length alone some needed a third of a pusher more or less."""
    rng = seeds.generator(f"pushers {mean_m}")
    least, most = mean_m - 0.7, mean_m + 0.9
    drawn = np.clip(mean_m + 0.4 * rng.standard_normal(500_000), least, most)
    needed = np.ceil((np.maximum(5.0, drawn + 1.2) + 0.1) / 0.75)
    found = mean_pushers_apart(5.0, 1.2, 0.75, (mean_m, 0.4, least, most), 0.85, 0.95)
    assert found == pytest.approx(needed.mean(), abs=4.0 * needed.std() / np.sqrt(len(needed)))


def test_the_default_line_carries_about_134_cars_an_hour() -> None:
    """Default classes in random order, whole pushers and default stops give 134 cars/h, ±1.

    Own figure of the default site, a check that the defaults and the functions fit each other.
    """
    rng = seeds.generator("default capacity")
    numbers = [c.numbers for c in DEFAULT_CLASSES]
    picks = rng.choice(len(numbers), size=CAR_PAIRS + 1, p=[n.share for n in numbers])
    cars = [numbers[i] for i in picks]
    lengths = [rng.normal(car.length_m, car.length_sd_m) for car in cars]

    def default(name: str) -> float:
        value = INPUTS[name].default
        assert isinstance(value, int | float)
        return float(value)

    pitch = default("pusher_pitch_m")
    total = sum(
        pushers_apart(
            default("car_spacing_m"), default("least_gap_m"), pitch,
            lengths[i], cars[i].pushed_wheel_m, cars[i + 1].pushed_wheel_m,
        )
        for i in range(CAR_PAIRS)
    )  # fmt: skip
    mean_stop_s = 45.0 * 1.377  # lognormal: median 45 s, log-sd 0.8, mean factor e^0.32
    per_s = belt_capacity_per_s(
        default("conveyor_speed_m_s"), pitch, total / CAR_PAIRS, default("stops_per_h") / 3600.0,
        default("stops_per_car"), mean_stop_s,
    )  # fmt: skip
    assert 3600.0 * per_s == pytest.approx(134.0, abs=1.0)
