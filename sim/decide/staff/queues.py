"""Queues: with several servers, stationary; over a day whose arrivals change; and those of a site.

Poisson arrivals, exponential service, first come first served. `load` is the offered load in
erlangs: arrivals per second times mean service time, servers that would be busy if none were short.

Over a day the busiest moment of the work comes after the busiest moment of the arrivals, by about a
service time; a line that has filled takes longer still to empty. Both are missed by a formula that
takes each half-hour for itself; the offered load and the chain by its equations have them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.setup import mean_load_s, prepare_day
from sim.decide.staff.measure import (
    HALF_HOUR_S,
    HALF_HOURS,
    MOST_LOADERS,
    Counts,
    Floats,
    fixed_work_s,
    open_half_hours,
)
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import Site

LATE_SHARE = 0.1
"""Cars that may wait longer than the wait allowed: 9 cars in 10 wait at most that long."""
MOST_SERVERS = 10_000
"""A search for servers ends here."""


def erlang_b(servers: int, load: float) -> float:
    """Share of arrivals that find all servers busy where nobody waits (Erlang 1917), 0 to 1.

    By the recursion B(c) = a·B(c − 1)/(c + a·B(c − 1)), which neither overflows nor cancels.

    Raises:
        ValueError: for fewer than 0 servers or a load below 0.
    """
    if servers < 0 or not load >= 0.0:
        raise ValueError(f"{servers} servers with a load of {load} make no queue; use 0 or more")
    blocked = 1.0
    for server in range(1, servers + 1):
        blocked = load * blocked / (server + load * blocked)
    return blocked


def erlang_c(servers: int, load: float) -> float:
    """Share of arrivals that wait where everybody may wait (Erlang 1917), 0 to 1.

    C = B/(1 − (a/c)·(1 − B)); 1 where the load reaches the servers.

    Raises:
        ValueError: as `erlang_b`.
    """
    blocked = erlang_b(servers, load)
    if load >= servers:
        return 1.0
    return blocked / (1.0 - load / servers * (1.0 - blocked))


def wait_exceeds(servers: int, load: float, service_s: float, wait_s: float) -> float:
    """Share of arrivals that wait longer than `wait_s`; 1 minus it is the service level.

    C·exp(−(c − a)·t/s); 1 where the load reaches the servers.
    """
    if load >= servers:
        return 1.0
    return erlang_c(servers, load) * math.exp(-(servers - load) * wait_s / service_s)


def mean_wait_s(servers: int, load: float, service_s: float) -> float:
    """Mean wait of all arrivals [s], C·s/(c − a); ∞ where the load reaches the servers."""
    if load >= servers:
        return math.inf
    return erlang_c(servers, load) * service_s / (servers - load)


def fewest_servers(
    load: float, service_s: float, wait_s: float, late_share: float, most_use: float = 1.0
) -> int:
    """Fewest servers with which at most a share waits longer than `wait_s`.

    Args:
        late_share: above 0.
        most_use: load per server at most, above 0.

    Raises:
        ValueError: if no number of servers up to `MOST_SERVERS` is enough.
    """
    if load <= 0.0:
        return 0
    least = max(1, math.ceil(load / most_use - 1e-9))
    for servers in range(least, MOST_SERVERS + 1):
        if wait_exceeds(servers, load, service_s, wait_s) <= late_share:
            return servers
    raise ValueError(f"{MOST_SERVERS} servers are not enough for a load of {load:g}")


def with_room(servers: int, load: float, places: int) -> tuple[float, ...]:
    """Probabilities of 0, 1, … customers where at most `places` are present (M/M/c/K).

    Shape (places + 1,). An arrival that finds `places` present is lost, so the last one is the
    share of arrivals lost.

    Raises:
        ValueError: for no server, fewer places than servers, or a load below 0.
    """
    if servers < 1 or places < servers or not load >= 0.0:
        raise ValueError(
            f"{servers} servers, {places} places, load {load}: use a server or more, no fewer "
            "places than servers, no load below 0"
        )
    if load == 0.0:
        return (1.0, *[0.0] * places)
    logs = [0.0]  # logarithms, since weights of a great load overflow
    for present in range(1, places + 1):
        logs.append(logs[-1] + math.log(load / min(present, servers)))
    highest = max(logs)
    weights = [math.exp(log - highest) for log in logs]
    total = math.fsum(weights)
    return tuple(weight / total for weight in weights)


# ---- over a day ----------------------------------------------------------------------------------


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
    from scipy.integrate import solve_ivp  # slow to load; no page waits for it

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


# ---- the queues of a site ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Formula:
    """What formulas say before anything is simulated, by half-hour.

    Attributes:
        load: offered load of the line with one loader [erlangs].
        loaders, people: as they would be; loaders are most where no number would do.
        wait_s: mean wait with those loaders [s]; ∞ where the line would grow for ever.
    """

    load: Floats
    loaders: Counts
    people: Counts
    wait_s: Floats


def _arrivals(question: SwitchQuestion) -> Floats:
    """Expected arrivals by half-hour [1/s]."""
    rates = np.repeat(np.array(question.conditions.arrivals_per_h, dtype=float), 2) / 3600.0
    is_open = np.isin(np.arange(HALF_HOURS), list(open_half_hours(question.middle)))
    return np.where(is_open, rates, 0.0)


def service_s(site: Site, question: SwitchQuestion, loaders: int) -> float:
    """Time that the line takes for a car when it is full [s]: the loader’s or the belt’s."""
    if loaders > 1:
        quick_s = mean_load_s(site) * site.pay.second_loader_factor
        site = site.with_values({"load_kind": "fixed", "load_mean_s": quick_s})
    return 1.0 / prepare_day(site, question.conditions).capacity_per_s


def _services(question: SwitchQuestion) -> list[float]:
    """The same for one loader, two, … up to most."""
    site = question.middle
    return [service_s(site, question, count) for count in range(1, MOST_LOADERS + 1)]


def by_formula(question: SwitchQuestion) -> Formula:
    """Each half-hour for itself: Erlang C for the line as one server, and for all other work.

    The arrivals are the expected ones; the load of the other work lags them as the offered load
    does.
    """
    rates, site, times = _arrivals(question), question.middle, _services(question)
    crew, wait = site.crew, site.wishes.allowed_wait_p90_s
    _, load = offered_load(HALF_HOUR_S, rates, times[0])
    hand = sum(item.numbers.share * item.numbers.hand_work for item in site.vehicles)
    per_car = hand * (crew.prep_work_s + crew.exit_work_s)
    _, other = offered_load(HALF_HOUR_S, rates, max(per_car, 1e-9))
    other = other + fixed_work_s(site) / HALF_HOUR_S
    loaders, people = [1] * HALF_HOURS, [0] * HALF_HOURS
    waits = np.zeros(HALF_HOURS)
    for at in open_half_hours(site):
        for count, time in enumerate(times, 1):
            loaders[at] = count
            busy = rates[at] * time
            waits[at] = mean_wait_s(1, busy, time)
            is_full = with_room(1, busy, room_of(site))[-1] > site.wishes.allowed_full_share
            if wait_exceeds(1, busy, time, wait) <= LATE_SHARE and not is_full:
                break
        beside = fewest_servers(
            float(other[at]), max(per_car, 1.0), wait, LATE_SHARE, crew.target_use
        )
        people[at] = max(crew.min_crew, loaders[at] + beside)
    return Formula(load, tuple(loaders), tuple(people), waits)


def room_of(site: Site) -> int:
    """Places of the line as one queue: stack, loading line, one paying and one being loaded."""
    return site.pay.stack_limit_cars + site.pay.loading_line_cars + 2


def by_chain(question: SwitchQuestion, loaders: Counts) -> tuple[ChainStep, ...]:
    """The line as one server with room for stack, lanes and loading line, over the day."""
    site, times = question.middle, _services(question)
    return chain(
        HALF_HOUR_S,
        _arrivals(question),
        services_s=np.array([times[count - 1] for count in loaders]),
        servers=np.ones(HALF_HOURS),
        places=room_of(site),
        wait_s=site.wishes.allowed_wait_p90_s,
    )
