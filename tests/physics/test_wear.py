"""Sliding distance and wear in full-wipe equivalents."""

from __future__ import annotations

import pytest

from sim.physics.wear import sliding_distance_m, spinning_wear, wear_equivalents


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
