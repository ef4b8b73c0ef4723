"""How old measurements count less, and how the rate of that is learnt."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.special import logsumexp, ndtri
from scipy.stats import betabinom, multivariate_normal, norm

from sim.inputs import CALL_BACK, HOODS, INPUTS, LET_PASS, SOAKED, SPIN, TOWEL, Site, Weighing
from sim.learn import spin, towel, weigh_in
from sim.learn.answer import Posterior
from sim.learn.fading import FRESH_DAYS, PARTS, RATES, Moved, known_as_by, rates_of
from sim.learn.weigh_in import (
    MISJUDGED,
    by_rate,
    log_likelihood,
    posterior,
    reweigh,
)
from sim.learn.weighed_day import PredictedWeighings, WeighedDay
from tests.day.sites import conditions
from tests.learn.measured_sites import spin_test
from tests.remembering import remember
from tests.seeds import generator

SITE = Site("Fading wash")
NOW = date(2026, 7, 18)
YEARS = timedelta(days=2 * 365 + FRESH_DAYS)
"""Long enough ago to have moved by √2 times the rate of a year."""
SD = SITE.wheel.weigh_in_log_sd
RIGHT = {"scale_bias"}
"""Of a scale that was found to be right, errors alone are left."""


@pytest.fixture(scope="module", autouse=True)
def drawn_once() -> Iterator[None]:
    """Sites that are asked what they would weigh are asked once by all tests of this module."""
    with pytest.MonkeyPatch.context() as patch:
        remember(patch, weigh_in, "_look")
        yield


def strip(moisture: float, day: date) -> Weighing:
    """A soaked strip."""
    return Weighing(SOAKED, day, 0.0, 0.1 * (1.0 + moisture), 0.1)


def seen(*holdings: float) -> PredictedWeighings:
    """Drawn sites of some holding capacities, and nothing else."""
    none = np.empty((len(holdings), 0))
    return PredictedWeighings(np.array([(one, 0.5 * one) for one in holdings]), none, none)


def test_within_four_weeks_nothing_has_moved() -> None:
    """Measurements of one month are judged at one rate, standing still; a day older at all."""
    assert rates_of([NOW, NOW - timedelta(days=FRESH_DAYS)]) == (Moved(0.0, NOW),)
    found = rates_of([NOW, NOW - timedelta(days=FRESH_DAYS + 1)])
    assert [one.rate for one in found] == list(RATES)
    assert [one.since(NOW) for one in found] == [0.0] * len(RATES)
    assert found[-1].since(NOW - YEARS) == pytest.approx(RATES[-1] * math.sqrt(2.0))
    assert rates_of([]) == (Moved(0.0, date.min),)


def test_an_old_strip_is_one_with_a_wider_error() -> None:
    """The likelihood of two strips, one of them old, is the mean over rates of two normal densities
    of the logarithm, the old one's variance widened; by SciPy."""
    logs = np.log([2.0, 2.6])
    items = [strip(2.0, NOW), strip(2.6, NOW - YEARS)]
    by_hand = [
        norm.logpdf(logs[0], math.log(2.2), SD)
        + norm.logpdf(logs[1], math.log(2.2), math.hypot(SD, math.sqrt(2.0) * rate))
        for rate in RATES
    ]
    assert by_rate(SITE, seen(2.2), items, [], known=RIGHT)[:, 0] == pytest.approx(by_hand)
    got = log_likelihood(SITE, seen(2.2), items, [], known=RIGHT)[0]
    assert got == pytest.approx(logsumexp(by_hand) - math.log(len(RATES)))


@pytest.mark.parametrize(("old", "slow"), [(2.2, True), (4.4, False)])
def test_how_fast_a_site_moves_is_learnt_from_old_and_new(old: float, *, slow: bool) -> None:
    """Three strips of now and three of two years ago: where they agree the site hardly moves, where
    they differ by half it does. Against the evidence of each rate in closed form (normal prior of
    the logarithm, strange sites left out: they are few), to a tenth."""
    prior = INPUTS["holding_capacity_kg_kg"].prior
    assert prior is not None
    prior_sd = (math.log(prior.high) - math.log(prior.low)) / (2.0 * float(ndtri(0.975)))
    now, then = (2.15, 2.2, 2.25), (0.95 * old, old, 1.05 * old)
    items = [strip(x, NOW) for x in now] + [strip(x, NOW - YEARS) for x in then]
    evidence = []
    for rate in RATES:
        error = np.repeat([SD, math.hypot(SD, math.sqrt(2.0) * rate)], 3)
        covariance = prior_sd**2 + np.diag(error**2)
        middle = np.full(6, math.log(SITE.wheel.holding_capacity_kg_kg))
        evidence.append(multivariate_normal(middle, covariance).pdf(np.log([*now, *then])))
    expected = np.array(evidence) / np.sum(evidence)
    found = reweigh(SITE, RIGHT, items, (), 3)
    assert sum(found.moves) == pytest.approx(1.0)
    assert found.moves == pytest.approx(expected, abs=0.1)
    assert (found.moves[0] + found.moves[1] > 0.5) is slow


def test_a_belief_follows_what_was_measured_last() -> None:
    """Three old strips hold twice what three new ones hold: the middle of what is believed lies by
    the new ones, nearer than if all were as good; and it is told how far the site moves."""
    new, old = [strip(1.8, NOW)] * 3, [strip(3.0, NOW - YEARS)] * 3
    fresh = [replace(one, day=NOW) for one in old]

    aged, at_once = (posterior(SITE, (), [*new, *some], (), 3) for some in (old, fresh))

    def middle(found: Posterior) -> float:
        return float(str(found.belief.middle(SITE).value("holding_capacity_kg_kg")))

    assert abs(middle(aged) - 1.8) < abs(middle(at_once) - 1.8)
    assert aged.moves > 0.1
    assert at_once.moves == 0.0


def test_a_share_that_has_moved_is_known_as_by_fewer_cars() -> None:
    """Counts of hoods long ago are beta-binomial, with the variance that the step makes of the
    share at first order; by SciPy, without its coefficient."""
    share, moved = np.array([0.3]), 0.3
    size = known_as_by(share, moved)
    assert share * (1.0 - share) / (size + 1.0) == pytest.approx((0.3 * 0.7 * 0.3) ** 2)
    day = NOW - YEARS
    looks = [Weighing(HOODS, day, 0.0, 0.0, 0.0, cars=20, damp_cars=k) for k in (9, 3)]
    looked = PredictedWeighings(np.array([[2.0, 1.0, 1.0]]), share[None], share[None])
    anchor, p = [strip(2.0, NOW)], MISJUDGED + (1.0 - 2.0 * MISJUDGED) * 0.3
    nine, three = (
        by_rate(SITE, looked, anchor, [WeighedDay((one,), conditions(), None)]) for one in looks
    )
    for row, rate in enumerate(RATES[1:], 1):
        size = known_as_by(np.array(p), math.sqrt(2.0) * rate)
        like = betabinom(20, size * p, size * (1.0 - p))
        coefficient = math.log(math.comb(20, 9) / math.comb(20, 3))
        expected = like.logpmf(9) - like.logpmf(3) - coefficient
        assert nine[row, 0] - three[row, 0] == pytest.approx(expected)


def test_old_towels_and_spin_tests_tell_less() -> None:
    """Between two sites that a towel test, or a spin test, tells apart, the log-likelihood differs
    by less where the site has moved since; standing still changes nothing."""
    item = Weighing(TOWEL, NOW, 0.0, 0.2, 0.2, cars=10, damp_cars=5)
    towels = [replace(item, weight_kg=0.2 + kg, verdict=LET_PASS) for kg in (0.010, 0.011, 0.012)]
    towels += [replace(item, weight_kg=0.2 + kg, verdict=CALL_BACK) for kg in (0.019, 0.02, 0.021)]
    limits = np.array([0.016, 0.05])
    test = spin_test(SITE, generator("old spin"))
    held = np.array([2.2, 2.2])
    air = spin.spun(SITE, [test])
    two = np.stack([air, 0.7 * air])

    def apart(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
        return float(values[0] - values[1])

    still, moved = (towel.log_likelihood(SITE, towels, limits, moved=x) for x in (0.0, 0.5))
    assert 0.0 < apart(moved) < apart(still)
    still, moved = (spin.log_likelihood(SITE, test, two, held, moved=x) for x in (0.0, 0.5))
    assert 0.0 < apart(moved) < apart(still)
    assert test.weighings[0].kind == SPIN


def test_parts_of_a_normal_step_have_its_mean_and_variance() -> None:
    """Six equal parts stand for the whole."""
    assert sum(PARTS) == 0.0
    assert np.mean(np.square(PARTS)) == pytest.approx(1.0, abs=1e-3)
