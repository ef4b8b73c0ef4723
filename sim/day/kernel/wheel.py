"""The wheel in the compiled day: which cars are wiped reduced, and the cloth that wipes them.

A wiping rule is read with the crew that carries out its cues; bands and watched cues see every
car. The cloth is carried between cars, and each car wiped zone by zone.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.crew import CrewDay, late_windows
from sim.day.kernel import tables as r
from sim.day.kernel.line import row_at
from sim.day.kernel.tables import Bools, Cloth, Day, Floats, Ints, Wiped
from sim.day.rules import (
    HOODS_SEEN,
    HOUR_S,
    Band,
    Classes,
    Clock,
    CrewCars,
    CrewClock,
    CrewHoods,
    Rule,
    SetChange,
    Watched,
    look_takes_s,
    stops_belt,
)
from sim.day.setup import CONTACT, IDLE, STILL
from sim.day.wheel_cloth import LOCK_SLACK_S
from sim.inputs import Site
from sim.physics.mark import inlined
from sim.physics.moisture import cloth_step
from sim.physics.water_film import uptake_now, water_taken
from sim.physics.wear import spinning_wear


class CueTable(NamedTuple):
    """How the crew carries out watched cues.

    Attributes:
        delay_s: see `sim.day.rules.CrewDay`.
        factor: on what is counted or weighed, shape (2, looks), by `CARS` or `STRIP`.
        misjudged: see `CrewDay.hood_misjudged`.
        every_s: time between two looks [s], shape (3,), by kind of reading.
        weighing_s: time that a weighing takes [s].
        strip_dry_kg, strip_holding_kg: see `CrewDay`.
    """

    delay_s: Floats
    factor: Floats
    misjudged: Bools
    every_s: Floats
    weighing_s: float
    strip_dry_kg: float
    strip_holding_kg: float


class RuleTable(NamedTuple):
    """A wiping rule and the day's dry sets.

    Attributes:
        terms: row of the rule, kind of term, and first and last + 1 of what it refers to.
        windows: start and end of clock windows [s], shape (windows, 2).
        bands: upper and lower saturation, shape (bands, 2).
        watches: kind of reading, upper and lower one [cars, kg or hoods], and what a look takes of
            a person [s], 0 for all but the first of its kind; shape (watched cues, 4).
        weighs: whether strips are weighed, and that takes time.
        first_band: place of its first band in `Wiped.bands`, which holds those of many rules.
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
    weighs: bool
    crew: CueTable
    first_band: int


CLOCK, BAND, CLASSES, SERVICE, WATCH = range(5)
CARS, STRIP, HOODS = range(3)
"""Kinds of term, and of what a watched cue reads."""


def make_cue_table(crew: CrewDay) -> CueTable:
    """How the crew carries out watched cues, as arrays."""
    return CueTable(
        np.ascontiguousarray(crew.delay_s, dtype=np.float64),
        np.stack([crew.count_factor, crew.weigh_factor]),
        np.ascontiguousarray(crew.hood_misjudged, dtype=np.bool_),
        np.array([crew.count_every_s, crew.weigh_every_s, crew.hoods_every_s]),
        crew.weighing_takes_s,
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
            [
                (_reading_of(w), w.upper, w.lower, 0.0 if type(w) in earlier else takes)
                for w, takes, earlier in _with_looks(watched, crew)
            ],
            dtype=float,
        ).reshape(-1, 4),
        stops_belt(rule, crew),
        make_cue_table(crew),
        0,
    )


def _reading_of(cue: Watched) -> int:
    if isinstance(cue, CrewCars):
        return CARS
    return HOODS if isinstance(cue, CrewHoods) else STRIP


def _with_looks(
    watched: list[Watched], crew: CrewDay
) -> list[tuple[Watched, float, set[type[Watched]]]]:
    """Each watched cue with what a look takes [s] and the kinds of those ahead of it."""
    return [
        (cue, look_takes_s(cue, crew), {type(other) for other in watched[:at]})
        for at, cue in enumerate(watched)
    ]


@inlined
def forget_cues(wiped: Wiped) -> None:
    """Bands and watched cues as they are before the first car."""
    wiped.places[r.SEEN] = wiped.places[r.OLDEST] = 0
    for band in range(len(wiped.bands)):
        wiped.bands[band] = 0
    for watch in range(len(wiped.watches)):
        wiped.watches[watch, :] = 0.0  # the first look is due at midnight: at the first car
        wiped.watches[watch, r.DUE] = math.inf


@inlined
def see_car(day: Day, rule: RuleTable, now: float, saturation: float) -> float:
    """Bands and watched cues see the car whose hood meets the wheel, whoever decides it; what looks
    take of a person [s]."""
    looked = 0.0
    wiped = day.wiped
    for band in range(len(rule.bands)):
        if saturation >= rule.bands[band, 0]:
            wiped.bands[rule.first_band + band] = 1
        elif saturation <= rule.bands[band, 1]:
            wiped.bands[rule.first_band + band] = 0
    if len(rule.watches):
        passed = wiped.places[r.SEEN]
        counted = _in_last_hour(day, now)
        for watch in range(len(rule.watches)):
            if _watch(day, rule, watch, now, (counted, passed), saturation):
                looked += rule.watches[watch, 3]
    return looked


@inlined
def _in_last_hour(day: Day, now: float) -> int:
    """Cars whose hood met the wheel in the hour before the one that does now."""
    wiped = day.wiped
    seen, oldest = wiped.places[r.SEEN], wiped.places[r.OLDEST]
    while oldest < seen and day.rows.times[day.rows.order[oldest], r.HOOD] <= now - HOUR_S:
        oldest += 1
    wiped.places[r.SEEN], wiped.places[r.OLDEST] = seen + 1, oldest
    return seen - oldest


@inlined
def _watch(
    day: Day, rule: RuleTable, watch: int, now: float, cars: tuple[int, int], saturation: float
) -> bool:
    """One watched cue sees a car: what is due is done, and a look is taken when its time has come.

    Whether one was taken. A look while an act is due is not heeded.

    Args:
        cars: counted in the last hour, and passed since opening.
    """
    memory, crew = day.wiped.watches[watch], rule.crew
    if memory[r.DUE] <= now:
        memory[r.ON], memory[r.DUE] = 1.0 - memory[r.ON], math.inf
    if now < memory[r.NEXT_LOOK]:
        return False
    what = int(rule.watches[watch, 0])
    look = int(memory[r.LOOKS])
    memory[r.LOOKS] += 1.0
    memory[r.NEXT_LOOK] = now + crew.every_s[what]
    if memory[r.DUE] != math.inf:
        return True
    if what == HOODS:
        reading = _told_damp(day, crew, cars[1])
    else:
        off = crew.factor[what, look % crew.factor.shape[1]]
        if what == CARS:
            reading = cars[0] * off
        else:
            reading = crew.strip_dry_kg + crew.strip_holding_kg * saturation * off
    upper, lower = rule.watches[watch, 1], rule.watches[watch, 2]
    if (memory[r.ON] == 0.0 and reading >= upper) or (memory[r.ON] == 1.0 and reading <= lower):
        memory[r.DUE] = now + crew.delay_s[int(memory[r.ACTS]) % len(crew.delay_s)]
        memory[r.ACTS] += 1.0
        if memory[r.DUE] <= now:
            memory[r.ON], memory[r.DUE] = 1.0 - memory[r.ON], math.inf
    return True


@inlined
def weighs(rule: RuleTable, wiped: Wiped, now: float) -> bool:
    """Whether a strip will be weighed at a car whose hood meets the wheel now, and takes time."""
    if rule.weighs:
        for watch in range(len(rule.watches)):
            if rule.watches[watch, 0] == STRIP and now >= wiped.watches[watch, r.NEXT_LOOK]:
                return True
    return False


@inlined
def _told_damp(day: Day, crew: CueTable, passed: int) -> float:
    """Hoods told damp of the last cars that passed the wheel, of so many in all."""
    damp = 0.0
    for place in range(max(0, passed - HOODS_SEEN), passed):
        wet = day.wiped.marks[day.rows.order[place], r.HOOD_WET] == 1
        damp += wet != crew.misjudged[place % len(crew.misjudged)]
    return damp


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
                all_true &= wiped.bands[rule.first_band + first] == 1
            elif what == WATCH:
                all_true &= wiped.watches[first, r.ON] == 1.0
            elif what == CLASSES:
                all_true &= rule.classes[first, kind]
            term += 1
        if all_true:
            return True
    return False


@inlined
def hang_cloth(day: Day) -> None:
    """The cloth as it is at opening."""
    wiped, open_s = day.wiped, day.line.open_s
    state = wiped.state
    state[r.MOISTURE] = day.cloth.opening_moisture
    state[r.NOW] = open_s
    state[r.SET_WEAR] = day.cloth.set_wear_cars
    state[r.SET_SOIL] = day.cloth.set_soil
    state[r.LOCKED_UNTIL] = -math.inf
    state[r.SLOW] = 0.0
    forget_cues(wiped)
    _turn_hour(wiped, open_s)


@inlined
def _turn_hour(wiped: Wiped, now: float) -> None:
    hour = math.floor(now / HOUR_S)
    if (hour + 1) * HOUR_S <= now:
        hour += 1
    wiped.places[r.HOUR] = hour
    wiped.state[r.HOUR_END] = (hour + 1) * HOUR_S


class OnWheel(NamedTuple):
    """The cloth at a moment, out of `Wiped.state`: what is kept in memory is waited for."""

    now: float
    moisture: float
    set_wear: float
    day_wear: float
    slow: float


@inlined
def take_cloth(wiped: Wiped) -> OnWheel:
    """The cloth as it was put back."""
    state = wiped.state
    return OnWheel(
        state[r.NOW], state[r.MOISTURE], state[r.SET_WEAR], state[r.DAY_WEAR], state[r.SLOW]
    )


@inlined
def put_cloth(wiped: Wiped, cloth: OnWheel) -> None:
    """Keep the cloth for whoever takes it next."""
    state = wiped.state
    state[r.NOW], state[r.MOISTURE] = cloth.now, cloth.moisture
    state[r.SET_WEAR], state[r.DAY_WEAR] = cloth.set_wear, cloth.day_wear
    state[r.SLOW] = cloth.slow


@inlined
def advance(day: Day, until: float, touching: bool) -> None:
    """Carry the cloth to a time, see `carry`."""
    put_cloth(day.wiped, carry(day, take_cloth(day.wiped), until, touching))


@inlined
def carry(day: Day, cloth: OnWheel, until: float, touching: bool) -> OnWheel:
    """The cloth at a later time, carried in stretches of one hour and one state of the wheel.

    Off a car the wheel first has the speed of a contact, as long as the belt moves; see
    `sim.day.wheel_cloth`. The belt must be laid beyond that time.
    """
    belt, wiped = day.belt, day.wiped
    state, places = wiped.state, wiped.places
    now, moisture, slow = cloth.now, cloth.moisture, cloth.slow
    set_wear, day_wear = cloth.set_wear, cloth.day_wear
    while now < until:
        if now >= state[r.HOUR_END]:
            _turn_hour(wiped, now)
        end = min(until, state[r.HOUR_END])
        wheel = CONTACT if touching else IDLE
        at = places[r.STRETCH]
        while belt.end_s[at] <= now:
            at += 1
        places[r.STRETCH] = at
        stands = belt.speed[at] == 0.0
        if stands:
            wheel, end = day.cloth.in_stop, min(end, belt.end_s[at])
        else:
            while belt.end_s[at] < end:  # as long as it moves, speeds make no difference
                at += 1
                if belt.speed[at] == 0.0:
                    end = belt.start_s[at]
        if now < state[r.LOCKED_UNTIL]:
            wheel, end = STILL, min(end, state[r.LOCKED_UNTIL])
        elif not touching and slow > 0.0 and not stands:
            wheel = CONTACT
            if now + slow <= end:
                end = now + slow
                slow = 0.0
            else:
                slow -= end - now
        on_car = touching and wheel == CONTACT
        moisture = _step(day, moisture, end - now, wheel, on_car)
        if wheel != STILL and not on_car:
            worn = spinning_wear(end - now, day.cloth.wear_per_h[wheel])
            set_wear += worn
            day_wear += worn
        now = end
    return OnWheel(now, moisture, set_wear, day_wear, slow)


@inlined
def _step(day: Day, before: float, span: float, wheel: int, on_car: bool) -> float:
    """Moisture after one of those stretches, which is put to the account of its hour."""
    cloth, wiped = day.cloth, day.wiped
    hour = wiped.places[r.HOUR]
    after, thrown, evaporated, held = cloth_step(
        before,
        span,
        cloth.limit[wheel],
        cloth.throw[wheel],
        cloth.drying[hour % 24, wheel],
        cloth.critical,
        cloth.bound,
    )
    if hour < len(wiped.hours):  # a day that runs on is run again with more room
        account = wiped.hours[hour]
        account[r.THROWN] += thrown * cloth.mass_kg
        account[r.EVAPORATED] += evaporated * cloth.mass_kg
        account[r.HELD] += held
        account[r.TIME] += span
        if after >= cloth.damp_moisture:
            account[r.OVER] += span
        elif before > cloth.damp_moisture:
            account[r.OVER] += span * (before - cloth.damp_moisture) / (before - after)
        if wheel != STILL and not on_car:
            account[r.SPINNING] += span
    return float(after)


@inlined
def set_is_due(day: Day, rule: RuleTable, now: float) -> bool:
    """Whether the next dry set is to be put on now; never while one is being put on."""
    wiped = day.wiped
    following = wiped.places[r.SETS]
    if following >= len(rule.changes_s) or is_locked_out(wiped, now):
        return False
    if not math.isnan(rule.changes_s[following]):
        return bool(now >= rule.changes_s[following])
    return bool(wiped.state[r.MOISTURE] / day.cloth.holding >= rule.changes_at[following])


@inlined
def is_locked_out(wiped: Wiped, now: float) -> bool:
    """Whether the wheel is locked out for a change of set or a weighing."""
    return bool(now < wiped.state[r.LOCKED_UNTIL] - LOCK_SLACK_S)


@inlined
def change_set(day: Day, now: float) -> None:
    """Put a dry set on; the wheel is locked out meanwhile."""
    cloth, wiped = day.cloth, day.wiped
    state = wiped.state
    state[r.CARRIED_OFF] += (state[r.MOISTURE] - cloth.dry_moisture) * cloth.mass_kg
    state[r.MOISTURE] = cloth.dry_moisture
    state[r.SET_WEAR] = cloth.set_wear_cars
    state[r.SET_SOIL] = cloth.set_soil
    state[r.LOCKED_UNTIL] = now + cloth.change_s
    wiped.changed_s[wiped.places[r.SETS]] = now
    wiped.places[r.SETS] += 1


@inlined
def wipe_car(day: Day, rule: RuleTable, row: int) -> None:
    """Wipe a car whose times are known, from the moment its hood meets the wheel to its exit.

    The cloth must have been carried to that moment and a set that was due been put on.
    """
    cars, wiped = day.cars, day.wiped
    now, car = day.rows.times[row, r.HOOD], day.rows.line[row, r.CAR]
    looked = see_car(day, rule, now, wiped.state[r.MOISTURE] / day.cloth.holding)
    reduced = is_reduced(rule, wiped, now, cars.kind[car], cars.sold_full[car])
    wipe_decided(day, row, reduced, looked)


@inlined
def wipe_decided(day: Day, row: int, reduced: bool, looked: float) -> None:
    """The same once it is decided whether the car is wiped reduced, and what looks took [s]."""
    cloth, cars, rows, wiped = day.cloth, day.cars, day.rows, day.wiped
    state, marks = wiped.state, wiped.marks[row]
    now = rows.times[row, r.HOOD]
    car, turn = rows.line[row, r.CAR], rows.line[row, r.TURN]
    kind = cars.kind[car]
    wiped.moisture[row, r.BEFORE] = state[r.MOISTURE]
    wiped.moisture[row, r.LOOKED] = looked
    marks[r.SET] = wiped.places[r.SETS]
    unwiped = is_locked_out(wiped, now)
    marks[r.REDUCED], marks[r.UNWIPED] = reduced, unwiped
    at_hood = row_at(day.line.speed_from, now)
    own_film = cloth.film_kg_m2[at_hood] * (cars.film[car] if turn == 1 else cars.film_again[car])
    damp = roof = rear = hood = False
    wear = by_hand = 0.0
    on = take_cloth(wiped)
    uptake_max = cloth.uptake_max * state[r.SET_SOIL]
    for zone in range(r.ZONES):
        factor = cloth.factor[kind, zone]
        if math.isnan(factor):
            if len(wiped.detail):
                _note(wiped, row, zone, 0.0, math.nan, math.nan)
            continue
        film = factor * own_film
        left, water = film, 0.0
        if not (unwiped or (reduced and zone > 1)):
            at = at_hood if len(day.line.speed_from) == 1 else row_at(day.line.speed_from, now)
            water, moisture = _wipe(day, on, film, uptake_max, at, kind, zone)
            dried = max(0.0, film - water * cloth.per_area[kind, zone])
            left = cloth.wiped_share * dried + (1.0 - cloth.wiped_share) * film
            worn = cloth.dry_wear[at, kind, zone] * (1.0 + cloth.wetter_wear * on.moisture)
            wear += worn
            on = OnWheel(on.now, moisture, on.set_wear + worn, on.day_wear + worn, cloth.slow_s)
            now = rows.times[row, r.ZONE_END + zone]
            on = carry(day, on, now, True)
        if left > cloth.allowed_film:
            if zone < 2:
                damp = True
                hood |= zone == 0
                by_hand += cloth.by_hand_s[kind, zone, 0] + cloth.by_hand_s[kind, zone, 1] * left
            elif zone == 2:
                roof = True
            else:
                rear = True
        if len(wiped.detail):
            _note(wiped, row, zone, water, film, left)
    if not unwiped:
        state[r.SET_SOIL] *= cloth.soil_a_car
    wiped.moisture[row, r.AFTER] = on.moisture
    wiped.moisture[row, r.WORN] = wear
    put_cloth(wiped, carry(day, on, rows.times[row, r.EXIT], False))
    marks[r.DAMP], marks[r.HOOD_WET] = damp, hood
    marks[r.ROOF_WET], marks[r.REAR_WET] = roof, rear
    marks[r.FATE] = _fate(cloth, damp, turn, cars.fate[car])
    wiped.hands[row, r.TAKES] = by_hand


@inlined
def _note(wiped: Wiped, row: int, zone: int, water: float, film: float, left: float) -> None:
    wiped.detail[row, r.WATER + zone] = water
    wiped.detail[row, r.FILM + zone] = film
    wiped.detail[row, r.REMAINS + zone] = left


@inlined
def _wipe(
    day: Day, on: OnWheel, film: float, uptake_max: float, at: int, kind: int, zone: int
) -> tuple[float, float]:
    """Water taken [kg] from one zone in one instant, and the moisture afterwards [kg/kg].

    Args:
        uptake_max: of new cloth that is as soiled.
        at: row of the belt's timetable.
    """
    cloth, wiped = day.cloth, day.wiped
    if on.moisture >= cloth.holding:
        return 0.0, on.moisture
    # what hangs on the wear is multiplied last: all else is ready by then
    uptake = uptake_now(uptake_max, cloth.uptake_loss, on.set_wear * cloth.per_life, 1.0, 1.0)
    water = water_taken(
        (cloth.holding - on.moisture) * cloth.mass_kg,
        uptake * (cloth.dose[at, kind, zone] * film),
        film * cloth.area_m2[kind, zone],
    )
    if on.now >= wiped.state[r.HOUR_END]:
        _turn_hour(wiped, on.now)
    if wiped.places[r.HOUR] < len(wiped.hours):
        wiped.hours[wiped.places[r.HOUR], r.TAKEN] += water
    return water, min(on.moisture + water * cloth.per_mass, cloth.holding)


@inlined
def _fate(cloth: Cloth, damp: bool, turn: int, u: float) -> int:
    """What a car gets behind the wheel, finishers apart; nobody is sent round a third time."""
    if not damp:
        return r.UNHURT
    if turn == 1 and u < cloth.rewash_share:
        return r.AGAIN
    return r.LEAVES
