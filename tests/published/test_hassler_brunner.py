"""Suction in a spinning column of water.

Hassler & Brunner 1945, Measurement of capillary pressures in small core samples, Transactions
AIME 160:114–123 (citation from memory): ½·ρ·ω²·(r₂² − r₁²) = ρ·g·Ḡ·L. The strip is an example of
our own, 120 rev/min from 0.15 to 0.65 m.
"""

from __future__ import annotations

import pytest

from sim.physics.belt import g_force
from sim.physics.moisture import mean_g, suction_pa

STRIP = (2.0, 0.15, 0.65)  # 120 rev/min, inner and outer radius [m]


def test_suction_is_the_same_both_ways() -> None:
    """Half ρ·ω²·(r₂² − r₁²) equals ρ·g·mean G·length, 31.58 kPa here."""
    suction = suction_pa(*STRIP)
    assert suction == pytest.approx(31_580.0, abs=5.0)
    assert suction == pytest.approx(1000.0 * 9.80665 * mean_g(*STRIP) * 0.5, rel=1e-12)


def test_mean_g_is_that_of_the_middle() -> None:
    """Ḡ is 6.44, at the tip it is 10.47, and Ḡ·L is 3.22 m of water."""
    assert mean_g(*STRIP) == pytest.approx(6.44, abs=5e-3)
    assert mean_g(*STRIP) == pytest.approx(g_force(2.0, 0.4), rel=1e-12)
    assert g_force(2.0, 0.65) == pytest.approx(10.47, abs=5e-3)
    assert mean_g(*STRIP) * 0.5 == pytest.approx(3.22, abs=5e-3)


def test_a_denser_liquid_pulls_harder() -> None:
    """Suction is proportional to density and vanishes on a standing wheel."""
    assert suction_pa(*STRIP, 500.0) == pytest.approx(0.5 * suction_pa(*STRIP), rel=1e-14)
    assert suction_pa(0.0, 0.15, 0.65) == 0.0
