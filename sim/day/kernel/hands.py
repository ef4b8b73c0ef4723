"""Work of the people on the line in the compiled day, by half-hour, and what goes beyond them."""

from __future__ import annotations

import math

from sim.day.kernel.rows import EXIT, FATE, LOAD_START, REDUCED, TOWEL, Wiped
from sim.day.kernel.tables import Floats, Ints, Work
from sim.day.kernel.wheel import SETS
from sim.physics.mark import inlined

HALF_HOURS = 48
HALF_HOUR_S = 1800.0


@inlined
def half_hour_of(moment_s: float) -> int:
    """Half-hour of a moment; after midnight the last one."""
    return int(min(math.floor(moment_s / HALF_HOUR_S), HALF_HOURS - 1.0))


@inlined
def add_pass_work(work: Work, hand: float, halves: Floats, times: Floats, marks: Ints) -> None:
    """Add the work of a pass, loading and exit where they happen; `hand` is of its class."""
    leaving = work.leaving_s
    if marks[REDUCED]:
        leaving += work.reduced_s
    if marks[FATE] == TOWEL:
        leaving += work.damp_s
    halves[half_hour_of(times[EXIT])] += hand * leaving
    halves[half_hour_of(times[LOAD_START])] += hand * work.loading_s


@inlined
def add_change_work(work: Work, wiped: Wiped, halves: Floats) -> None:
    """Add the hands of every change of set to the half-hours in which they work."""
    for number in range(wiped.places[SETS]):
        start = wiped.changed_s[number]
        end = start + work.change_s
        at = half_hour_of(start)
        while start < end:
            until = end if at == HALF_HOURS - 1 else min(end, (at + 1) * HALF_HOUR_S)
            halves[at] += work.change_people * (until - start)
            start = until
            at += 1


@inlined
def overload(work: Work, halves: Floats, last: float) -> float:
    """Work above what the people can do, over all half-hours [person-s].

    Args:
        last: when the last thing happened [s]; the last half-hour goes on until then.
    """
    beyond = 0.0
    for at in range(HALF_HOURS - 1):
        beyond += max(0.0, halves[at] - work.able_s[at])
    longer = max(1.0, (last - (HALF_HOURS - 1) * HALF_HOUR_S) / HALF_HOUR_S)
    return beyond + max(0.0, halves[HALF_HOURS - 1] - longer * work.able_s[HALF_HOURS - 1])
