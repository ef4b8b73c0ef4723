"""Humidity from a dry and a wet thermometer."""

from __future__ import annotations

import itertools

import psychrolib
import pytest

from sim.physics.air import humidity_from_wet_bulb, humidity_ratio, wet_bulb_c


def test_the_handbook_example() -> None:
    """40 °C dry and 20 °C wet bulb at 101.325 kPa is 14 % (ASHRAE Handbook, Fundamentals 2017,
    chapter 1, example 1, as quoted in the tests of psychrolib), to half its last digit."""
    assert humidity_from_wet_bulb(40.0, 20.0, 101_325.0) == pytest.approx(0.14, abs=0.005)


def test_limits() -> None:
    """A wet bulb equal to the dry bulb is saturated air; one that no air reaches gives 0."""
    assert humidity_from_wet_bulb(25.0, 25.0, 101_325.0) == pytest.approx(1.0)
    assert humidity_from_wet_bulb(35.0, 5.0, 101_325.0) == 0.0


@pytest.mark.parametrize(
    ("temp", "humidity"), [(35.0, 0.18), (22.0, 0.45), (30.0, 0.7), (4.0, 0.9)]
)
def test_the_wet_bulb_equation_is_the_inverse_of_the_wet_bulb(temp: float, humidity: float) -> None:
    """Humidity to wet bulb and back is the same to a tenth of a per cent."""
    bulb = wet_bulb_c(temp, humidity_ratio(temp, humidity, 101_325.0), 101_325.0)
    assert humidity_from_wet_bulb(temp, bulb, 101_325.0) == pytest.approx(humidity, abs=1e-3)


@pytest.mark.parametrize("pressure_pa", [80_000.0, 101_325.0])
def test_the_wet_bulb_is_that_of_a_general_library(pressure_pa: float) -> None:
    """psychrolib halves an interval to a thousandth of a kelvin; from frost to 60 °C and from bone
    dry to saturated its wet bulb is ours to that, where water or ice alone fits."""
    for temp, humidity in itertools.product((-8.0, 3.0, 18.0, 33.0, 60.0), (0.01, 0.3, 0.7, 1.0)):
        ratio = humidity_ratio(temp, humidity, pressure_pa)
        wanted = psychrolib.GetTWetBulbFromHumRatio(temp, ratio, pressure_pa)
        assert wet_bulb_c(temp, ratio, pressure_pa) == pytest.approx(wanted, abs=1e-3)


def test_just_about_freezing_water_is_taken() -> None:
    """Over ice the same wet bulb is damper air, so just about 0 °C both fit: it is that of water,
    and a little drier it is that of ice, by the balance either way."""
    wet = humidity_from_wet_bulb(5.0, 0.0, 101_325.0)
    for apart in (0.001, -0.001):
        ratio = humidity_ratio(5.0, wet + apart, 101_325.0)
        bulb = wet_bulb_c(5.0, ratio, 101_325.0)
        assert (bulb > 0.0) == (apart > 0.0)
        assert humidity_from_wet_bulb(5.0, bulb, 101_325.0) == pytest.approx(wet + apart, abs=1e-6)


def test_ice_on_the_wet_bulb_is_reckoned_with() -> None:
    """Below freezing the balance is taken over ice: a dry reading equal to the wet one is
    saturated, and a small depression is already dry."""
    assert humidity_from_wet_bulb(-5.0, -5.0, 101_325.0) == pytest.approx(1.0)
    assert 0.6 < humidity_from_wet_bulb(-5.0, -6.0, 101_325.0) < 0.8
