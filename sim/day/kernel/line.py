"""The line in the compiled day: a loop over what happens next, from arrival to the belt.

Within one instant: what the clock changes, then departures (loading, catching, the wheel), then
returning re-washes, then payments that end, lowest lane first, then arrivals.

The belt is a list of stretches, laid ahead as far as anybody asks. A stretch is one speed from a
time on until another: of the timetable, or none during a stop. A stop that a car or a change of
set adds cuts off what was laid beyond its beginning.
"""

from __future__ import annotations

import math

import numpy as np

from sim.day.kernel import tables as r
from sim.day.kernel.tables import Belt, CarTable, Day, Floats, LineNumbers, QueueState
from sim.physics.belt import REACHED_M, TIME_TOLERANCE_S, pusher_at_or_after, pushers_apart
from sim.physics.mark import inlined


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
def lay_belt(day: Day) -> None:
    """Lay the first stretch of a belt."""
    day.belt.laid[r.COUNT] = 0
    _begin(day, day.line.open_s, 0.0, 0)


@inlined
def row_at(starts: Floats, moment_s: float) -> int:
    """Row of a timetable that holds at a moment."""
    row = 0
    while row + 1 < len(starts) and starts[row + 1] <= moment_s:
        row += 1
    return row


@inlined
def _begin(day: Day, now: float, travel: float, clock: int) -> None:
    """Lay the stretch that begins now: a stop by the clock, or the timetable's speed."""
    line, cars, belt = day.line, day.cars, day.belt
    at = belt.laid[r.COUNT]
    belt.laid[r.COUNT] = at + 1
    belt.start_s[at] = now
    belt.travel_m[at] = travel
    if clock < len(cars.clock_start_s) and cars.clock_start_s[clock] <= now:
        belt.speed[at] = 0.0
        belt.end_s[at] = now
        belt.clock[at] = clock
        _lengthen(day, at, now)
        return
    row = row_at(line.speed_from, now)
    end = line.speed_from[row + 1] if row + 1 < len(line.speed_from) else math.inf
    if clock < len(cars.clock_start_s):
        end = min(end, cars.clock_start_s[clock])
    belt.speed[at] = line.speed[row]
    belt.end_s[at] = end
    belt.clock[at] = clock


@inlined
def _lengthen(day: Day, at: int, end: float) -> None:
    """Let a stop last until a time at least, and as long as stops by the clock follow on."""
    cars, belt = day.cars, day.belt
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
def cover(day: Day, until_s: float) -> None:
    """Lay the belt beyond a time."""
    belt = day.belt
    last = belt.laid[r.COUNT] - 1
    while belt.end_s[last] <= until_s:
        _begin(day, belt.end_s[last], _end_travel(belt, last), belt.clock[last])
        last += 1


@inlined
def stop_belt(day: Day, now: float, end: float) -> None:
    """Stop the belt from now until a time; a stop under way is lengthened."""
    belt = day.belt
    cover(day, now)
    last = belt.laid[r.COUNT] - 1
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
    belt.laid[r.COUNT] = last + 1
    _lengthen(day, last, end)


@inlined
def travel_at(day: Day, at: int, now: float) -> float:
    """Travel at a time [m], sought from stretch `at` on."""
    belt = day.belt
    cover(day, now)
    while belt.end_s[at] <= now:
        at += 1
    return belt.travel_m[at] + belt.speed[at] * (now - belt.start_s[at])


@inlined
def reached_in(day: Day, at: int, travel_m: float) -> int:
    """The stretch in which the belt reaches a travel, by what is known now."""
    belt = day.belt
    while _end_travel(belt, at) < travel_m - REACHED_M:
        at += 1
        if at == belt.laid[r.COUNT]:
            last = at - 1
            _begin(day, belt.end_s[last], _end_travel(belt, last), belt.clock[last])
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


def empty_front(line: LineNumbers, room: int) -> QueueState:
    """Room for a line of so many passes, which `open_line` empties."""
    lanes = int(line.lanes.max())
    return QueueState(
        np.empty((r.QUEUES, room), np.int64),
        np.empty(r.QUEUES, np.int64),
        np.empty(r.QUEUES, np.int64),
        np.empty(lanes, np.int64),
        np.empty(lanes),
        np.empty(8, np.int64),
        np.empty(2),
    )


@inlined
def open_line(day: Day) -> None:
    """Nobody in the line, the lanes that are open at opening, and the loader ready."""
    line, front = day.line, day.front
    front.head[:] = 0
    front.tail[:] = 0
    front.lane_car[:] = -1
    front.lane_end[:] = math.inf
    front.place[:] = 0
    front.due[:] = math.inf
    front.place[r.LANE_ROW] = row_at(line.lane_from, line.open_s)
    front.place[r.OPEN_LANES] = line.lanes[front.place[r.LANE_ROW]]
    front.place[r.WANTED] = 1


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
def next_lane_change(day: Day) -> float:
    """When lanes open or close next [s]."""
    following = day.front.place[r.LANE_ROW] + 1
    return day.line.lane_from[following] if following < len(day.line.lane_from) else math.inf


@inlined
def change_lanes(day: Day, now: float) -> None:
    """Lanes open or close by the clock."""
    front = day.front
    front.place[r.LANE_ROW] += 1
    front.place[r.OPEN_LANES] = day.line.lanes[front.place[r.LANE_ROW]]
    _fill_lanes(day, now)


@inlined
def _free_lane(front: QueueState) -> int:
    for lane in range(front.place[r.OPEN_LANES]):
        if front.lane_car[lane] < 0:
            return lane
    return -1


@inlined
def _fill_lanes(day: Day, now: float) -> None:
    """Cars at the head of the stack drive into free lanes, lowest number first."""
    front, rows = day.front, day.rows
    while _waiting(front, r.STACK):
        lane = _free_lane(front)
        if lane < 0:
            return
        row = _pop(front, r.STACK)
        rows.line[row, r.LANE] = lane
        rows.times[row, r.PAY_START] = now
        front.lane_car[lane] = row
        front.lane_end[lane] = now + day.cars.pay_s[rows.line[row, r.CAR]]
        front.due[r.PAYMENT] = min(front.due[r.PAYMENT], front.lane_end[lane])


@inlined
def _settle(day: Day, now: float) -> None:
    """Cars that wait for a place in the loading line take those there are, re-washes first."""
    front, rows = day.front, day.rows
    while front.place[r.WANTED] or _waiting(front, r.READY) < day.line.places:
        if _waiting(front, r.RETURNED):
            row = _pop(front, r.RETURNED)
        elif _waiting(front, r.BLOCKED):
            row = _pop(front, r.BLOCKED)
        else:
            return
        rows.times[row, r.UNBLOCKED] = now
        if front.place[r.WANTED]:
            _start_loading(day, row, now)
        else:
            _push(front, r.READY, row)
        if rows.line[row, r.TURN] == 1:
            front.lane_car[rows.line[row, r.LANE]] = -1
            _fill_lanes(day, now)


@inlined
def _start_loading(day: Day, row: int, now: float) -> None:
    line, front, rows = day.line, day.front, day.rows
    car = rows.line[row, r.CAR]
    takes = day.cars.load_s[car] if rows.line[row, r.TURN] == 1 else day.cars.load_again_s[car]
    rows.times[row, r.LOAD_START] = now
    front.place[r.WANTED] = 0
    front.place[r.LOADING_ROW] = row
    front.place[r.CATCHING] = 0
    front.due[r.LOADER] = now + takes * line.loader_factor[row_at(line.loader_from, now)]


@inlined
def end_payments(day: Day, now: float) -> None:
    """Payments that end now; those cars ask for a place in order of their lanes."""
    front = day.front
    for lane in range(len(front.lane_car)):
        if front.lane_end[lane] <= now:
            day.rows.times[front.lane_car[lane], r.PAID] = now
            front.lane_end[lane] = math.inf
            _push(front, r.BLOCKED, front.lane_car[lane])
    front.due[r.PAYMENT] = math.inf
    for lane in range(len(front.lane_end)):
        front.due[r.PAYMENT] = min(front.due[r.PAYMENT], front.lane_end[lane])
    _settle(day, now)


@inlined
def new_row(day: Day, car: int, turn: int, now: float) -> int:
    """A row for a car that arrives or comes back."""
    rows = day.rows
    row = rows.counts[r.ROWS]
    rows.counts[r.ROWS] = row + 1
    for column in range(r.TIMES):
        rows.times[row, column] = math.nan
    rows.times[row, r.ARRIVAL] = now
    rows.line[row, r.CAR] = car
    rows.line[row, r.TURN] = turn
    rows.line[row, r.LOST] = r.KEPT
    rows.line[row, r.LANE] = -1
    rows.line[row, r.PUSHER] = -1
    rows.line[row, r.APART] = 0
    return row


@inlined
def arrive(day: Day, car: int, now: float) -> bool:
    """A car arrives, and stays or drives away; whether it stayed."""
    front = day.front
    row = new_row(day, car, 1, now)
    waiting = _waiting(front, r.STACK) + _waiting(front, r.RETURNED)
    drives_in = _waiting(front, r.STACK) == 0 and _free_lane(front) >= 0
    if not drives_in and waiting >= day.line.stack_limit:
        day.rows.line[row, r.LOST] = r.LOST_FULL
        return False
    if _expected_wait(day, now) > day.cars.patience_s[car]:
        day.rows.line[row, r.LOST] = r.LOST_IMPATIENT
        return False
    front.place[r.ADMITTED] += 1
    _push(front, r.STACK, row)
    _fill_lanes(day, now)
    return True


@inlined
def _expected_wait(day: Day, now: float) -> float:
    """Cars not yet caught over the rate of late; the line's capacity where there is none."""
    front, rows = day.front, day.rows
    caught = rows.counts[r.ON_BELT]
    oldest = front.place[r.MEMORY]
    while oldest < caught and rows.times[rows.order[oldest], r.CAUGHT] <= now - MEMORY_S:
        oldest += 1
    front.place[r.MEMORY] = oldest
    rate = day.line.capacity_per_s
    if now - day.line.open_s >= MEMORY_S and caught > oldest:
        rate = (caught - oldest) / MEMORY_S
    return (front.place[r.ADMITTED] - caught) / rate


@inlined
def come_back(day: Day, car: int, now: float) -> None:
    """A car sent round again is back at the head of the stack."""
    row = new_row(day, car, 2, now)
    day.front.place[r.ADMITTED] += 1
    _push(day.front, r.RETURNED, row)
    _settle(day, now)


@inlined
def end_loading(day: Day, now: float) -> None:
    """Loading ends: the pusher is chosen, and when it comes."""
    line, cars, front, rows = day.line, day.cars, day.front, day.rows
    row, pitch = front.place[r.LOADING_ROW], line.pitch_m
    rows.times[row, r.LOADED] = now
    pusher = pusher_at_or_after(travel_at(day, front.place[r.AT_LOADER], now), pitch)
    caught = rows.counts[r.ON_BELT]
    if caught:
        ahead = rows.order[caught - 1]
        ahead_car, car = rows.line[ahead, r.CAR], rows.line[row, r.CAR]
        apart = pushers_apart(
            line.spacing_m,
            line.gap_m,
            pitch,
            cars.length_m[ahead_car],
            line.pushed[cars.kind[ahead_car]],
            line.pushed[cars.kind[car]],
        )
        rows.line[row, r.APART] = apart
        pusher = max(pusher, rows.line[ahead, r.PUSHER] + apart)
    rows.line[row, r.PUSHER] = pusher
    front.place[r.CATCHING] = 1
    await_pusher(day, now)


@inlined
def await_pusher(day: Day, now: float) -> None:
    """When the pusher comes, by the stops known now."""
    front = day.front
    travel = day.rows.line[front.place[r.LOADING_ROW], r.PUSHER] * day.line.pitch_m
    at = reached_in(day, front.place[r.AT_LOADER], travel)
    due = reached_at(day.belt, at, travel)
    front.due[r.LOADER] = due if due > now + TIME_TOLERANCE_S else now


@inlined
def catch_car(day: Day, now: float) -> bool:
    """The pusher takes the car, which may stop the belt; whether it did."""
    front, rows = day.front, day.rows
    row = front.place[r.LOADING_ROW]
    rows.times[row, r.CAUGHT] = now
    rows.times[row, r.HOOD] = math.nan  # another part of a tree may have met the wheel with it
    rows.order[rows.counts[r.ON_BELT]] = row
    rows.counts[r.ON_BELT] += 1
    cover(day, now)
    while day.belt.end_s[front.place[r.AT_LOADER]] <= now:
        front.place[r.AT_LOADER] += 1
    car = rows.line[row, r.CAR]
    stop = day.cars.stop_s[car] if rows.line[row, r.TURN] == 1 else day.cars.stop_again_s[car]
    if stop > 0.0:
        stop_belt(day, now, now + stop)
        front.place[r.AT_LOADER] = min(front.place[r.AT_LOADER], day.belt.laid[r.COUNT] - 1)
    front.due[r.LOADER] = math.inf
    front.place[r.WANTED] = 1
    if _waiting(front, r.READY):
        _start_loading(day, _pop(front, r.READY), now)
    _settle(day, now)
    return bool(stop > 0.0)


@inlined
def ride(day: Day, row: int, at: int) -> int:
    """When hood, zones and tail of a car pass the wheel, its hood at or after the time noted.

    Args:
        at: stretch of the belt from which to seek; no later stop may still be added.

    Returns:
        The stretch in which the tail passes.
    """
    line, belt, rows = day.line, day.belt, day.rows
    times = rows.times[row]
    car = rows.line[row, r.CAR]
    kind = day.cars.kind[car]
    nose = rows.line[row, r.PUSHER] * line.pitch_m - line.pushed[kind] + line.wheel_m
    travel = nose + line.hood[kind]
    now = times[r.HOOD]
    if math.isnan(now):
        at = reached_in(day, at, travel)
        now = max(times[r.CAUGHT], reached_at(belt, at, travel))
        times[r.HOOD] = now
    for zone in range(r.ZONES):
        if not math.isnan(line.zone_m[kind, zone]):
            travel += line.zone_m[kind, zone]
            at = reached_in(day, at, travel)
            now = max(now, reached_at(belt, at, travel))
        times[r.ZONE_END + zone] = now
    travel = nose + day.cars.length_m[car]
    at = reached_in(day, at, travel)
    times[r.EXIT] = max(now, reached_at(belt, at, travel))
    return at
