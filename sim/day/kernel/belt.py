"""The belt as a list of stretches, laid ahead as far as anybody asks.

A stretch is one speed from a time on until another: of the timetable, or none during a stop.
A stop that a car or a change of set adds cuts off what was laid beyond its beginning.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.kernel.tables import CarTable, Floats, Ints, Line
from sim.physics.belt import REACHED_M
from sim.physics.mark import inlined

COUNT = 0


class Belt(NamedTuple):
    """Stretches of the belt.

    Attributes:
        start_s, end_s: from when until when; a stop's end, or as far as the speed holds.
        travel_m: travel at its start; speed: 0 in a stop [m/s].
        clock: the next stop by the clock that has not begun at its start.
        laid: number of stretches laid, shape (1,).
    """

    start_s: Floats
    end_s: Floats
    travel_m: Floats
    speed: Floats
    clock: Ints
    laid: Ints


def empty_belt(line: Line, cars: CarTable, stops: int) -> Belt:
    """Room for the stretches of a belt with so many stops beside those of the clock."""
    room = 2 * (stops + len(cars.clock_start_s)) + len(line.speed_from) + 4
    return Belt(
        np.empty(room),
        np.empty(room),
        np.empty(room),
        np.empty(room),
        np.empty(room, np.int64),
        np.zeros(1, np.int64),
    )


@inlined
def lay_belt(belt: Belt, line: Line, cars: CarTable) -> None:
    """Lay the first stretch of a belt."""
    belt.laid[COUNT] = 0
    _begin(belt, line, cars, line.open_s, 0.0, 0)


@inlined
def _row_at(starts: Floats, moment_s: float) -> int:
    """Row of a timetable that holds at a moment."""
    row = 0
    while row + 1 < len(starts) and starts[row + 1] <= moment_s:
        row += 1
    return row


@inlined
def _begin(belt: Belt, line: Line, cars: CarTable, now: float, travel: float, clock: int) -> None:
    """Lay the stretch that begins now: a stop by the clock, or the timetable's speed."""
    at = belt.laid[COUNT]
    belt.laid[COUNT] = at + 1
    belt.start_s[at] = now
    belt.travel_m[at] = travel
    if clock < len(cars.clock_start_s) and cars.clock_start_s[clock] <= now:
        belt.speed[at] = 0.0
        belt.end_s[at] = now
        belt.clock[at] = clock
        _lengthen(belt, cars, at, now)
        return
    row = _row_at(line.speed_from, now)
    end = line.speed_from[row + 1] if row + 1 < len(line.speed_from) else math.inf
    if clock < len(cars.clock_start_s):
        end = min(end, cars.clock_start_s[clock])
    belt.speed[at] = line.speed[row]
    belt.end_s[at] = end
    belt.clock[at] = clock


@inlined
def _lengthen(belt: Belt, cars: CarTable, at: int, end: float) -> None:
    """Let a stop last until a time at least, and as long as stops by the clock follow on."""
    end = max(end, belt.end_s[at])
    clock = belt.clock[at]
    while clock < len(cars.clock_start_s) and cars.clock_start_s[clock] <= end:
        end = max(end, cars.clock_end_s[clock])
        clock += 1
    belt.end_s[at] = end
    belt.clock[at] = clock


@inlined
def _end_travel(belt: Belt, at: int) -> float:
    if belt.speed[at] == 0.0:
        return belt.travel_m[at]
    return belt.travel_m[at] + belt.speed[at] * (belt.end_s[at] - belt.start_s[at])


@inlined
def cover(belt: Belt, line: Line, cars: CarTable, until_s: float) -> None:
    """Lay the belt beyond a time."""
    last = belt.laid[COUNT] - 1
    while belt.end_s[last] <= until_s:
        _begin(belt, line, cars, belt.end_s[last], _end_travel(belt, last), belt.clock[last])
        last += 1


@inlined
def stop_belt(belt: Belt, line: Line, cars: CarTable, now: float, end: float) -> None:
    """Stop the belt from now until a time; a stop under way is lengthened."""
    cover(belt, line, cars, now)
    last = belt.laid[COUNT] - 1
    while belt.start_s[last] > now:
        last -= 1
    if last > 0 and belt.start_s[last] == now and belt.speed[last - 1] == 0.0:
        last -= 1  # a stop ends now: it goes on
    if belt.speed[last] > 0.0:
        travel = belt.travel_m[last] + belt.speed[last] * (now - belt.start_s[last])
        clock = belt.clock[last]
        if now > belt.start_s[last]:
            belt.end_s[last] = now
            last += 1
        belt.start_s[last] = now
        belt.travel_m[last] = travel
        belt.speed[last] = 0.0
        belt.end_s[last] = now
        belt.clock[last] = clock
    belt.laid[COUNT] = last + 1
    _lengthen(belt, cars, last, end)


@inlined
def stretch_at(belt: Belt, line: Line, cars: CarTable, at: int, now: float) -> int:
    """The stretch in which a time lies, sought from stretch `at` on."""
    cover(belt, line, cars, now)
    while belt.end_s[at] <= now:
        at += 1
    return at


@inlined
def travel_at(belt: Belt, line: Line, cars: CarTable, at: int, now: float) -> float:
    """Travel at a time [m], sought from stretch `at` on."""
    at = stretch_at(belt, line, cars, at, now)
    return belt.travel_m[at] + belt.speed[at] * (now - belt.start_s[at])


@inlined
def reached_in(belt: Belt, line: Line, cars: CarTable, at: int, travel_m: float) -> int:
    """The stretch in which the belt reaches a travel, by what is known now."""
    while _end_travel(belt, at) < travel_m - REACHED_M:
        at += 1
        if at == belt.laid[COUNT]:
            last = at - 1
            _begin(belt, line, cars, belt.end_s[last], _end_travel(belt, last), belt.clock[last])
    return at


@inlined
def reached_at(belt: Belt, at: int, travel_m: float) -> float:
    """When the belt reaches a travel within stretch `at` [s]."""
    if belt.speed[at] == 0.0:
        return belt.start_s[at]
    after = max(0.0, travel_m - belt.travel_m[at]) / belt.speed[at]
    return min(belt.start_s[at] + after, belt.end_s[at])
