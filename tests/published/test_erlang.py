"""Erlang 1917: delays of a call centre and the table of blocking, both from memory.

The printed source of the call-centre example was not found; it is repeated widely. Mean wait and
occupancy follow from its other numbers.
"""

from __future__ import annotations

import pytest

from sim.decide.staff.queues import erlang_b, erlang_c, fewest_servers, mean_wait_s, wait_exceeds

CALL_S, AGENTS = 180.0, 14
CALL_LOAD = 200 / 3600 * CALL_S
"""200 calls an hour of 3 minutes are 10 erlangs; 14 agents."""

BLOCKING = (
    (1, 0.01, 0.0101), (2, 0.01, 0.1526), (5, 0.01, 1.361), (10, 0.01, 4.461), (20, 0.01, 12.03),
    (10, 0.02, 5.084), (30, 0.02, 21.93), (10, 0.05, 6.216), (20, 0.05, 15.25), (5, 0.10, 2.881),
)  # fmt: skip
"""Servers, share blocked, offered load, as standard traffic tables print them (from memory)."""


def test_the_call_centre() -> None:
    """17.41 % wait, 88.84 % are answered within 20 s, the mean wait is 7.84 s."""
    assert erlang_c(AGENTS, CALL_LOAD) == pytest.approx(0.1741, abs=5e-5)
    late = wait_exceeds(AGENTS, CALL_LOAD, CALL_S, 20.0)
    assert 1.0 - late == pytest.approx(0.8884, abs=5e-5)
    assert mean_wait_s(AGENTS, CALL_LOAD, CALL_S) == pytest.approx(7.84, abs=5e-3)
    occupancy = CALL_LOAD / AGENTS
    assert occupancy == pytest.approx(0.7143, abs=5e-5)


def test_fourteen_agents_are_the_fewest() -> None:
    """80 % within 20 s takes 14 agents; with 13 fewer are answered in time."""
    assert fewest_servers(CALL_LOAD, CALL_S, 20.0, 0.2) == AGENTS
    assert wait_exceeds(AGENTS - 1, CALL_LOAD, CALL_S, 20.0) > 0.2


@pytest.mark.parametrize(("servers", "blocked", "load"), BLOCKING)
def test_the_table_of_blocking(servers: int, blocked: float, load: float) -> None:
    """The printed load is the one that blocks just so many, to half its last digit."""
    digits = f"{load}".partition(".")[2]
    half = 0.5 * 10.0 ** -max(len(digits), 2)
    assert erlang_b(servers, load - half) <= blocked <= erlang_b(servers, load + half)
