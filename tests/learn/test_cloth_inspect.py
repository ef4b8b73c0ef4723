"""Inspections: what length, weight and torn strips tell of the scale of life."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from sim.learn.cloth_life import Floats, life_posterior
from sim.learn.cloth_looks import CHANNELS, LOSS_LOG_SD, Inspection, looks_log_likelihood
from tests.learn.life_histories import PRIORS


def test_the_likelihood_is_the_written_one() -> None:
    """Averaged over the loss at life by quadrature, for two looks at one site."""
    looks = [Inspection("mass", 0.11, 30_000.0), Inspection("mass", 0.05, 12_000.0)]
    channel = CHANNELS["mass"]

    def density(z: float, eta: float) -> float:
        at_life = channel.at_life * math.exp(LOSS_LOG_SD * z)
        off = [(one.lost - at_life * one.wear_cars / eta) / channel.error for one in looks]
        return math.exp(-0.5 * (z**2 + sum(o**2 for o in off))) / math.sqrt(2 * math.pi)

    etas = np.array([30_000.0, 60_000.0, 120_000.0])
    expected = [math.log(quad(density, -8, 8, args=(eta,))[0]) for eta in etas.tolist()]
    assert looks_log_likelihood(looks, np.log(etas)) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize("channel", sorted(CHANNELS))
def test_more_lost_means_a_shorter_life(channel: str) -> None:
    """At the same wear, by every channel; one look alone never decides."""
    at_life = CHANNELS[channel].at_life

    def median(lost: float) -> float:
        looks = [Inspection(channel, lost, 30_000.0)]

        def seen(log_eta: Floats) -> Floats:
            return looks_log_likelihood(looks, log_eta)

        return life_posterior([], *PRIORS, seen).quantile("eta", 0.5)

    usual = life_posterior([], *PRIORS).quantile("eta", 0.5)
    assert median(1.5 * at_life) < usual < median(0.05 * at_life)
    assert median(1.5 * at_life) > 0.45 * usual


def test_no_looks_change_nothing() -> None:
    """Their likelihood is the same for every scale."""
    assert not looks_log_likelihood([], np.log(np.array([1e4, 1e5]))).any()
