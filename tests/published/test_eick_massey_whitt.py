"""Eick, Massey & Whitt 1993, Management Science 39:241–252 (from memory): a load that lags.

M(t)/M/∞ with rate a + b·sin(g·t) and mean service 1 has, once its beginning is forgotten,
m(t) = a + b/(1 + g²)·(sin(g·t) − g·cos(g·t)).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.decide.staff.queues import offered_load

STEP = 1e-3


@pytest.mark.parametrize("g", [0.5, 1.0, 3.0])
def test_a_sine_of_arrivals(g: float) -> None:
    """Loads and means over steps meet the closed form; the peak lags by arctan(g)/g."""
    a, b, until = 10.0, 6.0, 40.0
    times = np.arange(0.0, until, STEP)
    ends, means = offered_load(STEP, a + b * np.sin(g * (times + STEP / 2)), 1.0, a)
    late = times > 25.0  # by then e^-25 of the beginning is left
    at = times + STEP
    theory = a + b / (1 + g * g) * (np.sin(g * at) - g * np.cos(g * at))
    assert ends[late] == pytest.approx(theory[late], abs=1e-5)
    assert means[late] == pytest.approx((ends[late] + ends[np.flatnonzero(late) - 1]) / 2, abs=1e-5)
    last = times > until - 2 * math.pi / g
    peak = float(at[last][np.argmax(ends[last])])
    lag = (peak * g - math.pi / 2) % (2 * math.pi) / g
    assert lag == pytest.approx(math.atan(g) / g, abs=2 * STEP)
