"""The figures of a compiled day, gathered from its rows without an object a car; with them the work
of the people on the line by half-hour, and what goes beyond them.
"""

from __future__ import annotations

import math

from sim.day.kernel.line import COUNT, Belt, travel_at
from sim.day.kernel.tables import (
    AFTER,
    AGAIN,
    APART,
    ARRIVAL,
    BEFORE,
    CAR,
    CAUGHT,
    DAMP,
    EVAPORATED,
    EXIT,
    FATE,
    HELD,
    HOOD,
    HOURS,
    KEPT,
    LEAVES,
    LOAD_START,
    LOADED,
    LOST,
    LOST_FULL,
    OVER,
    PAID,
    PAY_START,
    REAR_WET,
    REDUCED,
    ROWS,
    TAKEN,
    THROWN,
    TIME,
    TOWEL,
    TURN,
    UNBLOCKED,
    UNWIPED,
    CarTable,
    Floats,
    Ints,
    LineNumbers,
    LineRows,
    Wiped,
    Work,
)
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


HOUR_S = 3600.0

DAY = (
    "cars_arrived", "cars_washed", "cars_lost", "cars_lost_full", "cars_lost_impatient",
    "cars_per_hour", "wait_p50_s", "wait_p90_s", "wait_p95_s", "stack_max", "stack_full_minutes",
    "belt_use", "stops", "overtime_minutes", "damp_share", "damp_cars", "rear_wet_share",
    "full_share", "saturation_mean", "saturation_p95", "saturation_max",
    "over_damp_limit_minutes", "water_taken_kg", "water_thrown_kg", "water_evaporated_kg",
    "finished_cars", "rewashed_cars", "staff_use",
)  # fmt: skip
"""The day's figures, money, work and wear apart, in the order of the array they are put in."""
COUNTS = ("reduced", "left_damp", "sets_changed", "work_s", "overload_s")
"""Numbers that the money is counted from; they follow the day's figures."""

(
    D_CARS_ARRIVED, D_CARS_WASHED, D_CARS_LOST, D_CARS_LOST_FULL, D_CARS_LOST_IMPATIENT,
    D_CARS_PER_HOUR, D_WAIT_P50_S, D_WAIT_P90_S, D_WAIT_P95_S, D_STACK_MAX, D_STACK_FULL_MINUTES,
    D_BELT_USE, D_STOPS, D_OVERTIME_MINUTES, D_DAMP_SHARE, D_DAMP_CARS, D_REAR_WET_SHARE,
    D_FULL_SHARE, D_SATURATION_MEAN, D_SATURATION_P95, D_SATURATION_MAX, D_OVER_DAMP_LIMIT_MINUTES,
    D_WATER_TAKEN_KG, D_WATER_THROWN_KG, D_WATER_EVAPORATED_KG, D_FINISHED_CARS, D_REWASHED_CARS,
    D_STAFF_USE, D_REDUCED, D_LEFT_DAMP, D_SETS_CHANGED, D_WORK_S, D_OVERLOAD_S,
) = range(33)  # fmt: skip

# rows of the hourly figures, in the order of `sim.day.figures.HOURLY`
(
    H_ARRIVED, H_WASHED, H_LOST, H_FULL, H_IMPATIENT, H_STACK, H_STACK_MAX, H_LINE, H_WAIT,
    H_WAIT_90, H_SATURATION, H_DAMP, H_WIPED_FULL, H_TAKEN, H_THROWN, H_EVAPORATED, H_STAFF,
    H_MET, H_WAITED,
) = range(19)  # fmt: skip
"""The last two are no figures: passes that met the wheel, and cars that came to be washed."""


@inlined
def hour_of(moment_s: float) -> int:
    """Clock hour of a moment; after midnight the last one."""
    return int(min(math.floor(moment_s / HOUR_S), HOURS - 1.0))


@inlined
def select(values: Floats, low: int, high: int, rank: int) -> float:
    """The value of a rank among values[low:high], which is put in partial order (Hoare 1961)."""
    high -= 1
    while low < high:
        pivot = values[(low + high) // 2]
        i, j = low, high
        while i <= j:
            while values[i] < pivot:
                i += 1
            while values[j] > pivot:
                j -= 1
            if i <= j:
                values[i], values[j] = values[j], values[i]
                i += 1
                j -= 1
        if rank <= j:
            high = j
        elif rank >= i:
            low = i
        else:
            break
    return float(values[rank])


@inlined
def quantile(values: Floats, low: int, high: int, percent: float) -> float:
    """Percentile of values[low:high], linear between order statistics, rank 1 + p(N − 1)."""
    count = high - low
    if count == 0:
        return math.nan
    rank = (count - 1) * (percent / 100.0)
    below = min(math.floor(rank), count - 1)
    first = select(values, low, high, low + below)
    if below + 1 >= count:
        return first
    # everything after the rank is at least as large: the next one is the least of it
    following = values[low + below + 1]
    for at in range(low + below + 2, high):
        following = min(following, values[at])
    return float(first + (rank - below) * (following - first))


@inlined
def total(values: Floats, low: int, high: int) -> float:
    """Sum of values[low:high]."""
    found = 0.0
    for at in range(low, high):
        found += values[at]
    return found


@inlined
def largest(values: Floats) -> float:
    """The largest of some values, 0 at least."""
    found = 0.0
    for value in values:
        found = max(found, value)
    return found


@inlined
def share(part: float, whole: float) -> float:
    """A share, NaN of nothing."""
    return part / whole if whole > 0 else math.nan


@inlined
def add_presence(hours: Floats, begin: float, end: float) -> None:
    """Add a stay to the mean number present by clock hour; the last hour has no end."""
    if not end > begin:
        return
    first, last = hour_of(begin), hour_of(end)
    for hour in range(first, last + 1):
        until = end if hour == HOURS - 1 else min(end, (hour + 1) * HOUR_S)
        hours[hour] += max(0.0, until - max(begin, hour * HOUR_S)) / HOUR_S


@inlined
def stack_levels(rows: LineRows, limit: int, hours: Floats) -> float:
    """Most waiting before the lanes by hour, into `hours`; and how long they were at the limit.

    Begins come in the order of the rows; ends of first passes and of re-washes each do, too.
    Departures before arrivals.

    Returns:
        Time at or above the limit [s]; 0 where the limit is 0.
    """
    count = rows.counts[ROWS]
    begin = paying = back = 0
    level, since, full, hour = 0, -math.inf, 0.0, 0
    while True:
        while begin < count and rows.line[begin, LOST] != KEPT:
            begin += 1
        while paying < count and (rows.line[paying, LOST] != KEPT or rows.line[paying, TURN] != 1):
            paying += 1
        while back < count and rows.line[back, TURN] != 2:
            back += 1
        arrives = rows.times[begin, ARRIVAL] if begin < count else math.inf
        pays = rows.times[paying, PAY_START] if paying < count else math.inf
        returns = rows.times[back, UNBLOCKED] if back < count else math.inf
        now = min(arrives, pays, returns)
        if now == math.inf:
            return full
        if level >= limit > 0:
            full += now - since
        while hour < HOURS and hour * HOUR_S < now:
            # the level that an hour begins with; a change at its very beginning comes first
            hours[hour] = max(hours[hour], level)
            hour += 1
        if pays <= now:
            level -= 1
            paying += 1
        elif returns <= now:
            level -= 1
            back += 1
        else:
            level += 1
            begin += 1
        at = hour_of(now)
        hours[at] = max(hours[at], level)
        since = now


@inlined
def add_account(day: Floats, hours: Floats, line: LineNumbers, work: Work, wiped: Wiped) -> None:
    """The cloth's figures, by hour and for the day, from its account."""
    last_open = math.floor(line.close_s / HOUR_S) + 1
    held = time = over = 0.0
    late_held = late_time = 0.0
    for hour in range(len(wiped.hours)):
        account = wiped.hours[hour]
        at = min(hour, HOURS - 1)
        hours[H_TAKEN, at] += account[TAKEN]
        hours[H_THROWN, at] += account[THROWN]
        hours[H_EVAPORATED, at] += account[EVAPORATED]
        day[D_WATER_TAKEN_KG] += account[TAKEN]
        day[D_WATER_THROWN_KG] += account[THROWN]
        day[D_WATER_EVAPORATED_KG] += account[EVAPORATED]
        if account[TIME] <= 0.0:
            continue
        if hour < last_open:
            held += account[HELD]
            time += account[TIME]
            over += account[OVER]
        if hour >= HOURS - 1:
            late_held += account[HELD]
            late_time += account[TIME]
            hours[H_SATURATION, at] = late_held / late_time / work.holding
        else:
            hours[H_SATURATION, at] = account[HELD] / account[TIME] / work.holding
    day[D_SATURATION_MEAN] = held / time / work.holding if time > 0.0 else math.nan
    day[D_OVER_DAMP_LIMIT_MINUTES] = over / 60.0


@inlined
def gather(
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
    """Every figure of a day into `day` (zeros) and `hours` (zeros), money apart.

    Args:
        last: when the last thing happened [s].
        scratch: shape (2, rows): waits of cars washed, moisture before each pass.
        halves: work by half-hour, zeros, shape (48,).
        day: shape (len(DAY) + len(COUNTS),).
        hours: shape (19, 24).
    """
    count = rows.counts[ROWS]
    for hour in range(HOURS):
        hours[H_WAIT, hour] = hours[H_WAIT_90, hour] = hours[H_SATURATION, hour] = math.nan
    for arrival in cars.arrival_s:
        hours[H_ARRIVED, hour_of(arrival)] += 1.0
    add_account(day, hours, line, work, wiped)
    waits, before = scratch[0], scratch[1]
    washed, passes, apart = _add_cars(work, cars, rows, wiped, day, hours, waits, before, halves)
    low = 0
    for hour in range(HOURS):
        high = low + int(hours[H_WAITED, hour])
        if high > low:
            hours[H_WAIT, hour] = total(waits, low, high) / (high - low)
            hours[H_WAIT_90, hour] = quantile(waits, low, high, 90.0)
        low = high
    day[D_WAIT_P50_S] = quantile(waits, 0, washed, 50.0)
    day[D_WAIT_P90_S] = quantile(waits, 0, washed, 90.0)
    day[D_WAIT_P95_S] = quantile(waits, 0, washed, 95.0)
    day[D_STACK_FULL_MINUTES] = stack_levels(rows, work.stack_limit, hours[H_STACK_MAX]) / 60.0
    _add_work(work, wiped, halves, last, day, hours)
    day[D_CARS_ARRIVED], day[D_CARS_WASHED] = count - day[D_REWASHED_CARS], washed
    day[D_CARS_LOST] = day[D_CARS_LOST_FULL] + day[D_CARS_LOST_IMPATIENT]
    day[D_CARS_PER_HOUR] = largest(hours[H_WASHED])
    day[D_STACK_MAX] = largest(hours[H_STACK_MAX])
    travel = travel_at(belt, line, cars, 0, last)
    day[D_BELT_USE] = (
        min(1.0, apart * work.pitch_m / travel) if passes and travel > 0.0 else math.nan
    )
    closed = max(last, line.close_s)
    for at in range(belt.laid[COUNT]):
        day[D_STOPS] += belt.speed[at] == 0.0 and belt.start_s[at] < closed
    day[D_OVERTIME_MINUTES] = max(0.0, last - line.close_s) / 60.0
    day[D_DAMP_SHARE] = share(day[D_DAMP_CARS], washed)
    day[D_REAR_WET_SHARE] = share(day[D_REAR_WET_SHARE], washed)
    day[D_FULL_SHARE] = share(day[D_FULL_SHARE], washed)
    day[D_SATURATION_P95] = quantile(before, 0, passes, 95.0) / work.holding
    day[D_SATURATION_MAX] = max(day[D_SATURATION_MAX], work.opening_moisture) / work.holding
    day[D_STAFF_USE] = largest(hours[H_STAFF])


@inlined
def _add_cars(
    work: Work,
    cars: CarTable,
    rows: LineRows,
    wiped: Wiped,
    day: Floats,
    hours: Floats,
    waits: Floats,
    before: Floats,
    halves: Floats,
) -> tuple[int, int, int]:
    """Count every row; fill waits in order of arrival, moisture before, and work by half-hour.

    Returns:
        Cars washed, passes, and the fewest pushers that they took.
    """
    washed = passes = apart = 0
    for row in range(rows.counts[ROWS]):
        times, first = rows.times[row], rows.line[row, TURN] == 1
        lost = rows.line[row, LOST]
        if lost != KEPT:
            hour = hour_of(times[ARRIVAL])
            hours[H_LOST, hour] += 1.0
            hours[H_FULL if lost == LOST_FULL else H_IMPATIENT, hour] += 1.0
            day[D_CARS_LOST_FULL if lost == LOST_FULL else D_CARS_LOST_IMPATIENT] += 1.0
            continue
        marks = wiped.marks[row]
        whole = marks[REDUCED] == 0 and marks[UNWIPED] == 0
        before[passes] = wiped.moisture[row, BEFORE]
        passes += 1
        apart += rows.line[row, APART]
        day[D_SATURATION_MAX] = max(day[D_SATURATION_MAX], wiped.moisture[row, AFTER])
        day[D_REDUCED] += marks[REDUCED]
        day[D_LEFT_DAMP] += marks[FATE] == LEAVES
        day[D_FINISHED_CARS] += marks[FATE] == TOWEL
        day[D_REWASHED_CARS] += marks[FATE] == AGAIN
        if first:
            waits[washed] = (
                times[CAUGHT]
                - times[ARRIVAL]
                - (times[PAID] - times[PAY_START])
                - (times[LOADED] - times[LOAD_START])
            )
            washed += 1
            hours[H_WAITED, hour_of(times[ARRIVAL])] += 1.0
            day[D_DAMP_CARS] += marks[DAMP]
            day[D_REAR_WET_SHARE] += marks[REAR_WET]
            day[D_FULL_SHARE] += whole
        hand = work.hand[cars.kind[rows.line[row, CAR]]]
        add_pass_work(work, hand, halves, times, marks)
        _add_times(hours, times, marks, first, whole)
    for hour in range(HOURS):
        hours[H_DAMP, hour] = share(hours[H_DAMP, hour], hours[H_MET, hour])
        hours[H_WIPED_FULL, hour] = share(hours[H_WIPED_FULL, hour], hours[H_MET, hour])
    return washed, passes, apart


@inlined
def _add_work(
    work: Work, wiped: Wiped, halves: Floats, last: float, day: Floats, hours: Floats
) -> None:
    """The work of the day's figures, that of changing sets included, of at least one person."""
    add_change_work(work, wiped, halves)
    for hour in range(HOURS):
        done = halves[2 * hour] + halves[2 * hour + 1]
        able = work.able_s[2 * hour] + work.able_s[2 * hour + 1]
        hours[H_STAFF, hour] = done / max(able, HOUR_S)
    day[D_SETS_CHANGED] = wiped.places[SETS]
    day[D_WORK_S] = total(halves, 0, HALF_HOURS)
    day[D_OVERLOAD_S] = overload(work, halves, last)


@inlined
def _add_times(
    hours: Floats,
    times: Floats,
    marks: Ints,
    first: bool,
    whole: bool,
) -> None:
    """What a pass adds to the hours in which things happened to it."""
    add_presence(hours[H_STACK], times[ARRIVAL], times[PAY_START] if first else times[UNBLOCKED])
    add_presence(hours[H_LINE], times[UNBLOCKED], times[LOAD_START])
    at = hour_of(times[EXIT])
    if marks[FATE] != AGAIN:
        hours[H_WASHED, at] += 1.0
    at = hour_of(times[HOOD])
    hours[H_MET, at] += 1.0
    hours[H_DAMP, at] += marks[DAMP]
    hours[H_WIPED_FULL, at] += whole
