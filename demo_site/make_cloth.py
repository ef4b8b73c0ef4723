"""The invented record of the demo site's cloth: two sets take turns, and wear out one by one.

How long each lasts is written down below, not drawn: a mix of sets that wore out, were changed
before, and one that was torn.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import date, timedelta

from sim.inputs import (
    ACCIDENT,
    INSPECTED,
    LAUNDERED,
    PLANNED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    WORN,
    ClothBook,
    ClothEvent,
    ClothSet,
    HourCount,
)

LIVES: tuple[tuple[str, float, str], ...] = (
    ("Set 1", 30_000, WORN),
    ("Set 2", 39_000, WORN),
    ("Set 3", 33_500, PLANNED),
    ("Set 4", 17_000, ACCIDENT),
    ("Set 5", 45_500, WORN),
    ("Set 6", 35_000, PLANNED),
    ("Set 7", 43_000, WORN),
    ("Set 8", 34_000, PLANNED),
    ("Set 9", 1e9, ""),
    ("Set 10", 1e9, ""),
)
"""Sets in the order in which they are first hung: cars until the end, and why it came."""
TURN_DAYS = 14
MORNING_S, NOON_S, AFTER_CHANGE_S = 6.25 * 3600, 13.25 * 3600, 35 * 60
LAUNDRY_S = 16 * 3600
EARLIER_CARS = {"Set 1": 21_000.0, "Set 2": 6_000.0}
"""Wear of the first two before the record begins."""
NEW_LENGTH_M, NEW_DRY_KG = 0.9, 0.060


def cloth_book(counts: Sequence[HourCount]) -> ClothBook:
    """Sets and record that go with the counts; the last set stays on the wheel."""
    cars: dict[date, int] = {}
    for row in counts:
        cars[row.day] = cars.get(row.day, 0) + row.cars
    first, last = min(cars), max(cars)
    queue = list(LIVES)
    pair = [queue.pop(0), queue.pop(0)]
    used = {name: EARLIER_CARS.get(name, 0.0) for name, _, _ in LIVES}
    began: dict[str, date] = {}
    events = [_event(first, MORNING_S, PUT_ON, pair[0][0])]
    began[pair[0][0]] = first
    turn = first
    for n in itertools.count():
        day = first + timedelta(days=n)
        if day > last:
            break
        name, life, reason = pair[0]
        if day >= turn + timedelta(days=TURN_DAYS):
            turn = day
            events.append(_event(day, MORNING_S, TAKEN_OFF, name, ROTATED))
            events.append(_event(day, LAUNDRY_S, LAUNDERED, name))
            if used[name] > 20_000:
                events.append(_look(day, name, used[name]))
            pair.reverse()
            name, life, reason = pair[0]
            events.append(_event(day, MORNING_S + AFTER_CHANGE_S, PUT_ON, name))
            began.setdefault(name, day)
        used[name] += cars.get(day, 0)
        if used[name] >= life and cars.get(day, 0):
            at = MORNING_S if reason == PLANNED and day > turn else NOON_S
            events.append(_event(day, at, TAKEN_OFF, name, reason))
            pair[0] = queue.pop(0)
            pair.reverse()
            turn = day
            events.append(_event(day, at + AFTER_CHANGE_S, PUT_ON, pair[0][0]))
            began.setdefault(pair[0][0], day)
    owned = [name for name, _, _ in LIVES if name in began or name in (pair[0][0], pair[1][0])]
    sets = tuple(
        ClothSet(
            name,
            None if name in EARLIER_CARS else began.get(name, last) - timedelta(days=20),
            EARLIER_CARS.get(name, 0.0),
        )
        for name in owned
    )
    return ClothBook(sets, tuple(events)).in_order()


def _event(day: date, at_s: float, kind: str, name: str, reason: str = "") -> ClothEvent:
    return ClothEvent(day, float(at_s), kind, name, reason)


def _look(day: date, name: str, cars: float) -> ClothEvent:
    """Strips a little shorter and lighter, some torn; seen when the set comes off."""
    share = cars / 45_000.0
    return ClothEvent(
        day, LAUNDRY_S + 3600.0, INSPECTED, name,
        length_m=round(NEW_LENGTH_M * (1.0 - 0.08 * share), 2),
        dry_kg=round(NEW_DRY_KG * (1.0 - 0.15 * share), 4),
        torn=round(14 * share**2),
    )  # fmt: skip
