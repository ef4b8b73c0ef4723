"""Many wiping rules on one day, with only what a search needs to know of each, and foresight.

What perfect foresight could do with a day is bounded so that no order of full and reduced wipes
beats it. All roundings favour the bound. More moisture before a car never means less after it (each
map is non-decreasing) and two cloths never drift apart on the same car (each map moves no two
points farther from one another), since uptake is affine with a slope from 0 to 1 and drying and
throw-off are the faster the wetter the cloth. So between nodes x₁ < x < x₂ moisture afterwards is
at least max(A(x₁), A(x₂) − (x₂ − x)), and of two plans for the cars so far the one with more value
and less moisture leaves nothing to regret. Uptake falls with wear, and wear differs between plans:
water is taken with the least uptake that any plan has by then, film is left by the most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sim.day.cues import CrewDay
from sim.day.kernel.line import Belt
from sim.day.kernel.stats import add_change_work, add_pass_work, overload
from sim.day.kernel.tables import (
    AGAIN,
    BEFORE,
    CAR,
    DAMP,
    EXIT,
    FATE,
    FILM,
    HOOD,
    KEPT,
    LEAVES,
    LOST,
    ON_BELT,
    REAR_WET,
    REDUCED,
    REMAINS,
    ROWS,
    TOWEL,
    TURN,
    UNWIPED,
    ZONES,
    Bools,
    CarTable,
    Cloth,
    Floats,
    Ints,
    LineNumbers,
    LineRows,
    Wiped,
    Work,
)
from sim.day.kernel.wheel import (
    DAY_WEAR,
    HOUR,
    HOUR_END,
    MOISTURE,
    NOW,
    SET_WEAR,
    SETS,
    STRETCH,
    CueTable,
    RuleTable,
    advance,
    forget_cues,
    hang_cloth,
    is_reduced,
    make_rule_table,
    see_car,
    wipe_car,
)
from sim.day.rules import Rule, SetChange
from sim.inputs import Site
from sim.physics.mark import inlined
from sim.physics.water_film import uptake_now
from sim.physics.wear import spinning_wear

TALLY = (
    "cars_washed", "cars_lost", "damp_cars", "rear_wet", "full_cars", "passes", "reduced",
    "left_damp", "finished_cars", "rewashed_cars", "wear_cars", "switches", "apart_s", "last_s",
    "sets_changed", "overload_s",
)  # fmt: skip
"""What is kept of each rule's day, in the order of the columns.

A *switch* is a change of the wiping from one car to the next, whatever asks for it: the clock, the
cloth, or that the next car is of another class, since nothing in the model tells the machine a
class by itself. Only what was sold is no switch, as that comes with the car's wash program. Always
full and always reduced never switch. `apart_s` is the shortest time between two switches that
follow one another [s], infinite with fewer than two.
"""

(
    T_WASHED, T_LOST, T_DAMP, T_REAR, T_FULL, T_PASSES, T_REDUCED, T_LEFT, T_FINISHED, T_AGAIN,
    T_WEAR, T_SWITCHES, T_APART, T_LAST, T_SETS, T_OVERLOAD,
) = range(16)  # fmt: skip


class RuleBook(NamedTuple):
    """Rule tables of many rules, one after the other; all have the same dry sets and crew.

    Attributes:
        everyone, rows: of each rule, see `RuleTable`.
        starts: where each rule's terms, windows, bands, named classes and watched cues begin, and
            where those of the last end; shape (rules + 1, 5).
    """

    everyone: Bools
    rows: Ints
    starts: Ints
    terms: Ints
    windows: Floats
    bands: Floats
    classes: Bools
    changes_s: Floats
    changes_at: Floats
    watches: Floats
    crew: CueTable


def make_rule_book(
    site: Site, rules: Sequence[Rule], crew: CrewDay, changes: tuple[SetChange, ...] = ()
) -> RuleBook:
    """The rules of a search as arrays."""
    tables = [make_rule_table(site, rule, changes, crew) for rule in rules]
    sizes = [
        (len(t.terms), len(t.windows), len(t.bands), len(t.classes), len(t.watches)) for t in tables
    ]
    starts = np.zeros((len(tables) + 1, 5), np.int64)
    np.cumsum(np.array(sizes, dtype=np.int64).reshape(-1, 5), axis=0, out=starts[1:])
    return RuleBook(
        np.array([t.everyone for t in tables], dtype=np.bool_),
        np.array([t.rows for t in tables], dtype=np.int64),
        starts,
        np.concatenate([t.terms for t in tables]),
        np.concatenate([t.windows for t in tables]),
        np.concatenate([t.bands for t in tables]),
        np.concatenate([t.classes for t in tables]),
        tables[0].changes_s,
        tables[0].changes_at,
        np.concatenate([t.watches for t in tables]),
        tables[0].crew,
    )


@inlined
def rule_of(book: RuleBook, at: int) -> RuleTable:
    """One rule of a book, as views of its arrays."""
    begin, end = book.starts[at], book.starts[at + 1]
    return RuleTable(
        book.everyone[at],
        book.rows[at],
        book.terms[begin[0] : end[0]],
        book.windows[begin[1] : end[1]],
        book.bands[begin[2] : end[2]],
        book.classes[begin[3] : end[3]],
        book.changes_s,
        book.changes_at,
        book.watches[begin[4] : end[4]],
        book.crew,
    )


@inlined
def wipe_anew(wiped: Wiped) -> None:
    """Make the cloth's part of a day empty again."""
    for at in range(len(wiped.state)):
        wiped.state[at] = 0.0
    for at in range(len(wiped.places)):
        wiped.places[at] = 0


@inlined
def tally(
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    rule: RuleTable,
    rows: LineRows,
    wiped: Wiped,
    last: float,
    halves: Floats,
    found: Floats,
) -> None:
    """What a search needs of a day that has been run, into one row of shape (len(TALLY),).

    Args:
        halves: room for the work by half-hour, shape (48,).
    """
    for at in range(len(found)):
        found[at] = 0.0
    for at in range(len(halves)):
        halves[at] = 0.0
    for row in range(rows.counts[ROWS]):
        if rows.line[row, LOST] != KEPT:
            found[T_LOST] += 1.0
            continue
        marks = wiped.marks[row]
        found[T_PASSES] += 1.0
        found[T_REDUCED] += marks[REDUCED]
        found[T_LEFT] += marks[FATE] == LEAVES
        found[T_FINISHED] += marks[FATE] == TOWEL
        found[T_AGAIN] += marks[FATE] == AGAIN
        hand = work.hand[cars.kind[rows.line[row, CAR]]]
        add_pass_work(work, hand, halves, rows.times[row], marks)
        if rows.line[row, TURN] == 1:
            found[T_WASHED] += 1.0
            found[T_DAMP] += marks[DAMP]
            found[T_REAR] += marks[REAR_WET]
            found[T_FULL] += marks[REDUCED] == 0 and marks[UNWIPED] == 0
    found[T_WEAR] = wiped.state[DAY_WEAR]
    found[T_LAST] = last
    add_change_work(work, wiped, halves)
    found[T_SETS] = wiped.places[SETS]
    found[T_OVERLOAD] = overload(work, halves, last)
    _count_switches(cloth, cars, rule, rows, wiped, found)


@inlined
def _count_switches(
    cloth: Cloth, cars: CarTable, rule: RuleTable, rows: LineRows, wiped: Wiped, found: Floats
) -> None:
    """Changes of the wiping that the rule asks for, from each car at the wheel to the next."""
    forget_cues(wiped)
    before, since = -1, -math.inf
    found[T_APART] = math.inf
    for place in range(rows.counts[ON_BELT]):
        row = rows.order[place]
        now = rows.times[row, HOOD]
        saturation = wiped.moisture[row, BEFORE] / cloth.holding
        see_car(rule, rows, wiped, now, saturation)
        asked = int(is_reduced(rule, wiped, now, cars.kind[rows.line[row, CAR]], False))
        if before >= 0 and asked != before:
            found[T_SWITCHES] += 1.0
            found[T_APART] = min(found[T_APART], now - since)
            since = now
        before = asked


IN_FULL, IN_PART = 0, 1
ROUNDING = 1e-10
"""Moisture by which each car's map is lowered [kg/kg], above all that rounding can do."""
HALVINGS = 40
WORN_BEFORE, WORN_AFTER = 0, 1


class Nodes(NamedTuple):
    """Each car's maps of moisture, from its hood at the wheel to the next car's.

    Attributes:
        low, step: least moisture that any plan can bring, and the distance of nodes; (cars,).
        after: moisture afterwards by way of wiping and node, shape (cars, 2, nodes).
        damp_from: moisture from which on the car leaves damp, shape (cars,).
        worn: least wear by way of wiping, the spinning until the next car included, (cars, 2).
        ends: wear before the first car and after the last, shape (2,).
    """

    low: Floats
    step: Floats
    after: Floats
    damp_from: Floats
    worn: Floats
    ends: Floats


def empty_nodes(cars: int, nodes: int) -> Nodes:
    """Room for the maps of so many cars."""
    return Nodes(
        np.zeros(cars),
        np.zeros(cars),
        np.zeros((cars, 2, nodes)),
        np.zeros(cars),
        np.full((cars, 2), math.inf),
        np.zeros(2),
    )


@inlined
def _wipe(
    cloth: Cloth, cars: CarTable, rule: RuleTable, belt: Belt, rows: LineRows, wiped: Wiped,
    row: int, until: float, moisture: float, wear: float, hour: int, hour_end: float, stretch: int,
) -> float:  # fmt: skip
    """Moisture at a later time after wiping a car with a cloth of some moisture and wear."""
    state = wiped.state
    state[MOISTURE], state[NOW], state[HOUR_END] = moisture, rows.times[row, HOOD], hour_end
    state[SET_WEAR], state[DAY_WEAR] = wear, 0.0
    wiped.places[HOUR], wiped.places[STRETCH] = hour, stretch
    wipe_car(cloth, cars, rule, belt, rows, wiped, row)
    advance(cloth, belt, wiped, until, False)
    return float(state[MOISTURE])


@inlined
def _is_damp(cloth: Cloth, wiped: Wiped, row: int, spare: float) -> bool:
    """Whether hood or windshield were left damp even with so much more uptake."""
    damp = False
    for zone in range(2):
        film, left = wiped.detail[row, FILM + zone], wiped.detail[row, REMAINS + zone]
        damp |= left - cloth.wiped_share * film * spare > cloth.allowed_film + 1e-12
    return damp


@inlined
def lay_nodes(
    line: LineNumbers, cloth: Cloth, cars: CarTable, full: RuleTable, reduced: RuleTable,
    belt: Belt, rows: LineRows, wiped: Wiped, last: float, nodes: Nodes,
) -> None:  # fmt: skip
    """Every car's maps on a day whose line is known; `wiped` empty, with detail, without hours.

    The belt must have been laid beyond the moment at which the wheel comes to rest.
    """
    count, points = rows.counts[ON_BELT], nodes.after.shape[2]
    hang_cloth(cloth, wiped)
    state, places = wiped.state, wiped.places
    if count:
        advance(cloth, belt, wiped, rows.times[rows.order[0], HOOD], False)
    nodes.ends[WORN_BEFORE] = state[DAY_WEAR]
    low = high = state[MOISTURE]
    least = most = state[SET_WEAR]
    share = 0.0
    for each in cloth.share:
        share = max(share, each)
    for place in range(count):
        row = rows.order[place]
        now = rows.times[row, HOOD]
        until = rows.times[row, EXIT]
        if place + 1 < count:
            until = max(until, rows.times[rows.order[place + 1], HOOD])
        hour, hour_end, stretch = places[HOUR], state[HOUR_END], places[STRETCH]
        least_after, most_after = _worn(cloth, cars, rows, row, least, most)
        most_after += spinning_wear(until - now, cloth.idle_wear_per_h)
        spare = share * (
            uptake_now(cloth.uptake_max, cloth.uptake_loss, least, cloth.life_scale_cars)
            - uptake_now(cloth.uptake_max, cloth.uptake_loss, most_after, cloth.life_scale_cars)
        )
        # the widest that plans can be apart: the driest and the wettest of either way
        wettest = max(
            _wipe(cloth, cars, full, belt, rows, wiped, row, until, high, least, hour, hour_end,
                  stretch),
            _wipe(cloth, cars, reduced, belt, rows, wiped, row, until, high, least, hour, hour_end,
                  stretch),
        )  # fmt: skip
        nodes.low[place] = low
        nodes.step[place] = (high - low) / (points - 1)
        dry, wet = math.nan, math.nan
        for node in range(points):
            x = low + node * nodes.step[place]
            for way in range(2):
                rule = full if way == IN_FULL else reduced
                nodes.after[place, way, node] = _wipe(
                    cloth, cars, rule, belt, rows, wiped, row, until, x, most_after, hour,
                    hour_end, stretch,
                )  # fmt: skip
                nodes.worn[place, way] = min(nodes.worn[place, way], state[DAY_WEAR])
            if _is_damp(cloth, wiped, row, spare):
                if math.isnan(wet):
                    wet = x
            elif math.isnan(wet):
                dry = x
        if math.isnan(wet):
            nodes.damp_from[place] = math.inf
        elif math.isnan(dry):
            nodes.damp_from[place] = -math.inf
        else:
            for _ in range(HALVINGS):
                middle = 0.5 * (dry + wet)
                _wipe(cloth, cars, full, belt, rows, wiped, row, until, middle, most_after, hour,
                      hour_end, stretch)  # fmt: skip
                if _is_damp(cloth, wiped, row, spare):
                    wet = middle
                else:
                    dry = middle
            nodes.damp_from[place] = wet
        low = min(nodes.after[place, IN_FULL, 0], nodes.after[place, IN_PART, 0]) - ROUNDING
        high = wettest
        least, most = least_after, most_after
        # where clock and belt stand when the next hood comes does not depend on the plan
        state[NOW] = max(state[NOW], until)
    rest_s = max(last, line.close_s) + line.spin_s
    state[DAY_WEAR] = 0.0
    advance(cloth, belt, wiped, rest_s, False)
    nodes.ends[WORN_AFTER] = state[DAY_WEAR]


@inlined
def _worn(
    cloth: Cloth, cars: CarTable, rows: LineRows, row: int, least: float, most: float
) -> tuple[float, float]:
    """Least and most wear of the set once a car has been wiped."""
    kind = cars.kind[rows.line[row, 0]]
    for zone in range(ZONES):
        if math.isnan(cloth.factor[kind, zone]):
            continue
        low, high = math.inf, 0.0
        for at in range(len(cloth.speed_from)):
            low = min(low, cloth.dry_wear[at, kind, zone])
            high = max(high, cloth.dry_wear[at, kind, zone])
        if zone < 2:
            least += low * min(1.0, cloth.wet_factor)
        most += high * max(1.0, cloth.wet_factor)
    return least, most


@inlined
def best_plan(
    nodes: Nodes, gain: Floats, price: Floats, moisture: Floats, value: Floats, damp: Floats
) -> float:
    """Most value that any plan has on a day, at least: gains of its cars less prices of damp ones.

    Plans are carried from car to car by the driest for their value. If there are more than room
    for them, those in the same cell of moisture become one with the moisture of the driest and
    the value of the best.

    Args:
        gain: by car and way of wiping, shape (cars, 2); price: of a damp car, shape (cars,).
        moisture, value, damp: room to work in, shape (2, 2 · cells) each.

    Returns:
        The value; damp cars of the plan that has it are left in damp[0, 0].
    """
    cells = moisture.shape[1] // 2
    count, here, points = 1, 0, nodes.after.shape[2]
    moisture[0, 0], value[0, 0], damp[0, 0] = nodes.low[0], 0.0, 0.0
    for car in range(len(price)):
        there = 1 - here
        low, step = nodes.low[car], nodes.step[car]
        # both ways keep the order of moisture, so the two lists of children are merged
        first = second = kept = 0
        best = -math.inf
        while first < count or second < count:
            x0 = _after(nodes.after[car, 0], low, step, points, moisture[here], first, count)
            x1 = _after(nodes.after[car, 1], low, step, points, moisture[here], second, count)
            if x0 <= x1:
                way, one, x = 0, first, x0
                first += 1
            else:
                way, one, x = 1, second, x1
                second += 1
            wet = moisture[here, one] >= nodes.damp_from[car]
            worth = value[here, one] + gain[car, way] - (price[car] if wet else 0.0)
            if worth > best:
                if kept and moisture[there, kept - 1] == x:
                    kept -= 1
                moisture[there, kept], value[there, kept] = x, worth
                damp[there, kept] = damp[here, one] + wet
                kept += 1
                best = worth
        here, count = there, kept
        if count > cells:
            count = _thin(moisture[here], value[here], damp[here], count, cells)
    found = value[here, count - 1]
    damp[0, 0] = damp[here, count - 1]
    return float(found)


@inlined
def _after(
    after: Floats, low: float, step: float, points: int, moisture: Floats, at: int, count: int
) -> float:
    """Least moisture after a car, of a plan that brings some moisture; infinite beyond the last."""
    if at >= count:
        return math.inf
    x = moisture[at]
    if not step > 0.0:
        return after[0] - ROUNDING
    node = min(max(int((x - low) / step), 0), points - 2)
    above = low + (node + 1) * step
    return max(after[node], after[node + 1] - max(0.0, above - x)) - ROUNDING


@inlined
def _thin(moisture: Floats, value: Floats, damp: Floats, count: int, cells: int) -> int:
    """Make plans in the same cell one, in favour of the bound."""
    low = moisture[0]
    width = max((moisture[count - 1] - low) / cells, 1e-300)
    kept, cell = 0, -1
    for one in range(count):
        mine = min(int((moisture[one] - low) / width), cells - 1)
        if mine != cell:
            moisture[kept] = moisture[one]
            kept, cell = kept + 1, mine
        value[kept - 1], damp[kept - 1] = value[one], damp[one]
    return kept
