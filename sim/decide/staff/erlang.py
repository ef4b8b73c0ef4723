"""Queues with several servers, stationary: what share waits, how long, how many servers it takes.

Poisson arrivals, exponential service, first come first served. `load` is the offered load in
erlangs: arrivals per second times mean service time, servers that would be busy if none were short.
"""

from __future__ import annotations

import math

from scipy.special import ndtr

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


def halfin_whitt(servers: int, load: float) -> float:
    """Share that waits, approximately, for many servers: 1/(1 + β·Φ(β)/φ(β)), β = (c − a)/√a.

    Halfin & Whitt 1981, Oper. Res. 29:567–588. Some 0.01 below the exact share at 100 erlangs.

    Raises:
        ValueError: for a load that is not above 0.
    """
    if not load > 0.0:
        raise ValueError(f"a load of {load} has no such approximation; use more than 0")
    beta = (servers - load) / math.sqrt(load)
    if beta <= 0.0:
        return 1.0
    density = math.exp(-0.5 * beta * beta) / math.sqrt(2.0 * math.pi)
    return 1.0 / (1.0 + beta * float(ndtr(beta)) / density)


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
        return (1.0, *(0.0 for _ in range(places)))
    logs = [0.0]  # logarithms, since weights of a great load overflow
    for present in range(1, places + 1):
        logs.append(logs[-1] + math.log(load / min(present, servers)))
    highest = max(logs)
    weights = [math.exp(log - highest) for log in logs]
    total = math.fsum(weights)
    return tuple(weight / total for weight in weights)
