"""Thresholds of cues: readings at which rules switch on simulated days, and grids about them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sim.day.engine import Replication, each
from sim.day.kernel.tables import BEFORE, HOOD, HOOD_WET, ON_BELT
from sim.day.rules import (
    GRAMS,
    HOODS_SEEN,
    HOUR_S,
    Band,
    Clock,
    CrewCars,
    CrewClock,
    CrewHoods,
    CrewStrip,
    Cue,
    Rule,
    RuleState,
    SetChange,
    Term,
)
from sim.decide.switching.question import (
    SwitchQuestion,
    search_draws,
    with_opening,
)
from sim.inputs import Site

CueKind = Literal["clock", "cars", "hoods", "strip"]
UPPER_AT = (0.1, 0.35, 0.65, 0.9)
"""Quantiles, over all switches to reduced, of the readings that are tried as upper thresholds."""
LOWER_AT = (0.3, 0.7)
LOWER_SHARES = (0.9, 0.75, 0.5)
"""Lower thresholds: quantiles over the switches back, and shares of the upper reading (of a
strip's: of the water in it)."""
EARLIER_S = (0.0, 300.0, 600.0)
ROUND_S = 300.0
STEPS_G = (1.0, 2.0, 5.0, 10.0, 20.0)
"""Weights are rounded to the largest of these that is at most a 20th of the water of a saturated
strip, so that rounding moves a saturation by little."""
STEP_CARS = 5.0
"""Counts are rounded to so many cars."""
TOLD = 2.0
"""Two readings are told apart from so many standard deviations of a look on; a guess: readings
farther apart come about by misreading alone once in twenty looks."""
FEWEST = 4
"""Switches that must have been seen before thresholds are read off them."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Cars counted in the last hour, damp hoods among the last twenty, and weights of a strip [kg],
    when rules switched."""

    cars_up: tuple[float, ...] = ()
    cars_down: tuple[float, ...] = ()
    hoods_up: tuple[float, ...] = ()
    hoods_down: tuple[float, ...] = ()
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
    up: list[tuple[float, float, float]] = []
    down: list[tuple[float, float, float]] = []
    for rule in rules:
        (term,) = time_terms(rule)
        state = RuleState(Rule(((term,),)), [item.key for item in day.of.site.vehicles], crew)
        done = day.run(rule, sets)
        lines = done.flow.rows
        at = lines.order[: lines.counts[ON_BELT]]
        hoods = lines.times[at, HOOD]
        counts = np.arange(len(at)) - np.searchsorted(hoods, hoods - HOUR_S, side="right")
        wet = done.wiped.moisture[at, BEFORE] / holding
        damp = np.concatenate([[0], np.cumsum(done.wiped.marks[at, HOOD_WET])])
        places = np.arange(len(at))
        seen = damp[places] - damp[np.maximum(0, places - HOODS_SEEN)]
        before = False
        for hood, count, few, share in zip(
            hoods.tolist(), counts.tolist(), seen.tolist(), wet.tolist(), strict=True
        ):
            now = state.reduced(hood, share, 0, False)
            if now != before:
                weight = crew.strip_dry_kg + crew.strip_holding_kg * share
                (up if now else down).append((float(count), float(few), weight))
            before = now
    return Readings(*(tuple(one[i] for one in side) for i in range(3) for side in (up, down)))


# ---- grids ---------------------------------------------------------------------------------------


def grids(
    site: Site, windows: Sequence[Clock], readings: Readings
) -> dict[CueKind, tuple[Cue, ...]]:
    """The cues to try, by kind; none of a kind where nothing tells where to begin."""
    step, dry = _step_kg(site), float(site.wheel.strip_dry_mass_kg)

    def apart(kind: CueKind) -> Callable[[float], float]:
        return lambda upper: least_apart(site, kind, upper)

    clocks = itertools.chain.from_iterable(_clocks(site, one) for one in windows)
    cars = _pairs(
        (readings.cars_up, readings.cars_down), (0.0, STEP_CARS), STEP_CARS, apart("cars")
    )
    hoods = _pairs((readings.hoods_up, readings.hoods_down), (0.0, 0.0), 1.0, apart("hoods"))
    strips = _pairs(
        (readings.strip_up, readings.strip_down), (dry, dry + step), step, apart("strip")
    )
    return {
        "clock": tuple(dict.fromkeys(clocks)),
        "cars": tuple(CrewCars(upper, lower) for upper, lower in cars),
        "hoods": tuple(CrewHoods(upper, lower) for upper, lower in hoods),
        "strip": tuple(CrewStrip(upper, lower) for upper, lower in strips),
    }


def _step_kg(site: Site) -> float:
    held_g = GRAMS * site.wheel.strip_dry_mass_kg * site.wheel.holding_capacity_kg_kg
    fine = [step for step in STEPS_G if step <= held_g / 20.0] or [STEPS_G[0]]
    return fine[-1] / GRAMS


def least_apart(site: Site, kind: CueKind, upper: float) -> float:
    """Least distance of a lower threshold from an upper one that a crew can tell, in the reading's
    unit.

    `TOLD` standard deviations of a look at the upper one, and a step of what people use at least. A
    count is off by a share of it, a weight by a share of its water. How many of twenty hoods are
    told damp is luck as well: a binomial number, with standard deviation √(20 q (1 − q)) for a
    share q (any textbook of statistics).
    """
    crew, wheel = site.crew, site.wheel
    if kind == "clock":
        return max(ROUND_S, 60.0 * site.wishes.least_between_switches_min)
    if kind == "cars":
        return max(STEP_CARS, TOLD * crew.count_log_sd * upper)
    if kind == "strip":
        water = max(0.0, upper - float(wheel.strip_dry_mass_kg))
        return max(_step_kg(site), TOLD * wheel.strip_log_sd * water)
    damp = min(1.0, upper / HOODS_SEEN)
    told = damp + crew.hood_misjudged_share * (1.0 - 2.0 * damp)
    return max(1.0, TOLD * math.sqrt(HOODS_SEEN * told * (1.0 - told)))


def _pairs(
    seen: tuple[Sequence[float], Sequence[float]],
    least: tuple[float, float],
    step: float,
    apart: Callable[[float], float],
) -> list[tuple[float, float]]:
    """Upper and lower thresholds in whole steps, each pair once.

    Args:
        seen: readings when rules switched to reduced, and back.
        least: reading without a load, and the least lower threshold.
        apart: least distance of the lower threshold by the upper one.
    """
    (up, down), (zero, lowest) = seen, least
    if len(up) < FEWEST:
        return []
    lows = np.quantile(down, LOWER_AT).tolist() if len(down) >= FEWEST else []
    found = []
    for upper in np.quantile(up, UPPER_AT).tolist():
        high = _rounded(upper, step)
        most = _rounded(math.floor((high - apart(high)) / step + 0.5) * step, step)
        shares = (zero + share * (high - zero) for share in LOWER_SHARES)
        for lower in (*lows, *shares):
            low = min(_rounded(lower, step), most)
            if lowest <= low < high:
                found.append((high, low))
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
