"""Water in the cloth: throw-off by rotation, evaporation, and both over one exact step.

Moisture X is kg of water per kg of dry cloth. While speed and air are constant

    dX/dt = −k·(X − X_e)⁺ − r·min(1, (X − X_h)⁺ / (X_c − X_h))

k: rate of throw-off [1/s]; X_e: moisture where throw-off ends; r: drying of wet cloth per mass
[kg/(kg·s)]; X_c: moisture below which drying slows (two-period drying, textbook; a straight line
is assumed below X_c); X_h: bound moisture. In each of the four regions that X_c and X_e cut, the
equation is linear and its integrals are elementary. They are written here with

    span(K, t) = ∫₀ᵗ e^(−K·s) ds = −expm1(−K·t)/K,    lag(K, t) = ∫₀ᵗ span(K, s) ds

so that nothing is divided by a rate that may vanish, and no small number is the difference of
two large ones. Nearly every stretch of a day is short against its time constants: there `bend` is
exact to rounding and spares the exponential, which would take most of a day's computing time.
"""

from __future__ import annotations

import math

from sim.physics.mark import compiled

SERIES_BELOW = 0.1  # there nine terms of the series are exact to rounding
_LARGEST_EXPONENT = 700.0  # e^709 is the largest double
_NO_DECAY = 1e-17  # below half an ulp of 1, 1 − K·t/2 is 1


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


def throw_off_at(
    speed_rev_s: float,
    ref_speed_rev_s: float,
    limit_ref: float,
    time_ref_s: float,
    limit_exponent: float,
    time_exponent: float,
    holding: float,
    bound: float,
) -> tuple[float, float]:
    """Where throw-off ends and how fast it goes, at a speed of the wheel.

    The g-force is proportional to the speed squared, so with G the limit goes as G^(−b) and the
    time constant as G^(−c); the radius cancels. b: slope of a published table of remaining
    moisture (from memory); c near 1: drainage in a porous layer is proportional to the body force
    (Darcy, textbook). Both extrapolate to a wheel and are to be calibrated by weigh-ins.

    Args:
        speed_rev_s: speed of the wheel [rev/s], ≥ 0.
        ref_speed_rev_s: speed at which the next two hold [rev/s], > 0.
        limit_ref: moisture where throw-off ends [kg/kg], > 0.
        time_ref_s: time constant of throw-off [s], > 0.
        limit_exponent: b, ≥ 0.
        time_exponent: c, ≥ 0.
        holding: holding capacity [kg/kg]; the limit is never above it.
        bound: moisture that neither drips nor dries off [kg/kg]; the limit is never below it.

    Returns:
        The limit X_e [kg/kg] and the rate k [1/s]; k is 0 when the wheel stands.
    """
    if speed_rev_s <= 0.0:
        return holding, 0.0
    g_ratio_log = 2.0 * math.log(speed_rev_s / ref_speed_rev_s)
    limit = limit_ref * math.exp(min(-limit_exponent * g_ratio_log, _LARGEST_EXPONENT))
    rate = math.exp(min(time_exponent * g_ratio_log, _LARGEST_EXPONENT)) / time_ref_s
    return min(holding, max(bound, limit)), rate


@compiled
def decay_span(rate: float, time_s: float) -> float:
    """∫₀ᵗ e^(−rate·s) ds [s]; `time_s` itself when the rate is 0."""
    z = rate * time_s
    if z < SERIES_BELOW:
        return time_s * (1.0 - z * bend(z))
    return -math.expm1(-z) / rate


@compiled
def decay_lag(rate: float, time_s: float, span_s: float) -> float:
    """∫₀ᵗ span(s) ds [s²] = (t − span)/rate; half the time squared when the rate is 0.

    For small rate·t that difference cancels, hence `bend`.
    """
    z = rate * time_s
    if z < SERIES_BELOW:
        return time_s * time_s * bend(z)
    return (time_s - span_s) / rate


@compiled
def cloth_step(
    x: float, dt_s: float, x_e: float, k: float, r: float, x_c: float, x_h: float
) -> tuple[float, float, float, float]:
    """Moisture after a stretch of constant speed and air, exactly, however long it is.

    At most three pieces follow one another: with throw-off above X_c or below it until X reaches
    X_e or X_c, then without. Each amount comes from its own integral, so that
    x before = x after + thrown + evaporated is a check and not a definition.

    Args:
        x: moisture at the start [kg/kg].
        dt_s: length of the stretch [s], ≥ 0.
        x_e: moisture where throw-off ends [kg/kg], ≥ x_h.
        k: rate of throw-off [1/s], ≥ 0; 0 when the wheel stands.
        r: drying of wet cloth per kg of dry cloth [kg/(kg·s)], ≥ 0.
        x_c: moisture below which drying slows [kg/kg], > x_h.
        x_h: bound moisture [kg/kg], ≥ 0.

    Returns:
        Moisture at the end [kg/kg], water thrown [kg/kg], water evaporated [kg/kg], and the
        integral of the moisture over the stretch [kg·s/kg].
    """
    left = dt_s
    thrown = 0.0
    evaporated = 0.0
    held = 0.0
    q = r / (x_c - x_h) if x_c > x_h else 0.0

    # A: drying at full rate while water is thrown, down to X_c or X_e, whichever comes first
    if k > 0.0 and x > x_e and x > x_c and left > 0.0:
        to = max(x_c, x_e)
        t, after, span = _thrown_until(x, left, x_e, k, r, to)
        lag = decay_lag(k, t, span)
        flung_s = (x - x_e) * span - r * lag  # ∫ (X − X_e) dt
        thrown += k * flung_s
        evaporated += r * t
        held += x_e * t + flung_s
        left -= t
        x = after

    # C: slowed drying while water is thrown, down to X_e
    if k > 0.0 and x > x_e and x_h < x <= x_c and left > 0.0:
        both = k + q
        at_limit = q * (x_e - x_h)  # drying at X_e
        t, after, span = _thrown_until(x, left, x_e, both, at_limit, x_e)
        lag = decay_lag(both, t, span)
        flung_s = (x - x_e) * span - at_limit * lag  # ∫ (X − X_e) dt
        thrown += k * flung_s
        evaporated += q * ((x_e - x_h) * t + flung_s)
        held += x_e * t + flung_s
        left -= t
        x = after

    # B: drying alone at full rate, down to X_c
    if x > x_c and left > 0.0:
        after = x - r * left
        t = left
        dried = r * left
        if after <= x_c:
            t = min((x - x_c) / r, left)  # r > 0, or X would not have moved
            after = x_c
            dried = x - x_c
        evaporated += dried
        held += 0.5 * (x + after) * t
        left -= t
        x = after

    # D: slowed drying alone, toward X_h and never there
    if x_h < x <= x_c and left > 0.0:
        free_s = (x - x_h) * decay_span(q, left)  # ∫ (X − X_h) dt
        evaporated += q * free_s
        held += x_h * left + free_s
        x = max(x_h, x - q * free_s)
        left = 0.0

    # at or below bound moisture nothing moves
    held += x * left
    return x, thrown, evaporated, held


@compiled
def _thrown_until(
    x: float, left: float, x_e: float, rate: float, drying: float, to: float
) -> tuple[float, float, float]:
    """How long a piece with throw-off lasts, the moisture at its end, and its `decay_span`.

    The piece is dX/dt = −rate·(X − X_e) − drying; it ends at moisture `to` or when `left` is over.
    Starting with the moisture at the end of `left` spares the logarithm where nothing is crossed.
    """
    span = decay_span(rate, left)
    after = x - (rate * (x - x_e) + drying) * span
    if after > to:
        return left, after, span
    slope = rate * (to - x_e) + drying  # how fast X still falls at `to`
    if slope <= 0.0:
        return left, to, span  # `to` is only approached; rounding got there
    straight = (x - to) / slope  # the time it would take at that slope
    along = rate * straight
    # without the test a vanishing rate would make it 0/0
    t = math.log1p(along) / rate if along > _NO_DECAY else straight
    t = min(t, left)
    return t, to, decay_span(rate, t)
