"""The finite-source queue by which sets in rotation are counted.

Winston, Operations Research: machine repair, a police department's patrol cars (from memory).
"""

from __future__ import annotations

import pytest

from sim.decide.cloth.stock import finite_source


def test_patrol_cars() -> None:
    """Five cars that fail every 30 days, two repairers, three days a repair: all good with
    probability 0.619, 0.465 down and 4.535 good on average."""
    found = finite_source(5, 1.0 / 30.0, 1.0 / 3.0, servers=2)
    assert found.p[0] == pytest.approx(0.619, abs=5e-4)
    assert found.down == pytest.approx(0.465, abs=5e-4)
    assert found.up == pytest.approx(4.535, abs=5e-4)
    assert found.p.sum() == pytest.approx(1.0, abs=1e-12)
