"""What a simulated day leaves behind: a row a car and pass, and the cloth's account by hour."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

NAN = math.nan
FULL_STACK = "stack full"
IMPATIENT = "not willing to wait"
LEFT, FINISHED, REWASHED = "left damp", "towel-finished", "re-washed"


@dataclass(slots=True)
class CarPass:
    """One car's way through the line; a re-wash is a second row. Times [s after midnight].

    Attributes:
        car: number of the car by arrival, from 0.
        turn: 1 for the first pass, 2 for a re-wash.
        arrival_s: arrival; of a re-wash, its return to the head of the stack.
        class_index: vehicle class.
        lost: why the car drove away, or empty.
        lane: pay lane from 0; −1 without one.
        pay_start_s, paid_s: payment begins and ends.
        unblocked_s: the car leaves its lane (a re-wash: the stack) for the loading line.
        load_start_s, loaded_s: loading.
        pusher: number of the pusher that caught it; pushers_apart: fewest since the car ahead.
        caught_s: caught; wheel_s: its hood meets the wheel; exit_s: its tail has passed it.
        reduced: wiped reduced; unwiped: passed with the wheel locked out.
        cloth_set: number of the cloth set on the wheel, from 0.
        water_kg: water taken from hood, windshield, roof, rear.
        moisture_before, moisture_after: of the cloth, before and after the car [kg/kg].
        film_before, film_left: film at and after the wheel by zone [kg/m²]; NaN without the zone.
        wear_cars: wear by this car [full-wipe equivalents].
        damp, rear_wet: judged on hood and windshield; on roof and rear.
        fate: what a damp car gets, or empty.
    """

    car: int
    turn: int
    arrival_s: float
    class_index: int
    length_m: float
    sold_full: bool
    lost: str = ""
    lane: int = -1
    pay_start_s: float = NAN
    paid_s: float = NAN
    unblocked_s: float = NAN
    load_start_s: float = NAN
    loaded_s: float = NAN
    pusher: int = -1
    pushers_apart: int = 0
    caught_s: float = NAN
    wheel_s: float = NAN
    exit_s: float = NAN
    reduced: bool = False
    unwiped: bool = False
    cloth_set: int = 0
    water_kg: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    moisture_before: float = NAN
    moisture_after: float = NAN
    film_before: tuple[float, float, float, float] = (NAN, NAN, NAN, NAN)
    film_left: tuple[float, float, float, float] = (NAN, NAN, NAN, NAN)
    wear_cars: float = 0.0
    damp: bool = False
    rear_wet: bool = False
    fate: str = ""


@dataclass(slots=True)
class ClothHour:
    """The cloth's account of one clock hour.

    Attributes:
        taken_kg, thrown_kg, evaporated_kg: water taken from cars, thrown off, evaporated.
        held_s: ∫ moisture dt [kg/kg·s]; time_s: time accounted for [s].
        over_limit_s: time at or above the damp limit [s], to within a step's curvature.
        spinning_s: time the wheel turned off a car [s].
    """

    taken_kg: float = 0.0
    thrown_kg: float = 0.0
    evaporated_kg: float = 0.0
    held_s: float = 0.0
    time_s: float = 0.0
    over_limit_s: float = 0.0
    spinning_s: float = 0.0


@dataclass(slots=True)
class DayResult:
    """One simulated day.

    Attributes:
        passes: rows in the order in which cars arrived; re-washes where they returned.
        hours: the cloth's account by clock hour, from hour 0; longer than 24 in long overtime.
        stops: belt stops that began, joined where they overlap [s].
        travel_m: belt travel until the last car left.
        start_kg, end_kg: water in the cloth at opening and when the wheel has come to rest.
        carried_off_kg: water carried off with changed sets, less what dry sets brought.
        sets_changed: dry sets put on during the day; changed_s: when each change began [s].
        wear_cars: wear of the day on all sets [full-wipe equivalents].
        closed_s: when the last car had left or opening ended, whichever is later.
        rest_s: when the wheel came to rest; closing_moisture: the cloth's moisture then.
    """

    passes: list[CarPass] = field(default_factory=list)
    hours: list[ClothHour] = field(default_factory=list)
    stops: list[tuple[float, float]] = field(default_factory=list)
    travel_m: float = 0.0
    start_kg: float = 0.0
    end_kg: float = 0.0
    carried_off_kg: float = 0.0
    sets_changed: int = 0
    changed_s: list[float] = field(default_factory=list)
    wear_cars: float = 0.0
    closed_s: float = 0.0
    rest_s: float = 0.0
    closing_moisture: float = 0.0
