"""Flow of evenly spaced vehicles: flow = density × speed, the basic identity of traffic flow.

Identity, no outside number involved.
"""

from __future__ import annotations

import pytest

from sim.physics.belt import belt_capacity_per_s, cars_per_s
from sim.units import UNITS


@pytest.mark.parametrize(
    ("speed_m_s", "spacing_m", "per_hour"),
    [(0.1, 6.0, 60), (0.25, 6.0, 150), (0.15, 5.4, 100), (0.2, 7.2, 100)],
)
def test_cars_per_hour(speed_m_s: float, spacing_m: float, per_hour: float) -> None:
    """3600 × speed ÷ nose-to-nose distance cars pass in an hour."""
    assert 3600.0 * cars_per_s(speed_m_s, spacing_m) == pytest.approx(per_hour, rel=1e-12)
    eight_pushers = belt_capacity_per_s(speed_m_s, spacing_m / 8.0, 8.0)
    assert 3600.0 * eight_pushers == pytest.approx(per_hour, rel=1e-12)


def test_a_belt_speed_in_us_units() -> None:
    """100 ft/min are 0.508 m/s."""
    assert UNITS["speed"].to_si(100.0, "us") == pytest.approx(0.508, rel=1e-12)
