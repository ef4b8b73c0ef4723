"""Motion of the belt and the wheel: cars per second, whole pushers between cars, g-force.

Pushers are counted and not measured: a car rides on pusher k exactly when the belt has travelled
k pitches, so that no rounding of a distance can slip a car by one pusher.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard gravity [m/s²], exact by definition (3rd General Conference on Weights and Measures,
1901)."""

PUSHER_SLACK = 1e-9
"""Part of a pitch by which a car may miss a pusher and still ride on it; swallows rounding."""


def g_force(speed_rev_s: float, radius_m: float) -> float:
    """Centripetal acceleration at a radius, in multiples of standard gravity.

    G = (2π·n)²·r / g

    Args:
        speed_rev_s: speed of rotation [rev/s].
        radius_m: distance from the axis [m], ≥ 0.
    """
    angular = 2.0 * math.pi * speed_rev_s
    return angular * angular * radius_m / STANDARD_GRAVITY_M_S2


def cars_per_s(speed_m_s: float, spacing_m: float) -> float:
    """Flow of evenly spaced cars [1/s]: speed over nose-to-nose distance (flow = speed·density).

    Args:
        speed_m_s: belt speed [m/s], ≥ 0.
        spacing_m: front of a car to front of the next [m], > 0.
    """
    return speed_m_s / spacing_m


@compiled
def pusher_at_or_after(travel_m: float, pitch_m: float) -> int:
    """Number of the first pusher that passes the loading point at or after a belt travel.

    Args:
        travel_m: belt travel [m]; pusher k passes at k pitches.
        pitch_m: distance between pushers [m], > 0.
    """
    return math.ceil(travel_m / pitch_m - PUSHER_SLACK)


@compiled
def pushers_apart(
    spacing_m: float,
    least_gap_m: float,
    pitch_m: float,
    ahead_length_m: float,
    ahead_pushed_m: float,
    pushed_m: float,
) -> int:
    """Fewest whole pushers from the pusher of the car ahead to that of this car.

    Noses stay at least `spacing_m` apart and bumpers at least `least_gap_m`; a pusher acts on the
    pushed wheel, which sits behind the nose:
    ⌈(max(spacing, length ahead + gap) − pushed ahead + pushed)/pitch⌉

    Args:
        spacing_m: setting, front of a car to front of the next [m].
        least_gap_m: bumper-to-bumper distance that is never undercut [m].
        pitch_m: distance between pushers [m], > 0.
        ahead_length_m: length of the car ahead [m].
        ahead_pushed_m: nose to pushed wheel of the car ahead [m].
        pushed_m: nose to pushed wheel of this car [m].
    """
    noses_m = max(spacing_m, ahead_length_m + least_gap_m)
    return math.ceil((noses_m - ahead_pushed_m + pushed_m) / pitch_m - PUSHER_SLACK)


def belt_capacity_per_s(
    speed_m_s: float, stopped_share: float, pitch_m: float, mean_pushers: float
) -> float:
    """Cars that a saturated belt carries [1/s], loading aside.

    Args:
        speed_m_s: belt speed while it runs [m/s].
        stopped_share: share of time the belt stands, 0–1.
        pitch_m: distance between pushers [m], > 0.
        mean_pushers: mean whole pushers between cars, > 0; see `pushers_apart`.
    """
    return cars_per_s(speed_m_s * (1.0 - stopped_share), pitch_m * mean_pushers)
