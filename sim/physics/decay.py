"""Exponential decay over short stretches, without the cancellation of 1 − e^(−z).

Nearly every stretch of a day is short against its time constants. There these forms are exact to
rounding and spare the exponential, which would take most of a day's computing time.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled

SERIES_BELOW = 0.1  # there nine terms of the series are exact to rounding


@compiled
def bend(z: float) -> float:
    """(z − 1 + e^(−z))/z² = Σ (−z)ⁿ/(n + 2)! for 0 ≤ z < `SERIES_BELOW`; ½ at 0.

    Terms are added in pairs and pairs of pairs, which a processor does side by side.
    """
    z2 = z * z
    z4 = z2 * z2
    low = (1.0 / 2.0 - z * (1.0 / 6.0)) + z2 * (1.0 / 24.0 - z * (1.0 / 120.0))
    high = (1.0 / 720.0 - z * (1.0 / 5040.0)) + z2 * (1.0 / 40320.0 - z * (1.0 / 362880.0))
    return low + z4 * (high + z4 * (1.0 / 3628800.0))


@compiled
def gone(z: float) -> float:
    """1 − e^(−z): what has gone after z time constants; z ≥ 0."""
    if z < SERIES_BELOW:
        return z * (1.0 - z * bend(z))
    return -math.expm1(-z)
