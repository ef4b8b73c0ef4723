"""Thresholds to try for each cue that a crew can see, read off simulated days.

The ideal band and the ideal clock windows are run on a few draws; what a crew would have counted
and weighed, without error, at the cars at which they switch are the readings about which
thresholds are tried. Clock windows are tried as they are and some minutes earlier.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from sim.day.cues import GRAMS, HOUR_S, CrewCars, CrewClock, CrewStrip, Cue
from sim.day.engine import Replication, each
from sim.day.kernel.rows import BEFORE, HOOD, ON_BELT
from sim.day.rules import Band, Clock, Rule, RuleState, SetChange, Term
from sim.decide.switching.question import SwitchQuestion, search_draws, with_opening
from sim.inputs import Site

CLOCK: Final = "clock"
CARS: Final = "cars"
STRIP: Final = "strip"
CueKind = Literal["clock", "cars", "strip"]
UPPER_AT = (0.1, 0.35, 0.65, 0.9)
"""Quantiles, over all switches to reduced, of the readings that are tried as upper thresholds."""
LOWER_AT = (0.3, 0.7)
LOWER_SHARES = (0.97, 0.88, 0.7)
"""Lower thresholds: quantiles over the switches back, and shares of the upper reading (of a
strip's: of the water in it)."""
EARLIER_S = (0.0, 300.0, 600.0)
ROUND_S = 300.0
STEPS_G = (1.0, 2.0, 5.0, 10.0, 20.0)
"""Weights are rounded to the largest of these that is at most a 40th of the water of a saturated
strip, so that rounding moves a saturation by little."""
FEWEST = 4
"""Switches that must have been seen before thresholds are read off them."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Cars counted in the last hour, and weights of a strip [kg], when rules switched."""

    cars_up: tuple[float, ...] = ()
    cars_down: tuple[float, ...] = ()
    strip_up: tuple[float, ...] = ()
    strip_down: tuple[float, ...] = ()


def time_terms(rule: Rule) -> list[Clock | Band]:
    """Its clock windows and bands, each once: what says when to reduce, and not whom."""
    terms = (term for row in rule.either for term in row)
    return list(dict.fromkeys(term for term in terms if isinstance(term, Clock | Band)))


def with_term(rule: Rule, wanted: Term) -> Rule:
    """The rule with every clock window and band replaced by one term; who is spared stays."""
    rows = (
        tuple(dict.fromkeys(wanted if isinstance(t, Clock | Band) else t for t in row))
        for row in rule.either
    )
    return replace(rule, either=tuple(dict.fromkeys(rows)))


# ---- readings ------------------------------------------------------------------------------------


def read_off(
    question: SwitchQuestion,
    rules: Sequence[Rule],
    draws: int,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> Readings:
    """What is read when rules of one band or one clock term switch, on the first draws."""
    bare = with_opening(question)
    few = search_draws(bare, draws)
    found = list(each(bare.experiment, tuple(rules), few, _of_draw, executor, progress))
    return Readings(
        *(tuple(itertools.chain.from_iterable(getattr(one, name) for one in found))
          for name in Readings.__dataclass_fields__)
    )  # fmt: skip


def _of_draw(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Readings:
    crew, holding = day.cars.crew, day.of.numbers.cloth.holding
    up: list[tuple[float, float]] = []
    down: list[tuple[float, float]] = []
    for rule in rules:
        (term,) = time_terms(rule)
        state = RuleState(Rule(((term,),)), [item.key for item in day.of.site.vehicles], crew)
        done = day.run(rule, sets)
        lines = done.flow.rows
        at = lines.order[: lines.counts[ON_BELT]]
        hoods = lines.times[at, HOOD]
        counts = np.arange(len(at)) - np.searchsorted(hoods, hoods - HOUR_S, side="right")
        wet = done.wiped.moisture[at, BEFORE] / holding
        before = False
        for hood, count, share in zip(hoods.tolist(), counts.tolist(), wet.tolist(), strict=True):
            now = state.reduced(hood, share, 0, False)
            if now != before:
                weight = crew.strip_dry_kg + crew.strip_holding_kg * share
                (up if now else down).append((float(count), weight))
            before = now
    return Readings(*(tuple(pair[i] for pair in side) for i in (0, 1) for side in (up, down)))


# ---- grids ---------------------------------------------------------------------------------------


def grids(
    site: Site, windows: Sequence[Clock], readings: Readings
) -> dict[CueKind, tuple[Cue, ...]]:
    """The cues to try, by kind; none of a kind where nothing tells where to begin."""
    step = _step_kg(site)
    dry = float(site.wheel.strip_dry_mass_kg)
    clocks = itertools.chain.from_iterable(_clocks(site, one) for one in windows)
    cars = _pairs(readings.cars_up, readings.cars_down, 0.0, 1.0)
    strips = _pairs(readings.strip_up, readings.strip_down, dry, step)
    return {
        CLOCK: tuple(dict.fromkeys(clocks)),
        CARS: tuple(CrewCars(upper, lower) for upper, lower in cars),
        STRIP: tuple(CrewStrip(upper, lower) for upper, lower in strips),
    }


def _step_kg(site: Site) -> float:
    held_g = GRAMS * site.wheel.strip_dry_mass_kg * site.wheel.holding_capacity_kg_kg
    fine = [step for step in STEPS_G if step <= held_g / 40.0] or [STEPS_G[0]]
    return fine[-1] / GRAMS


def _pairs(
    up: Sequence[float], down: Sequence[float], zero: float, step: float
) -> list[tuple[float, float]]:
    """Upper and lower thresholds in whole steps, each pair once; `zero`: reading without a load."""
    if len(up) < FEWEST:
        return []
    lows = np.quantile(down, LOWER_AT).tolist() if len(down) >= FEWEST else []
    found = []
    for upper in np.quantile(up, UPPER_AT).tolist():
        shares = (zero + share * (upper - zero) for share in LOWER_SHARES)
        for lower in (*lows, *shares):
            pair = (_rounded(upper, step), _rounded(min(lower, upper - step), step))
            if zero < pair[1] < pair[0]:
                found.append(pair)
    return list(dict.fromkeys(found))


def _rounded(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def _clocks(site: Site, term: Clock) -> Iterable[CrewClock]:
    """Windows with all beginnings, and all ends, some minutes earlier, within the hours open."""
    opens, closes = site.line.open_h * HOUR_S, site.line.close_h * HOUR_S
    for early, soon in itertools.product(EARLIER_S, EARLIER_S):
        edges = []
        for start, end in term.windows:
            edges.append(_moved(start, early) if start > opens else start)
            edges.append(_moved(end, soon) if end < closes else end)
        if edges[0] >= min(opens, term.windows[0][0]) and all(
            a < b for a, b in itertools.pairwise(edges)
        ):
            yield CrewClock(tuple(zip(edges[::2], edges[1::2], strict=True)))


def _moved(edge_s: float, earlier_s: float) -> float:
    return math.floor((edge_s - earlier_s) / ROUND_S + 0.5) * ROUND_S
