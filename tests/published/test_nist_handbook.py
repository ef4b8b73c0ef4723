"""Limits of a mean, percentiles, and a censored Weibull life.

NIST/SEMATECH e-Handbook of Statistical Methods. FROM MEMORY, but for the life, whose page was seen:

- confidence limits for the mean, heat flow data (ZARR13): 195 readings, mean 9.261460, standard
  deviation 0.02278881, 95 % limits 9.258242 and 9.264679. The mean is itself rounded in the sixth
  decimal, so the limits are held to 1e-6 and not to half a digit;
- 7.2.6.2, percentiles: 12 gauge readings whose 90th percentile is 95.1981 by the rule p(N + 1).
  Ours is the rule 1 + p(N − 1), which the same section names, and gives 95.1957.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.day.kernel.stats import quantile
from sim.day.replicate import day_range, mean_interval
from sim.learn.cloth_life import Life, fit_life

GAUGE = np.array(
    [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610,
     95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682]
)  # fmt: skip


def test_limits_of_a_mean(rng: np.random.Generator) -> None:
    """195 values with that mean and standard deviation have those limits."""
    values = rng.standard_normal(195)
    values = (values - values.mean()) / values.std(ddof=1) * 0.02278881 + 9.261460
    mean, low, high = mean_interval(values)
    assert mean == pytest.approx(9.261460, abs=1e-9)
    assert low == pytest.approx(9.258242, abs=1e-6)
    assert high == pytest.approx(9.264679, abs=1e-6)


def test_a_percentile_by_one_and_p_times_one_less() -> None:
    """The 90th percentile is 95.1957: rank 1 + 0.9·11 = 10.9 of the ordered readings."""
    assert quantile(GAUGE.copy(), 0, 12, 90.0) == pytest.approx(95.1957, abs=5e-5)
    tenth, eleventh = np.sort(GAUGE)[9:11]
    assert quantile(GAUGE.copy(), 0, 12, 90.0) == pytest.approx(
        tenth + 0.9 * (eleventh - tenth), abs=1e-12
    )


def test_the_other_rule_would_be_seen() -> None:
    """By p(N + 1) it would be 95.1981, as the handbook prints: the two rules can be told apart."""
    eleventh, twelfth = np.sort(GAUGE)[10:12]
    other = eleventh + 0.7 * (twelfth - eleventh)  # rank 0.9·13 = 11.7
    assert other == pytest.approx(95.1981, abs=5e-5)
    assert abs(quantile(GAUGE.copy(), 0, 12, 90.0) - other) > 2e-3


def test_the_day_range_keeps_the_same_rule() -> None:
    """Its ends are at ranks 1 + 0.05·11 = 1.55 and 1 + 0.95·11 = 11.45."""
    ordered = np.sort(GAUGE)
    low, high = day_range(GAUGE)
    assert low == pytest.approx(ordered[0] + 0.55 * (ordered[1] - ordered[0]), abs=1e-12)
    assert high == pytest.approx(ordered[10] + 0.45 * (ordered[11] - ordered[10]), abs=1e-12)
    assert low == pytest.approx(quantile(GAUGE.copy(), 0, 12, 5.0), abs=1e-12)
    assert high == pytest.approx(quantile(GAUGE.copy(), 0, 12, 95.0), abs=1e-12)


def test_a_censored_weibull_life() -> None:
    """Section 8.4.1.3: ten failures, ten units still running at 500 hours.

    Seen on the page: shape 1.7208, scale 606.5280 (the exact optimum is 606.5276), mean 540.737,
    −log-likelihood 75.135.
    """
    failed = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
    lives = [Life(float(age), True) for age in failed] + [Life(500.0, False)] * 10
    fit = fit_life(lives)
    assert fit is not None
    assert fit.beta == pytest.approx(1.7208, abs=5e-5)
    assert fit.eta == pytest.approx(606.528, abs=5e-4)
    assert fit.eta * math.gamma(1.0 + 1.0 / fit.beta) == pytest.approx(540.737, abs=5e-4)
    assert -fit.log_likelihood == pytest.approx(75.135, abs=5e-4)
    assert 4 - 2 * fit.log_likelihood == pytest.approx(154.27, abs=5e-3)
