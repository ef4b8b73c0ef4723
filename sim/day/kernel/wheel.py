"""The wheel in the compiled day: which cars are wiped reduced, and the cloth that wipes them.

A wiping rule is read with the crew that carries out its cues; bands and watched cues see every
car. The cloth is carried between cars, and each car wiped zone by zone.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.cues import CrewCars, CrewClock, CrewDay, Watched, late_windows
from sim.day.kernel.line import Belt
from sim.day.kernel.tables import (
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
    ZONES,
    Bools,
    CarTable,
    Cloth,
    Floats,
    Ints,
    LineRows,
    Wiped,
)
from sim.day.rules import Band, Classes, Clock, Rule, SetChange
from sim.day.setup import CONTACT, IDLE, STILL
from sim.day.wheel_cloth import LOCK_SLACK_S
from sim.inputs import Site
from sim.physics.mark import inlined
from sim.physics.moisture import cloth_step
from sim.physics.water_film import uptake_now, wipe_zone
from sim.physics.wear import spinning_wear


class CueTable(NamedTuple):
    """How the crew carries out watched cues.

    Attributes:
        delay_s: see `sim.day.cues.CrewDay`.
        factor: on what is read, shape (2, looks); every_s: time between two looks [s], shape (2,);
            both by kind of reading, `CARS` or `STRIP`.
        strip_dry_kg, strip_holding_kg: see `CrewDay`.
    """

    delay_s: Floats
    factor: Floats
    every_s: Floats
    strip_dry_kg: float
    strip_holding_kg: float


class RuleTable(NamedTuple):
    """A wiping rule and the day's dry sets.

    Attributes:
        terms: row of the rule, kind of term, and first and last + 1 of what it refers to.
        windows: start and end of clock windows [s], shape (windows, 2).
        bands: upper and lower saturation, shape (bands, 2).
        watches: kind of reading, upper and lower one [cars or kg], shape (watched cues, 3).
        classes: whether a class is named, shape (terms of that kind, classes).
        changes_s: time of each dry set, NaN where a saturation decides; changes_at: that.
    """

    everyone: bool
    rows: int
    terms: Ints
    windows: Floats
    bands: Floats
    classes: Bools
    changes_s: Floats
    changes_at: Floats
    watches: Floats
    crew: CueTable


CLOCK, BAND, CLASSES, SERVICE, WATCH = range(5)
CARS, STRIP = range(2)
"""Kinds of term, and of what a watched cue reads."""


def make_cue_table(crew: CrewDay) -> CueTable:
    """How the crew carries out watched cues, as arrays."""
    return CueTable(
        np.ascontiguousarray(crew.delay_s, dtype=np.float64),
        np.stack([crew.count_factor, crew.weigh_factor]),
        np.array([crew.count_every_s, crew.weigh_every_s]),
        crew.strip_dry_kg,
        crew.strip_holding_kg,
    )


def make_rule_table(
    site: Site, rule: Rule, changes: tuple[SetChange, ...], crew: CrewDay
) -> RuleTable:
    """A rule and the day's dry sets as arrays; equal bands and watched cues share one state."""
    keys = [item.key for item in site.vehicles]
    terms: list[tuple[int, int, int, int]] = []
    windows: list[tuple[float, float]] = []
    bands: list[Band] = []
    watched: list[Watched] = []
    named: list[list[bool]] = []
    for row, either in enumerate(rule.either):
        for term in either:
            if isinstance(term, Clock | CrewClock):
                late = term.windows if isinstance(term, Clock) else late_windows(term.windows, crew)
                terms.append((row, CLOCK, len(windows), len(windows) + len(late)))
                windows += late
            elif isinstance(term, Watched):
                if term not in watched:
                    watched.append(term)
                terms.append((row, WATCH, watched.index(term), 0))
            elif isinstance(term, Band):
                if term not in bands:
                    bands.append(term)
                terms.append((row, BAND, bands.index(term), 0))
            elif isinstance(term, Classes):
                terms.append((row, CLASSES, len(named), 0))
                named.append([key in term.keys for key in keys])
            else:
                terms.append((row, SERVICE, 0, 0))
    return RuleTable(
        rule.everyone,
        len(rule.either),
        np.array(terms, dtype=np.int64).reshape(-1, 4),
        np.array(windows, dtype=float).reshape(-1, 2),
        np.array([(b.upper, b.lower) for b in bands], dtype=float).reshape(-1, 2),
        np.array(named, dtype=np.bool_).reshape(-1, len(keys)),
        np.array([math.nan if c.at_s is None else c.at_s for c in changes], dtype=float),
        np.array([c.at_saturation or 0.0 for c in changes], dtype=float),
        np.array(
            [(CARS if isinstance(w, CrewCars) else STRIP, w.upper, w.lower) for w in watched],
            dtype=float,
        ).reshape(-1, 3),
        make_cue_table(crew),
    )


# places of `Wiped.places` after those of `wheel`
SEEN, OLDEST = 3, 4
# columns of `Wiped.watches`
(ON, DUE, NEXT_LOOK, LOOKS, ACTS) = range(5)

HOUR_S = 3600.0


@inlined
def forget_cues(wiped: Wiped) -> None:
    """Bands and watched cues as they are before the first car."""
    wiped.places[SEEN] = wiped.places[OLDEST] = 0
    for band in range(len(wiped.bands)):
        wiped.bands[band] = 0
    for watch in range(len(wiped.watches)):
        wiped.watches[watch, :] = 0.0  # the first look is due at midnight: at the first car
        wiped.watches[watch, DUE] = math.inf


@inlined
def see_car(rule: RuleTable, rows: LineRows, wiped: Wiped, now: float, saturation: float) -> None:
    """Bands and watched cues see the car whose hood meets the wheel, whoever decides it."""
    for band in range(len(rule.bands)):
        if saturation >= rule.bands[band, 0]:
            wiped.bands[band] = 1
        elif saturation <= rule.bands[band, 1]:
            wiped.bands[band] = 0
    if len(rule.watches):
        counted = _in_last_hour(rows, wiped, now)
        for watch in range(len(rule.watches)):
            _watch(rule, wiped, watch, now, counted, saturation)


@inlined
def _in_last_hour(rows: LineRows, wiped: Wiped, now: float) -> int:
    """Cars whose hood met the wheel in the hour before the one that does now."""
    seen, oldest = wiped.places[SEEN], wiped.places[OLDEST]
    while oldest < seen and rows.times[rows.order[oldest], HOOD] <= now - HOUR_S:
        oldest += 1
    wiped.places[SEEN], wiped.places[OLDEST] = seen + 1, oldest
    return seen - oldest


@inlined
def _watch(
    rule: RuleTable, wiped: Wiped, watch: int, now: float, counted: int, saturation: float
) -> None:
    """One watched cue sees a car: what is due is done, and a look is taken when its time has come.

    A look while an act is due is not heeded.
    """
    memory, crew = wiped.watches[watch], rule.crew
    if memory[DUE] <= now:
        memory[ON], memory[DUE] = 1.0 - memory[ON], math.inf
    if now < memory[NEXT_LOOK]:
        return
    what = int(rule.watches[watch, 0])
    off = crew.factor[what, int(memory[LOOKS]) % crew.factor.shape[1]]
    memory[LOOKS] += 1.0
    memory[NEXT_LOOK] = now + crew.every_s[what]
    if memory[DUE] != math.inf:
        return
    if what == CARS:
        reading = counted * off
    else:
        reading = crew.strip_dry_kg + crew.strip_holding_kg * saturation * off
    upper, lower = rule.watches[watch, 1], rule.watches[watch, 2]
    if (memory[ON] == 0.0 and reading >= upper) or (memory[ON] == 1.0 and reading <= lower):
        memory[DUE] = now + crew.delay_s[int(memory[ACTS]) % len(crew.delay_s)]
        memory[ACTS] += 1.0
        if memory[DUE] <= now:
            memory[ON], memory[DUE] = 1.0 - memory[ON], math.inf


@inlined
def is_reduced(rule: RuleTable, wiped: Wiped, now: float, kind: int, sold_full: bool) -> bool:
    """Whether the car whose hood meets the wheel, and which was seen, is wiped reduced."""
    if rule.everyone:
        return True
    if sold_full:
        return False
    term = 0
    for row in range(rule.rows):
        all_true = True
        while term < len(rule.terms) and rule.terms[term, 0] == row:
            what, first, last = rule.terms[term, 1], rule.terms[term, 2], rule.terms[term, 3]
            if what == CLOCK:
                inside = False
                for window in range(first, last):
                    inside |= rule.windows[window, 0] <= now < rule.windows[window, 1]
                all_true &= inside
            elif what == BAND:
                all_true &= wiped.bands[first] == 1
            elif what == WATCH:
                all_true &= wiped.watches[first, ON] == 1.0
            elif what == CLASSES:
                all_true &= rule.classes[first, kind]
            term += 1
        if all_true:
            return True
    return False


# places of `Wiped.state`
(MOISTURE, NOW, SET_WEAR, DAY_WEAR, CARRIED_OFF, LOCKED_UNTIL, HOUR_END) = range(7)
# places of `Wiped.places`
(HOUR, STRETCH, SETS) = range(3)  # two more are those of `deciding`


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
def advance(cloth: Cloth, belt: Belt, wiped: Wiped, until: float, touching: bool) -> None:
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
    rows: LineRows,
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
            advance(cloth, belt, wiped, now, True)
        if zone < 2:
            damp |= left > cloth.allowed_film
        else:
            rear |= left > cloth.allowed_film
        if len(wiped.detail):
            _note(wiped, row, zone, water, film, left)
    wiped.moisture[row, AFTER] = state[MOISTURE]
    wiped.moisture[row, WORN] = wear
    advance(cloth, belt, wiped, rows.times[row, EXIT], False)
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
    rows: LineRows,
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
        advance(cloth, belt, wiped, now, False)
        if set_is_due(cloth, rule, wiped, now):
            change_set(cloth, wiped, now)
        wipe_car(cloth, cars, rule, belt, rows, wiped, row)
