"""Relative humidity from a reading of a dry and a wet thermometer."""

from __future__ import annotations

from sim.physics.air import saturated_humidity_ratio, saturation_pressure_pa

MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air."""


def humidity_from_wet_bulb(temp_c: float, wet_bulb_c: float, pressure_pa: float) -> float:
    """Relative humidity, 0 to 1, of air at a dry-bulb and a wet-bulb temperature [°C].

    The energy balance of adiabatic saturation, with water above 0 °C and ice below (ASHRAE
    Handbook, Fundamentals 2017, chapter 1, equations 33 and 35): 0 if even bone-dry air would not
    cool a wet thermometer so far, 1 at most.
    """
    saturated = saturated_humidity_ratio(wet_bulb_c, pressure_pa)
    cooling = 1.006 * (temp_c - wet_bulb_c)
    if wet_bulb_c >= 0.0:
        ratio = ((2501.0 - 2.326 * wet_bulb_c) * saturated - cooling) / (
            2501.0 + 1.86 * temp_c - 4.186 * wet_bulb_c
        )
    else:
        ratio = ((2830.0 - 0.24 * wet_bulb_c) * saturated - cooling) / (
            2830.0 + 1.86 * temp_c - 2.1 * wet_bulb_c
        )
    if ratio <= 0.0:
        return 0.0
    vapor_pa = pressure_pa * ratio / (MASS_RATIO + ratio)
    return min(1.0, vapor_pa / saturation_pressure_pa(temp_c))
