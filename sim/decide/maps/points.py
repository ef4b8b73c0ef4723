"""What the maps of a day are made of: the question, its grids, points, and days moved about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.day.figures import finite
from sim.day.replicate import mean_interval
from sim.decide.compare import Question
from sim.decide.maps.answer import ALL, Map, MapPoint
from sim.decide.maps.lattice import Axis, Segment, Spot, Square, boundary, grid_spots, round_values
from sim.inputs import INPUTS, Conditions, Scenario, Site, Value, value_at
from sim.physics.air import saturation_pressure_pa
from sim.units import UNITS

SPEED, SPACING = "conveyor_speed_m_s", "car_spacing_m"
DEMAND, HIGHEST = "demand", "highest_temp_c"
MAPPED = ("cars_per_hour", "wait_p90_s", "cars_lost", "damp_share", "margin")
"""Figures of a point, in the order in which they are shown."""
LIMITS = {
    "damp_share": "allowed_damp_share",
    "wait_p90_s": "allowed_wait_p90_s",
    "cars_lost": "allowed_lost_cars",
}
"""Figures that the manager bounds, and the input that says how."""
WIDEST_SPACING = 2.3
"""Spacings reach so many reference cars, or a sixth beyond the present spacing."""
DEMANDS = tuple(round(0.5 + 0.05 * i, 2) for i in range(21))
"""Cars arriving, as shares of the expected ones."""
MOST_DEMAND = 4.0
"""Nothing above is looked at."""
TEMPS_K = 11.0
"""Temperatures reach so far to either side of the expected highest [K]."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MapQuestion:
    """Everything that the maps of a day depend on.

    Attributes:
        question: the day, with one scenario, which says rule, dry sets and other changes.
        speeds, spacings: grid of the first map [m/s, m].
        demands, temps: grid of the second map [shares of the expected cars, °C].
    """

    question: Question
    speeds: Axis
    spacings: Axis
    demands: Axis
    temps: Axis

    @property
    def scenario(self) -> Scenario:
        """The one scenario."""
        return self.question.scenarios[0]

    @property
    def site(self) -> Site:
        """The site as the scenario has it."""
        return self.question.site.with_values(self.scenario.changes)

    @property
    def least_points(self) -> int:
        """Points that are simulated whatever comes out: both grids, two rows, the present."""
        rows = len(self.temps.values) + 2
        return (
            len(self.speeds.values) * len(self.spacings.values)
            + len(self.demands.values) * rows
            + 1
        )


@dataclass(frozen=True, slots=True)
class Simulated:
    """A point with the figures of its single days, shape (days, figures of `MAPPED`)."""

    point: MapPoint
    days: Floats


@dataclass(frozen=True, slots=True)
class Plane:
    """A map as it is simulated: its points by lattice spot, and the squares between them.

    A spot without a point could not be simulated, such as a day with frost.
    """

    x: Axis
    y: Axis
    points: dict[Spot, Simulated]
    cells: tuple[Square, ...]

    def grid(self) -> list[Simulated]:
        """The points of the grid, row by row."""
        return [self.points[spot] for spot in grid_spots(self.x, self.y) if spot in self.points]

    def states(self, spot: Spot) -> tuple[bool, ...] | None:
        """Which limits are kept at a spot; None where nothing could be simulated."""
        found = self.points.get(spot)
        return None if found is None else tuple(found.point.keeps.values())

    def map(self, allowed: dict[str, float]) -> Map:
        """The map as it is told."""
        on_grid = set(grid_spots(self.x, self.y))
        limits = {ALL: tuple(LIMITS), **{name: (name,) for name in LIMITS}}
        return Map(
            self.x,
            self.y,
            tuple(one.point for one in self.grid()),
            tuple(self.points[spot].point for spot in sorted(self.points) if spot not in on_grid),
            {name: self._boundary(names, allowed) for name, names in limits.items()},
        )

    def _boundary(self, names: Sequence[str], allowed: dict[str, float]) -> tuple[Segment, ...]:
        def excess(spot: Spot) -> float | None:
            found = self.points.get(spot)
            return None if found is None else worst_excess(found.point.figures, names, allowed)

        return tuple(
            (self.x.along(x0), self.y.along(y0), self.x.along(x1), self.y.along(y1))
            for x0, y0, x1, y1 in boundary(self.cells, excess)
        )


def map_question(question: Question, system: str) -> MapQuestion:
    """The maps' grids for a question with one scenario, round to a reader of `system`.

    A range without width, such as a belt with one speed, has a grid of one value.
    """
    site = question.site.with_values(question.scenarios[0].changes)
    line, car = site.line, site.reference.numbers.length_m
    widest = INPUTS[SPACING].high
    reach = min(widest, max(WIDEST_SPACING * car, line.car_spacing_m * 7.0 / 6.0))
    slow, fast = line.slowest_belt_m_s, line.fastest_belt_m_s
    highest = max(question.conditions.temp_c)
    speeds = round_values(slow, fast, UNITS["speed"], system)
    spacings = round_values(car, reach, UNITS["length"], system)
    temps = round_values(highest - TEMPS_K, highest + TEMPS_K, UNITS["temperature"], system)
    return MapQuestion(
        question,
        Axis(SPEED, speeds or (slow,), slow, fast),
        Axis(SPACING, spacings or (car,), car, widest),
        Axis(DEMAND, DEMANDS, 0.0, MOST_DEMAND),
        Axis(HIGHEST, temps, 0.0, 55.0),
    )


def allowed_of(site: Site) -> dict[str, float]:
    """What the manager allows, by figure, in the order of `LIMITS`."""
    return {name: float(str(site.value(wish))) for name, wish in LIMITS.items()}


def worst_excess(
    figures: Mapping[str, float | None], names: Iterable[str], allowed: dict[str, float]
) -> float:
    """The largest excess of some figures over what is allowed, each as a share of that.

    A figure that a day does not have (the damp share of no car) is within its limit.
    """
    found = []
    for name in names:
        value = figures[name]
        found.append(0.0 if value is None else (value - allowed[name]) / (allowed[name] or 1.0))
    return max(found)


def make_point(x: float, y: float, days: Floats, allowed: dict[str, float]) -> Simulated:
    """A point from the figures of its days."""
    figures = {name: finite(mean_interval(days[:, i])[0]) for i, name in enumerate(MAPPED)}
    keeps = {name: worst_excess(figures, (name,), allowed) <= 0 for name in LIMITS}
    return Simulated(MapPoint(x, y, figures, keeps), days)


def at_setting(scenario: Scenario, site: Site, speed_m_s: float, spacing_m: float) -> Scenario:
    """The scenario at one speed and spacing all day; a timetable of speeds steps aside."""
    changes: dict[str, Value] = {**scenario.changes, SPEED: speed_m_s, SPACING: spacing_m}
    if site.line.speed_timetable:
        changes["speed_timetable"] = ()
    return replace(scenario, changes=changes)


def at_demand(conditions: Conditions, demand: float) -> Conditions:
    """The day with so many times the expected cars in every hour."""
    cars = tuple(hour * demand for hour in conditions.arrivals_per_h)
    return replace(conditions, arrivals_per_h=cars)


def at_highest(conditions: Conditions, highest_c: float) -> Conditions:
    """The day with another highest temperature: every hour shifted alike, with as much water in
    the air as before, at most what it can hold; as a typed temperature does."""
    temps = conditions.temp_c
    top = max(temps)
    shifted = [min(t + (highest_c - top), highest_c) for t in temps]
    shifted[temps.index(top)] = highest_c
    humidity = tuple(
        min(1.0, share * saturation_pressure_pa(before) / saturation_pressure_pa(after))
        for share, before, after in zip(conditions.humidity, temps, shifted, strict=True)
    )
    return replace(conditions, temp_c=tuple(shifted), humidity=humidity)


def present_setting(site: Site, conditions: Conditions) -> tuple[float, float]:
    """Speed and spacing as they are; of a timetable the speed in the busiest hour."""
    speed = site.line.conveyor_speed_m_s
    if site.line.speed_timetable:
        cars = conditions.arrivals_per_h
        speed = value_at(site.line.speed_timetable, 3600.0 * cars.index(max(cars)))
    return speed, site.line.car_spacing_m
