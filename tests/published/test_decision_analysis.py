"""Printed numbers of decision analysis.

Hillier & Lieberman, Introduction to Operations Research, decision analysis (a prospect for oil),
from memory; payoffs in thousands.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.decide.switching.advice import best_action, with_foresight

OIL, DRY = 0.25, 0.75
PRIOR = np.array([OIL, DRY])
DRILL, SELL = [700.0, -100.0], [90.0, 90.0]
PAYOFFS = np.array([DRILL, SELL])


def test_without_a_survey() -> None:
    """Drilling is best with an expected payoff of 100."""
    assert best_action(PAYOFFS, PRIOR) == (0, pytest.approx(100.0))


def test_perfect_information() -> None:
    """Knowing beforehand is worth 142.5."""
    assert with_foresight(PAYOFFS, PRIOR) - best_action(PAYOFFS, PRIOR)[1] == pytest.approx(142.5)
