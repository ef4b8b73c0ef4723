"""What the compiled day reads and where it writes.

It reads a site's day and its cars as plain numbers and arrays. It writes a row a pass, in the
order in which cars come and come back.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.day.costs import able_s
from sim.day.draw import DayCars
from sim.day.setup import IDLE, STILL, DayNumbers
from sim.inputs import Site, Steps
from sim.physics.water_film import film_at_wheel, wiping_share
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
    """Water, wheel and cloth of a day.

    Attributes:
        speed_from: rows of the belt's timetable, as in `LineNumbers`.
        film_kg_m2: median film of a zone with factor 1, by row of the timetable.
        share: wiping share at an uptake of 1, by row of the timetable.
        factor: film factor of each zone by class, shape (classes, 4); NaN without the zone.
        area_m2: area still wiped, likewise.
        dry_wear: wear by wiping a zone with dry cloth, shape (rows, classes, 4).
        wiped_share: share of each zone still wiped.
        limit, throw: X_e [kg/kg] and k [1/s] by state of the wheel.
        drying: r by clock hour and state, shape (24, 3).
        cars_wait: whether the belt stands while a set is changed; else cars pass unwiped.
        in_stop: state of the wheel while the belt stands.
        damp_moisture: moisture at the damp limit [kg/kg].
    """

    open_s: float
    speed_from: Floats
    film_kg_m2: Floats
    share: Floats
    factor: Floats
    area_m2: Floats
    dry_wear: Floats
    wiped_share: float
    allowed_film: float
    uptake_max: float
    uptake_loss: float
    life_scale_cars: float
    wet_factor: float
    idle_wear_per_h: float
    set_wear_cars: float
    dry_moisture: float
    change_s: float
    cars_wait: bool
    mass_kg: float
    holding: float
    bound: float
    critical: float
    limit: Floats
    throw: Floats
    drying: Floats
    in_stop: int
    damp_moisture: float
    opening_moisture: float
    finish_share: float
    rewash_share: float


class Work(NamedTuple):
    """Hours and work of the people on the line, for the figures.

    Attributes:
        able_s: work that people can do by half-hour [person-s], shape (48,).
        hand: factor on all work by class.
        loading_s, leaving_s: work per pass before and after the belt [s].
        reduced_s, damp_s: further work of a reduced wipe and of a towel [s].
        change_s, change_people: how long a change of set takes [s], and how many hands.
    """

    stack_limit: int
    pitch_m: float
    holding: float
    opening_moisture: float
    able_s: Floats
    hand: Floats
    loading_s: float
    leaving_s: float
    reduced_s: float
    damp_s: float
    change_s: float
    change_people: float


class Tables(NamedTuple):
    """Everything of one site on one day; made once for many draws and rules."""

    line: LineNumbers
    cloth: Cloth
    work: Work
    couples: bool  # re-washes may come back to the line


class CarTable(NamedTuple):
    """The cars of a day as arrays; the last four of each pass."""

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
    fate_again: Floats
    clock_start_s: Floats
    clock_end_s: Floats


def make_tables(site: Site, day: DayNumbers) -> Tables:
    """The tables of a site's day."""
    line, pay, crew = site.line, site.pay, site.crew
    speed_from, speed = _timetable(day.speeds)
    lane_from, lanes = _timetable(pay.pay_lanes)
    loader_from, loaders = _timetable(pay.loaders)
    return Tables(
        LineNumbers(
            day.open_s,
            day.close_s,
            line.pusher_pitch_m,
            day.spacing_m,
            line.least_gap_m,
            line.wheel_position_m,
            int(pay.loading_line_cars),
            int(pay.stack_limit_cars),
            day.capacity_per_s,
            lane_from,
            lanes.astype(np.int64),
            loader_from,
            np.where(loaders >= 2, float(pay.second_loader_factor), 1.0),
            speed_from,
            speed,
            np.array([float(item.numbers.pushed_wheel_m) for item in site.vehicles]),
            np.array([float(item.numbers.hood_start_m) for item in site.vehicles]),
            _zones(day)[2],
            float(crew.rewash_return_s),
            float(site.drying.close_spin_s),
        ),
        _cloth(site, day, speed_from, speed),
        Work(
            int(pay.stack_limit_cars),
            line.pusher_pitch_m,
            day.cloth.holding,
            day.opening_moisture,
            np.array(able_s(site, day)),
            np.array([float(item.numbers.hand_work) for item in site.vehicles]),
            float(crew.prep_work_s + crew.load_work_s),
            float(crew.exit_work_s),
            float(crew.reduced_work_s),
            float(crew.damp_work_s),
            site.wear.set_change_min * 60.0,
            float(site.wear.set_change_people),
        ),
        crew.damp_rewash_share > 0,
    )


def _cloth(site: Site, day: DayNumbers, speed_from: Floats, speed: Floats) -> Cloth:
    water, wiping, wear, crew = site.water, site.wiping, site.wear, site.crew
    factor, area, length = _zones(day)
    films = [
        film_at_wheel(
            1.0,
            water.film_after_rinse_kg_m2,
            water.blower_removal,
            water.blower_reference_speed_m_s,
            water.blower_speed_exponent,
            each,
            1.0,
        )
        for each in speed.tolist()
    ]
    shares = [
        wiping_share(1.0, wiping.contact_patch_m, each, wiping.wipe_time_s)
        for each in speed.tolist()
    ]
    cloth = day.cloth
    return Cloth(
        day.open_s,
        speed_from,
        np.array(films),
        np.array(shares),
        factor,
        area * day.wiped_share,
        np.array([_dry_wear(day, length, each) for each in speed.tolist()]),
        float(day.wiped_share),
        day.allowed_film,
        float(wiping.uptake_max),
        float(wear.uptake_loss_at_life),
        float(wear.life_scale_cars),
        float(wear.wet_wear_factor),
        float(wear.idle_wear_per_h),
        float(wear.cloth_wear_cars),
        float(wear.dry_set_moisture_kg_kg),
        wear.set_change_min * 60.0,
        wear.set_change_cars == "wait",
        cloth.mass_kg,
        float(cloth.holding),
        float(cloth.bound),
        float(cloth.critical),
        np.array([float(row[0]) for row in cloth.throw]),
        np.array([float(row[1]) for row in cloth.throw]),
        np.array(cloth.rate, dtype=float),
        IDLE if site.line.wheel_during_stop == "idle" else STILL,
        day.damp_limit * cloth.holding,
        float(day.opening_moisture),
        float(crew.damp_finish_share),
        float(crew.damp_rewash_share),
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
        _floats(cars.arrival_s),
        np.ascontiguousarray(cars.class_index, dtype=np.int64),
        _floats(cars.length_m),
        np.ascontiguousarray(cars.sold_full, dtype=np.bool_),
        _floats(cars.pay_s),
        _floats(cars.patience_s),
        _floats(first.load_s),
        _floats(first.film_noise),
        _floats(first.stop_s),
        _floats(first.fate),
        _floats(again.load_s),
        _floats(again.film_noise),
        _floats(again.stop_s),
        _floats(again.fate),
        stops[:, 0].copy(),
        stops[:, 1].copy(),
    )


def _floats(values: Floats) -> Floats:
    # one layout, so that nothing is compiled twice
    return np.ascontiguousarray(values, dtype=np.float64)


# columns of `Rows.times`
(ARRIVAL, PAY_START, PAID, UNBLOCKED, LOAD_START, LOADED, CAUGHT, HOOD) = range(8)
ZONE_END = 8  # and the three after it
EXIT = 12
TIMES = 13

# columns of `Rows.line`
(CAR, TURN, LOST, LANE, PUSHER, APART) = range(6)
MARKS = 6

KEPT, LOST_FULL, LOST_IMPATIENT = 0, 1, 2
"""Values of LOST."""

# columns of `Wiped.moisture` and `Wiped.marks`
(BEFORE, AFTER, WORN) = range(3)
(REDUCED, UNWIPED, SET, DAMP, REAR_WET, FATE) = range(6)
UNHURT, LEAVES, TOWEL, AGAIN = 0, 1, 2, 3
"""Values of FATE."""

# columns of `Wiped.detail`, four zones each
WATER, FILM, REMAINS = 0, 4, 8
DETAIL = 12

# columns of `Wiped.hours`
(TAKEN, THROWN, EVAPORATED, HELD, TIME, OVER, SPINNING) = range(7)
ACCOUNT = 7

# places of `Rows.counts`
(ROWS, ON_BELT) = range(2)


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
        moisture: shape (rows, 3): before and after the car [kg/kg], wear.
        marks: shape (rows, 6).
        detail: shape (rows, 12): water [kg], film, film left [kg/m²] by zone; no rows if nobody
            asked.
        hours: the account by clock hour, shape (hours, 7).
        state: shape (9,), see `wheel`.
        places: shape (5,), see `wheel`.
        bands: what each band last decided.
        watches: what each watched cue remembers, shape (watched cues, 5), see `wheel`.
        changed_s: when each change of set began [s]; as many as were made hold.
    """

    moisture: Floats
    marks: Ints
    detail: Floats
    hours: Floats
    state: Floats
    places: Ints
    bands: Ints
    watches: Floats
    changed_s: Floats


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
    room: int, hours: int, bands: int, watches: int, changes: int, detail: bool
) -> Wiped:
    """Room for so many passes and clock hours, bands, watched cues and changes of set."""
    return Wiped(
        np.empty((room, 3)),
        np.empty((room, 6), np.int64),
        np.empty((room if detail else 0, DETAIL)),
        np.zeros((hours, ACCOUNT)),
        np.zeros(9),
        np.zeros(5, np.int64),
        np.zeros(bands, np.int64),
        np.zeros((watches, 5)),
        np.zeros(changes),
    )
