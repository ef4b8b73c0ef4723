"""Many wiping rules on one day at once: rules that have decided alike so far share their day.

A day is what its draw and the decisions so far make of it. All rules of a book therefore run as one
group until they first disagree on a car. There the group is parted: the day is kept as it stands,
the smaller part goes on, and the larger is taken up from there when the day of the smaller is over.
Every figure is the very one that a rule's day by itself has, to the last bit.

The smaller part goes first, so no more days are kept at a time than the rules can be halved. What
happened before the parting stands in rows that no part writes again; only what is still on its way
is kept.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.kernel import tables as r
from sim.day.kernel.hands import HandPlans, dry_by_hand, tally_plans
from sim.day.kernel.many import T_APART_S, T_SWITCHES, RuleBook, rule_of, tally
from sim.day.kernel.tables import Belt, Bools, Day, Floats, Ints, QueueState
from sim.day.kernel.wheel import is_reduced, see_car
from sim.physics.mark import inlined

(LOW, HIGH, REDUCES, ROW, SERVED, STRETCH, CAR, BACK, SENT, FIRST_KEPT) = range(10)
WHOLES = 10
"""Places of `Kept.wholes`: the part and what it decides, where the day stands, and the first
stretch of the belt that is kept."""


class Kept(NamedTuple):
    """Days as they stood where groups were parted; the first axis of each is how many are kept.

    Attributes:
        wholes: see `WHOLES`; moments: when it was kept [s], shape (kept,).
        state, places: of `Wiped`; counts: of `LineRows`.
        head, tail, lane_car, lane_end, place, due: of `QueueState`.
        start_s, end_s, travel_m, speed, clock, laid: of `Belt`, from its first stretch on that may
            still change.
    """

    wholes: Ints
    moments: Floats
    state: Floats
    places: Ints
    counts: Ints
    head: Ints
    tail: Ints
    lane_car: Ints
    lane_end: Floats
    place: Ints
    due: Floats
    start_s: Floats
    end_s: Floats
    travel_m: Floats
    speed: Floats
    clock: Ints
    laid: Ints


class Tree(NamedTuple):
    """Rules in their groups.

    Attributes:
        rules: their numbers, group by group; other: room for parting them.
        reduces: whether each reduces the car at the wheel.
        asked: what each asked for the last car, −1 before the first; since: when it last asked for
            something else [s]; switches, apart_s: see `many.TALLY`.
        kept: what is taken up later.
    """

    rules: Ints
    other: Ints
    reduces: Bools
    asked: Ints
    since: Floats
    switches: Floats
    apart_s: Floats
    kept: Kept


def empty_tree(rules: int, belt: Belt, front: QueueState) -> Tree:
    """Room for so many rules on a day with such a belt and line."""
    deep, stretches, lanes = max(1, rules.bit_length()), len(belt.start_s), len(front.lane_car)

    def floats(count: int) -> Floats:
        return np.empty((deep, count))

    def ints(count: int) -> Ints:
        return np.empty((deep, count), np.int64)

    return Tree(
        np.arange(rules),
        np.empty(rules, np.int64),
        np.empty(rules, np.bool_),
        np.full(rules, -1, np.int64),
        np.full(rules, -math.inf),
        np.zeros(rules),
        np.full(rules, math.inf),
        Kept(
            ints(WHOLES), np.empty(deep), floats(r.STATE), ints(5), ints(2),
            ints(r.QUEUES), ints(r.QUEUES), ints(lanes), floats(lanes), ints(8), floats(2),
            floats(stretches), floats(stretches), floats(stretches), floats(stretches),
            ints(stretches), ints(1),
        ),
    )  # fmt: skip


@inlined
def decide(day: Day, book: RuleBook, tree: Tree, low: int, high: int, row: int) -> int:
    """Let every rule of a group see the car whose hood meets the wheel; how many reduce it."""
    wiped = day.wiped
    now, car = day.rows.times[row, r.HOOD], day.rows.line[row, r.CAR]
    saturation = wiped.state[r.MOISTURE] / day.cloth.holding
    kind, sold_full = day.cars.kind[car], day.cars.sold_full[car]
    count = 0
    for at in range(low, high):
        one = tree.rules[at]
        rule = rule_of(book, one)
        see_car(day, rule, now, saturation)
        asked = is_reduced(rule, wiped, now, kind, False)
        if tree.asked[one] >= 0 and asked != (tree.asked[one] == 1):
            tree.switches[one] += 1.0
            tree.apart_s[one] = min(tree.apart_s[one], now - tree.since[one])
            tree.since[one] = now
        tree.asked[one] = asked
        reduces = is_reduced(rule, wiped, now, kind, True) if sold_full else asked
        tree.reduces[one] = reduces
        count += reduces
    return count


@inlined
def part(tree: Tree, low: int, high: int) -> int:
    """Put the rules of a group that do not reduce the car at the wheel first; where the others
    begin."""
    cut, rest = low, 0
    for at in range(low, high):
        one = tree.rules[at]
        if tree.reduces[one]:
            tree.other[rest] = one
            rest += 1
        else:
            tree.rules[cut] = one
            cut += 1
    for at in range(rest):
        tree.rules[cut + at] = tree.other[at]
    return cut


@inlined
def _copy(source: Floats | Ints, target: Floats | Ints) -> None:
    for at in range(len(source)):
        target[at] = source[at]


@inlined
def keep_cloth(day: Day, kept: Kept, deep: int) -> None:
    """Keep the cloth as it stands."""
    _copy(day.wiped.state, kept.state[deep])
    _copy(day.wiped.places, kept.places[deep])


@inlined
def take_up_cloth(day: Day, kept: Kept, deep: int) -> None:
    """The cloth as it was kept."""
    _copy(kept.state[deep], day.wiped.state)
    _copy(kept.places[deep], day.wiped.places)


@inlined
def keep_line(day: Day, kept: Kept, deep: int, now: float) -> None:
    """Keep line and belt as they stand.

    Args:
        now: no stop of the belt that is still to be added begins before this.
    """
    belt, front = day.belt, day.front
    _copy(day.rows.counts, kept.counts[deep])
    _copy(front.head, kept.head[deep])
    _copy(front.tail, kept.tail[deep])
    _copy(front.lane_car, kept.lane_car[deep])
    _copy(front.lane_end, kept.lane_end[deep])
    _copy(front.place, kept.place[deep])
    _copy(front.due, kept.due[deep])
    count = belt.laid[r.COUNT]
    first = count
    while first > 0 and belt.end_s[first - 1] >= now:
        first -= 1
    first = max(0, first - 1)  # a stop that ends as another begins is lengthened
    kept.laid[deep, r.COUNT] = count
    kept.wholes[deep, FIRST_KEPT] = first
    for at in range(first, count):
        kept.start_s[deep, at] = belt.start_s[at]
        kept.end_s[deep, at] = belt.end_s[at]
        kept.travel_m[deep, at] = belt.travel_m[at]
        kept.speed[deep, at] = belt.speed[at]
        kept.clock[deep, at] = belt.clock[at]


@inlined
def take_up_line(day: Day, kept: Kept, deep: int) -> None:
    """Line and belt as they were kept; nobody behind the car at the wheel has met it yet."""
    belt, front, rows = day.belt, day.front, day.rows
    _copy(kept.counts[deep], rows.counts)
    _copy(kept.head[deep], front.head)
    _copy(kept.tail[deep], front.tail)
    _copy(kept.lane_car[deep], front.lane_car)
    _copy(kept.lane_end[deep], front.lane_end)
    _copy(kept.place[deep], front.place)
    _copy(kept.due[deep], front.due)
    count = kept.laid[deep, r.COUNT]
    belt.laid[r.COUNT] = count
    for at in range(kept.wholes[deep, FIRST_KEPT], count):
        belt.start_s[at] = kept.start_s[deep, at]
        belt.end_s[at] = kept.end_s[deep, at]
        belt.travel_m[at] = kept.travel_m[deep, at]
        belt.speed[at] = kept.speed[deep, at]
        belt.clock[at] = kept.clock[deep, at]
    for place in range(kept.wholes[deep, SERVED] + 1, rows.counts[r.ON_BELT]):
        rows.times[rows.order[place], r.HOOD] = math.nan


@inlined
def end_day(
    day: Day,
    book: RuleBook,
    tree: Tree,
    part_of: tuple[int, int],
    last: float,
    halves: Floats,
    found: Floats,
    plans: HandPlans,
    by_hands: Floats,
) -> None:
    """The day of a group is over: what is kept of it, for each of its rules.

    Args:
        part_of: where the group begins, and where the next one does.
    """
    low, high = part_of
    first = tree.rules[low]
    dry_by_hand(day, day.hands.from_s, day.hands.people)
    tally(day, last, halves, found[first])
    tally_plans(day, plans, by_hands[first])
    for at in range(low, high):
        one = tree.rules[at]
        if one != first:
            _copy(found[first], found[one])
            for plan in range(len(by_hands[first])):
                _copy(by_hands[first, plan], by_hands[one, plan])
        found[one, T_SWITCHES], found[one, T_APART_S] = tree.switches[one], tree.apart_s[one]
