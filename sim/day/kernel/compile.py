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
from numba.extending import register_jitable

from sim.day.kernel import tables as r
from sim.day.kernel.hands import HandPlans, dry_by_hand, tally_plans
from sim.day.kernel.line import (
    arrive,
    await_pusher,
    catch_car,
    change_lanes,
    come_back,
    cover,
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
from sim.day.kernel.many import (
    RuleBook,
    best_plan,
    count_switches,
    lay_nodes,
    rule_of,
    tally,
    wipe_anew,
)
from sim.day.kernel.stats import gather
from sim.day.kernel.tables import Day, Floats
from sim.day.kernel.tree import (
    BACK,
    CAR,
    HIGH,
    LOW,
    REDUCES,
    ROW,
    SENT,
    SERVED,
    STRETCH,
    Kept,
    Tree,
    decide,
    end_day,
    keep_cloth,
    keep_line,
    part,
    take_up_cloth,
    take_up_line,
)
from sim.day.kernel.wheel import (
    RuleTable,
    advance,
    change_set,
    hang_cloth,
    is_locked_out,
    set_is_due,
    weighs,
    wipe_car,
    wipe_decided,
)
from sim.physics.mark import fingerprint, inlined, marked

(NOTHING, LANES, LOADS, WHEEL, RETURNS, PAYS, ARRIVES) = range(7)
"""What may happen, in the order that holds within an instant."""


F = TypeVar("F", bound=Callable[..., Any])
OPTIONS: dict[str, Any] = {"nogil": True, "cache": True, "error_model": "numpy", "_nrt": False}


def _entry(function: F) -> F:
    try:
        made = numba.njit(**OPTIONS)(function)
    except RuntimeError:  # neither beside the source nor in a home of the user can it be kept
        made = numba.njit(**{**OPTIONS, "cache": False})(function)
    # What is kept is known by the age of its own file alone; the fingerprint adds all others.
    kept = getattr(getattr(made, "_cache", None), "_cache_file", None)
    if kept is not None:
        kept._source_stamp = (kept._source_stamp, fingerprint())
    entry: F = made
    return entry


@_entry
def line_of_day(day: Day) -> float:
    """The line of a day on which the cloth moves no car; its times at the wheel included.

    Belt, front and rows come empty. Returns when the last thing happened [s].
    """
    cars, rows = day.cars, day.rows
    lay_belt(day)
    open_line(day)
    car = 0
    while True:
        arrival = cars.arrival_s[car] if car < len(cars.arrival_s) else math.inf
        now, what = _next(day, math.inf, math.inf, arrival)
        if what == NOTHING:
            break
        if what == ARRIVES:
            arrive(day, car, now)
            car += 1
        else:
            _front_event(day, now, what)
    last = cars.arrival_s[-1] if len(cars.arrival_s) else day.line.open_s
    at = 0
    for place in range(rows.counts[r.ON_BELT]):
        row = rows.order[place]
        at = ride(day, row, at)
        last = max(last, rows.times[row, r.EXIT])
    return last


@inlined
def _next(day: Day, wheel: float, returns: float, arrival: float) -> tuple[float, int]:
    """What happens next, in the order that holds within an instant."""
    front = day.front
    now, what = arrival, ARRIVES
    if front.due[r.PAYMENT] <= now:
        now, what = front.due[r.PAYMENT], PAYS
    if returns <= now:
        now, what = returns, RETURNS
    if wheel <= now:
        now, what = wheel, WHEEL
    if front.due[r.LOADER] <= now:
        now, what = front.due[r.LOADER], LOADS
    if now == math.inf:
        return now, NOTHING
    lanes = next_lane_change(day)
    if lanes <= now:
        return lanes, LANES
    return now, what


@inlined
def _front_event(day: Day, now: float, what: int) -> bool:
    """Let something before the belt happen; whether it stopped the belt."""
    if what == LANES:
        change_lanes(day, now)
    elif what == PAYS:
        end_payments(day, now)
    elif day.front.place[r.CATCHING] == 0:
        end_loading(day, now)
    else:
        return catch_car(day, now)
    return False


@_entry
def whole_day(day: Day, rule: RuleTable) -> float:
    """Line and cloth of a day together, since re-washes, changes of set or weighings move cars.

    Belt, front, rows and wiped come empty. Returns when the last thing happened [s].
    """
    rows = day.rows
    lay_belt(day)
    open_line(day)
    hang_cloth(day)
    car, served, stretch, last = 0, 0, 0, day.line.open_s
    back, sent = 0, 0  # re-washes that are back, and that were sent
    wheel, met = math.inf, False  # the wheel's next moment; whether its hood has been met
    # A car sent round again is back only after its way. Where nothing else of the cloth moves cars,
    # those that passed the wheel half that time ago are wiped at once, one after the other.
    behind = 0.0 if _is_tended(day, rule) else 0.5 * day.line.return_s
    while True:
        arrival = day.cars.arrival_s[car] if car < len(day.cars.arrival_s) else math.inf
        returns = math.inf
        if back < sent:
            returns = rows.times[rows.sent[back], r.EXIT] + day.line.return_s
        now, what = _next(day, wheel, returns, arrival)
        if what == NOTHING:
            break
        stopped = False
        if what == ARRIVES:
            arrive(day, car, now)
            car, last = car + 1, now
        elif what == RETURNS:
            come_back(day, rows.line[rows.sent[back], r.CAR], now)
            back += 1
        elif what == WHEEL and not met:
            met, wheel = True, math.inf
            stopped = _meet_hood(day, rule, rows.order[served], now)
        elif what == WHEEL:
            due, met = now, behind > 0.0
            while due <= now:
                row = rows.order[served]
                stretch = _serve(day, rule, row, stretch)
                served, last = served + 1, max(last, rows.times[row, r.EXIT])
                if day.wiped.marks[row, r.FATE] == r.AGAIN:
                    rows.sent[sent] = row
                    sent += 1
                due = math.inf
                if behind > 0.0 and served < rows.counts[r.ON_BELT]:
                    due = _wheel_due(day, rows.order[served], stretch, True)
            wheel = due + behind
        else:
            stopped = _front_event(day, now, what)
        if stopped:
            stretch = min(stretch, day.belt.laid[r.COUNT] - 1)
            _await_again(day, now)
        if served < rows.counts[r.ON_BELT] and (stopped or wheel == math.inf):
            met = met or not _is_tended(day, rule)
            wheel = _wheel_due(day, rows.order[served], stretch, met) + behind
    _rest(day, last)
    dry_by_hand(day, day.hands.from_s, day.hands.people)
    return last


@inlined
def _await_again(day: Day, now: float) -> None:
    """A stop has been added: whoever waits for a pusher waits anew."""
    front = day.front
    front.place[r.AT_LOADER] = min(front.place[r.AT_LOADER], day.belt.laid[r.COUNT] - 1)
    if front.place[r.CATCHING] and front.due[r.LOADER] != math.inf:
        await_pusher(day, now)


@inlined
def _wheel_due(day: Day, row: int, at: int, seen: bool) -> float:
    """When the wheel meets a car's hood, or once it has, its tail, by the stops known now."""
    line, rows = day.line, day.rows
    car = rows.line[row, r.CAR]
    kind = day.cars.kind[car]
    travel = rows.line[row, r.PUSHER] * line.pitch_m - line.pushed[kind] + line.wheel_m
    travel += day.cars.length_m[car] if seen else line.hood[kind]
    at = reached_in(day, at, travel)
    earliest = (
        rows.times[row, r.CAUGHT]
        if math.isnan(rows.times[row, r.HOOD])
        else rows.times[row, r.HOOD]
    )
    return max(earliest, reached_at(day.belt, at, travel))


@inlined
def _is_tended(day: Day, rule: RuleTable) -> bool:
    """Whether the belt may still be stopped as a hood meets the wheel."""
    sets = day.cloth.cars_wait and day.wiped.places[r.SETS] < len(rule.changes_s)
    return bool(sets or rule.weighs)


@inlined
def _meet_hood(day: Day, rule: RuleTable, row: int, now: float) -> bool:
    """A hood meets the wheel while sets are still to be changed or strips to be weighed; whether
    that stops the belt."""
    state, takes = day.wiped.state, rule.crew.weighing_s
    cover(day, now)
    weighing = weighs(rule, day.wiped, now)
    if weighing and (day.wiped.places[r.SEEN] == 0 or now - state[r.NOW] >= takes):
        weighing = False
        advance(day, now - takes, False)
        state[r.LOCKED_UNTIL] = max(state[r.LOCKED_UNTIL], now)
    advance(day, now, False)
    day.rows.times[row, r.HOOD] = now
    if day.cloth.cars_wait and set_is_due(day, rule, now):
        change_set(day, now)
        takes = day.cloth.change_s
    elif weighing and not is_locked_out(day.wiped, now):
        state[r.LOCKED_UNTIL] = now + takes
    else:
        return False
    stop_belt(day, now, now + takes)
    day.rows.times[row, r.HOOD] = now + takes
    return True


@inlined
def _serve(day: Day, rule: RuleTable, row: int, at: int) -> int:
    """A tail has passed the wheel: the car is wiped, every stop until then being known."""
    at = _reach(day, rule, row, at)
    wipe_car(day, rule, row)
    return at


@inlined
def _reach(day: Day, rule: RuleTable, row: int, at: int) -> int:
    """The cloth as it is when a hood meets the wheel whose tail has passed it now."""
    at = ride(day, row, at)
    hood = day.rows.times[row, r.HOOD]
    cover(day, day.rows.times[row, r.EXIT])
    advance(day, hood, False)
    # where cars wait for a change of set, it was due when the hood met the wheel or not at all
    if not day.cloth.cars_wait and set_is_due(day, rule, hood):
        change_set(day, hood)
    return at


@inlined
def _rest(day: Day, last: float) -> None:
    """Let the wheel turn on from the last car until it comes to rest; it idles from closing on."""
    closed_s = max(last, day.line.close_s)
    rest_s = closed_s + day.line.spin_s
    cover(day, rest_s)
    if day.wiped.state[r.SLOW] > 0.0:
        advance(day, closed_s, False)
        day.wiped.state[r.SLOW] = 0.0
    advance(day, rest_s, False)


@_entry
def cloth_of_day(day: Day, rule: RuleTable, last: float) -> None:
    """The cloth of a day whose line is known, since nothing of the cloth moves any car."""
    cover(day, max(last, day.line.close_s))
    hang_cloth(day)
    rows = day.rows
    for place in range(rows.counts[r.ON_BELT]):
        row = rows.order[place]
        now = rows.times[row, r.HOOD]
        advance(day, now, False)
        if set_is_due(day, rule, now):
            change_set(day, now)
        wipe_car(day, rule, row)
    _rest(day, last)
    dry_by_hand(day, day.hands.from_s, day.hands.people)


@_entry
def cloth_of_rules(
    day: Day,
    book: RuleBook,
    last: float,
    halves: Floats,
    found: Floats,
    plans: HandPlans,
    by_hands: Floats,
) -> None:
    """`cloth_of_day` for every rule of a book in turn, a row of `many.TALLY` each, and a row of
    `hands.PLAN_TALLY` for each timetable of finishers."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(day.wiped)
        cloth_of_day(day, rule, last)
        tally(day, last, halves, found[at])
        count_switches(day, rule, found[at])
        tally_plans(day, plans, by_hands[at])


@_entry
def whole_of_rules(
    day: Day,
    book: RuleBook,
    halves: Floats,
    found: Floats,
    plans: HandPlans,
    by_hands: Floats,
) -> None:
    """`whole_day` for every rule of a book in turn; rows as of `cloth_of_rules`."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(day.wiped)
        day.rows.counts[:] = 0
        last = whole_day(day, rule)
        tally(day, last, halves, found[at])
        count_switches(day, rule, found[at])
        tally_plans(day, plans, by_hands[at])


@_entry
def cloth_together(
    day: Day,
    book: RuleBook,
    tree: Tree,
    last: float,
    halves: Floats,
    found: Floats,
    plans: HandPlans,
    by_hands: Floats,
) -> int:
    """What `cloth_of_rules` finds of rules without watched cues, those that decided alike so far
    sharing their day; how many cars were wiped in all."""
    rows, kept, rule = day.rows, tree.kept, rule_of(book, 0)
    cover(day, max(last, day.line.close_s))
    hang_cloth(day)
    low, high, deep, place, wipes = 0, len(found), 0, 0, 0
    while True:
        if place < rows.counts[r.ON_BELT]:
            row = rows.order[place]
            now = rows.times[row, r.HOOD]
            advance(day, now, False)
            if set_is_due(day, rule, now):
                change_set(day, now)
            reduce = decide(day, book, tree, low, high, row)
            reduced = reduce > 0
            if 0 < reduce < high - low:
                cut = part(tree, low, high)
                keep_cloth(day, kept, deep)
                kept.wholes[deep, ROW], kept.wholes[deep, SERVED] = row, place
                low, high, reduced = _smaller(kept, deep, low, cut, high)
                deep += 1
        else:
            _rest(day, last)
            end_day(day, book, tree, (low, high), last, halves, found, plans, by_hands)
            if deep == 0:
                return wipes
            deep -= 1
            take_up_cloth(day, kept, deep)
            row, place = kept.wholes[deep, ROW], kept.wholes[deep, SERVED]
            low, high = kept.wholes[deep, LOW], kept.wholes[deep, HIGH]
            reduced = kept.wholes[deep, REDUCES] == 1
        wipe_decided(day, row, reduced, 0.0)
        place += 1
        wipes += 1


@inlined
def _smaller(kept: Kept, deep: int, low: int, cut: int, high: int) -> tuple[int, int, bool]:
    """The smaller part of a group, which goes on, and whether it reduces; the other is kept."""
    wholes = kept.wholes[deep]
    if cut - low > high - cut:
        wholes[LOW], wholes[HIGH], wholes[REDUCES] = low, cut, 0
        return cut, high, True
    wholes[LOW], wholes[HIGH], wholes[REDUCES] = cut, high, 1
    return low, cut, False


@_entry
def whole_together(
    day: Day,
    book: RuleBook,
    tree: Tree,
    halves: Floats,
    found: Floats,
    plans: HandPlans,
    by_hands: Floats,
) -> int:
    """What `whole_of_rules` finds of rules without watched cues; see `cloth_together`."""
    rows, kept, rule = day.rows, tree.kept, rule_of(book, 0)
    lay_belt(day)
    open_line(day)
    hang_cloth(day)
    car, served, stretch, last = 0, 0, 0, day.line.open_s
    back, sent = 0, 0
    wheel, met = math.inf, False
    low, high, deep, wipes = 0, len(found), 0, 0
    while True:
        arrival = day.cars.arrival_s[car] if car < len(day.cars.arrival_s) else math.inf
        returns = math.inf
        if back < sent:
            returns = rows.times[rows.sent[back], r.EXIT] + day.line.return_s
        now, what = _next(day, wheel, returns, arrival)
        stopped, wiping, row, reduced = False, False, 0, False
        if what == NOTHING:
            _rest(day, last)
            end_day(day, book, tree, (low, high), last, halves, found, plans, by_hands)
            if deep == 0:
                return wipes
            deep -= 1
            take_up_cloth(day, kept, deep)
            take_up_line(day, kept, deep)
            wholes = kept.wholes[deep]
            car, served, stretch = wholes[CAR], wholes[SERVED], wholes[STRETCH]
            back, sent, row = wholes[BACK], wholes[SENT], wholes[ROW]
            low, high, reduced = wholes[LOW], wholes[HIGH], wholes[REDUCES] == 1
            now, wiping, what = kept.moments[deep], True, WHEEL
        elif what == ARRIVES:
            arrive(day, car, now)
            car, last = car + 1, now
        elif what == RETURNS:
            come_back(day, rows.line[rows.sent[back], r.CAR], now)
            back += 1
        elif what == WHEEL and not met:
            met = True
            stopped = _meet_hood(day, rule, rows.order[served], now)
        elif what == WHEEL:
            row, wiping = rows.order[served], True
            stretch = _reach(day, rule, row, stretch)
            reduce = decide(day, book, tree, low, high, row)
            reduced = reduce > 0
            if 0 < reduce < high - low:
                cut = part(tree, low, high)
                keep_cloth(day, kept, deep)
                keep_line(day, kept, deep, rows.times[row, r.HOOD])
                wholes = kept.wholes[deep]
                wholes[CAR], wholes[SERVED], wholes[STRETCH] = car, served, stretch
                wholes[BACK], wholes[SENT], wholes[ROW] = back, sent, row
                kept.moments[deep] = now
                low, high, reduced = _smaller(kept, deep, low, cut, high)
                deep += 1
        else:
            stopped = _front_event(day, now, what)
        if wiping:
            wipe_decided(day, row, reduced, 0.0)
            wipes += 1
            served, last, met = served + 1, now, False
            if day.wiped.marks[row, r.FATE] == r.AGAIN:
                rows.sent[sent] = row
                sent += 1
        if stopped:
            stretch = min(stretch, day.belt.laid[r.COUNT] - 1)
            _await_again(day, now)
        if what == WHEEL:
            wheel = math.inf
        if served < rows.counts[r.ON_BELT] and (stopped or wheel == math.inf):
            met = met or not _is_tended(day, rule)
            wheel = _wheel_due(day, rows.order[served], stretch, met)


figures_of_day, nodes_of_day = _entry(gather), _entry(lay_nodes)
plan_of_day, belt_travel = _entry(best_plan), _entry(travel_at)

for _function, _is_inlined in marked():
    register_jitable(forceinline=_is_inlined)(_function)
