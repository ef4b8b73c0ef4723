"""What a strip would weigh: the moisture of the cloth at given times of a compiled day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.day.kernel import rows as r
from sim.day.kernel.days import Run
from sim.day.setup import IDLE, ClothNumbers, DayNumbers
from sim.inputs import Conditions
from sim.physics.moisture import cloth_step

Floats = NDArray[np.float64]


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
