"""Many wiping rules on one day, with only what a search needs to know of each, and foresight.

What perfect foresight could do with a day is bounded so that no order of full and reduced wipes
beats it. All roundings favour the bound. More moisture before a car never means less after it (each
map is non-decreasing) and two cloths never drift apart on the same car (each map moves no two
points farther from one another), since uptake is affine with a slope from 0 to 1 and drying and
throw-off are the faster the wetter the cloth. So between nodes x₁ < x < x₂ moisture afterwards is
at least max(A(x₁), A(x₂) − (x₂ − x)), and of two plans for the cars so far the one with more value
and less moisture leaves nothing to regret. Uptake falls with wear, and wear differs between plans:
water is taken with the least uptake that any plan has by then, film is left by the most. Soil takes
uptake too, but every plan wipes every car, so before each it is the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sim.day.crew import CrewDay
from sim.day.figures import HALF_HOURS, named
from sim.day.kernel import tables as r
from sim.day.kernel.line import cover
from sim.day.kernel.stats import (
    M_MEMBER_WAITS_S,
    MINDED,
    add_change_work,
    add_left,
    add_lost,
    add_pass_work,
    overload,
    wait_of,
)
from sim.day.kernel.tables import Bools, Day, Floats, Ints, Wiped
from sim.day.kernel.wheel import (
    CueTable,
    RuleTable,
    advance,
    forget_cues,
    hang_cloth,
    is_reduced,
    make_cue_table,
    make_rule_table,
    see_car,
    wipe_car,
)
from sim.day.rules import CrewClock, Rule, SetChange, Watched
from sim.day.setup import CONTACT, IDLE
from sim.inputs import Site
from sim.physics.mark import inlined
from sim.physics.water_film import uptake_now
from sim.physics.wear import spinning_wear

(
    T_CARS_WASHED, T_CARS_LOST, T_DAMP_CARS, T_REAR_WET, T_FULL_CARS, T_PASSES, T_REDUCED,
    T_LEFT_DAMP, T_FINISHED_CARS, T_REWASHED_CARS, T_WEAR_CARS, T_SWITCHES, T_APART_S, T_LAST_S,
    T_SETS_CHANGED, T_OVERLOAD_S, T_LOOKS_S,
) = range(17)  # fmt: skip
TALLY = (*named(globals(), "T_"), *MINDED)
"""What is kept of each rule's day, in the order of the columns.

A *switch* is a change of the wiping from one car to the next, whatever asks for it: the clock, the
cloth, or that the next car is of another class, since nothing in the model tells the machine a
class by itself. Only what was sold is no switch, as that comes with the car's wash program. Always
full and always reduced never switch. `apart_s` is the shortest time between two switches that
follow one another [s], infinite with fewer than two.
"""
T_MINDED = len(TALLY) - len(MINDED)
"""Where what people mind begins."""


BOOKS_KEPT = 64


class RuleBook(NamedTuple):
    """Rule tables of many rules, one after the other; all have the same dry sets and crew.

    Attributes:
        everyone, rows, weighs: of each rule, see `RuleTable`.
        starts: where each rule's terms, windows, bands, named classes and watched cues begin, and
            where those of the last end; shape (rules + 1, 5).
    """

    everyone: Bools
    rows: Ints
    weighs: Bools
    starts: Ints
    terms: Ints
    windows: Floats
    bands: Floats
    classes: Bools
    changes_s: Floats
    changes_at: Floats
    watches: Floats
    crew: CueTable


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a book is made from; two are the same whatever their sites and crews if no rule goes by
    the crew, since then these make no difference."""

    keys: tuple[str, ...]
    rules: tuple[Rule, ...]
    changes: tuple[SetChange, ...]
    site: Site = field(compare=False)
    crew: CrewDay = field(compare=False)

    @property
    def goes_by_crew(self) -> bool:
        """Whether the crew carries out any of the rules."""
        terms = (term for rule in self.rules for row in rule.either for term in row)
        return any(isinstance(term, CrewClock | Watched) for term in terms)

    def book(self) -> RuleBook:
        """Made anew."""
        tables = [make_rule_table(self.site, one, self.changes, self.crew) for one in self.rules]
        return _bound(tables)


@lru_cache(maxsize=BOOKS_KEPT)
def _kept_book(asked: _Asked) -> RuleBook | None:
    return None if asked.goes_by_crew else asked.book()


def make_rule_book(
    site: Site, rules: Sequence[Rule], crew: CrewDay, changes: tuple[SetChange, ...] = ()
) -> RuleBook:
    """The rules of a search as arrays; those that no crew carries out are kept for other draws."""
    keys = tuple(item.key for item in site.vehicles)
    asked = _Asked(keys, tuple(rules), changes, site, crew)
    kept = _kept_book(asked)
    return asked.book() if kept is None else kept._replace(crew=make_cue_table(crew))


def _bound(tables: Sequence[RuleTable]) -> RuleBook:
    sizes = [
        (len(t.terms), len(t.windows), len(t.bands), len(t.classes), len(t.watches)) for t in tables
    ]
    starts = np.zeros((len(tables) + 1, 5), np.int64)
    np.cumsum(np.array(sizes, dtype=np.int64).reshape(-1, 5), axis=0, out=starts[1:])
    return RuleBook(
        np.array([t.everyone for t in tables], dtype=np.bool_),
        np.array([t.rows for t in tables], dtype=np.int64),
        np.array([t.weighs for t in tables], dtype=np.bool_),
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
        book.weighs[at],
        book.crew,
        begin[2],
    )


@inlined
def wipe_anew(wiped: Wiped) -> None:
    """Make the cloth's part of a day empty again."""
    for at in range(len(wiped.state)):
        wiped.state[at] = 0.0
    for at in range(len(wiped.places)):
        wiped.places[at] = 0


@inlined
def tally(day: Day, last: float, halves: Floats, found: Floats) -> None:
    """What a search needs of a day that has been run, switches apart, into one row of shape
    (len(TALLY),).

    Args:
        halves: room for the work by half-hour, shape (2, 48).
    """
    work, rows, wiped = day.work, day.rows, day.wiped
    for at in range(len(found)):
        found[at] = 0.0
    for who in range(2):
        for at in range(HALF_HOURS):
            halves[who, at] = 0.0
    minded = found[T_MINDED:]
    for row in range(rows.counts[r.ROWS]):
        car = rows.line[row, r.CAR]
        member = day.cars.member[car]
        if rows.line[row, r.LOST] != r.KEPT:
            found[T_CARS_LOST] += 1.0
            add_lost(minded, member, day.cars.patience_s[car])
            continue
        marks = wiped.marks[row]
        add_left(minded, member, marks)
        found[T_PASSES] += 1.0
        found[T_REDUCED] += marks[r.REDUCED]
        found[T_LEFT_DAMP] += marks[r.FATE] == r.LEAVES
        found[T_FINISHED_CARS] += marks[r.FATE] == r.TOWEL
        found[T_REWASHED_CARS] += marks[r.FATE] == r.AGAIN
        hand = work.hand[day.cars.kind[car]]
        add_pass_work(work, hand, halves, rows.times[row], marks, wiped.hands[row])
        found[T_LOOKS_S] += wiped.moisture[row, r.LOOKED]
        if rows.line[row, r.TURN] == 1:
            found[T_CARS_WASHED] += 1.0
            found[T_DAMP_CARS] += marks[r.DAMP]
            found[T_REAR_WET] += marks[r.ROOF_WET] | marks[r.REAR_WET]
            if member:
                minded[M_MEMBER_WAITS_S] += wait_of(rows.times[row])
            found[T_FULL_CARS] += marks[r.REDUCED] == 0 and marks[r.UNWIPED] == 0
    found[T_WEAR_CARS] = wiped.state[r.DAY_WEAR]
    found[T_LAST_S] = last
    add_change_work(day, halves)
    found[T_SETS_CHANGED] = wiped.places[r.SETS]
    found[T_OVERLOAD_S] = overload(work, halves, last)


@inlined
def count_switches(day: Day, rule: RuleTable, found: Floats) -> None:
    """Changes of the wiping that the rule asks for, from each car at the wheel to the next."""
    rows, wiped = day.rows, day.wiped
    forget_cues(wiped)
    before, since = -1, -math.inf
    found[T_APART_S] = math.inf
    for place in range(rows.counts[r.ON_BELT]):
        row = rows.order[place]
        now = rows.times[row, r.HOOD]
        saturation = wiped.moisture[row, r.BEFORE] / day.cloth.holding
        see_car(day, rule, now, saturation)
        asked = int(is_reduced(rule, wiped, now, day.cars.kind[rows.line[row, r.CAR]], False))
        if before >= 0 and asked != before:
            found[T_SWITCHES] += 1.0
            found[T_APART_S] = min(found[T_APART_S], now - since)
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
        wet_from: moisture from which on roof and rear are left wet, by way of wiping, shape
            (cars, 2, 2); infinite where they never are.
        worn: least wear by way of wiping, the spinning until the next car or closing included;
            (cars, 2).
        ends: wear before the first car and after the last, shape (2,).
    """

    low: Floats
    step: Floats
    after: Floats
    damp_from: Floats
    wet_from: Floats
    worn: Floats
    ends: Floats


def empty_nodes(cars: int, nodes: int) -> Nodes:
    """Room for the maps of so many cars."""
    return Nodes(
        np.zeros(cars),
        np.zeros(cars),
        np.zeros((cars, 2, nodes)),
        np.zeros(cars),
        np.full((cars, 2, 2), math.inf),
        np.full((cars, 2), math.inf),
        np.zeros(2),
    )


@inlined
def _wipe(
    day: Day,
    rule: RuleTable,
    row: int,
    until: float,
    start: tuple[int, float, int],
    brought: tuple[float, float, float],
) -> float:
    """Moisture at a later time after wiping a car, of a cloth that brings some moisture and wear,
    and whose soil has left some of its uptake.

    Args:
        start: hour, its end and stretch of the belt as the hood meets the wheel.
    """
    wiped = day.wiped
    state = wiped.state
    state[r.NOW], state[r.DAY_WEAR] = day.rows.times[row, r.HOOD], 0.0
    wiped.places[r.HOUR], state[r.HOUR_END], wiped.places[r.STRETCH] = start
    state[r.MOISTURE], state[r.SET_WEAR], state[r.SET_SOIL] = brought
    wipe_car(day, rule, row)
    advance(day, until, False)
    return float(state[r.MOISTURE])


@inlined
def _is_damp(day: Day, row: int, spare: float) -> bool:
    """Whether hood or windshield were left damp even with so much more uptake."""
    return _is_wet(day, row, 0, spare) or _is_wet(day, row, 1, spare)


@inlined
def _is_wet(day: Day, row: int, zone: int, spare: float) -> bool:
    """Whether a zone was left with more than the allowed film even with so much more uptake."""
    film, left = day.wiped.detail[row, r.FILM + zone], day.wiped.detail[row, r.REMAINS + zone]
    return bool(left - day.cloth.wiped_share * film * spare > day.cloth.allowed_film + 1e-12)


@inlined
def lay_nodes(day: Day, book: RuleBook, last: float, nodes: Nodes) -> None:
    """Every car's maps on a day whose line is known; `wiped` empty, with detail, without hours.

    Args:
        book: always full and always reduced.
        last: when the last thing happened [s].
    """
    full, reduced = rule_of(book, IN_FULL), rule_of(book, IN_PART)
    cloth, rows = day.cloth, day.rows
    closed_s = max(last, day.line.close_s)
    rest_s = closed_s + day.line.spin_s
    cover(day, rest_s)
    count, points = rows.counts[r.ON_BELT], nodes.after.shape[2]
    hang_cloth(day)
    state, places = day.wiped.state, day.wiped.places
    if count:
        advance(day, rows.times[rows.order[0], r.HOOD], False)
    nodes.ends[WORN_BEFORE] = state[r.DAY_WEAR]
    low = high = state[r.MOISTURE]
    least = most = state[r.SET_WEAR]
    soil = state[r.SET_SOIL]  # that of each car, whatever the plan: every plan wipes every car
    most_per_h = max(cloth.wear_per_h[IDLE], cloth.wear_per_h[CONTACT])
    share = 0.0
    for each in cloth.share:
        share = max(share, each)
    for place in range(count):
        row = rows.order[place]
        now = rows.times[row, r.HOOD]
        until = rows.times[row, r.EXIT]
        if place + 1 < count:
            until = max(until, rows.times[rows.order[place + 1], r.HOOD])
        else:  # how long the wheel stays slow after it depends on the plan
            until = max(until, closed_s)
        start = places[r.HOUR], state[r.HOUR_END], places[r.STRETCH]
        least_after, most_after = _worn(day, row, least, most)
        most_after += spinning_wear(until - now, most_per_h)
        spare = share * (
            uptake_now(cloth.uptake_max, cloth.uptake_loss, least, cloth.life_scale_cars, soil)
            - uptake_now(
                cloth.uptake_max, cloth.uptake_loss, most_after, cloth.life_scale_cars, soil
            )
        )
        # the widest that plans can be apart: the driest and the wettest of either way
        wettest = max(
            _wipe(day, full, row, until, start, (high, least, soil)),
            _wipe(day, reduced, row, until, start, (high, least, soil)),
        )
        nodes.low[place] = low
        nodes.step[place] = (high - low) / (points - 1)
        dry, wet = math.nan, math.nan
        for node in range(points):
            x = low + node * nodes.step[place]
            for way in range(2):
                rule = full if way == IN_FULL else reduced
                after = _wipe(day, rule, row, until, start, (x, most_after, soil))
                nodes.after[place, way, node] = after
                nodes.worn[place, way] = min(nodes.worn[place, way], state[r.DAY_WEAR])
                for zone in range(2, r.ZONES):
                    # a zone that is not wiped keeps its film whatever the uptake
                    more = spare if way == IN_FULL else 0.0
                    if _is_wet(day, row, zone, more):
                        # the driest node at which it is: between two nodes it counts as dry
                        from_x = -math.inf if node == 0 else x
                        at = zone - 2
                        nodes.wet_from[place, way, at] = min(nodes.wet_from[place, way, at], from_x)
            if _is_damp(day, row, spare):
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
                _wipe(day, full, row, until, start, (middle, most_after, soil))
                if _is_damp(day, row, spare):
                    wet = middle
                else:
                    dry = middle
            nodes.damp_from[place] = wet
        low = min(nodes.after[place, IN_FULL, 0], nodes.after[place, IN_PART, 0]) - ROUNDING
        high = wettest
        least, most, soil = least_after, most_after, soil * cloth.soil_a_car
        # where clock and belt stand when the next hood comes does not depend on the plan
        state[r.NOW] = max(state[r.NOW], until)
    state[r.DAY_WEAR] = state[r.SLOW] = 0.0
    advance(day, rest_s, False)
    nodes.ends[WORN_AFTER] = state[r.DAY_WEAR]


@inlined
def _worn(day: Day, row: int, least: float, most: float) -> tuple[float, float]:
    """Least and most wear of the set once a car has been wiped."""
    cloth = day.cloth
    kind = day.cars.kind[day.rows.line[row, r.CAR]]
    for zone in range(r.ZONES):
        if math.isnan(cloth.factor[kind, zone]):
            continue
        low, high = math.inf, 0.0
        for at in range(len(cloth.share)):
            low = min(low, cloth.dry_wear[at, kind, zone])
            high = max(high, cloth.dry_wear[at, kind, zone])
        if zone < 2:
            least += low * min(1.0, cloth.wet_factor)
        most += high * max(1.0, cloth.wet_factor)
    return least, most


@inlined
def best_plan(
    nodes: Nodes,
    gain: Floats,
    price: Floats,
    zones: Floats,
    moisture: Floats,
    value: Floats,
    damp: Floats,
) -> float:
    """Most value that any plan has on a day, at least: gains of its cars less prices of damp ones,
    and of those with a wet roof or rear.

    Plans are carried from car to car by the driest for their value. If there are more than room
    for them, those in the same cell of moisture become one with the moisture of the driest and
    the value of the best.

    Args:
        gain: by car and way of wiping, shape (cars, 2); price: of a damp car, shape (cars,).
        zones: of a wet roof and rear, shape (cars, 2).
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
            for zone in range(2):
                if moisture[here, one] >= nodes.wet_from[car, way, zone]:
                    worth -= zones[car, zone]
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
