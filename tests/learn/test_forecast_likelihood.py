"""How likely counts are: against SciPy's distributions, direct integration, and printed fits.

- L. von Bortkiewicz, Das Gesetz der kleinen Zahlen (1898): deaths by horse kicks. FROM MEMORY.
- C. I. Bliss and R. A. Fisher, Fitting the negative binomial distribution to biological data,
  Biometrics 9 (1953) 176–200: red mites on apple leaves, k = 1.02459 by likelihood. FROM MEMORY.
- A. Gelman et al., Bayesian Data Analysis, a rate of deaths by asthma: Gamma(3, 5) before, 3 deaths
  in 2 (100,000s) leave Gamma(6, 7), 30 in 20 leave Gamma(33, 25). FROM MEMORY.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.stats import gamma, nbinom, poisson

from sim.learn.forecast.likelihood import Counted, day_terms, hour_terms
from tests.seeds import generator

HORSE_KICKS = np.repeat([0.0, 1.0, 2.0, 3.0, 4.0], [109, 65, 22, 3, 1])
RED_MITES = np.repeat(np.arange(8.0), [70, 38, 17, 10, 9, 3, 2, 1])


def counted(cars: object, full: object = False) -> Counted:
    """Counts of days, a row each; all seen."""
    rows = np.atleast_2d(np.asarray(cars, dtype=float))
    return Counted(rows, np.ones(rows.shape, bool), np.broadcast_to(np.asarray(full), rows.shape))


def best_fit(cars: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float, float]:
    """Mean and k that make counts most likely, and the log-likelihood beyond that of a Poisson."""

    def miss(logs: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        log_mean, log_k = logs
        found = hour_terms(counted(cars), np.full((1, len(cars)), log_mean), np.exp(-log_k / 2.0))
        return -float(found.value.sum())

    # the likelihood of counts that hardly differ is flat in k, so that a large one is as good
    found = minimize(miss, [0.0, 0.0], bounds=[(-5, 5), (-5, 12)], options={"ftol": 1e-15})
    gain = -found.fun - float(poisson.logpmf(cars, cars.mean()).sum())
    return float(np.exp(found.x[0])), float(np.exp(found.x[1])), gain


def test_red_mites_have_the_k_that_was_printed() -> None:
    """Bliss and Fisher: mean 1.14667, k 1.02459 by likelihood (1.1667 by moments is another)."""
    mean, k, _gain = best_fit(RED_MITES)
    assert mean == pytest.approx(1.14667, abs=5e-5)
    assert k == pytest.approx(1.02459, abs=5e-5)


def test_horse_kicks_are_poisson() -> None:
    """Mean 0.61 and an index of dispersion of 1.0016: as good as no factor of an hour's own, and
    the likelihood gains nothing by one (less than the 1.92 that a test at 5 % asks for)."""
    mean, k, gain = best_fit(HORSE_KICKS)
    assert HORSE_KICKS.var(ddof=1) / HORSE_KICKS.mean() == pytest.approx(1.0016, abs=5e-5)
    assert mean == pytest.approx(0.61, abs=5e-5)
    assert k > 50.0
    assert gain < 0.1


@pytest.mark.parametrize(("deaths", "exposure", "mean"), [(3, 2.0, 0.86), (30, 20.0, 1.32)])
def test_a_days_factor_is_a_gamma_that_counts_move(
    deaths: int, exposure: float, mean: float
) -> None:
    """A rate with Gamma(3, 5) before is 3/5 times a factor with Gamma(3, 3); the mode of the log of
    a gamma is the log of its mean, which is that printed."""
    expected = np.log([[exposure * 3.0 / 5.0]])
    found = day_terms(counted(deaths), expected, 3.0**-0.5, 1e-4, None)
    assert float(np.exp(found.log_factor[0])) * 3.0 / 5.0 == pytest.approx(mean, abs=0.005)


@pytest.mark.parametrize("cv", [0.05, 0.3, 1.0])
def test_hours_are_those_of_a_general_library(cv: float) -> None:
    """P(N = n) and P(N ≥ n) are SciPy's negative binomial; slopes and curvatures are differences of
    them."""
    cars = np.array([0.0, 1.0, 7.0, 40.0, 41.0, 90.0])
    full = np.array([False, False, False, False, True, True])
    at, size = np.full((1, 6), np.log(38.0)), cv**-2
    found = hour_terms(counted(cars, full), at, cv)
    share = size / (size + 38.0)
    exact = np.where(full, nbinom.logsf(cars - 1, size, share), nbinom.logpmf(cars, size, share))
    assert found.value[0] == pytest.approx(exact, rel=1e-9, abs=1e-9)
    step = 1e-4
    up, down = (hour_terms(counted(cars, full), at + way, cv) for way in (step, -step))
    assert found.slope == pytest.approx((up.value - down.value) / (2 * step), rel=1e-5, abs=1e-6)
    assert found.bend == pytest.approx((up.slope - down.slope) / (2 * step), rel=1e-5, abs=1e-6)


def test_counts_far_above_what_is_expected_keep_their_digits() -> None:
    """A full hour of 900 where 2 are expected: log P(N ≥ n) is far below what a float can hold, and
    is told within a hundredth of a direct sum of logs; one car more expected raises it."""
    found = hour_terms(counted(900.0, True), np.log([[2.0]]), 0.05)
    n = np.arange(900.0, 1400.0)
    logs = nbinom.logpmf(n, 400.0, 400.0 / 402.0)
    exact = logs.max() + np.log(np.exp(logs - logs.max()).sum())
    assert float(found.value[0, 0]) == pytest.approx(exact, abs=0.01)
    assert found.slope[0, 0] > 0.0 > found.bend[0, 0]


@pytest.mark.parametrize(("day_cv", "hour_cv"), [(0.1, 0.1), (0.3, 0.2), (0.5, 0.02)])
def test_days_are_integrals_over_their_factor(day_cv: float, hour_cv: float) -> None:
    """A day's log-likelihood is that of adaptive integration over the factor; slopes and curvatures
    are differences of it."""
    cars = np.array([12.0, 40.0, 55.0, 20.0])
    full = np.array([False, False, True, False])
    at = np.log(np.array([[15.0, 35.0, 70.0, 18.0]]))
    one = counted(cars, full)

    def density(g: float) -> float:
        hours = hour_terms(one, at + np.log(g), hour_cv).value.sum()
        return float(np.exp(hours) * gamma.pdf(g, day_cv**-2, scale=day_cv**2))

    exact = np.log(quad(density, 0.05, 4.0, epsabs=0.0, epsrel=1e-10, points=[0.8, 1.0])[0])
    found = day_terms(one, at, day_cv, hour_cv, None)
    assert float(found.value[0]) == pytest.approx(exact, abs=1e-4)
    step = 1e-3
    for hour in range(4):
        moved = np.zeros((1, 4))
        moved[0, hour] = step
        up, down = (day_terms(one, at + way * moved, day_cv, hour_cv, None) for way in (1, -1))
        slope = (up.value - down.value) / (2 * step)
        assert found.slope[0, hour] == pytest.approx(float(slope[0]), rel=2e-3, abs=2e-3)
        curve = -(up.slope - down.slope)[0] / (2 * step)
        assert found.curve[0, hour] == pytest.approx(curve, rel=0.02, abs=0.05)


def test_hours_that_nobody_counted_say_nothing() -> None:
    """An hour left out has no part in the day, and a full hour of no car neither."""
    rng = generator("left out")
    cars = rng.poisson(30.0, (5, 3)).astype(float)
    seen = np.ones((5, 3), bool)
    seen[:, 1] = False
    at = np.full((5, 3), np.log(30.0))
    all_three = day_terms(Counted(cars, seen, ~seen), at, 0.1, 0.1, None)
    two = day_terms(counted(cars[:, [0, 2]]), at[:, :2], 0.1, 0.1, None)
    assert all_three.value == pytest.approx(two.value, abs=1e-12)
    assert not all_three.slope[:, 1].any()
    none = hour_terms(counted(0.0, True), np.log([[3.0]]), 0.1)
    assert float(none.value[0, 0]) == 0.0
