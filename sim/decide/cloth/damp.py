"""How many more cars come out damp as cloth takes less water, and what that costs by a plan's list.

Wear changes a day through the uptake that it takes and nothing else, so the compiled day is run
with several losses of uptake; whatever a site turns out to lose with wear is then read off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.night import Evening, mornings
from sim.day.replicate import run_days
from sim.inputs import Conditions, Scenario, Site

Floats = NDArray[np.float64]
LOSSES = (0.0, 0.1, 0.2, 0.32, 0.5, 0.75)
"""Shares of the uptake lost that are looked at; the last are beyond what nearly all sites lose."""
DRAWS = 12
"""Simulated days for each expected day and loss, all losses on the same draws."""


@dataclass(frozen=True, slots=True)
class DampByLoss:
    """What lost uptake does to the cars of a site that wipes every car in full.

    Attributes:
        share: share of cars washed that come out of the wheel damp, by `LOSSES`.
        left: more cars that leave damp than with new cloth, a car washed.
        other: what else a car costs more by a plan's items, wear apart: towels, re-washes, work
            beyond the people present, cars lost [money].
    """

    share: tuple[float, ...]
    left: tuple[float, ...]
    other: tuple[float, ...]

    def share_at(self, loss: Floats) -> Floats:
        """Share of cars that come out damp where so much of the uptake is lost; any shape."""
        return np.asarray(np.interp(loss, LOSSES, self.share))

    def cost_at(self, loss: Floats, damp_cost: Floats | float) -> Floats:
        """What a car costs more than with new cloth [money]; any shape.

        Args:
            damp_cost: of a damp car that is left as it is [money].
        """
        left = np.interp(loss, LOSSES, self.left)
        return np.asarray(left * damp_cost + np.interp(loss, LOSSES, self.other))


NO_DAMP = DampByLoss(*((0.0,) * len(LOSSES) for _ in range(3)))
"""Where no day is known that could be simulated."""


def damp_by_loss(
    site: Site, days: Sequence[Conditions], seed: int, draws: int = DRAWS
) -> DampByLoss:
    """Days of a site with cloth that has lost more and more of its uptake.

    Every car is wiped in full; each day begins as the night after a day like it leaves the cloth.

    Args:
        days: expected days that stand for the year; those with more cars count for more.
    """
    # cloth at the scale of life has lost all that it loses; a damp car at 1 counts as one
    worn = {"cloth_wear_cars": site.wear.life_scale_cars, "damp_cost": 1.0}
    scenarios = [
        Scenario(str(loss), changes={**worn, "uptake_loss_at_life": loss}) for loss in LOSSES
    ]
    damp, left, other, washed = (np.zeros(len(LOSSES)) for _ in range(4))
    for number, expected in enumerate(days):
        evening, own = Evening(expected, 1, ""), seed + number
        opened = mornings(site, expected, scenarios, evening, own, days=1)
        runs = run_days(site, expected, scenarios, draws, own, mornings=opened)
        for at, found in enumerate(runs):
            day = found.day
            damp[at] += float(day["damp_cars"].sum())
            left[at] += float(day["cost_damp"].sum())
            other[at] += float((day["cost"] - day["cost_damp"] - day["cost_wear"]).sum())
            washed[at] += float(day["cars_washed"].sum())
    cars = np.maximum(washed, 1.0)
    share, of_left, of_other = damp / cars, left / cars, other / cars
    # paired draws: noise may make a step fall by a hair, lost uptake itself never dries a car
    return DampByLoss(
        tuple(np.maximum.accumulate(share).tolist()),
        tuple(np.maximum.accumulate(of_left - of_left[0]).tolist()),
        tuple(np.maximum.accumulate(of_other - of_other[0]).tolist()),
    )
