"""A drawn site that lives through one weighed day after another.

What a day makes of a site does not depend on the days that it lived before, but most of what a day
is made of comes back in each of them: the site's scalars and tables, and its luck, as every weighed
day is drawn from the same streams (`sim.learn.weighed_day`). All that is made once here, and only
the arrivals, the air and the cloth of each day are new; an evening has the air of the day before,
which was just worked out. Every figure is that of `look_at`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import (
    DayCars,
    DayDraw,
    arrival_times,
    as_it_comes,
    make_cars,
    with_other_arrivals,
)
from sim.day.engine import NO_CARS, PreparedDay
from sim.day.figures import prices_of
from sim.day.kernel.tables import in_air_of, make_tables
from sim.day.night import EVENING, Night
from sim.day.rules import Rule, parse_rule
from sim.day.setup import (
    ClothNumbers,
    DayNumbers,
    as_hung,
    cloth_numbers,
    hung_moisture,
    prepare_day,
)
from sim.inputs import Conditions, Site
from sim.learn.weighed_day import WEIGHED_DAY, WeighedDay, damp_seen, live_with, until

Floats = NDArray[np.float64]
AIRS = 2
"""Days whose air is kept: that of a day is needed again for the evening before the next one."""
ANY_AIR = Conditions(NO_CARS, (20.0,) * 24, (0.5,) * 24)
"""What the scalars are worked out in that no air changes."""


class CarsOfDays:
    """The cars of days that share one draw; equal to what `make_cars` makes of each."""

    def __init__(self, draw: DayDraw, site: Site) -> None:
        self._draw, self._site = draw, site
        self._most: DayCars | None = None

    def on(self, conditions: Conditions) -> DayCars:
        """The cars of a day."""
        per_h = as_it_comes(self._draw, self._site, conditions)
        arrival_s = arrival_times(self._draw, self._site, per_h)
        if self._most is None or len(self._most.arrival_s) < len(arrival_s):
            self._most = make_cars(self._draw, self._site, conditions)
        return with_other_arrivals(self._most, arrival_s)


class LivingSite:
    """A site without any doubt; what it keeps is bounded and never changes a figure."""

    def __init__(self, site: Site, seed: int, number: int) -> None:
        """Args:
        seed, number: of its days, as `look_at` has them of one day.
        """
        self._site = as_hung(site)
        self._day = CarsOfDays(DayDraw(seed, 0, number, WEIGHED_DAY), self._site)
        self._evening = CarsOfDays(DayDraw(seed + number, 0, EVENING), self._site)
        self._bare = prepare_day(self._site, ANY_AIR)
        self._tables = make_tables(self._site, self._bare)
        self._prices = prices_of(self._site, self._bare)
        self._keys = [item.key for item in site.vehicles]
        self._cloth = lru_cache(maxsize=AIRS)(self._in_air)

    def damp(self, day: WeighedDay) -> Floats:
        """Share of damp hoods that each look of a day sees; shape (looks,)."""
        last_s = max([*(w.at_s for w in day.weighings), *(at for at, _ in day.cars.washed)])
        rule = parse_rule(day.weighings[0].rule, self._keys)
        conditions = until(day.conditions, last_s)
        prepared = self._prepared(conditions, self._opening(day, conditions, rule))
        return damp_seen(prepared, live_with(day, prepared, rule, self._day.on), day.weighings)

    def _in_air(self, temp_c: tuple[float, ...], humidity: tuple[float, ...]) -> ClothNumbers:
        return cloth_numbers(self._site, Conditions(NO_CARS, temp_c, humidity))

    def _numbers(self, conditions: Conditions, opening: float) -> DayNumbers:
        cloth = self._cloth(conditions.temp_c, conditions.humidity)
        return replace(self._bare, cloth=cloth, opening_moisture=min(opening, cloth.holding))

    def _prepared(self, conditions: Conditions, opening: float) -> PreparedDay:
        numbers = self._numbers(conditions, opening)
        tables = in_air_of(self._tables, numbers)
        return PreparedDay(self._site, conditions, numbers, tables, self._prices)

    def _opening(self, day: WeighedDay, conditions: Conditions, rule: Rule) -> float:
        """Moisture at which the cloth opens a day [kg/kg]."""
        evening, site = day.evening, self._site
        if evening is None or site.wear.dry_set_at_opening:
            return hung_moisture(site, conditions.opening_moisture_kg_kg)
        before = evening.conditions
        lived = self._prepared(before, hung_moisture(site, before.opening_moisture_kg_kg))
        night = Night(evening, rule, 0, 1)
        cars = self._evening.on(before)
        rest = night.rest_with(site, lived.numbers, lambda _number: cars, lived.tables)
        return night.opening_moisture(rest, self._numbers(conditions, 0.0))
