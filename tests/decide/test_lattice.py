"""The plane of two settings: round grids, closer looks, boundaries."""

from __future__ import annotations

import math

import pytest

from sim.decide.maps.lattice import (
    FINE,
    Axis,
    Spot,
    Square,
    boundary,
    grid_spots,
    look_closer,
    round_values,
)
from sim.units import UNITS


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [("speed", 0.15, 0.35), ("length", 4.8, 11.04), ("temperature", 22, 44)],
)
def test_grids_are_round_for_the_reader(kind: str, low: float, high: float, system: str) -> None:
    """At least 20 values within the range, evenly apart by 1, 2, 2.5 or 5 of a power of ten."""
    values = round_values(low, high, UNITS[kind], system)
    assert len(values) >= 20
    assert low <= values[0] < values[-1] <= high
    seen = [UNITS[kind].to_edge(value, system) for value in values]
    step = seen[1] - seen[0]
    mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - part) for part in (1.0, 2.0, 2.5, 5.0)) < 1e-6
    for i, value in enumerate(seen):
        assert value == pytest.approx(seen[0] + i * step)
        assert value / step == pytest.approx(round(value / step), abs=1e-6)


def test_a_range_without_width_has_no_grid() -> None:
    """Where slowest and fastest are one there is nothing to map."""
    assert round_values(0.3, 0.3, UNITS["speed"], "si") == ()


def test_grid_values_come_out_exactly() -> None:
    """Lattice steps on the grid are its values to the bit; others lie evenly between."""
    axis = Axis("a", (0.1, 0.2, 0.3), 0.0, 1.0)
    assert [axis.at(FINE * i) for i in range(3)] == [0.1, 0.2, 0.3]
    assert axis.at(FINE + FINE // 2) == pytest.approx(0.25)


def looked_at(inside: float, count: int = 9) -> tuple[dict[Spot, float], list[Square]]:
    """A disc of some radius around the lower corner, looked at on a small grid."""
    axis = Axis("a", tuple(float(i) for i in range(count)), 0.0, 1.0)
    far: dict[Spot, float] = {}

    def visit(spots: list[Spot]) -> None:
        assert not set(spots) & set(far), "no point is simulated twice"
        far.update({(i, j): math.hypot(i, j) / FINE - inside for i, j in spots})

    visit(grid_spots(axis, axis))
    squares = [Square(i, j, FINE) for i, j in grid_spots(axis, axis) if max(i, j) < axis.steps]
    return far, look_closer(squares, lambda spot: (far[spot] <= 0,), visit)


def test_a_closer_look_is_taken_at_the_boundary_alone() -> None:
    """Cells cover the plane once; all that the boundary passes are small, those far from it are
    whole, and the boundary lies within a thousandth of the circle."""
    far, cells = looked_at(5.3)
    assert sum(cell.side**2 for cell in cells) == (8 * FINE) ** 2
    for cell in cells:
        mixed = len({far[spot] <= 0 for spot in cell.corners}) > 1
        assert not mixed or cell.side == 1
        if cell.side == FINE:
            assert not mixed
    stretches = boundary(cells, far.get)
    assert len(stretches) > 20
    for x0, y0, x1, y1 in stretches:
        for x, y in ((x0, y0), (x1, y1)):
            assert math.hypot(x, y) / FINE == pytest.approx(5.3, abs=0.01)
    total = sum(math.dist(s[:2], s[2:]) for s in stretches) / FINE
    assert total == pytest.approx(5.3 * math.pi / 2, rel=0.005)


def test_nothing_is_looked_at_where_nothing_changes() -> None:
    """Without a boundary only the grid is visited."""
    far, cells = looked_at(1000.0)
    assert (len(far), len(cells)) == (81, 64)
    assert boundary(cells, far.get) == []


def test_unknown_points_bound_nothing() -> None:
    """A cell with a corner that could not be simulated is neither halved nor crossed."""
    axis = Axis("a", (0.0, 1.0), 0.0, 1.0)
    known: dict[Spot, float] = {(0, 0): -1.0, (FINE, 0): 1.0, (0, FINE): -1.0}
    asked: list[Spot] = []
    cells = look_closer(
        [Square(0, 0, FINE)],
        lambda spot: (known[spot] <= 0,) if spot in known else None,
        asked.extend,
    )
    assert (cells, asked) == ([Square(0, 0, FINE)], [])
    assert boundary(cells, known.get) == []
    assert axis.steps == FINE
