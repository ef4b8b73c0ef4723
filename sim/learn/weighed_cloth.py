"""What a drawn site would have weighed and seen on a weighed day: its cloth and damp cars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.damp_share import damp_share
from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite, PreparedDay, Replication
from sim.day.kernel import Run, Tables
from sim.day.kernel import rows as r
from sim.day.night import Night
from sim.day.rules import Rule, parse_rule
from sim.day.setup import damp_criterion
from sim.day.strip import moistures_at, until, washed_until
from sim.inputs import Site
from sim.learn.weighed_day import WeighedDay, cars_until, scaled

Floats = NDArray[np.float64]

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
class Looked:
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


def together(parts: Sequence[Looked]) -> Looked:
    """The rows of all parts."""
    return Looked(
        np.concatenate([part.moistures for part in parts]),
        np.concatenate([part.damp for part in parts]),
        np.concatenate([part.damp_before for part in parts]),
    )


def look_at(
    site: Site, days: Sequence[WeighedDay], seed: int, number: int = 0, draws: int = DAYS
) -> Looked:
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
    return Looked(
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
