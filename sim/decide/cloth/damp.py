"""How many more cars leave damp as a set wears: the compiled day with cloth of several ages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sim.day.night import Evening, opening_moisture
from sim.day.replicate import run_days
from sim.day.rules import FULL
from sim.inputs import Conditions, Scenario, Site

KNOTS = 5
"""Ages looked at, from new to the scale of life."""
DRAWS = 12
"""Simulated days for each expected day and age, all ages on the same draws."""


def more_damp_by_wear(
    site: Site, days: Sequence[Conditions], seed: int, draws: int = DRAWS
) -> tuple[float, ...]:
    """Share of cars that leave damp above that with new cloth, at even steps of wear up to η.

    Every car is wiped in full; each day begins as the night after a day like it leaves the cloth.

    Args:
        days: expected days that stand for the year; those with more cars count for more.
    """
    life = site.wear.life_scale_cars
    scenarios = [
        Scenario(str(knot), "full", changes={"cloth_wear_cars": life * knot / (KNOTS - 1)})
        for knot in range(KNOTS)
    ]
    damp, washed = np.zeros(KNOTS), np.zeros(KNOTS)
    for number, expected in enumerate(days):
        evening = Evening(expected, 1, "")
        opening = opening_moisture(site, evening, expected, FULL, seed + number, days=1)
        conditions = replace(expected, opening_moisture_kg_kg=opening)
        for knot, found in enumerate(run_days(site, conditions, scenarios, draws, seed + number)):
            cars = found.day["cars_washed"]
            damp[knot] += float(np.nansum(found.day["damp_share"] * cars))
            washed[knot] += float(cars.sum())
    shares = damp / np.maximum(washed, 1.0)
    # paired draws: noise may make a step fall by a hair, wear itself never dries a car
    return tuple(np.maximum.accumulate(shares - shares[0]).tolist())
