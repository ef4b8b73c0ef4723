"""The same queue in a general queueing library: M/D/1 in Ciw beside M/D/1 through a plan.

Ciw (MIT): Palmer, Knight, Harper & Hawa 2019, J. Simulation 13:68–82 (from memory). Theory:
Pollaczek–Khinchine, 2.0 service times of waiting at ρ 0.8.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable
from pathlib import Path

import ciw
import numpy as np
import pytest

from tests.queue_sites import after, hold, queue_days
from tests.seeds import seed
from tests.sizes import Size, size_now

CARS_PER_H, SERVICE_S = 48, 60.0
THEORY = 2.0
UNITS, WARM_UP = float(size_now(small=3_500, full=6_000)), 500.0


def ciw_wait(number: int) -> float:
    """Mean wait of one Ciw run in service times, customers arriving after the warm-up."""
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(0.8)],
        service_distributions=[ciw.dists.Deterministic(1.0)],
        number_of_servers=[1],
    )
    ciw.seed(seed("ciw", number))
    run = ciw.Simulation(network)
    with contextlib.redirect_stdout(io.StringIO()):
        run.simulate_until_max_time(UNITS)
    waits = [r.waiting_time for r in run.get_all_records() if r.arrival_date > WARM_UP]
    return float(np.mean(waits))


@pytest.mark.soak
def test_a_plan_waits_as_a_queueing_library_does(
    tmp_path: Path, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Theory lies in both 99.9 % intervals, and the two intervals overlap."""
    days = queue_days(
        tmp_path,
        CARS_PER_H,
        {"quick_pay_kind": "fixed", "quick_pay_mean_s": SERVICE_S},
        size(small=440, full=1_200),
        seed("plan beside ciw"),
    )
    waiting = after(days, "stack_mean", 4) * 3600.0 / CARS_PER_H / SERVICE_S
    ours = hold(THEORY, waiting)
    theirs = hold(THEORY, [ciw_wait(number) for number in range(size(small=30, full=80))])
    record_figure("plan: mean wait", (ours.low + ours.high) / 2, "service times")
    record_figure("Ciw: mean wait", (theirs.low + theirs.high) / 2, "service times")
    assert ours.inside, ours
    assert ours.tight, ours
    assert theirs.inside, theirs
    assert max(ours.low, theirs.low) <= min(ours.high, theirs.high)
