"""What the invented site has measured: soaked strips, a spin test, a towel test.

No result is written down by hand. `TRUTH` is what the site would be like if it stood somewhere; its
past days are simulated by the program's own model with the cars that were counted, and what a scale
or an eye would have shown is noted, with errors as large as the model takes them to be. The site
itself knows nothing but the notes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from random import Random
from statistics import NormalDist

import numpy as np

from app.answers.beliefs import weighed
from app.answers.coming_days import coming_day
from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite
from sim.day.kernel import run
from sim.day.kernel import tables as r
from sim.day.night import Night
from sim.day.rules import FULL
from sim.day.setup import cloth_numbers, damp_criterion
from sim.inputs import (
    CALL_BACK,
    CARS_LOOKED_AT,
    HOODS,
    LET_PASS,
    SOAKED,
    SPIN,
    TOWEL,
    Site,
    SiteData,
    Value,
    Weighing,
)
from sim.learn.weighed_day import WEIGHED_DAY, idled

SEED = 20260711
TRUTH: dict[str, Value] = {
    "throw_off_time_s": 4500.0,
    "holding_capacity_kg_kg": 2.4,
}
"""What the site is really like where it can only guess; all else is as entered, or the default."""
STRIP_KG, TOWEL_KG = 0.060, 0.310

MORNING_S = 6.25 * 3600.0
SOAKED_ON, STRIPS_SOAKED = date(2026, 7, 7), 2
SPUN_ON, SPUN_FROM_S, SPUN_FOR_S = date(2026, 7, 8), 20.75 * 3600.0, (900.0, 3600.0, 7200.0)
SPUN_WET = (0.9, 0.7)
"""Strips that were followed: how wet each was when the wheel began to idle, as a share of
what it holds."""
TOWELS_ON, TOWELS_FROM_S, TOWELS_EACH = date(2026, 7, 11), 12.5 * 3600.0, 5


class _Luck:
    """Errors of scale and eye, by uniform numbers turned over."""

    def __init__(self, seed: int) -> None:
        self.uniform = Random(seed).random

    def normal(self) -> float:
        """A standard normal number."""
        return NormalDist().inv_cdf(min(max(self.uniform(), 1e-12), 1.0 - 1e-12))

    def weight(self, dry_kg: float, water_kg_kg: float, sd: float) -> float:
        """What a scale that shows grams says of a strip or towel [kg]."""
        return round(dry_kg * (1.0 + water_kg_kg * math.exp(sd * self.normal())), 3)


@dataclass(frozen=True, slots=True)
class _Lived:
    """A past day as the true site lived through it.

    Attributes:
        left_s: when each car left the wheel [s], rising; hood_kg: water on its hood [kg], if it
            were one of the reference class; both of shape (cars,).
    """

    left_s: list[float]
    hood_kg: list[float]

    def after(self, at_s: float) -> int:
        """Place of the first car that left after a time [s]."""
        return int(np.searchsorted(self.left_s, at_s, side="right"))


def weighings(data: SiteData) -> tuple[Weighing, ...]:
    """Everything measured at the site, in order; `data` holds its counts and weather."""
    luck, site = _Luck(SEED), data.site.with_values(TRUTH)
    towels = _towels(site, _live(data, site, TOWELS_ON), luck)
    return tuple(sorted([*_soaked(site, luck), *_spun(data, site, luck), *towels]))


def _live(data: SiteData, site: Site, day: date) -> _Lived:
    """A past day with the cars that were counted on it, every car wiped in full."""
    late = Weighing(HOODS, day, 19.5 * 3600.0, cars=CARS_LOOKED_AT)
    of_day = weighed(replace(data, weighings=(late,))).days[0]
    night = None if of_day.evening is None else Night(of_day.evening, FULL, SEED, 1)
    prepared = DrawnSite(Drawn(site), of_day.conditions, night).prepare()
    cars = make_cars(DayDraw(SEED, 0, 0, WEIGHED_DAY), site, of_day.conditions)
    done = run(site, prepared.numbers, cars, FULL, tables=prepared.tables, detail=True)
    rows = done.flow.rows
    left = rows.times[: int(rows.counts[r.ROWS]), r.EXIT]
    gone = [int(at) for at in np.argsort(left, kind="stable") if math.isfinite(left[at])]
    hood_m2 = site.reference.areas_m2[0]
    hood = [float(done.wiped.detail[at, r.REMAINS]) * hood_m2 for at in gone]
    return _Lived([float(left[at]) for at in gone], hood)


def _soaked(site: Site, luck: _Luck) -> Iterator[Weighing]:
    holding, sd = site.wheel.holding_capacity_kg_kg, site.wheel.weigh_in_log_sd
    for _ in range(STRIPS_SOAKED):
        yield Weighing(SOAKED, SOAKED_ON, MORNING_S, luck.weight(STRIP_KG, holding, sd), STRIP_KG)


def _spun(data: SiteData, site: Site, luck: _Luck) -> Iterator[Weighing]:
    """Wet strips on the idling wheel after closing."""
    expected = coming_day(data, SPUN_ON).expected
    if expected is None:
        raise ValueError(f"{SPUN_ON} has no weather")
    cloth, sd = cloth_numbers(site, expected.conditions), site.wheel.weigh_in_log_sd
    for wet in SPUN_WET:
        moisture = wet * site.wheel.holding_capacity_kg_kg
        began = luck.weight(STRIP_KG, moisture, sd)
        for spun_s in SPUN_FOR_S:
            then = idled(cloth, moisture, SPUN_FROM_S, SPUN_FROM_S + spun_s)
            after = luck.weight(STRIP_KG, then, sd)
            yield Weighing(
                SPIN, SPUN_ON, SPUN_FROM_S, began, STRIP_KG, after_kg=after, spun_s=spun_s
            )


def _towels(site: Site, lived: _Lived, luck: _Luck) -> Iterator[Weighing]:
    """Hoods dried with towels as they came, until there were enough of both verdicts."""
    wheel, limit = site.wheel, damp_criterion(site)[0] * site.reference.areas_m2[0]
    got: dict[str, list[float]] = {LET_PASS: [], CALL_BACK: []}
    went_by = called_back = 0
    for water in lived.hood_kg[lived.after(TOWELS_FROM_S) :]:
        is_back = math.log(water / limit) + wheel.crew_damp_log_sd * luck.normal() > 0.0
        went_by, called_back = went_by + 1, called_back + is_back
        towels = got[CALL_BACK if is_back else LET_PASS]
        if len(towels) < TOWELS_EACH:
            taken = wheel.towel_takes * water / TOWEL_KG
            towels.append(luck.weight(TOWEL_KG, taken, wheel.towel_log_sd))
        if all(len(some) == TOWELS_EACH for some in got.values()):
            break
    for verdict, weights in got.items():
        for weight in weights:
            yield Weighing(
                TOWEL, TOWELS_ON, TOWELS_FROM_S, weight, TOWEL_KG, cars=went_by,
                damp_cars=called_back, verdict=verdict,
            )  # fmt: skip
