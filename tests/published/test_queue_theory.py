"""The theory that plans are held to, itself held to what is printed."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.test_queues import crommelin_wait
from tests.queue_sites import chain_by_hour


def test_the_chain_settles_at_the_printed_loss() -> None:
    """M/M/1 with 5 places at ρ 0.9 loses 12.6023 % (truncated geometric law, from memory)."""
    _, lost = chain_by_hour(36, 40, 1, 5, 40)
    assert lost[-1] / 36 == pytest.approx(0.126023, abs=5e-7)


def test_the_chain_settles_at_the_inspection_station() -> None:
    """1 car a minute, 6 minutes, 3 stalls and 4 places: 3.09 waiting, 30.289 cars lost an hour.

    Gross & Harris, Fundamentals of Queueing Theory, M/M/c/K example (from memory). The number
    waiting is the book's; its 30.4 lost comes from a rounded p0, the exact value is used.
    """
    waiting, lost = chain_by_hour(60, 10, 3, 7, 40)
    assert waiting[-1] == pytest.approx(3.09, abs=5e-3)
    assert lost[-1] == pytest.approx(30.289, abs=5e-4)


@pytest.mark.parametrize(
    ("servers", "load", "wait"),
    [(2, 0.5, 0.176741), (2, 0.8, 0.903284), (3, 0.8, 0.553900), (5, 0.8, 0.289060)],
)
def test_waits_with_constant_service(servers: int, load: float, wait: float) -> None:
    """The embedded chain of M/D/c agrees with Crommelin's series to 2e-6.

    The values were computed by the series; no printed table was found, so this is two
    algorithms against each other.
    """
    assert crommelin_wait(load, servers) == pytest.approx(wait, abs=2e-6)


def test_one_server_with_constant_service() -> None:
    """M/D/1 waits ρ/(2(1 − ρ)) service times: 0.5, 2.0 and 4.5 at ρ 0.5, 0.8 and 0.9.

    Pollaczek–Khinchine; as printed in Heizer & Render, Operations Management (from memory).
    """
    waits = [crommelin_wait(load, 1) for load in (0.5, 0.8, 0.9)]
    assert np.allclose(waits, [0.5, 2.0, 4.5], atol=1e-6)
