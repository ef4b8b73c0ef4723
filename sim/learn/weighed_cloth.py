"""What a drawn site would have weighed and seen on a weighed day: its cloth and damp cars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite, PreparedDay, Replication
from sim.day.kernel import Run
from sim.day.kernel import tables as r
from sim.day.kernel.tables import Tables
from sim.day.night import Night
from sim.day.rules import Rule, parse_rule
from sim.day.setup import IDLE, ClothNumbers, DayNumbers, damp_criterion
from sim.inputs import Conditions, Site
from sim.learn.weighed_day import WeighedDay, cars_until, scaled
from sim.physics.moisture import cloth_step
from sim.physics.water_film import film_sigma, uptake_now

Floats = NDArray[np.float64]


def damp_share(site: Site, tables: Tables, moistures_kg_kg: Floats, times_s: Floats) -> Floats:
    """Expected share of cars that leave with a damp hood or windshield.

    A zone with film f is left with f·(1 − s·κ·(1 − S)), S saturation and s the share of it that
    is wiped, and is damp above the allowed film. The film of a car is lognormal, so the share of
    a class is a normal probability of the lowest film that leaves a zone damp. Against the day
    itself this leaves out that the cloth gets wetter within one car, and wear within the day.

    Args:
        tables: of the day.
        moistures_kg_kg: moisture of the cloth, any shape.
        times_s: when, which tells the belt's speed [s after midnight]; of the same shape.

    Returns:
        Of the same shape.
    """
    cloth = tables.cloth
    row = np.maximum(np.searchsorted(cloth.speed_from, times_s, side="right") - 1, 0)
    uptake = uptake_now(
        cloth.uptake_max, cloth.uptake_loss, cloth.set_wear_cars, cloth.life_scale_cars
    )
    kappa = uptake * cloth.share[row]
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


def moistures_at(done: Run, day: DayNumbers, times_s: Sequence[float]) -> Floats:
    """Moisture of the cloth [kg/kg] at times of a compiled day [s], in the order of the times.

    The last car that left the wheel before a time tells it, carried on by an idling wheel up to
    the time, or up to when the next car's hood came: a car under the wheel is weighed as it was
    before. Before the first car it is the opening moisture.
    """
    times = done.flow.rows.times
    count = int(done.flow.rows.counts[r.ROWS])
    left, hoods = times[:count, r.EXIT], np.sort(times[:count, r.HOOD])
    found = []
    for at in times_s:
        gone = np.flatnonzero(left <= at)  # a car that was lost has no time, and never counts
        moisture, now = day.opening_moisture, day.open_s
        if gone.size:
            last = gone[np.argmax(left[gone])]
            moisture, now = float(done.wiped.moisture[last, r.AFTER]), float(left[last])
        coming = hoods[hoods > now]
        end = min(at, float(coming[0])) if coming.size else at
        found.append(_idle(day.cloth, moisture, now, end))
    return np.array(found)


def washed_until(done: Run, times_s: Sequence[float]) -> Floats:
    """How many cars had left the wheel at times of a compiled day [s], in the order of the times.

    A re-wash counts again, as it does for whoever counts cars at the exit.
    """
    rows = done.flow.rows
    left = np.sort(rows.times[: int(rows.counts[r.ROWS]), r.EXIT])  # the lost, NaN, come last
    return np.searchsorted(left, np.asarray(times_s), side="right").astype(float)


def _idle(cloth: ClothNumbers, moisture: float, now: float, end: float) -> float:
    """Moisture after an idling wheel from a time to another, hour by hour."""
    limit, k = cloth.throw[IDLE]
    while now < end:
        step = min(end, (now // 3600 + 1) * 3600.0) - now
        rate = cloth.rate[int(now // 3600) % 24][IDLE]
        moisture, *_ = cloth_step(moisture, step, limit, k, rate, cloth.critical, cloth.bound)
        now += step
    return moisture


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


@dataclass(frozen=True, slots=True)
class PredictedWeighings:
    """What drawn sites would weigh and see, a row a site.

    Attributes:
        moistures: holding capacity; moisture at the damp limit; then for each weighed day, and
            for each of the simulated ones, the moisture at each of its weighings [kg/kg].
        damp: the share of cars left damp at each of those, without the first two columns.
        damp_before: cars that are expected to have left damp until each of those.
    """

    moistures: Floats
    damp: Floats
    damp_before: Floats


def together(parts: Sequence[PredictedWeighings]) -> PredictedWeighings:
    """The rows of all parts."""
    return PredictedWeighings(
        np.concatenate([part.moistures for part in parts]),
        np.concatenate([part.damp for part in parts]),
        np.concatenate([part.damp_before for part in parts]),
    )


def look_at(
    site: Site, days: Sequence[WeighedDay], seed: int, number: int = 0, draws: int = DAYS
) -> PredictedWeighings:
    """What a site without any doubt would weigh and see: one row.

    Args:
        number: of the drawn site; each lives through weighed days of its own.
    """
    holding = site.wheel.holding_capacity_kg_kg
    found, damp = [np.array([holding, damp_criterion(site)[1] * holding])], [np.empty(0)]
    before = [np.empty(0)]
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
            damp.append(damp_share(site, prepared.tables, found[-1], np.array(times)))
            before.append(damp_until(site, prepared.tables, lived, times))
    moistures = np.maximum(np.concatenate(found), LEAST_MOISTURE)
    return PredictedWeighings(
        moistures[None, :], np.concatenate(damp)[None, :], np.concatenate(before)[None, :]
    )


def damp_until(site: Site, tables: Tables, done: Run, times_s: Sequence[float]) -> Floats:
    """Cars expected to have left damp until times of a compiled day [s]; of the same length.

    Each car that left the wheel counts with the share of cars that its cloth leaves damp, so that
    the luck of single cars is not in it.
    """
    rows = done.flow.rows
    left = rows.times[: int(rows.counts[r.ROWS]), r.EXIT]
    gone = np.flatnonzero(np.isfinite(left))
    gone = gone[np.argsort(left[gone])]
    shares = damp_share(site, tables, done.wiped.moisture[gone, r.AFTER], left[gone])
    so_many = np.searchsorted(left[gone], np.asarray(times_s), side="right")
    return np.concatenate([[0.0], np.cumsum(shares)])[so_many]


def live(day: WeighedDay, prepared: PreparedDay, rule: Rule, stream: DayDraw) -> Run:
    """A weighed day with as many cars as it had.

    Where the cars washed until some times are known, the arrivals before each are scaled until
    the simulated day has washed as many; the shape of the day between stays as it was expected.
    """
    conditions, site = prepared.conditions, prepared.site
    times, wanted = (
        [at for at, _ in day.cars.washed],
        np.array([cars for _, cars in day.cars.washed]),
    )
    usual = np.array([cars_until(conditions.arrivals_per_h, at) for at in times])
    factors = _better(np.ones(len(times)), wanted, usual)
    for _ in range(TRIES):
        cars = make_cars(stream, site, scaled(conditions, times, factors.tolist()))
        done = Replication(prepared, cars).run(rule)
        had = washed_until(done, times)
        if np.all(np.abs(had - wanted) <= np.maximum(1.0, NEAR * wanted)):
            break
        factors = _better(factors, wanted, had)
    return done


def _better(factors: Floats, wanted: Floats, had: Floats) -> Floats:
    """Factors under which as many cars are washed between the times as were wanted."""
    steps, made = np.diff(wanted, prepend=0.0), np.diff(had, prepend=0.0)
    return np.clip(factors * steps / np.maximum(made, 1.0), SLOWEST, FASTEST)
