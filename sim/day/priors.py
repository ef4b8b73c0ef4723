"""Sites as they might be: one drawn from the priors of all inputs that are still guesses.

Positive numbers are lognormal, shares logit-normal, offsets normal; the median is the value in
the site's own table, the spread that of the prior's 95 % range. What the table allows cuts every
draw off, and three rules keep a drawn site possible: the moisture where throw-off ends is drawn
as a share of the holding capacity and stays below it, the critical moisture lies above the bound
moisture, and the damp limit is drawn, never the allowed film.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from sim.inputs import INPUTS, Entry, Site, Value

Floats = NDArray[np.float64]
Z_975 = float(ndtri(0.975))
BOUND_BY_CAPACITY = (
    "throw_off_moisture_kg_kg",
    "critical_moisture_kg_kg",
    "dry_set_moisture_kg_kg",
)
HAIR = 1e-3
"""How far inside a limit a drawn value stays, as a share of it."""


def uncertain(site: Site, known: Collection[str]) -> tuple[str, ...]:
    """Names of inputs with a prior that the site has not entered itself, in the table's order."""
    used = "allowed_film_kg_m2" if site.wiping.damp_limit_from == "film" else ""
    return tuple(
        name
        for name, row in INPUTS.items()
        if row.prior is not None
        and name not in known
        and not (used and name == "damp_limit_saturation")
    )


def draw_site(site: Site, names: tuple[str, ...], u: Floats) -> Site:
    """The site with each named input at quantile `u` of its prior; shape (names,), in (0, 1)."""
    drawn: dict[str, Value] = {}
    at = dict(zip(names, u.tolist(), strict=True))
    holding = float(str(site.value("holding_capacity_kg_kg")))
    if "holding_capacity_kg_kg" in at:
        row = INPUTS["holding_capacity_kg_kg"]
        holding = _quantile(row, holding, at["holding_capacity_kg_kg"], row.low, row.high)
    bound = site.drying.bound_moisture_kg_kg * (1.0 + HAIR)
    for name, quantile in at.items():
        row, median = INPUTS[name], float(str(site.value(name)))
        low, high = row.low, row.high
        if name == "throw_off_moisture_kg_kg":
            # as a share of the capacity: the two belong to one cloth
            scale = holding / float(str(site.value("holding_capacity_kg_kg")))
            value = _quantile(row, median, quantile, max(low, bound / scale), holding / scale)
            drawn[name] = min(max(value * scale, low, bound), high, holding)
        elif name == "critical_moisture_kg_kg":
            drawn[name] = _quantile(row, median, quantile, max(low, bound), min(high, holding))
        elif name == "holding_capacity_kg_kg":
            drawn[name] = holding
        else:
            drawn[name] = _quantile(row, median, quantile, low, high)
    kept = site.with_values(drawn)
    # what was not drawn must still fit a drawn capacity
    fixes: dict[str, Value] = {
        name: min(float(str(kept.value(name))), holding)
        for name in BOUND_BY_CAPACITY
        if float(str(kept.value(name))) > holding
    }
    return kept.with_values(fixes) if fixes else kept


def _quantile(row: Entry, median: float, u: float, low: float, high: float) -> float:
    """Quantile of a prior about a median, given that the value lies from `low` to `high`."""
    prior = row.prior
    if prior is None:
        raise ValueError(f"{row.name} has no prior")
    forward, back = _SCALES[prior.family]
    sigma = (forward(prior.high) - forward(prior.low)) / (2.0 * Z_975)
    middle = forward(median)
    below = float(ndtr((forward(low) - middle) / sigma))
    above = float(ndtr((forward(high) - middle) / sigma))
    if above <= below:
        return min(max(median, low), high)
    z = float(ndtri(min(max(below + u * (above - below), 1e-300), 1.0 - 1e-16)))
    return min(max(back(middle + sigma * z), low), high)


def _log(x: float) -> float:
    return math.log(x) if x > 0 else -math.inf


def _logit(x: float) -> float:
    if x <= 0:
        return -math.inf
    return math.inf if x >= 1 else math.log(x / (1.0 - x))


def _share(x: float) -> float:
    return 1.0 / (1.0 + math.exp(-x)) if x > -700 else 0.0


_SCALES: dict[str, tuple[Callable[[float], float], Callable[[float], float]]] = {
    "ln": (_log, math.exp),
    "bt": (_logit, _share),
    "nm": (float, float),
}
