"""How the plan moves with the day, and up to which day always full is enough."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from sim.day.engine import Cell, Told, Variant, quiet
from sim.day.figures import finite
from sim.day.rules import Rule
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.candidates import narrowed
from sim.decide.switching.choice import Floats, chance_enough, column, damp_share
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws, with_opening
from sim.decide.switching.reasons import at_humidity
from sim.decide.switching.search import SMALL, SamplingBudget, search
from sim.inputs import Conditions

Way = Literal["as_expected", "cooler", "hotter", "wetter", "busier", "quieter"]

WAYS: tuple[Way, ...] = ("as_expected", "cooler", "hotter", "wetter", "busier", "quieter")
APART_K, WETTER, BUSIER, QUIETER = 5.0, 0.15, 1.25, 0.75
"""Kelvins cooler and hotter, relative humidity more, and times the expected cars."""
HOT_MOST_C, COLD_LEAST_C = 50.0, 1.0


@dataclass(frozen=True, slots=True)
class MovedPlan:
    """The plan for a day that is a little different.

    Attributes:
        highest_temp_c, humidity, cars: of that day; relative humidity at its warmest hour.
        damp_share, full_cars: what the rule does on it; full_damp_share: what always full does.
        keeps, probability: of the choice among the few rules looked at; see `Selection`.
        same: whether the rule is that of the day as expected.
    """

    way: Way
    highest_temp_c: float
    humidity: float
    cars: float
    rule: Rule
    damp_share: float
    full_damp_share: float
    full_cars: float
    keeps: bool
    probability: float
    same: bool


def moved_day(conditions: Conditions, way: Way) -> Conditions:
    """The day cooler or hotter (with as much water in the air), wetter, busier or quieter."""
    top = max(conditions.temp_c)
    if way == "cooler":
        return at_highest(conditions, max(COLD_LEAST_C, top - APART_K))
    if way == "hotter":
        return at_highest(conditions, min(HOT_MOST_C, top + APART_K))
    if way == "wetter":
        now = conditions.humidity[conditions.temp_c.index(top)]
        return at_humidity(conditions, min(1.0, now + WETTER))
    if way == "busier":
        return at_demand(conditions, BUSIER)
    if way == "quieter":
        return at_demand(conditions, QUIETER)
    return conditions


def how_it_moves(
    question: SwitchQuestion,
    rule: Rule,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    effort: SamplingBudget = SMALL,
) -> tuple[MovedPlan, ...]:
    """The plan for each of `WAYS`, among the neighbours of the day's rule and a coarse grid.

    The cloth opens as it does on the day as expected, unless inputs are drawn: then every drawn
    site has the night before that day. About 6 · 1,000 runs.
    """
    base = with_opening(question)
    among = narrowed(question.site, rule)
    plans: list[MovedPlan] = []
    for place, way in enumerate(WAYS):
        conditions = moved_day(base.conditions, way)

        def told(done: int, total: int, place: int = place) -> None:
            progress(place * total + done, len(WAYS) * total)

        asked = replace(base, conditions=conditions, among=among)
        found = search(asked, executor, told, effort=effort)
        full = found.rules.index(next(r for r in found.rules if not r.either))
        own, of_full = found.outcomes[found.selection.chosen], found.outcomes[full]
        top = max(conditions.temp_c)
        plans.append(
            MovedPlan(
                way, top, conditions.humidity[conditions.temp_c.index(top)],
                sum(conditions.arrivals_per_h), found.chosen, float(damp_share(own).mean()),
                float(damp_share(of_full).mean()), float(column(own, "full_cars").mean()),
                found.selection.keeps, found.selection.probability,
                not plans or found.chosen == plans[0].rule,
            )
        )  # fmt: skip
    return tuple(plans)


# ---- tipping points ------------------------------------------------------------------------------

TEMPS_K = (-8.0, -4.0, 0.0, 4.0, 8.0)
DEMANDS = (0.6, 0.8, 1.0, 1.2)
LEAST_HUMIDITY = 0.1
HUMIDITIES = (LEAST_HUMIDITY, 0.4, 0.7, 1.0)
HALVINGS = 3
DRAWS, MOST_DRAWS = 16, 64
"""Draws of each point at first, and where those do not tell on which side of the limit it lies."""
SURE = 0.95


@dataclass(frozen=True, slots=True)
class Corner:
    """“Above 24 °C and below 55 % you need no switch”: temperature and humidity."""

    highest_temp_c: float
    humidity: float


@dataclass(frozen=True, slots=True)
class Tipping:
    """Up to which humidity always full is enough, by temperature and demand.

    Attributes:
        highest_temp_c: of the day; demands: times the expected cars, 1 among them; cars: of such a
            day.
        humidity: by demand and temperature, the highest relative humidity at the warmest hour at
            which always full is surely enough; 1 where any is, None where not even
            `least_humidity` is.
        not_from: likewise the lowest at which it surely is not, None where it is nowhere; between
            the two it is too close to tell.
        corners: of each demand, the sentence that covers most; None where no day needs no switch.
        draws, most_draws: on which each point was simulated, and at most where those did not tell;
            runs in all.
    """

    highest_temp_c: tuple[float, ...]
    demands: tuple[float, ...]
    cars: tuple[float, ...]
    humidity: tuple[tuple[float | None, ...], ...]
    not_from: tuple[tuple[float | None, ...], ...]
    least_humidity: float
    corners: tuple[Corner | None, ...]
    draws: int
    most_draws: int
    runs: int


def corner_of(temps_c: Sequence[float], humidity: Sequence[float | None]) -> Corner | None:
    """Of all sentences that hold at every warmer temperature looked at, the one that covers the
    most of what was looked at; None where no day needs no switch.

    Args:
        humidity: the highest at which always full is enough, by temperature; None where none is.
    """
    span = temps_c[-1] - temps_c[0] or 1.0
    best, covered = None, 0.0
    for place, temp in enumerate(temps_c):
        least = min(value or 0.0 for value in humidity[place:])
        width = (temps_c[-1] - temp) / span + 1.0 / len(temps_c)
        if least * width > covered:
            best, covered = Corner(temp, least), least * width
    return best


def border(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    temps_k: Sequence[float] = TEMPS_K,
    demands: Sequence[float] = DEMANDS,
    draws: int = DRAWS,
    most_draws: int = MOST_DRAWS,
) -> Tipping:
    """Where always full stops being enough, by bisection along humidity on common draws.

    Each temperature keeps the water in the air of the day until humidity is set. Demands must
    hold 1. A point whose draws do not tell with probability `SURE` gets twice as many, up to
    `most_draws`; what they leave open is too close to tell. 20 points · 7 humidities · 16 draws at
    least, in least cost with a few rules each.
    """
    base = with_opening(question)
    conditions = base.conditions
    top = max(conditions.temp_c)
    temps = tuple(
        dict.fromkeys(min(HOT_MOST_C, max(COLD_LEAST_C, top + apart)) for apart in temps_k)
    )
    spots = [(demand, temp) for demand in demands for temp in temps]
    days = [at_demand(at_highest(conditions, temp), demand) for demand, temp in spots]
    sides = _Sides(base, executor, progress, (draws, max(draws, most_draws)), len(spots))

    every = [(place, value) for place in range(len(spots)) for value in HUMIDITIES]
    states = sides.of([at_humidity(days[place], value) for place, value in every])
    low, high = np.full(len(spots), np.nan), np.full(len(spots), np.nan)
    for place in range(len(spots)):
        here = states[place * len(HUMIDITIES) : (place + 1) * len(HUMIDITIES)]
        # beyond the first that is not enough luck may keep it once more
        count = next((k for k, side in enumerate(here) if side != ENOUGH), len(here))
        if count:
            low[place] = HUMIDITIES[count - 1]
        missed = [k for k in range(count, len(here)) if here[k] == NOT_ENOUGH]
        if missed:
            high[place] = HUMIDITIES[missed[0]]
    live = [
        place for place in range(len(spots)) if (low[place], high[place]) in pairwise(HUMIDITIES)
    ]
    for _ in range(HALVINGS if live else 0):
        middles = [0.5 * (low[place] + high[place]) for place in live]
        found = sides.of(
            [at_humidity(days[place], middle) for place, middle in zip(live, middles, strict=True)]
        )
        for place, middle, side in zip(live, middles, found, strict=True):
            if side == ENOUGH:
                low[place] = middle
            elif side == NOT_ENOUGH:
                high[place] = middle
        live = [place for place, side in zip(live, found, strict=True) if side != OPEN]
    enough, not_from = (
        tuple(tuple(map(finite, row)) for row in ends.reshape(len(demands), -1).tolist())
        for ends in (low, high)
    )
    return Tipping(
        temps, tuple(demands), tuple(sum(conditions.arrivals_per_h) * part for part in demands),
        enough, not_from, LEAST_HUMIDITY, tuple(corner_of(temps, row) for row in enough), draws,
        sides.most, sides.count,
    )  # fmt: skip


NOT_ENOUGH, OPEN, ENOUGH = -1, 0, 1
"""What the draws say of always full on a day."""


class _Sides:
    """On which side of the limit days lie, by as many draws as that takes."""

    def __init__(
        self,
        question: SwitchQuestion,
        executor: Executor | None,
        progress: Told,
        draws: tuple[int, int],
        spots: int,
    ) -> None:
        self._question, self._executor, self._progress = question, executor, progress
        self._first, self.most = draws
        self._rules = question.rivals
        self._draws = search_draws(question, self.most)
        self._expected = spots * len(self._rules) * self._first * (len(HUMIDITIES) + HALVINGS)
        self.count = 0

    def of(self, days: Sequence[Conditions]) -> list[int]:
        """`ENOUGH`, `NOT_ENOUGH` or `OPEN` for each of some days."""
        sides, tables = [OPEN] * len(days), list[Floats]()
        had, size = 0, self._first
        places = list(range(len(days)))
        while places and had < self.most:
            more = self._run([days[place] for place in places], had, min(size, self.most))
            tables = (
                [np.concatenate(pair, axis=1) for pair in zip(tables, more, strict=True)]
                if had
                else more
            )
            had = min(size, self.most)
            size = 2 * had
            for place, table in zip(places, tables, strict=True):
                sides[place] = self._side(table)
            tables = [t for place, t in zip(places, tables, strict=True) if sides[place] == OPEN]
            places = [place for place in places if sides[place] == OPEN]
        return sides

    def _side(self, table: Floats) -> int:
        chance = chance_enough(self._question.wish, table, self._question.seed)
        return ENOUGH if chance >= SURE else NOT_ENOUGH if chance <= 1.0 - SURE else OPEN

    def _run(self, days: Sequence[Conditions], first: int, last: int) -> list[Floats]:
        before = self.count

        def told(done: int, _: int) -> None:
            self._progress(before + done, max(self._expected, before + done))

        cells: list[Cell] = [(Variant(conditions=day), self._rules) for day in days]
        draws = self._draws[first:last]
        table = outcomes(self._question, cells, draws, self._executor, told)
        self.count += table.shape[0] * table.shape[1]
        return list(table.reshape(len(days), len(self._rules), *table.shape[1:]))
