"""What perfect foresight could do with a day: bounds that no order of full and reduced wipes beats.

All roundings favour the bound. More moisture before a car never means less after it (each map is
non-decreasing) and two cloths never drift apart on the same car (each map moves no two points
farther from one another), since uptake is affine with a slope from 0 to 1 and drying and throw-off
are the faster the wetter the cloth. So between nodes x₁ < x < x₂ moisture afterwards is at least
max(A(x₁), A(x₂) − (x₂ − x)), and of two plans for the cars so far the one with more value and less
moisture leaves nothing to regret. Uptake falls with wear, and wear differs between plans: water is
taken with the least uptake that any plan has by then, film is left by the most.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.kernel.belt import Belt
from sim.day.kernel.rows import (
    EXIT,
    FILM,
    HOOD,
    ON_BELT,
    REMAINS,
    Rows,
    Wiped,
)
from sim.day.kernel.rule_table import RuleTable
from sim.day.kernel.tables import ZONES, CarTable, Cloth, Floats, Line
from sim.day.kernel.wheel import (
    DAY_WEAR,
    HOUR,
    HOUR_END,
    MOISTURE,
    NOW,
    SET_WEAR,
    STRETCH,
    carry,
    hang_cloth,
    wipe_car,
)
from sim.physics.mark import inlined
from sim.physics.water_film import uptake_now
from sim.physics.wear import spinning_wear

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
    cloth: Cloth, cars: CarTable, rule: RuleTable, belt: Belt, rows: Rows, wiped: Wiped,
    row: int, until: float, moisture: float, wear: float, hour: int, hour_end: float, stretch: int,
) -> float:  # fmt: skip
    """Moisture at a later time after wiping a car with a cloth of some moisture and wear."""
    state = wiped.state
    state[MOISTURE], state[NOW], state[HOUR_END] = moisture, rows.times[row, HOOD], hour_end
    state[SET_WEAR], state[DAY_WEAR] = wear, 0.0
    wiped.places[HOUR], wiped.places[STRETCH] = hour, stretch
    wipe_car(cloth, cars, rule, belt, rows, wiped, row)
    carry(cloth, belt, wiped, until, False)
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
    line: Line, cloth: Cloth, cars: CarTable, full: RuleTable, reduced: RuleTable,
    belt: Belt, rows: Rows, wiped: Wiped, last: float, nodes: Nodes,
) -> None:  # fmt: skip
    """Every car's maps on a day whose line is known; `wiped` empty, with detail, without hours.

    The belt must have been laid beyond the moment at which the wheel comes to rest.
    """
    count, points = rows.counts[ON_BELT], nodes.after.shape[2]
    hang_cloth(cloth, wiped)
    state, places = wiped.state, wiped.places
    if count:
        carry(cloth, belt, wiped, rows.times[rows.order[0], HOOD], False)
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
    carry(cloth, belt, wiped, rest_s, False)
    nodes.ends[WORN_AFTER] = state[DAY_WEAR]


@inlined
def _worn(
    cloth: Cloth, cars: CarTable, rows: Rows, row: int, least: float, most: float
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
