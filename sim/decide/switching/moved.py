"""How the plan moves with the day, and up to which day always full is enough."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.rules import Rule
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.judging import is_enough, rivals
from sim.decide.switching.narrow import SMALL, narrowed
from sim.decide.switching.reasons import at_humidity
from sim.decide.switching.search import SwitchQuestion, search
from sim.decide.switching.selection import Effort
from sim.decide.switching.variants import (
    Cell,
    Told,
    Variant,
    outcomes,
    quiet,
    search_draws,
    settled,
)
from sim.decide.switching.wish import Traded
from sim.inputs import Conditions

Floats = NDArray[np.float64]
Way = Literal["as_expected", "cooler", "hotter", "wetter", "busier", "quieter"]

WAYS: tuple[Way, ...] = ("as_expected", "cooler", "hotter", "wetter", "busier", "quieter")
APART_K, WETTER, BUSIER, QUIETER = 5.0, 0.15, 1.25, 0.75
"""Kelvins cooler and hotter, relative humidity more, and times the expected cars."""
HOT_MOST_C, COLD_LEAST_C = 50.0, 1.0


@dataclass(frozen=True, slots=True)
class MovedPlan:
    """The plan for a day that is a little different.

    Attributes:
        highest_c, humidity, cars: of that day; relative humidity at its warmest hour.
        point: what the rule does on it; full: what always full does.
        keeps, probability: of the choice among the few rules looked at; see `Selection`.
        same: whether the rule is that of the day as expected.
    """

    way: Way
    highest_c: float
    humidity: float
    cars: float
    rule: Rule
    point: Traded
    full: Traded
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
    effort: Effort = SMALL,
) -> tuple[MovedPlan, ...]:
    """The plan for each of `WAYS`, among the neighbours of the day's rule and a coarse grid.

    The cloth opens as it does on the day as expected, unless inputs are drawn: then every drawn
    site has the night before that day. About 6 · 1,000 runs.
    """
    base = settled(question)
    among = narrowed(question.site, rule)
    plans: list[MovedPlan] = []
    for place, way in enumerate(WAYS):
        conditions = moved_day(base.conditions, way)

        def told(done: int, total: int, place: int = place) -> None:
            progress(place * total + done, len(WAYS) * total)

        asked = replace(base, conditions=conditions, among=among)
        found = search(asked, executor, told, effort=effort)
        full = found.rules.index(next(r for r in found.rules if not r.either))
        chosen = found.selection.chosen
        top = max(conditions.temp_c)
        plans.append(
            MovedPlan(
                way, top, conditions.humidity[conditions.temp_c.index(top)],
                sum(conditions.arrivals_per_h), found.chosen, found.points[chosen],
                found.points[full], found.selection.keeps, found.selection.probability,
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
DRAWS = 16


@dataclass(frozen=True, slots=True)
class Border:
    """Up to which humidity always full is enough, by temperature and demand.

    Attributes:
        temps_c: highest temperatures of the day; demands: times the expected cars.
        humidity: the highest relative humidity at the warmest hour at which always full is
            enough, shape (demands, temps); 1 where any is, NaN where not even `LEAST_HUMIDITY` is.
        draws: on which each point was simulated; runs in all.
    """

    temps_c: tuple[float, ...]
    demands: tuple[float, ...]
    humidity: Floats
    draws: int
    runs: int

    def corner(self, demand: float = 1.0) -> tuple[float, float] | None:
        """“Above 24 °C and below 55 % you need no switch”: temperature and humidity.

        Of all such sentences that hold at every warmer temperature looked at, the one that covers
        the most of what was looked at; None where no day needs no switch.
        """
        row = self.humidity[self.demands.index(demand)]
        span = self.temps_c[-1] - self.temps_c[0] or 1.0
        best, covered = None, 0.0
        for place, temp in enumerate(self.temps_c):
            least = float(np.min(row[place:]))  # NaN where a warmer one has none
            width = (self.temps_c[-1] - temp) / span + 1.0 / len(self.temps_c)
            if least * width > covered:
                best, covered = (temp, least), least * width
        return best


def border(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    temps_k: Sequence[float] = TEMPS_K,
    demands: Sequence[float] = DEMANDS,
    draws: int = DRAWS,
) -> Border:
    """Where always full stops being enough, by bisection along humidity on common draws.

    Each temperature keeps the water in the air of the day until humidity is set. Demands must
    hold 1. 20 points · 7 humidities · 16 draws by default, in least cost with a few rules each.
    """
    base = settled(question)
    conditions = base.conditions
    top = max(conditions.temp_c)
    temps = tuple(
        dict.fromkeys(min(HOT_MOST_C, max(COLD_LEAST_C, top + apart)) for apart in temps_k)
    )
    rules = rivals(base)
    seen = search_draws(base, draws)
    spots = [(demand, temp) for demand in demands for temp in temps]
    days = [at_demand(at_highest(conditions, temp), demand) for demand, temp in spots]
    expected = len(spots) * len(rules) * draws * (len(HUMIDITIES) + HALVINGS)
    count = 0

    def enough(places: Sequence[int], humidities: Sequence[float]) -> list[bool]:
        nonlocal count
        before = count

        def told(done: int, _: int) -> None:
            progress(before + done, max(expected, before + done))

        cells: list[Cell] = [
            (Variant(conditions=at_humidity(days[place], humidity)), rules)
            for place, humidity in zip(places, humidities, strict=True)
        ]
        table = outcomes(base, cells, seen, executor, told)
        count += table.shape[0] * table.shape[1]
        parts = table.reshape(len(cells), len(rules), *table.shape[1:])
        return [is_enough(base.wish, part) for part in parts]

    every = [(place, value) for place in range(len(spots)) for value in HUMIDITIES]
    states = enough([place for place, _ in every], [value for _, value in every])
    found = np.full(len(spots), np.nan)
    brackets: dict[int, list[float]] = {}
    for place in range(len(spots)):
        kept = states[place * len(HUMIDITIES) : (place + 1) * len(HUMIDITIES)]
        if all(kept):
            found[place] = 1.0
        elif kept[0]:
            first = kept.index(False)  # beyond it luck may keep it once more
            brackets[place] = [HUMIDITIES[first - 1], HUMIDITIES[first]]
    for _ in range(HALVINGS if brackets else 0):
        middles = {place: 0.5 * sum(ends) for place, ends in brackets.items()}
        answers = enough(list(middles), list(middles.values()))
        for place, holds in zip(brackets, answers, strict=True):
            brackets[place][0 if holds else 1] = middles[place]
    for place, ends in brackets.items():
        found[place] = ends[0]
    shape = (len(demands), len(temps))
    return Border(temps, tuple(demands), found.reshape(shape), draws, count)
