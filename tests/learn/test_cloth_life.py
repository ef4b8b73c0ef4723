"""How long sets last: the posterior from zero lives upwards, and the fit beside it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.stats import norm

from sim.errors import InputError
from sim.learn.cloth_life import (
    Life,
    LifePrior,
    fit_life,
    life_posterior,
    weighted_quantile,
)
from tests.learn.life_histories import CENSORED, PRIORS, SETS, draw_prior, lives_of
from tests.sizes import Size

BETA, ETA = PRIORS


def test_without_lives_the_posterior_is_the_prior() -> None:
    """Zero lives go the same way as any number: medians and 95 % ranges of the table of inputs."""
    found = life_posterior([], BETA, ETA)
    assert found.quantile("beta", 0.5) == pytest.approx(2.5, rel=2e-3)
    assert found.quantile("eta", 0.5) == pytest.approx(60_000, rel=2e-3)
    spread = math.exp(norm.ppf(0.975) * ETA.log_sd)
    low, high = found.interval("eta")
    assert (low, high) == pytest.approx((60_000 / spread, 60_000 * spread), rel=2e-2)
    assert found.weight.sum() == pytest.approx(1.0, abs=1e-12)


def test_the_grid_is_the_integral() -> None:
    """Posterior mean of ln η by adaptive quadrature, an independent way, for a small record."""
    lives = [Life(30_000, True), Life(52_000, True), Life(41_000, False)]

    def density(log_eta: float, log_beta: float) -> float:
        beta, eta = math.exp(log_beta), math.exp(log_eta)
        value = 1.0
        for life in lives:
            x = (life.wear_cars / eta) ** beta
            value *= math.exp(-x) * (beta / life.wear_cars * x if life.failed else 1.0)
        value *= math.exp(-0.5 * ((log_beta - math.log(2.5)) / BETA.log_sd) ** 2)
        return 1e12 * value * math.exp(-0.5 * ((log_eta - math.log(60_000)) / ETA.log_sd) ** 2)

    box = (
        math.log(2.5) - 4.5 * BETA.log_sd,
        math.log(2.5) + 4.5 * BETA.log_sd,
        math.log(60_000) - 4.5 * ETA.log_sd,
        math.log(60_000) + 4.5 * ETA.log_sd,
    )
    whole, _ = dblquad(density, *box, epsrel=1e-7)
    first, _ = dblquad(lambda e, b: e * density(e, b), *box, epsrel=1e-7)
    found = life_posterior(lives, BETA, ETA)
    assert float(np.sum(found.weight * np.log(found.eta))) == pytest.approx(first / whole, abs=5e-4)


def test_many_lives_outweigh_the_prior(rng: np.random.Generator) -> None:
    """From 2,000 lives of another kind of cloth the posterior is where these lives are."""
    lives = [Life(float(age), True) for age in 9_000 * rng.weibull(1.3, 2_000)]
    found = life_posterior(lives, BETA, ETA)
    fit = fit_life(lives)
    assert fit is not None
    assert found.quantile("eta", 0.5) == pytest.approx(fit.eta, rel=5e-3)
    assert found.quantile("beta", 0.5) == pytest.approx(fit.beta, rel=1e-2)
    assert found.interval("eta") == pytest.approx(fit.eta_range, rel=1e-2)


def test_sets_that_all_still_last_only_lift_the_scale() -> None:
    """All censored: no fit by likelihood alone, and the scale of life is believed longer."""
    lives = [Life(70_000, False)] * 4
    assert fit_life(lives) is None
    before, after = life_posterior([], BETA, ETA), life_posterior(lives, BETA, ETA)
    assert after.quantile("eta", 0.025) > 1.5 * before.quantile("eta", 0.025)
    assert after.mean_life > before.mean_life


def test_a_new_set_tells_nothing() -> None:
    """An age of zero, such as that of a set in store, leaves the posterior as it is."""
    lives = [Life(30_000, True)]
    assert np.array_equal(
        life_posterior(lives, BETA, ETA).weight,
        life_posterior([*lives, Life(0.0, False)], BETA, ETA).weight,
    )


@pytest.mark.parametrize("age", [-1.0, math.nan, math.inf])
def test_an_age_that_is_none_is_refused(age: float) -> None:
    """By posterior and fit alike, with the number that was given."""
    for work in (lambda lives: life_posterior(lives, BETA, ETA), fit_life):
        with pytest.raises(InputError, match=r"is no age of a set\. Enter 0 or more"):
            work([Life(age, True)])


def test_one_age_for_all_failures_has_no_fit() -> None:
    """The likelihood rises without end as the shape does: the fit says that there is none."""
    assert fit_life([Life(5.0, True)] * 3) is None
    assert fit_life([Life(5.0, True), Life(9.0, False)]) is None


def test_likelihood_ratio_ends_are_where_the_likelihood_fell() -> None:
    """Profile likelihoods at the ends, maximised over the other number by brute force."""
    lives = [Life(x, True) for x in (21.0, 34.0, 50.0, 61.0)] + [Life(40.0, False)] * 2
    fit = fit_life(lives)
    assert fit is not None
    assert fit.is_approximate

    def height(beta: float, eta: float) -> float:
        total = 0.0
        for life in lives:
            x = (life.wear_cars / eta) ** beta
            total += -x + (math.log(beta / life.wear_cars * x) if life.failed else 0.0)
        return total

    fall = fit.log_likelihood - 0.5 * 3.841458820694124  # 95 % point of chi-square, 1 degree
    betas, etas = np.geomspace(0.2, 20, 4_000), np.geomspace(15, 400, 4_000)
    for eta in fit.eta_range:
        assert max(height(float(b), eta) for b in betas) == pytest.approx(fall, abs=2e-4)
    for beta in fit.beta_range:
        assert max(height(beta, float(e)) for e in etas) == pytest.approx(fall, abs=2e-4)


def test_a_weighted_quantile_halves_the_weight() -> None:
    """Half of the weight below the median; equal values count together."""
    values, weight = np.array([3.0, 1.0, 2.0, 2.0]), np.array([0.25, 0.25, 0.3, 0.2])
    assert weighted_quantile(values, weight, 0.5) == pytest.approx(2.0)
    assert weighted_quantile(values, weight, 0.0) == 1.0
    assert weighted_quantile(values, weight, 1.0) == 3.0


def test_exactly_three_of_eight_are_censored(rng: np.random.Generator) -> None:
    """The histories are as they are said to be, whatever the truth."""
    for beta in (0.7, 2.5, 6.0):
        lives = lives_of(beta, 60_000.0, rng)
        assert len(lives) == SETS
        assert sum(not life.failed for life in lives) == CENSORED


@pytest.mark.soak
def test_the_posterior_holds_the_scale_as_often_as_it_says(
    rng: np.random.Generator, size: Size, record_figure: Callable[..., None]
) -> None:
    """Truth from the prior, eight sets, three censored: 95 % intervals of η hold it in 92–98 %.

    A small run allows what chance does: 99.9 % of runs of that size with 95 % coverage pass.
    """
    count = size(small=50, full=500)
    held = 0
    for _ in range(count):
        beta, eta = draw_prior(BETA, rng), draw_prior(ETA, rng)
        low, high = life_posterior(lives_of(beta, eta, rng), BETA, ETA).interval("eta")
        held += low <= eta <= high
    share = held / count
    record_figure("coverage of the 95 % interval of the scale of life", 100 * share, "%")
    if count >= 500:
        assert 0.92 <= share <= 0.98
    else:
        assert share >= 0.84


def test_an_interval_that_is_too_narrow_would_be_seen(rng: np.random.Generator) -> None:
    """With half the prior's spread believed, 50 histories fail the check."""
    narrow = LifePrior(ETA.median, 0.25 * ETA.log_sd, ETA.least, ETA.most)
    held = 0
    for _ in range(50):
        beta, eta = draw_prior(BETA, rng), draw_prior(ETA, rng)
        low, high = life_posterior(lives_of(beta, eta, rng), BETA, narrow).interval("eta")
        held += low <= eta <= high
    assert held / 50 < 0.84
