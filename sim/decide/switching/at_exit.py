"""People at the exit beside a site's own finishers, and what a day is with them.

Drying by hand comes after the wheel and moves nothing before it, so each wiped day is asked for any
number of timetables at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.day.engine import Replication
from sim.day.kernel.hands import PLAN_TALLY, HandPlans
from sim.day.kernel.many import TALLY
from sim.day.rules import Rule, SetChange
from sim.decide.switching.choice import Floats
from sim.decide.switching.question import costs_of
from sim.inputs import Site, Steps, Value, value_at
from sim.inputs.people import MOST_FINISHERS


@dataclass(frozen=True, slots=True)
class MoreHands:
    """People at the exit beside the site's own finishers; none where `people` is 0.

    Attributes:
        from_s, until_s: when they are there [s after midnight]; who stays until closing stays until
            the last car has left.
    """

    people: int = 0
    from_s: float = 0.0
    until_s: float = 0.0

    @property
    def hours(self) -> float:
        """Person-hours as planned."""
        return self.people * (self.until_s - self.from_s) / 3600.0


OWN = MoreHands()


def all_day(site: Site, people: int) -> MoreHands:
    """So many more as long as the site is open."""
    return MoreHands(people, site.line.open_h * 3600.0, site.line.close_h * 3600.0)


def entered(site: Site, more: MoreHands) -> dict[str, Value]:
    """What is entered to have them: people and finishers by time, with so many more."""
    stays = more.until_s >= site.line.close_h * 3600.0
    ends = () if stays else (more.until_s,)

    def added(table: Steps) -> Steps:
        edges = sorted({0.0, more.from_s, *ends, *(start for start, _ in table)})
        return tuple(
            (
                edge,
                value_at(table, edge)
                + more.people * (more.from_s <= edge and (stays or edge < more.until_s)),
            )
            for edge in edges
        )

    drying = added(site.crew.finishers)
    return {
        "people": added(site.crew.people),
        "finishers": tuple((at, min(float(MOST_FINISHERS), count)) for at, count in drying),
    }


def hand_plans(day: Replication, hands: Sequence[MoreHands]) -> HandPlans:
    """Timetables of a day: the site's own finishers and so many more."""
    numbers, own = day.of.numbers, day.of.site.crew.finishers
    edges = {numbers.open_s, *(row[0] for row in own)}
    edges |= {edge for one in hands if one.people for edge in (one.from_s, one.until_s)}
    inside = sorted(edge for edge in edges if numbers.open_s <= edge < numbers.close_s)
    table = [
        [
            min(
                MOST_FINISHERS,
                int(value_at(own, edge)) + (one.people if one.from_s <= edge < one.until_s else 0),
            )
            for edge in inside
        ]
        for one in hands
    ]
    people = np.array(table, dtype=np.int64).reshape(len(hands), len(inside))
    return HandPlans(np.array(inside), people)


def read_hands(
    hands: tuple[MoreHands, ...],
    day: Replication,
    rules: tuple[Rule, ...],
    sets: tuple[SetChange, ...],
) -> Floats:
    """Outcomes of rules on one draw by timetables; shape (rules, hands, OUTCOMES)."""
    found, by_hands = day.tallies_by_hands(rules, hand_plans(day, hands), sets)
    rows = np.repeat(found[:, None], len(hands), axis=1)
    for name in PLAN_TALLY:
        if name in TALLY:
            rows[..., TALLY.index(name)] = by_hands[..., PLAN_TALLY.index(name)]
    prices = day.of.prices
    cost = costs_of(prices, rows.reshape(-1, len(TALLY))).reshape(rows.shape[:2])
    late_s = np.maximum(0.0, rows[..., TALLY.index("last_s")] - prices.close_s)
    people = np.array([one.people for one in hands], dtype=float)
    stays = np.array([one.until_s >= prices.close_s for one in hands])
    planned_s = np.array([one.hours for one in hands]) * 3600.0
    cost += prices.work_per_s * (planned_s + people * stays * late_s)
    return np.concatenate([rows, cost[..., None]], axis=-1)
