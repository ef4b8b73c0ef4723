"""The figures of a compiled day, gathered from its rows without an object a car; with them the work
of the people on the line by half-hour, and what goes beyond them.
"""

from __future__ import annotations

import math

from sim.day import figures as f
from sim.day.figures import HALF_HOUR_S, HALF_HOURS, HOURLY, named
from sim.day.kernel import tables as r
from sim.day.kernel.line import travel_at
from sim.day.kernel.tables import Day, Floats, Ints, LineRows, Work
from sim.day.rules import HOUR_S
from sim.physics.mark import inlined

OTHERS, FINISHERS = range(2)
"""Whose work it is."""


@inlined
def half_hour_of(moment_s: float) -> int:
    """Half-hour of a moment; after midnight the last one."""
    return min(int(moment_s) // int(HALF_HOUR_S), HALF_HOURS - 1)


@inlined
def add_pass_work(
    work: Work, hand: float, halves: Floats, times: Floats, marks: Ints, hands: Floats
) -> None:
    """Add the work of a pass, loading and exit where they happen; `hand` is of its class.

    Args:
        halves: of finishers and of all others, by half-hour, shape (2, 48).
        hands: the pass's row of `Wiped.hands`.
    """
    leaving = work.leaving_s
    if marks[r.REDUCED]:
        leaving += work.reduced_s
    halves[OTHERS, half_hour_of(times[r.EXIT])] += hand * leaving
    halves[OTHERS, half_hour_of(times[r.LOAD_START])] += hand * work.loading_s
    if marks[r.FATE] == r.TOWEL:
        spend(halves[FINISHERS], hands[r.BEGUN], hands[r.DONE], 1.0)


@inlined
def spend(halves: Floats, start: float, end: float, weight: float) -> None:
    """Add a stretch of time, times a weight, to the half-hours that it lies in."""
    at = half_hour_of(start)
    while start < end:
        until = end if at == HALF_HOURS - 1 else min(end, (at + 1) * HALF_HOUR_S)
        halves[at] += weight * (until - start)
        start = until
        at += 1


(
    M_LOST_MEMBERS, M_LEFT_DAMP_MEMBERS, M_ROOF_LEFT_WET, M_ROOF_LEFT_WET_MEMBERS,
    M_REAR_LEFT_WET, M_REAR_LEFT_WET_MEMBERS, M_MEMBER_WAITS_S,
) = range(7)  # fmt: skip
MINDED = named(globals(), "M_")
"""What people mind beside damp cars, see `sim.day.goodwill`, in the order of their places."""


@inlined
def add_lost(minded: Floats, member: bool, patience_s: float) -> None:
    """Add a car that drove away to the counts of `MINDED`."""
    if member:
        minded[M_LOST_MEMBERS] += 1.0
        minded[M_MEMBER_WAITS_S] += patience_s


@inlined
def add_left(minded: Floats, member: bool, marks: Ints) -> None:
    """Add a pass to the counts of `MINDED`, its wait apart; one that comes back is none."""
    if marks[r.FATE] == r.AGAIN:
        return
    minded[M_ROOF_LEFT_WET] += marks[r.ROOF_WET]
    minded[M_REAR_LEFT_WET] += marks[r.REAR_WET]
    if member:
        minded[M_LEFT_DAMP_MEMBERS] += marks[r.FATE] == r.LEAVES
        minded[M_ROOF_LEFT_WET_MEMBERS] += marks[r.ROOF_WET]
        minded[M_REAR_LEFT_WET_MEMBERS] += marks[r.REAR_WET]


@inlined
def wait_of(times: Floats) -> float:
    """Wait of a car that was washed, own payment and loading apart [s]."""
    return float(
        times[r.CAUGHT]
        - times[r.ARRIVAL]
        - (times[r.PAID] - times[r.PAY_START])
        - (times[r.LOADED] - times[r.LOAD_START])
    )


@inlined
def add_change_work(day: Day, halves: Floats) -> None:
    """Add the hands of every change of set to the half-hours in which they work."""
    for number in range(day.wiped.places[r.SETS]):
        start = day.wiped.changed_s[number]
        spend(halves[OTHERS], start, start + day.cloth.change_s, day.work.change_people)


@inlined
def overload(work: Work, halves: Floats, last: float) -> float:
    """Work above what the people can do, over all half-hours [person-s].

    Finishers take no more cars than they have time for; theirs is never above it.

    Args:
        last: when the last thing happened [s]; the last half-hour goes on until then.
    """
    beyond, done = 0.0, halves[OTHERS]
    for at in range(HALF_HOURS - 1):
        beyond += max(0.0, done[at] - work.able_s[at])
    longer = max(1.0, (last - (HALF_HOURS - 1) * HALF_HOUR_S) / HALF_HOUR_S)
    return beyond + max(0.0, done[HALF_HOURS - 1] - longer * work.able_s[HALF_HOURS - 1])


(
    D_CARS_ARRIVED, D_CARS_WASHED, D_CARS_LOST, D_CARS_LOST_FULL, D_CARS_LOST_IMPATIENT,
    D_CARS_PER_HOUR, D_WAIT_P50_S, D_WAIT_P90_S, D_WAIT_P95_S, D_STACK_MAX, D_STACK_FULL_MINUTES,
    D_BELT_USE, D_STOPS, D_OVERTIME_MINUTES, D_DAMP_SHARE, D_DAMP_CARS, D_REAR_WET_SHARE,
    D_FULL_SHARE, D_SATURATION_MEAN, D_SATURATION_P95, D_SATURATION_MAX, D_OVER_DAMP_LIMIT_MINUTES,
    D_WATER_TAKEN_KG, D_WATER_THROWN_KG, D_WATER_EVAPORATED_KG, D_FINISHED_CARS, D_REWASHED_CARS,
    D_STAFF_USE, D_REDUCED, D_LEFT_DAMP, D_LEFT_DAMP_SHARE, D_SETS_CHANGED, D_WORK_S, D_OVERLOAD_S,
    D_LOOKS_S,
) = range(35)  # fmt: skip
DAY = (*named(globals(), "D_"), *MINDED)
"""The day's figures, money, work and wear apart, and what these are counted from, in the order of
the array that they are put in."""
D_MINDED = len(DAY) - len(MINDED)
"""Where the last of them begin."""

MET, WAITED = len(HOURLY), len(HOURLY) + 1
BY_HOUR = (*HOURLY, "met", "waited")
"""Rows of the hourly figures; the last two are none: passes that met the wheel, and cars that came
to be washed."""


@inlined
def hour_of(moment_s: float) -> int:
    """Clock hour of a moment; after midnight the last one."""
    return min(int(moment_s) // int(HOUR_S), r.HOURS - 1)


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
def quantile(values: Floats, low: int, high: int, percent: float, lower: float = 0.0) -> float:
    """Percentile of values[low:high], linear between order statistics, rank 1 + p(N − 1).

    Args:
        lower: a percentile of the same values, not above this one, that was asked for before.
    """
    count = high - low
    if count == 0:
        return math.nan
    rank = (count - 1) * (percent / 100.0)
    below = min(math.floor(rank), count - 1)
    # whatever lies before the lower one's place is no larger
    known = min(math.floor((count - 1) * (lower / 100.0)), count - 1)
    first = select(values, low + known, high, low + below)
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
        until = end if hour == r.HOURS - 1 else min(end, (hour + 1) * HOUR_S)
        hours[hour] += max(0.0, until - max(begin, hour * HOUR_S)) / HOUR_S


@inlined
def stack_levels(
    rows: LineRows, limit: int, arrivals: Floats, leavings: Floats, hours: Floats
) -> float:
    """Most waiting before the lanes by hour, into `hours`; and how long they were at the limit.

    Departures before arrivals.

    Args:
        arrivals, leavings: room for as many as there are passes.

    Returns:
        Time at or above the limit [s]; 0 where the limit is 0.
    """
    count = _comings_and_goings(rows, arrivals, leavings)
    come = gone = level = hour = 0
    since, full = -math.inf, 0.0
    while gone < count:
        arrives = arrivals[come] if come < count else math.inf
        now = min(arrives, leavings[gone])
        if level >= limit > 0:
            full += now - since
        while hour < r.HOURS and hour * HOUR_S < now:
            # the level that an hour begins with; a change at its very beginning comes first
            hours[hour] = max(hours[hour], level)
            hour += 1
        # sums in place of branches: nobody can guess which of them is next
        goes = int(leavings[gone] <= arrives)
        gone += goes
        come += 1 - goes
        level += 1 - 2 * goes
        at = hour_of(now)
        hours[at] = max(hours[at], level)
        since = now
    return full


@inlined
def _comings_and_goings(rows: LineRows, arrivals: Floats, leavings: Floats) -> int:
    """When cars come before the lanes and when they leave there, each in order; how many do."""
    come = gone = 0
    for row in range(rows.counts[r.ROWS]):
        if rows.line[row, r.LOST] == r.KEPT:
            arrivals[come] = rows.times[row, r.ARRIVAL]
            come += 1
            if rows.line[row, r.TURN] == 1:
                leavings[gone] = rows.times[row, r.PAY_START]
                gone += 1
    # first passes leave in the order of their rows, and so do re-washes, which go by the lanes
    at, row = come - 1, rows.counts[r.ROWS] - 1
    while at >= gone:
        if rows.line[row, r.TURN] == 2:
            leaves = rows.times[row, r.UNBLOCKED]
            while gone > 0 and leavings[gone - 1] > leaves:
                leavings[at] = leavings[gone - 1]
                at, gone = at - 1, gone - 1
            leavings[at] = leaves
            at -= 1
        row -= 1
    return come


@inlined
def add_account(day: Day, figures: Floats, hours: Floats) -> None:
    """The cloth's figures, by hour and for the day, from its account."""
    holding = day.cloth.holding
    last_open = math.floor(day.line.close_s / HOUR_S) + 1
    held = time = over = 0.0
    late_held = late_time = 0.0
    for hour in range(len(day.wiped.hours)):
        account = day.wiped.hours[hour]
        at = min(hour, r.HOURS - 1)
        hours[f.H_WATER_TAKEN_KG, at] += account[r.TAKEN]
        hours[f.H_WATER_THROWN_KG, at] += account[r.THROWN]
        hours[f.H_WATER_EVAPORATED_KG, at] += account[r.EVAPORATED]
        figures[D_WATER_TAKEN_KG] += account[r.TAKEN]
        figures[D_WATER_THROWN_KG] += account[r.THROWN]
        figures[D_WATER_EVAPORATED_KG] += account[r.EVAPORATED]
        if account[r.TIME] <= 0.0:
            continue
        if hour < last_open:
            held += account[r.HELD]
            time += account[r.TIME]
            over += account[r.OVER]
        if hour >= r.HOURS - 1:
            late_held += account[r.HELD]
            late_time += account[r.TIME]
            hours[f.H_SATURATION_MEAN, at] = late_held / late_time / holding
        else:
            hours[f.H_SATURATION_MEAN, at] = account[r.HELD] / account[r.TIME] / holding
    figures[D_SATURATION_MEAN] = held / time / holding if time > 0.0 else math.nan
    figures[D_OVER_DAMP_LIMIT_MINUTES] = over / 60.0


@inlined
def gather(
    day: Day, last: float, scratch: Floats, halves: Floats, figures: Floats, hours: Floats
) -> None:
    """Every figure of a day into `figures` (zeros) and `hours` (zeros), money apart.

    Args:
        last: when the last thing happened [s].
        scratch: shape (2, rows): waits of cars washed, moisture before each pass.
        halves: work by half-hour, zeros, shape (2, 48).
        figures: shape (len(DAY),).
        hours: shape (19, 24).
    """
    line, belt, cloth = day.line, day.belt, day.cloth
    count = day.rows.counts[r.ROWS]
    for hour in range(r.HOURS):
        hours[f.H_WAIT_MEAN_S, hour] = hours[f.H_WAIT_P90_S, hour] = hours[
            f.H_SATURATION_MEAN, hour
        ] = math.nan
    for arrival in day.cars.arrival_s:
        hours[f.H_ARRIVED, hour_of(arrival)] += 1.0
    add_account(day, figures, hours)
    waits, before = scratch[0], scratch[1]
    washed, passes, apart = _add_cars(day, figures, hours, waits, before, halves)
    low = 0
    for hour in range(r.HOURS):
        high = low + int(hours[WAITED, hour])
        if high > low:
            hours[f.H_WAIT_MEAN_S, hour] = total(waits, low, high) / (high - low)
            hours[f.H_WAIT_P90_S, hour] = quantile(waits, low, high, 90.0)
        low = high
    figures[D_WAIT_P50_S] = quantile(waits, 0, washed, 50.0)
    figures[D_WAIT_P90_S] = quantile(waits, 0, washed, 90.0, 50.0)
    figures[D_WAIT_P95_S] = quantile(waits, 0, washed, 95.0, 90.0)
    figures[D_SATURATION_P95] = quantile(before, 0, passes, 95.0) / cloth.holding
    # whatever was in the rooms has been read
    figures[D_STACK_FULL_MINUTES] = (
        stack_levels(day.rows, line.stack_limit, waits, before, hours[f.H_STACK_MAX]) / 60.0
    )
    _add_work(day, halves, last, figures, hours)
    figures[D_CARS_ARRIVED], figures[D_CARS_WASHED] = count - figures[D_REWASHED_CARS], washed
    figures[D_CARS_LOST] = figures[D_CARS_LOST_FULL] + figures[D_CARS_LOST_IMPATIENT]
    figures[D_CARS_PER_HOUR] = largest(hours[f.H_WASHED])
    figures[D_STACK_MAX] = largest(hours[f.H_STACK_MAX])
    travel = travel_at(day, 0, last)
    figures[D_BELT_USE] = (
        min(1.0, apart * line.pitch_m / travel) if passes and travel > 0.0 else math.nan
    )
    closed = max(last, line.close_s)
    for at in range(belt.laid[r.COUNT]):
        figures[D_STOPS] += belt.speed[at] == 0.0 and belt.start_s[at] < closed
    figures[D_OVERTIME_MINUTES] = max(0.0, last - line.close_s) / 60.0
    figures[D_DAMP_SHARE] = share(figures[D_DAMP_CARS], washed)
    figures[D_LEFT_DAMP_SHARE] = share(figures[D_LEFT_DAMP], washed)
    figures[D_REAR_WET_SHARE] = share(figures[D_REAR_WET_SHARE], washed)
    figures[D_FULL_SHARE] = share(figures[D_FULL_SHARE], washed)
    wettest = max(figures[D_SATURATION_MAX], cloth.opening_moisture)
    figures[D_SATURATION_MAX] = wettest / cloth.holding
    figures[D_STAFF_USE] = largest(hours[f.H_STAFF_USE])


@inlined
def _add_cars(
    day: Day, figures: Floats, hours: Floats, waits: Floats, before: Floats, halves: Floats
) -> tuple[int, int, int]:
    """Count every row; fill waits in order of arrival, moisture before, and work by half-hour.

    Returns:
        Cars washed, passes, and the fewest pushers that they took.
    """
    rows, wiped = day.rows, day.wiped
    washed = passes = apart = 0
    reduced = left_damp = finished = rewashed = damp = rear = full = 0
    looks = wettest = 0.0
    minded = figures[D_MINDED:]
    for row in range(rows.counts[r.ROWS]):
        times, first = rows.times[row], rows.line[row, r.TURN] == 1
        lost, car = rows.line[row, r.LOST], rows.line[row, r.CAR]
        member = day.cars.member[car]
        if lost != r.KEPT:
            add_lost(minded, member, day.cars.patience_s[car])
            hour = hour_of(times[r.ARRIVAL])
            hours[f.H_LOST, hour] += 1.0
            hours[f.H_LOST_FULL if lost == r.LOST_FULL else f.H_LOST_IMPATIENT, hour] += 1.0
            figures[D_CARS_LOST_FULL if lost == r.LOST_FULL else D_CARS_LOST_IMPATIENT] += 1.0
            continue
        marks = wiped.marks[row]
        whole = marks[r.REDUCED] == 0 and marks[r.UNWIPED] == 0
        before[passes] = wiped.moisture[row, r.BEFORE]
        passes += 1
        apart += rows.line[row, r.APART]
        wettest = max(wettest, wiped.moisture[row, r.AFTER])
        add_left(minded, member, marks)
        reduced += marks[r.REDUCED]
        left_damp += marks[r.FATE] == r.LEAVES
        finished += marks[r.FATE] == r.TOWEL
        rewashed += marks[r.FATE] == r.AGAIN
        if first:
            waits[washed] = wait_of(times)
            minded[M_MEMBER_WAITS_S] += waits[washed] if member else 0.0
            washed += 1
            hours[WAITED, hour_of(times[r.ARRIVAL])] += 1.0
            damp += marks[r.DAMP]
            rear += marks[r.ROOF_WET] | marks[r.REAR_WET]
            full += whole
        hand = day.work.hand[day.cars.kind[car]]
        add_pass_work(day.work, hand, halves, times, marks, wiped.hands[row])
        looked = wiped.moisture[row, r.LOOKED]
        looks += looked
        hours[f.H_STAFF_USE, hour_of(times[r.HOOD])] += looked
        _add_times(hours, times, marks, first, whole)
    figures[D_REDUCED], figures[D_LEFT_DAMP] = reduced, left_damp
    figures[D_FINISHED_CARS], figures[D_REWASHED_CARS] = finished, rewashed
    figures[D_DAMP_CARS], figures[D_REAR_WET_SHARE], figures[D_FULL_SHARE] = damp, rear, full
    figures[D_SATURATION_MAX], figures[D_LOOKS_S] = wettest, looks
    for hour in range(r.HOURS):
        hours[f.H_DAMP_SHARE, hour] = share(hours[f.H_DAMP_SHARE, hour], hours[MET, hour])
        hours[f.H_FULL_SHARE, hour] = share(hours[f.H_FULL_SHARE, hour], hours[MET, hour])
    return washed, passes, apart


@inlined
def _add_work(day: Day, halves: Floats, last: float, figures: Floats, hours: Floats) -> None:
    """The work of the day's figures, of at least one person; looks are in `hours` already."""
    work = day.work
    add_change_work(day, halves)
    for hour in range(r.HOURS):
        done, able = hours[f.H_STAFF_USE, hour], 0.0
        for at in range(2 * hour, 2 * hour + 2):
            done += halves[OTHERS, at] + halves[FINISHERS, at]
            able += work.able_s[at] + work.hands_s[at]
        hours[f.H_STAFF_USE, hour] = done / max(able, HOUR_S)
    figures[D_SETS_CHANGED] = day.wiped.places[r.SETS]
    figures[D_WORK_S] = figures[D_LOOKS_S]
    for who in range(2):
        figures[D_WORK_S] += total(halves[who], 0, HALF_HOURS)
    figures[D_OVERLOAD_S] = overload(work, halves, last)


@inlined
def _add_times(hours: Floats, times: Floats, marks: Ints, first: bool, whole: bool) -> None:
    """What a pass adds to the hours in which things happened to it."""
    add_presence(
        hours[f.H_STACK_MEAN], times[r.ARRIVAL], times[r.PAY_START] if first else times[r.UNBLOCKED]
    )
    add_presence(hours[f.H_LOADING_LINE_MEAN], times[r.UNBLOCKED], times[r.LOAD_START])
    at = hour_of(times[r.EXIT])
    if marks[r.FATE] != r.AGAIN:
        hours[f.H_WASHED, at] += 1.0
    at = hour_of(times[r.HOOD])
    hours[MET, at] += 1.0
    hours[f.H_DAMP_SHARE, at] += marks[r.DAMP]
    hours[f.H_FULL_SHARE, at] += whole
