"""A plane of two settings, looked at on a grid and more closely where something changes.

Points are named by whole numbers on the finest lattice, so that no point is met twice under two
names; a coarse step is `FINE` of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sim.units import Unit

LEVELS = 2
"""How often a cell across which something changes is halved both ways."""
FINE: int = 2**LEVELS
LEAST_STEPS = 20
"""Grid values along an axis, at least."""

Spot = tuple[int, int]
"""A point of the finest lattice: steps along the first and the second axis."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One of the two settings.

    Attributes:
        name: input, or what of the day is moved.
        values: grid values, ascending, evenly apart for the reader [SI].
        low, high: what may be used at all; values lie within.
    """

    name: str
    values: tuple[float, ...]
    low: float
    high: float

    @property
    def steps(self) -> int:
        """Steps of the finest lattice from the first value to the last."""
        return FINE * (len(self.values) - 1)

    def at(self, step: int) -> float:
        """The value of a lattice step; grid values come out exactly."""
        whole, part = divmod(step, FINE)
        if part == 0:
            return self.values[whole]
        low, high = self.values[whole], self.values[whole + 1]
        return low + (high - low) * (part / FINE)

    def along(self, steps: float) -> float:
        """The value at a place between lattice steps."""
        low = min(math.floor(steps), max(0, self.steps - 1))
        start = self.at(low)
        return start + (self.at(min(low + 1, self.steps)) - start) * (steps - low)


@dataclass(frozen=True, slots=True)
class Square:
    """A square of the lattice by its lower corner and its side in steps."""

    x: int
    y: int
    side: int

    @property
    def corners(self) -> tuple[Spot, Spot, Spot, Spot]:
        """The four corners, around the square."""
        x, y, far = self.x, self.y, self.side
        return (x, y), (x + far, y), (x + far, y + far), (x, y + far)

    def quarters(self) -> list[Square]:
        """The four squares of half the side."""
        half = self.side // 2
        return [Square(self.x + i, self.y + j, half) for j in (0, half) for i in (0, half)]


def round_values(
    low: float, high: float, unit: Unit, system: str, least: int = LEAST_STEPS
) -> tuple[float, ...]:
    """At least `least` values within [low, high] that are round to a reader of `system` [SI].

    The step is 1, 2, 2.5 or 5 times a power of ten in the reader's unit, the widest that still
    gives enough values; an empty range gives none.
    """
    first, last = sorted((unit.to_edge(low, system), unit.to_edge(high, system)))
    if not last > first:
        return ()
    power = math.floor(math.log10(last - first)) + 1
    while True:
        for part in (5.0, 2.5, 2.0, 1.0):
            step = part * 10.0**power
            start = math.ceil(first / step - 1e-9)
            count = math.floor(last / step + 1e-9) - start + 1
            if count >= least:
                values = (unit.to_si(round((start + i) * step, 9), system) for i in range(count))
                return tuple(min(max(value, low), high) for value in values)
        power -= 1


def grid_spots(x: Axis, y: Axis) -> list[Spot]:
    """Every point of the grid, row by row."""
    return [(i, j) for j in range(0, y.steps + 1, FINE) for i in range(0, x.steps + 1, FINE)]


def look_closer(
    cells: Sequence[Square],
    states: Callable[[Spot], tuple[bool, ...] | None],
    visit: Callable[[list[Spot]], None],
    levels: int = LEVELS,
) -> list[Square]:
    """Halves every cell across which a state changes, so many times.

    Args:
        cells: squares of the grid; their corners have been visited.
        states: what holds at a visited point; None where nothing can be said.
        visit: is given the points that are needed next, in a fixed order.
        levels: at most `LEVELS`.

    Returns:
        the squares that cover the plane, small along the changes.
    """
    whole: list[Square] = []
    seen = {spot for cell in cells for spot in cell.corners}
    current = list(cells)
    for _ in range(levels):
        split: list[Square] = []
        for cell in current:
            (split if _is_mixed(cell, states) else whole).append(cell)
        current = [quarter for cell in split for quarter in cell.quarters()]
        needed = list(dict.fromkeys(s for c in current for s in c.corners if s not in seen))
        seen.update(needed)
        visit(needed)
    return whole + current


def _is_mixed(cell: Square, states: Callable[[Spot], tuple[bool, ...] | None]) -> bool:
    at_corners = {states(spot) for spot in cell.corners}
    return None not in at_corners and len(at_corners) > 1


Segment = tuple[float, float, float, float]
"""A stretch of a boundary: from x, y to x, y in lattice steps."""


def boundary(cells: Iterable[Square], excess: Callable[[Spot], float | None]) -> list[Segment]:
    """Where a quantity passes zero, as straight stretches within cells (marching squares).

    Args:
        excess: the quantity at a corner; at most zero is inside. None where nothing is known.
    """
    found: list[Segment] = []
    for cell in cells:
        corners = cell.corners
        known = [value for value in map(excess, corners) if value is not None]
        if len(known) < 4:
            continue
        crossings = []
        for k in range(4):
            before, after = known[k], known[(k + 1) % 4]
            if (before <= 0) != (after <= 0):
                part = before / (before - after) if math.isfinite(before - after) else 0.5
                (x0, y0), (x1, y1) = corners[k], corners[(k + 1) % 4]
                crossings.append((x0 + part * (x1 - x0), y0 + part * (y1 - y0)))
        for start, end in zip(crossings[::2], crossings[1::2], strict=True):
            found.append((*start, *end))
    return found
