"""What a spin test tells: a strip is weighed, the wheel idles without cars, the strip is weighed
again.

While it idles the cloth follows the exact step of `sim.physics.moisture` in the air of those hours,
throw-off and drying together, from whatever moisture it had. That is known by the first weighing
alone, to a lognormal error, and never above what the cloth holds; with every moisture as likely
before it (on the scale of its logarithm) the likelihood of the later ones is

    L = ∫ φ((ln x − ln w₀)/s)/s · Π φ((ln wᵢ − ln X(tᵢ; x))/s)/s  d ln x,    x ≤ X_cap

with w₀, wᵢ the moistures weighed, X(t; x) the step from x and s the standard deviation of the
logarithm of a weigh-in. The same strip is followed, so its place on the wheel is no error. The
integral is a sum over evenly spaced points, which for smooth functions that vanish at both ends
errs by less than any power of their spacing (trapezoidal rule, textbook).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.setup import ClothNumbers, cloth_numbers
from sim.inputs import SPIN, Conditions, Site, Weighing
from sim.learn.weighed_day import LEAST_MOISTURE, each_idled, shown
from sim.special import logsumexp

Floats = NDArray[np.float64]
NODES = 19
"""Moistures from which a strip may have begun, the middle one as it was weighed."""
REACH = 7.5
"""How far they reach either way, in standard deviations of a weigh-in: a strange site's weighings
are three times as far off."""
LEAST = -30.0
"""Logarithm below which no likelihood goes: a crew may have taken another strip."""


@dataclass(frozen=True, slots=True)
class SpinTest:
    """One strip that was followed: a row for each time at which it was weighed again.

    Attributes:
        conditions: the air of the day; its cars do not matter.
    """

    weighings: tuple[Weighing, ...]
    conditions: Conditions

    @property
    def hours(self) -> tuple[int, ...]:
        """Clock hours in which the wheel idled."""
        first, last = self.weighings[0], self.weighings[-1]
        whole = range(int(first.at_s // 3600), int((first.at_s + last.spun_s) // 3600) + 1)
        return tuple(hour % 24 for hour in whole)


def strips_of(items: Iterable[Weighing]) -> list[tuple[Weighing, ...]]:
    """Rows of spin tests, those of one strip together: begun at one time, weighed once before."""
    found = defaultdict[tuple[object, ...], list[Weighing]](list)
    for item in items:
        if item.kind == SPIN:
            found[item.day, item.at_s, item.weight_kg, item.dry_kg].append(item)
    return [tuple(sorted(rows, key=lambda row: row.spun_s)) for rows in found.values()]


def offsets(sd: float) -> Floats:
    """Logarithms of the moistures to begin from, less that of the one weighed; shape (NODES,)."""
    return np.linspace(-REACH * sd, REACH * sd, NODES)


def begins(test: SpinTest, sd: float) -> Floats:
    """Moistures from which the strip may have begun [kg/kg]; shape (NODES,)."""
    weighed = max(test.weighings[0].moisture_kg_kg, LEAST_MOISTURE)
    return np.asarray(weighed * np.exp(offsets(sd)))


def spun(site: Site, tests: Sequence[SpinTest]) -> Floats:
    """Moisture of each strip at each of its later weighings [kg/kg], by what it began with; shape
    (rows of all tests, NODES)."""
    cloths = [cloth_numbers(site, test.conditions, test.hours) for test in tests]
    return followed(cloths, tests, site.wheel.weigh_in_log_sd)


def followed(cloths: Sequence[ClothNumbers], tests: Sequence[SpinTest], sd: float) -> Floats:
    """The same of cloth whose numbers are there already, for the air of each test.

    Args:
        sd: standard deviation of a weigh-in.
    """
    rows = list[Floats]()
    for cloth, test in zip(cloths, tests, strict=True):
        now = np.minimum(begins(test, sd), cloth.holding).tolist()
        since = test.weighings[0].at_s
        for item in test.weighings:
            until = test.weighings[0].at_s + item.spun_s
            now = each_idled(cloth, now, since, until)
            rows.append(np.maximum(now, LEAST_MOISTURE))
            since = until
    return np.array(rows).reshape(len(rows), NODES)


def log_likelihood(
    site: Site,
    test: SpinTest,
    found: Floats,
    holding: Floats,
    wider: Floats | float = 1.0,
    moved: float = 0.0,
    bias: float = 0.0,
) -> Floats:
    """Logarithm of the likelihood of one strip's test at drawn sites; shape (sites,).

    Args:
        site: says how far off a weigh-in may be.
        found: by `spun`, of this test; shape (sites, rows, NODES).
        holding: holding capacity of each [kg/kg]; shape (sites,).
        wider: how many times as far off weigh-ins may be, one number or one a site.
        moved: how far the site may have moved since, see `sim.learn.fading`: by so much more may
            the strip be off what idling would have left in it.
        bias: of the scale, all weighings alike.
    """
    usual = site.wheel.weigh_in_log_sd
    sd = np.broadcast_to(np.asarray(wider, float) * usual, holding.shape)[:, None]
    apart = offsets(usual)
    before = begins(test, usual)
    first = np.log(shown(before, bias) / before[NODES // 2])
    density = -0.5 * (first / sd) ** 2 - np.log(sd * math.sqrt(2.0 * math.pi))
    density = np.where(before <= holding[:, None], density, -np.inf)
    seen = np.log([max(item.after_kg_kg, LEAST_MOISTURE) for item in test.weighings])
    later = np.hypot(sd, moved)[:, None]
    off = (seen[None, :, None] - np.log(shown(found, bias))) / later
    each = -0.5 * off**2 - np.log(later * math.sqrt(2.0 * math.pi))
    total = logsumexp(density + each.sum(axis=1), axis=1) + math.log(apart[1] - apart[0])
    return np.asarray(np.logaddexp(total, LEAST))
