"""What a simulated day leaves behind: passes of cars, the cloth's account, and its figures, one
number each for the day and by hour.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayCars
from sim.day.figures import (
    FIGURES,
    HALF_HOUR_S,
    HALF_HOURS,
    able_s,
    hands_s,
    money_of,
    overload_s,
    prices_of,
)
from sim.day.setup import DayNumbers
from sim.inputs import Site

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
        damp, roof_wet, rear_wet: judged on hood and windshield; on the roof; on the rear.
        fate: what a damp car gets, or empty.
        finish_s, finished_s: a finisher begins to dry it and is done; NaN if nobody did.
        looked_s: person-seconds of looks at cues as its hood met the wheel.
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
    roof_wet: bool = False
    rear_wet: bool = False
    fate: str = ""
    finish_s: float = NAN
    finished_s: float = NAN
    looked_s: float = 0.0


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


Floats = NDArray[np.float64]
HOURS = 24


@dataclass(frozen=True, slots=True)
class DayFigures:
    """Figures of one day: scalars by name, and arrays of shape (24,) by name (NaN: none)."""

    day: dict[str, float]
    hours: dict[str, Floats]


def summarise(site: Site, day: DayNumbers, cars: DayCars, result: DayResult) -> DayFigures:
    """The figures of a simulated day, in SI; what happens after 24:00 counts in hour 23."""
    firsts = [p for p in result.passes if p.turn == 1]
    washed = [p for p in firsts if not p.lost]
    passes = [p for p in result.passes if not p.lost]
    waits = np.array([_wait(p) for p in washed])
    work, finishing = _work(site, result, passes), _finishing(passes)
    beyond = overload_s(work, np.array(able_s(site, day, result.closed_s)))
    looks = _looks(passes)
    # finishers take no more than they have time for, and a look has a price of its own
    work += finishing + looks
    hours = _hours(site, day, cars, result, work)
    before = np.array([p.moisture_before for p in passes]) / day.cloth.holding
    after = np.array([p.moisture_after for p in passes]) / day.cloth.holding
    open_hours = [h for h in result.hours[: int(day.close_s // 3600 + 1)] if h.time_s > 0]
    open_s = sum(h.time_s for h in open_hours)
    mean = sum(h.held_s for h in open_hours) / open_s / day.cloth.holding if open_s else math.nan
    damp, lost = sum(p.damp for p in washed), [p.lost for p in firsts]
    left_damp = sum(p.fate == LEFT for p in passes)
    figures: dict[str, float] = {
        "cars_arrived": len(firsts),
        "cars_washed": len(washed),
        "cars_lost": len(firsts) - len(washed),
        "cars_lost_full": lost.count(FULL_STACK),
        "cars_lost_impatient": lost.count(IMPATIENT),
        "cars_per_hour": float(np.max(hours["washed"])),
        "wait_p50_s": _quantile(waits, 50),
        "wait_p90_s": _quantile(waits, 90),
        "wait_p95_s": _quantile(waits, 95),
        "stack_max": float(np.max(hours["stack_max"])),
        "stack_full_minutes": _full_minutes(site, result),
        "belt_use": _belt_use(site, result, passes),
        "stops": float(sum(1 for start, _ in result.stops if start < result.closed_s)),
        "overtime_minutes": max(0.0, result.closed_s - day.close_s) / 60.0,
        "damp_share": _share(damp, len(washed)),
        "damp_cars": damp,
        "left_damp_share": _share(left_damp, len(washed)),
        "left_damp": left_damp,
        "rear_wet_share": _share(sum(p.roof_wet or p.rear_wet for p in washed), len(washed)),
        "full_share": _share(sum(_wiped_full(p) for p in washed), len(washed)),
        "saturation_mean": mean,
        "saturation_p95": _quantile(before, 95),
        "saturation_max": max(
            float(np.max(after, initial=0.0)), day.opening_moisture / day.cloth.holding
        ),
        "over_damp_limit_minutes": sum(h.over_limit_s for h in open_hours) / 60.0,
        "water_taken_kg": sum(h.taken_kg for h in result.hours),
        "water_thrown_kg": sum(h.thrown_kg for h in result.hours),
        "water_evaporated_kg": sum(h.evaporated_kg for h in result.hours),
        "wear_cars": result.wear_cars,
        "finished_cars": sum(p.fate == FINISHED for p in passes),
        "rewashed_cars": sum(p.fate == REWASHED for p in passes),
        "staff_use": float(np.max(hours["staff_use"])),
        **work_of(float(work.sum()), beyond),
    }
    counts = {
        **figures,
        **_minded(cars, firsts, passes),
        "sets_changed": result.sets_changed,
        "overload_s": beyond,
        "looks_s": float(looks.sum()),
    }
    figures |= money_of(prices_of(site, day), counts, result.closed_s)
    return DayFigures({name: float(figures[name]) for name in FIGURES}, hours)


def _minded(cars: DayCars, firsts: list[CarPass], passes: list[CarPass]) -> dict[str, float]:
    """What goodwill is counted from, and members who drove away."""
    by_members = [p for p in passes if cars.member[p.car]]
    counts: dict[str, float] = {"reduced": sum(p.reduced for p in passes)}
    for ending, some in (("", passes), ("_members", by_members)):
        gone = [p for p in some if p.fate != REWASHED]
        counts[f"left_damp{ending}"] = sum(p.fate == LEFT for p in some)
        counts[f"roof_left_wet{ending}"] = sum(p.roof_wet for p in gone)
        counts[f"rear_left_wet{ending}"] = sum(p.rear_wet for p in gone)
    waited, away = 0.0, 0
    for car in firsts:
        if cars.member[car.car]:
            waited += float(cars.patience_s[car.car]) if car.lost else _wait(car)
            away += bool(car.lost)
    return {**counts, "member_waits_s": waited, "lost_members": away}


def _wait(car: CarPass) -> float:
    paying, loading = car.paid_s - car.pay_start_s, car.loaded_s - car.load_start_s
    return car.caught_s - car.arrival_s - paying - loading


def _wiped_full(car: CarPass) -> bool:
    return not car.reduced and not car.unwiped


def _share(part: int, whole: int) -> float:
    return part / whole if whole else math.nan


def _quantile(values: Floats, percent: float) -> float:
    """Percentile by linear interpolation between order statistics, rank 1 + p(N − 1)."""
    return float(np.percentile(values, percent)) if len(values) else math.nan


def _belt_use(site: Site, result: DayResult, passes: list[CarPass]) -> float:
    if not passes or result.travel_m <= 0:
        return math.nan
    taken = sum(p.pushers_apart for p in passes) * site.line.pusher_pitch_m
    return min(1.0, taken / result.travel_m)


def _stack_stays(result: DayResult) -> tuple[Floats, Floats]:
    """Begin and end of each car's stay before the pay lanes, re-washes included [s]."""
    stays = [
        (p.arrival_s, p.pay_start_s if p.turn == 1 else p.unblocked_s)
        for p in result.passes
        if not p.lost
    ]
    table = np.array(stays, dtype=float).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def _levels(begins: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Times of change and number present from each on; departures before arrivals."""
    times = np.concatenate([begins, ends])
    steps = np.concatenate([np.ones(len(begins)), -np.ones(len(ends))])
    order = np.lexsort((steps, times))
    return times[order], np.cumsum(steps[order])


def _full_minutes(site: Site, result: DayResult) -> float:
    times, levels = _levels(*_stack_stays(result))
    if not len(times) or site.pay.stack_limit_cars == 0:
        return 0.0
    spans = np.diff(times)
    return float(np.sum(spans[levels[:-1] >= site.pay.stack_limit_cars])) / 60.0


def _hour_of(times: Floats) -> NDArray[np.int64]:
    return np.minimum(times // 3600, HOURS - 1).astype(np.int64)


def _count(times: list[float]) -> Floats:
    return np.bincount(_hour_of(np.array(times)), minlength=HOURS).astype(float)


def _shared_s(begins: Floats, ends: Floats, count: int) -> Floats:
    """How long each stay lies in each of so many equal parts of the day, of which the last one goes
    on [s]; shape (stays, parts)."""
    edges = np.arange(count) * (86400.0 / count)
    until = edges + 86400.0 / count
    until[-1] = np.inf
    shared = np.minimum(ends[:, None], until) - np.maximum(begins[:, None], edges)
    return np.asarray(np.clip(shared, 0.0, None))


def _presence(begins: Floats, ends: Floats) -> Floats:
    """Mean number present in each clock hour."""
    return np.asarray(np.sum(_shared_s(begins, ends, HOURS), axis=0) / 3600.0)


def _grouped(
    times: list[float], values: list[float], function: Callable[[Floats], float]
) -> Floats:
    out = np.full(HOURS, np.nan)
    if times:
        hour, value = _hour_of(np.array(times)), np.array(values, dtype=float)
        for h in np.unique(hour):
            out[h] = function(value[hour == h])
    return out


def _hours(
    site: Site, day: DayNumbers, cars: DayCars, result: DayResult, work: Floats
) -> dict[str, Floats]:
    passes = [p for p in result.passes if not p.lost]
    washed = [p for p in passes if p.turn == 1]
    begins, ends = _stack_stays(result)
    waits, arrived = [_wait(p) for p in washed], [p.arrival_s for p in washed]
    lost_full = _count([p.arrival_s for p in result.passes if p.lost == FULL_STACK])
    lost_impatient = _count([p.arrival_s for p in result.passes if p.lost == IMPATIENT])
    wheel = [p.wheel_s for p in passes]
    account = _account(result)
    held = [h.held_s / h.time_s / day.cloth.holding if h.time_s > 0 else math.nan for h in account]
    unblocked, loading = (
        [getattr(p, at) for p in passes] for at in ("unblocked_s", "load_start_s")
    )
    # working time of the people on the line, one at least
    there = np.array(able_s(site, day)) + np.array(hands_s(site, day))
    able = np.maximum(there.reshape(HOURS, 2).sum(axis=1), 3600.0)
    return {
        "arrived": _count(cars.arrival_s.tolist()),
        "washed": _count([p.exit_s for p in passes if p.fate != REWASHED]),
        "lost": lost_full + lost_impatient,
        "lost_full": lost_full,
        "lost_impatient": lost_impatient,
        "stack_mean": _presence(begins, ends),
        "stack_max": _most(*_levels(begins, ends)),
        "loading_line_mean": _presence(np.array(unblocked), np.array(loading)),
        "wait_mean_s": _grouped(arrived, waits, lambda v: float(np.mean(v))),
        "wait_p90_s": _grouped(arrived, waits, lambda v: _quantile(v, 90)),
        "saturation_mean": np.array(held),
        "damp_share": _grouped(wheel, [p.damp for p in passes], lambda v: float(np.mean(v))),
        "full_share": _grouped(
            wheel, [_wiped_full(p) for p in passes], lambda v: float(np.mean(v))
        ),
        "water_taken_kg": np.array([h.taken_kg for h in account]),
        "water_thrown_kg": np.array([h.thrown_kg for h in account]),
        "water_evaporated_kg": np.array([h.evaporated_kg for h in account]),
        "staff_use": np.asarray(work.reshape(HOURS, 2).sum(axis=1) / able),
    }


def _account(result: DayResult) -> list[ClothHour]:
    """The cloth's account in 24 hours, overtime after 24:00 added to the last one."""
    account = [dataclasses.replace(hour) for hour in result.hours]
    account += [ClothHour() for _ in range(HOURS - len(account))]
    for late in account[HOURS:]:
        for item in dataclasses.fields(ClothHour):
            total = getattr(account[HOURS - 1], item.name) + getattr(late, item.name)
            setattr(account[HOURS - 1], item.name, total)
    return account[:HOURS]


def _most(times: Floats, levels: Floats) -> Floats:
    """Most present at once in each clock hour, what an hour began with included."""
    most = np.zeros(HOURS)
    if len(times):
        np.maximum.at(most, _hour_of(times), levels)
        at = np.searchsorted(times, np.arange(HOURS) * 3600.0, side="right") - 1
        most = np.maximum(most, np.where(at >= 0, levels[np.maximum(at, 0)], 0.0))
    return most


def _work(site: Site, result: DayResult, passes: list[CarPass]) -> Floats:
    """Work of all but finishers by half-hour [person-s]: preparing, loading, exit with reduced
    wipes, and the hands of changes of set; shape (48,)."""
    crew, wear = site.crew, site.wear
    work = np.zeros(HALF_HOURS)
    for car in passes:
        hand = site.vehicles[car.class_index].numbers.hand_work
        work[_half_hour(car.load_start_s)] += hand * (crew.prep_work_s + crew.load_work_s)
        leaving = crew.exit_work_s
        leaving += crew.reduced_work_s if car.reduced else 0.0
        work[_half_hour(car.exit_s)] += hand * leaving
    for start in result.changed_s:
        end = start + wear.set_change_min * 60.0
        shared = _shared_s(np.array([start]), np.array([end]), HALF_HOURS)[0]
        work += wear.set_change_people * shared
    return work


def _finishing(passes: list[CarPass]) -> Floats:
    """Work of finishers by half-hour [person-s]; shape (48,)."""
    done = [(p.finish_s, p.finished_s) for p in passes if p.fate == FINISHED]
    table = np.array(done, dtype=float).reshape(-1, 2)
    return np.asarray(_shared_s(table[:, 0], table[:, 1], HALF_HOURS).sum(axis=0))


def _looks(passes: list[CarPass]) -> Floats:
    """Looks at cues by half-hour [person-s], priced by themselves; shape (48,)."""
    looks = np.zeros(HALF_HOURS)
    for car in passes:
        looks[_half_hour(car.wheel_s)] += car.looked_s
    return looks


def _half_hour(moment_s: float) -> int:
    return min(int(moment_s // HALF_HOUR_S), HALF_HOURS - 1)


def work_of(work_s: float, overload_s: float) -> dict[str, float]:
    """Figures of the people's work from person-seconds."""
    return {"work_hours": work_s / 3600.0, "overload_hours": overload_s / 3600.0}
