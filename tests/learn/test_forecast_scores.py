"""Scores of forecasts: printed worked examples, closed forms, and a general library.

- R. J. Hyndman and A. B. Koehler, Another look at measures of forecast accuracy, Int. J. of
  Forecasting 22 (2006) 679–688: mean absolute scaled error. FROM MEMORY.
- R. J. Hyndman and G. Athanasopoulos, Forecasting: Principles and Practice, accuracy: quarterly
  Australian beer production 1992 to 2010 (Australian Bureau of Statistics), three simple forecasts
  of 2008 on. Series and table FROM MEMORY; that the series gives the table's figures supports both.
- T. Gneiting and A. E. Raftery, Strictly proper scoring rules, prediction, and estimation, J. Am.
  Stat. Assoc. 102 (2007) 359–378: closed form of the score of a normal forecast. FROM MEMORY.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, norm, ttest_1samp

from sim.learn.forecast.score import crps, held, paired, scaled_error
from tests.seeds import generator

BEER_1992_TO_2007 = (
    443, 410, 420, 532, 433, 421, 410, 512, 449, 381, 423, 531, 426, 408, 416, 520,
    409, 398, 398, 507, 432, 398, 406, 526, 428, 397, 403, 517, 435, 383, 424, 521,
    421, 402, 414, 500, 451, 380, 416, 492, 428, 408, 406, 506, 435, 380, 421, 490,
    435, 390, 412, 454, 416, 403, 408, 482, 438, 386, 405, 491, 427, 383, 394, 473,
)  # fmt: skip
BEER_2008_TO_2010 = (420, 390, 410, 488, 415, 398, 419, 488, 414, 374)


def test_scaled_error_by_hand() -> None:
    """10 12 11 13 before, 14 12 came, 13 13 were forecast: 1 ÷ (5/3) = 0.6."""
    assert scaled_error([10, 12, 11, 13], [13 - 14, 13 - 12], 1) == pytest.approx(0.6)


@pytest.mark.parametrize(
    ("way", "printed"), [("mean", 2.44), ("naive", 4.01), ("seasonal naive", 0.94)]
)
def test_scaled_errors_of_beer(way: str, printed: float) -> None:
    """The table's scaled errors, scaled by a season of four quarters."""
    past = np.array(BEER_1992_TO_2007, dtype=float)
    told = {
        "mean": np.full(10, past.mean()),
        "naive": np.full(10, past[-1]),
        "seasonal naive": np.resize(past[-4:], 10),
    }[way]
    missed = told - np.array(BEER_2008_TO_2010)
    assert scaled_error(past.tolist(), missed.tolist(), 4) == pytest.approx(printed, abs=0.00501)


def test_gaps_of_the_past_scale_nothing() -> None:
    """A day that is missing leaves the steps to and from it out; a past without a step is told."""
    assert scaled_error([10, np.nan, 11, 13], [2.0], 1) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="a season apart"):
        scaled_error([10, 10, 10], [2.0], 1)


def test_score_of_a_normal_forecast() -> None:
    """Of 20,000 draws the score is σ(z(2Φ(z) − 1) + 2φ(z) − 1/√π), to a hundredth of σ; that of a
    single number is its absolute error."""
    drawn = 50.0 + 8.0 * generator("score").standard_normal((20_000, 1))
    for came in (50.0, 41.0, 70.0):
        z = (came - 50.0) / 8.0
        exact = 8.0 * (z * (2 * norm.cdf(z) - 1) + 2 * norm.pdf(z) - np.pi**-0.5)
        assert crps(drawn, np.array([came]))[0] == pytest.approx(exact, abs=0.08)
    assert crps(np.full((9, 1), 5.0), np.array([7.0]))[0] == pytest.approx(2.0)


def test_a_forecast_that_is_right_holds_what_it_says() -> None:
    """Of 200 days from the very distribution that is drawn, those within the middle 90 % are as
    many as a binomial has 99 times of 100: 168 to 190."""
    rng = generator("held")
    drawn, came = rng.gamma(70.0, 10.0, (4_000, 200)), rng.gamma(70.0, 10.0, 200)
    low, high = binom.ppf([0.005, 0.995], 200, 0.9)
    assert (low, high) == (168, 190)
    assert low <= int(held(drawn, came, 0.9).sum()) <= high
    narrow = drawn.mean() + 0.5 * (drawn - drawn.mean())
    assert int(held(narrow, came, 0.9).sum()) < low


def test_interval_of_paired_differences() -> None:
    """That of SciPy's t test of one sample; of a single difference nothing is known."""
    values = [-3.0, 1.0, -4.0, -2.5, 0.5, -1.0, -2.0, -3.5]
    exact = ttest_1samp(values, 0.0).confidence_interval(0.95)
    found = paired(values)
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))
    assert paired([1.0]).high == np.inf
