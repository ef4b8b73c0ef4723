"""Charts by hour: what is drawn, that it may stand on a strict page, and what is said of it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from app.charts import Chart, hourly_charts
from app.charts.by_hour import hours_of
from app.charts.drawing import COLOURS, DASHES, EDGES, FILLS, MARKERS, grid_values, to_svg
from tests.web import fixture_comparison as invented


def _by_key(charts: tuple[Chart, ...]) -> dict[str, Chart]:
    return {chart.key: chart for chart in charts}


def _elements(svg: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter())  # noqa: S314  our own rendering


def test_svg_holds_nothing_that_the_content_policy_refuses() -> None:
    """No chart holds a style attribute, script, foreign content, reference or inline handler."""
    allowed = {"svg", "g", "path", "line", "text", "rect", "title", "tspan"}
    for chart in hourly_charts(invented.six_scenarios()):
        for element in _elements(str(chart.svg)):
            assert element.tag in allowed
            assert not {"style", "id", "href", "clip-path"} & set(element.attrib)
            assert not any(name.startswith("on") for name in element.attrib)


def test_colours_are_custom_properties() -> None:
    """Every paint is a custom property or none, so dark and print follow by themselves."""
    for chart in hourly_charts(invented.six_scenarios()):
        for element in _elements(str(chart.svg)):
            for paint in ("fill", "stroke"):
                value = element.get(paint, "none")
                assert value in ("none", "transparent") or value.startswith("var(--"), value


def test_six_scenarios_differ_in_colour_dash_and_marker() -> None:
    """Any two of six scenarios differ in colour, in dash, and in shape or filling of the marker."""
    assert len(set(COLOURS)) == len(COLOURS) == 6
    assert len({tuple(dash) for dash in DASHES}) == 6
    assert len(set(zip(MARKERS, (fill == "var(--paper)" for fill in FILLS), strict=True))) == 6
    svg = str(_by_key(hourly_charts(invented.six_scenarios()))["saturation"].svg)
    lines = {
        (e.get("stroke"), e.get("stroke-dasharray"))
        for e in _elements(svg)
        if e.get("stroke-width") == "2" and e.get("stroke") in COLOURS
    }
    assert len(lines) == 6
    marks = {(e.get("fill"), e.get("stroke")) for e in _elements(svg)}
    assert set(zip(FILLS, EDGES, strict=True)) <= marks


def test_each_hour_tells_every_scenario() -> None:
    """Over each open hour lies a bar whose title names the hour and every line's value."""
    chart = _by_key(hourly_charts(invented.peak_day()))["damp"]
    titles = [e.text or "" for e in _elements(str(chart.svg)) if e.tag == "title"]
    assert len(titles) == len(chart.hours) == 13
    peak = next(text for text in titles if text.startswith("15:00–16:00"))
    assert peak.splitlines()[1:] == [
        "Always full: 39",
        "Always reduced: 5",
        "Reduced 11:50–16:40: 6",
    ]


def test_table_beside_a_chart_has_the_same_hours_and_values() -> None:
    """The rows beside a chart hold one cell an hour; cars arriving come first."""
    chart = _by_key(hourly_charts(invented.peak_day()))["cars"]
    assert chart.rows[0][0] == "cars arriving"
    assert all(len(cells) == len(chart.hours) for _name, cells in chart.rows)
    assert chart.rows[1][1][0] == "54"


def test_limits_are_named_on_the_charts_that_have_them() -> None:
    """The stack limit and the damp limit are written beside their dotted lines."""
    charts = _by_key(hourly_charts(invented.peak_day()))
    for key, words in (("stack", "stack limit 32"), ("saturation", "damp limit 66")):
        texts = [e.text for e in _elements(str(charts[key].svg)) if e.tag == "text"]
        assert words in texts
        assert 'stroke-dasharray="2,3"' in str(charts[key].svg)


def test_a_damp_limit_that_no_cloth_reaches_is_not_drawn() -> None:
    """Where no wiping is needed there is no damp limit to draw, and the chart says so."""
    day = invented.peak_day()
    day["limits"] |= {"damp_limit_saturation": 1.0, "no_wiping_needed": True}
    chart = _by_key(hourly_charts(day))["saturation"]
    assert "damp limit" not in str(chart.svg)
    assert "no wiping is needed" in chart.says.lower()


def test_lines_under_the_titles_say_what_is_seen() -> None:
    """Each chart's line names the hours and the scenario that stand out."""
    says = {key: chart.says for key, chart in _by_key(hourly_charts(invented.peak_day())).items()}
    assert says["cars"] == "From 12:00 to 16:00 more arrive than the belt takes."
    assert says["stack"] == "Close to its limit of 32 from 13:00 to 16:00, with Always full."
    assert says["saturation"] == "Always full is above the damp limit for 6 hours."
    assert says["damp"] == "Most in 15:00–16:00: 39\u00a0% with Always full."


def test_quiet_day_says_that_nothing_stands_out() -> None:
    """On a quiet day the lines say that limits are far and hardly a car is damp."""
    says = {key: chart.says for key, chart in _by_key(hourly_charts(invented.quiet_day())).items()}
    assert "never so many arrive" in says["cars"]
    assert says["saturation"] == "Below the damp limit in every hour."
    assert says["damp"] == "Hardly a car leaves damp at any hour."


def test_overtime_is_drawn() -> None:
    """Hours after closing in which cars are still washed belong to the chart."""
    day = invented.peak_day()
    assert hours_of(day) == tuple(range(7, 20))
    day["scenarios"][0]["hours"]["washed"][20] = 12.0
    assert hours_of(day) == tuple(range(7, 21))


@pytest.mark.parametrize("top", [4.0, 9.1, 12.0, 37.0, 44.0, 90.0, 100.0, 236.0, 5000.0])
def test_two_or_three_round_gridlines(top: float) -> None:
    """Any axis has two or three gridlines at round values that do not exceed it."""
    values = grid_values(top)
    assert 2 <= len(values) <= 3
    assert all(0 < value <= top for value in values)
    steps = {round(b - a, 9) for a, b in zip((0.0, *values), values, strict=False)}
    assert len(steps) == 1


def test_gridline_beside_a_limit_is_left_out() -> None:
    """A gridline whose number would touch the name of a limit is not drawn."""
    assert 30.0 in grid_values(37.0)
    assert 30.0 not in grid_values(37.0, apart_from=32.0)


def test_a_chart_that_holds_foreign_content_is_refused() -> None:
    """A specification that renders to an embedded picture is refused."""
    specification = {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "data": {"values": [{"u": "data:image/gif;base64,R0lGODlhAQABAAAAACw="}]},
        "mark": {"type": "image", "width": 5, "height": 5},
        "encoding": {"url": {"field": "u", "type": "nominal"}},
    }
    with pytest.raises(ValueError, match="may not hold <image>"):
        to_svg(specification, "a picture")


def test_names_of_scenarios_cannot_break_out_of_the_svg() -> None:
    """A scenario called like markup stays text."""
    day = invented.peak_day()
    day["scenarios"][0]["name"] = "</title><script>alert(1)</script>"
    for chart in hourly_charts(day):
        assert "<script" not in str(chart.svg)
        assert not re.search(r"<title[^>]*></title>", str(chart.svg))
