"""A queue over a day whose arrivals change: its offered load, and the chain by its equations.

The busiest moment of the work comes after the busiest moment of the arrivals, by about a service
time; a line that has filled takes longer still to empty. Both are missed by a formula that takes
each half-hour for itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Floats = NDArray[np.float64]

TIGHT = 1e-8
"""Relative and a hundred times the absolute tolerance of the differential equations."""


def offered_load(
    step_s: float, rates_per_s: Floats, service_s: float, start: float = 0.0
) -> tuple[Floats, Floats]:
    """Mean number in service if servers were never short, exponential service: m′ = λ(t) − m/s.

    Eick, Massey & Whitt 1993, Mgmt. Sci. 39:241–252. Exact for a rate that is constant in each
    step.

    Args:
        step_s: length of a step [s], above 0.
        rates_per_s: arrivals by step [1/s]; shape (steps,).
        service_s: mean service time [s], above 0.
        start: load at the beginning [erlangs].

    Returns:
        Load at the end of each step, and its mean over each step [erlangs]; shapes (steps,).
    """
    fade = np.exp(-step_s / service_s)
    ends, means = np.empty(len(rates_per_s)), np.empty(len(rates_per_s))
    load = start
    for at, rate in enumerate(rates_per_s.tolist()):
        level = rate * service_s
        means[at] = level + (load - level) * service_s * (1.0 - fade) / step_s
        load = level + (load - level) * fade
        ends[at] = load
    return ends, means


@dataclass(frozen=True, slots=True)
class ChainStep:
    """A step of a day of M(t)/M(t)/c/K.

    Attributes:
        late: share of its kept arrivals that wait longer than the time asked for.
        lost: share of its arrivals that find all places taken; full: likewise of its time.
        mean_wait_s: of the kept arrivals, at the service rate of the step [s].
        waiting: mean number that wait.
    """

    late: float
    lost: float
    mean_wait_s: float
    waiting: float


def chain(
    step_s: float,
    rates_per_s: Floats,
    services_s: Floats,
    servers: Floats,
    places: int,
    wait_s: float = 0.0,
) -> tuple[ChainStep, ...]:
    """A day of a queue with exponential service and few places, empty at first.

    The forward equations of the chain, p′ = p·Q(t) with Q constant in each step, by an implicit
    solver to `TIGHT`. Waits are those at the servers and service times of the step in which a car
    arrives.

    Args:
        rates_per_s, services_s, servers: arrivals [1/s], mean service time [s] and servers (≥ 1)
            by step; shapes (steps,).
        places: most customers present, those in service included.
        wait_s: the wait that `ChainStep.late` is about.
    """
    state = np.zeros(places + 1)
    state[0] = 1.0
    found = []
    numbers = np.arange(places + 1)
    for rate, service_s, count in zip(
        rates_per_s.tolist(), services_s.tolist(), servers.tolist(), strict=True
    ):
        flow = _flow(rate, service_s, int(count), places)
        # the second half of the state gathers the time spent in each number
        wide = np.zeros((2 * (places + 1), 2 * (places + 1)))
        wide[: places + 1, : places + 1] = flow.T
        wide[places + 1 :, : places + 1] = np.eye(places + 1)
        solved = solve_ivp(
            lambda _time, now, wide=wide: wide @ now,
            (0.0, step_s),
            np.concatenate([state, np.zeros(places + 1)]),
            method="LSODA",
            jac=lambda _time, _now, wide=wide: wide,
            rtol=TIGHT,
            atol=TIGHT / 100.0,
        )
        if not solved.success:
            raise ArithmeticError(f"the queue’s equations could not be solved: {solved.message}")
        last = solved.y[:, -1]
        state = np.clip(last[: places + 1], 0.0, None)
        state /= state.sum()
        mean = last[places + 1 :] / step_s
        found.append(_step(mean, numbers, service_s, int(count), wait_s))
    return tuple(found)


def _flow(rate: float, service_s: float, servers: int, places: int) -> Floats:
    flow = np.zeros((places + 1, places + 1))
    for present in range(places + 1):
        if present < places:
            flow[present, present + 1] = rate
        if present > 0:
            flow[present, present - 1] = min(present, servers) / service_s
        flow[present, present] = -flow[present].sum()
    return flow


def _step(
    mean: Floats, numbers: NDArray[np.int64], service_s: float, servers: int, wait_s: float
) -> ChainStep:
    lost = float(mean[-1])
    kept = mean[:-1] / max(1e-300, 1.0 - lost)
    ahead = np.maximum(numbers[:-1] - servers + 1, 0)  # departures that a kept arrival waits for
    per_s = servers / service_s
    late = sum(
        float(share) * _fewer_than(int(count), per_s * wait_s)
        for share, count in zip(kept, ahead, strict=True)
        if count > 0
    )
    waiting = float(mean @ np.maximum(numbers - servers, 0))
    return ChainStep(late, lost, float(kept @ ahead) / per_s, waiting)


def _fewer_than(departures: int, mean: float) -> float:
    """Chance that fewer than so many departures fall into a time with so many on average."""
    term = total = float(np.exp(-mean))
    for number in range(1, departures):
        term *= mean / number
        total += term
    return total
