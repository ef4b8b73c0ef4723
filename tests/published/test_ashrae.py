"""Moist air of the ASHRAE Handbook.

ASHRAE Handbook—Fundamentals 2017, ch. 1, tables 2 and 3 and example 1, as quoted in the test file
of the psychrolib project. The tables are of real gases; psychrolib, which the model uses, takes
ideal ones, and that is the reason for each tolerance below.
"""

from __future__ import annotations

import pytest

from sim.physics.air import (
    humidity_ratio,
    saturated_humidity_ratio,
    saturation_pressure_pa,
    wet_bulb_c,
)

SEA_LEVEL = 101_325.0


@pytest.mark.parametrize(
    ("temp_c", "ratio"),
    [  # table 2, humidity ratio at saturation
        (-20, 0.0006373), (-5, 0.0024863), (5, 0.005425), (25, 0.020173), (50, 0.086863),
        (85, 0.838105),
    ],
)  # fmt: skip
def test_humidity_ratio_of_saturated_air(temp_c: float, ratio: float) -> None:
    """Within 1 % of the table up to 50 °C and 1.5 % above, always low: the gas is taken as ideal.

    The wheel never meets air above 50 °C.
    """
    tolerance = 0.01 if temp_c <= 50 else 0.015
    computed = saturated_humidity_ratio(temp_c, SEA_LEVEL)
    assert computed == pytest.approx(ratio, rel=tolerance)
    assert computed < ratio


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"),
    [  # table 3, vapour pressure over ice and water
        (-20, 103.24), (-5, 401.74), (5, 872.6), (25, 3169.7), (50, 12_351.3), (100, 101_418.0),
    ],
)  # fmt: skip
def test_vapour_pressure(temp_c: float, pressure_pa: float) -> None:
    """Vapour pressure is the table's to 0.03 %."""
    assert saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)


def test_moist_air_example() -> None:
    """Air of 40 °C with a wet bulb of 20 °C has W = 0.0065 and 14 % (example 1, read off a chart).

    Taken the other way round: 14 % ± ½ % meets 0.0065 ± ½ digit, and the wet bulb of 0.0065 is
    20 °C to 0.15 K. Half a digit is worth 0.04 K, the ideal gas another 0.08 K.
    """
    low, high = (humidity_ratio(40.0, share, SEA_LEVEL) for share in (0.135, 0.145))
    assert low <= 0.00655
    assert high >= 0.00645
    assert wet_bulb_c(40.0, 0.0065, SEA_LEVEL) == pytest.approx(20.0, abs=0.15)
