"""The cloth in the compiled day: carried between cars, and each car wiped zone by zone."""

from __future__ import annotations

import math

from sim.day.kernel.belt import Belt
from sim.day.kernel.deciding import forget_cues, is_reduced, see_car
from sim.day.kernel.rows import (
    AFTER,
    AGAIN,
    BEFORE,
    CAR,
    DAMP,
    EVAPORATED,
    EXIT,
    FATE,
    FILM,
    HELD,
    HOOD,
    LEAVES,
    OVER,
    REAR_WET,
    REDUCED,
    REMAINS,
    SET,
    SPINNING,
    TAKEN,
    THROWN,
    TIME,
    TOWEL,
    TURN,
    UNHURT,
    UNWIPED,
    WATER,
    WORN,
    ZONE_END,
    Rows,
    Wiped,
)
from sim.day.kernel.rule_table import RuleTable
from sim.day.kernel.tables import ZONES, CarTable, Cloth
from sim.day.setup import CONTACT, IDLE, STILL
from sim.day.wheel_cloth import LOCK_SLACK_S
from sim.physics.mark import inlined
from sim.physics.moisture import cloth_step
from sim.physics.water_film import uptake_now, wipe_zone
from sim.physics.wear import spinning_wear

# places of `Wiped.state`
(MOISTURE, NOW, SET_WEAR, DAY_WEAR, CARRIED_OFF, LOCKED_UNTIL, HOUR_END) = range(7)
# places of `Wiped.places`
(HOUR, STRETCH, SETS) = range(3)  # two more are those of `deciding`

HOUR_S = 3600.0


@inlined
def hang_cloth(cloth: Cloth, wiped: Wiped) -> None:
    """The cloth as it is at opening."""
    state = wiped.state
    state[MOISTURE] = cloth.opening_moisture
    state[NOW] = cloth.open_s
    state[SET_WEAR] = cloth.set_wear_cars
    state[LOCKED_UNTIL] = -math.inf
    forget_cues(wiped)
    _turn_hour(wiped, cloth.open_s)


@inlined
def _turn_hour(wiped: Wiped, now: float) -> None:
    hour = math.floor(now / HOUR_S)
    if (hour + 1) * HOUR_S <= now:
        hour += 1
    wiped.places[HOUR] = hour
    wiped.state[HOUR_END] = (hour + 1) * HOUR_S


@inlined
def carry(cloth: Cloth, belt: Belt, wiped: Wiped, until: float, touching: bool) -> None:
    """Carry the cloth to a time in stretches of one hour and one state of the wheel.

    The belt must be laid beyond that time.
    """
    state, places = wiped.state, wiped.places
    now = state[NOW]
    while now < until:
        if now >= state[HOUR_END]:
            _turn_hour(wiped, now)
        end = min(until, state[HOUR_END])
        wheel = CONTACT if touching else IDLE
        at = places[STRETCH]
        while belt.end_s[at] <= now:
            at += 1
        places[STRETCH] = at
        if belt.speed[at] == 0.0:
            wheel, end = cloth.in_stop, min(end, belt.end_s[at])
        else:
            while belt.end_s[at] < end:  # as long as it moves, speeds make no difference
                at += 1
                if belt.speed[at] == 0.0:
                    end = belt.start_s[at]
        if now < state[LOCKED_UNTIL]:
            wheel, end = STILL, min(end, state[LOCKED_UNTIL])
        _step(cloth, wiped, end - now, wheel)
        now = end
    state[NOW] = max(state[NOW], until)


@inlined
def _step(cloth: Cloth, wiped: Wiped, span: float, wheel: int) -> None:
    state = wiped.state
    before, hour = state[MOISTURE], wiped.places[HOUR]
    after, thrown, evaporated, held = cloth_step(
        before,
        span,
        cloth.limit[wheel],
        cloth.throw[wheel],
        cloth.drying[hour % 24, wheel],
        cloth.critical,
        cloth.bound,
    )
    state[MOISTURE] = after
    if hour < len(wiped.hours):  # a day that runs on is run again with more room
        account = wiped.hours[hour]
        account[THROWN] += thrown * cloth.mass_kg
        account[EVAPORATED] += evaporated * cloth.mass_kg
        account[HELD] += held
        account[TIME] += span
        if after >= cloth.damp_moisture:
            account[OVER] += span
        elif before > cloth.damp_moisture:
            account[OVER] += span * (before - cloth.damp_moisture) / (before - after)
        if wheel == IDLE:
            account[SPINNING] += span
    if wheel == IDLE:
        worn = spinning_wear(span, cloth.idle_wear_per_h)
        state[SET_WEAR] += worn
        state[DAY_WEAR] += worn


@inlined
def set_is_due(cloth: Cloth, rule: RuleTable, wiped: Wiped, now: float) -> bool:
    """Whether the next dry set is to be put on now; never while one is being put on."""
    following = wiped.places[SETS]
    if following >= len(rule.changes_s) or is_locked_out(wiped, now):
        return False
    if not math.isnan(rule.changes_s[following]):
        return bool(now >= rule.changes_s[following])
    return bool(wiped.state[MOISTURE] / cloth.holding >= rule.changes_at[following])


@inlined
def is_locked_out(wiped: Wiped, now: float) -> bool:
    """Whether the wheel is locked out for a change of set."""
    return bool(now < wiped.state[LOCKED_UNTIL] - LOCK_SLACK_S)


@inlined
def change_set(cloth: Cloth, wiped: Wiped, now: float) -> None:
    """Put a dry set on; the wheel is locked out meanwhile."""
    state = wiped.state
    state[CARRIED_OFF] += (state[MOISTURE] - cloth.dry_moisture) * cloth.mass_kg
    state[MOISTURE] = cloth.dry_moisture
    state[SET_WEAR] = cloth.set_wear_cars
    state[LOCKED_UNTIL] = now + cloth.change_s
    wiped.changed_s[wiped.places[SETS]] = now
    wiped.places[SETS] += 1


@inlined
def _speed_row(cloth: Cloth, now: float) -> int:
    row = 0
    while row + 1 < len(cloth.speed_from) and cloth.speed_from[row + 1] <= now:
        row += 1
    return row


@inlined
def wipe_car(
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    row: int,
) -> None:
    """Wipe a car whose times are known, from the moment its hood meets the wheel to its exit.

    The cloth must have been carried to that moment and a set that was due been put on.
    """
    state, marks = wiped.state, wiped.marks[row]
    now = rows.times[row, HOOD]
    car, turn = rows.line[row, CAR], rows.line[row, TURN]
    kind = cars.kind[car]
    saturation = state[MOISTURE] / cloth.holding
    wiped.moisture[row, BEFORE] = state[MOISTURE]
    marks[SET] = wiped.places[SETS]
    see_car(rule, rows, wiped, now, saturation)
    reduced = is_reduced(rule, wiped, now, kind, cars.sold_full[car])
    unwiped = is_locked_out(wiped, now)
    marks[REDUCED], marks[UNWIPED] = reduced, unwiped
    at_hood = _speed_row(cloth, now)
    own_film = cloth.film_kg_m2[at_hood] * (cars.film[car] if turn == 1 else cars.film_again[car])
    damp = rear = False
    wear = 0.0
    for zone in range(ZONES):
        factor = cloth.factor[kind, zone]
        if math.isnan(factor):
            if len(wiped.detail):
                _note(wiped, row, zone, 0.0, math.nan, math.nan)
            continue
        film = factor * own_film
        left, water = film, 0.0
        if not (unwiped or (reduced and zone > 1)):
            dried, water, worn = _wipe(cloth, wiped, film, kind, zone, now)
            left = cloth.wiped_share * dried + (1.0 - cloth.wiped_share) * film
            wear += worn
            now = rows.times[row, ZONE_END + zone]
            carry(cloth, belt, wiped, now, True)
        if zone < 2:
            damp |= left > cloth.allowed_film
        else:
            rear |= left > cloth.allowed_film
        if len(wiped.detail):
            _note(wiped, row, zone, water, film, left)
    wiped.moisture[row, AFTER] = state[MOISTURE]
    wiped.moisture[row, WORN] = wear
    carry(cloth, belt, wiped, rows.times[row, EXIT], False)
    marks[DAMP], marks[REAR_WET] = damp, rear
    marks[FATE] = _fate(cloth, damp, turn, cars.fate[car] if turn == 1 else cars.fate_again[car])


@inlined
def _note(wiped: Wiped, row: int, zone: int, water: float, film: float, left: float) -> None:
    wiped.detail[row, WATER + zone] = water
    wiped.detail[row, FILM + zone] = film
    wiped.detail[row, REMAINS + zone] = left


@inlined
def _wipe(
    cloth: Cloth, wiped: Wiped, film: float, kind: int, zone: int, now: float
) -> tuple[float, float, float]:
    """Film left [kg/m²], water taken [kg] and wear, of one zone in one instant."""
    state = wiped.state
    at = _speed_row(cloth, now)
    wet = 1.0 + (cloth.wet_factor - 1.0) * (state[MOISTURE] / cloth.holding)
    uptake = uptake_now(cloth.uptake_max, cloth.uptake_loss, state[SET_WEAR], cloth.life_scale_cars)
    state[MOISTURE], water, left = wipe_zone(
        state[MOISTURE],
        film,
        cloth.area_m2[kind, zone],
        uptake * cloth.share[at],
        cloth.holding,
        cloth.mass_kg,
    )
    worn = wet * cloth.dry_wear[at, kind, zone]
    state[SET_WEAR] += worn
    state[DAY_WEAR] += worn
    if state[NOW] >= state[HOUR_END]:
        _turn_hour(wiped, state[NOW])
    if wiped.places[HOUR] < len(wiped.hours):
        wiped.hours[wiped.places[HOUR], TAKEN] += water
    return left, water, worn


@inlined
def _fate(cloth: Cloth, damp: bool, turn: int, u: float) -> int:
    """What a car gets when it leaves; nobody is sent round a third time."""
    if not damp:
        return UNHURT
    if u < cloth.finish_share:
        return TOWEL
    if u < cloth.finish_share + cloth.rewash_share:
        return AGAIN if turn == 1 else TOWEL
    return LEAVES


@inlined
def wipe_all(
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    first: int,
    last: int,
) -> None:
    """Wipe cars `first` to `last` − 1 in the order of the belt; their times must be known.

    For days on which neither a re-wash nor a change of set moves any car.
    """
    for place in range(first, last):
        row = rows.order[place]
        now = rows.times[row, HOOD]
        carry(cloth, belt, wiped, now, False)
        if set_is_due(cloth, rule, wiped, now):
            change_set(cloth, wiped, now)
        wipe_car(cloth, cars, rule, belt, rows, wiped, row)
