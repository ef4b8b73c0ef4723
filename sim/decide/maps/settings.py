"""Two maps of a day: conveyor speed against car spacing, and demand against temperature.

Every point is the same simulated days as every other and as a comparison at the same seed, with
the site's guesses at their middle values, so what differs between points is the setting alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from sim.checks import check_conditions
from sim.day.engine import Replication, simulate
from sim.day.figures import FIGURES, PairedDifference
from sim.day.replicate import difference, matters, scenario_cell
from sim.day.rules import Rule, SetChange
from sim.decide.compare import check_question, label_of, opening_of
from sim.decide.maps.answer import MapPoint, SettingsMap
from sim.decide.maps.lattice import FINE, Axis, Spot, Square, grid_spots, look_closer
from sim.decide.maps.points import (
    LIMITS,
    MAPPED,
    Floats,
    MapQuestion,
    Plane,
    Simulated,
    allowed_of,
    at_demand,
    at_highest,
    at_setting,
    make_point,
    present_setting,
    worst_excess,
)
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site

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
            asked, kept = [], []
            for spot in spots:
                value_x, value_y = x.at(spot[0]), y.at(spot[1])
                made = make(value_x, value_y)
                if made is not None:
                    asked.append((value_x, value_y, *made))
                    kept.append(spot)
            plane.points.update(zip(kept, self.run(asked), strict=True))

        visit(grid_spots(x, y))
        squares = [
            Square(*spot, FINE)
            for spot in grid_spots(x, y)
            if spot[0] < x.steps and spot[1] < y.steps
        ]
        return replace(plane, cells=tuple(look_closer(squares, plane.states, visit)))


def settings_map(
    asked: MapQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SettingsMap:
    """Both maps of a day.

    Args:
        executor: runs the points side by side; the figures don't depend on it.
        progress: told after each point how many are done, and how many there will be at least.

    Raises:
        InputError: with every problem of the question.
    """
    question, site, scenario = asked.question, asked.site, asked.scenario
    day = question.conditions
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    allowed = allowed_of(site)
    work = _PointWork(asked, allowed, executor, progress, total=asked.least_points)

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
    weather = work.plane(
        asked.demands,
        asked.temps,
        lambda demand, temp: _weather(site, scenario, day, demand, temp),
    )
    top, demands = max(day.temp_c), asked.demands.values
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
        cars=math.fsum(question.conditions.arrivals_per_h),
        highest_temp_c=max(question.conditions.temp_c),
        allowed=allowed,
        present=present.point,
        best=None if best is None else best.point,
        nearest=None if nearest is None else nearest.point,
        differences={} if other is None else differences(site, present, other),
        settings=settings.map(allowed),
        weather=weather.map(allowed),
        demand_now=tuple(one.point for one in demand_now),
        demand_best=tuple(one.point for one in demand_best),
    )


def choose(
    site: Site, plane: Plane, present: Simulated, allowed: dict[str, float]
) -> tuple[Simulated | None, Simulated | None]:
    """The best grid point and, without one, the nearest; see `SettingsMap`.

    Of points with equal margins the one that lies nearest to the present setting is taken.
    """
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

    def misses(one: Simulated) -> tuple[float, float]:
        return worst_excess(one.point.figures, LIMITS, allowed), -one.point.margin

    return None, min([present, *points], key=misses)


def _earns_more(site: Site, present: Simulated, other: Simulated) -> bool:
    found = differences(site, present, other)["margin"]
    if found.run_error is None:  # a single day says nothing of its error
        more = found.value or 0.0
        return more > matters(site, FIGURES["margin"], present.point.margin)
    return found.word.endswith("better") and found.is_strong


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


def _weather(
    site: Site, scenario: Scenario, conditions: Conditions, demand: float, highest_c: float
) -> tuple[Scenario, Conditions] | None:
    """Scenario and day; None where the day is outside what the model knows."""
    day = at_highest(conditions, highest_c)
    return None if check_conditions(site, day) else (scenario, at_demand(day, demand))
