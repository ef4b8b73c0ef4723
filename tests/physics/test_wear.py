"""Sliding distance and wear in full-wipe equivalents."""

from __future__ import annotations

import math

import pytest

from sim.physics.wear import idle_wear_at, sliding_distance_m, spinning_wear, wear_equivalents


def test_only_the_relative_speed_rubs() -> None:
    """Cloth running along with the car slides less than against it; at equal speed not at all."""
    assert sliding_distance_m(6.0, 0.25, 10.0) == pytest.approx(57.5)
    assert sliding_distance_m(6.0, -0.25, 10.0) == pytest.approx(62.5)
    assert sliding_distance_m(0.25, 0.25, 10.0) == 0.0
    assert sliding_distance_m(0.1, 0.25, 10.0) == pytest.approx(1.5)


def test_the_reference_car_wears_one() -> None:
    """The reference sedan, dry, is one full-wipe equivalent; wet it is the wet factor."""
    assert wear_equivalents(80.0, 80.0, 1.0) == 1.0
    assert wear_equivalents(80.0, 80.0, 0.6) == pytest.approx(0.6)
    assert wear_equivalents(40.0, 80.0, 1.0) == pytest.approx(0.5)


def test_spinning_counts_by_the_hour() -> None:
    """Twenty minutes at 3 equivalents an hour are one."""
    assert spinning_wear(1200.0, 3.0) == pytest.approx(1.0)


@pytest.mark.parametrize(("speed", "centimetres"), [(0.9, 110.0), (1.5, 20.0), (2.0, 75.0)])
def test_with_an_exponent_of_two_it_goes_with_the_centrifugal_force(
    speed: float, centimetres: float
) -> None:
    """Centrifugal acceleration is ω²r (textbook mechanics), and its ratio to that at the reference
    speed is the ratio of wear, at any radius."""
    omega, reference, radius = 2.0 * math.pi * speed, 2.0 * math.pi * 1.5, centimetres / 100.0
    ratio = (omega**2 * radius) / (reference**2 * radius)
    assert idle_wear_at(speed, 1.5, 3.0, 2.0) == pytest.approx(3.0 * ratio)


def test_idle_wear_holds_at_its_reference_speed_and_ends_with_the_spinning() -> None:
    """Whatever the exponent; with none it is the same at every speed of a turning wheel."""
    for exponent in (0.0, 1.0, 2.7):
        assert idle_wear_at(1.5, 1.5, 3.0, exponent) == 3.0
        assert idle_wear_at(0.0, 1.5, 3.0, exponent) == 0.0
    assert idle_wear_at(0.3, 1.5, 3.0, 0.0) == 3.0
