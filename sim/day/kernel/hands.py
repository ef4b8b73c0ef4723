"""Hands at the exit in the compiled day: which damp cars finishers dry, and when.

One pass over the damp cars in order of exit, after the line and the cloth are done, since nothing
of it flows back to them; so the same wiped day is asked for any number of timetables. The law, its
ties included, is that of `sim.day.apron`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.day.figures import named
from sim.day.kernel import tables as r
from sim.day.kernel.tables import Day, Floats, Ints
from sim.physics.mark import inlined

P_LEFT_DAMP, P_FINISHED_CARS, P_FINISHING_S, P_LEFT_DAMP_MEMBERS = range(4)
PLAN_TALLY = named(globals(), "P_")
"""What is kept of a timetable of finishers on one day, in the order of the columns."""


class HandPlans(NamedTuple):
    """Timetables of finishers that are tried on one wiped day.

    Attributes:
        from_s: from when on each column holds [s], shape (columns,), the same for all; rising,
            from opening on, and before closing, so that who is there last stays until the last
            car has left.
        people: finishers who are there, 0 to `MOST_FINISHERS`, shape (plans, columns).
    """

    from_s: Floats
    people: Ints


@inlined
def dry_by_hand(day: Day, from_s: Floats, people: Ints) -> None:
    """What becomes of every damp car that is not sent round again: dried by hand, or it leaves.

    Args:
        from_s: from when on each number of finishers holds [s], shape (rows,).
        people: that number, shape (rows,).
    """
    rows, wiped = day.rows, day.wiped
    count = rows.counts[r.ON_BELT]
    for place in range(count):
        row = rows.order[place]
        if wiped.marks[row, r.FATE] == r.TOWEL:
            wiped.marks[row, r.FATE] = r.LEAVES
        wiped.hands[row, r.BEGUN] = wiped.hands[row, r.DONE] = math.nan
    working = at = oldest = 0
    for place in range(count):
        row = rows.order[place]
        if wiped.marks[row, r.FATE] != r.LEAVES:
            continue
        now = rows.times[row, r.EXIT]
        working, at, oldest = _until(day, from_s, people, now, place, working, at, oldest)
        if working < people[at]:
            _begin(day, row, now, working)
            working += 1
    _until(day, from_s, people, math.inf, count, working, at, oldest)


@inlined
def _begin(day: Day, row: int, now: float, working: int) -> None:
    wiped = day.wiped
    wiped.marks[row, r.FATE] = r.TOWEL
    wiped.hands[row, r.BEGUN] = now
    wiped.hands[row, r.DONE] = now + wiped.hands[row, r.TAKES]
    wiped.busy[working] = wiped.hands[row, r.DONE]


@inlined
def _until(
    day: Day,
    from_s: Floats,
    people: Ints,
    until: float,
    before: int,
    working: int,
    at: int,
    oldest: int,
) -> tuple[int, int, int]:
    """Finishers go from car to car until a time, which is included.

    Args:
        before: place of the first car that has not come yet.
        working: finishers at cars, the ends of whose work are the first of `Wiped.busy`.
        at: row of the timetable that holds.
        oldest: place before which no car waits.

    Returns:
        The last three as they are then.
    """
    busy = day.wiped.busy
    while oldest < before or until < math.inf:
        now = from_s[at + 1] if at + 1 < len(from_s) else math.inf
        for each in range(working):
            now = min(now, busy[each])
        if now > until or now == math.inf:
            break
        while at + 1 < len(from_s) and from_s[at + 1] <= now:
            at += 1
        still = 0
        for each in range(working):
            if busy[each] > now:
                busy[still] = busy[each]
                still += 1
        working = still
        while oldest < before and not _waits(day, oldest, now):
            oldest += 1
        while working < people[at]:
            row = _next(day, oldest, before)
            if row < 0:
                break
            _begin(day, row, now, working)
            working += 1
    return working, at, oldest


@inlined
def _waits(day: Day, place: int, now: float) -> bool:
    """Whether a car of those that came waits for a finisher."""
    row = day.rows.order[place]
    if day.wiped.marks[row, r.FATE] != r.LEAVES:
        return False
    return bool(day.rows.times[row, r.EXIT] + day.hands.patience_s >= now)


@inlined
def _next(day: Day, oldest: int, before: int) -> int:
    """Row of the waiting car that is dried next, of those from a place on; −1 for none.

    Whoever came later than the oldest that waits may stand there longer too.
    """
    best, least = -1, 2
    for place in range(oldest, before):
        row = day.rows.order[place]
        if day.wiped.marks[row, r.FATE] == r.LEAVES and _turn(day, row) < least:
            best, least = row, _turn(day, row)
    return best


@inlined
def _turn(day: Day, row: int) -> int:
    """0 for a car that goes before those with 1."""
    order = day.hands.order
    if order == r.HOOD_FIRST:
        return 1 - day.wiped.marks[row, r.HOOD_WET]
    if order == r.MEMBERS_FIRST:
        return 1 - int(day.cars.member[day.rows.line[row, r.CAR]])
    return 0


@inlined
def tally_hands(day: Day, found: Floats) -> None:
    """What is kept of a day whose damp cars got their fate; shape (len(PLAN_TALLY),)."""
    rows, wiped = day.rows, day.wiped
    for at in range(len(found)):
        found[at] = 0.0
    for place in range(rows.counts[r.ON_BELT]):
        row = rows.order[place]
        if wiped.marks[row, r.FATE] == r.LEAVES:
            found[P_LEFT_DAMP] += 1.0
            found[P_LEFT_DAMP_MEMBERS] += day.cars.member[rows.line[row, r.CAR]]
        elif wiped.marks[row, r.FATE] == r.TOWEL:
            found[P_FINISHED_CARS] += 1.0
            found[P_FINISHING_S] += wiped.hands[row, r.TAKES]


@inlined
def tally_plans(day: Day, plans: HandPlans, found: Floats) -> None:
    """The same for every timetable of finishers; shape (plans, len(PLAN_TALLY))."""
    for plan in range(len(plans.people)):
        dry_by_hand(day, plans.from_s, plans.people[plan])
        tally_hands(day, found[plan])
