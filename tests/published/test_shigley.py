"""Life of a bushing with boundary lubrication.

Shigley's Mechanical Engineering Design, boundary-lubricated bearings, oil-filled bronze bushing.
FROM MEMORY: wear factor 0.6e-10 in³·min/(lbf·ft·h), f₁ 1.3, f₂ 1, bushing 1 in × 1 in, 33 ft/min,
700 lbf, wear of 0.005 in after 2180 h, 126 rev/min, 16.5e6 cycles.
"""

from __future__ import annotations

import math

import pytest

from sim.physics.wear import archard_volume_m3, sliding_distance_m
from sim.units import FOOT_M, INCH_M, POUND_KG

LBF_N = POUND_KG * 9.80665
# per hour and per ft/min: an hour at 1 ft/min slides 60 ft
WEAR_FACTOR = 1.3 * 1.0 * 0.6e-10 * INCH_M**3 / (60.0 * FOOT_M * LBF_N)  # m³ per N and m of sliding
SURFACE_SPEED_M_S = 33.0 * FOOT_M / 60.0
# wear goes with the largest pressure, 4/π of force over projected area
WORN_AREA_M2 = math.pi / 4.0 * INCH_M * INCH_M


def test_life_of_the_bushing() -> None:
    """0.005 in are worn off after 2180 h ± 5 h: the rounding of the book."""
    an_hour_m = sliding_distance_m(SURFACE_SPEED_M_S, 0.0, 3600.0)
    depth_per_hour_m = archard_volume_m3(WEAR_FACTOR, 700.0 * LBF_N, an_hour_m, 1.0) / WORN_AREA_M2
    assert 0.005 * INCH_M / depth_per_hour_m == pytest.approx(2180.0, abs=5.0)


def test_cycles_of_the_bushing() -> None:
    """33 ft/min around 1 in are 126 rev/min, and 2180 h of it 16.5e6 turns."""
    a_turn_m = math.pi * INCH_M
    assert sliding_distance_m(SURFACE_SPEED_M_S, 0.0, 60.0) / a_turn_m == pytest.approx(
        126, abs=0.5
    )
    turns = sliding_distance_m(SURFACE_SPEED_M_S, 0.0, 2180.0 * 3600.0) / a_turn_m
    assert turns == pytest.approx(16.5e6, abs=0.05e6)
