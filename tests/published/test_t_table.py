"""Student's t.

The table of quantiles in every textbook of statistics. FROM MEMORY.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.day.blocks import at_runs, take_apart
from sim.day.replicate import mean_interval

TABLE = [
    (0.975, 4, 2.776),
    (0.975, 9, 2.262),
    (0.95, 4, 2.132),
    (0.975, 29, 2.045),
    (0.95, 9, 1.833),
]
"""Probability, degrees of freedom, quantile."""


@pytest.mark.parametrize(("probability", "freedom", "quantile"), TABLE)
def test_the_interval_of_a_mean(
    probability: float, freedom: int, quantile: float, rng: np.random.Generator
) -> None:
    """Half an interval over the standard error is the table's quantile."""
    values = rng.standard_normal(freedom + 1)
    mean, low, high = mean_interval(values, 2.0 * probability - 1.0)
    error = values.std(ddof=1) / np.sqrt(freedom + 1)
    assert (high - mean) / error == pytest.approx(quantile, abs=5e-4)
    assert (mean - low) / error == pytest.approx(quantile, abs=5e-4)


@pytest.mark.parametrize(("freedom", "quantile"), [(4, 2.776), (9, 2.262)])
def test_the_run_error_of_sites(freedom: int, quantile: float, rng: np.random.Generator) -> None:
    """Where sites alone differ, the run error of a crossing has as many degrees of freedom as
    blocks, less one."""
    blocks = rng.standard_normal((freedom + 1, 1, 1))
    found = take_apart(np.broadcast_to(blocks, (freedom + 1, 4, 4)))
    error = blocks.std(ddof=1) / np.sqrt(freedom + 1)
    assert (found.error_high - found.mean) / error == pytest.approx(quantile, abs=5e-4)
    assert (found.mean - found.error_low) / error == pytest.approx(quantile, abs=5e-4)


@pytest.mark.parametrize(("freedom", "quantile"), [(9, 2.262), (29, 2.045)])
def test_the_run_error_of_days(freedom: int, quantile: float, rng: np.random.Generator) -> None:
    """Where days alone differ, it has as many as days, less one; days that lie evenly about
    their mean have no skewness to be removed."""
    half = rng.standard_normal((freedom + 1) // 2)
    days = np.concatenate([half, -half]).reshape(-1, 2)
    found = take_apart(at_runs(days, 4))
    error = days.std(ddof=1) / np.sqrt(freedom + 1)
    assert (found.error_high - found.mean) / error == pytest.approx(quantile, abs=5e-4)
    assert (found.mean - found.error_low) / error == pytest.approx(quantile, abs=5e-4)
