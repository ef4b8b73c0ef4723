"""Life of bearing cages: Meeker & Escobar, Statistical Methods for Reliability Data, chapter 8.

The data are those of Abernethy, Breneman, Medlin & Reinman 1983 (Weibull Analysis Handbook): 6
failures among 1,703 units. The book prints shape 2.035 and scale 11,792 (from memory); the further
digits are those of two other programs on the same data.
"""

from __future__ import annotations

import pytest

from sim.learn.cloth_life import Life, fit_life

FAILED = (230, 334, 423, 990, 1009, 1510)
CENSORED = {
    50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114, 850: 119,
    950: 127, 1050: 123, 1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11, 1650: 6, 1850: 1,
    2050: 2,
}  # fmt: skip
"""Hours at which units without a failure were looked at last: how many."""


def lives(censored: dict[int, int]) -> list[Life]:
    """Failures and censored units."""
    return [Life(float(age), True) for age in FAILED] + [
        Life(float(age), False) for age, count in censored.items() for _ in range(count)
    ]


def test_shape_and_scale_of_the_bearing_cages() -> None:
    """2.035319 and 11,792.178 hours, from six failures among 1,703."""
    fit = fit_life(lives(CENSORED))
    assert fit is not None
    assert (fit.failures, fit.failures + fit.censored) == (6, 1703)
    assert fit.beta == pytest.approx(2.035319, abs=5e-7)
    assert fit.eta == pytest.approx(11_792.178, abs=5e-4)


def test_six_failures_are_called_approximate() -> None:
    """Wide likelihood-ratio intervals that hold the estimate, and said to be approximate."""
    fit = fit_life(lives(CENSORED))
    assert fit is not None
    assert fit.is_approximate
    assert fit.beta_range[0] < 1.1 < 3.4 < fit.beta_range[1]
    assert fit.eta_range[1] > 10 * fit.eta_range[0]


def test_one_unit_misplaced_would_be_seen() -> None:
    """With 1,750 in place of 1,850 hours other digits come out."""
    other = {1750 if age == 1850 else age: count for age, count in CENSORED.items()}
    fit = fit_life(lives(other))
    assert fit is not None
    assert fit.beta == pytest.approx(2.036512, abs=5e-7)
    assert fit.eta == pytest.approx(11_772.68, abs=5e-3)
