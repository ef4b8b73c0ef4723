"""Constant-rate drying of a pan.

Geankoplis, Transport Processes and Unit Operations, example 9.6-3. FROM MEMORY, and the inputs
were remembered to fit: consistent with the book, not independent of it.
"""

from __future__ import annotations

import pytest

from sim.physics.air import drying_rate_kg_s, latent_heat_j_kg, wet_bulb_c

AIR_C, HUMIDITY_RATIO, SPEED_M_S = 65.6, 0.010, 6.1
PAN_M = 0.457  # square
WET_BULB_C = 28.9
HUMID_VOLUME_M3_KG = (2.83e-3 + 4.56e-3 * HUMIDITY_RATIO) * (AIR_C + 273)
MASS_VELOCITY_KG_H_M2 = SPEED_M_S * 3600 * (1 + HUMIDITY_RATIO) / HUMID_VOLUME_M3_KG
H_W_M2K = 0.0204 * MASS_VELOCITY_KG_H_M2**0.8  # the book's correlation for flow along a surface


def test_the_inputs_lead_to_the_heat_transfer_of_the_book() -> None:
    """Mass velocity is 22,770 kg/(h·m²), ±25 as the book rounds a volume; h 62.45, ±0.05."""
    assert pytest.approx(0.974, abs=5e-4) == HUMID_VOLUME_M3_KG
    assert pytest.approx(22_770, abs=25) == MASS_VELOCITY_KG_H_M2
    assert pytest.approx(62.45, abs=0.05) == H_W_M2K


def test_drying_rate_of_the_pan() -> None:
    """The pan loses 3.39 kg/(h·m²), 0.708 kg/h in all, to half a digit and ±0.001 kg/h."""
    per_m2 = drying_rate_kg_s(H_W_M2K, 1.0, AIR_C, WET_BULB_C, 0.0) * 3600
    assert per_m2 == pytest.approx(3.39, abs=5e-3)
    whole_pan = drying_rate_kg_s(H_W_M2K, PAN_M**2, AIR_C, WET_BULB_C, 0.0) * 3600
    assert whole_pan == pytest.approx(0.708, abs=1e-3)


def test_latent_heat_at_the_wet_bulb() -> None:
    """λ at 28.9 °C is the book's 2433 kJ/kg to half a digit."""
    assert latent_heat_j_kg(WET_BULB_C) == pytest.approx(2433e3, abs=500)


def test_wet_bulb_of_the_drying_air() -> None:
    """The book reads 28.9 °C from a chart for H = 0.010; computed it is the same to 0.1 K."""
    assert wet_bulb_c(AIR_C, HUMIDITY_RATIO, 101_325.0) == pytest.approx(WET_BULB_C, abs=0.1)
