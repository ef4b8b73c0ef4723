"""The finite-source queue by which sets in rotation are counted.

Winston, Operations Research: machine repair, a police department's patrol cars (from memory). The
book's 3.08 days and 0.774 come from rounded probabilities; the exact values are 3.0746 and 0.7732.
"""

from __future__ import annotations

import pytest

from sim.decide.cloth.rotation import finite_source


def test_patrol_cars() -> None:
    """Five cars that fail every 30 days, two repairers, three days a repair: all good with
    probability 0.619, 0.465 down and 4.535 good on average, 3.0746 days down, one repairer idle
    0.7732 of the time."""
    found = finite_source(5, 1.0 / 30.0, 1.0 / 3.0, servers=2)
    assert found.p[0] == pytest.approx(0.619, abs=5e-4)
    assert found.down == pytest.approx(0.465, abs=5e-4)
    assert found.up == pytest.approx(4.535, abs=5e-4)
    assert found.down_time == pytest.approx(3.0746, abs=5e-5)
    assert found.idle_share == pytest.approx(0.7732, abs=5e-5)
    assert found.p.sum() == pytest.approx(1.0, abs=1e-12)
