"""Towel tests: what ten hoods tell of the film that a crew lets pass."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import log_ndtr, logsumexp
from scipy.stats import norm

from sim.day.drawn import OF_MEASURING, QUANTILES, prior_values
from sim.inputs import CALL_BACK, INPUTS, LET_PASS, TOWEL, Site, Weighing
from sim.learn import towel
from sim.learn.towel import SPREADS, middle_kg
from tests.seeds import generator

SITE = Site("Towelled wash")
DAY = date(2026, 7, 18)
KNOWN = {"towel_takes", "crew_damp_log_sd"}
LIMITS_KG = np.geomspace(0.002, 0.2, 60)


def hood(gain_kg: float, verdict: str) -> Weighing:
    """A towel of 200 g that took so much."""
    return Weighing(TOWEL, DAY, 0.0, 0.2 + gain_kg, 0.2, verdict=verdict)


TEN = [
    *(hood(g / 1000.0, LET_PASS) for g in (9, 14, 17, 12, 21)),
    *(hood(g / 1000.0, CALL_BACK) for g in (30, 41, 26, 55, 38)),
]


def test_each_hood_counts_given_its_verdict() -> None:
    """With crew and towel known, the density of what a towel shows given the verdict integrates to
    one over all that it may show, called back and let pass alike (SciPy's quadrature)."""
    scatter, spread, off = 0.25, 0.4, 0.15
    limits, middles = np.array([-3.6]), np.array([-3.4])
    for sign in (1.0, -1.0):

        def density(y: float, sign: float = sign) -> float:
            found = towel._of_limits(
                np.array([y]), np.array([sign]), limits, middles, scatter, spread, off
            )
            return math.exp(float(found[0])) / math.sqrt(2.0 * math.pi)

        total, _ = quad(density, -8.0, 2.0, limit=200)
        assert total == pytest.approx(1.0, abs=1e-6)


def test_the_likelihood_is_that_of_hoods_judged_and_dried() -> None:
    """A hood's water x about μ, a crew's look x + η, a towel's x + ln q + e: the density of one
    towel given its verdict equals the double integral over x and η by SciPy's quadrature."""
    scatter, spread, off, mu, limit, y = 0.3, 0.5, 0.15, -3.7, -3.5, -3.3

    def joint(x: float) -> float:
        back = float(norm.cdf((x - limit) / scatter))
        return float(norm.pdf(x, mu, spread) * norm.pdf(y, x, off)) * back

    top, _ = quad(joint, mu - 8 * spread, mu + 8 * spread, limit=200, points=[y])
    under, _ = quad(
        lambda x: float(norm.pdf(x, mu, spread) * norm.cdf((x - limit) / scatter)),
        mu - 8 * spread, mu + 8 * spread, limit=200,
    )  # fmt: skip
    found = towel._of_limits(
        np.array([y]), np.array([1.0]), np.array([limit]), np.array([mu]), scatter, spread, off
    )
    assert math.exp(float(found[0])) / math.sqrt(2 * math.pi) == pytest.approx(
        top / under, rel=1e-6
    )


def test_the_limit_lies_between_the_groups() -> None:
    """The likeliest limit lies between the wettest hood that would pass and the driest that would
    be called back, for what a towel does not take, near halfway by ratio; who knows the towel and
    the crew knows it more sharply; strange sites less."""
    widths = []
    for known, wider in ((KNOWN, 1.0), (set[str](), 1.0), (set[str](), 3.0)):
        log = towel.log_likelihood(SITE, TEN, LIMITS_KG, known, wider)
        weights = np.exp(log - logsumexp(log))
        middle = float(weights @ np.log(LIMITS_KG))
        widths.append(math.sqrt(float(weights @ (np.log(LIMITS_KG) - middle) ** 2)))
        if wider == 1.0:
            assert 0.021 / 0.9 < math.exp(middle) < 0.026 / 0.9 * 1.15
    assert widths[0] < widths[1] < widths[2]
    between = middle_kg(TEN, 0.9)
    assert between == pytest.approx(math.sqrt(0.014 * 0.038) / 0.9)
    assert middle_kg(TEN[:5], 0.9) is None


def test_one_group_alone_bounds_the_limit_on_one_side() -> None:
    """Hoods that all would pass, of fifty cars that all would, speak against a limit far below them
    and not against any far above; hoods called back the other way round."""
    for some, sign in ((TEN[:5], 1.0), (TEN[5:], -1.0)):
        back = 0 if sign > 0.0 else 50
        counted = [replace(item, cars=50, damp_cars=back) for item in some]
        low, high = towel.log_likelihood(SITE, counted, np.array([0.004, 0.12]), KNOWN).tolist()
        assert sign * (high - low) > 5.0


def test_without_a_towel_nothing_is_told() -> None:
    """Every limit is as likely as any."""
    assert not towel.log_likelihood(SITE, [], LIMITS_KG).any()


def test_counted_cars_tell_where_the_limit_lies_among_hoods() -> None:
    """Where few cars come out damp those called back lie just above the limit and the others far
    below it. Over 120 crews the limit believed is off by less than a fifteenth in the mean where
    the cars that went by were counted, by a fifth and more to the dry side where each hood counts
    as if it had been met at random; without the count it is known far less sharply than with it."""
    rng, limit, scatter = generator("towels"), math.log(0.03), 0.25
    off: dict[str, list[float]] = {"counted": [], "not counted": [], "at random": []}
    wide: dict[str, list[float]] = {"counted": [], "not counted": []}
    at = np.log(LIMITS_KG)
    for _ in range(120):
        water = limit - 0.6 + 0.4 * rng.standard_normal(400)
        back = water + scatter * rng.standard_normal(400) > limit
        shown = water + math.log(0.9) + 0.15 * rng.standard_normal(400)
        until = min(200, max(np.flatnonzero(back)[4], np.flatnonzero(~back)[4]) + 1)
        some = [
            *(hood(math.exp(y), LET_PASS) for y in shown[~back][:5]),
            *(hood(math.exp(y), CALL_BACK) for y in shown[back][:5]),
        ]
        called = int(back[:until].sum())
        counted = [replace(item, cars=int(until), damp_cars=called) for item in some]
        for name, items in (("counted", counted), ("not counted", some)):
            log = towel.log_likelihood(SITE, items, LIMITS_KG, KNOWN)
            weights = np.exp(log - logsumexp(log))
            off[name].append(float(weights @ at) - limit)
            wide[name].append(math.sqrt(float(weights @ (at - weights @ at) ** 2)))
        sign = np.repeat([-1.0, 1.0], 5)
        y = np.log([one.gain_kg for one in some]) - math.log(0.9)
        plain = log_ndtr(sign * (y - at[:, None]) / math.hypot(scatter, 0.15)).sum(axis=1)
        off["at random"].append(float(np.exp(plain - logsumexp(plain)) @ at) - limit)
    assert abs(np.mean(off["counted"])) < 1.0 / 15.0
    assert np.mean(off["at random"]) < -0.2
    assert np.mean(wide["counted"]) < 0.6 * np.mean(wide["not counted"])


def test_what_is_averaged_over_lies_within_what_is_believed() -> None:
    """Quantiles of each prior rise and lie inside their ranges; spreads of hoods rise."""
    for name in OF_MEASURING:
        prior = INPUTS[name].prior
        assert prior is not None
        values = prior_values(SITE, name, ())
        assert len(values) == len(QUANTILES)
        assert prior.low < values[0] < values[-1] < prior.high
        assert prior_values(SITE, name, OF_MEASURING) == [SITE.value(name)]
    assert list(SPREADS) == sorted(SPREADS)
