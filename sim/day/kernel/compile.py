"""The compiled day as a whole, and the only place where anything is compiled.

Line and cloth run together, or the line alone and then the cloth. The compiled functions are kept
on disk beside this file (where that can't be written, in the user's own cache; where there is none,
in memory alone) and made anew when anything that they were made of has changed. Each releases the
interpreter's lock; none starts threads. They allocate nothing and so count no references to arrays,
which in such short functions would take most of the time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar

import numba

from sim.day.kernel.line import (
    CATCHING,
    COUNT,
    LOADER,
    PAYMENT,
    STRETCH,
    Belt,
    QueueState,
    arrive,
    await_pusher,
    catch_car,
    change_lanes,
    come_back,
    cover,
    empty_line,
    end_loading,
    end_payments,
    lay_belt,
    next_lane_change,
    open_line,
    reached_at,
    reached_in,
    ride,
    stop_belt,
    travel_at,
)
from sim.day.kernel.many import Nodes, RuleBook, best_plan, lay_nodes, rule_of, tally, wipe_anew
from sim.day.kernel.stats import gather
from sim.day.kernel.tables import (
    AGAIN,
    CAR,
    CAUGHT,
    EXIT,
    FATE,
    HOOD,
    ON_BELT,
    PUSHER,
    CarTable,
    Cloth,
    Floats,
    LineNumbers,
    LineRows,
    Wiped,
    Work,
)
from sim.day.kernel.wheel import (
    SETS,
    RuleTable,
    advance,
    change_set,
    hang_cloth,
    set_is_due,
    wipe_all,
    wipe_car,
)
from sim.physics.mark import fingerprint, inlined

(NOTHING, LANES, LOADS, WHEEL, RETURNS, PAYS, ARRIVES) = range(7)
"""What may happen, in the order that holds within an instant."""


@inlined
def run_line(
    line: LineNumbers, cars: CarTable, belt: Belt, front: QueueState, rows: LineRows
) -> float:
    """The line of a day on which the cloth moves no car; its times at the wheel included.

    Belt, front and rows come empty. Returns when the last thing happened [s].
    """
    lay_belt(belt, line, cars)
    open_line(line, front)
    car = 0
    while True:
        arrival = cars.arrival_s[car] if car < len(cars.arrival_s) else math.inf
        now, what = _next(line, front, math.inf, math.inf, arrival)
        if what == NOTHING:
            break
        if what == ARRIVES:
            arrive(line, cars, rows, front, car, now)
            car += 1
        else:
            _front_event(line, cars, rows, front, belt, now, what)
    last = cars.arrival_s[-1] if len(cars.arrival_s) else line.open_s
    at = 0
    for place in range(rows.counts[ON_BELT]):
        row = rows.order[place]
        at = ride(line, cars, rows, belt, row, at)
        last = max(last, rows.times[row, EXIT])
    return last


@inlined
def _next(
    line: LineNumbers, front: QueueState, wheel: float, returns: float, arrival: float
) -> tuple[float, int]:
    """What happens next, in the order that holds within an instant."""
    now, what = arrival, ARRIVES
    if front.due[PAYMENT] <= now:
        now, what = front.due[PAYMENT], PAYS
    if returns <= now:
        now, what = returns, RETURNS
    if wheel <= now:
        now, what = wheel, WHEEL
    if front.due[LOADER] <= now:
        now, what = front.due[LOADER], LOADS
    if now == math.inf:
        return now, NOTHING
    lanes = next_lane_change(line, front)
    if lanes <= now:
        return lanes, LANES
    return now, what


@inlined
def _front_event(
    line: LineNumbers,
    cars: CarTable,
    rows: LineRows,
    front: QueueState,
    belt: Belt,
    now: float,
    what: int,
) -> bool:
    """Let something before the belt happen; whether it stopped the belt."""
    if what == LANES:
        change_lanes(line, cars, rows, front, now)
    elif what == PAYS:
        end_payments(line, cars, rows, front, now)
    elif front.place[CATCHING] == 0:
        end_loading(line, cars, rows, front, belt, now)
    else:
        return catch_car(line, cars, rows, front, belt, now)
    return False


@inlined
def run_whole(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    front: QueueState,
    rows: LineRows,
    wiped: Wiped,
) -> float:
    """Line and cloth of a day together, since re-washes or changes of set move cars.

    Belt, front, rows and wiped come empty. Returns when the last thing happened [s].
    """
    lay_belt(belt, line, cars)
    open_line(line, front)
    hang_cloth(cloth, wiped)
    car, served, stretch, last = 0, 0, 0, line.open_s
    back, sent = 0, 0  # re-washes that are back, and that were sent
    wheel, met = math.inf, False  # the wheel's next moment; whether its hood has been met
    while True:
        arrival = cars.arrival_s[car] if car < len(cars.arrival_s) else math.inf
        returns = math.inf
        if back < sent:
            returns = rows.times[rows.sent[back], EXIT] + line.return_s
        now, what = _next(line, front, wheel, returns, arrival)
        if what == NOTHING:
            break
        stopped = False
        if what == ARRIVES:
            arrive(line, cars, rows, front, car, now)
            car, last = car + 1, now
        elif what == RETURNS:
            come_back(line, cars, rows, front, rows.line[rows.sent[back], CAR], now)
            back += 1
        elif what == WHEEL and not met:
            met = True
            stopped = _meet_hood(
                line, cloth, cars, rule, belt, rows, wiped, rows.order[served], now
            )
        elif what == WHEEL:
            row = rows.order[served]
            stretch = _serve(line, cloth, cars, rule, belt, rows, wiped, row, stretch)
            served, met, last = served + 1, False, now
            if wiped.marks[row, FATE] == AGAIN:
                rows.sent[sent] = row
                sent += 1
        else:
            stopped = _front_event(line, cars, rows, front, belt, now, what)
        if stopped:
            stretch = min(stretch, belt.laid[COUNT] - 1)
            _await_again(line, cars, rows, front, belt, now)
        if what == WHEEL:
            wheel = math.inf
        if served < rows.counts[ON_BELT] and (stopped or wheel == math.inf):
            met = met or not cloth.cars_wait or wiped.places[SETS] >= len(rule.changes_s)
            wheel = _wheel_due(line, cars, rows, belt, rows.order[served], stretch, met)
    _rest(line, cloth, cars, belt, wiped, last)
    return last


@inlined
def _await_again(
    line: LineNumbers, cars: CarTable, rows: LineRows, front: QueueState, belt: Belt, now: float
) -> None:
    """A stop has been added: whoever waits for a pusher waits anew."""
    front.place[STRETCH] = min(front.place[STRETCH], belt.laid[COUNT] - 1)
    if front.place[CATCHING] and front.due[LOADER] != math.inf:
        await_pusher(line, cars, rows, front, belt, now)


@inlined
def _wheel_due(
    line: LineNumbers, cars: CarTable, rows: LineRows, belt: Belt, row: int, at: int, seen: bool
) -> float:
    """When the wheel meets a car's hood, or once it has, its tail, by the stops known now."""
    car = rows.line[row, CAR]
    kind = cars.kind[car]
    travel = rows.line[row, PUSHER] * line.pitch_m - line.pushed[kind] + line.wheel_m
    travel += cars.length_m[car] if seen else line.hood[kind]
    at = reached_in(belt, line, cars, at, travel)
    earliest = (
        rows.times[row, CAUGHT] if math.isnan(rows.times[row, HOOD]) else rows.times[row, HOOD]
    )
    return max(earliest, reached_at(belt, at, travel))


@inlined
def _meet_hood(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    row: int,
    now: float,
) -> bool:
    """A hood meets the wheel while sets are still to be changed; whether that stops the belt."""
    cover(belt, line, cars, now)
    advance(cloth, belt, wiped, now, False)
    rows.times[row, HOOD] = now
    if not set_is_due(cloth, rule, wiped, now):
        return False
    change_set(cloth, wiped, now)
    stop_belt(belt, line, cars, now, now + cloth.change_s)
    rows.times[row, HOOD] = now + cloth.change_s
    return True


@inlined
def _serve(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    row: int,
    at: int,
) -> int:
    """A tail has passed the wheel: the car is wiped, every stop until then being known."""
    at = ride(line, cars, rows, belt, row, at)
    hood = rows.times[row, HOOD]
    cover(belt, line, cars, rows.times[row, EXIT])
    advance(cloth, belt, wiped, hood, False)
    # where cars wait for a change of set, it was due when the hood met the wheel or not at all
    if not cloth.cars_wait and set_is_due(cloth, rule, wiped, hood):
        change_set(cloth, wiped, hood)
    wipe_car(cloth, cars, rule, belt, rows, wiped, row)
    return at


@inlined
def _rest(
    line: LineNumbers, cloth: Cloth, cars: CarTable, belt: Belt, wiped: Wiped, last: float
) -> None:
    """Let the wheel turn on from the last car until it comes to rest."""
    rest_s = max(last, line.close_s) + line.spin_s
    cover(belt, line, cars, rest_s)
    advance(cloth, belt, wiped, rest_s, False)


@inlined
def run_cloth(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    last: float,
) -> None:
    """The cloth of a day whose line is known."""
    cover(belt, line, cars, max(last, line.close_s))
    hang_cloth(cloth, wiped)
    wipe_all(cloth, cars, rule, belt, rows, wiped, 0, rows.counts[ON_BELT])
    _rest(line, cloth, cars, belt, wiped, last)


F = TypeVar("F", bound=Callable[..., Any])
OPTIONS: dict[str, Any] = {"nogil": True, "cache": True, "error_model": "numpy", "_nrt": False}


def _entry(function: F) -> F:
    try:
        made = numba.njit(**OPTIONS)(function)
    except RuntimeError:  # neither beside the source nor in a home of the user can it be kept
        made = numba.njit(**{**OPTIONS, "cache": False})(function)
    # What is kept is known by the age of this file alone; the fingerprint adds all other files.
    kept = getattr(getattr(made, "_cache", None), "_cache_file", None)
    if kept is not None:
        kept._source_stamp = (kept._source_stamp, fingerprint())
    entry: F = made
    return entry


@_entry
def line_of_day(
    line: LineNumbers, cars: CarTable, belt: Belt, front: QueueState, rows: LineRows
) -> float:
    """See `run_line`."""
    return run_line(line, cars, belt, front, rows)


@_entry
def cloth_of_day(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    last: float,
) -> None:
    """See `run_cloth`."""
    run_cloth(line, cloth, cars, rule, belt, rows, wiped, last)


@_entry
def whole_day(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    front: QueueState,
    rows: LineRows,
    wiped: Wiped,
) -> float:
    """See `run_whole`."""
    return run_whole(line, cloth, cars, rule, belt, front, rows, wiped)


@_entry
def figures_of_day(
    line: LineNumbers,
    work: Work,
    cars: CarTable,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    last: float,
    scratch: Floats,
    halves: Floats,
    day: Floats,
    hours: Floats,
) -> None:
    """See `stats.gather`."""
    gather(line, work, cars, belt, rows, wiped, last, scratch, halves, day, hours)


@_entry
def cloth_of_rules(
    line: LineNumbers,
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    last: float,
    halves: Floats,
    found: Floats,
) -> None:
    """`cloth_of_day` for every rule of a book in turn, a row of `many.TALLY` each."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(wiped)
        cloth_of_day(line, cloth, cars, rule, belt, rows, wiped, last)
        tally(cloth, work, cars, rule, rows, wiped, last, halves, found[at])


@_entry
def whole_of_rules(
    line: LineNumbers,
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    front: QueueState,
    rows: LineRows,
    wiped: Wiped,
    halves: Floats,
    found: Floats,
) -> None:
    """`whole_day` for every rule of a book in turn, a row of `many.TALLY` each."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(wiped)
        empty_line(front)
        rows.counts[:] = 0
        last = whole_day(line, cloth, cars, rule, belt, front, rows, wiped)
        tally(cloth, work, cars, rule, rows, wiped, last, halves, found[at])


@_entry
def nodes_of_day(
    line: LineNumbers,
    cloth: Cloth,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    rows: LineRows,
    wiped: Wiped,
    last: float,
    nodes: Nodes,
) -> None:
    """See `many.lay_nodes`; the book has always full and always reduced."""
    cover(belt, line, cars, max(last, line.close_s) + line.spin_s)
    full, reduced = rule_of(book, 0), rule_of(book, 1)
    lay_nodes(line, cloth, cars, full, reduced, belt, rows, wiped, last, nodes)


@_entry
def plan_of_day(
    nodes: Nodes, gain: Floats, price: Floats, moisture: Floats, value: Floats, damp: Floats
) -> float:
    """See `many.best_plan`."""
    return best_plan(nodes, gain, price, moisture, value, damp)


@_entry
def belt_travel(line: LineNumbers, cars: CarTable, belt: Belt, now: float) -> float:
    """Travel at a time [m]."""
    return travel_at(belt, line, cars, 0, now)
