"""Film running down a wall.

Bird, Stewart & Lightfoot, Transport Phenomena, example 2.2-1. FROM MEMORY: oil of 2e-4 m²/s and
800 kg/m³, film of 2.5 mm, g 9.80: 0.204 kg/(m·s) at a Reynolds number 4·Γ/μ of 5.1.
"""

from __future__ import annotations

import pytest

from sim.physics.water_film import falling_film_kg_m_s


def test_oil_film_on_a_wall() -> None:
    """The film carries 0.204 kg/(m·s) and has a Reynolds number of 5.1, to half a digit."""
    flow = falling_film_kg_m_s(2.5e-3, 800.0, 2e-4)
    assert flow == pytest.approx(0.204, abs=5e-4)
    assert 4.0 * flow / (2e-4 * 800.0) == pytest.approx(5.1, abs=0.05)


def test_twice_the_film_carries_eight_times_the_flow() -> None:
    """Flow goes with the cube of thickness."""
    thin, thick = (falling_film_kg_m_s(d, 1000.0, 1e-6) for d in (1e-5, 2e-5))
    assert thick == pytest.approx(8.0 * thin, rel=1e-12)
