"""Motion of the belt and the wheel: cars per second, whole pushers between cars.

Pushers are counted and not measured: a car rides on pusher k exactly when the belt has travelled
k pitches, so that no rounding of a distance can slip a car by one pusher.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled

TIME_TOLERANCE_S = 1e-9
"""Whoever waits for the belt to reach a point goes on this early [s]: rounding is no wait."""
REACHED_M = 1e-9
"""Nearer than this a point is reached, so that rounding cannot make it wait out a stop that
begins just there [m]."""
PUSHER_SLACK = 1e-9
"""Part of a pitch by which a car may miss a pusher and still ride on it; swallows rounding."""


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
    speed_m_s: float,
    pitch_m: float,
    mean_pushers: float,
    stops_per_s: float = 0.0,
    stops_per_car: float = 0.0,
    mean_stop_s: float = 0.0,
) -> float:
    """Cars that a saturated belt carries [1/s], loading aside.

    Stops by the clock may overlap. The belt then moves while none is under way, as a queue with
    as many servers as customers is empty: exp(−λE[S]) of the time, and what one stop begins lasts
    (exp(λE[S]) − 1)/λ in the mean, whatever the stops' distribution (the busy period of M/G/∞;
    Takács 1962, Introduction to the Theory of Queues, from memory). A stop by a car begins while
    the belt moves, so it costs as much. With m = pitch·pushers/speed of motion and c stops a car:
    time a car = m·exp(λE[S]) + c·(exp(λE[S]) − 1)/λ.

    Args:
        speed_m_s: belt speed while it runs [m/s].
        pitch_m: distance between pushers [m], > 0.
        mean_pushers: mean whole pushers between cars, > 0; see `mean_pushers_apart`.
        stops_per_s: rate λ of stops by the clock, whether the belt runs or stands [1/s].
        stops_per_car: share of cars that stop the belt as they are caught.
        mean_stop_s: mean length E[S] of one stop [s].
    """
    moving_s = 1.0 / cars_per_s(speed_m_s, pitch_m * mean_pushers)
    load = min(stops_per_s * mean_stop_s, MOST_STOPPED)
    longer = math.expm1(load) / load if load > 0.0 else 1.0
    return 1.0 / (moving_s * math.exp(load) + stops_per_car * mean_stop_s * longer)


MOST_STOPPED = 50.0
"""Stops under way at once, in the mean, beyond which the belt stands for all that matters."""


def mean_pushers_apart(
    spacing_m: float,
    least_gap_m: float,
    pitch_m: float,
    ahead_length_m: tuple[float, float, float, float],
    ahead_pushed_m: float,
    pushed_m: float,
) -> float:
    """Mean of `pushers_apart` over the random length of the car ahead.

    E⌈·⌉ is the fewest pushers there can be, and 1 for each further one times the chance that the
    length asks for it. At the mean length ⌈·⌉ may be a whole pusher off.

    Args:
        ahead_length_m: mean and standard deviation of a normal length, and the ends at which it
            is cut off: what lies beyond one counts as that end [m].
        spacing_m, least_gap_m, pitch_m, ahead_pushed_m, pushed_m: see `pushers_apart`.
    """
    mean, deviation, least, most = ahead_length_m
    other = (spacing_m, least_gap_m, pitch_m)
    wheels = (ahead_pushed_m, pushed_m)
    fewest = pushers_apart(*other, least, *wheels)
    total = float(fewest)
    for pushers in range(fewest, pushers_apart(*other, most, *wheels)):
        # longer than this the car ahead takes more than so many pushers
        enough = (pushers + PUSHER_SLACK) * pitch_m - least_gap_m + ahead_pushed_m - pushed_m
        if enough < least:
            total += 1.0
        elif deviation > 0.0:
            total += 0.5 * math.erfc((enough - mean) / (deviation * math.sqrt(2.0)))
        else:
            total += 1.0 if mean > enough else 0.0
    return total
