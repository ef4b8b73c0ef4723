"""A crew on one day: how late it acts on a cue, how wrong it reads one, how long a look takes."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.inputs import Site

Floats = NDArray[np.float64]
Windows = tuple[tuple[float, float], ...]

MOST_ACTS, MOST_LOOKS, MOST_HOODS = 64, 256, 1024
"""Delays, errors and hoods drawn a day; a cue that acts or looks at more begins anew."""


@dataclass(frozen=True, slots=True)
class CrewDay:
    """A crew on one day.

    Attributes:
        delay_s: from a cue to the act, by act of a cue; shape (MOST_ACTS,) [s], ≥ 0.
        count_factor: factor on the cars counted, by look; shape (MOST_LOOKS,).
        weigh_factor: factor on the water of the strip weighed, likewise.
        hood_misjudged: whether a hood is told wrongly, in the order in which cars pass the wheel;
            shape (MOST_HOODS,).
        count_every_s, weigh_every_s, hoods_every_s: from one look to the next [s]; 0: at every car.
        count_takes_s, hoods_take_s, weighing_takes_s: of a person, a look [s].
        opens_s: opening time [s after midnight]; what is due until then is done on time.
        strip_dry_kg, strip_holding_kg: a dry strip, and the water in a saturated one [kg].
    """

    delay_s: Floats
    count_factor: Floats
    weigh_factor: Floats
    hood_misjudged: NDArray[np.bool_]
    count_every_s: float
    weigh_every_s: float
    hoods_every_s: float
    count_takes_s: float
    hoods_take_s: float
    weighing_takes_s: float
    opens_s: float
    strip_dry_kg: float
    strip_holding_kg: float


def make_crew(site: Site, take: Callable[[str, int], Floats]) -> CrewDay:
    """A site's crew; `take` gives standard variates by purpose and count.

    Delays and counts are lognormal about the median and the truth. What a strip weighs is off as
    a weigh-in of a strip from the wheel is (`sim.learn.weigh_in`): in its water, lognormal.
    """
    crew, wheel = site.crew, site.wheel
    late = np.exp(crew.cue_delay_log_sd * take("cue_delay", MOST_ACTS))
    return CrewDay(
        delay_s=crew.cue_delay_median_s * late,
        count_factor=np.exp(crew.count_log_sd * take("car_count", MOST_LOOKS)),
        weigh_factor=np.exp(wheel.strip_log_sd * take("strip_weight", MOST_LOOKS)),
        hood_misjudged=take("hood_told", MOST_HOODS) < crew.hood_misjudged_share,
        count_every_s=crew.count_every_min * 60.0,
        weigh_every_s=crew.weigh_every_min * 60.0,
        hoods_every_s=crew.hoods_every_min * 60.0,
        count_takes_s=crew.cue_cost_count_min * 60.0,
        hoods_take_s=crew.cue_cost_hoods_min * 60.0,
        weighing_takes_s=crew.cue_cost_strip_min * 60.0,
        opens_s=site.line.open_h * 3600.0,
        strip_dry_kg=float(wheel.strip_dry_mass_kg),
        strip_holding_kg=float(wheel.strip_dry_mass_kg * wheel.holding_capacity_kg_kg),
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
    return tuple(zip(done[::2], done[1::2], strict=True))
