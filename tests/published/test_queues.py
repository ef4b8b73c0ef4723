"""Textbook queues through a plan: what the line does when its site file makes it one.

Sources stand beside each number. Every check is a 99.9 % interval from independent days, at most
5 % of theory to either side, and must fail when the service rate is planted 10 % wrong.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from sim.inputs import Value
from tests.queue_sites import Floats, Verdict, after, chain_by_hour, hold, queue_days
from tests.seeds import seed
from tests.sizes import Size

pytestmark = pytest.mark.soak
PLANTED = 1.1


def pay(kind: str, mean_s: float, cv: float = 1.0) -> dict[str, Value]:
    """Payment of one kind for everybody."""
    return {"quick_pay_kind": kind, "quick_pay_mean_s": mean_s, "quick_pay_cv": cv}


def lanes(count: int) -> dict[str, Value]:
    """So many pay lanes, all day."""
    return {"pay_lanes": ((0.0, float(count)),)}


def crommelin_wait(load: float, servers: int) -> float:
    """Mean wait of M/D/c in service times, from the embedded chain N(t+D) = max(N−c, 0) + A.

    Crommelin 1932, P.O. Elect. Eng. J. 25:41–50 (citation from memory) gave the model; the
    chain is solved here by its stationary equations, and Little's law turns numbers into time.
    """
    offered = load * servers
    size = 400
    arrivals = np.zeros(size)
    arrivals[0] = math.exp(-offered)
    for k in range(1, size):
        arrivals[k] = arrivals[k - 1] * offered / k
    step = np.zeros((size, size))
    for n in range(size):
        first = max(n - servers, 0)
        step[n, first:] = arrivals[: size - first]
    step /= step.sum(axis=1, keepdims=True)
    system = np.vstack([step.T - np.eye(size), np.ones(size)])
    p = np.linalg.lstsq(system, np.append(np.zeros(size), 1.0), rcond=None)[0]
    waiting = float(np.maximum(np.arange(size) - servers, 0) @ p)
    return waiting / offered


Case = Callable[[Path, int, int, float], Verdict]


def steady_wait(cars_per_h: int, changes: dict[str, Value], mean_s: float, wait_s: float) -> Case:
    """A case of mean wait in the stack after four hours, by Little's law from the mean number."""

    def run(folder: Path, days: int, root: int, planted: float) -> Verdict:
        slower = {**changes, "quick_pay_mean_s": mean_s * planted}
        found = queue_days(folder, cars_per_h, slower, days, root)
        return hold(wait_s, after(found, "stack_mean", 4) * 3600.0 / cars_per_h)

    return run


def lost_and_waiting(
    cars_per_h: int, mean_s: float, servers: int, places: int
) -> tuple[Case, Case]:
    """Cases of M/M/c/K: losses and number waiting, hours 0 to 22, by the chain's equations."""

    def days_of(folder: Path, days: int, root: int, planted: float) -> tuple[Floats, Floats]:
        changes = {
            **pay("exponential", mean_s * planted),
            **lanes(servers),
            "stack_limit_cars": places - servers,
        }
        found = queue_days(folder, cars_per_h, changes, days, root)
        lost = found.hours["lost"][:, :23].sum(axis=1)
        return np.asarray(lost), np.asarray(found.hours["stack_mean"][:, :23].mean(axis=1))

    waiting, lost = chain_by_hour(cars_per_h, 3600.0 / mean_s, servers, places, 23)

    def losses(folder: Path, days: int, root: int, planted: float) -> Verdict:
        return hold(float(lost.sum()), days_of(folder, days, root, planted)[0])

    def numbers(folder: Path, days: int, root: int, planted: float) -> Verdict:
        return hold(float(waiting.mean()), days_of(folder, days, root, planted)[1])

    return losses, numbers


def tandem(places: int) -> Case:
    """Two exponential stations with a line between, the first never starved.

    Hunt 1956, Oper. Res. 4:674–683 (from memory): throughput (b + 2)/(b + 3) of one station's.
    """

    def run(folder: Path, days: int, root: int, planted: float) -> Verdict:
        changes = {
            **pay("exponential", 240.0),
            "load_kind": "exponential",
            "load_mean_s": 240.0 * planted,
            "loading_line_cars": places,
        }
        found = queue_days(folder, 60, changes, days, root)
        return hold(15.0 * (places + 2) / (places + 3), after(found, "washed", 4))

    return run


# M/M/1 with 5 places, ρ 0.9 (truncated geometric law); 36 cars/h, 90 s.
LOSS_1_5, WAITING_1_5 = lost_and_waiting(36, 90.0, 1, 5)
# Gross & Harris, Fundamentals of Queueing Theory, vehicle inspection station (from memory):
# 1 car a minute, 6 minutes, 3 stalls, 4 waiting places. Its steady state is checked below.
LOSS_3_7, WAITING_3_7 = lost_and_waiting(60, 360.0 / 2, 3, 7)

CASES: dict[str, tuple[Case, int, int]] = {
    "M/M/1/5 losses": (LOSS_1_5, 220, 880),
    "M/M/1/5 waiting": (WAITING_1_5, 80, 320),
    "M/M/3/7 losses": (LOSS_3_7, 180, 720),
    "M/M/3/7 waiting": (WAITING_3_7, 60, 240),
    # Heizer & Render, Operations Management (from memory): 8 an hour come, 12 an hour are served,
    # constant service: Wq 1/12 h; here ten times as fast, 80 and 120 an hour: Wq 30 s.
    "M/D/1 recycling trucks": (steady_wait(80, pay("fixed", 30.0), 30.0, 30.0), 160, 640),
    # The same with exponential service: Wq 1/6 h, here 60 s.
    "M/M/1 recycling trucks": (steady_wait(80, pay("exponential", 30.0), 30.0, 60.0), 220, 880),
    # Pollaczek–Khinchine: λ 1/6, service mean 4, variance 4: Wq 5; the unit of time is 10 s.
    "M/G/1": (steady_wait(60, pay("gamma", 40.0, 0.5), 40.0, 50.0), 230, 920),
    "M/D/2 ρ 0.8": (
        steady_wait(96, pay("fixed", 60.0) | lanes(2), 60.0, 60.0 * crommelin_wait(0.8, 2)),
        260, 1_000,
    ),
    "tandem, no place between": (tandem(0), 30, 300),
    "tandem, 1 place": (tandem(1), 30, 300),
    "tandem, 2 places": (tandem(2), 30, 300),
    "tandem, 5 places": (tandem(5), 30, 300),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_theory_lies_in_the_interval(
    name: str, tmp_path: Path, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """A plan on a site that is a textbook queue gives the textbook's figure."""
    case, small, full = CASES[name]
    found = case(tmp_path, size(small=small, full=full), seed(name), 1.0)
    record_figure(f"{name}: theory", found.theory, "")
    record_figure(f"{name}: simulated", (found.low + found.high) / 2, "")
    assert found.tight, found
    assert found.inside, found


@pytest.mark.parametrize("name", CASES)
def test_a_service_rate_ten_percent_wrong_is_seen(name: str, tmp_path: Path, size: Size) -> None:
    """The same check fails when service takes 10 % longer than the theory is told."""
    case, small, full = CASES[name]
    days = size(small=max(30, small // 2), full=full // 2)
    found = case(tmp_path, days, seed(name), PLANTED)
    assert not found.inside, found
