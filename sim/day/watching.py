"""Plays one day in the readable model and keeps what somebody sees who watches it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence

from sim.day.draw import DayCars
from sim.day.engine import PreparedDay
from sim.day.records import FINISHED, LEFT, REWASHED, CarPass, DayResult
from sim.day.rules import Rule, SetChange
from sim.day.setup import DayNumbers
from sim.day.tunnel import Tunnel
from sim.day.watched import (
    FULL,
    LOCKED_OUT,
    REDUCED,
    TENTHS,
    Room,
    WatchedCar,
    WatchedDay,
)
from sim.day.wheel_cloth import Piece, left_alone
from sim.inputs import Site, value_at

WET_WITHIN = 10.0
"""How far moisture may lie off its straight lines [‰ of what the cloth can hold]."""
LONGEST_S = 60.0
"""Within a stretch of drying, moisture is looked at so often [s]."""
Point = tuple[float, float]


def watch(
    day: PreparedDay, cars: DayCars, rule: Rule, sets: tuple[SetChange, ...] = ()
) -> WatchedDay:
    """A prepared day with the cars that come, under a rule."""
    tunnel = Tunnel(day.site, day.numbers, cars, rule, sets)
    tunnel.cloth.pieces = []
    return watched(day.site, day.numbers, tunnel.run(), tunnel.cloth.pieces)


def watched(site: Site, day: DayNumbers, result: DayResult, pieces: Sequence[Piece]) -> WatchedDay:
    """What a day left behind, rounded as it is watched."""
    cars = tuple(_car(site, one) for one in result.passes)
    last = max((car.times[-1] for car in cars), default=0)
    ends = max(_tenths(result.closed_s), last)
    wet = straightened(_moisture(day, pieces, result.closing_moisture), WET_WITHIN)
    return WatchedDay(
        room=Room(
            stack=site.pay.stack_limit_cars,
            lanes=int(max(row[1] for row in site.pay.pay_lanes)),
            line=site.pay.loading_line_cars,
            wheel=round(100.0 * site.line.wheel_position_m),
        ),
        opens=_tenths(day.open_s),
        closes=_tenths(day.close_s),
        ends=ends,
        cars=cars,
        travel=tuple(_travel(day, result.stops, ends / TENTHS)),
        wet=tuple((_tenths(at), round(value)) for at, value in wet),
        limit=round(1000.0 * day.damp_limit),
    )


def _tenths(moment_s: float) -> int:
    return round(TENTHS * moment_s)


def _car(site: Site, car: CarPass) -> WatchedCar:
    length = round(100.0 * car.length_m)
    joins = _tenths(car.arrival_s)
    if car.lost:
        return WatchedCar((joins,) * 8, joins, -1, length, 0, "")
    # a car that is sent round does not pay: it stands in the stack until it has a place in the line
    pays = car.pay_start_s if car.turn == 1 else car.unblocked_s
    dried = gone = car.exit_s
    if car.fate == FINISHED:
        dried, gone = car.finish_s, car.finished_s
    elif car.fate == LEFT:
        dried = gone = car.exit_s + site.crew.exit_patience_s
    times = (
        joins, _tenths(pays), _tenths(car.unblocked_s), _tenths(car.load_start_s),
        _tenths(car.caught_s), _tenths(car.exit_s), _tenths(dried), _tenths(gone),
    )  # fmt: skip
    return WatchedCar(
        times=times,
        wheel=_tenths(car.wheel_s),
        lane=car.lane,
        length=length,
        pushed=round(100.0 * site.vehicles[car.class_index].numbers.pushed_wheel_m),
        wiping=LOCKED_OUT if car.unwiped else REDUCED if car.reduced else FULL,
        is_damp=car.damp,
        leaves_damp=car.fate == LEFT,
        is_again=car.turn > 1,
        goes_round=car.fate == REWASHED,
    )


def _travel(
    day: DayNumbers, stops: Sequence[tuple[float, float]], end_s: float
) -> Iterator[tuple[int, int]]:
    """Travel of the belt where its speed changes: x(t) = ∫ v dt, no travel while it stands."""
    changes = {start for start, _speed in day.speeds}
    changes |= {moment for stop in stops for moment in stop}
    moments = sorted({day.open_s, end_s, *(at for at in changes if day.open_s < at < end_s)})
    travel = 0.0
    yield _tenths(day.open_s), 0
    for start, end in itertools.pairwise(moments):
        middle = 0.5 * (start + end)
        if not any(begin <= middle < until for begin, until in stops):
            travel += value_at(day.speeds, middle) * (end - start)
        yield _tenths(end), round(100.0 * travel)


def _moisture(day: DayNumbers, pieces: Sequence[Piece], last: float) -> Iterator[Point]:
    """Moisture over the day, wherever it is known and often enough between [‰ of capacity]."""
    scale = 1000.0 / day.cloth.holding
    for start, end, state, moisture in pieces:
        yield start, scale * moisture
        for part in range(1, math.ceil((end - start) / LONGEST_S) + 1):
            span = min(end - start, part * LONGEST_S)
            yield start + span, scale * left_alone(day.cloth, start, span, state, moisture)[0]
    if pieces:
        yield pieces[-1][1], scale * last
    else:
        yield day.open_s, scale * day.opening_moisture


def straightened(points: Iterable[Point], within: float) -> list[Point]:
    """As few of the points as a line needs that passes all others within a distance up or down.

    From each that is kept the line turns as late as it can; a jump keeps both its ends.
    """
    found: list[Point] = []
    low, high = -math.inf, math.inf
    before: Point | None = None
    for at, value in points:
        if before is None:
            found.append((at, value))
        elif not _fits(found[-1], (at, value), low, high, within):
            if before != found[-1]:
                found.append(before)
            if before[0] >= at:
                found.append((at, value))
            low, high = -math.inf, math.inf
        if at > found[-1][0]:
            low = max(low, _slope(found[-1], (at, value - within)))
            high = min(high, _slope(found[-1], (at, value + within)))
        before = at, value
    if before is not None and found[-1] != before:
        found.append(before)
    return found


def _fits(start: Point, end: Point, low: float, high: float, within: float) -> bool:
    if end[0] <= start[0]:
        return abs(end[1] - start[1]) <= within
    return low <= _slope(start, end) <= high


def _slope(start: Point, end: Point) -> float:
    return (end[1] - start[1]) / (end[0] - start[0])
