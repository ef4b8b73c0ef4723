"""Maps of a made-up day, small and told by formulas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.words.map_levels import MapLevels
from sim.day.figures import PairedDifference, Range, Word
from sim.decide.answer import Opening, Standing
from sim.decide.maps.answer import ALL, Axis, Map, MapPoint, SettingsMap
from sim.inputs import Scenario
from tests.pages import fixture_comparison as invented

SPEEDS = tuple(round(0.15 + 0.01 * i, 2) for i in range(21))
SPACINGS = tuple(round(5.0 + 0.25 * i, 2) for i in range(21))
DEMANDS = tuple(round(0.5 + 0.05 * i, 2) for i in range(21))
TEMPS = tuple(float(20 + i) for i in range(21))
ALLOWED = {"left_damp_share": 0.08, "wait_p90_s": 720.0, "cars_lost": 150.0}


def at_setting(
    place: tuple[float, float],
    speed: float,
    spacing: float,
    demand: float = 1.0,
    temp: float = 30.0,
) -> MapPoint:
    """What a setting gives: faster and closer washes more and dries less.

    Args:
        place: where it stands on the map.
    """
    cars = 2400.0 * speed / spacing * 1.5
    lost = max(0.0, 10.0 * (115.0 * demand - cars))
    damp = max(0.0, 1.6 * (speed - 0.2) + 0.004 * (30.0 - temp))
    wait = 120.0 + 3.0 * lost
    figures: dict[str, float | None] = {
        "cars_per_hour": cars, "wait_p90_s": wait, "cars_lost": lost, "left_damp_share": damp,
        "margin": 9.5 * (1500.0 * demand - lost) - 2000.0 * damp,
    }  # fmt: skip
    keeps = {
        "left_damp_share": damp <= 0.08,
        "wait_p90_s": wait <= 720.0,
        "cars_lost": lost <= 150.0,
    }
    return MapPoint(*place, figures, keeps)


def difference(value: float, word: Word) -> PairedDifference:
    """A paired difference."""
    return PairedDifference(value, Range(value - 4.0, value + 4.0), 0.875, word)


def apart(now: MapPoint, best: MapPoint, name: str) -> float:
    """By how much a figure is more at the best setting."""
    return (best.figures[name] or 0.0) - (now.figures[name] or 0.0)


def losing(now: MapPoint, best: MapPoint, cars: float, margin: float) -> MapPoint:
    """A setting that loses so many cars more than now, and earns so much more."""
    lost, earned = (now.figures[name] or 0.0 for name in ("cars_lost", "margin"))
    told = {**best.figures, "cars_lost": lost + cars, "margin": earned + margin}
    return replace(best, figures=told)


def by_demand(speed: float, spacing: float) -> tuple[MapPoint, ...]:
    """A setting on days with other demands."""
    return tuple(at_setting((d, 30.0), speed, spacing, d) for d in DEMANDS)


def maps() -> SettingsMap:
    """At 0.24 m/s and 7 m damp cars fall and more are lost; the present setting allows too many."""
    now, best = at_setting((0.28, 8.0), 0.28, 8.0), at_setting((0.24, 7.0), 0.24, 7.0)
    best = losing(now, best, 60.0, -180.0)
    line = ((0.25, 5.0, 0.25, 10.0),)
    boundaries = {ALL: line, "left_damp_share": line, "wait_p90_s": (), "cars_lost": line}
    return SettingsMap(
        replications=16,
        opening=Opening(0.4, "weighing"),
        scenario=Scenario("Always full"),
        label="Always full",
        has_timetable=False,
        cars=1040.0,
        highest_temp_c=30.0,
        allowed=ALLOWED,
        present=now,
        best=best,
        nearest=None,
        differences={
            "cars_per_hour": difference(apart(now, best, "cars_per_hour"), "a little worse"),
            "wait_p90_s": difference(apart(now, best, "wait_p90_s"), "hardly differs"),
            "cars_lost": difference(apart(now, best, "cars_lost"), "clearly worse"),
            "left_damp_share": difference(apart(now, best, "left_damp_share"), "clearly better"),
            "margin": difference(apart(now, best, "margin"), "probably worse"),
        },
        settings=Map(
            Axis("conveyor_speed_m_s", SPEEDS, 0.15, 0.35),
            Axis("car_spacing_m", SPACINGS, 4.85, 15.0),
            tuple(at_setting((x, y), x, y) for y in SPACINGS for x in SPEEDS),
            (at_setting((0.255, 5.125), 0.255, 5.125),),
            boundaries,
        ),
        weather=Map(
            Axis("demand", DEMANDS, 0.0, 4.0),
            Axis("highest_temp_c", TEMPS, 0.0, 55.0),
            tuple(at_setting((d, t), 0.28, 8.0, d, t) for t in TEMPS for d in DEMANDS),
            (),
            dict.fromkeys(boundaries, ()),
        ),
        demand_now=by_demand(0.28, 8.0),
        demand_best=by_demand(0.24, 7.0),
        rival=now,
        standing=Standing(128, 0.3, 0.1),
        weighed=(),
    )


MORE_IN_PLAN = {
    "cars_per_hour": -3.0, "wait_p90_s": 60.0, "cars_lost": 20.0, "left_damp_share": 0.0,
    "margin": -1830.0,
}  # fmt: skip
"""By how much more than the maps the plan has of each figure: it draws guesses, they do not."""


def beside(found: SettingsMap) -> MapLevels:
    """Maps beside a plan whose first scenario is theirs, with other levels."""
    day = invented.with_scenario(
        invented.one_scenario(), 0, name=found.scenario.name, rule=found.scenario.rule, changes={}
    )
    own = {name: (found.present.figures[name] or 0.0) + more for name, more in MORE_IN_PLAN.items()}
    told = {name: invented.figure(value, 0.004 * value, 0.5 * value, 2.0 * value)
            for name, value in own.items()}  # fmt: skip
    levels = MapLevels.of(found, invented.with_figures(day, 0, **told))
    assert levels.plan is not None
    return levels


def kept(points: Sequence[MapPoint], low: float, high: float) -> tuple[MapPoint, ...]:
    """Points that meet all limits for demands of a range alone."""
    return tuple(keeping(p, low <= p.x <= high + 1e-9) for p in points)


def keeping(point: MapPoint, holds: bool) -> MapPoint:
    """A point that meets all limits, or to none."""
    return MapPoint(point.x, point.y, point.figures, dict.fromkeys(point.keeps, holds))
