"""The cloth's moisture: throw-off, drying and the exact step."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from sim.physics.moisture import cloth_step, decay_lag, decay_span, throw_off_at
from tests import seeds
from tests.physics.reference import Stretch, any_stretch, crossing_stretch, solve

CROSSING_BOTH = 600
"""Intervals that cross both limits, compared with the solver."""
OF_ANY_KIND = 300
"""Further intervals of any kind, compared with the solver."""
SPLIT = 2_000
"""Intervals of each sample that are taken in one step and in two."""
UNDER_QUADRATURE = 60


def near(value: float, reference: float, tolerance: float) -> bool:
    """Whether two values agree, relative above 1 and absolute below."""
    return abs(value - reference) <= tolerance * max(1.0, abs(reference))


def test_a_step_that_crosses_both_limits_equals_a_general_solver() -> None:
    """Over hundreds of steps through X_c and X_e all four results equal the solver's to 1e-9."""
    rng = seeds.generator("cloth step, crossing both")
    order = {"throw-off first": 0, "critical first": 0}
    for _ in range(CROSSING_BOTH):
        stretch = crossing_stretch(rng)
        reference = solve(stretch)
        assert reference.crossed == {"critical", "throw-off"}, stretch
        order["throw-off first" if stretch.x_e > stretch.x_c else "critical first"] += 1
        for value, expected in zip(cloth_step(*stretch.args), reference.values, strict=True):
            assert near(value, expected, 1e-9), stretch
    assert CROSSING_BOTH >= 500
    assert min(order.values()) >= 200


def test_a_step_of_any_kind_equals_a_general_solver() -> None:
    """Starting on a limit, standing, in saturated air or bone dry, the step equals the solver."""
    rng = seeds.generator("cloth step, any kind")
    for _ in range(OF_ANY_KIND):
        stretch = any_stretch(rng)
        reference = solve(stretch)
        for value, expected in zip(cloth_step(*stretch.args), reference.values, strict=True):
            assert near(value, expected, 1e-9), stretch


@pytest.mark.parametrize("kind", [crossing_stretch, any_stretch])
def test_one_step_equals_any_two(kind: Callable[[np.random.Generator], Stretch]) -> None:
    """Cutting a stretch anywhere changes none of the four results by more than 1e-12."""
    rng = seeds.generator(f"cloth step, cut in two, {kind.__name__}")
    for _ in range(SPLIT):
        s = kind(rng)
        whole = cloth_step(*s.args)
        first_s = s.dt_s * rng.uniform(0.0, 1.0)
        a = cloth_step(s.x, first_s, s.x_e, s.k, s.r, s.x_c, s.x_h)
        b = cloth_step(a[0], s.dt_s - first_s, s.x_e, s.k, s.r, s.x_c, s.x_h)
        assert near(b[0], whole[0], 1e-12), s
        for i in (1, 2, 3):
            assert near(a[i] + b[i], whole[i], 1e-12), (s, i)


def test_held_moisture_is_the_integral_of_the_moisture() -> None:
    """The last result equals numerical quadrature of the first, cut at the two crossings."""
    rng = seeds.generator("cloth step, held")
    for _ in range(UNDER_QUADRATURE):
        s = crossing_stretch(rng)

        def moisture_at(t: float, s: Stretch = s) -> float:
            return cloth_step(s.x, t, s.x_e, s.k, s.r, s.x_c, s.x_h)[0]

        def crossing(limit: float, s: Stretch = s) -> float:
            return float(brentq(lambda t: moisture_at(t, s) - limit, 0.0, s.dt_s, xtol=1e-9))

        # a sixteenth each, since the moisture may fall within a small part of a long stretch
        cuts = [0.0, *sorted((crossing(s.x_c), crossing(s.x_e))), s.dt_s]
        total = 0.0
        for start, end in pairwise(cuts):
            width = (end - start) / 16
            for part in range(16):
                low = start + part * width
                total += quad(moisture_at, low, low + width, epsabs=1e-10, epsrel=1e-12)[0]
        assert near(cloth_step(*s.args)[3], total, 1e-9), s


RATES = st.one_of(st.sampled_from([0.0, 5e-324, 1e-300, 1e-40, 1e-18, 1e-12]), st.floats(1e-9, 1.0))


@st.composite
def stretches(draw: st.DrawFn) -> Stretch:
    """Steps with the awkward values made likely: on a limit, equal limits, vanishing rates."""
    x_h = draw(st.sampled_from([0.0, 0.02, 0.2]))
    x_c = x_h + draw(st.floats(1e-6, 2.0))
    x_e = draw(st.one_of(st.just(x_c), st.just(x_h), st.floats(x_h, x_h + 2.0)))
    just_above = math.nextafter(x_e, math.inf)
    x = draw(
        st.one_of(
            st.sampled_from([x_c, x_e, x_h, just_above, math.nextafter(x_c, math.inf)]),
            st.floats(0.0, 6.0),
        )
    )
    dt_s = draw(st.one_of(st.sampled_from([0.0, 1e-9, 30.0, 3600.0]), st.floats(0.0, 1e5)))
    return Stretch(x, dt_s, x_e, draw(RATES), draw(RATES), x_c, x_h)


@given(stretches())
@example(Stretch(2.0, 1e5, 0.5, 1.0, 1e-12, 0.3, 0.0))
@example(Stretch(2.0, 1e5, 0.5, 5e-324, 1.0, 0.3, 0.0))
@example(Stretch(0.3, 1e5, 0.2, 1e-300, 1e-300, 0.4, 0.0))
@example(Stretch(2.0, 1e5, 0.3, 1.0, 5e-324, 0.3, 0.0))
def test_water_is_neither_lost_nor_made(s: Stretch) -> None:
    """Moisture before equals moisture after plus thrown plus evaporated, to 1e-12."""
    after, thrown, evaporated, _ = cloth_step(*s.args)
    assert abs(s.x - (after + thrown + evaporated)) <= 1e-12 * max(1.0, s.x)


@given(stretches())
def test_moisture_only_falls_and_stays_above_what_is_bound(s: Stretch) -> None:
    """No amount is negative, moisture never rises, and drying never passes bound moisture."""
    after, thrown, evaporated, held = cloth_step(*s.args)
    assert min(s.x, s.x_h) <= after <= s.x
    assert thrown >= 0.0
    assert evaporated >= 0.0
    slack = 1e-12 * max(1.0, s.x * s.dt_s)
    assert after * s.dt_s - slack <= held <= s.x * s.dt_s + slack


@given(stretches())
def test_nothing_is_thrown_at_or_below_the_throw_off_moisture(s: Stretch) -> None:
    """A cloth no wetter than X_e throws nothing, and one that is throws no more than the rest."""
    _, thrown, _, _ = cloth_step(*s.args)
    if s.x <= s.x_e:
        assert thrown == 0.0
    else:
        assert thrown <= (s.x - s.x_e) * (1.0 + 1e-12)


@given(stretches())
def test_without_drying_the_cloth_never_falls_below_the_throw_off_moisture(s: Stretch) -> None:
    """With r = 0 nothing evaporates, and moisture tends to X_e as e^(−k·t) without passing it."""
    after, thrown, evaporated, _ = cloth_step(s.x, s.dt_s, s.x_e, s.k, 0.0, s.x_c, s.x_h)
    assert evaporated == 0.0
    assert after >= min(s.x, s.x_e)
    excess = max(0.0, s.x - s.x_e)
    assert after == pytest.approx(min(s.x, s.x_e) + excess * math.exp(-s.k * s.dt_s), abs=1e-12)
    assert thrown == pytest.approx(-excess * math.expm1(-s.k * s.dt_s), abs=1e-12)


@given(stretches())
def test_a_standing_wheel_only_dries(s: Stretch) -> None:
    """With k = 0 the cloth dries straight down to X_c, then exponentially toward X_h."""
    after, thrown, evaporated, _ = cloth_step(s.x, s.dt_s, s.x_e, 0.0, s.r, s.x_c, s.x_h)
    assert thrown == 0.0
    assert evaporated == pytest.approx(s.x - after, abs=1e-12)
    if s.x <= s.x_h:
        assert after == s.x
        return
    to_critical_s = max(0.0, s.x - s.x_c) / s.r if s.r > 0.0 else math.inf
    if s.x > s.x_c and s.dt_s <= to_critical_s:
        expected = s.x - s.r * s.dt_s
    else:
        start = min(s.x, s.x_c)
        rest_s = s.dt_s - to_critical_s if s.x > s.x_c else s.dt_s
        decay = math.exp(-s.r / (s.x_c - s.x_h) * rest_s)
        expected = s.x_h + (start - s.x_h) * decay
    assert after == pytest.approx(expected, abs=1e-9)


@given(stretches(), st.floats(0.0, 1.0))
def test_wetter_cloth_stays_wetter(s: Stretch, more: float) -> None:
    """Two cloths in the same air never change places, and the wetter one loses no less water."""
    drier = cloth_step(*s.args)
    wetter = cloth_step(s.x + more, s.dt_s, s.x_e, s.k, s.r, s.x_c, s.x_h)
    assert wetter[0] >= drier[0] - 1e-12
    assert wetter[1] + wetter[2] >= drier[1] + drier[2] - 1e-12


def test_a_vanishing_rate_keeps_its_first_order() -> None:
    """A rate of 1e-14 throws 1e-14 times the integral of the excess, to nine digits."""
    x, dt_s, x_e, r = 1.5, 600.0, 0.5, 2e-4
    excess_integral = (x - x_e) * dt_s - 0.5 * r * dt_s**2  # drying alone is a straight line
    after, thrown, evaporated, held = cloth_step(x, dt_s, x_e, 1e-14, r, 0.4, 0.02)
    assert thrown == pytest.approx(1e-14 * excess_integral, rel=1e-9)
    assert evaporated == pytest.approx(r * dt_s, rel=1e-12)
    assert after == pytest.approx(x - r * dt_s, rel=1e-11)
    assert held == pytest.approx(x_e * dt_s + excess_integral, rel=1e-11)


def test_vanishing_drying_keeps_its_first_order() -> None:
    """Drying of 1e-14 below X_c evaporates q times the integral of moisture above X_h."""
    x, dt_s, x_e, k, x_c, x_h = 0.35, 600.0, 0.1, 1e-3, 0.4, 0.02
    q = 1e-14 / (x_c - x_h)
    above_s = (x_e - x_h) * dt_s - (x - x_e) * math.expm1(-k * dt_s) / k
    assert cloth_step(x, dt_s, x_e, k, 1e-14, x_c, x_h)[2] == pytest.approx(q * above_s, rel=1e-9)


def test_one_hour_of_a_wet_wheel_by_hand() -> None:
    """An hour at τ = 1 h from 1.55 to X_e = 0.55 without drying leaves 0.55 + 1/e."""
    after, thrown, evaporated, held = cloth_step(1.55, 3600.0, 0.55, 1 / 3600, 0.0, 0.4, 0.02)
    assert after == pytest.approx(0.55 + math.exp(-1.0), abs=1e-15)
    assert thrown == pytest.approx(1.0 - math.exp(-1.0), abs=1e-15)
    assert evaporated == 0.0
    assert held == pytest.approx(3600.0 * (0.55 + 1.0 - math.exp(-1.0)), rel=1e-14)


@pytest.mark.parametrize("z", [1e-12, 1e-6, 0.01, 0.0999999, 0.1, 0.1000001, 0.5, 3.0])
def test_the_integrals_of_decay_are_exact_on_both_sides_of_the_series(z: float) -> None:
    """span and lag equal their Taylor series summed in whole fractions, to 1e-14."""
    time_s = 8.0  # a power of two, so that rate · time is z without rounding
    rate = z / time_s
    exact_z = Fraction(z)
    span = sum((-exact_z) ** n / math.factorial(n + 1) for n in range(40))
    lag = sum((-exact_z) ** n / math.factorial(n + 2) for n in range(40))
    got = decay_span(rate, time_s)
    assert got == pytest.approx(float(span) * time_s, rel=1e-14)
    assert decay_lag(rate, time_s, got) == pytest.approx(float(lag) * time_s**2, rel=1e-14)


SITE = (1.5, 0.55, 3600.0, 0.4, 1.0, 2.2, 0.02)
"""Reference speed, limit, time, b, c, holding capacity, bound moisture."""


def test_at_the_reference_speed_the_inputs_hold() -> None:
    """At the speed at which throw-off was judged, limit and time are the entered ones."""
    assert throw_off_at(1.5, *SITE) == (0.55, 1.0 / 3600.0)


def test_a_faster_wheel_throws_further_and_sooner() -> None:
    """Doubling the speed is four times G: the limit falls by 4^b, the rate rises by 4^c."""
    limit, rate = throw_off_at(3.0, *SITE)
    assert limit == pytest.approx(0.55 / 4.0**0.4, rel=1e-14)
    assert rate == pytest.approx(4.0 / 3600.0, rel=1e-14)
    slow_limit, slow_rate = throw_off_at(0.9, *SITE)
    assert slow_limit > 0.55 > limit
    assert slow_rate < 1.0 / 3600.0 < rate


def test_the_limit_stays_between_bound_moisture_and_holding_capacity() -> None:
    """However slow or fast the wheel, X_e is neither above X_cap nor below X_h."""
    assert throw_off_at(0.05, *SITE)[0] == 2.2
    assert throw_off_at(1e-300, *SITE)[0] == 2.2
    assert throw_off_at(1e6, *SITE)[0] == 0.02
    for step in range(1, 120):
        limit, rate = throw_off_at(0.05 * step, *SITE)
        assert 0.02 <= limit <= 2.2
        assert rate > 0.0


def test_exponents_that_leave_the_range_of_doubles_do_no_harm() -> None:
    """A speed of almost nothing or beyond reason gives a bound and a finite rate, no overflow."""
    steep = (1.5, 0.55, 3600.0, 1.0, 2.0, 2.2, 0.02)
    assert throw_off_at(1e-300, *steep) == (2.2, 0.0)
    limit, rate = throw_off_at(1e300, *steep)
    assert limit == 0.02
    assert 0.0 < rate < math.inf


def test_a_standing_wheel_throws_nothing() -> None:
    """At speed 0 the rate is exactly 0."""
    assert throw_off_at(0.0, *SITE)[1] == 0.0
