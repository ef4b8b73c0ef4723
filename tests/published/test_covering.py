"""Set covering of shifts: two worked examples of textbooks, both from memory.

- Hillier & Lieberman, Introduction to Operations Research, chapter 3, personnel scheduling of an
  airline: ten periods, five shifts, costs 170 160 175 180 195; least cost 30,610 with 48, 31, 39,
  43 and 15 people. The plan is the only one of that cost.
- Winston, Operations Research, chapter 3, post office: 17 13 15 19 14 16 11 people from Monday to
  Sunday, five days on and two off; 22 1/3 without whole numbers, 23 with. Several plans have 23, so
  the count and the cover are asserted.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.decide.staff.program import cover_counts


def test_airline() -> None:
    """30,610 by 48, 31, 39, 43 and 15."""
    by_period = [{1}, {1, 2}, {1, 2}, {1, 2, 3}, {2, 3}, {3, 4}, {3, 4}, {4}, {4, 5}, {5}]
    covers = np.array([[float(shift in by) for shift in range(1, 6)] for by in by_period])
    needed = np.array([48, 79, 65, 87, 64, 73, 82, 43, 52, 15])
    found = cover_counts(np.array([170.0, 160, 175, 180, 195]), covers, needed)
    assert found is not None
    assert found.cost == pytest.approx(30_610, abs=1e-6)
    assert found.counts.tolist() == [48, 31, 39, 43, 15]


def test_post_office() -> None:
    """23 people, 22 1/3 if people could be divided, and every day covered."""
    covers = np.array([[float((day - start) % 7 < 5) for start in range(7)] for day in range(7)])
    needed = np.array([17, 13, 15, 19, 14, 16, 11])
    found = cover_counts(np.ones(7), covers, needed)
    assert found is not None
    assert found.lp_bound == pytest.approx(67 / 3, abs=1e-9)
    assert found.counts.sum() == 23
    assert found.cost == 23
    assert np.all(covers @ found.counts >= needed)


def test_nothing_covers() -> None:
    """A period that no shift covers has no answer."""
    assert cover_counts(np.ones(1), np.array([[1.0], [0.0]]), np.array([1, 1])) is None
