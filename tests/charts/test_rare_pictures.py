"""Pictures of what is seldom so: days without cars or wiping, rules of one way, sets that wait."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from app.charts.by_hour import hourly_charts
from app.charts.cloth import cost_curve
from app.charts.maps import settings_charts, weather_charts
from app.charts.switching import strip_chart
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.answer import Comparison
from sim.decide.maps.answer import MapPoint
from tests.charts.drawn import drawn, faults
from tests.pages import fixture_comparison as invented
from tests.pages.map_content import beside, maps
from tests.pages.switch_content import STARTS, clock, switch
from tests.pages.test_cloth_page import FOUND


def wet(day: Comparison, *hours: int) -> Comparison:
    """A day on whose cloth of the first column is above the damp limit in some hours alone."""
    for at, column in enumerate(day.columns):
        level = tuple(0.9 if at == 0 and hour in hours else 0.2 for hour in range(24))
        day = invented.with_column(day, at, hours={**column.hours, "saturation_mean": level})
    return day


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ((12,), "Always full is above the damp limit for an hour."),
        ((12, 13), "Always full is above the damp limit for 2 hours."),
        ((), "Below the damp limit in every hour; cars wetter than most are damp before it."),
    ],
)
def test_hours_above_the_damp_limit_are_counted(hours: tuple[int, ...], said: str) -> None:
    """One hour is told as one."""
    assert hourly_charts(wet(invented.peak_day(), *hours))[2].says == said


def test_a_day_without_cars_says_so() -> None:
    """A belt that could take them is nothing to tell then."""
    day = invented.peak_day()
    none = replace(day, conditions=replace(day.conditions, arrivals_per_h=(0.0,) * 24))
    assert hourly_charts(none)[0].says == "No cars are expected."


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (REDUCED, ["Reduced"]),
        (FULL, ["Full wipe"]),
        (clock((7.0, 13.0)), ["Reduced", "Full wipe"]),
        (clock((13.0, 20.0)), ["Full wipe", "Reduced"]),
        (clock((7.0, 9.0), (18.0, 19.8)), ["Less", "Full wipe", "Less"]),
    ],
    ids=lambda one: one.text if isinstance(one, Rule) else "",
)
def test_the_bar_of_wiping_names_each_stretch(rule: Rule, said: list[str]) -> None:
    """All day, from opening or until closing; a shorter word where there is less room, and none
    where there is no room for it."""
    names = ("Reduced", "Full wipe", "Less", "Full")
    told = switch(rule)
    hours = replace(told.half_hours.told, reduced=(0.0,) * len(STARTS))
    told = replace(told, half_hours=replace(told.half_hours, told=hours))
    svg = str(strip_chart(told).svg)
    assert [one.text for one in drawn(svg).words if one.text in names] == said
    assert list(faults(svg)) == []


def test_sets_that_wait_have_no_best_age() -> None:
    """The curve falls to the cost of waiting; no point marks an age, and what is flat lies
    beyond the picture."""
    waits = replace(
        FOUND.change, age=math.inf, cost_rate=0.06, at_failure=0.06,
        flat=(1e9, math.inf), curve=((1e4, 0.09), (3e4, 0.07)),
    )  # fmt: skip
    chart = cost_curve(replace(FOUND, change=waits))
    said = [one.text for one in drawn(str(chart.svg)).words]
    assert not any(text.startswith("best") for text in said)
    assert "it falls to 60, the cost of waiting until a set wears out" in str(chart.svg)
    best = cost_curve(FOUND)
    assert any(one.text.startswith("best") for one in drawn(str(best.svg)).words)
    assert best.rows


def test_a_map_of_one_speed_is_no_map() -> None:
    """A belt with one speed has nothing to draw against spacing; the weather stays."""
    found = maps()
    single = replace(found.settings, x=replace(found.settings.x, values=(0.28,)))
    levels = beside(replace(found, settings=single))
    assert settings_charts(levels, "si") == ()
    assert len(weather_charts(levels, "si")) > 1


def test_a_figure_that_no_place_has_has_no_shades() -> None:
    """Where no car is wiped anywhere there is no share of damp ones to shade."""
    found = maps()

    def without(point: MapPoint) -> MapPoint:
        return replace(point, figures={**point.figures, "left_damp_share": None})

    plane = replace(found.weather, grid=tuple(map(without, found.weather.grid)))
    charts = {one.name: one for one in weather_charts(beside(replace(found, weather=plane)), "si")}
    damp = next(one for name, one in charts.items() if "left_damp" in name)
    others = [one for one in charts.values() if one is not damp]
    assert damp.key == ()
    assert all(one.key for one in others if "limits" not in one.name)
