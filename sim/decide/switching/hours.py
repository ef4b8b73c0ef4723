"""The day by half hours under some rules: how wet the cloth is that cars meet, who is reduced."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.day.engine import Replication, each
from sim.day.figures import finite
from sim.day.kernel.rows import BEFORE, DAMP, HOOD, ON_BELT, REDUCED
from sim.day.rules import Rule, SetChange
from sim.decide.switching.question import SwitchQuestion, search_draws

Floats = NDArray[np.float64]
HALF_HOUR_S = 1800.0
CARS, WET, LESS, LEFT_DAMP = range(4)
"""What is summed of each half hour: cars, saturations met, cars reduced, damp cars."""


@dataclass(frozen=True, slots=True)
class HalfHours:
    """A rule's day by half hours; None where no car came.

    Attributes:
        cars: at the wheel, mean over draws.
        saturation: that cars meet, mean over the cars of all draws.
        reduced, damp: share of those cars.
    """

    cars: tuple[float, ...]
    saturation: tuple[float | None, ...]
    reduced: tuple[float | None, ...]
    damp: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class TwoDays:
    """The half hours in which the wash is open, and what the chosen rule and always full make of
    them."""

    start_s: tuple[float, ...]
    chosen: HalfHours
    full: HalfHours

    @property
    def reduced(self) -> tuple[tuple[float, float], ...]:
        """Stretches [s after midnight] in which the chosen rule is expected to wipe most cars
        reduced."""
        spells: list[tuple[float, float]] = []
        for start, share in zip(self.start_s, self.chosen.reduced, strict=True):
            if (share or 0.0) <= 0.5:
                continue
            first = spells.pop()[0] if spells and spells[-1][1] == start else start
            spells.append((first, start + HALF_HOUR_S))
        return tuple(spells)


def half_hour_starts(question: SwitchQuestion) -> Floats:
    """When the half hours begin in which the wash is open [s after midnight]."""
    line = question.site.line
    first = math.floor(line.open_h * 2.0 + 1e-9)
    last = math.ceil(line.close_h * 2.0 - 1e-9)
    return np.asarray(np.arange(first, last) * HALF_HOUR_S, dtype=np.float64)


def half_hours(
    question: SwitchQuestion,
    rules: Sequence[Rule],
    draws: int,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> tuple[HalfHours, ...]:
    """The day of each rule over the first draws of a search; cars after closing are left out.

    Args:
        progress: told after each draw how many are done.
    """
    starts = half_hour_starts(question)
    total = np.zeros((len(rules), 4, len(starts)))
    few, read = search_draws(question, draws), partial(_of_draw, starts)
    for found in each(question.experiment, tuple(rules), few, read, executor, progress):
        total += found
    return tuple(_mean(sums, draws) for sums in total)


def _of_draw(
    starts: Floats, day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]
) -> Floats:
    found = np.zeros((len(rules), 4, len(starts)))
    for place, rule in enumerate(rules):
        done = day.run(rule, sets)
        lines = done.flow.rows
        at = lines.order[: lines.counts[ON_BELT]]
        slot = np.floor((lines.times[at, HOOD] - starts[0]) / HALF_HOUR_S).astype(np.int64)
        kept = (slot >= 0) & (slot < len(starts))
        at, slot = at[kept], slot[kept]
        marks = done.wiped.marks[at]
        rows = (
            np.ones(len(at)),
            done.wiped.moisture[at, BEFORE] / day.of.numbers.cloth.holding,
            marks[:, REDUCED].astype(float),
            marks[:, DAMP].astype(float),
        )
        for row, values in enumerate(rows):
            np.add.at(found[place, row], slot, values)
    return found


def _mean(sums: Floats, draws: int) -> HalfHours:
    cars = np.where(sums[CARS] > 0, sums[CARS], np.nan)

    def share(row: int) -> tuple[float | None, ...]:
        return tuple(map(finite, (sums[row] / cars).tolist()))

    return HalfHours(
        tuple((sums[CARS] / draws).tolist()), share(WET), share(LESS), share(LEFT_DAMP)
    )
