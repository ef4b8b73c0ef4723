"""Printed numbers of decision analysis.

Murphy 1977, Monthly Weather Review 105:803–816 (cost–loss ratio), from memory. Hillier &
Lieberman, Introduction to Operations Research, decision analysis (a prospect for oil), from
memory; payoffs in thousands.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.decide.switching.knowing import (
    act_above,
    best_action,
    posteriors,
    with_foresight,
    with_sign,
)

OIL, DRY = 0.25, 0.75
PRIOR = np.array([OIL, DRY])
DRILL, SELL = [700.0, -100.0], [90.0, 90.0]
PAYOFFS = np.array([DRILL, SELL])
SURVEY = np.array([[0.6, 0.2], [0.4, 0.8]])  # favourable, unfavourable


def test_cost_loss_ratio() -> None:
    """Protection that costs 3 against a loss of 10 pays above a probability of 0.30."""
    assert act_above(3.0, 10.0) == pytest.approx(0.30)
    for p, acts in ((0.29, False), (0.31, True)):
        nothing_or_protect = np.array([[-10.0, 0.0], [-3.0, -3.0]])
        assert best_action(nothing_or_protect, np.array([p, 1 - p]))[0] == int(acts)


def test_without_a_survey() -> None:
    """Drilling is best with an expected payoff of 100."""
    assert best_action(PAYOFFS, PRIOR) == (0, pytest.approx(100.0))


def test_perfect_information() -> None:
    """Knowing beforehand is worth 142.5."""
    assert with_foresight(PAYOFFS, PRIOR) - best_action(PAYOFFS, PRIOR)[1] == pytest.approx(142.5)


def test_survey() -> None:
    """Oil has probability 1/2 after a favourable survey, 1/7 else; payoff with survey 153."""
    signs, after = posteriors(PRIOR, SURVEY)
    assert signs == pytest.approx([0.3, 0.7])
    assert after[:, 0] == pytest.approx([1 / 2, 1 / 7])
    assert with_sign(PAYOFFS, PRIOR, SURVEY) == pytest.approx(153.0)
    assert with_sign(PAYOFFS, PRIOR, np.ones((1, 2))) == pytest.approx(100.0)


def test_a_sign_that_cannot_come_changes_nothing() -> None:
    """A sign without any chance leaves the chances as they were."""
    signs, after = posteriors(PRIOR, np.array([[1.0, 1.0], [0.0, 0.0]]))
    assert signs[1] == 0.0
    assert np.array_equal(after[1], PRIOR)
