"""What it is worth to know an input: closed forms, printed numbers, inputs that tell nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from sim.decide.switching.advice import value_of_all, values_of_knowing

NAMES = ("first", "second", "idle")


def unit_loss(mean: float, spread: float) -> float:
    """E max(0, N(mean, spread²)) − max(0, mean): worth of knowing a linear normal payoff."""
    z = mean / spread
    return float(spread * norm.pdf(z) + mean * norm.cdf(z) - max(0.0, mean))


@pytest.mark.parametrize("mean", [-2.0, 0.0, 3.0])
def test_linear_normal_payoffs_have_their_closed_form(
    rng: np.random.Generator, mean: float
) -> None:
    """A payoff mean + 5·φ + 2·ψ against nothing: each input is worth its unit normal loss."""
    scores = rng.standard_normal((8192, 3))
    payoffs = np.stack([np.zeros(8192), mean + 5.0 * scores[:, 0] + 2.0 * scores[:, 1]])
    found = {worth.input: worth.value for worth in values_of_knowing(payoffs, scores, NAMES, 1)}
    # the sample itself has means and spreads that are off by about 1 in √8192
    assert found["first"] == pytest.approx(unit_loss(mean, 5.0), abs=0.12)
    assert found["second"] == pytest.approx(unit_loss(mean, 2.0), abs=0.12)
    assert found["idle"] == 0.0
    assert value_of_all(payoffs) == pytest.approx(unit_loss(mean, math.hypot(5.0, 2.0)), abs=0.15)


def test_no_input_is_worth_more_than_all(rng: np.random.Generator) -> None:
    """On few draws with noise none is worth more than knowing everything; the largest leads."""
    scores = rng.standard_normal((64, 3))
    noise = rng.standard_normal((3, 64))
    payoffs = noise + np.stack([np.zeros(64), 3.0 * scores[:, 0], -3.0 * scores[:, 0]])
    found = values_of_knowing(payoffs, scores, NAMES, 1)
    assert found[0].input == "first"
    assert 0.0 < found[0].value <= value_of_all(payoffs)
    assert [w.value for w in found] == sorted((w.value for w in found), reverse=True)


def test_noise_alone_is_worth_nothing(rng: np.random.Generator) -> None:
    """Of 12 tables of pure noise over 10 inputs, hardly any input of 120 seems worth knowing."""
    names = tuple(f"input {k}" for k in range(10))
    seeming = 0
    for number in range(12):
        payoffs = rng.standard_normal((4, 96))
        found = values_of_knowing(payoffs, rng.standard_normal((96, 10)), names, number)
        seeming += sum(worth.value > 0.0 for worth in found)
    # 0.6 are expected; 6 or more have a chance below one in ten thousand
    assert seeming < 6


def test_prospect_for_oil() -> None:
    """Four equally likely draws, one with oil: knowing is worth 142.5 (Hillier & Lieberman)."""
    payoffs = np.array([[700.0, -100.0, -100.0, -100.0], [90.0] * 4])
    assert value_of_all(payoffs) == pytest.approx(142.5)
