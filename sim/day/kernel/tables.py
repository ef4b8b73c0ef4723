"""What the compiled day reads and where it writes.

It reads a site's day and its cars as plain numbers and arrays. It writes a row a pass, in the
order in which cars come and come back.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayCars
from sim.day.figures import able_s, hands_s
from sim.day.setup import IDLE, STILL, DayNumbers
from sim.inputs import Site, Steps
from sim.inputs.people import FINISH_ORDERS, MOST_FINISHERS
from sim.physics.water_film import film_at_wheel, left_by_soil, wiping_share
from sim.physics.wear import sliding_distance_m, wear_equivalents

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

HOURS = 24
ZONES = 4


class LineNumbers(NamedTuple):
    """Lanes, loading and belt of a day. A timetable is two arrays: from when on [s], and what.

    Attributes:
        speed: belt speeds [m/s] by row of their timetable.
        loader_factor: factor on the loading time.
        pushed, hood: nose to pushed wheel and to the hood, by vehicle class [m].
        zone_m: wiped length of each zone by class [m], shape (classes, 4); NaN without the zone.
        return_s: way back of a re-wash [s].
        spin_s: how long the wheel turns on after closing [s].
    """

    open_s: float
    close_s: float
    pitch_m: float
    spacing_m: float
    gap_m: float
    wheel_m: float
    places: int
    stack_limit: int
    capacity_per_s: float
    lane_from: Floats
    lanes: Ints
    loader_from: Floats
    loader_factor: Floats
    speed_from: Floats
    speed: Floats
    pushed: Floats
    hood: Floats
    zone_m: Floats
    return_s: float
    spin_s: float


class Cloth(NamedTuple):
    """Water, wheel and cloth of a day; rows of the timetable are those of the belt's speed.

    Attributes:
        film_kg_m2: median film of a zone with factor 1, by row of the timetable.
        share: wiping share at an uptake of 1, by row of the timetable.
        factor: film factor of each zone by class, shape (classes, 4); NaN without the zone.
        area_m2: area still wiped, likewise; per_area its reciprocal, 0 of nothing.
        dose: dose of `sim.physics.water_film.water_taken` by a film of 1 kg/m² at an uptake of 1,
            shape (rows, classes, 4).
        dry_wear: wear by wiping a zone with dry cloth, likewise; wetter_wear: that part of it by
            which it grows for each moisture of 1 kg/kg.
        wiped_share: share of each zone still wiped.
        limit, throw: X_e [kg/kg] and k [1/s] by state of the wheel.
        per_life, per_mass: reciprocals, since a division takes as long as all else of a step.
        set_soil: share of the uptake that soil leaves a set that is put on, soil_a_car: of that
            what a car leaves.
        drying: r by clock hour and state, shape (24, 3).
        slow_s, wear_per_h: see `sim.day.setup.ClothNumbers`.
        cars_wait: whether the belt stands while a set is changed; else cars pass unwiped.
        in_stop: state of the wheel while the belt stands.
        damp_moisture: moisture at the damp limit [kg/kg].
        by_hand_s: a finisher's time for hood and windshield by class, itself [s] and for each of
            the film left [s·m²/kg], shape (classes, 2, 2).
    """

    film_kg_m2: Floats
    share: Floats
    factor: Floats
    area_m2: Floats
    per_area: Floats
    dose: Floats
    dry_wear: Floats
    wetter_wear: float
    wiped_share: float
    allowed_film: float
    uptake_max: float
    uptake_loss: float
    life_scale_cars: float
    per_life: float
    wet_factor: float
    slow_s: float
    wear_per_h: Floats
    set_wear_cars: float
    set_soil: float
    soil_a_car: float
    dry_moisture: float
    change_s: float
    cars_wait: bool
    mass_kg: float
    per_mass: float
    holding: float
    bound: float
    critical: float
    limit: Floats
    throw: Floats
    drying: Floats
    in_stop: int
    damp_moisture: float
    opening_moisture: float
    by_hand_s: Floats
    rewash_share: float


class Work(NamedTuple):
    """Hours and work of the people on the line, for the figures.

    Attributes:
        able_s: work that people can do who are no finishers, by half-hour [person-s], shape (48,).
        hands_s: time of the finishers, likewise.
        hand: factor on all work by class.
        loading_s, leaving_s: work per pass before and after the belt [s].
        reduced_s: further work of a reduced wipe [s].
        change_people: hands that a change of set takes.
    """

    able_s: Floats
    hands_s: Floats
    hand: Floats
    loading_s: float
    leaving_s: float
    reduced_s: float
    change_people: float


class Hands(NamedTuple):
    """Finishers and the damp cars that stand for them, see `sim.day.apron`.

    Attributes:
        from_s: from when on so many are there [s]; people: how many.
        order: which car is next, `FIRST_COME`, `HOOD_FIRST` or `MEMBERS_FIRST`.
    """

    from_s: Floats
    people: Ints
    patience_s: float
    order: int


FIRST_COME, HOOD_FIRST, MEMBERS_FIRST = range(3)


class Tables(NamedTuple):
    """Everything of one site on one day; made once for many draws and rules."""

    line: LineNumbers
    cloth: Cloth
    work: Work
    hands: Hands
    couples: bool  # re-washes may come back to the line


class CarTable(NamedTuple):
    """The cars of a day as arrays; what differs between its two passes stands there for each."""

    arrival_s: Floats
    kind: Ints
    length_m: Floats
    sold_full: Bools
    pay_s: Floats
    patience_s: Floats
    load_s: Floats
    film: Floats
    stop_s: Floats
    fate: Floats
    load_again_s: Floats
    film_again: Floats
    stop_again_s: Floats
    clock_start_s: Floats
    clock_end_s: Floats
    member: Bools


def make_tables(site: Site, day: DayNumbers) -> Tables:
    """The tables of a site's day."""
    line, pay, crew, classes = site.line, site.pay, site.crew, [v.numbers for v in site.vehicles]
    speed_from, speed = _timetable(day.speeds)
    lane_from, lanes = _timetable(pay.pay_lanes)
    loader_from, loaders = _timetable(pay.loaders)
    factor, area, length = _zones(day)
    return Tables(
        LineNumbers(
            open_s=day.open_s,
            close_s=day.close_s,
            pitch_m=float(line.pusher_pitch_m),
            spacing_m=float(day.spacing_m),
            gap_m=float(line.least_gap_m),
            # floats all, or a site with a round number would be compiled anew
            wheel_m=float(line.wheel_position_m),
            places=int(pay.loading_line_cars),
            stack_limit=int(pay.stack_limit_cars),
            capacity_per_s=day.capacity_per_s,
            lane_from=lane_from,
            lanes=lanes.astype(np.int64),
            loader_from=loader_from,
            loader_factor=np.where(loaders >= 2, float(pay.second_loader_factor), 1.0),
            speed_from=speed_from,
            speed=speed,
            pushed=np.array([float(each.pushed_wheel_m) for each in classes]),
            hood=np.array([float(each.hood_start_m) for each in classes]),
            zone_m=length,
            return_s=float(crew.rewash_return_s),
            spin_s=float(site.drying.close_spin_s),
        ),
        _cloth(site, day, speed.tolist(), factor, area, length),
        Work(
            able_s=np.array(able_s(site, day)),
            hands_s=np.array(hands_s(site, day)),
            hand=np.array([float(each.hand_work) for each in classes]),
            loading_s=float(crew.prep_work_s + crew.load_work_s),
            leaving_s=float(crew.exit_work_s),
            reduced_s=float(crew.reduced_work_s),
            change_people=float(site.wear.set_change_people),
        ),
        _hands(site, day),
        crew.damp_rewash_share > 0,
    )


def in_air_of(tables: Tables, day: DayNumbers) -> Tables:
    """The tables of the same site on a day with another air and another moisture at opening."""
    drying = np.array(day.cloth.rate, dtype=float)
    opening = float(day.opening_moisture)
    cloth = tables.cloth._replace(drying=drying, opening_moisture=opening)
    return tables._replace(cloth=cloth)


def _hands(site: Site, day: DayNumbers) -> Hands:
    from_s, people = _timetable(site.crew.finishers)
    last = int(np.searchsorted(from_s, day.close_s, side="right"))
    return Hands(
        from_s=from_s[:last],
        people=people[:last].astype(np.int64),
        patience_s=float(site.crew.exit_patience_s),
        order=tuple(FINISH_ORDERS).index(site.crew.finish_order),
    )


def _by_hand_s(site: Site, day: DayNumbers) -> Floats:
    """See `Cloth.by_hand_s`."""
    found = np.zeros((len(day.zones), 2, 2))
    for kind, zones in enumerate(day.zones):
        for zone in (zone for zone in zones if zone.index < 2):
            found[kind, zone.index, 0] = zone.area_m2 * site.crew.finish_area_s_m2
            found[kind, zone.index, 1] = zone.area_m2 * site.crew.finish_film_s_kg
    return found


def _cloth(
    site: Site,
    day: DayNumbers,
    speeds: list[float],
    factor: Floats,
    area: Floats,
    length: Floats,
) -> Cloth:
    water, wiping, wear, cloth = site.water, site.wiping, site.wear, day.cloth
    blown = (
        water.film_rinsed_kg_m2,
        water.removal_now,
        water.blower_reference_speed_m_s,
        water.blower_speed_exponent,
    )
    patch_m, wipe_s = wiping.contact_patch_m, wiping.wipe_time_s
    limit, throw = np.array(cloth.throw, dtype=float).T.copy()
    share = np.array([wiping_share(1.0, patch_m, speed, wipe_s) for speed in speeds])
    wiped_m2, capacity_kg = area * day.wiped_share, float(cloth.holding) * cloth.mass_kg
    return Cloth(
        film_kg_m2=np.array([film_at_wheel(1.0, *blown, speed, 1.0) for speed in speeds]),
        share=share,
        factor=factor,
        area_m2=wiped_m2,
        per_area=1.0 / np.where(wiped_m2 == 0.0, math.inf, wiped_m2),
        dose=share[:, np.newaxis, np.newaxis] * (wiped_m2 / capacity_kg),
        dry_wear=np.array([_dry_wear(day, length, speed) for speed in speeds]),
        wetter_wear=(float(wear.wet_wear_factor) - 1.0) / float(cloth.holding),
        wiped_share=float(day.wiped_share),
        allowed_film=day.allowed_film,
        uptake_max=float(wiping.uptake_max),
        uptake_loss=float(wear.uptake_loss_at_life),
        life_scale_cars=float(wear.life_scale_cars),
        per_life=1.0 / float(wear.life_scale_cars),
        wet_factor=float(wear.wet_wear_factor),
        slow_s=float(cloth.slow_s),
        wear_per_h=np.array(cloth.wear_per_h),
        set_wear_cars=float(wear.cloth_wear_cars),
        set_soil=left_by_soil(wear.soil_loss_per_1000_cars, wear.cloth_soil_cars),
        soil_a_car=left_by_soil(wear.soil_loss_per_1000_cars, 1.0),
        dry_moisture=float(wear.dry_set_moisture_kg_kg),
        change_s=wear.set_change_min * 60.0,
        cars_wait=wear.set_change_cars == "wait",
        mass_kg=cloth.mass_kg,
        per_mass=1.0 / cloth.mass_kg,
        holding=float(cloth.holding),
        bound=float(cloth.bound),
        critical=float(cloth.critical),
        limit=limit,
        throw=throw,
        drying=np.array(cloth.rate, dtype=float),
        in_stop=IDLE if site.line.wheel_during_stop == "idle" else STILL,
        damp_moisture=day.damp_limit * cloth.holding,
        opening_moisture=float(day.opening_moisture),
        by_hand_s=_by_hand_s(site, day),
        rewash_share=float(site.crew.damp_rewash_share),
    )


def _dry_wear(day: DayNumbers, length: Floats, speed_m_s: float) -> list[list[float]]:
    """Wear by wiping each zone of each class with dry cloth [full-wipe equivalents]."""
    return [
        [
            wear_equivalents(
                sliding_distance_m(day.surface_speed_m_s, speed_m_s, wiped_m / speed_m_s),
                day.reference_slide_m,
                1.0,
            )
            for wiped_m in zones
        ]
        for zones in length.tolist()
    ]


def _timetable(table: Steps) -> tuple[Floats, Floats]:
    rows = np.array(table, dtype=float).reshape(-1, 2)
    return rows[:, 0].copy(), rows[:, 1].copy()


def _zones(day: DayNumbers) -> tuple[Floats, Floats, Floats]:
    """Film factor, area [m²] and wiped length [m] by class and zone; NaN without the zone."""
    factor, area, length = (np.full((len(day.zones), ZONES), math.nan) for _ in range(3))
    for kind, zones in enumerate(day.zones):
        for zone in zones:
            factor[kind, zone.index] = zone.factor
            area[kind, zone.index] = zone.area_m2
            length[kind, zone.index] = zone.wiped_m
    return factor, area, length


def make_car_table(cars: DayCars) -> CarTable:
    """The cars of a day as arrays of one kind each."""
    stops = np.array(cars.clock_stops, dtype=float).reshape(-1, 2)
    first, again = cars.first, cars.again
    return CarTable(
        arrival_s=_floats(cars.arrival_s),
        kind=np.ascontiguousarray(cars.class_index, dtype=np.int64),
        length_m=_floats(cars.length_m),
        sold_full=np.ascontiguousarray(cars.sold_full, dtype=np.bool_),
        pay_s=_floats(cars.pay_s),
        patience_s=_floats(cars.patience_s),
        load_s=_floats(first.load_s),
        film=_floats(first.film_noise),
        stop_s=_floats(first.stop_s),
        fate=_floats(first.fate),
        load_again_s=_floats(again.load_s),
        film_again=_floats(again.film_noise),
        stop_again_s=_floats(again.stop_s),
        clock_start_s=stops[:, 0].copy(),
        clock_end_s=stops[:, 1].copy(),
        member=np.ascontiguousarray(cars.member, dtype=np.bool_),
    )


def _floats(values: Floats) -> Floats:
    # one layout, so that nothing is compiled twice
    return np.ascontiguousarray(values, dtype=np.float64)


# columns of `LineRows.times`; after ZONE_END come the ends of three more zones
(ARRIVAL, PAY_START, PAID, UNBLOCKED, LOAD_START, LOADED, CAUGHT, HOOD, ZONE_END) = range(9)
EXIT, TIMES = 12, 13

# columns of `LineRows.line`
(CAR, TURN, LOST, LANE, PUSHER, APART) = range(6)
MARKS = 6
KEPT, LOST_FULL, LOST_IMPATIENT = 0, 1, 2
"""Values of LOST."""

# places of `LineRows.counts`
(ROWS, ON_BELT) = range(2)

COUNT = 0
"""The place of `Belt.laid`."""

# queues of `QueueState`: rows in order, those between head and tail wait
(STACK, BLOCKED, READY, RETURNED) = range(4)
QUEUES = 4
# places of `QueueState.place`; AT_LOADER: stretch of the belt from which the loader's is sought
(OPEN_LANES, WANTED, LOADING_ROW, CATCHING, AT_LOADER, MEMORY, ADMITTED, LANE_ROW) = range(8)
# places of `QueueState.due`
(LOADER, PAYMENT) = range(2)

# columns of `Wiped.moisture` and `Wiped.marks`
(BEFORE, AFTER, WORN, LOOKED) = range(4)
(REDUCED, UNWIPED, SET, DAMP, ROOF_WET, REAR_WET, FATE, HOOD_WET) = range(8)
UNHURT, LEAVES, TOWEL, AGAIN = 0, 1, 2, 3
"""Values of FATE."""

# columns of `Wiped.hands`
(TAKES, BEGUN, DONE) = range(3)

# columns of `Wiped.detail`, four zones each
WATER, FILM, REMAINS = 0, 4, 8
DETAIL = 12

# columns of `Wiped.hours`
(TAKEN, THROWN, EVAPORATED, HELD, TIME, OVER, SPINNING) = range(7)
ACCOUNT = 7

# places of `Wiped.state` and `Wiped.places`
(
    MOISTURE, NOW, SET_WEAR, DAY_WEAR, CARRIED_OFF, LOCKED_UNTIL, HOUR_END, SET_SOIL, SLOW,
) = range(9)  # fmt: skip
STATE = 9
(HOUR, STRETCH, SETS, SEEN, OLDEST) = range(5)
# columns of `Wiped.watches`
(ON, DUE, NEXT_LOOK, LOOKS, ACTS) = range(5)


class LineRows(NamedTuple):
    """The line's part of a day.

    Attributes:
        times: shape (rows, TIMES) [s]; NaN where the thing never happened.
        line: shape (rows, MARKS).
        order: rows in the order in which they were caught.
        sent: rows whose cars were sent round again, in that order.
        counts: rows, and how many were caught.
    """

    times: Floats
    line: Ints
    order: Ints
    sent: Ints
    counts: Ints


class Wiped(NamedTuple):
    """The cloth's part of a day.

    Attributes:
        moisture: shape (rows, 4): before and after the car [kg/kg], wear, looks at cues [s].
        marks: shape (rows, 8).
        hands: a finisher's time for a damp car, begin and end of it [s], shape (rows, 3); begin
            and end NaN where nobody came, nothing for a car that is not damp.
        busy: ends of the work of finishers at cars [s], room for as many as there can be.
        detail: shape (rows, 12): water [kg], film, film left [kg/m²] by zone; no rows if nobody
            asked.
        hours: the account by clock hour, shape (hours, 7).
        state: shape (STATE,); places: shape (5,).
        bands: what each band last decided.
        watches: what each watched cue remembers, shape (watched cues, 5).
        changed_s: when each change of set began [s]; as many as were made hold.
    """

    moisture: Floats
    marks: Ints
    hands: Floats
    busy: Floats
    detail: Floats
    hours: Floats
    state: Floats
    places: Ints
    bands: Ints
    watches: Floats
    changed_s: Floats


class Belt(NamedTuple):
    """Stretches of the belt.

    Attributes:
        start_s, end_s: from when until when; a stop's end, or as far as the speed holds.
        travel_m: travel at its start; speed: 0 in a stop [m/s].
        clock: the next stop by the clock that has not begun at its start.
        laid: number of stretches laid, shape (1,).
    """

    start_s: Floats
    end_s: Floats
    travel_m: Floats
    speed: Floats
    clock: Ints
    laid: Ints


class QueueState(NamedTuple):
    """What is in front of the belt.

    Attributes:
        queue: rows waiting, shape (4, rows): stack, paid cars without a place, loading line,
            re-washes without a place.
        head, tail: of each queue.
        lane_car: row in each lane, −1 if free.
        lane_end: when its payment ends, infinite once it has [s].
        place: where everybody is, shape (8,).
        due: next time of the loader, and of a payment [s].
    """

    queue: Ints
    head: Ints
    tail: Ints
    lane_car: Ints
    lane_end: Floats
    place: Ints
    due: Floats


class Day(NamedTuple):
    """A day on its way, as every function of the line and of the cloth is handed it.

    Attributes:
        line, cloth, work, hands, cars: what it is made of.
        belt, front, rows, wiped: what becomes of it.
    """

    line: LineNumbers
    cloth: Cloth
    work: Work
    hands: Hands
    cars: CarTable
    belt: Belt
    front: QueueState
    rows: LineRows
    wiped: Wiped


def empty_rows(room: int) -> LineRows:
    """Room for so many passes."""
    return LineRows(
        np.empty((room, TIMES)),
        np.empty((room, MARKS), np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.zeros(2, np.int64),
    )


def empty_wiped(
    room: int, hours: int, kept: tuple[int, int, int], *, detail: bool = False
) -> Wiped:
    """Room for so many passes and clock hours; `kept`: bands, watched cues and changes of set."""
    bands, watches, changes = kept
    return Wiped(
        moisture=np.empty((room, 4)),
        marks=np.empty((room, 8), np.int64),
        hands=np.empty((room, 3)),
        busy=np.empty(MOST_FINISHERS),
        detail=np.empty((room if detail else 0, DETAIL)),
        hours=np.zeros((hours, ACCOUNT)),
        state=np.zeros(STATE),
        places=np.zeros(5, np.int64),
        bands=np.zeros(bands, np.int64),
        watches=np.zeros((watches, 5)),
        changed_s=np.zeros(changes),
    )
