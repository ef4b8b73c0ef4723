"""Charts by hour: what is drawn, that it may stand on a strict page, and what is said of it."""

from __future__ import annotations

import math
import re

import pytest

from app.charts import marks
from app.charts.by_hour import hourly_charts, hours_of
from app.charts.marks import Chart
from sim.decide.answer import Comparison
from tests.charts.drawn import STYLES, drawn, elements, faults, number
from tests.pages import fixture_comparison as invented


def _charts(day: Comparison) -> dict[str, Chart]:
    return {chart.name: chart for chart in hourly_charts(day)}


def _with_hours(day: Comparison, name: str, hour: int, value: float | None) -> Comparison:
    """A comparison with another figure in an hour of its first column."""
    row = list(day.columns[0].hours[name])
    row[hour] = value
    return invented.with_column(day, 0, hours={**day.columns[0].hours, name: tuple(row)})


DAYS = {
    "peak": invented.peak_day,
    "quiet": invented.quiet_day,
    "six scenarios": invented.six_scenarios,
}


@pytest.mark.parametrize("day", DAYS)
def test_a_chart_is_shapes_and_words_that_do_not_touch(day: str) -> None:
    """No chart holds what the content policy refuses, paints anything by itself, has a class
    without a look, or words on words where it is narrowest; all say what they are."""
    for chart in _charts(DAYS[day]()).values():
        assert list(faults(str(chart.svg))) == []


def test_paint_is_custom_properties() -> None:
    """The stylesheet of charts paints by custom properties alone, so dark and print follow."""
    paints = re.findall(r"(?:fill|stroke|background|color): ([^;]+);", STYLES)
    assert len(paints) > 40
    assert {paint for paint in paints if not re.fullmatch(r"var\(--[\w-]+\)|none", paint)} == set()


def test_six_scenarios_differ_in_colour_dash_and_marker() -> None:
    """Any two of six scenarios differ in colour, in dash, and in shape or filling of the marker,
    and a line, its markers and its place in the key have the same number."""
    looks = dict(re.findall(r"\.line\.(s\d) \{ ([^}]+) \}", STYLES))
    colours = [re.findall(r"stroke: var\(--(s\d)\)", look) for look in looks.values()]
    assert colours == [[f"s{n}"] for n in range(1, 7)]
    dashes = [re.findall(r"stroke-dasharray: ([\d ]+)", look) for look in looks.values()]
    assert len({tuple(dash) for dash in dashes}) == 6
    shapes = [re.sub(r"s\d", "", shape) for shape in marks.SHAPES]
    assert len(set(shapes)) == 6
    for n, shape in enumerate(marks.SHAPES, 1):
        assert re.findall(r's\d"', shape) == [f's{n}"']
        assert re.findall(r's\d"', marks.scenario_mark(n)) == [f's{n}"'] * 2
    chart = _charts(invented.six_scenarios())["saturation"]
    seen = drawn(str(chart.svg))
    assert [kind for kind in seen.lines if kind.startswith("line s")] == [
        f"line s{n}" for n in range(1, 7)
    ]
    assert {kind.split()[-1] for kind in seen.points} == {f"s{n}" for n in range(1, 7)}
    assert [row.words for row in chart.key] == [row[0] for row in chart.rows]


@pytest.mark.parametrize("day", DAYS)
def test_lines_and_markers_stand_where_the_axes_say(day: str) -> None:
    """Read off its gridlines and clock times, each point of a line is the hour's middle and its
    value in the table; markers stand on their line; lines go from left to right."""
    for chart in _charts(DAYS[day]()).values():
        seen = drawn(str(chart.svg))
        first = number(chart.heads[1])
        half_digit = 0.05 if any("." in cell for row in chart.rows for cell in row[1:]) else 0.5
        series = [row for row in chart.rows if row[0] != "cars arriving"]
        lines = {f"line s{n}": row for n, row in enumerate(series, 1)}
        if len(series) < len(chart.rows):
            lines["line front"] = chart.rows[0]
        for kind, (_name, *cells) in lines.items():
            places = [place for piece in seen.lines[kind] for place in piece]
            assert places == sorted(places)
            told = [(hour, number(cell)) for hour, cell in enumerate(cells) if cell != "–"]
            assert len(places) == len(told)
            for (right, down), (hour, value) in zip(places, told, strict=True):
                assert seen.along(right) == pytest.approx(first + hour + 0.5, abs=0.02)
                room = half_digit + 0.2 * (seen.value(0.0) - seen.value(1.0))
                assert seen.value(down) == pytest.approx(value, abs=room)
        for shape, stood in seen.points.items():
            line = [place for piece in seen.lines[f"line {shape.split()[-1]}"] for place in piece]
            assert all(min(map(math.dist, line, [place] * len(line))) < 0.1 for place in stood)


def test_each_hour_tells_every_scenario() -> None:
    """Over each open hour lies a bar whose title names the hour and every line's value; the bars
    join without a gap, each from its hour to the next."""
    chart = _charts(invented.peak_day())["damp"]
    titles = [e.text or "" for e in elements(str(chart.svg)) if e.tag == "title"]
    assert len(titles) == len(chart.heads) - 1 == 13
    peak = next(text for text in titles if text.startswith("15:00–16:00"))
    assert peak.splitlines()[1:] == [
        "Always full: 39",
        "Always reduced: 5",
        "Reduced 11:50–16:40: 6",
    ]
    seen = drawn(str(chart.svg))
    for hour, (left, right, _top, foot) in enumerate(seen.boxes["hour"], 7):
        assert seen.along(left) == pytest.approx(hour, abs=0.02)
        assert seen.along(right) == pytest.approx(hour + 1, abs=0.02)
        assert foot == seen.floor


def test_table_beside_a_chart_has_the_same_hours_and_values() -> None:
    """The rows beside a chart hold one cell an hour; cars arriving come first."""
    chart = _charts(invented.peak_day())["cars"]
    assert chart.heads[:3] == ("From", "7:00", "8:00")
    assert chart.rows[0][0] == "cars arriving"
    assert all(len(row) == len(chart.heads) for row in chart.rows)
    assert chart.rows[1][1] == "54"


def test_limits_are_named_on_the_charts_that_have_them() -> None:
    """The stack limit and the damp limit are dotted lines at their values, named beside them."""
    charts = _charts(invented.peak_day())
    for name, value, said in (("stack", 32, "stack limit 32"), ("saturation", 66, "damp limit 66")):
        seen = drawn(str(charts[name].svg))
        down = seen.lines["limit"][0][0][1]
        assert seen.value(down) == pytest.approx(value, abs=0.5)
        named = next(one for one in seen.words if one.text == said)
        assert 0.0 < down - named.at[1] < 8.0


def test_a_damp_limit_that_no_cloth_reaches_is_not_drawn() -> None:
    """Where no wiping is needed there is no damp limit to draw, and the chart says so."""
    day = invented.with_limits(invented.peak_day(), damp_limit_saturation=1.0)
    chart = _charts(day)["saturation"]
    assert "damp limit" not in str(chart.svg)
    assert "limit" not in drawn(str(chart.svg)).lines
    assert "no wiping is needed" in chart.says.lower()


def test_lines_under_the_titles_say_what_is_seen() -> None:
    """Each chart's line names the hours and the scenario that stand out."""
    says = {name: chart.says for name, chart in _charts(invented.peak_day()).items()}
    assert says["cars"] == "From 12:00 to 16:00 more arrive than the belt takes."
    assert says["stack"] == "Close to its limit of 32 from 13:00 to 16:00, with Always full."
    assert says["saturation"] == "Always full is above the damp limit for 6 hours."
    assert says["damp"] == "Most in 15:00–16:00: 39\u00a0% with Always full."


def test_quiet_day_says_that_nothing_stands_out() -> None:
    """On a quiet day the lines say that limits are far and hardly a car is damp at the wheel."""
    says = {name: chart.says for name, chart in _charts(invented.quiet_day()).items()}
    assert "never so many arrive" in says["cars"]
    assert says["saturation"] == "Below the damp limit in every hour."
    assert says["damp"] == "Hardly a car is damp at the wheel at any hour."


def test_overtime_is_drawn() -> None:
    """Hours after closing in which cars are still washed belong to the chart."""
    day = invented.peak_day()
    assert hours_of(day) == range(7, 20)
    day = _with_hours(day, "washed", 20, 12.0)
    assert hours_of(day) == range(7, 21)
    assert _charts(day)["cars"].heads[-1] == "20:00"


def test_an_hour_without_a_figure_breaks_the_line() -> None:
    """Where an hour has no figure the line is broken, and the table has a dash."""
    day = _with_hours(invented.peak_day(), "damp_share", 12, None)
    chart = _charts(day)["damp"]
    assert [len(piece) for piece in drawn(str(chart.svg)).lines["line s1"]] == [5, 7]
    assert chart.rows[0][6] == "–"


@pytest.mark.parametrize("top", [4.0, 9.1, 12.0, 37.0, 44.0, 90.0, 100.0, 236.0, 5000.0])
def test_two_or_three_round_gridlines(top: float) -> None:
    """Any axis has two or three gridlines at round values that do not exceed it."""
    values = marks.grid_values(top)
    assert 2 <= len(values) <= 3
    assert all(0 < value <= top for value in values)
    steps = {round(b - a, 9) for a, b in zip((0.0, *values), values, strict=False)}
    assert len(steps) == 1


def test_gridline_beside_a_limit_is_left_out() -> None:
    """A gridline whose number would touch the name of a limit is not drawn."""
    assert 30.0 in marks.grid_values(37.0)
    assert 30.0 not in marks.grid_values(37.0, apart_from=32.0)


@pytest.mark.parametrize(
    ("values", "said"),
    [((10.0, 20.0), ("10", "20")), ((2.5, 5.0), ("2.5", "5.0")), ((0.25, 1.0), ("0.25", "1.00"))],
)
def test_an_axis_has_as_many_decimals_as_it_needs(
    values: tuple[float, ...], said: tuple[str, ...]
) -> None:
    """All numbers of an axis have as many decimals as the finest of them."""
    assert marks.said(values) == said


def test_names_of_scenarios_cannot_break_out_of_the_svg() -> None:
    """A scenario called like markup stays text."""
    name = "</title><script>alert(1)</script>"
    day = invented.with_scenario(invented.peak_day(), 0, name=name)
    for chart in _charts(day).values():
        assert "<script" not in str(chart.svg)
        titles = [e.text or "" for e in elements(str(chart.svg)) if e.tag == "title"]
        assert len(titles) == 13
        assert all(name in title for title in titles)
