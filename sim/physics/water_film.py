"""Water on a car as it reaches the wheel, and what the cloth takes of it.

Films are kg of water per m² of surface; 1 kg/m² is 1 mm of water. The law of uptake (each bit of
area gives up κ·(1 − saturation) of its film) is a guess of this project, not a published law.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled
from sim.physics.moisture import gone


@compiled
def film_at_wheel(
    factor: float,
    film_after_rinse_kg_m2: float,
    removal: float,
    ref_speed_m_s: float,
    exponent: float,
    speed_m_s: float,
    noise: float,
) -> float:
    """Film on a zone as it reaches the wheel [kg/m²].

    factor · film · (1 − removal)^((reference speed / speed)^exponent) · noise: with exponent 1
    blowing for twice as long acts like blowing twice, with a smaller one it does less.

    Args:
        factor: film of this zone ÷ film of the hood.
        film_after_rinse_kg_m2: film on the hood after rinsing [kg/m²].
        removal: share the blowers remove at the reference speed, 0 ≤ removal < 1.
        ref_speed_m_s: belt speed at which `removal` holds [m/s], > 0.
        exponent: how blowing weakens with speed, ≥ 0.
        speed_m_s: belt speed [m/s], > 0.
        noise: the car's own factor, median 1; e^(σ·Z) with σ of `film_sigma`.
    """
    strength = math.pow(ref_speed_m_s / speed_m_s, exponent)
    left_by_blowers = math.pow(1.0 - removal, strength)
    return factor * film_after_rinse_kg_m2 * left_by_blowers * noise


def film_sigma(cv: float) -> float:
    """Standard deviation of the logarithm of a lognormal with coefficient of variation `cv`."""
    return math.sqrt(math.log1p(cv * cv))


@compiled
def uptake_now(
    uptake_max: float,
    loss_at_life: float,
    wear_cars: float,
    life_scale_cars: float,
    soil_leaves: float,
) -> float:
    """Share of the film that dry cloth takes in endless contact, at its present wear and soil.

    Falls in a straight line by the share `loss_at_life` until `life_scale_cars`, then stays; soil
    takes its share of what wear has left.

    Args:
        uptake_max: the share when new, 0–1.
        loss_at_life: part of it lost when worn out, 0–1.
        wear_cars: wear since the set was new [full-wipe equivalents], ≥ 0.
        life_scale_cars: wear at which it counts as worn out [full-wipe equivalents], > 0.
        soil_leaves: share of it that wax and soil leave, 0–1; see `left_by_soil`.
    """
    worn = 1.0 - loss_at_life * min(1.0, wear_cars / life_scale_cars)
    return uptake_max * worn * soil_leaves


@compiled
def left_by_soil(loss_per_1000_cars: float, soil_cars: float) -> float:
    """Share of the uptake that wax and soil on the cloth leave, 1 on cloth without any.

    (1 − loss)^(cars ÷ 1000): every thousand cars take the same share of what is left, a guess of
    this project.

    Args:
        loss_per_1000_cars: share of the uptake that the soil of a thousand cars takes, 0 ≤ it < 1.
        soil_cars: cars whose soil the cloth holds, ≥ 0; see `soil_after_laundering`.
    """
    return math.pow(1.0 - loss_per_1000_cars, soil_cars / 1000.0)


def soil_after_laundering(soil_cars: float, restores: float) -> float:
    """Cars whose soil the cloth still holds after a laundering.

    Args:
        soil_cars: that it held before, ≥ 0.
        restores: share that a laundering takes out, 0–1.
    """
    return soil_cars * (1.0 - restores)


@compiled
def wiping_share(
    uptake: float, contact_patch_m: float, speed_m_s: float, wipe_time_s: float
) -> float:
    """Share κ of the film that dry cloth takes while it lies on a spot for patch ÷ speed.

    κ = uptake · (1 − exp(−contact time / time constant))

    Args:
        uptake: share taken in endless contact, 0–1; see `uptake_now`.
        contact_patch_m: length along the car that the cloth lies on [m].
        speed_m_s: belt speed [m/s], > 0.
        wipe_time_s: time constant of wiping one spot [s], > 0.
    """
    return -uptake * math.expm1(-contact_patch_m / (speed_m_s * wipe_time_s))


@compiled
def wipe_zone(
    moisture: float, film_kg_m2: float, area_m2: float, kappa: float, holding: float, mass_kg: float
) -> tuple[float, float, float]:
    """Wipe one zone: the exact integral of "each bit of area gives up κ·(1 − S) of its film".

    With C = holding · mass the cloth takes w = C·(1 − S)·(1 − exp(−κ·film·area/C)), so that S
    never passes 1 and w never passes the water on the zone. Saturated cloth takes nothing.

    Args:
        moisture: water in the cloth [kg per kg of dry cloth], ≥ 0.
        film_kg_m2: film on the zone [kg/m²], ≥ 0.
        area_m2: wiped area [m²], ≥ 0; a zone without area is skipped.
        kappa: share taken by dry cloth, 0–1; see `wiping_share`.
        holding: holding capacity [kg/kg], > 0.
        mass_kg: dry mass of the cloth [kg], > 0.

    Returns:
        Moisture afterwards [kg/kg], water taken [kg], mean film left on the zone [kg/m²].
    """
    if area_m2 <= 0.0 or moisture >= holding:
        return moisture, 0.0, film_kg_m2
    room_kg = (holding - moisture) * mass_kg
    dose = kappa * film_kg_m2 * area_m2 / (holding * mass_kg)
    water_kg = water_taken(room_kg, dose, film_kg_m2 * area_m2)
    # the two bounds hold exactly in real numbers; min and max keep rounding from passing them
    after = min(moisture + water_kg / mass_kg, holding)
    return after, water_kg, max(0.0, film_kg_m2 - water_kg / area_m2)


@compiled
def water_taken(room_kg: float, dose: float, on_zone_kg: float) -> float:
    """Water that cloth with some room takes from a zone [kg], see `wipe_zone`.

    Args:
        room_kg: C·(1 − S), water that the cloth can still take [kg], ≥ 0.
        dose: κ·film·area/C, ≥ 0.
        on_zone_kg: water on the zone [kg].
    """
    return min(room_kg * gone(dose), on_zone_kg)


def allowed_film(median_film_kg_m2: float, kappa: float, damp_limit: float) -> float:
    """Film left on the reference car by cloth that is just at the damp limit [kg/m²].

    Args:
        median_film_kg_m2: median film on the hood at the reference speed [kg/m²].
        kappa: share taken by dry new cloth at the reference speed, 0–1.
        damp_limit: saturation at which the reference car leaves just damp, 0–1.
    """
    return median_film_kg_m2 * (1.0 - kappa * (1.0 - damp_limit))


def damp_limit_of(median_film_kg_m2: float, kappa: float, allowed_kg_m2: float) -> float:
    """Saturation at which the reference car is left with just the allowed film.

    The inverse of `allowed_film`: 0 or less if even dry cloth leaves that much, 1 or more if the
    car needs no wiping. `median_film_kg_m2` and `kappa` must be > 0.
    """
    return 1.0 - (1.0 - allowed_kg_m2 / median_film_kg_m2) / kappa
