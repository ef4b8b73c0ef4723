"""The maps of a day as plain content for JSON, versioned by `SCHEMA`; see the guide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from sim.day.draw import DayDraw
from sim.day.rules import parse_changes, parse_rule
from sim.decide.maps.lattice import FINE, Axis, Segment, Spot, boundary
from sim.decide.maps.points import DEMAND, HIGHEST, LIMITS, MAPPED, SPEED, Plane, Point
from sim.decide.maps.settings import SettingsMap
from sim.decide.record import difference_content, number, opening_words, si_unit

SCHEMA = "clothcast.map/1"
ALL = "all"
"""Name of the boundary of what keeps to every limit."""
COLUMNS = ("x", "y", "on_grid", *MAPPED, *(f"keeps_{name}" for name in LIMITS))
"""What a row of `points` holds."""
_UNITS = {SPEED: "m/s", DEMAND: "1", HIGHEST: "°C"}


def map_record(
    found: SettingsMap, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """Both maps as plain content: NaN becomes null, everything is in SI.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    asked, question = found.asked, found.asked.question
    scenario, site = asked.scenario, asked.site
    sets = parse_changes(scenario.cloth, site.wear.sets_owned)
    label = ", ".join([parse_rule(scenario.rule).words(), *(item.words() for item in sets)])
    return {
        "schema": SCHEMA,
        "site": question.site.name,
        "date": date,
        "seed": question.seed,
        "replications": question.replications,
        "libraries": libraries,
        "draw_hash": DayDraw(question.seed, 0).digest(),
        "origin": origin,
        "opening_from": opening_words(found.opening),
        "scenario": {"name": scenario.name, "rule": scenario.rule, "label": label},
        "has_timetable": bool(site.line.speed_timetable),
        "expected": {
            "cars": math.fsum(question.conditions.arrivals_per_h),
            "highest_temp_c": max(question.conditions.temp_c),
        },
        "limits": [
            {"figure": name, "input": wish, "allowed": found.allowed[name], "unit": si_unit(name)}
            for name, wish in LIMITS.items()
        ],
        "present": _point(found.present),
        "best": None if found.best is None else _point(found.best),
        "stays": found.best is found.present,
        "nearest": None if found.nearest is None else _point(found.nearest),
        "differences": {name: difference_content(name, d) for name, d in found.apart.items()},
        "settings": _plane(found.settings, found.allowed),
        "weather": _plane(found.weather, found.allowed),
        "demand_now": [_point(point) for point in found.demand_now],
        "demand_best": [_point(point) for point in found.demand_best],
    }


def _point(point: Point) -> dict[str, Any]:
    return {
        "x": point.x,
        "y": point.y,
        "figures": {name: number(value) for name, value in point.figures.items()},
        "keeps": dict(zip(LIMITS, point.keeps, strict=True)),
    }


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "name": axis.name,
        "unit": _UNITS.get(axis.name, "m"),
        "values": list(axis.values),
        "low": number(axis.low),
        "high": number(axis.high),
    }


def _plane(plane: Plane, allowed: dict[str, float]) -> dict[str, Any]:
    lines = {
        name: _boundary(plane, names, allowed)
        for name, names in ((ALL, tuple(LIMITS)), *((name, (name,)) for name in LIMITS))
    }
    return {
        "x": _axis(plane.x),
        "y": _axis(plane.y),
        "columns": list(COLUMNS),
        "points": [_row(spot, plane.points[spot]) for spot in sorted(plane.points)],
        "boundaries": lines,
    }


def _row(spot: Spot, point: Point) -> list[float | bool | None]:
    on_grid = spot[0] % FINE == 0 and spot[1] % FINE == 0
    figures = [number(point.figures[name]) for name in MAPPED]
    return [point.x, point.y, on_grid, *figures, *point.keeps]


def _boundary(plane: Plane, names: Sequence[str], allowed: dict[str, float]) -> list[list[float]]:
    def beside(axis: Axis, steps: float) -> float:
        low = min(math.floor(steps), max(0, axis.steps - 1))
        part = steps - low
        return axis.at(low) + (axis.at(min(low + 1, axis.steps)) - axis.at(low)) * part

    found: list[Segment] = boundary(plane.cells, plane.excess(names, allowed))
    return [
        [beside(plane.x, x0), beside(plane.y, y0), beside(plane.x, x1), beside(plane.y, y1)]
        for x0, y0, x1, y1 in found
    ]
