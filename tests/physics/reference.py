"""The cloth's equation solved another way: a general solver of differential equations."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

Vector = Any


@dataclass(frozen=True)
class Stretch:
    """The arguments of one step, in the order of `cloth_step`."""

    x: float
    dt_s: float
    x_e: float
    k: float
    r: float
    x_c: float
    x_h: float

    @property
    def args(self) -> tuple[float, float, float, float, float, float, float]:
        """As positional arguments."""
        return (self.x, self.dt_s, self.x_e, self.k, self.r, self.x_c, self.x_h)


@dataclass(frozen=True)
class Solution:
    """What the solver found: the four results of `cloth_step`, and which limits were crossed."""

    values: tuple[float, float, float, float]
    crossed: frozenset[str]


def solve(stretch: Stretch) -> Solution:
    """Integrates moisture, water thrown, water evaporated and held moisture together.

    Works from the equation; the solver is stopped at each limit and started again there, because
    the second derivative jumps. Until then each term goes on as it is above the limit, so that
    no step of the solver that tries beyond it meets the jump.
    """
    s = stretch

    def slope(_: float, state: Vector) -> list[float]:
        x = state[0]
        throwing = s.k * (x - s.x_e) if "throw-off" in waiting else 0.0
        share = 1.0 if "critical" in waiting else max(0.0, x - s.x_h) / (s.x_c - s.x_h)
        return [-throwing - s.r * share, throwing, s.r * share, x]

    def reaches(limit: float) -> Callable[[float, Vector], float]:
        def distance(_: float, state: Vector) -> float:
            return float(state[0] - limit)

        distance.terminal = True  # type: ignore[attr-defined]  # how the solver is told to stop
        return distance

    waiting = {
        name: reaches(limit)
        for name, limit in (("critical", s.x_c), ("throw-off", s.x_e))
        if s.x > limit
    }
    crossed: set[str] = set()
    at, state = 0.0, np.array([s.x, 0.0, 0.0, 0.0])
    while True:
        names = list(waiting)
        found = solve_ivp(
            slope, (at, s.dt_s), state, method="DOP853", rtol=1e-12, atol=1e-13,
            events=[waiting[name] for name in names],
        )  # fmt: skip
        at, state = float(found.t[-1]), found.y[:, -1]
        if found.status != 1:
            break
        for name, times in zip(names, found.t_events, strict=True):
            if len(times):
                crossed.add(name)
                del waiting[name]
    x, thrown, evaporated, held = (float(value) for value in state)
    return Solution((x, thrown, evaporated, held), frozenset(crossed))


def crossing_stretch(rng: np.random.Generator) -> Stretch:
    """A stretch that is certain to cross both limits, the one above the other as it comes.

    Its length is at least what drying alone, at its slowest on the way, needs to pass both.
    """
    x_h = rng.uniform(0.0, 0.1)
    x_e = x_h + rng.uniform(0.05, 1.0)
    x_c = x_h + rng.uniform(0.05, 1.0)
    x = max(x_e, x_c) + rng.uniform(0.01, 1.5)
    k = 10.0 ** rng.uniform(-4.5, -2.0)
    r = 10.0 ** rng.uniform(-5.0, -3.0)
    drying_at_limit = r * (x_e - x_h) / (x_c - x_h)
    enough_s = (x - x_c) / r + max(0.0, x_c - x_e) / drying_at_limit
    return Stretch(x, enough_s * rng.uniform(1.01, 1.6), x_e, k, r, x_c, x_h)


def any_stretch(rng: np.random.Generator) -> Stretch:
    """A stretch of any kind: above or below each limit, standing or turning, dry or damp air."""
    x_h = rng.choice([0.0, 0.02, 0.1])
    x_e = x_h + rng.uniform(0.0, 1.0)
    x_c = x_h + rng.uniform(0.05, 1.0)
    x = rng.choice([x_e, x_c, x_h, 0.5 * x_h, x_h + rng.uniform(0.0, 2.0)])
    k = rng.choice([0.0, 10.0 ** rng.uniform(-5.0, -2.0)])
    r = rng.choice([0.0, 10.0 ** rng.uniform(-6.0, -3.0)])
    dt_s = 10.0 ** rng.uniform(0.0, 3.6)
    return Stretch(*(float(value) for value in (x, dt_s, x_e, k, r, x_c, x_h)))
