"""Queues of the staff page: against one another, against equations, against the simulation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sim.day.rules import FULL
from sim.decide.staff.measure import HALF_HOUR_S, HALF_HOURS, StaffPlan, measure
from sim.decide.staff.queues import (
    MOST_SERVERS,
    chain,
    erlang_b,
    erlang_c,
    fewest_servers,
    mean_wait_s,
    wait_exceeds,
    with_room,
)
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import Conditions, Site
from tests.day.sites import flat
from tests.queue_sites import ONE_CAR, PLAIN_LINE, chain_by_hour, hold
from tests.seeds import seed
from tests.sizes import Size


def test_what_follows_from_one_another() -> None:
    """One server: C is the load. Nobody lost with much room. Waits past 0 are those that wait."""
    assert erlang_c(1, 0.7) == pytest.approx(0.7, abs=1e-12)
    assert mean_wait_s(1, 0.5, 60.0) == pytest.approx(60.0, abs=1e-9)
    assert wait_exceeds(3, 2.0, 60.0, 0.0) == pytest.approx(erlang_c(3, 2.0), abs=1e-12)
    roomy = with_room(3, 2.0, 200)
    assert math.fsum(roomy[3:]) == pytest.approx(erlang_c(3, 2.0), abs=1e-12)
    assert with_room(5, 3.0, 5)[-1] == pytest.approx(erlang_b(5, 3.0), abs=1e-12)
    assert with_room(1, 1e150, 400)[-1] == pytest.approx(1.0)


def test_a_line_that_is_too_full() -> None:
    """Load at or above the servers: all wait, for ever; no fewer servers than the load."""
    assert erlang_c(2, 2.0) == wait_exceeds(2, 2.5, 60.0, 600.0) == 1.0
    assert mean_wait_s(2, 2.0, 60.0) == math.inf
    assert fewest_servers(2.0, 60.0, 1e9, 0.5) == 3
    assert fewest_servers(2.0, 60.0, 1e9, 0.5, most_use=0.5) == 4
    assert fewest_servers(0.0, 60.0, 0.0, 0.1) == 0


def test_impossible_queues_are_refused() -> None:
    """Each with what would be right."""
    with pytest.raises(ValueError, match=r"-1 servers with a load of 1.0 make no queue"):
        erlang_b(-1, 1.0)
    with pytest.raises(ValueError, match=r"3 servers, 2 places, load 1.0"):
        with_room(3, 1.0, 2)
    with pytest.raises(ValueError, match=f"{MOST_SERVERS} servers are not enough"):
        fewest_servers(MOST_SERVERS + 1.0, 60.0, 0.0, 0.1)


def test_the_chain_settles_at_the_stationary_queue() -> None:
    """After a day of the same rate: waits, losses and numbers of M/M/3/12."""
    rate, service_s, places = 1 / 30.0, 75.0, 12
    steps = chain(
        HALF_HOUR_S, np.full(HALF_HOURS, rate), np.full(HALF_HOURS, service_s),
        np.full(HALF_HOURS, 3.0), places, 40.0,
    )  # fmt: skip
    p = np.array(with_room(3, rate * service_s, places))
    kept = p[:-1] / (1.0 - p[-1])
    last = steps[-1]
    assert last.lost == pytest.approx(p[-1], rel=1e-6)
    assert last.waiting == pytest.approx(p @ np.maximum(np.arange(13) - 3, 0), rel=1e-6)
    # Little's law: waits of those kept, from the number that waits
    wait = last.waiting / (rate * (1.0 - p[-1]))
    assert last.mean_wait_s == pytest.approx(wait, rel=1e-6)
    late = sum(kept[n] * _poisson_below(n - 2, 3 / service_s * 40.0) for n in range(3, places))
    assert last.late == pytest.approx(late, rel=1e-6)


def _poisson_below(count: int, mean: float) -> float:
    return math.fsum(math.exp(-mean) * mean**k / math.factorial(k) for k in range(count))


def test_the_chain_meets_equations_of_another_hand() -> None:
    """From empty, by hours, as the suite's own chain has it."""
    waiting, lost = chain_by_hour(60, 20, 2, 7, 6)
    steps = chain(3600.0, np.full(6, 60 / 3600), np.full(6, 180.0), np.full(6, 2.0), 7)
    assert [step.waiting for step in steps] == pytest.approx(waiting.tolist(), rel=1e-6)
    assert [60 * step.lost for step in steps] == pytest.approx(lost.tolist(), rel=1e-6)


def queue_question(index: int) -> SwitchQuestion:
    """M(t)/M/2 with room for six more on a plain line: two lanes, 90 s, 40 to 100 cars an hour."""
    site = replace(Site("Queue"), vehicles=(ONE_CAR,), reference_class="car")
    site = site.with_values(
        {
            **PLAIN_LINE,
            "quick_pay_kind": "exponential", "quick_pay_mean_s": 90.0,
            "pay_lanes": ((0.0, 2.0),), "stack_limit_cars": 6,
            "open_h": 8.0, "close_h": 14.0, "allowed_wait_p90_s": 120.0,
        }
    )  # fmt: skip
    rates = [0.0] * 24
    rates[8:14] = [40.0, 70.0, 100.0, 90.0, 60.0, 40.0]
    day = Conditions(tuple(rates), flat(20.0), flat(0.5), opening_moisture_kg_kg=0.1)
    return SwitchQuestion(site, day, Wish.of(site, "mean"), seed("staff chain", index))


@pytest.mark.soak
def test_a_day_by_its_equations_is_met_half_hour_by_half_hour(size: Size) -> None:
    """Losses, time with a full stack and late cars of the busy half-hours, by 99.9 % intervals.

    The differential equations know the day as M(t)/M/2/8; the simulation as a wash.
    """
    days = size(small=3_000, full=12_000)
    question = queue_question(0)
    plan = StaffPlan((1,) * HALF_HOURS, (1,) * HALF_HOURS)
    found = measure(question, plan, FULL, 0, days).half_hours
    rates = np.repeat(np.array(question.conditions.arrivals_per_h), 2) / 3600.0
    inputs = (np.full(HALF_HOURS, 90.0), np.full(HALF_HOURS, 2.0), 8, 120.0)
    for planted, holds in ((1.0, True), (1.1, False)):
        steps = chain(HALF_HOUR_S, rates, inputs[0] * planted, *inputs[1:])
        inside = []
        for at in range(20, 24):  # 10:00 to 12:00
            arrive = rates[at] * HALF_HOUR_S
            verdicts = (
                hold(steps[at].lost * arrive, found["lost"][:, at]),
                hold(steps[at].lost * HALF_HOUR_S, found["full_s"][:, at]),
                hold(steps[at].late * (1 - steps[at].lost) * arrive, found["late"][:, at]),
            )
            inside += [verdict.inside for verdict in verdicts]
            assert all(verdict.tight for verdict in verdicts)
        assert all(inside) if holds else not any(inside)
