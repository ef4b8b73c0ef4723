"""Moist air, heat transfer and drying rates."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import OutOfRangeWarning
from sim.physics.air import (
    air_conductivity_w_mk,
    air_viscosity_pa_s,
    drying_rate_kg_s,
    exposed_area_m2,
    humidity_ratio,
    latent_heat_j_kg,
    saturated_humidity_ratio,
    spinning_h,
    tunnel_air,
    wet_bulb_c,
)

SEA_LEVEL = 101_325.0
AREA = exposed_area_m2(200, 0.9, 0.25, 0.45)


def idle_h(temp_c: float) -> float:
    """Heat transfer of the default wheel at idle speed."""
    return spinning_h(1.5, 1.1, 0.9, 0.25, 0.5, temp_c)


@pytest.mark.parametrize("temp_c", [5.0, 15.0, 25.0, 35.0, 45.0])
@pytest.mark.parametrize("humidity", [0.1, 0.4, 0.7, 0.95])
def test_moist_air_equals_an_independent_library(temp_c: float, humidity: float) -> None:
    """Humidity ratio is within 1 % and wet bulb within 0.06 K of CoolProp's real-gas values."""
    from CoolProp.CoolProp import HAPropsSI  # takes seconds, which not every worker need wait

    kelvin = temp_c + 273.15
    ratio = humidity_ratio(temp_c, humidity, SEA_LEVEL)
    assert ratio == pytest.approx(
        HAPropsSI("W", "T", kelvin, "P", SEA_LEVEL, "R", humidity), rel=0.01
    )
    expected = HAPropsSI("B", "T", kelvin, "P", SEA_LEVEL, "R", humidity) - 273.15
    assert wet_bulb_c(temp_c, ratio, SEA_LEVEL) == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize("temp_c", [-10.0, 0.0, 20.0, 50.0, 165.0])
def test_properties_of_air_equal_an_independent_library(temp_c: float) -> None:
    """Viscosity and conductivity by Sutherland's law are within 1.5 % of CoolProp's dry air."""
    from CoolProp.CoolProp import PropsSI

    at = ("T", temp_c + 273.15, "P", SEA_LEVEL, "Air")
    assert air_viscosity_pa_s(temp_c) == pytest.approx(PropsSI("V", *at), rel=0.015)
    assert air_conductivity_w_mk(temp_c) == pytest.approx(PropsSI("L", *at), rel=0.015)


@given(st.floats(-10.0, 50.0), st.floats(0.0, 1.0), st.floats(60_000.0, 110_000.0))
def test_the_wet_bulb_is_never_warmer_than_the_air(
    temp_c: float, humidity: float, pressure_pa: float
) -> None:
    """Evaporation only cools, at every humidity and pressure that can be entered."""
    ratio = humidity_ratio(temp_c, humidity, pressure_pa)
    assert wet_bulb_c(temp_c, ratio, pressure_pa) <= temp_c


@given(
    st.floats(-10.0, 50.0), st.floats(0.0, 1.0), st.floats(60_000.0, 110_000.0),
    st.floats(-15.0, 20.0), st.floats(0.0, 1.0),
)  # fmt: skip
def test_tunnel_air_lies_between_outdoor_air_and_saturation(
    temp_c: float, humidity: float, pressure_pa: float, offset_k: float, share: float
) -> None:
    """Tunnel air is as warm as the offset says, never over-saturated, never drier than outdoors."""
    inside_c, ratio, wet_c = tunnel_air(temp_c, humidity, pressure_pa, offset_k, share)
    saturated = saturated_humidity_ratio(inside_c, pressure_pa)
    outdoor = humidity_ratio(temp_c, humidity, pressure_pa)
    assert inside_c == temp_c + offset_k
    assert min(outdoor, saturated) * (1 - 1e-12) <= ratio <= saturated
    assert wet_c <= inside_c


def test_the_humid_share_is_the_way_to_saturation() -> None:
    """Share 0 is outdoor air, share 1 is saturated air in which nothing dries."""
    outdoor = humidity_ratio(25.0, 0.4, SEA_LEVEL)
    assert tunnel_air(25.0, 0.4, SEA_LEVEL, 0.0, 0.0)[1] == pytest.approx(outdoor, rel=1e-12)
    half = tunnel_air(25.0, 0.4, SEA_LEVEL, 0.0, 0.5)[1]
    saturated = saturated_humidity_ratio(25.0, SEA_LEVEL)
    assert half == pytest.approx(0.5 * (outdoor + saturated), rel=1e-12)
    temp_c, ratio, wet_c = tunnel_air(25.0, 0.4, SEA_LEVEL, 0.0, 1.0)
    assert ratio == pytest.approx(saturated, rel=1e-12)
    assert drying_rate_kg_s(19.0, AREA, temp_c, wet_c, 0.0) == pytest.approx(0.0, abs=1e-7)


def test_a_tunnel_below_the_outdoor_dew_point_is_saturated() -> None:
    """Outdoor air at 30 °C and 90 % in a tunnel 15 K colder condenses down to saturation."""
    inside_c, ratio, wet_c = tunnel_air(30.0, 0.9, SEA_LEVEL, -15.0, 0.35)
    assert ratio == saturated_humidity_ratio(15.0, SEA_LEVEL)
    assert wet_c == inside_c == 15.0


@pytest.mark.parametrize(
    ("temp_c", "humidity", "kg_per_h"),
    [(35.0, 0.18, 10.8), (22.0, 0.45, 5.2), (30.0, 0.70, 3.3), (12.0, 0.62, 2.6)],
)
def test_drying_of_the_default_wheel(temp_c: float, humidity: float, kg_per_h: float) -> None:
    """At idle 200 strips dry by 2.6 to 10.8 kg/h in four weathers, standing by some 30 % of it.

    Own figures of the default site, from a calculation with fixed properties of air; ±4 %, since
    here they follow the temperature.
    """
    inside_c, _, wet_c = tunnel_air(temp_c, humidity, SEA_LEVEL, 0.0, 0.35)
    idle = drying_rate_kg_s(idle_h(inside_c), AREA, inside_c, wet_c, 0.0)
    still = drying_rate_kg_s(6.0, AREA, inside_c, wet_c, 0.0)
    assert idle * 3600.0 == pytest.approx(kg_per_h, rel=0.04)
    assert still / idle == pytest.approx(0.30, abs=0.02)


def test_drying_is_driven_by_the_wet_bulb_depression() -> None:
    """Rate is heat over latent heat: h·A·(T − T_w)/λ, and friction heat adds P/λ."""
    heat_j_kg = latent_heat_j_kg(18.0)
    assert drying_rate_kg_s(20.0, 40.0, 25.0, 18.0, 0.0) == pytest.approx(5600.0 / heat_j_kg)
    assert drying_rate_kg_s(20.0, 40.0, 25.0, 18.0, 400.0) == pytest.approx(6000.0 / heat_j_kg)
    assert drying_rate_kg_s(20.0, 40.0, 25.0, 25.0, 400.0) > 0.0


def test_water_never_condenses_on_the_cloth() -> None:
    """Air colder than the wet bulb, which rounding could make, dries nothing rather than wets."""
    assert drying_rate_kg_s(20.0, 40.0, 17.999, 18.0, 0.0) == 0.0


def test_latent_heat_falls_with_temperature() -> None:
    """2501 kJ/kg at 0 °C and 2442 at 25 °C (steam tables, from memory), to 0.05 %."""
    assert latent_heat_j_kg(0.0) == pytest.approx(2501e3, rel=5e-4)
    assert latent_heat_j_kg(25.0) == pytest.approx(2442e3, rel=5e-4)


def test_both_faces_of_a_strip_count() -> None:
    """Two strips of 1 m × 0.5 m with half of both faces reached expose 1 m²."""
    assert exposed_area_m2(2, 1.0, 0.5, 0.5) == 1.0
    assert exposed_area_m2(200, 0.9, 0.25, 0.45) == pytest.approx(40.5)


def test_heat_transfer_of_the_default_wheel() -> None:
    """Idle heat transfer is about 19 W/m²K; a faster wheel and denser air carry more heat."""
    assert idle_h(22.0) == pytest.approx(19.0, abs=1.0)
    assert spinning_h(2.0, 1.1, 0.9, 0.25, 0.5, 22.0) > idle_h(22.0)
    assert spinning_h(1.5, 1.1, 0.9, 0.25, 0.5, 22.0, 80_000.0) < idle_h(22.0)


def test_a_turbulent_plate_goes_with_the_power_of_four_fifths() -> None:
    """Twice the air speed carries 2^0.8 times the heat where the turbulent term is larger."""
    slow = spinning_h(1.0, 1.1, 0.9, 0.25, 0.5, 22.0)
    assert spinning_h(2.0, 1.1, 0.9, 0.25, 0.5, 22.0) == pytest.approx(2.0**0.8 * slow, rel=1e-9)


def test_the_middle_of_the_strip_sets_the_air_speed() -> None:
    """A strip's middle counts: radius 1.1 with length 0.9 is radius 0.85 with length 0.4."""
    shorter = spinning_h(1.5, 0.85, 0.4, 0.25, 0.5, 22.0)
    assert shorter == pytest.approx(idle_h(22.0), rel=1e-12)


@pytest.mark.parametrize(("speed", "width"), [(0.1, 0.02), (200.0, 1.0)])
def test_a_reynolds_number_out_of_range_is_told(speed: float, width: float) -> None:
    """Outside 4·10³ to 4·10⁶ a typed warning names the number and the range, and h is returned."""
    with pytest.warns(OutOfRangeWarning, match=r"Reynolds number of .* holds from 4000 to 4000000"):
        value = spinning_h(speed, 1.1, 0.9, width, 0.5, 22.0)
    assert value > 0.0


def test_the_default_wheel_is_inside_the_range() -> None:
    """Contact and idle speed of the default wheel give no warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for speed in (0.9, 1.5):
            assert spinning_h(speed, 1.1, 0.9, 0.25, 0.5, 22.0) > 6.0
