"""Six kinds of day, and a search of its own that knows nothing of the product's.

The sites are invented, each so that its day is plainly of one kind, with the reason beside it. The
search goes through coarse windows, bands, always full and always reduced, each with nobody to three
people who dry damp cars at the exit, all day or in a window of whole hours: a loop over the
compiled day of each rule, then over the damp cars as they reach the exit. What people cost and what
a towel costs is added up here.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayDraw
from sim.day.engine import Experiment
from sim.day.kernel import tables as r
from sim.day.rules import FULL, REDUCED, Rule, parse_rule
from sim.inputs import Conditions, Site, Value
from tests.day.sites import PLAIN_GOODWILL, flat

Floats = NDArray[np.float64]
Kind = Literal["switch", "hands", "never", "always", "slower", "nothing"]
OPENS, CLOSES = 10, 16
OURS: dict[str, Value] = {
    "open_h": float(OPENS), "close_h": float(CLOSES),
    "damp_rewash_share": 0.0, "most_switches": 20, "least_between_switches_min": 0.0,
    "reduce_wish": "cost", "matters_money": 20.0, "shortest_shift_h": 2.0,
    "throw_off_time_s": 3600.0, **PLAIN_GOODWILL,
}  # fmt: skip
"""Throwing off takes an hour at idle: the gaps between cars do not empty the cloth of a rush."""


@dataclass(frozen=True, slots=True)
class KindOfDay:
    """A day that is plainly of one kind.

    Attributes:
        why: what makes it that kind.
        slower: belt speeds [m/s] that may be run instead.
    """

    kind: Kind
    why: str
    values: dict[str, Value]
    conditions: Conditions
    slower: tuple[float, ...] = field(default=())

    @property
    def site(self) -> Site:
        """The site of the day."""
        return Site(self.kind).with_values({**OURS, **self.values})


def day(
    cars: float | Sequence[float], temp_c: float, humidity: float | Sequence[float], opening: float
) -> Conditions:
    """A day of six open hours; cars and humidity the same in all of them or one for each."""

    def hours(found: float | Sequence[float]) -> tuple[float, ...]:
        if isinstance(found, float):
            return flat(found)
        return (found[0],) * OPENS + tuple(found) + (found[-1],) * (24 - CLOSES)

    return Conditions(hours(cars), flat(temp_c), hours(humidity), opening_moisture_kg_kg=opening)


SIX = (
    KindOfDay(
        "switch",
        "A dry morning in which full wiping leaves nobody damp, then three hours of rush in "
        "steaming air; a reduced wipe costs little against a damp car, hands are dear.",
        {"reduced_cost": 0.5, "damp_cost": 2.5, "wage_per_h": 100.0},
        day((70.0, 70.0, 125.0, 125.0, 125.0, 40.0), 30.0, (0.2, 0.2, 0.9, 0.9, 0.9, 0.9), 0.1),
    ),
    KindOfDay(
        "hands",
        "Customers resent a reduced wipe almost as much as a damp car, and a student with a towel "
        "dries in an hour what would cost ten times the wage.",
        {"reduced_cost": 1.6, "damp_cost": 3.0, "wage_per_h": 16.0},
        day(70.0, 26.0, 0.7, 0.5),
    ),
    KindOfDay(
        "never",
        "Few cars in hot dry air: the cloth has all the time between cars to lose its water, and a "
        "reduced wipe costs something.",
        {"reduced_cost": 0.35},
        day(35.0, 33.0, 0.3, 0.2),
    ),
    KindOfDay(
        "always",
        "A wash that sells hood and windshield: nobody minds the rest, and the cloth could not "
        "bear full wiping at such a pace.",
        {"reduced_cost": 0.01, "damp_cost": 4.0},
        day(110.0, 33.0, 0.3, 0.3),
    ),
    KindOfDay(
        "slower",
        "A belt that runs at its fastest for a third of the cars it could take: slower it wipes "
        "and blows longer and loses nobody.",
        {"conveyor_speed_m_s": 0.35, "reduced_cost": 1.0, "wage_per_h": 90.0},
        day(45.0, 24.0, 0.7, 0.4),
        slower=(0.3, 0.25, 0.2),
    ),
    KindOfDay(
        "nothing",
        "Three wet cars a minute in fog, a site that allows none damp, and four minutes of towel "
        "for each: neither reducing nor three people meet it.",
        {"reduce_wish": "mean", "allowed_damp_share": 0.01, "finish_area_s_m2": 120.0},
        day(130.0, 12.0, 0.98, 0.7),
    ),
)


# ---- the search ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Hands:
    """So many people at the exit from an hour to an hour; nobody at other times. Who is there at
    closing stays until the last car has left."""

    people: int
    from_h: float
    to_h: float

    @property
    def hours(self) -> float:
        """Hours to be paid."""
        return self.people * (self.to_h - self.from_h)


NOBODY = Hands(0, OPENS, CLOSES)
PAID = ("cost_wages", "cost_overtime", "cost_overload", "cost_looks")
"""What of a day's cost goes with the wage."""
SHORTEST_H = 2


def all_rules() -> tuple[Rule, ...]:
    """Always full and reduced, windows of whole hours, and bands."""
    hours = range(OPENS, CLOSES + 1)
    windows = [
        f"clock {start}:00-{end}:00"
        for start, end in itertools.combinations(hours, 2)
        if end - start < CLOSES - OPENS
    ]
    bands = [
        f"band {upper}-{upper - less}" for upper in (25, 30, 35, 40, 50, 60) for less in (5, 15)
    ]
    return (FULL, REDUCED, *(parse_rule(text) for text in windows + bands))


def all_hands() -> tuple[Hands, ...]:
    """Nobody, and one to three people all day or in a window of whole hours."""
    hours = range(OPENS, CLOSES + 1)
    spans = [
        (start, end) for start, end in itertools.combinations(hours, 2) if end - start >= SHORTEST_H
    ]
    return (NOBODY, *(Hands(people, *span) for people in (1, 2, 3) for span in spans))


def dried(exit_s: Floats, takes_s: Floats, hands: Hands, patience_s: float) -> int:
    """How many of the cars that come damp to the exit find a free hand within their patience, first
    come first served.

    Args:
        exit_s: when they come [s], in order; takes_s: a hand's time for each [s].
    """
    if not hands.people:
        return 0
    opens = 3600.0 * hands.from_h
    closes = math.inf if hands.to_h >= CLOSES else 3600.0 * hands.to_h
    waits_until = exit_s + patience_s
    # who gives up before anybody is there, and who comes when nobody is left, changes nothing
    met = slice(int(np.searchsorted(waits_until, opens)), int(np.searchsorted(exit_s, closes)))
    free = [opens] * hands.people
    count = 0
    for at, until, takes in zip(
        exit_s[met].tolist(), waits_until[met].tolist(), takes_s[met].tolist(), strict=True
    ):
        start = free[0] if free[0] > at else at
        if start <= until and start < closes:
            heapq.heapreplace(free, start + takes)
            count += 1
    return count


@dataclass(frozen=True, slots=True)
class Found:
    """Means of every rule with all hands over the days of the search, shape (rules, hands).

    Attributes:
        cost: of the day, wages and towels of the hands in it [money]; wages: what of it goes with
            the wage; share: of cars washed that leave damp.
    """

    rules: tuple[Rule, ...]
    hands: tuple[Hands, ...]
    cost: Floats
    wages: Floats
    share: Floats

    def paid(self, times: float) -> Found:
        """The same days at so many times the wage."""
        return replace(self, cost=self.cost + (times - 1.0) * self.wages, wages=times * self.wages)

    def best(self, one: KindOfDay, among: Callable[[Rule, Hands], bool]) -> tuple[int, int]:
        """Places of the best pair of some by the wish of the day: least cost of those that keep
        the allowed share, where that is wished for; of those that miss it by least if none does."""
        kept = np.array([[among(rule, hands) for hands in self.hands] for rule in self.rules])
        excess = np.zeros_like(self.share)
        if one.site.wishes.reduce_wish != "cost":
            excess = np.maximum(self.share - one.site.wishes.allowed_damp_share, 0.0)
        excess = np.where(kept, excess, np.inf)
        cost = np.where(excess <= excess.min() + 1e-12, self.cost, np.inf)
        at = int(np.argmin(cost))
        return at // len(self.hands), at % len(self.hands)


def search_all(
    one: KindOfDay,
    seeds: Sequence[int],
    rules: Sequence[Rule] | None = None,
    hands: Sequence[Hands] | None = None,
    speed: float | None = None,
    *,
    hands_are_there: bool = False,
) -> Found:
    """Every rule with all hands on every day; who leaves damp is counted by the model where the
    site has finishers of its own."""
    rules, hands = tuple(rules or all_rules()), tuple(hands or all_hands())
    site = one.site if speed is None else one.site.with_values({"conveyor_speed_m_s": speed})
    money = site.money
    prepared = Experiment(site, one.conditions, 1).at().prepare()
    cost, wages, share = np.zeros((3, len(rules), len(hands)))
    for number in seeds:
        replication = prepared.replication(DayDraw(number, 0))
        for place, rule in enumerate(rules):
            figures, done = replication.figures(rule).day, replication.run(rule)
            lines = done.flow.rows
            at = lines.order[: lines.counts[r.ON_BELT]]
            damp = done.wiped.marks[at, r.DAMP].astype(bool)
            order = np.argsort(lines.times[at, r.EXIT][damp], kind="stable")
            times = lines.times[at, r.EXIT][damp][order]
            takes = done.wiped.hands[at, r.TAKES][damp][order]
            if hands_are_there:
                share[place, 0] += figures["left_damp"] / max(1.0, figures["cars_washed"])
                continue
            assert len(times) == figures["left_damp"]
            for column, who in enumerate(hands):
                count = dried(times, takes, who, float(site.crew.exit_patience_s))
                paid = who.hours * money.wage_per_h
                wages[place, column] += paid + math.fsum(figures[name] for name in PAID)
                saved = count * (money.damp_cost - money.towel_cost)
                cost[place, column] += figures["cost"] + paid - saved
                share[place, column] += (len(times) - count) / max(1.0, figures["cars_washed"])
    return Found(rules, hands, *(table / len(seeds) for table in (cost, wages, share)))


def same_as(one: KindOfDay, **values: Value) -> KindOfDay:
    """The day with other inputs of its site."""
    return replace(one, values={**one.values, **values})
