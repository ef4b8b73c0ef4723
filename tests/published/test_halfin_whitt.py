"""Halfin & Whitt 1981, Operations Research 29:567–588 (from memory): many servers, β = 1.

An approximation, 0.014 below the exact share at 100 erlangs: a wide check, never a tight one.
"""

from __future__ import annotations

import pytest

from sim.decide.staff.queues import erlang_c, halfin_whitt


def test_a_hundred_erlangs() -> None:
    """110 servers and 100 erlangs: 0.2234 by the limit, 0.2370 exactly."""
    assert halfin_whitt(110, 100.0) == pytest.approx(0.2234, abs=5e-5)
    assert erlang_c(110, 100.0) == pytest.approx(0.2370, abs=5e-5)


def test_it_comes_nearer_with_more_servers() -> None:
    """At β = 1 the gap to Erlang C falls from 25 to 100 to 10,000 erlangs."""
    gaps = [
        erlang_c(round(load + load**0.5), load) - halfin_whitt(round(load + load**0.5), load)
        for load in (25.0, 100.0, 10_000.0)
    ]
    assert gaps[0] > gaps[1] > gaps[2] > 0.0
    assert gaps[2] < 0.002
