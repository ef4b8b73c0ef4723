"""What is not known of a plan, drawn: sites as they might be, and the level of their demand.

A site is drawn from the priors of all inputs that are still guesses, or from what weighings leave
of them. Positive numbers are lognormal, shares logit-normal, offsets normal; the median is the
value in the site's own table, the spread that of the prior's 95 % range. What the table allows
cuts every draw off, and three rules keep a drawn site possible: the moisture where throw-off ends
is drawn as a share of the holding capacity and stays below it, the critical moisture lies above
the bound moisture, and the allowed film above what dry cloth leaves there. What people take for
damp does not depend on the line, so the allowed film is drawn and the damp limit follows; but a
site whose crew had to call back every car, whatever the cloth, would have changed its blowers or
its mind, so a film that dry cloth does not reach is drawn again (by its conditional quantile).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.checks import dry_cloth_leaves
from sim.day.blocks import sobol_points
from sim.day.draw import demand_factors
from sim.inputs import INPUTS, Conditions, Entry, Prior, Site, Value
from sim.special import ndtr, ndtri

Floats = NDArray[np.float64]
Z_975 = 1.959963984540054
"""`ndtri(0.975)`, to its last digit."""
BOUND_BY_CAPACITY = (
    "throw_off_moisture_kg_kg",
    "critical_moisture_kg_kg",
    "dry_set_moisture_kg_kg",
)
ALLOWED = "allowed_film_kg_m2"
OF_MEASURING = frozenset({"scale_bias", "towel_takes", "crew_damp_log_sd"})
"""Guesses by which measurements alone are judged, which average over them (`prior_values`)."""
QUANTILES = (0.1, 0.3, 0.5, 0.7, 0.9)
"""At which their priors are looked at."""
HAIR = 1e-3
"""How far inside a limit a drawn value stays, as a share of it."""


def uncertain(site: Site, known: Collection[str]) -> tuple[str, ...]:
    """Names of inputs with a prior that the site has not entered itself, in the table's order."""
    unused = () if site.wiping.is_judged_by_film else (ALLOWED,)
    return tuple(
        name
        for name, row in INPUTS.items()
        if row.prior is not None
        and name not in known
        and name not in unused
        and name not in OF_MEASURING
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
        elif name != ALLOWED:
            drawn[name] = _quantile(row, median, quantile, low, high)
    kept = site.with_values(drawn)
    if ALLOWED in at:
        kept = _with_allowed_film(kept, at[ALLOWED])
    # what was not drawn must still fit a drawn capacity
    fixes: dict[str, Value] = {
        name: min(float(str(kept.value(name))), holding)
        for name in BOUND_BY_CAPACITY
        if float(str(kept.value(name))) > holding
    }
    return kept.with_values(fixes) if fixes else kept


def _with_allowed_film(site: Site, u: float) -> Site:
    """A drawn site with its allowed film at a quantile, above what dry cloth leaves there; without
    blowers anything may be allowed, as every car may come out damp."""
    row, low = INPUTS[ALLOWED], INPUTS[ALLOWED].low
    if site.water.blower_removal > 0:
        low = max(low, dry_cloth_leaves(site) * (1.0 + HAIR))
    median = site.wiping.allowed_film_kg_m2
    return site.with_values({ALLOWED: _quantile(row, median, u, min(low, row.high), row.high)})


def prior_quantile(site: Site, name: str, u: float) -> float:
    """Quantile of an input's own prior about its value at the site.

    Raises:
        ValueError: for an input without a prior.
    """
    row = INPUTS[name]
    return _quantile(row, float(str(site.value(name))), u, row.low, row.high)


def prior_values(site: Site, name: str, known: Collection[str]) -> list[float]:
    """An input where the site entered it, else what its own prior makes of it, evenly likely."""
    if name in known:
        return [float(str(site.value(name)))]
    return [prior_quantile(site, name, u) for u in QUANTILES]


def _quantile(row: Entry, median: float, u: float, low: float, high: float) -> float:
    """Quantile of a prior about a median, given that the value lies from `low` to `high`."""
    prior = row.prior
    if prior is None:
        raise ValueError(f"{row.name} has no prior")
    middle, sigma, below, above = _between(prior, median, low, high)
    if above <= below:
        return min(max(median, low), high)
    _, back = _SCALES[prior.family]
    z = float(ndtri(min(max(below + u * (above - below), 1e-300), 1.0 - 1e-16)))
    return min(max(back(middle + sigma * z), low), high)


@lru_cache(maxsize=1024)
def _between(
    prior: Prior, median: float, low: float, high: float
) -> tuple[float, float, float, float]:
    """Middle and standard deviation of a prior on its own scale, and how much of it lies below
    `low` and below `high`: the same for all sites that are drawn, but for the few inputs whose
    limits hang on another one."""
    forward, _ = _SCALES[prior.family]
    sigma = (forward(prior.high) - forward(prior.low)) / (2.0 * Z_975)
    middle = forward(median)
    below = float(ndtr((forward(low) - middle) / sigma))
    above = float(ndtr((forward(high) - middle) / sigma))
    return middle, sigma, below, above


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


PRIOR = 1_000_005
"""Index of the points that beliefs are made of, which no block of a plan has."""
DRAWN_STRANGE = 0.25
"""Share of the points that are strange sites, which lie further out than is believed of a site."""
FURTHER_OUT = 2.0
"""So many times as far from the middle of a prior does a strange site lie; a guess."""
EDGE = 1e-4
"""Points stay so far from 0 and 1."""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of a site's guesses after it was weighed: an ensemble of drawn sites.

    The ensemble is kept as numbers of Sobol points of the prior, some more than once, so that
    what belongs together stays together: weighings tell products of inputs, not each by itself.

    Attributes:
        names: inputs that are drawn, in the order of `sim.day.drawn.uncertain`.
        seed, size: which points of the prior, and how many, it was chosen from.
        kept: numbers of the chosen points, those that are alike in what matters beside each other.
        weighed: kinds of the weighings that it rests on, see `sim.inputs.WEIGHINGS`, and
            `sim.inputs.MISFIT` where the model does not explain them.
        effective: effective number of the prior's points after weighting (Kish).
    """

    names: tuple[str, ...]
    seed: int
    size: int
    kept: tuple[int, ...]
    weighed: tuple[str, ...]
    effective: float

    @property
    def u(self) -> Floats:
        """Quantiles of the priors, a row a drawn site; shape (kept, names)."""
        return np.asarray(prior_points(len(self.names), self.size, self.seed)[list(self.kept)])

    def middle(self, site: Site) -> Site:
        """The site with each drawn input at its median over the ensemble."""
        return draw_site(site, self.names, np.median(self.u, axis=0))


@lru_cache(maxsize=8)
def prior_points(dimensions: int, size: int, seed: int) -> Floats:
    """Points of the prior that a belief is chosen from; more begin with the fewer.

    Shape (size, dimensions). Those of strange sites lie further out: their normal scores are
    `FURTHER_OUT` times those of Sobol points.
    """
    points = sobol_points(dimensions + 1, size, seed, PRIOR)[:, :-1]
    strange = are_strange(dimensions, size, seed)
    points[strange] = np.clip(ndtr(FURTHER_OUT * ndtri(points[strange])), EDGE, 1.0 - EDGE)
    points.flags.writeable = False  # kept in memory, shared
    return points


@lru_cache(maxsize=8)
def are_strange(dimensions: int, size: int, seed: int) -> NDArray[np.bool_]:
    """Which of these points are of strange sites; shape (size,)."""
    strange = sobol_points(dimensions + 1, size, seed, PRIOR)[:, -1] >= 1.0 - DRAWN_STRANGE
    strange.flags.writeable = False
    return strange


def block_points(
    names: tuple[str, ...], belief: Belief | None, points: int, seed: int, block: int
) -> Floats:
    """Quantiles at which the sites of a block are drawn; shape (points, names), inside (0, 1).

    Without a belief Sobol points of the priors; with one, members of its ensemble, one from each
    of as many equal parts of it, placed at random (stratified sampling). Blocks are independent,
    and more points of a block begin with those of fewer.
    """
    if belief is None:
        return sobol_points(len(names), points, seed, block)
    # in one dimension scrambled Sobol points are stratified and nested
    places = sobol_points(1, points, seed, block)[:, 0]
    return np.asarray(belief.u[(places * len(belief.kept)).astype(int)])


LEVELS = 2_000_000
"""Index of the points of levels of the first block, which no block of drawn sites has."""

SHUFFLED = 4
"""Levels of a block are shuffled within the first so many points, then within as many as there
are already."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plan's unknowns at one point of a block.

    Attributes:
        site: the site as it might be.
        level_u: quantile of the level; None: nothing is drawn, the level comes with each day.
    """

    site: Site
    level_u: float | None = None

    def day(self, conditions: Conditions) -> Conditions:
        """The day as it is to be expected here: with the drawn level, which is sure then."""
        return at_level(conditions, self.level_u)


def at_level(conditions: Conditions, level_u: float | None) -> Conditions:
    """A day with its level of demand at a quantile, which is sure then; None: as it is."""
    spread = conditions.spread
    if level_u is None or not spread.level_cv:
        return conditions
    factor = float(demand_factors(np.array([level_u]), spread.level_cv)[0])
    cars = tuple(hour * factor for hour in conditions.arrivals_per_h)
    return replace(conditions, arrivals_per_h=cars, spread=replace(spread, level_cv=0.0))


def drawn_names(
    site: Site, known: Collection[str] | None, belief: Belief | None
) -> tuple[str, ...]:
    """Names of the inputs that are drawn: those of the belief, if there is one, else every guess.

    Args:
        known: inputs that the site entered itself; None: no input is drawn.
    """
    if known is None:
        return ()
    return uncertain(site, known) if belief is None else belief.names


@lru_cache(maxsize=32)
def level_points(points: int, seed: int, block: int) -> Floats:
    """Quantiles of the level at the points of a block; shape (points,), inside (0, 1).

    A stream of their own, so that sites are drawn alike whatever their demand. Like the sites'
    points they are spread evenly, and more begin with those of fewer; they are shuffled within
    each stage, since two sequences of Sobol points in their own order go hand in hand.
    """
    found = sobol_points(1, max(points, SHUFFLED), seed, LEVELS + block)[:, 0]
    stream = Generator(PCG64(SeedSequence([seed, 8, block])))
    first, last = 0, SHUFFLED
    while first < points:
        found[first:last] = stream.permutation(found[first:last])
        first, last = last, 2 * last
    found.flags.writeable = False  # one array for all who ask
    return found[:points]
