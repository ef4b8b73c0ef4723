"""Spin tests: what a strip before and after idling tells of throw-off."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.stats import norm

from sim.day.setup import IDLE, cloth_numbers
from sim.inputs import SPIN, Site, Weighing
from sim.learn import spin
from sim.learn.spin import NODES, SpinTest, begins, spun, strips_of
from tests.day.sites import conditions

SITE = Site("Spun wash")
DAY = date(2026, 7, 18)
AIR = conditions(0)
EVENING_S = 19.8 * 3600.0


def row(before: float, after: float, minutes: float, at_s: float = EVENING_S) -> Weighing:
    """A strip of 100 g with so much water for its own weight, before and after."""
    return Weighing(
        SPIN, DAY, at_s, 0.1 * (1 + before), 0.1, after_kg=0.1 * (1 + after), spun_s=60.0 * minutes
    )


def test_rows_of_one_strip_are_one_test() -> None:
    """By day, time and weights before, each in order of time; other rows are none."""
    first, later, other = row(1.5, 0.9, 10), row(1.5, 0.7, 40), row(1.4, 0.9, 10)
    towel = Weighing("towel", DAY, 0.0, 0.2, 0.1, verdict="pass")
    assert strips_of([later, towel, other, first]) == [(first, later), (other,)]


def test_the_strip_follows_the_law_of_the_day() -> None:
    """From each moisture that it may have begun with, across a full hour, as a solver of the same
    differential equation has it (SciPy's, to 1e-8): throw-off and drying together; never from more
    than the cloth holds."""
    test = SpinTest((row(1.5, 0.9, 10), row(1.5, 0.7, 40)), AIR)
    found = spun(SITE, [test])
    assert found.shape == (2, NODES)
    cloth = cloth_numbers(SITE, AIR)
    limit, k = cloth.throw[IDLE]

    def slope(t: float, x: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        hour = int((EVENING_S + t) // 3600)
        rate = cloth.rate[hour][IDLE]
        part = min(1.0, max(0.0, (x[0] - cloth.bound) / (cloth.critical - cloth.bound)))
        return [-k * max(0.0, x[0] - limit) - rate * part]

    for node in (2, NODES // 2, NODES - 1):
        x = min(float(begins(test, SITE.wheel.weigh_in_log_sd)[node]), cloth.holding)
        for place, minutes in enumerate((10.0, 40.0)):
            out = solve_ivp(
                slope, (0.0, 60.0 * minutes), [x], rtol=1e-10, atol=1e-12, max_step=30.0
            )
            assert found[place, node] == pytest.approx(out.y[0, -1], abs=1e-7)


def test_the_likelihood_is_an_integral_over_what_it_began_with() -> None:
    """Against SciPy's adaptive quadrature over the same densities, for one and for two later
    weighings, at a usual and at a strange site's errors, and for a scale that shows 5 % more."""
    sd, holding = SITE.wheel.weigh_in_log_sd, SITE.wheel.holding_capacity_kg_kg
    for rows in ((row(1.5, 1.2, 10),), (row(1.5, 1.2, 10), row(1.5, 0.8, 60))):
        test = SpinTest(rows, AIR)
        looked = spun(SITE, [test])[None]
        for wider, bias in ((1.0, 0.0), (3.0, 0.0), (1.0, 0.05)):
            s = wider * sd
            starts = np.log(begins(test, sd))

            def density(
                x: float, rows: tuple[Weighing, ...] = rows, s: float = s,
                looked: spin.Floats = looked, starts: spin.Floats = starts, bias: float = bias,
            ) -> float:  # fmt: skip
                first = math.log((1.0 + bias) * (1.0 + math.exp(x)) - 1.0)
                value = float(norm.pdf((math.log(1.5) - first) / s)) / s
                for place, item in enumerate(rows):
                    # between nodes the moisture afterwards is smooth: a line in logarithms
                    after = math.exp(np.interp(x, starts, np.log(looked[0, place])))
                    after = math.log((1.0 + bias) * (1.0 + after) - 1.0)
                    value *= float(norm.pdf((math.log(item.after_kg_kg) - after) / s)) / s
                return value

            top = min(math.log(holding), starts[-1])
            by_quad, _ = quad(density, starts[0], top, limit=400, points=starts[1:-1].tolist())
            found = spin.log_likelihood(SITE, test, looked, np.array([holding]), wider, bias=bias)
            assert found[0] == pytest.approx(math.log(by_quad), abs=0.12)


def test_a_test_that_cannot_be_is_not_impossible() -> None:
    """A strip that got far wetter while it idled: hardly likely, and never without a logarithm."""
    test = SpinTest((row(0.3, 2.1, 30),), AIR)
    found = spin.log_likelihood(SITE, test, spun(SITE, [test])[None], np.array([2.2]))
    assert spin.LEAST <= found[0] < -20.0


def test_a_strip_that_dries_faster_speaks_for_a_faster_wheel() -> None:
    """Of two sites that differ in the time of throw-off alone the faster one is likelier where the
    strip lost much, the slower one where it lost little; the longer it idled the more so."""
    sites = [SITE.with_values({"throw_off_time_s": s}) for s in (300.0, 7200.0)]
    holding = np.full(2, SITE.wheel.holding_capacity_kg_kg)
    for minutes, apart in ((10, 2.0), (30, 4.0)):
        clear = []
        for true in sites:
            blank = SpinTest((row(1.6, 1.0, minutes),), AIR)
            after = float(spun(true, [blank])[0, NODES // 2])
            test = replace(blank, weighings=(row(1.6, after, minutes),))
            looked = np.stack([spun(one, [test]) for one in sites])
            fast, slow = spin.log_likelihood(SITE, test, looked, holding).tolist()
            clear.append(fast - slow)
        assert clear[0] > apart
        assert clear[1] < -apart
