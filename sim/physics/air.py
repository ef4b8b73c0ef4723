"""Air at the cloth and how fast wet cloth dries in it. Called for hourly values only.

Moist air by psychrolib (ideal gas, ASHRAE Handbook—Fundamentals 2017, ch. 1): its saturated
humidity ratio is 0.4–0.7 % below the handbook's table up to 50 °C and 1.2 % at 85 °C.
"""

from __future__ import annotations

import math
import warnings
from functools import cache, lru_cache
from types import ModuleType

from sim.errors import OutOfRangeWarning


@cache
def _moist_air() -> ModuleType:
    """psychrolib, loaded when first needed: in SI units, kept in a global of it, which this module
    alone uses; nothing compiled.

    Where psychrolib finds Numba it compiles its functions at their first call: that takes seconds
    in every process, while a day's hundred calls take milliseconds in plain Python.
    """
    import psychrolib

    psychrolib.has_numba = False
    psychrolib.isIP = getattr(psychrolib.isIP, "py_func", psychrolib.isIP)
    for name, function in getattr(psychrolib, "func_list", ()):
        setattr(psychrolib, name, function)
    psychrolib.SetUnitSystem(psychrolib.SI)
    library: ModuleType = psychrolib
    return library


STANDARD_PRESSURE_PA = 101_325.0
KELVIN_AT_0_C = 273.15
GAS_CONSTANT_DRY_AIR = 287.055
"""Specific gas constant of dry air [J/(kg·K)]."""
HEAT_CAPACITY_AIR = 1006.0
"""Specific heat capacity of air at constant pressure [J/(kg·K)], near room temperature."""

MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air."""

TUNNEL_AIR_KEPT = 8192
"""States of tunnel air that are remembered: two a clock hour, for some 80 drawn sites twice."""

OUTDOOR_AIR_KEPT = 256
"""States of air whose humidity is remembered: those of a day or two, which open tunnel, closed
tunnel and one drawn site after another start from."""

LEAST_REYNOLDS = 4e3
LARGEST_REYNOLDS = 4e6
"""Range of Reynolds numbers in which the plate correlations of `spinning_h` are taken."""


def saturation_pressure_pa(temp_c: float) -> float:
    """Vapour pressure over water (over ice below 0 °C) [Pa]; ValueError outside −100…200 °C."""
    return float(_moist_air().GetSatVapPres(temp_c))


@lru_cache(maxsize=OUTDOOR_AIR_KEPT)
def saturated_humidity_ratio(temp_c: float, pressure_pa: float) -> float:
    """Humidity ratio of saturated air [kg of vapour per kg of dry air]."""
    return float(_moist_air().GetSatHumRatio(temp_c, pressure_pa))


@lru_cache(maxsize=OUTDOOR_AIR_KEPT)
def humidity_ratio(temp_c: float, humidity: float, pressure_pa: float) -> float:
    """Humidity ratio [kg/kg] at a relative humidity of 0–1; ValueError outside that."""
    return float(_moist_air().GetHumRatioFromRelHum(temp_c, humidity, pressure_pa))


def wet_bulb_c(temp_c: float, ratio: float, pressure_pa: float) -> float:
    """Thermodynamic wet-bulb temperature [°C], never above the air's.

    Sought from above by Newton's method, whose slope needs no more than the latent heat: a few
    saturation pressures, where halving an interval to a thousandth of a kelvin takes some fifty.
    Where water and ice both fit, just about 0 °C, it is that of water.

    Args:
        temp_c: air temperature [°C].
        ratio: humidity ratio [kg/kg], ≥ 0; at or above saturation the air's own temperature.
        pressure_pa: air pressure [Pa].
    """
    if ratio >= saturated_humidity_ratio(temp_c, pressure_pa):
        return temp_c
    found = _sought_wet_bulb_c(temp_c, ratio, pressure_pa, WATER_BALANCE)
    if found < 0.0:
        found = _sought_wet_bulb_c(temp_c, ratio, pressure_pa, ICE_BALANCE)
    return min(temp_c, found)


WATER_BALANCE, ICE_BALANCE = (2501.0, 2.326, 4.186), (2830.0, 0.24, 2.1)
"""The energy balance of adiabatic saturation over water, and over ice below 0 °C: heat at 0 °C
[kJ/kg], less for each kelvin, and what the air's part loses with each [kJ/(kg·K)] (ASHRAE Handbook,
Fundamentals 2017, chapter 1, equations 33 and 35)."""
GAS_CONSTANT_VAPOR = 461.5
"""Specific gas constant of water vapour [J/(kg·K)]."""
NEAR_K, MOST_STEPS = 1e-6, 50


def _sought_wet_bulb_c(
    temp_c: float, ratio: float, pressure_pa: float, balance: tuple[float, float, float]
) -> float:
    """Where the balance over water, or over ice, gives a humidity ratio; the slope of saturation by
    Clausius and Clapeyron."""
    latent, less, cools = balance
    bulb_c = temp_c
    for _ in range(MOST_STEPS):
        vapor_pa = saturation_pressure_pa(bulb_c)
        dry_pa = pressure_pa - vapor_pa
        saturated = MASS_RATIO * vapor_pa / dry_pa
        whole = latent + 1.86 * temp_c - cools * bulb_c
        heat = latent - less * bulb_c
        apart = (heat * saturated - 1.006 * (temp_c - bulb_c)) / whole - ratio
        kelvin = bulb_c + KELVIN_AT_0_C
        rise = 1000.0 * heat / (GAS_CONSTANT_VAPOR * kelvin * kelvin) * pressure_pa / dry_pa
        step = apart * whole / (heat * saturated * rise + 1.006)
        bulb_c -= step
        if abs(step) < NEAR_K:
            break
    return bulb_c


def humidity_from_wet_bulb(temp_c: float, wet_bulb_c: float, pressure_pa: float) -> float:
    """Relative humidity, 0 to 1, of air at a dry-bulb and a wet-bulb temperature [°C].

    By the balances that `wet_bulb_c` solves: 0 if even bone-dry air would not cool a wet
    thermometer so far, 1 at most.
    """
    latent, less, cools = WATER_BALANCE if wet_bulb_c >= 0.0 else ICE_BALANCE
    saturated = saturated_humidity_ratio(wet_bulb_c, pressure_pa)
    cooling = 1.006 * (temp_c - wet_bulb_c)
    ratio = ((latent - less * wet_bulb_c) * saturated - cooling) / (
        latent + 1.86 * temp_c - cools * wet_bulb_c
    )
    if ratio <= 0.0:
        return 0.0
    vapor_pa = pressure_pa * ratio / (MASS_RATIO + ratio)
    return min(1.0, vapor_pa / saturation_pressure_pa(temp_c))


@lru_cache(maxsize=TUNNEL_AIR_KEPT)
def tunnel_air(
    temp_c: float, humidity: float, pressure_pa: float, offset_k: float, humid_share: float
) -> tuple[float, float, float]:
    """Air in the tunnel: warmer than outdoors, and part of the way to saturation.

    Kept in memory, because the search for a wet bulb is most of what making a day ready takes and
    a drawn site is made ready again for its evening, its night and every scenario.

    Args:
        temp_c: outdoor temperature [°C].
        humidity: outdoor relative humidity, 0–1.
        pressure_pa: air pressure [Pa].
        offset_k: tunnel warmer than outdoors by [K]; may be negative.
        humid_share: part of the way from the outdoor humidity ratio to saturation, 0–1.

    Returns:
        Temperature [°C], humidity ratio [kg/kg], wet-bulb temperature [°C]. In a tunnel colder
        than the outdoor dew point the excess condenses and the air is saturated.
    """
    inside_c = temp_c + offset_k
    outdoor = humidity_ratio(temp_c, humidity, pressure_pa)
    saturated = saturated_humidity_ratio(inside_c, pressure_pa)
    ratio = min(saturated, outdoor + humid_share * (saturated - outdoor))
    return inside_c, ratio, wet_bulb_c(inside_c, ratio, pressure_pa)


def latent_heat_j_kg(wet_bulb_c: float) -> float:
    """Heat that evaporates water at a temperature [J/kg]: 2501 − 2.361·t kJ/kg.

    The linear form of psychrometry, within 0.3 % of the steam tables from 0 to 40 °C.
    """
    return (2501.0 - 2.361 * wet_bulb_c) * 1000.0


def air_viscosity_pa_s(temp_c: float) -> float:
    """Viscosity of dry air [Pa·s] by Sutherland's law.

    Constants of White, Viscous Fluid Flow (from memory): 1.716e-5 at 273.15 K, 110.4 K.
    """
    kelvin = temp_c + KELVIN_AT_0_C
    ratio = kelvin / KELVIN_AT_0_C
    return 1.716e-5 * ratio * math.sqrt(ratio) * (KELVIN_AT_0_C + 110.4) / (kelvin + 110.4)


def air_conductivity_w_mk(temp_c: float) -> float:
    """Heat conductivity of dry air [W/(m·K)] by Sutherland's law.

    Constants of White, Viscous Fluid Flow (from memory): 0.0241 at 273.15 K, 194 K.
    """
    kelvin = temp_c + KELVIN_AT_0_C
    ratio = kelvin / KELVIN_AT_0_C
    return 0.0241 * ratio * math.sqrt(ratio) * (KELVIN_AT_0_C + 194.0) / (kelvin + 194.0)


def spinning_h(
    speed_rev_s: float,
    radius_m: float,
    strip_length_m: float,
    strip_width_m: float,
    slip: float,
    temp_c: float,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Heat transfer of the strips of a spinning wheel [W/(m²·K)], as of a flat plate.

    Nu = max(0.664·Re^½, 0.037·Re^0.8)·Pr^⅓, Re = u·W/ν, h = Nu·k/W: mean of a laminar and of a
    boundary layer turbulent from its edge (Incropera et al., Fundamentals of Heat and Mass
    Transfer, chapter on external flow; from memory). u = slip·2π·n·(radius − ½ length) is the
    speed of the air past the middle of a strip; air properties are those of dry air.

    Args:
        speed_rev_s: speed of the wheel [rev/s], > 0; a standing wheel has its own input.
        radius_m: wheel radius to the strip tips [m].
        strip_length_m: length of a strip [m], at most twice the radius.
        strip_width_m: width of a strip, along the flow [m], > 0.
        slip: speed of the air past a strip ÷ speed of the strip, 0–1.
        temp_c: air temperature [°C].
        pressure_pa: air pressure [Pa].

    Warns:
        OutOfRangeWarning: if Re is outside 4·10³…4·10⁶; the value is returned all the same.
    """
    viscosity = air_viscosity_pa_s(temp_c)
    conductivity = air_conductivity_w_mk(temp_c)
    density = pressure_pa / (GAS_CONSTANT_DRY_AIR * (temp_c + KELVIN_AT_0_C))
    past_m_s = slip * 2.0 * math.pi * speed_rev_s * (radius_m - 0.5 * strip_length_m)
    reynolds = past_m_s * strip_width_m * density / viscosity
    if not LEAST_REYNOLDS <= reynolds <= LARGEST_REYNOLDS:
        warnings.warn(
            f"Heat transfer of the strips was taken at a Reynolds number of {reynolds:.3g}; the "
            f"equation holds from {LEAST_REYNOLDS:.0f} to {LARGEST_REYNOLDS:.0f}. Check wheel "
            "speed, strip width and air slip.",
            OutOfRangeWarning,
            stacklevel=2,
        )
    prandtl = HEAT_CAPACITY_AIR * viscosity / conductivity
    edge = max(0.664 * math.sqrt(reynolds), 0.037 * math.pow(reynolds, 0.8))
    return edge * math.cbrt(prandtl) * conductivity / strip_width_m


def exposed_area_m2(strips: int, length_m: float, width_m: float, share: float) -> float:
    """Area of cloth that the air reaches [m²]: a share (0–1) of both faces of all strips."""
    return 2.0 * strips * length_m * width_m * share


def drying_rate_kg_s(
    h_w_m2k: float, area_m2: float, temp_c: float, wet_bulb_c: float, heat_w: float
) -> float:
    """Evaporation from wet cloth at the wet-bulb temperature [kg/s], never negative.

    (h·A·(T − T_w) + P)/λ: the constant-rate period of drying (Geankoplis, Transport Processes and
    Unit Operations, chapter on drying; from memory).

    Args:
        h_w_m2k: heat transfer [W/(m²·K)].
        area_m2: area that the air reaches [m²].
        temp_c: air temperature [°C].
        wet_bulb_c: wet-bulb temperature [°C].
        heat_w: further heat that reaches the cloth, such as friction [W].
    """
    heat = h_w_m2k * area_m2 * (temp_c - wet_bulb_c) + heat_w
    return max(0.0, heat) / latent_heat_j_kg(wet_bulb_c)
