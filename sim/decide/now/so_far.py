"""A day so far, as its log tells it: what was counted, seen and weighed, and how it was wiped."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sim.day.rules import HOODS_SEEN, Clock, CrewClock, Rule, SetChange
from sim.inputs import Site
from sim.inputs.logbook import (
    ADVICE,
    CAME,
    CARS,
    DAMP_HOODS,
    FELT,
    FULL,
    GO_BACK,
    HOUR,
    LEFT,
    REDUCE_NOW,
    REDUCED,
    SET_CHANGED,
    SOMEBODY,
    STAY,
    STOP,
    STRIP,
    TURNED_AWAY,
    WIPING,
    LogEntry,
)
from sim.learn.felt import Felt, felt_in
from sim.learn.weighed_day import cars_until

HOUR_S, DAY_END_S = 3600.0, 86_400.0
APART_S = 3_000.0
"""Counts of cars nearer to one another than that are not each met [s]."""
NEAR_S = 600.0
"""A count that stood so near to the beginning of an hour is taken for one at its beginning [s]."""
TELLING = frozenset({
    CARS, HOUR, TURNED_AWAY, DAMP_HOODS, STRIP, WIPING, SET_CHANGED, FELT, SOMEBODY, STOP,
})  # fmt: skip
"""Kinds of entries that can tell how the rest of a day will go. Others are not looked at, but for
advice, which tells what was said."""


@dataclass(frozen=True, slots=True)
class Looked:
    """The last hoods that passed before a time [s after midnight], and the damp ones of them."""

    at_s: float
    damp: int
    of: int


@dataclass(frozen=True, slots=True)
class SoFar:
    """What is known of a day up to a time.

    Attributes:
        now_s: that time [s after midnight].
        washed: times [s] and cars washed until then, both rising.
        turned: from when [s], until when [s], and cars that drove away meanwhile.
        hoods: of each look at the last hoods.
        strips: times [s] and moisture of a strip from the wheel [kg/kg].
        switched: times [s] and whether the wiping is reduced from then on, by time.
        sets_s: when a dry set was put on [s].
        felt: the air as it was felt, by time.
        left_s: when each of those left who have not come back [s].
        stands_s: since when the belt stands [s]; None where it runs, as far as noted.
        said: ``reduced`` or ``full``, as was advised last for right then; empty for nothing.
        last_s: of the last entry that tells of any of this [s]; None without one.
    """

    now_s: float
    washed: tuple[tuple[float, int], ...] = ()
    turned: tuple[tuple[float, float, int], ...] = ()
    hoods: tuple[Looked, ...] = ()
    strips: tuple[tuple[float, float], ...] = ()
    switched: tuple[tuple[float, bool], ...] = ()
    sets_s: tuple[float, ...] = ()
    felt: tuple[Felt, ...] = ()
    left_s: tuple[float, ...] = ()
    stands_s: float | None = None
    said: str = ""
    last_s: float | None = None

    @property
    def counted_s(self) -> float:
        """When the cars were counted last [s]; 0 if they never were."""
        return self.washed[-1][0] if self.washed else 0.0

    def is_reduced(self, plan: Rule) -> bool:
        """How cars are wiped now: as was switched last, before any switch as the plan has it.

        A plan that goes by what the crew sees is taken for full until somebody has switched.
        """
        if self.switched:
            return self.switched[-1][1]
        return plan.everyone or any(a <= self.now_s < b for a, b in windows_of(plan) or ())

    def sets(self, planned: Sequence[SetChange]) -> tuple[SetChange, ...]:
        """Dry sets of the day: those that were put on, and those that are still to come."""
        later = [one for one in planned if one.at_s is None or one.at_s > self.now_s]
        return (*(SetChange(at_s=at) for at in self.sets_s), *later)


def windows_of(rule: Rule) -> tuple[tuple[float, float], ...] | None:
    """When a rule wipes reduced [s after midnight], whoever comes; None if more than the clock
    decides."""
    if rule.everyone:
        return ((0.0, DAY_END_S),)
    spans: list[tuple[float, float]] = []
    for row in rule.either:
        (first, *others) = row
        if others or not isinstance(first, Clock | CrewClock):
            return None
        spans += first.windows
    return tuple(sorted(spans))


def so_far(
    entries: Sequence[LogEntry], now_s: float, site: Site, expected_per_h: Sequence[float]
) -> SoFar:
    """What the entries of a day tell up to a time.

    Args:
        entries: of that day; those taken back and those of later count for nothing.
        expected_per_h: cars expected in each clock hour, where a count of an hour leaves open what
            came before it.
    """
    telling = (one for one in entries if one.kind in TELLING or one.kind == ADVICE)
    held = sorted(
        (one for one in telling if one.counts and one.at_s <= now_s), key=lambda e: e.place
    )
    opens_s, dry_kg = HOUR_S * site.line.open_h, site.wheel.strip_dry_mass_kg
    hoods, strips = list[Looked](), list[tuple[float, float]]()
    switched, sets_s = list[tuple[float, bool]](), list[float]()
    turned = list[tuple[float, float, int]]()
    felt, left, stands = list[Felt](), dict[str, float](), None
    said, told = "", list[float]()
    for one in held:
        if one.kind == DAMP_HOODS and one.count is not None:
            of = one.of or HOODS_SEEN
            hoods.append(Looked(one.at_s, min(one.count, of), of))
            stands = None  # cars pass the wheel
        elif one.kind == STRIP and one.weight_kg is not None and one.weight_kg > dry_kg:
            strips.append((one.at_s, one.weight_kg / dry_kg - 1.0))
        elif one.kind == WIPING:
            switched.append((one.at_s, one.word == REDUCED))
        elif one.kind == SET_CHANGED:
            sets_s.append(one.at_s)
        elif one.kind == TURNED_AWAY and one.count is not None:
            turned.append((turned[-1][1] if turned else opens_s, one.at_s, one.count))
        elif one.kind == ADVICE:
            said = _said_for_now(one.word, said)
            continue
        elif one.kind == FELT and (air := felt_in(one)) is not None:
            felt.append(air)
        elif one.kind == SOMEBODY and one.word == LEFT:
            left[one.name] = one.at_s
        elif one.kind == SOMEBODY and one.word == CAME and one.name in left:
            del left[one.name]
        elif one.kind == STOP:
            stands = one.at_s if one.lasted_s is None else None
        elif one.kind not in (CARS, HOUR):
            continue
        told.append(one.at_s)
    return SoFar(
        now_s, _thinned(_washed(held, opens_s, expected_per_h)), tuple(turned), tuple(hoods),
        tuple(strips), tuple(switched), tuple(sets_s), tuple(felt),
        tuple(left.values()), stands, said, max(told, default=None),
    )  # fmt: skip


def _said_for_now(word: str, before: str) -> str:
    if word == REDUCE_NOW:
        return REDUCED
    if word == GO_BACK:
        return FULL
    return before if word == STAY else ""


def _thinned(washed: tuple[tuple[float, int], ...]) -> tuple[tuple[float, int], ...]:
    """Counts that lie apart, the last one among them: what lies between them tells of the luck of
    some minutes, and each costs days to be met."""
    kept = list[tuple[float, int]]()
    for at, cars in reversed(washed):
        if not kept or kept[-1][0] - at >= APART_S:
            kept.append((at, cars))
    return tuple(reversed(kept))


def _washed(
    held: Sequence[LogEntry], opens_s: float, expected_per_h: Sequence[float]
) -> tuple[tuple[float, int], ...]:
    """Times and cars washed until then, from cars so far and cars of an hour.

    The cars of an hour are added to those before it. What lies between is as was expected, scaled
    like what was counted; an hour that reaches back before a count has its share of the time.
    """
    found, at, cars = list[tuple[float, int]](), opens_s, 0.0
    for one in held:
        if one.count is None or one.at_s <= at:
            continue
        if one.kind == CARS:
            total = float(one.count)
        elif one.kind == HOUR:
            begin, share, between = one.at_s - HOUR_S, 1.0, 0.0
            if begin > at + NEAR_S:
                usual = cars_until(expected_per_h, at)
                scale = cars / usual if found and usual > 0.0 else 1.0
                between = scale * (cars_until(expected_per_h, begin) - usual)
            elif begin < at - NEAR_S:
                share = (one.at_s - at) / HOUR_S
            total = cars + between + share * one.count
        else:
            continue
        if total >= cars:
            at, cars = one.at_s, total
            found.append((at, math.floor(total + 0.5)))
    return tuple(found)
