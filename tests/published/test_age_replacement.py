"""Age replacement: the optimum of a Weibull life with planned and unplanned costs.

- Inputs (shape 2.5, scale 1,000 hours, cost 1 planned and 5 at failure) and formula: the example
  “Optimum Replacement Time” of the public reliability encyclopedia ReliaWiki. The result is not
  printed in the copy that was seen; 493.0470 hours, 0.00346204 an hour and 0.0056353 at failure
  were computed from the formula with another program.
- Theory (Barlow & Proschan 1965, Mathematical Theory of Reliability, from memory): at the optimum
  the cost rate is (unplanned − planned)·h(t*); without wear-out no planned change pays.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.decide.cloth.change import Costs, change_age
from sim.learn.cloth_life import LifePosterior


def known(beta: float, eta: float) -> LifePosterior:
    """A life that is known."""
    return LifePosterior(np.array([beta]), np.array([eta]), np.array([1.0]))


def test_optimum_and_its_cost() -> None:
    """493.047 hours, 0.00346204 an hour; left until failure 0.0056353."""
    found = change_age(known(2.5, 1000.0), 1.0, 5.0)
    assert found.age == pytest.approx(493.0470, abs=5e-4)
    assert found.cost_rate == pytest.approx(0.00346204, abs=5e-9)
    assert found.at_failure == pytest.approx(0.0056353, abs=5e-8)
    assert found.at_failure == pytest.approx(5.0 / (1000.0 * math.gamma(1.4)), rel=1e-12)


def test_the_optimum_obeys_the_first_order_condition() -> None:
    """Cost rate = (unplanned − planned)·hazard at the optimum, for several shapes and costs."""
    for beta, ratio in ((1.8, 4.0), (2.5, 5.0), (4.0, 8.0)):
        found = change_age(known(beta, 1000.0), 1.0, ratio)
        hazard = beta / 1000.0 * (found.age / 1000.0) ** (beta - 1.0)
        assert found.cost_rate == pytest.approx((ratio - 1.0) * hazard, rel=1e-6)


def test_without_wear_out_never_change_early() -> None:
    """Shape 1: the cost falls with age all the way to 5/mean life, and the answer is to wait."""
    life = known(1.0, 1000.0)
    ages = np.append(np.arange(50.0, 5000.0, 50.0), 50_000.0)
    rates = Costs(life, 1.0, 5.0).mean_rate(ages)
    assert np.all(np.diff(rates) < 0.0)
    assert rates[-1] == pytest.approx(0.005, abs=1e-9)
    found = change_age(life, 1.0, 5.0)
    assert found.waits
    assert math.isinf(found.age)
    assert found.cost_rate == pytest.approx(0.005, rel=1e-12)
