"""The maps of a day: equal to plans, the best point, what is outside, demand and weather."""

from __future__ import annotations

import json
import math
import re
from concurrent.futures import Executor
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.answers.serial import read, write
from app.words.figures import printed_step
from app.words.numbers import stepped
from sim.day.figures import FIGURES, Figure
from sim.day.night import PreviousDay
from sim.decide.compare import LEAST_RUNS, Question, compare, stands
from sim.decide.how_sure import BOUNDS, LEFT
from sim.decide.maps.answer import MapPoint, SettingsMap
from sim.decide.maps.first import first_maps
from sim.decide.maps.lattice import Axis
from sim.decide.maps.points import (
    MAPPED,
    SPACING,
    SPEED,
    MapQuestion,
    Plane,
    Simulated,
    at_demand,
    at_highest,
    at_setting,
    choose,
    make_point,
    map_question,
    settings_map,
)
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site
from sim.inputs.climate import Climate
from sim.inputs.history import HourWeather
from sim.learn.expected_day import Override, day_air
from tests import seeds
from tests.day.sites import conditions, flat
from tests.intervals import value_of

GUIDE = Path(__file__).parents[2] / "app" / "guide" / "map-json.md"
SITE = Site("Short Morning").with_values(
    {"open_h": 8.0, "close_h": 9.0, "allowed_damp_share": 0.1, "allowed_lost_cars": 25.0,
     "allowed_wait_p90_s": 500.0}
)  # fmt: skip
DAY = conditions(130.0, 28.0, 0.7)
SCENARIO = Scenario("By the clock", "clock 8:30-9:00", changes={"patience_median_s": 600.0})
SEED = seeds.seed("settings map")
EVENING = PreviousDay(conditions(60.0, 26.0, 0.9), 1)


def ask(**more: Any) -> Question:
    """A question about an hour of some 130 cars."""
    asked: dict[str, Any] = {
        "site": SITE, "conditions": DAY, "scenarios": (SCENARIO,), "replications": 2, "seed": SEED,
    }  # fmt: skip
    return Question(**{**asked, **more})


def small(question: Question) -> MapQuestion:
    """The question's maps on grids of five by four and three by three."""
    return MapQuestion(
        question,
        Axis(SPEED, (0.15, 0.2, 0.25, 0.3, 0.35), 0.15, 0.35),
        Axis(SPACING, (5.0, 6.5, 8.0, 9.5), 4.85, 15.0),
        Axis("demand", (0.6, 1.0, 1.4), 0.0, 4.0),
        Axis("highest_temp_c", (20.0, 28.0, 36.0), 0.0, 55.0),
    )


UNWEIGHED = replace(DAY, opening_moisture_kg_kg=None)
QUESTION = small(ask(conditions=UNWEIGHED, evening=EVENING))


@pytest.fixture(scope="module")
def found() -> SettingsMap:
    """The maps of a day after an evening."""
    return settings_map(QUESTION)


def planned(question: Question, scenario: Scenario, day: Conditions) -> dict[str, Figure]:
    """What a plan of the scenario gives."""
    asked = replace(question, scenarios=(scenario,), conditions=day)
    return compare(asked).columns[0].figures


def check_equal(point: MapPoint, figures: dict[str, Figure]) -> None:
    """A point's figures are a plan's, to the bit and so to the printed digit."""
    for name in MAPPED:
        kind = FIGURES[name].unit
        value = value_of(figures[name])
        mapped = point.figures[name]
        assert mapped is not None
        step = printed_step(figures[name], kind, "us", value)
        assert stepped(mapped, step) == stepped(value, step)
        assert mapped == pytest.approx(value, rel=1e-12, abs=1e-12)


# ---- equal to plans ------------------------------------------------------------------------------


def test_points_equal_plans(found: SettingsMap, rng: np.random.Generator) -> None:
    """At 20 random points, on the grid and between, a plan at that speed and spacing gives the
    same figures to the printed digit."""
    question = QUESTION.question
    points = found.settings.points
    assert len(points) > 20 <= len(found.settings.grid)
    for i in rng.choice(len(points), size=20, replace=False):
        point = points[i]
        changes = {**SCENARIO.changes, SPEED: point.x, SPACING: point.y}
        figures = planned(question, replace(SCENARIO, changes=changes), question.conditions)
        check_equal(point, figures)


def test_points_of_the_weather_equal_plans(found: SettingsMap) -> None:
    """A point of demand and temperature is the plan of such a day, its night included."""
    question = QUESTION.question
    grid, columns = found.weather.grid, len(QUESTION.demands.values)
    for column, row in ((0, 0), (2, 1), (1, 2)):
        point = grid[row * columns + column]
        day = at_demand(at_highest(question.conditions, point.y), point.x)
        check_equal(point, planned(question, SCENARIO, day))


def test_a_moved_temperature_is_a_typed_one() -> None:
    """Moving the highest temperature gives the air that typing it over the day gives."""
    file = tuple(
        HourWeather(date(2026, 7, d), h, 0, 18.0 + h / 2 + d, 0.95 - h / 60, 0.0)
        for d in (10, 11)
        for h in range(24)
    )
    day = date(2026, 7, 18)
    expected = day_air(file, day, tuple(range(8, 20)), Override(), Climate())
    base = Conditions(flat(1.0), expected.temp_c, expected.humidity)
    for highest in (19.0, 33.0, 41.5):
        typed = day_air(file, day, tuple(range(8, 20)), Override(highest_temp_c=highest), Climate())
        moved = at_highest(base, highest)
        assert moved.temp_c == typed.temp_c
        assert moved.humidity == pytest.approx(typed.humidity, rel=1e-12)
        assert max(moved.humidity) <= 1.0


def test_processes_do_not_change_a_point(two_processes: Executor) -> None:
    """Two other processes give the maps of a single one, and progress counts every point."""
    told: list[tuple[int, int]] = []
    question = small(ask(replications=1))
    alone = settings_map(question, None, lambda done, total: told.append((done, total)))
    assert settings_map(question, two_processes) == alone
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert all(total >= done for done, total in told)
    assert told[0][1] == question.least_points <= told[-1][1]


# ---- what is mapped ------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["si", "us"])
def test_grids_keep_to_the_equipment(system: str) -> None:
    """Both maps have 20 grid values each way; none is outside the belt's speeds, none closer than
    the reference car is long, and the expected demand is a grid value."""
    asked = map_question(ask(), system)
    for axis in (asked.speeds, asked.spacings, asked.demands, asked.temps):
        assert len(axis.values) >= 20
        assert axis.low <= axis.values[0] < axis.values[-1] <= axis.high
    assert asked.speeds.low == SITE.line.slowest_belt_m_s
    assert asked.speeds.high == SITE.line.fastest_belt_m_s
    assert asked.spacings.low == SITE.reference.numbers.length_m
    assert asked.spacings.values[-1] > SITE.line.car_spacing_m
    assert 1.0 in asked.demands.values
    assert asked.temps.values[0] < 28.0 < asked.temps.values[-1]


def test_frost_is_not_simulated() -> None:
    """Temperatures that the model does not know have no points; the others have theirs."""
    cold = replace(small(ask(replications=1)), temps=Axis("t", (-4.0, 3.0, 10.0), 0.0, 55.0))
    plane = settings_map(cold).weather
    assert [point.y for point in plane.grid] == [3.0] * 3 + [10.0] * 3
    assert min(point.y for point in plane.points) >= 0.0


def test_a_timetable_steps_aside() -> None:
    """Points run at one speed all day; the present figures are those of the timetable, marked at
    the speed of the busiest hour."""
    site = SITE.with_values({"speed_timetable": ((0.0, 0.3), (30600.0, 0.2))})
    question = small(ask(site=site, replications=1))
    found = settings_map(question)
    check_equal(found.present, planned(question.question, SCENARIO, DAY))
    assert found.present.x == 0.3
    moved = at_setting(SCENARIO, site, 0.25, 6.0)
    assert moved.changes["speed_timetable"] == ()
    point = next(p for p in found.settings.grid if (p.x, p.y) == (0.25, 6.5))
    scenario = at_setting(SCENARIO, site, 0.25, 6.5)
    check_equal(point, planned(question.question, scenario, DAY))


def test_problems_are_refused() -> None:
    """A rule that is none is refused as in a plan, before anything is simulated."""
    with pytest.raises(InputError, match="“sometimes” is not a rule"):
        settings_map(small(ask(scenarios=(Scenario("Wrong", "sometimes"),))))


# ---- limits and the best point -------------------------------------------------------------------


ALLOWED = {"left_damp_share": 0.1, "wait_p90_s": 600.0, "cars_lost": 20.0}


def point(x: float, y: float, margin: float, damp: float = 0.05, lost: float = 5.0) -> Simulated:
    """A point of four equal days but for a dollar up and down."""
    days = [[100.0, 300.0, lost, damp, margin + swing] for swing in (-1.0, 1.0, -1.0, 1.0)]
    return make_point(x, y, np.array(days), ALLOWED)


def chosen(present: Simulated, *points: Simulated) -> tuple[Simulated | None, Simulated | None]:
    """What is chosen of some points on a grid of one row."""
    axis = Axis("x", tuple(one.point.x for one in points), 0.0, 1.0)
    plane = Plane(axis, Axis("y", (6.0,), 0.0, 10.0), {}, ())
    plane.points.update({(4 * i, 0): p for i, p in enumerate(points)})
    return choose(SITE, plane, present, ALLOWED)


def test_the_best_keeps_to_all_limits_and_earns_most() -> None:
    """Points that miss a limit are passed over however much they earn."""
    points = [point(0.2, 6, 1000), point(0.25, 6, 1300), point(0.3, 6, 2000, damp=0.2)]
    best, nearest = chosen(point(0.22, 6, 1000), *points)
    assert best is points[1]
    assert nearest is None


def test_ties_go_to_the_present_setting() -> None:
    """Where nothing earns more by enough to matter ($50) the present setting stays; where it
    misses a limit it does not; of equals the nearest is taken."""
    points = [point(0.2, 6, 1000), point(0.25, 6, 1040), point(0.3, 6, 1040)]
    present = point(0.21, 6, 1000)
    assert chosen(present, *points) == (present, None)
    bad = point(0.21, 6, 1000, lost=30)
    assert chosen(bad, *points)[0] is points[1]
    far = point(0.35, 6, 1000, lost=30)
    assert chosen(far, *points)[0] is points[2]
    assert chosen(present, *points[:2], point(0.3, 6, 1060))[0] is not present


def test_the_advice_is_held_against_its_rival_at_drawn_sites(found: SettingsMap) -> None:
    """Without drawn sites there is no standing; with them it is that of a comparison of the two
    settings, held to all three limits; where the present setting stays its rival is another."""
    assert found.standing is None
    assert found.rival is not None
    drawn = settings_map(replace(QUESTION, known=frozenset()))
    assert replace(drawn, standing=None) == found
    other = found.other
    assert other is not None
    assert drawn.standing is not None
    assert (found.rival == found.present) == (other != found.present)
    one, two = (
        at_setting(SCENARIO, SITE, place.x, place.y) if place is not found.present else SCENARIO
        for place in (other, found.rival)
    )
    pair = replace(
        QUESTION.question, scenarios=(one, two), known=frozenset(), replications=LEAST_RUNS
    )
    by_damp = compare(pair).columns[0].against[1]
    assert stands(pair, LEFT) == by_damp
    assert drawn.standing == stands(pair, tuple(BOUNDS))
    assert drawn.standing.sites == by_damp.sites


def test_first_maps_are_points_of_the_whole_on_fewer_days(two_processes: Executor) -> None:
    """Every other value of each grid, the first and so on, on at most four of the days, each point
    as the whole has it on as many; nothing between, no drawn site, and they say that they are."""
    asked = replace(QUESTION, known=frozenset())
    first = first_maps(replace(asked, question=replace(asked.question, replications=6)))
    whole = settings_map(
        replace(asked, question=replace(asked.question, replications=first.replications)),
        two_processes,
    )
    assert first.replications == 4
    assert first.coarse
    assert not whole.coarse
    for here, there in ((first.settings, whole.settings), (first.weather, whole.weather)):
        places = [(x, y) for y in there.y.values[::2] for x in there.x.values[::2]]
        assert [(one.x, one.y) for one in here.grid] == places
        assert set(map(write, here.grid)) < set(map(write, there.grid))
        assert here.between == ()
    assert whole.settings.between
    assert first.present == whole.present
    assert first.standing is None
    assert whole.standing is not None
    assert first_maps(QUESTION).replications == QUESTION.question.replications


def test_without_a_best_the_nearest_is_told() -> None:
    """Where no point meets all limits, the one whose worst excess is least is named."""
    points = [point(0.2, 6, 900, damp=0.15), point(0.25, 6, 1300, damp=0.12)]
    best, nearest = chosen(point(0.3, 6, 1500, damp=0.3), *points)
    assert best is None
    assert nearest is points[1]


def test_a_figure_that_a_day_has_not_is_within_its_limit() -> None:
    """The damp share of no car misses nothing."""
    days = np.array([[0.0, math.nan, 0.0, math.nan, -10.0]])
    assert make_point(0.2, 6.0, days, ALLOWED).point.keeps_all


def test_limits_are_the_managers(found: SettingsMap) -> None:
    """Each point meets a limit just where its figure is at most what the site allows."""
    assert found.allowed == {"left_damp_share": 0.1, "wait_p90_s": 500.0, "cars_lost": 25.0}
    seen = set()
    for one in found.settings.points:
        for name, keeps in one.keeps.items():
            assert keeps == ((one.figures[name] or 0.0) <= found.allowed[name])
            seen.add((name, keeps))
    assert len(seen) == 6, "every limit holds somewhere and is missed somewhere"
    assert found.best is not None
    assert found.best.keeps_all
    most = max(point.margin for point in found.settings.grid if point.keeps_all)
    assert found.better is None or found.better.margin == most


# ---- the answer ----------------------------------------------------------------------------------


def keys_of(content: object) -> set[str]:
    """Every name in JSON."""
    if isinstance(content, list):
        return set().union(*map(keys_of, content)) if content else set()
    if not isinstance(content, dict):
        return set()
    return set(content).union(*map(keys_of, content.values()))


def test_the_answer_is_plain_and_described(found: SettingsMap) -> None:
    """The answer survives JSON without a loss, and the guide names its keys."""
    text = write(found)
    assert "NaN" not in text
    assert read(SettingsMap, text) == found
    guide = GUIDE.read_text(encoding="utf-8")
    named = set(re.findall(r"`([^`]+)`", guide))
    as_in_a_plan = keys_of(json.loads(write([found.differences, found.opening, found.scenario])))
    assert keys_of(json.loads(text)) - as_in_a_plan - named == set()
    assert found.schema in named
    assert len(found.settings.grid) == 20
    assert found.settings.between
    assert found.settings.boundaries["left_damp_share"]


def test_the_boundary_parts_what_holds_from_what_does_not(found: SettingsMap) -> None:
    """Every stretch of a limit's boundary lies within the grid and near points of both kinds."""
    plane = found.settings
    x, y = plane.x.values, plane.y.values
    for x0, y0, x1, y1 in plane.boundaries["left_damp_share"]:
        assert x[0] <= min(x0, x1) <= max(x0, x1) <= x[-1]
        assert y[0] <= min(y0, y1) <= max(y0, y1) <= y[-1]
        near = {
            point.keeps["left_damp_share"]
            for point in plane.points
            if abs(point.x - x0) <= 0.05 and abs(point.y - y0) <= 1.5
        }
        assert near == {True, False}
