"""What a day was like on which strips were weighed, and what drawn sites would have weighed on it.

A day is weighed because it is busy, seldom because it is as expected. What its cars really were
is taken from the first of these that there is:

1. the site's counts of that very day, hour by hour until the last weighing; hours without a
   count are scaled like those with one, as long as most of the cars fall into counted hours;
2. the cars washed until a weighing, which whoever weighed has noted with it: each simulated day
   is then made to have washed as many (`live`);
3. nothing: its cars are as unsure as those of any day that the counts lead to expect, level, day
   factor and hours alike (`sim.learn.like_days`), its level more so because the day was picked,
   and drawn anew for every drawn site; where counts tell nothing of that, by a guess.

Its air is that of the stored weather of the day or of its season, with what was noted as felt.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite, PreparedDay, Replication
from sim.day.kernel import Run
from sim.day.kernel import tables as r
from sim.day.kernel.tables import Tables
from sim.day.night import Night, PreviousDay
from sim.day.rules import Rule, parse_rule
from sim.day.setup import IDLE, ClothNumbers, DayNumbers, damp_criterion
from sim.inputs import HOODS, Conditions, DemandSpread, History, HourCount, Site, Weighing
from sim.physics.moisture import cloth_step
from sim.physics.water_film import film_sigma, uptake_now
from sim.special import ndtr

Known = Literal["counts", "so far", "nothing"]
"""What the cars of a weighed day are taken from: its counts, the cars so far, or nothing."""

MOST = 0.5
"""Share of the cars expected until a weighing that must fall into counted hours."""
LIKE_DAYS = 4
"""A mean of so many like days is what a day is expected from, at the least."""
PICKED_CV = 0.2
"""How much further the level of a day may be off because it was picked for weighing, as a busy day
or as one with time for it: a coefficient of variation, a guess. The days that counts tell of were
not picked: by their spread alone 90 % ranges held 82 to 95 of 128 truths on days 20 to 35 % quieter
than expected."""


@dataclass(frozen=True, slots=True)
class Cars:
    """The cars of a weighed day until its last weighing.

    Attributes:
        known: what they are taken from.
        per_h: as they were counted or expected; 24 values by clock hour [cars].
        washed: times [s] and cars washed until then, by time, where they are known by those.
        until_s: until when they are known; 0 for nothing [s].
        seen, expected: cars until then, and as many as were expected.
    """

    known: Known
    per_h: tuple[float, ...]
    washed: tuple[tuple[float, int], ...] = ()
    until_s: float = 0.0
    seen: float = 0.0
    expected: float = 0.0


NOTHING = Cars("nothing", ())


@dataclass(frozen=True, slots=True)
class WeighedDay:
    """The weighings of one day and rule, with what the day really had.

    Attributes:
        conditions: its cars by hour, counted where they were, how far they may be off, and its
            air.
        evening: the last open day before, from which the morning's moisture comes; None for a
            dry set in the morning, or the moisture of the conditions.
        cars: what its cars are taken from.
    """

    weighings: tuple[Weighing, ...]
    conditions: Conditions
    evening: PreviousDay | None
    cars: Cars = NOTHING


def cars_of_day(
    history: History,
    day: date,
    open_hours: Sequence[int],
    expected_per_h: Sequence[float],
    noted: Sequence[Weighing],
    last_s: float,
) -> Cars:
    """What is known of the cars of a day until a time.

    Args:
        expected_per_h: cars that were expected in each clock hour, 24 values.
        noted: the weighings of that day, some of which may tell the cars so far.
        last_s: when the last strip of those to be judged was weighed [s].
    """
    until = [hour for hour in open_hours if hour * 3600.0 < last_s]
    counted = {h: n for h, n in hourly(history.counts, day).items() if h in until}
    expected = math.fsum(expected_per_h[hour] for hour in counted)
    if counted and expected >= MOST * math.fsum(expected_per_h[hour] for hour in until):
        scale = math.fsum(counted.values()) / expected if expected else 1.0
        per_h = tuple(counted.get(h, n * scale) for h, n in enumerate(expected_per_h))
        end_s = min(last_s, (max(counted) + 1) * 3600.0)
        seen, usual = (cars_until(cars, end_s) for cars in (per_h, expected_per_h))
        return Cars("counts", per_h, (), end_s, seen, usual)
    washed = so_far(noted)
    if washed:
        end_s, cars = washed[-1]
        usual = cars_until(expected_per_h, end_s)
        return Cars("so far", tuple(expected_per_h), washed, end_s, float(cars), usual)
    return Cars("nothing", tuple(expected_per_h))


def hourly(counts: Sequence[HourCount], day: date) -> Mapping[int, float]:
    """Cars of each counted clock hour of a day; an hour that comes twice is its mean."""
    of_hour: defaultdict[int, list[int]] = defaultdict(list)
    for row in counts:
        if row.day == day:
            of_hour[row.hour].append(row.cars)
    return {hour: sum(cars) / len(cars) for hour, cars in of_hour.items()}


def so_far(noted: Sequence[Weighing]) -> tuple[tuple[float, int], ...]:
    """Times and cars washed until then, by time; a number below an earlier one is left out."""
    rising: list[tuple[float, int]] = []
    for at_s, cars in sorted({(w.at_s, w.cars_so_far) for w in noted if w.cars_so_far}):
        if not rising or (at_s > rising[-1][0] and cars >= rising[-1][1]):
            rising.append((at_s, cars))
    return tuple(rising)


def cars_until(per_h: Sequence[float], at_s: float) -> float:
    """Cars of clock hours until a time of the day [s], an hour's cars spread evenly."""
    return math.fsum(
        cars * min(1.0, max(0.0, at_s / 3600.0 - hour)) for hour, cars in enumerate(per_h)
    )


def guessed_cv(day_factor_cv: float) -> float:
    """How far a day may be off of which nothing is known, where counts tell of no spread.

    The spread of days, that of the mean of the like days which it is expected from, and that of
    days that are picked for weighing, added in squares; a coefficient of variation.
    """
    return math.hypot(day_factor_cv * math.sqrt(1.0 + 1.0 / LIKE_DAYS), PICKED_CV)


def spread_of(known: Known, expected: DemandSpread, day_factor_cv: float) -> DemandSpread:
    """How far the cars of a weighed day come out from what its hours say: not where known.

    Args:
        expected: of the day, as it was expected; where it rests on counts and nothing is known of
            the day itself it holds, but for the level of a day that was picked.
        day_factor_cv: the site's own, for the guess.
    """
    if known == "counts":
        return DemandSpread(0.0, 0.0)
    if known == "so far":
        return DemandSpread(0.0, expected.hour_cv)
    if not expected.days:
        return DemandSpread(guessed_cv(day_factor_cv))
    return replace(expected, level_cv=math.hypot(expected.level_cv, PICKED_CV))


def total_cv(spread: DemandSpread, day_factor_cv: float) -> float:
    """How far the cars of a whole day may come out from what is expected of it.

    Day factor and level, in squares, as a day is simulated (`sim.day.draw.as_it_comes`).
    """
    of_day = day_factor_cv if spread.day_cv is None else spread.day_cv
    return math.hypot(of_day, spread.level_cv)


def scaled(
    conditions: Conditions, times_s: Sequence[float], factors: Sequence[float]
) -> Conditions:
    """The day with its cars multiplied: until the first time by the first factor, and so on.

    Args:
        times_s: rising [s]; after the last one its factor holds on.
    """
    if not times_s:
        return conditions
    edges = [0.0, *(at / 3600.0 for at in times_s[:-1]), 24.0]
    per_h = []
    for hour, cars in enumerate(conditions.arrivals_per_h):
        overlaps = (
            max(0.0, min(hour + 1.0, end) - max(float(hour), start))
            for start, end in pairwise(edges)
        )
        per_h.append(cars * math.fsum(part * f for part, f in zip(overlaps, factors, strict=True)))
    return replace(conditions, arrivals_per_h=tuple(per_h))


# ---- what a drawn site would have weighed and seen -----------------------------------------------


Floats = NDArray[np.float64]


def damp_share(
    site: Site,
    tables: Tables,
    moistures_kg_kg: Floats,
    times_s: Floats,
    wiped_cars: Floats | float = 0.0,
) -> Floats:
    """Expected share of cars that leave with a damp hood or windshield.

    A zone with film f is left with f·(1 − s·κ·(1 − S)), S saturation and s the share of it that
    is wiped, and is damp above the allowed film. The film of a car is lognormal, so the share of
    a class is a normal probability of the lowest film that leaves a zone damp. Against the day
    itself this leaves out that the cloth gets wetter within one car, and wear within the day.

    Args:
        tables: of the day.
        moistures_kg_kg: moisture of the cloth, any shape, which is that of the answer.
        times_s: when, which tells the belt's speed [s after midnight]; of the same shape.
        wiped_cars: cars that the cloth wiped on that day before, whose soil it holds; likewise.
    """
    cloth = tables.cloth
    row = np.maximum(np.searchsorted(tables.line.speed_from, times_s, side="right") - 1, 0)
    uptake = uptake_now(
        cloth.uptake_max,
        cloth.uptake_loss,
        cloth.set_wear_cars,
        cloth.life_scale_cars,
        cloth.set_soil,
    )
    kappa = uptake * cloth.soil_a_car**wiped_cars * cloth.share[row]
    room = 1.0 - np.minimum(moistures_kg_kg / cloth.holding, 1.0)
    film = cloth.film_kg_m2[row] * (1.0 - cloth.wiped_share * kappa * room)
    highest = np.nan_to_num(cloth.factor[:, :2]).max(axis=1)  # of hood and windshield, by class
    shares = np.array([item.numbers.share for item in site.vehicles])
    with np.errstate(divide="ignore"):  # no film leaves nothing damp: the logarithm is −∞
        over = np.log(film[..., None] * highest / cloth.allowed_film)
    sigma = max(film_sigma(site.water.film_cv), 1e-9)  # cars that are all alike: a step
    return np.asarray(ndtr(over / sigma) @ (shares / shares.sum()))


def until(conditions: Conditions, at_s: float) -> Conditions:
    """The day with no cars after the hour of a time [s]: what came before stays as it was."""
    last = int(at_s // 3600)
    cars = tuple(n if hour <= last else 0.0 for hour, n in enumerate(conditions.arrivals_per_h))
    return replace(conditions, arrivals_per_h=cars)


def _times(done: Run) -> Floats:
    """Times of the cars of a compiled day [s], a row a car."""
    rows = done.flow.rows
    return rows.times[: int(rows.counts[r.ROWS])]


def moistures_at(done: Run, day: DayNumbers, times_s: Sequence[float]) -> Floats:
    """Moisture of the cloth [kg/kg] at times of a compiled day [s], in the order of the times.

    The last car that left the wheel before a time tells it, carried on by an idling wheel up to
    the time, or up to when the next car's hood came: a car under the wheel is weighed as it was
    before. Before the first car it is the opening moisture.
    """
    times = _times(done)
    left, hoods = times[:, r.EXIT], np.sort(times[:, r.HOOD])
    found = []
    for at in times_s:
        gone = np.flatnonzero(left <= at)  # a car that was lost has no time, and never counts
        moisture, now = day.opening_moisture, day.open_s
        if gone.size:
            last = gone[np.argmax(left[gone])]
            moisture, now = float(done.wiped.moisture[last, r.AFTER]), float(left[last])
        coming = hoods[hoods > now]
        end = min(at, float(coming[0])) if coming.size else at
        found.append(idled(day.cloth, moisture, now, end))
    return np.array(found)


def washed_until(done: Run, times_s: Sequence[float]) -> Floats:
    """How many cars had left the wheel at times of a compiled day [s], in the order of the times.

    A re-wash counts again, as it does for whoever counts cars at the exit.
    """
    left = np.sort(_times(done)[:, r.EXIT])  # the lost, NaN, come last
    return np.searchsorted(left, np.asarray(times_s), side="right").astype(float)


def idled(cloth: ClothNumbers, moisture: float, now: float, end: float) -> float:
    """Moisture after an idling wheel from a time to another, hour by hour."""
    return each_idled(cloth, [moisture], now, end)[0]


def each_idled(
    cloth: ClothNumbers, moistures: Iterable[float], now: float, end: float
) -> list[float]:
    """The same of each of some moistures."""
    limit, k = cloth.throw[IDLE]
    steps = list[tuple[float, float]]()
    while now < end:
        step = min(end, (now // 3600 + 1) * 3600.0) - now
        steps.append((step, cloth.rate[int(now // 3600) % 24][IDLE]))
        now += step
    found = []
    for moisture in moistures:
        for step, rate in steps:
            moisture = cloth_step(moisture, step, limit, k, rate, cloth.critical, cloth.bound)[0]
        found.append(moisture)
    return found


DAYS = 1
"""Simulated days of a weighed day at a drawn site. Each site lives through days of its own, so
that all sites together average over the day's luck; one a site leaves time for more sites."""
LEAST_MOISTURE = 1e-6
"""A cloth as dry as that is as good as bone dry; logarithms need something [kg/kg]."""
WEIGHED_DAY = 1_000_007
"""Index of the draws of weighed days, which no day of a plan has."""
TRIES = 4
"""How often a day is simulated, at most, until it has washed as many cars as were counted."""
NEAR = 0.01
"""A day that has washed so nearly as many, as a share, has washed as many; or to a car."""
SLOWEST, FASTEST = 0.05, 3.0
"""How far a day's arrivals are scaled; beyond, the line and not demand was the bound."""


def shown(moisture_kg_kg: Floats | float, bias: Floats | float) -> Floats:
    """Moisture that a scale of some bias makes of a strip's, whose dry weight is known [kg/kg].

    Such a scale shows 1 + bias times what hangs on it, which is 1 + moisture times the dry weight.
    """
    found = (1.0 + np.asarray(bias)) * (1.0 + np.asarray(moisture_kg_kg)) - 1.0
    return np.asarray(np.maximum(found, LEAST_MOISTURE))


@dataclass(frozen=True, slots=True)
class PredictedWeighings:
    """What drawn sites would weigh and see, a row a site.

    Attributes:
        moistures: holding capacity; moisture at the damp limit; then for each weighed day, and
            for each of the simulated ones, the moisture at each of its weighings [kg/kg].
        damp, damp_before: without the first two columns, the share of cars left damp at each of
            those (of the last hoods that were looked at, where those count), and cars that are
            expected to have left damp until then.
        allowed_kg: water that may be left on the reference car's hood [kg]; shape (sites,).
        spun: moisture of the strips of spin tests, see `sim.learn.spin.spun`; shape (sites, rows,
            NODES).
    """

    moistures: Floats
    damp: Floats
    damp_before: Floats
    allowed_kg: Floats = field(default_factory=lambda: np.empty(0))
    spun: Floats = field(default_factory=lambda: np.empty((0, 0, 0)))


def together(parts: Sequence[PredictedWeighings]) -> PredictedWeighings:
    """The rows of all parts."""
    columns = zip(
        *((p.moistures, p.damp, p.damp_before, p.allowed_kg, p.spun) for p in parts), strict=True
    )
    return PredictedWeighings(*map(np.concatenate, columns))


def look_at(
    site: Site, days: Sequence[WeighedDay], seed: int, number: int = 0, draws: int = DAYS
) -> PredictedWeighings:
    """What a site without any doubt would weigh and see: one row.

    Args:
        number: of the drawn site; each lives through weighed days of its own.
    """
    holding = site.wheel.holding_capacity_kg_kg
    allowed, limit = damp_criterion(site)
    found = [np.array([holding, limit * holding])]
    damp, before = [np.empty(0)], [np.empty(0)]
    for place, day in enumerate(days):
        times = [w.at_s for w in day.weighings]
        rule = parse_rule(day.weighings[0].rule, [item.key for item in site.vehicles])
        night = seed + place + len(days) * number
        last_s = max([*times, *(at for at, _ in day.cars.washed)])
        evening = None if day.evening is None else Night(day.evening, rule, night, 1)
        expected = until(day.conditions, last_s)
        prepared = DrawnSite(Drawn(site), expected, evening).prepare()
        for draw in range(draws):
            stream = DayDraw(seed, place, number * draws + draw, WEIGHED_DAY)
            lived = live(day, prepared, rule, stream)
            found.append(moistures_at(lived, prepared.numbers, times))
            before.append(damp_until(site, prepared.tables, lived, times))
            damp.append(damp_seen(prepared, lived, day.weighings, found[-1]))
    rows = [np.concatenate(parts)[None, :] for parts in (found, damp, before)]
    hood_kg = np.array([allowed * site.reference.areas_m2[0]])
    return PredictedWeighings(np.maximum(rows[0], LEAST_MOISTURE), rows[1], rows[2], hood_kg)


def damp_seen(
    prepared: PreparedDay, done: Run, weighings: Sequence[Weighing], moistures: Floats | None = None
) -> Floats:
    """Expected share of damp ones that each measurement of a compiled day sees: among the last
    hoods that it looked at, else, or where there were none, of the cars of its moment.

    Args:
        moistures: of the cloth at each of them, to spare working them out anew [kg/kg].
    """
    site, tables, times = prepared.site, prepared.tables, [w.at_s for w in weighings]
    last = np.full(len(weighings), math.nan)
    if any(w.kind == HOODS for w in weighings):
        last = last_damp(site, tables, done, weighings)
    if not np.isnan(last).any():
        return last
    if moistures is None:
        moistures = moistures_at(done, prepared.numbers, times)
    now = damp_share(site, tables, moistures, np.array(times), washed_until(done, times))
    return np.where(np.isnan(last), now, last)


def damp_until(site: Site, tables: Tables, done: Run, times_s: Sequence[float]) -> Floats:
    """Cars expected to have left damp until times of a compiled day [s]; of the same length.

    Each car that left the wheel counts with the share of cars that its cloth leaves damp, so that
    the luck of single cars is not in it.
    """
    left, shares = each_damp(site, tables, done)
    so_many = np.searchsorted(left, np.asarray(times_s), side="right")
    return np.concatenate([[0.0], np.cumsum(shares)])[so_many]


def last_damp(site: Site, tables: Tables, done: Run, weighings: Sequence[Weighing]) -> Floats:
    """Expected share of damp ones among the last hoods that were looked at, as many as each
    measurement has; NaN for those that did not look at the last ones, or had none to look at."""
    left, shares = each_damp(site, tables, done)
    found = []
    for item in weighings:
        end = int(np.searchsorted(left, item.at_s, side="right"))
        last = shares[max(0, end - item.cars) : end]
        found.append(float(last.mean()) if item.kind == HOODS and last.size else math.nan)
    return np.array(found)


def each_damp(site: Site, tables: Tables, done: Run) -> tuple[Floats, Floats]:
    """When each car left the wheel [s], rising, and the share of cars left damp by its cloth."""
    left = _times(done)[:, r.EXIT]
    gone = np.flatnonzero(np.isfinite(left))
    gone = gone[np.argsort(left[gone])]
    after, before = done.wiped.moisture[gone, r.AFTER], np.arange(float(len(gone)))
    return left[gone], damp_share(site, tables, after, left[gone], before)


def live(day: WeighedDay, prepared: PreparedDay, rule: Rule, stream: DayDraw) -> Run:
    """A weighed day with as many cars as it had, of a draw; see `live_with`."""
    return live_with(day, prepared, rule, lambda some: make_cars(stream, prepared.site, some))


def live_with(
    day: WeighedDay, prepared: PreparedDay, rule: Rule, cars_on: Callable[[Conditions], DayCars]
) -> Run:
    """A weighed day with as many cars as it had.

    Where the cars washed until some times are known, the arrivals before each are scaled until
    the simulated day has washed as many; the shape of the day between stays as it was expected.

    Args:
        cars_on: gives the cars of a day, always of the same draw.
    """
    conditions = prepared.conditions
    if not day.cars.washed:
        return Replication(prepared, cars_on(conditions)).run(rule)
    times = [at for at, _ in day.cars.washed]
    wanted = np.array([cars for _, cars in day.cars.washed])
    usual = np.array([cars_until(conditions.arrivals_per_h, at) for at in times])
    factors = better_factors(np.ones(len(times)), wanted, usual)
    for _ in range(TRIES):
        cars = cars_on(scaled(conditions, times, factors.tolist()))
        done = Replication(prepared, cars).run(rule)
        had = washed_until(done, times)
        if np.all(np.abs(had - wanted) <= np.maximum(1.0, NEAR * wanted)):
            break
        factors = better_factors(factors, wanted, had)
    return done


def better_factors(factors: Floats, wanted: Floats, had: Floats) -> Floats:
    """Factors under which as many cars are washed between the times as were wanted."""
    steps, made = np.diff(wanted, prepend=0.0), np.diff(had, prepend=0.0)
    return np.clip(factors * steps / np.maximum(made, 1.0), SLOWEST, FASTEST)
