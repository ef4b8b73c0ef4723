"""The line in the compiled day: a loop over what happens next, from arrival to the belt.

Within one instant: what the clock changes, then departures (loading, catching, the wheel), then
returning re-washes, then payments that end, lowest lane first, then arrivals.

The belt is a list of stretches, laid ahead as far as anybody asks. A stretch is one speed from a
time on until another: of the timetable, or none during a stop. A stop that a car or a change of
set adds cuts off what was laid beyond its beginning.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.kernel.tables import (
    APART,
    ARRIVAL,
    CAR,
    CAUGHT,
    EXIT,
    HOOD,
    KEPT,
    LANE,
    LOAD_START,
    LOADED,
    LOST,
    LOST_FULL,
    LOST_IMPATIENT,
    ON_BELT,
    PAID,
    PAY_START,
    PUSHER,
    ROWS,
    TIMES,
    TURN,
    UNBLOCKED,
    ZONE_END,
    ZONES,
    CarTable,
    Floats,
    Ints,
    LineNumbers,
    LineRows,
)
from sim.physics.belt import REACHED_M, TIME_TOLERANCE_S, pusher_at_or_after, pushers_apart
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


def empty_belt(line: LineNumbers, cars: CarTable, stops: int) -> Belt:
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
def lay_belt(belt: Belt, line: LineNumbers, cars: CarTable) -> None:
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
def _begin(
    belt: Belt, line: LineNumbers, cars: CarTable, now: float, travel: float, clock: int
) -> None:
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
def cover(belt: Belt, line: LineNumbers, cars: CarTable, until_s: float) -> None:
    """Lay the belt beyond a time."""
    last = belt.laid[COUNT] - 1
    while belt.end_s[last] <= until_s:
        _begin(belt, line, cars, belt.end_s[last], _end_travel(belt, last), belt.clock[last])
        last += 1


@inlined
def stop_belt(belt: Belt, line: LineNumbers, cars: CarTable, now: float, end: float) -> None:
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
def stretch_at(belt: Belt, line: LineNumbers, cars: CarTable, at: int, now: float) -> int:
    """The stretch in which a time lies, sought from stretch `at` on."""
    cover(belt, line, cars, now)
    while belt.end_s[at] <= now:
        at += 1
    return at


@inlined
def travel_at(belt: Belt, line: LineNumbers, cars: CarTable, at: int, now: float) -> float:
    """Travel at a time [m], sought from stretch `at` on."""
    at = stretch_at(belt, line, cars, at, now)
    return belt.travel_m[at] + belt.speed[at] * (now - belt.start_s[at])


@inlined
def reached_in(belt: Belt, line: LineNumbers, cars: CarTable, at: int, travel_m: float) -> int:
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


MEMORY_S = 1800.0
"""An arriving car judges the wait by what was loaded in this time [s]."""

# queues: rows in order, those between head and tail wait
(STACK, BLOCKED, READY, RETURNED) = range(4)
QUEUES = 4

# places of `Front.place`
(OPEN_LANES, WANTED, LOADING_ROW, CATCHING, STRETCH, MEMORY, ADMITTED, LANE_ROW) = range(8)

# places of `Front.due`
(LOADER, PAYMENT) = range(2)


class QueueState(NamedTuple):
    """What is in front of the belt.

    Attributes:
        queue: rows waiting, shape (4, rows): stack, paid cars without a place, loading line,
            re-washes without a place.
        head, tail: of each queue.
        lane_car: row in each lane, −1 if free.
        lane_end: when its payment ends, infinite once it has [s].
        place: see the names above.
        due: next time of the loader, and of a payment [s].
    """

    queue: Ints
    head: Ints
    tail: Ints
    lane_car: Ints
    lane_end: Floats
    place: Ints
    due: Floats


def empty_front(line: LineNumbers, room: int) -> QueueState:
    """An empty line with room for so many passes."""
    lanes = int(line.lanes.max())
    front = QueueState(
        np.empty((QUEUES, room), np.int64),
        np.empty(QUEUES, np.int64),
        np.empty(QUEUES, np.int64),
        np.empty(lanes, np.int64),
        np.empty(lanes),
        np.empty(8, np.int64),
        np.empty(2),
    )
    empty_line(front)
    return front


@inlined
def empty_line(front: QueueState) -> None:
    """Take everybody out of the line."""
    front.head[:] = 0
    front.tail[:] = 0
    front.lane_car[:] = -1
    front.lane_end[:] = math.inf
    front.place[:] = 0
    front.due[:] = math.inf


@inlined
def open_line(line: LineNumbers, front: QueueState) -> None:
    """The lanes that are open at opening; the loader is ready."""
    while (
        front.place[LANE_ROW] + 1 < len(line.lane_from)
        and line.lane_from[front.place[LANE_ROW] + 1] <= line.open_s
    ):
        front.place[LANE_ROW] += 1
    front.place[OPEN_LANES] = line.lanes[front.place[LANE_ROW]]
    front.place[WANTED] = 1


@inlined
def _waiting(front: QueueState, queue: int) -> int:
    return front.tail[queue] - front.head[queue]


@inlined
def _push(front: QueueState, queue: int, row: int) -> None:
    front.queue[queue, front.tail[queue]] = row
    front.tail[queue] += 1


@inlined
def _pop(front: QueueState, queue: int) -> int:
    row = front.queue[queue, front.head[queue]]
    front.head[queue] += 1
    return row


@inlined
def next_lane_change(line: LineNumbers, front: QueueState) -> float:
    """When lanes open or close next [s]."""
    following = front.place[LANE_ROW] + 1
    return line.lane_from[following] if following < len(line.lane_from) else math.inf


@inlined
def change_lanes(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, now: float
) -> None:
    """Lanes open or close by the clock."""
    front.place[LANE_ROW] += 1
    front.place[OPEN_LANES] = line.lanes[front.place[LANE_ROW]]
    _fill_lanes(cars, rows, front, now)


@inlined
def _free_lane(front: QueueState) -> int:
    for lane in range(front.place[OPEN_LANES]):
        if front.lane_car[lane] < 0:
            return lane
    return -1


@inlined
def _fill_lanes(cars: CarTable, rows: LineRows, front: QueueState, now: float) -> None:
    """Cars at the head of the stack drive into free lanes, lowest number first."""
    while _waiting(front, STACK):
        lane = _free_lane(front)
        if lane < 0:
            return
        row = _pop(front, STACK)
        rows.line[row, LANE] = lane
        rows.times[row, PAY_START] = now
        front.lane_car[lane] = row
        front.lane_end[lane] = now + cars.pay_s[rows.line[row, CAR]]
        front.due[PAYMENT] = min(front.due[PAYMENT], front.lane_end[lane])


@inlined
def _settle(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, now: float
) -> None:
    """Cars that wait for a place in the loading line take those there are, re-washes first."""
    while front.place[WANTED] or _waiting(front, READY) < line.places:
        if _waiting(front, RETURNED):
            row = _pop(front, RETURNED)
        elif _waiting(front, BLOCKED):
            row = _pop(front, BLOCKED)
        else:
            return
        rows.times[row, UNBLOCKED] = now
        if front.place[WANTED]:
            _start_loading(line, cars, rows, front, row, now)
        else:
            _push(front, READY, row)
        if rows.line[row, TURN] == 1:
            front.lane_car[rows.line[row, LANE]] = -1
            _fill_lanes(cars, rows, front, now)


@inlined
def _start_loading(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, row: int, now: float
) -> None:
    at = 0
    while at + 1 < len(line.loader_from) and line.loader_from[at + 1] <= now:
        at += 1
    car = rows.line[row, CAR]
    takes = cars.load_s[car] if rows.line[row, TURN] == 1 else cars.load_again_s[car]
    rows.times[row, LOAD_START] = now
    front.place[WANTED] = 0
    front.place[LOADING_ROW] = row
    front.place[CATCHING] = 0
    front.due[LOADER] = now + takes * line.loader_factor[at]


@inlined
def end_payments(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, now: float
) -> None:
    """Payments that end now; those cars ask for a place in order of their lanes."""
    for lane in range(len(front.lane_car)):
        if front.lane_end[lane] <= now:
            rows.times[front.lane_car[lane], PAID] = now
            front.lane_end[lane] = math.inf
            _push(front, BLOCKED, front.lane_car[lane])
    front.due[PAYMENT] = math.inf
    for lane in range(len(front.lane_end)):
        front.due[PAYMENT] = min(front.due[PAYMENT], front.lane_end[lane])
    _settle(line, cars, rows, front, now)


@inlined
def new_row(cars: CarTable, rows: LineRows, car: int, turn: int, now: float) -> int:
    """A row for a car that arrives or comes back."""
    row = rows.counts[ROWS]
    rows.counts[ROWS] = row + 1
    for column in range(TIMES):
        rows.times[row, column] = math.nan
    rows.times[row, ARRIVAL] = now
    rows.line[row, CAR] = car
    rows.line[row, TURN] = turn
    rows.line[row, LOST] = KEPT
    rows.line[row, LANE] = -1
    rows.line[row, PUSHER] = -1
    rows.line[row, APART] = 0
    return row


@inlined
def arrive(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, car: int, now: float
) -> bool:
    """A car arrives, and stays or drives away; whether it stayed."""
    row = new_row(cars, rows, car, 1, now)
    waiting = _waiting(front, STACK) + _waiting(front, RETURNED)
    drives_in = _waiting(front, STACK) == 0 and _free_lane(front) >= 0
    if not drives_in and waiting >= line.stack_limit:
        rows.line[row, LOST] = LOST_FULL
        return False
    if _expected_wait(line, rows, front, now) > cars.patience_s[car]:
        rows.line[row, LOST] = LOST_IMPATIENT
        return False
    front.place[ADMITTED] += 1
    _push(front, STACK, row)
    _fill_lanes(cars, rows, front, now)
    return True


@inlined
def _expected_wait(line: LineNumbers, rows: LineRows, front: QueueState, now: float) -> float:
    """Cars not yet caught over the rate of late; the line's capacity where there is none."""
    caught = rows.counts[ON_BELT]
    oldest = front.place[MEMORY]
    while oldest < caught and rows.times[rows.order[oldest], CAUGHT] <= now - MEMORY_S:
        oldest += 1
    front.place[MEMORY] = oldest
    rate = line.capacity_per_s
    if now - line.open_s >= MEMORY_S and caught > oldest:
        rate = (caught - oldest) / MEMORY_S
    return (front.place[ADMITTED] - caught) / rate


@inlined
def come_back(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, car: int, now: float
) -> None:
    """A car sent round again is back at the head of the stack."""
    row = new_row(cars, rows, car, 2, now)
    front.place[ADMITTED] += 1
    _push(front, RETURNED, row)
    _settle(line, cars, rows, front, now)


@inlined
def end_loading(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, belt: Belt, now: float
) -> None:
    """Loading ends: the pusher is chosen, and when it comes."""
    row, pitch = front.place[LOADING_ROW], line.pitch_m
    rows.times[row, LOADED] = now
    pusher = pusher_at_or_after(travel_at(belt, line, cars, front.place[STRETCH], now), pitch)
    caught = rows.counts[ON_BELT]
    if caught:
        ahead = rows.order[caught - 1]
        ahead_car, car = rows.line[ahead, CAR], rows.line[row, CAR]
        apart = pushers_apart(
            line.spacing_m,
            line.gap_m,
            pitch,
            cars.length_m[ahead_car],
            line.pushed[cars.kind[ahead_car]],
            line.pushed[cars.kind[car]],
        )
        rows.line[row, APART] = apart
        pusher = max(pusher, rows.line[ahead, PUSHER] + apart)
    rows.line[row, PUSHER] = pusher
    front.place[CATCHING] = 1
    await_pusher(line, cars, rows, front, belt, now)


@inlined
def await_pusher(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, belt: Belt, now: float
) -> None:
    """When the pusher comes, by the stops known now."""
    travel = rows.line[front.place[LOADING_ROW], PUSHER] * line.pitch_m
    at = reached_in(belt, line, cars, front.place[STRETCH], travel)
    due = reached_at(belt, at, travel)
    front.due[LOADER] = due if due > now + TIME_TOLERANCE_S else now


@inlined
def catch_car(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, belt: Belt, now: float
) -> bool:
    """The pusher takes the car, which may stop the belt; whether it did."""
    row = front.place[LOADING_ROW]
    rows.times[row, CAUGHT] = now
    rows.order[rows.counts[ON_BELT]] = row
    rows.counts[ON_BELT] += 1
    cover(belt, line, cars, now)
    while belt.end_s[front.place[STRETCH]] <= now:
        front.place[STRETCH] += 1
    car = rows.line[row, CAR]
    stop = cars.stop_s[car] if rows.line[row, TURN] == 1 else cars.stop_again_s[car]
    if stop > 0.0:
        stop_belt(belt, line, cars, now, now + stop)
        front.place[STRETCH] = min(front.place[STRETCH], belt.laid[COUNT] - 1)
    front.due[LOADER] = math.inf
    front.place[WANTED] = 1
    if _waiting(front, READY):
        _start_loading(line, cars, rows, front, _pop(front, READY), now)
    _settle(line, cars, rows, front, now)
    return bool(stop > 0.0)


@inlined
def ride(line: LineNumbers, cars: CarTable, rows: LineRows, belt: Belt, row: int, at: int) -> int:
    """When hood, zones and tail of a car pass the wheel, its hood at or after the time noted.

    Args:
        at: stretch of the belt from which to seek; no later stop may still be added.

    Returns:
        The stretch in which the tail passes.
    """
    times = rows.times[row]
    car = rows.line[row, CAR]
    kind = cars.kind[car]
    nose = rows.line[row, PUSHER] * line.pitch_m - line.pushed[kind] + line.wheel_m
    travel = nose + line.hood[kind]
    now = times[HOOD]
    if math.isnan(now):
        at = reached_in(belt, line, cars, at, travel)
        now = max(times[CAUGHT], reached_at(belt, at, travel))
        times[HOOD] = now
    for zone in range(ZONES):
        if not math.isnan(line.zone_m[kind, zone]):
            travel += line.zone_m[kind, zone]
            at = reached_in(belt, line, cars, at, travel)
            now = max(now, reached_at(belt, at, travel))
        times[ZONE_END + zone] = now
    travel = nose + cars.length_m[car]
    at = reached_in(belt, line, cars, at, travel)
    times[EXIT] = max(now, reached_at(belt, at, travel))
    return at
