"""Sets in rotation: one on the wheel, others drying, in the laundry or ready in store.

Two ways to the same question, how many sets to own: a finite-source queue (the machine-repair
model, Winston, Operations Research, from memory), in which every time is exponential, and a
small event loop that takes times as they are and can follow a calendar.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.inputs import Site

Floats = NDArray[np.float64]
MOST_SETS = 8
"""So many sets are looked at, or two more than are owned."""


@dataclass(frozen=True, slots=True)
class FiniteSource:
    """A finite-source queue in balance.

    Attributes:
        p: probability of so many units at the servers, shape (units + 1,).
        down: mean number at the servers; up: mean number of the others.
    """

    p: Floats
    down: float
    up: float


def finite_source(
    units: int, fail_rate: float, repair_rate: float, servers: int = 1
) -> FiniteSource:
    """M/M/R//K: K units, each comes to the servers at a rate while it is not there.

    Birth rate (K − n)·λ, death rate min(n, R)·μ; the balance is solved from its ratios.

    Args:
        units: K, at least 1; servers: R, at least 1.
        fail_rate: λ of one unit, above 0; repair_rate: μ of one server, above 0.
    """
    logs = [0.0]
    for n in range(1, units + 1):
        ratio = (units - n + 1) * fail_rate / (min(n, servers) * repair_rate)
        logs.append(logs[-1] + math.log(ratio))
    weights = np.exp(np.array(logs) - max(logs))
    p = weights / weights.sum()
    down = float(np.arange(units + 1) @ p)
    return FiniteSource(p, down, units - down)


@dataclass(frozen=True, slots=True)
class Availability:
    """What became of changes of sets, one after another.

    Attributes:
        none_ready: share of changes at which no dry set was ready.
        waited_share: share of time that the wheel waited for one.
        changes: that were looked at.
    """

    none_ready: float
    waited_share: float
    changes: int


def short_by_formula(sets: int, on_wheel_h: float, away_h: float) -> Availability:
    """Sets that circulate between one wheel and laundry and drying, all times exponential.

    Seen from the wheel it is the server and each set away comes back at a rate 1/away; a change
    finds none ready where it was the last set at the wheel: p₁/(1 − p₀).
    """
    found = finite_source(sets, 1.0 / away_h, 1.0 / on_wheel_h)
    return Availability(float(found.p[1] / (1.0 - found.p[0])), float(found.p[0]), 0)


def turn_over(sets: int, on_wheel_h: Sequence[float], away_h: Sequence[float]) -> Availability:
    """The event loop: the next set is hung as soon as one is ready, and the last goes away.

    Args:
        on_wheel_h: how long each set in turn stays on the wheel [h].
        away_h: how long it is then away [h]; same length.
    """
    ready = [0.0] * (sets - 1)
    heapq.heapify(ready)
    now, waited, short = 0.0, 0.0, 0
    for stays, away in zip(on_wheel_h, away_h, strict=True):
        now += stays
        heapq.heappush(ready, now + away)
        back = heapq.heappop(ready)
        if back > now:
            short += 1
            waited += back - now
            now = back
    count = len(on_wheel_h)
    return Availability(short / count if count else 0.0, waited / now if now else 0.0, count)


@dataclass(frozen=True, slots=True)
class Want:
    """A change that a calendar asks for.

    Attributes:
        at_h: hours since the season's first midnight.
        away_h: how long the set that comes off is away: drying, or laundry and drying.
        is_peak: whether it is a dry set in the middle of a peak day; else it is in the morning.
    """

    at_h: float
    away_h: float
    is_peak: bool


def follow(sets: int, wants: Sequence[Want]) -> list[bool]:
    """Which changes of a calendar find a dry set; one that finds none is left out.

    Args:
        wants: in order of time.
    """
    ready = [-math.inf] * (sets - 1)
    heapq.heapify(ready)
    kept = []
    for want in wants:
        is_ready = bool(ready) and ready[0] <= want.at_h
        if is_ready:
            heapq.heapreplace(ready, want.at_h + want.away_h)
        kept.append(is_ready)
    return kept


@dataclass(frozen=True, slots=True)
class Owned:
    """What so many sets are good for.

    Attributes:
        formula: changes in the morning, all times exponential: the cautious end.
        fixed: the same by the event loop with the site's times as they stand.
        morning_ready, peak_ready: shares of the calendar's changes, in the morning and at noon of
            peak days, that find a dry set ready; None where it asks for none.
    """

    sets: int
    formula: Availability
    fixed: Availability
    morning_ready: float | None
    peak_ready: float | None


def away_hours(site: Site, laundered: bool) -> float:
    """How long a set that came off is away [h]: what comes from the laundry still has to dry."""
    wear = site.wear
    return wear.set_dry_h + (wear.launder_turn_h if laundered else 0.0)


CHECKED = 200
"""Changes that the event loop looks at with fixed times."""


def compare_owned(
    site: Site, wants: Sequence[Want], on_wheel_h: float, away_h: float
) -> list[Owned]:
    """One row a number of sets, from 1 to two more than the site owns.

    Args:
        wants: the season's calendar.
        on_wheel_h: mean time on the wheel between two changes in the morning [h].
        away_h: mean time that a set is then away [h].
    """
    rows = []
    for sets in range(1, min(MOST_SETS, site.wear.sets_owned + 2) + 1):
        fixed = turn_over(sets, [on_wheel_h] * CHECKED, [away_h] * CHECKED)
        kept = follow(sets, wants)
        rows.append(
            Owned(
                sets,
                short_by_formula(sets, on_wheel_h, away_h),
                fixed,
                _share(kept, wants, is_peak=False),
                _share(kept, wants, is_peak=True),
            )
        )
    return rows


def _share(kept: Sequence[bool], wants: Sequence[Want], *, is_peak: bool) -> float | None:
    found = [ready for ready, want in zip(kept, wants, strict=True) if want.is_peak == is_peak]
    return sum(found) / len(found) if found else None
