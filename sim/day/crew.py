"""How a crew carries out a cue on one day: how late it acts, how it miscounts and weighs.

An act comes some time after the cue was reached, and no act overtakes the one before it. The k-th
act of a cue has the k-th delay of the day, whatever the cue: rules stay paired in their crew.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.inputs import Site

Floats = NDArray[np.float64]
Windows = tuple[tuple[float, float], ...]

MOST_ACTS, MOST_LOOKS = 64, 256
"""Delays and errors drawn a day; a cue that acts or is looked at more often begins anew."""


@dataclass(frozen=True, slots=True)
class CrewDay:
    """A crew on one day.

    Attributes:
        delay_s: from a cue to the act, by act of a cue; shape (MOST_ACTS,) [s], ≥ 0.
        count_factor: factor on the cars counted, by look; shape (MOST_LOOKS,).
        weigh_factor: factor on the water of the strip weighed, likewise.
        count_every_s, weigh_every_s: from one look to the next [s]; 0: at every car.
        opens_s: opening time [s after midnight]; what is due until then is done on time.
        strip_dry_kg, strip_holding_kg: a dry strip, and the water in a saturated one [kg].
    """

    delay_s: Floats
    count_factor: Floats
    weigh_factor: Floats
    count_every_s: float
    weigh_every_s: float
    opens_s: float
    strip_dry_kg: float
    strip_holding_kg: float


def make_crew(site: Site, take: Callable[[str, int], Floats]) -> CrewDay:
    """A site's crew; `take` gives standard normal variates by purpose and count.

    Delays and counts are lognormal about the median and the truth. What a strip weighs is off as
    a weigh-in of a strip from the wheel is (`sim.learn.weigh_in`): in its water, lognormal.
    """
    crew, wheel = site.crew, site.wheel
    return CrewDay(
        crew.cue_delay_median_s * np.exp(crew.cue_delay_log_sd * take("cue_delay", MOST_ACTS)),
        np.exp(crew.count_log_sd * take("car_count", MOST_LOOKS)),
        np.exp(wheel.strip_log_sd * take("strip_weight", MOST_LOOKS)),
        crew.count_every_min * 60.0,
        crew.weigh_every_min * 60.0,
        site.line.open_h * 3600.0,
        float(wheel.strip_dry_mass_kg),
        float(wheel.strip_dry_mass_kg * wheel.holding_capacity_kg_kg),
    )


def late_windows(windows: Windows, crew: CrewDay) -> Windows:
    """Clock windows [s after midnight] as the crew carries them out.

    Each edge comes late by the next delay, and not before the edge ahead of it; edges until
    opening are on time, since nobody is at the wheel yet.
    """
    done: list[float] = []
    delays = itertools.cycle(crew.delay_s.tolist())
    for edge in itertools.chain.from_iterable(windows):
        act = edge if edge <= crew.opens_s else edge + next(delays)
        done.append(max(act, done[-1]) if done else act)
    return tuple(_pairs(done))


def _pairs(edges: list[float]) -> Iterable[tuple[float, float]]:
    return zip(edges[::2], edges[1::2], strict=True)
