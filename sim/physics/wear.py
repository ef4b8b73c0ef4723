"""Wear of the cloth: sliding distance, and wear in full wipes of the reference car.

Archard's law makes wear proportional to load times sliding distance. Its coefficient is unknown
for cloth on paint, and so is the load; both cancel when wear is counted in full-wipe equivalents.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled

SECONDS_PER_HOUR = 3600.0


@compiled
def sliding_distance_m(
    surface_speed_m_s: float, car_speed_m_s: float, contact_time_s: float
) -> float:
    """How far the cloth slides over a car [m].

    Args:
        surface_speed_m_s: speed of the cloth where it touches [m/s].
        car_speed_m_s: speed of the car in the same direction [m/s]; negative when the cloth runs
            against the car.
        contact_time_s: time in contact [s], ≥ 0.
    """
    return abs(surface_speed_m_s - car_speed_m_s) * contact_time_s


@compiled
def wear_equivalents(sliding_m: float, reference_sliding_m: float, wet_factor: float) -> float:
    """Wear by sliding over a car [full-wipe equivalents]; the reference car, dry, is 1.

    Args:
        sliding_m: sliding distance over this car [m].
        reference_sliding_m: sliding distance of a full wipe of the reference car [m], > 0.
        wet_factor: wear of wet cloth ÷ wear of dry cloth.
    """
    return wet_factor * sliding_m / reference_sliding_m


def idle_wear_at(
    speed_rev_s: float, ref_speed_rev_s: float, wear_per_h: float, exponent: float
) -> float:
    """Wear of an hour's spinning off a car, at a speed of the wheel [full-wipe equivalents].

    wear ∝ n^x. Strips whip the air and each other; the force on them goes with the square of their
    speed (drag and centrifugal force, textbook), hence x near 2. What that does to cloth nobody has
    published: x is a guess.

    Args:
        speed_rev_s: n [rev/s], ≥ 0; a standing wheel wears nothing, whatever the exponent.
        ref_speed_rev_s: speed at which the next holds [rev/s], > 0.
        wear_per_h: wear of an hour at that speed.
        exponent: x, ≥ 0.
    """
    if speed_rev_s <= 0.0:
        return 0.0
    return wear_per_h * math.pow(speed_rev_s / ref_speed_rev_s, exponent)


@compiled
def spinning_wear(spinning_s: float, wear_per_h: float) -> float:
    """Wear by spinning off a car [full-wipe equivalents]; `wear_per_h` is that of an hour."""
    return wear_per_h * spinning_s / SECONDS_PER_HOUR
