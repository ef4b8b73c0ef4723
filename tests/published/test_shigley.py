"""Sliding of a bushing with boundary lubrication.

Shigley's Mechanical Engineering Design, boundary-lubricated bearings, oil-filled bronze bushing.
FROM MEMORY: bushing of 1 in, 33 ft/min, worn out after 2180 h, 126 rev/min, 16.5e6 cycles.
"""

from __future__ import annotations

import math

import pytest

from sim.physics.wear import sliding_distance_m
from sim.units import FOOT_M, INCH_M

SURFACE_SPEED_M_S = 33.0 * FOOT_M / 60.0


def test_cycles_of_the_bushing() -> None:
    """33 ft/min around 1 in are 126 rev/min, and 2180 h of it 16.5e6 turns."""
    a_turn_m = math.pi * INCH_M
    assert sliding_distance_m(SURFACE_SPEED_M_S, 0.0, 60.0) / a_turn_m == pytest.approx(
        126, abs=0.5
    )
    turns = sliding_distance_m(SURFACE_SPEED_M_S, 0.0, 2180.0 * 3600.0) / a_turn_m
    assert turns == pytest.approx(16.5e6, abs=0.05e6)
