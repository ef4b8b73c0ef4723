"""Why always full is not enough on a day, and what would change the advice.

Each cause is relieved step by step on the same draws until always full is enough: what has to be
relieved least is what binds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from sim.day.engine import AS_IT_IS, Cell, Draw, Told, Variant, quiet
from sim.day.rules import FULL, Rule
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.choice import Floats, damp_share, is_enough, is_good_first
from sim.decide.switching.question import WATER, SwitchQuestion, hours, outcomes
from sim.inputs import Conditions

Cause = Literal["many_cars", "humid_air", "little_idle", "wet_start"]
Along = Literal["temp_c", "humidity", "cars"]

CAUSES: tuple[Cause, ...] = ("many_cars", "humid_air", "little_idle", "wet_start")
FIRST_STEPS = (0.25, 0.5, 0.75, 1.0)
HALVINGS = 3
MOST_APART_K, MOST_DEMAND, LEAST_HUMIDITY = 12.0, 1.6, 0.1
FLIP_STEPS = 4
"""Steps either way along each input among which a tipping value is looked for at first."""
FLIP_HALVINGS = 4


# ---- the cloth's balance -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Balance:
    """The cloth's water in the hours in which the advice reduces, if it were always wiped in full.

    Where the advice reduces in no hour: in the hour in which the cloth is wettest.

    Attributes:
        hours: the clock hours; reduced_h: hours a day in which the advice reduces.
        taken_kg_h, thrown_kg_h, evaporated_kg_h: water per hour, means over draws.
        saturation, limit: mean saturation of those hours and mean damp limit.
        highest: mean over draws of the highest saturation of the day.
        over_limit: share of draws whose highest saturation is above the damp limit.
    """

    hours: tuple[int, ...]
    reduced_h: float
    taken_kg_h: float
    thrown_kg_h: float
    evaporated_kg_h: float
    saturation: float
    limit: float
    highest: float
    over_limit: float


REDUCES = 0.25
"""Share of an hour's cars from which on the hour counts as reduced."""


def balance(
    question: SwitchQuestion,
    rule: Rule,
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> Balance:
    """The cloth's water under always full, in the hours in which a rule reduces."""
    found = hours(question, [(AS_IT_IS, (FULL, rule))], draws, executor, progress)
    spared = _means(1.0 - found["full_share"][1]) - _means(1.0 - found["full_share"][0])
    wetness = _means(found["saturation_mean"][0])
    chosen = np.flatnonzero(spared >= REDUCES)
    if not len(chosen):
        chosen = np.array([int(np.argmax(wetness))])
    taken, thrown, dried = (float(_means(found[name][0])[chosen].mean()) for name in WATER)
    highest, limit = found["highest"][0, :, 0], found["limit"][0, :, 0]
    return Balance(
        tuple(chosen.tolist()), float(np.maximum(spared, 0.0).sum()), taken, thrown, dried,
        float(wetness[chosen].mean()), float(limit.mean()), float(highest.mean()),
        float(np.mean(highest > limit)),
    )  # fmt: skip


def _means(table: Floats) -> Floats:
    """Means over draws by hour; 0 in hours that no draw has."""
    seen = ~np.isnan(table)
    count = np.maximum(seen.sum(axis=0), 1)
    return np.asarray(np.where(seen, table, 0.0).sum(axis=0) / count)


# ---- what binds ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Relief:
    """What relieving one cause does.

    Attributes:
        least: least share of the cause that has to go for always full to be enough; None where
            even all of it would not do.
        damp_share: of always full with all of the cause gone.

    By cause, all of it is: every car; all moisture in the air; for too little idle time, the gap
    between cars doubled; what the cloth holds at opening more than a dry set does.
    """

    cause: Cause
    least: float | None
    damp_share: float


def reliefs(
    question: SwitchQuestion,
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> tuple[Relief, ...]:
    """Every cause, the one that binds first; runs: causes · 7 · draws.

    A question whose wish always full keeps already has a least of 0 for every cause.
    """
    rules = question.rivals
    size = len(rules)
    first = [(_relieved(question, cause, step), rules) for cause in CAUSES for step in FIRST_STEPS]
    table = outcomes(question, [(AS_IT_IS, rules), *first], draws, executor, progress)
    wish = question.wish
    now = is_enough(wish, table[:size])
    least: dict[Cause, float | None] = {}
    low, high = dict[Cause, float](), dict[Cause, float]()
    shares = dict[Cause, float]()
    for place, cause in enumerate(CAUSES):
        begin = size * (1 + place * len(FIRST_STEPS))
        parts = [table[begin + size * k : begin + size * (k + 1)] for k in range(len(FIRST_STEPS))]
        kept = [is_enough(wish, part) for part in parts]
        shares[cause] = float(damp_share(parts[-1][:1]).mean())
        least[cause] = 0.0 if now else None
        if not now and any(kept):
            at = kept.index(True)
            low[cause], high[cause] = (0.0, *FIRST_STEPS)[at], FIRST_STEPS[at]
    for _ in range(HALVINGS):
        open_ = [cause for cause in CAUSES if cause in low]
        if not open_:
            break
        middles = {cause: 0.5 * (low[cause] + high[cause]) for cause in open_}
        cells = [(_relieved(question, cause, middles[cause]), rules) for cause in open_]
        table = outcomes(question, cells, draws, executor, progress)
        for place, cause in enumerate(open_):
            enough = is_enough(wish, table[size * place : size * (place + 1)])
            (high if enough else low)[cause] = middles[cause]
    least |= high
    found = [Relief(cause, least[cause], shares[cause]) for cause in CAUSES]
    return tuple(sorted(found, key=lambda r: (r.least is None, r.least or 0.0, r.damp_share)))


def _relieved(question: SwitchQuestion, cause: Cause, share: float) -> Variant:
    conditions, line = question.conditions, question.site.line
    if cause == "many_cars":
        return Variant(conditions=at_demand(conditions, 1.0 - share))
    if cause == "humid_air":
        drier = tuple(max(1e-3, value * (1.0 - share)) for value in conditions.humidity)
        return Variant(conditions=replace(conditions, humidity=drier))
    if cause == "little_idle":
        gap = max(0.0, line.car_spacing_m - question.site.reference.numbers.length_m)
        return Variant(
            (("car_spacing_m", line.car_spacing_m + share * max(gap, line.least_gap_m)),)
        )
    return Variant(drier=share)


# ---- what would flip it --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Flip:
    """Where along one input of the day the present rule turns from worse to as good, or back.

    As good: it keeps to the wish and is within what matters of the best of those compared.

    Attributes:
        now: value of the input: highest temperature [°C], relative humidity at that hour, cars.
        below, above: the nearest tipping values on either side; None where there is none within
            `low` and `high`, which were looked at.
    """

    along: Along
    now: float
    below: float | None
    above: float | None
    low: float
    high: float


def flips(
    question: SwitchQuestion,
    present: Rule,
    others: Sequence[Rule],
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> tuple[Flip, ...]:
    """Tipping values of whether the present rule is good among it and some others.

    Runs: 3 · (2 · 4 + 2 · 4 at most) · draws, each with every rule.
    """
    rules = (present, *others)
    found = []
    alongs: tuple[Along, ...] = ("temp_c", "humidity", "cars")
    for along in alongs:
        now, low, high = _range(question.conditions, along)
        make = _moved(question.conditions, along)

        def good(values: Sequence[float], make: Callable[[float], Conditions] = make) -> list[bool]:
            cells: list[Cell] = [(Variant(conditions=make(value)), rules) for value in values]
            table = outcomes(question, cells, draws, executor, progress)
            parts = table.reshape(len(values), len(rules), *table.shape[1:])
            return [is_good_first(question.wish, part) for part in parts]

        sides = [np.linspace(now, end, FLIP_STEPS + 1).tolist() for end in (low, high)]
        states = good([now, *sides[0][1:], *sides[1][1:]])
        here = states[0]
        brackets: list[list[float] | None] = []
        for place, side in enumerate(sides):
            after = states[1 + place * FLIP_STEPS : 1 + (place + 1) * FLIP_STEPS]
            path = [here, *after]
            turns = [k for k, (a, b) in enumerate(pairwise(path)) if a != b]
            brackets.append([side[turns[0]], side[turns[0] + 1]] if turns else None)
        for _ in range(FLIP_HALVINGS):
            live = [bracket for bracket in brackets if bracket]
            if not live:
                break
            middles = [0.5 * (a + b) for a, b in live]
            for bracket, middle, state in zip(live, middles, good(middles), strict=True):
                bracket[0 if state == here else 1] = middle
        below, above = (0.5 * sum(b) if b else None for b in brackets)
        found.append(Flip(along, now, below, above, low, high))
    return tuple(found)


def _range(conditions: Conditions, along: Along) -> tuple[float, float, float]:
    """The value now, and the least and largest looked at."""
    top = max(conditions.temp_c)
    if along == "temp_c":
        return top, max(1.0, top - MOST_APART_K), min(50.0, top + MOST_APART_K)
    if along == "humidity":
        now = conditions.humidity[conditions.temp_c.index(top)]
        return now, min(now, LEAST_HUMIDITY), 1.0
    now = sum(conditions.arrivals_per_h)
    return now, now / 4.0, now * MOST_DEMAND


def _moved(conditions: Conditions, along: Along) -> Callable[[float], Conditions]:
    def to(value: float) -> Conditions:
        if along == "temp_c":
            return at_highest(conditions, value)
        if along == "humidity":
            return at_humidity(conditions, value)
        return at_demand(conditions, value / max(1e-9, sum(conditions.arrivals_per_h)))

    return to


def at_humidity(conditions: Conditions, humidity: float) -> Conditions:
    """The day with another humidity at its warmest hour: as much more or less water in every hour,
    at most what the air can hold."""
    now = conditions.humidity[conditions.temp_c.index(max(conditions.temp_c))]
    moved = tuple(min(1.0, max(1e-3, value * humidity / now)) for value in conditions.humidity)
    return replace(conditions, humidity=moved)
