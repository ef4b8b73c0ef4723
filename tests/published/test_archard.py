"""Archard's law of wear in SI.

Archard 1953, Contact and rubbing of flat surfaces, J. Appl. Phys. 24:981–988 (citation from
memory). A check of units: the wear coefficient of cloth on paint is unknown.
"""

from __future__ import annotations

import pytest

from sim.physics.wear import archard_volume_m3


def test_a_cubic_millimetre() -> None:
    """k = 1e-4, 10 N over 1 km and 1 GPa wear off exactly 1 mm³."""
    assert archard_volume_m3(1e-4, 10.0, 1000.0, 1e9) == pytest.approx(1e-9, rel=1e-12)
