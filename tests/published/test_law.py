"""Five runs of each of two inventory policies, compared in pairs.

Law, Simulation Modeling and Analysis, comparison of two systems, paired-t interval. FROM MEMORY:
mean difference 4.98, variance of the mean 2.44, 90 % interval 1.65 to 8.31. As remembered the
runs of the two policies are independent; the paired t holds for them as well.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from sim.day.figures import FIGURES
from sim.day.replicate import difference, mean_interval
from tests.intervals import run_error

FIRST = np.array([126.97, 124.31, 126.68, 122.66, 127.23])
SECOND = np.array([118.21, 120.22, 122.45, 122.68, 119.40])
TWO_DECIMALS = 5e-3


def test_the_interval_of_the_difference() -> None:
    """The first policy costs 4.98 more, and the 90 % interval is 1.65 to 8.31."""
    mean, low, high = mean_interval(FIRST - SECOND, 0.90)
    assert mean == pytest.approx(4.98, abs=TWO_DECIMALS)
    assert low == pytest.approx(1.65, abs=TWO_DECIMALS)
    assert high == pytest.approx(8.31, abs=TWO_DECIMALS)


def test_the_variance_of_the_mean() -> None:
    """A comparison's 95 % run error is that of a mean with variance 2.44 and 4 degrees of
    freedom."""
    found = difference(FIGURES["margin"], SECOND, FIRST, 1.0)
    assert found.value == pytest.approx(4.98, abs=TWO_DECIMALS)
    half = run_error(found).width / 2.0
    assert (half / stats.t.ppf(0.975, 4)) ** 2 == pytest.approx(2.44, abs=TWO_DECIMALS)
    assert found.days_better == 4 / 5
