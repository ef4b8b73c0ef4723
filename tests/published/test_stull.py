"""Wet-bulb temperature.

Stull 2011, Wet-bulb temperature from relative humidity and air temperature, J. Appl. Meteor.
Climatol. 50:2267–2269 (from memory): 13.7 °C at 20 °C and 50 %. Stull's formula is a fit and the
thermodynamic value is 13.78, hence ±0.15 K. The other rows were computed with CoolProp 8.0.0.
"""

from __future__ import annotations

import pytest

from sim.physics.air import humidity_ratio, wet_bulb_c

SEA_LEVEL = 101_325.0


def wet_bulb(temp_c: float, humidity: float) -> float:
    """Wet bulb at sea level from relative humidity."""
    return wet_bulb_c(temp_c, humidity_ratio(temp_c, humidity, SEA_LEVEL), SEA_LEVEL)


def test_wet_bulb_of_the_paper() -> None:
    """At 20 °C and 50 % the wet bulb is 13.7 °C, ±0.15 K."""
    assert wet_bulb(20.0, 0.5) == pytest.approx(13.7, abs=0.15)


@pytest.mark.parametrize(
    ("temp_c", "humidity", "expected_c"),
    [  # HAPropsSI("B", "T", t + 273.15, "R", humidity, "P", 101325) − 273.15
        (25, 0.5, 17.883), (30, 0.5, 22.001), (10, 0.8, 8.288), (35, 0.3, 21.516), (5, 0.9, 4.300),
    ],
)  # fmt: skip
def test_wet_bulb_of_a_real_gas(temp_c: float, humidity: float, expected_c: float) -> None:
    """The ideal-gas wet bulb is within 0.03 K of the real gas in five weathers."""
    assert wet_bulb(temp_c, humidity) == pytest.approx(expected_c, abs=0.03)
