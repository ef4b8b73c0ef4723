"""Counts that scatter as chance has it, and more than that: printed examples through the likelihood
by which coming days are fitted, and through the limits that stops are told with.

- L. von Bortkiewicz, Das Gesetz der kleinen Zahlen (1898): men killed by horses, a corps and year.
  FROM MEMORY.
- C. I. Bliss and R. A. Fisher, Fitting the negative binomial distribution to biological data,
  Biometrics 9 (1953) 176–200: red mites on 150 leaves. FROM MEMORY.
- A. Gelman and others, Bayesian Data Analysis, asthma deaths of a town: a gamma prior of a Poisson
  rate, after one bad year and after ten. FROM MEMORY.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from sim.decide.stops.rates import poisson_limits
from sim.inputs import Conditions, DemandSpread
from sim.learn.forecast.likelihood import Counted, day_terms, hour_terms
from sim.learn.happened import cars_range

Floats = NDArray[np.float64]
HORSE_KICKS = {0: 109, 1: 65, 2: 22, 3: 3, 4: 1}
MITES = {0: 70, 1: 38, 2: 17, 3: 10, 4: 9, 5: 3, 6: 2, 7: 1}
LEAST_CV = 0.01
"""So little that a gamma factor is none."""


def seen(times: dict[int, int]) -> Counted:
    """A column an event of every count, all of it seen and none cut off."""
    cars = np.repeat(np.array(list(times), dtype=float), list(times.values()))[:, None]
    return Counted(cars, np.ones(cars.shape, bool), np.zeros(cars.shape, bool))


def log_likelihood(counted: Counted, hour_cv: float) -> float:
    """Of all of them, at their own mean and a spread of hours."""
    log_mean = np.full(counted.cars.shape, np.log(counted.cars.mean()))
    return float(hour_terms(counted, log_mean, hour_cv).value.sum())


def best_cv(counted: Counted) -> float:
    """The spread of hours under which such counts are likeliest."""
    found = minimize_scalar(
        lambda cv: -log_likelihood(counted, cv), bounds=(LEAST_CV, 3.0), method="bounded",
        options={"xatol": 1e-7},
    )  # fmt: skip
    return float(found.x)


def test_horse_kicks_scatter_by_chance_alone() -> None:
    """A mean of 0.61 and an index of dispersion of 1.0016: the likeliest spread is next to none,
    and hardly likelier than none. Its likelihood then is that of a Poisson distribution."""
    counted = seen(HORSE_KICKS)
    cars = counted.cars[:, 0]
    assert cars.mean() == pytest.approx(0.61)
    assert cars.var(ddof=1) / cars.mean() == pytest.approx(1.0016, abs=5e-5)
    spread = best_cv(counted)
    assert spread**2 < 0.01
    assert log_likelihood(counted, spread) - log_likelihood(counted, LEAST_CV) < 0.01


def test_red_mites_have_the_exponent_of_the_paper() -> None:
    """k by likelihood is 1.02459, a spread of 1/√k; what days bring has the variance that goes with
    it, m + m²/k, as their range takes it."""
    counted = seen(MITES)
    cars = counted.cars[:, 0]
    assert cars.mean() == pytest.approx(1.14667, abs=5e-6)
    assert cars.var(ddof=1) == pytest.approx(2.27365, abs=5e-6)
    spread = best_cv(counted)
    assert spread**-2 == pytest.approx(1.02459, abs=5e-6)
    mean = float(cars.mean())
    # k by moments is 1.1667, by definition what gives the leaves' own variance
    by_moments = (1.0 / 1.1667) ** 0.5
    variance = mean + mean**2 * by_moments**2
    assert variance == pytest.approx(2.27365, abs=1e-4)
    day = Conditions((mean,) + (0.0,) * 23, (20.0,) * 24, (0.5,) * 24,
                     spread=DemandSpread(day_cv=0.0, hour_cv=by_moments))  # fmt: skip
    _, range_ = cars_range(day, 0.0, 0.0)
    gamma = np.random.default_rng(20).gamma(mean**2 / variance, variance / mean, 400_000)
    ends = np.quantile(gamma, [0.05, 0.95])
    assert (range_.low, range_.high) == pytest.approx(tuple(ends), abs=0.03)


@pytest.mark.parametrize(
    ("deaths", "exposure", "mean", "above"), [(3, 2.0, 0.86, 0.30), (30, 20.0, 1.32, 0.93)]
)
def test_asthma_deaths_move_what_is_believed_of_their_rate(
    deaths: int, exposure: float, mean: float, above: float
) -> None:
    """A prior of Gamma(3, 5), mean 0.6, becomes Gamma(3 + y, 5 + x). A day's factor is fitted so:
    the mode of its logarithm is the logarithm of that mean. The chance that the rate is above 1 is
    that of a Poisson count by the identity that exact limits rest on."""
    prior = 3.0 / 5.0
    counted = seen({deaths: 1})
    expected = np.full((1, 1), np.log(prior * exposure))
    terms = day_terms(counted, expected, 3.0**-0.5, 1e-4, None)
    assert prior * float(np.exp(terms.log_factor[0])) == pytest.approx(mean, abs=0.005)
    # the rate's quantile at 1 - P(rate > 1) is 1, so that of the mean of such a count is 5 + x
    shape, over = 3 + deaths, 5.0 + exposure
    tails = np.linspace(0.001, 0.999, 999)
    upper = [poisson_limits(shape - 1, float(1.0 - 2.0 * tail))[1] for tail in tails]
    chance = float(np.interp(-over, -np.array(upper), tails))
    assert chance == pytest.approx(above, abs=0.005)
