"""Wear of two materials of shoe soles, one on each foot of ten boys.

Box, Hunter & Hunter 1978, Statistics for Experimenters. FROM MEMORY: B wears 0.41 more than A,
t 3.3489, p 0.008539, 95 % interval 0.1330461 to 0.6869539; unpaired t 0.3689.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.day.figures import FIGURES
from sim.day.replicate import difference, mean_interval
from tests.intervals import run_error, value_of

A = np.array([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
B = np.array([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
WEAR = FIGURES["wear_cars"]
P_VALUE = 0.008539


def test_the_paired_difference() -> None:
    """Mean and 95 % interval as printed; B wears less on two boys of ten."""
    found = difference(WEAR, A, B, 0.1)
    assert found.value == pytest.approx(0.41, abs=5e-9)
    assert run_error(found).low == pytest.approx(0.1330461, abs=5e-8)
    assert run_error(found).high == pytest.approx(0.6869539, abs=5e-8)
    assert found.days_better == 2 / 10


def test_the_p_value() -> None:
    """The interval at level 1 − p begins at zero, to what half a digit of p moves its end."""
    _, low, high = mean_interval(B - A, 1.0 - P_VALUE)
    before = mean_interval(B - A, 1.0 - (P_VALUE - 5e-7))[1]
    after = mean_interval(B - A, 1.0 - (P_VALUE + 5e-7))[1]
    assert before < 0.0 < after
    assert low == pytest.approx(0.0, abs=after - before)
    assert high == pytest.approx(0.82, abs=after - before)


def test_pairing_matters() -> None:
    """Boys differ far more than soles: without pairs the interval is several times as wide."""
    paired = difference(WEAR, A, B, 0.1)
    mean = value_of(paired)
    across = np.hypot(*(mean_interval(sole)[2] - sole.mean() for sole in (A, B)))
    assert across > 5.0 * (run_error(paired).high - mean)
    # the unpaired t: the same mean over the error of two independent means
    error = np.hypot(A.std(ddof=1), B.std(ddof=1)) / np.sqrt(10)
    assert mean / error == pytest.approx(0.3689, abs=5e-5)
