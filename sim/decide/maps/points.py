"""Two maps of a day: conveyor speed against car spacing, and demand against temperature.

Every point is the same simulated days as every other and as a comparison at the same seed, with
the site's guesses at their middle values, so what differs between points is the setting alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions
from sim.day.drawn import Belief
from sim.day.engine import Replication, simulate
from sim.day.figures import FIGURES, PairedDifference, finite
from sim.day.replicate import difference, matters, mean_interval, scenario_cell
from sim.day.rules import Rule, SetChange
from sim.decide.compare import Question, check_question, label_of, opening_of, stands
from sim.decide.firm import Standing
from sim.decide.how_sure import BOUNDS, allowed_of
from sim.decide.maps.answer import ALL, Map, MapPoint, SettingsMap
from sim.decide.maps.lattice import (
    FINE,
    LEVELS,
    Axis,
    Segment,
    Spot,
    Square,
    boundary,
    grid_spots,
    look_closer,
    round_values,
)
from sim.errors import InputError
from sim.inputs import INPUTS, Conditions, Scenario, Site, Value, value_at
from sim.physics.air import saturation_pressure_pa
from sim.units import UNITS

SPEED, SPACING = "conveyor_speed_m_s", "car_spacing_m"
DEMAND, HIGHEST = "demand", "highest_temp_c"
MAPPED = ("cars_per_hour", "wait_p90_s", "cars_lost", "left_damp_share", "margin")
"""Figures of a point, in the order in which they are shown."""
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
        question: the day, with one scenario, which says rule, dry sets and other changes; its
            guesses stand at their middle values.
        known, belief: of the sites at which the advice is held against its rival, see `Question`.
        speeds, spacings: grid of the first map [m/s, m].
        demands, temps: grid of the second map [shares of the expected cars, °C].
    """

    question: Question
    speeds: Axis
    spacings: Axis
    demands: Axis
    temps: Axis
    known: frozenset[str] | None = None
    belief: Belief | None = None

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
        first = len(self.speeds.values) * len(self.spacings.values)
        return first + len(self.demands.values) * (len(self.temps.values) + 2) + 1


@dataclass(frozen=True, slots=True)
class Simulated:
    """A point with the figures of its single days, shape (days, figures of `MAPPED`)."""

    point: MapPoint
    days: Floats


@dataclass(frozen=True, slots=True)
class Plane:
    """A map as it is simulated: its points by lattice spot, those left out that could not be, such
    as a day with frost, and the squares between them."""

    x: Axis
    y: Axis
    points: dict[Spot, Simulated]
    cells: tuple[Square, ...]

    def grid(self) -> list[Simulated]:
        """The points of the grid, row by row."""
        return [self.points[spot] for spot in grid_spots(self.x, self.y) if spot in self.points]

    def states(self, spot: Spot) -> tuple[bool, ...] | None:
        """Which limits are kept at a spot; None where nothing could be simulated."""
        one = self.points.get(spot)
        return None if one is None else tuple(one.point.keeps.values())

    def map(self, allowed: dict[str, float]) -> Map:
        """The map as it is told."""
        on_grid = set(grid_spots(self.x, self.y))
        limits = {ALL: tuple(BOUNDS), **{name: (name,) for name in BOUNDS}}
        return Map(
            self.x,
            self.y,
            tuple(one.point for one in self.grid()),
            tuple(self.points[spot].point for spot in sorted(self.points) if spot not in on_grid),
            {name: self._boundary(names, allowed) for name, names in limits.items()},
        )

    def _boundary(self, names: Sequence[str], allowed: dict[str, float]) -> tuple[Segment, ...]:
        def excess(spot: Spot) -> float | None:
            one = self.points.get(spot)
            return None if one is None else worst_excess(one.point.figures, names, allowed)

        return tuple(
            (self.x.along(x0), self.y.along(y0), self.x.along(x1), self.y.along(y1))
            for x0, y0, x1, y1 in boundary(self.cells, excess)
        )


def map_question(question: Question, system: str) -> MapQuestion:
    """The maps' grids for a question with one scenario, round to a reader of `system`; a range
    without width, such as a belt with one speed, has a grid of one value."""
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


def worst_excess(
    figures: Mapping[str, float | None], names: Iterable[str], allowed: dict[str, float]
) -> float:
    """The largest excess of some figures over what is allowed, each as a share of that; one that a
    day does not have (the damp share of no car) is within its limit."""
    return max(
        0.0 if value is None else (value - allowed[name]) / (allowed[name] or 1.0)
        for name, value in ((name, figures[name]) for name in names)
    )


def make_point(x: float, y: float, days: Floats, allowed: dict[str, float]) -> Simulated:
    """A point from the figures of its days."""
    figures = {name: finite(mean_interval(days[:, i])[0]) for i, name in enumerate(MAPPED)}
    keeps = {name: worst_excess(figures, (name,), allowed) <= 0 for name in BOUNDS}
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


# ---- running -------------------------------------------------------------------------------------


def _read_mapped(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Floats:
    found = [day.figures(rule, sets).day for rule in rules]
    return np.array([[one[name] for name in MAPPED] for one in found])


@dataclass(slots=True)
class _PointWork:
    """Simulates points and says how far it is."""

    asked: MapQuestion
    allowed: dict[str, float]
    executor: Executor | None
    progress: Callable[[int, int], None]
    levels: int = LEVELS
    done: int = 0
    total: int = 0

    def run(self, spots: Sequence[tuple[float, float, Scenario, Conditions]]) -> list[Simulated]:
        """Points in the order asked for."""
        question = self.asked.question
        experiment, days = question.experiment, question.replications
        cells = []
        for _, _, scenario, conditions in spots:
            variant, rules = scenario_cell(question.site, scenario)
            cells.append((replace(variant, conditions=conditions), rules))
        before = self.done

        def told(done: int, _: int) -> None:
            self.done = before + done // days
            self.progress(self.done, max(self.total, self.done))

        table = simulate(
            experiment, cells, experiment.days(days), _read_mapped, self.executor, told,
            days=days, rules=1,
        )  # fmt: skip
        return [
            make_point(x, y, rows, self.allowed)
            for (x, y, *_), rows in zip(spots, table, strict=True)
        ]

    def plane(
        self, x: Axis, y: Axis, make: Callable[[float, float], tuple[Scenario, Conditions] | None]
    ) -> Plane:
        """A map of what `make` says of two values; where it says None nothing is simulated."""
        plane = Plane(x, y, {}, ())

        def visit(spots: list[Spot]) -> None:
            made = {(i, j): make(x.at(i), y.at(j)) for i, j in spots}
            asked = {(i, j): (x.at(i), y.at(j), *how) for (i, j), how in made.items() if how}
            plane.points.update(zip(asked, self.run(list(asked.values())), strict=True))

        grid = grid_spots(x, y)
        visit(grid)
        squares = [Square(i, j, FINE) for i, j in grid if i < x.steps and j < y.steps]
        return replace(plane, cells=tuple(look_closer(squares, plane.states, visit, self.levels)))


def settings_map(
    asked: MapQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    *,
    levels: int = LEVELS,
) -> SettingsMap:
    """Both maps of a day.

    Args:
        executor: runs the points side by side; the figures don't depend on it.
        progress: told after each point how many are done, and how many there will be at least.
        levels: how often cells are halved where a limit begins to hold.

    Raises:
        InputError: with every problem of the question.
    """
    question, site, scenario = asked.question, asked.site, asked.scenario
    day, top = question.conditions, max(question.conditions.temp_c)
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    allowed = allowed_of(site)
    work = _PointWork(asked, allowed, executor, progress, levels, total=asked.least_points)

    present_at = present_setting(site, day)
    (present,) = work.run([(*present_at, scenario, day)])
    settings = work.plane(
        asked.speeds,
        asked.spacings,
        # the evening before was lived at the setting too
        lambda speed, spacing: (at_setting(scenario, site, speed, spacing), day),
    )
    best, nearest = choose(site, settings, present, allowed)
    other = best or nearest
    there = scenario
    if other is not None and other is not present:
        there = at_setting(scenario, site, other.point.x, other.point.y)

    def in_weather(demand: float, highest_c: float) -> tuple[Scenario, Conditions] | None:
        """None where the day is outside what the model knows."""
        moved = at_highest(day, highest_c)
        return None if check_conditions(site, moved) else (scenario, at_demand(moved, demand))

    rival = present if there is not scenario else runner_up(settings, present, allowed)
    weather = work.plane(asked.demands, asked.temps, in_weather)
    demands = asked.demands.values
    demand_now = work.run([(d, top, scenario, at_demand(day, d)) for d in demands])
    demand_best = demand_now
    if there is not scenario:
        demand_best = work.run([(d, top, there, at_demand(day, d)) for d in demands])
    return SettingsMap(
        replications=question.replications,
        opening=opening_of(question),
        scenario=scenario,
        label=label_of(question.site, scenario),
        has_timetable=bool(site.line.speed_timetable),
        cars=math.fsum(day.arrivals_per_h),
        highest_temp_c=top,
        allowed=allowed,
        present=present.point,
        best=None if best is None else best.point,
        nearest=None if nearest is None else nearest.point,
        differences={} if other is None else differences(site, present, other),
        settings=settings.map(allowed),
        weather=weather.map(allowed),
        demand_now=tuple(one.point for one in demand_now),
        demand_best=tuple(one.point for one in demand_best),
        rival=None if rival is None else rival.point,
        standing=None if rival is None else _stands(asked, there, rival, present, executor),
        weighed=() if asked.belief is None else tuple(asked.belief.weighed),
    )


def _stands(
    asked: MapQuestion,
    there: Scenario,
    rival: Simulated,
    present: Simulated,
    executor: Executor | None,
) -> Standing | None:
    """How the advised setting stands against its rival at drawn sites; None where none is drawn."""
    if asked.known is None:
        return None
    other = asked.scenario
    if rival is not present:
        other = at_setting(other, asked.site, rival.point.x, rival.point.y)
    question = replace(
        asked.question, scenarios=(there, other), known=asked.known, belief=asked.belief
    )
    return stands(question, tuple(BOUNDS), executor)


def choose(
    site: Site, plane: Plane, present: Simulated, allowed: dict[str, float]
) -> tuple[Simulated | None, Simulated | None]:
    """The best grid point and, without one, the nearest; see `SettingsMap`. Of points with equal
    margins the one that lies nearest to the present setting is taken."""
    points, now = plane.grid(), present.point

    def steps_away(point: MapPoint) -> float:
        x, y = plane.x.values, plane.y.values
        return math.hypot(
            (point.x - now.x) / ((x[-1] - x[0]) or 1.0),
            (point.y - now.y) / ((y[-1] - y[0]) or 1.0),
        )

    def worth(one: Simulated) -> tuple[float, float]:
        return one.point.margin, -steps_away(one.point)

    kept = [one for one in points if one.point.keeps_all]
    if kept:
        best = max(kept, key=worth)
        if now.keeps_all and not _earns_more(site, present, best):
            return present, None
        return best, None
    if now.keeps_all:
        return present, None
    return None, min([present, *points], key=lambda one: _misses(one, allowed))


def runner_up(plane: Plane, present: Simulated, allowed: dict[str, float]) -> Simulated | None:
    """What comes next to the present setting: of the other points of the grid the one that misses
    the limits by least, of those that keep to all the one that earns most; None without any."""
    now = present.point
    others = [one for one in plane.grid() if (one.point.x, one.point.y) != (now.x, now.y)]
    return min(others, key=lambda one: _misses(one, allowed), default=None)


def _misses(one: Simulated, allowed: dict[str, float]) -> tuple[float, float]:
    """By how much the limits are missed, and what is earned, less being better of both."""
    return max(0.0, worst_excess(one.point.figures, BOUNDS, allowed)), -one.point.margin


def _earns_more(site: Site, present: Simulated, other: Simulated) -> bool:
    more = differences(site, present, other)["margin"]
    if more.run_error is None:  # a single day says nothing of its error
        return (more.value or 0.0) > matters(site, FIGURES["margin"], present.point.margin)
    return more.word.endswith("better") and more.is_strong


def differences(site: Site, present: Simulated, other: Simulated) -> dict[str, PairedDifference]:
    """Paired differences of a point to the present setting, by figure."""
    return {
        name: difference(
            FIGURES[name],
            present.days[:, i],
            other.days[:, i],
            matters(site, FIGURES[name], present.point.figures[name]),
        )
        for i, name in enumerate(MAPPED)
    }
