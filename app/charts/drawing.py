"""A chart drawn: a Vega-Lite specification, and the SVG that its renderer makes of it, cleaned.

The SVG is made to live under a strict content policy and in light, dark and print alike: colours
are custom properties, nothing is styled inline, and whatever the renderer writes beyond that is
taken out again. Every scenario has its colour, its dash and its marker, always together.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sim.inputs import MOST_SCENARIOS

COLOURS = tuple(f"var(--s{i})" for i in range(1, MOST_SCENARIOS + 1))
DASHES = ([1, 0], [7, 5], [10, 4, 1, 4], [2, 4], [14, 4], [7, 3, 2, 3, 2, 3])
MARKERS = ("circle", "square", "triangle-up", "diamond", "cross", "circle")
SIZES = (62, 62, 105, 84, 78, 52)
"""Areas [px²] at which the markers look equally large."""
FILLS = (*COLOURS[:5], "var(--paper)")
EDGES = ("var(--paper)",) * 5 + (COLOURS[5],)
"""The sixth marker is a ring: the first one's circle, drawn hollow."""

LEAST_REACH = 4.0
"""The vertical axis reaches at least so far, that a tenth of a car does not look like a crowd."""

WIDTH, HEIGHT = 400, 132
"""Drawn for columns of 330 to 430 px: one rendering is stretched by a tenth at most there."""

SEPARATOR = " \u2016 "
"""Between the lines of what an hour tells; line breaks would not outlive an XML attribute."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A named dotted line at a value of the vertical axis."""

    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Series:
    """One scenario's values, one an hour of `Chart.hours`; None where there is none."""

    name: str
    values: tuple[float | None, ...]


def top_of(series: Series) -> float:
    """Largest value of a series; 0 where it has none."""
    return max((value for value in series.values if value is not None), default=0.0)


def grid_values(top: float, apart_from: float | None = None) -> tuple[float, ...]:
    """Two or three round values up to `top` for the gridlines, zero left out.

    A gridline so close to the limit line `apart_from` that their names would touch is left out.
    """
    scale = 10.0 ** math.floor(math.log10(top))
    for step in (scale * part for part in (5.0, 4.0, 2.0, 2.5, 1.0, 0.5, 0.4)):
        count = math.floor(top / step + 1e-9)
        if count >= 2:
            values = (step * i for i in range(1, min(count, 3) + 1))
            near = math.inf if apart_from is None else 0.16 * top
            return tuple(v for v in values if apart_from is None or abs(v - apart_from) > near)
    raise AssertionError("two fifths of a power of ten fit at least twice into its decade")


@lru_cache(maxsize=256)
def picture(
    hours: tuple[int, ...],
    series: tuple[Series, ...],
    front: Series | None,
    limit: Limit | None,
    texts: tuple[str, ...],
    label: str,
) -> str:
    """A chart as inline SVG, kept by its content: a page drawn again costs no rendering."""
    return to_svg(_specification(hours, series, front, limit, texts), label)


def _specification(
    hours: Sequence[int],
    series: Sequence[Series],
    front: Series | None,
    limit: Limit | None,
    texts: Sequence[str],
) -> dict[str, Any]:
    """The Vega-Lite specification of a chart; values sit at the middle of their hour.

    Written down as it is: putting it together by Altair takes twice as long as rendering it.
    """
    highest = max([*(top_of(s) for s in series), top_of(front) if front else 0.0, LEAST_REACH])
    # A limit far above the lines would squash them; the line under the title names it instead.
    shown_limit = limit if limit and highest >= 0.3 * limit.value else None
    reach = max(highest, shown_limit.value if shown_limit else 0.0)
    top = 1.14 * reach
    grid = grid_values(top, shown_limit.value if shown_limit else None)
    names = [str(i) for i in range(MOST_SCENARIOS)]
    decimals = 0 if all(value == int(value) for value in grid) else 1
    every = 4 if len(hours) > 7 else 2
    look = {"labelColor": "var(--soft)", "labelFontSize": 13.5, "labelOverlap": False}
    x_axis = {
        "values": [h for h in range(hours[0], hours[-1] + 2) if h % every == 0],
        "labelExpr": "datum.value + ':00'",
        "grid": False,
        "title": None,
        "domainColor": "var(--ink)",
        "tickColor": "var(--ink)",
        "tickSize": 4,
        "labelPadding": 5,
        **look,
    }
    y_axis = {
        "values": list(grid),
        "format": f",.{decimals}f",
        "title": None,
        "ticks": False,
        "domain": False,
        "gridColor": "var(--hair)",
        "labelAlign": "left",
        "labelBaseline": "bottom",
        "labelPadding": 0,
        "labelOffset": -2,
        **look,
    }
    ends = {"domain": [hours[0] - 1.1, hours[-1] + 1.3], "nice": False, "zero": False}
    x = {"field": "x", "type": "quantitative", "scale": ends, "axis": x_axis}
    y = {
        "field": "y",
        "type": "quantitative",
        "scale": {"domain": [0, top], "nice": False},
        "axis": y_axis,
    }

    def by_scenario(values: Sequence[Any]) -> dict[str, Any]:
        scale = {"domain": names, "range": list(values)}
        return {"field": "s", "type": "nominal", "scale": scale, "legend": None}

    def layer(
        values: Sequence[dict[str, Any]], mark: dict[str, Any], **encoding: Any
    ) -> dict[str, Any]:
        return {"data": {"values": values}, "mark": mark, "encoding": encoding}

    rows = [
        {"x": hour + 0.5, "y": value, "s": names[i], "mark": _has_marker(k, i, len(series))}
        for i, one in enumerate(series)
        for k, (hour, value) in enumerate(zip(hours, one.values, strict=True))
    ]
    layers: list[dict[str, Any]] = []
    if front:
        ahead = [{"x": h + 0.5, "y": v} for h, v in zip(hours, front.values, strict=True)]
        thin = {"type": "line", "color": "var(--edge)", "strokeWidth": 1.25, "opacity": 1}
        layers.append(layer(ahead, thin, x=x, y=y))
    if shown_limit:
        dotted = {
            "type": "rule",
            "color": "var(--ink)",
            "strokeDash": [2, 3],
            "strokeWidth": 1,
            "opacity": 1,
        }
        layers.append(layer([{"y": shown_limit.value}], dotted, y=y))
    line = {
        "type": "line",
        "strokeWidth": 2,
        "strokeJoin": "round",
        "strokeCap": "butt",
        "opacity": 1,
    }
    colour, dash = by_scenario(COLOURS), by_scenario(DASHES)
    layers.append(layer(rows, line, x=x, y=y, color=colour, strokeDash=dash))
    markers = layer(
        rows,
        {"type": "point", "filled": True, "strokeWidth": 1.5, "opacity": 1},
        x=x,
        y=y,
        fill=by_scenario(FILLS),
        stroke=by_scenario(EDGES),
        shape=by_scenario(MARKERS),
        size=by_scenario(SIZES),
    )
    layers.append({**markers, "transform": [{"filter": "datum.mark && isValid(datum.y)"}]})
    for note in _notes(hours, series, front, shown_limit):
        written = {
            "type": "text",
            "align": note[3],
            "baseline": "bottom",
            "dy": -5,
            "fontSize": 13.5,
            "text": note[0],
            "opacity": 1,
            "color": "var(--ink)",
        }
        # The halo is the same text drawn first with a broad edge in the colour of the paper.
        halo = {"stroke": "var(--paper)", "strokeWidth": 5, "color": "var(--paper)"}
        place = [{"x": note[1], "y": note[2]}]
        layers += [layer(place, {**written, **halo}, x=x, y=y), layer(place, written, x=x, y=y)]
    layers.append(
        layer(
            [{"a": h, "b": h + 1, "text": t} for h, t in zip(hours, texts, strict=True)],
            {"type": "rect", "opacity": 0, "color": "var(--ink)", "aria": True},
            x={**x, "field": "a"},
            x2={"field": "b"},
            y={"value": 0},
            y2={"value": HEIGHT},
            description={"field": "text", "type": "nominal"},
        )
    )
    return {
        "width": WIDTH,
        "height": HEIGHT,
        "padding": 2,
        "background": None,
        "config": {
            "view": {"continuousWidth": 300, "continuousHeight": 300, "stroke": None},
            "aria": False,
        },
        "layer": layers,
    }


def _has_marker(position: int, scenario: int, count: int) -> bool:
    """Markers are staggered, so that lines on one spot still show who is there."""
    return (position - scenario) % max(4, count) == 1 % max(4, count)


def _notes(
    hours: Sequence[int], series: Sequence[Series], front: Series | None, limit: Limit | None
) -> list[tuple[str, float, float, str]]:
    """Texts on the chart: (text, hour, value, alignment), put where the lines leave room."""
    notes = []
    if front and top_of(front) > 0:
        peak = max(range(len(hours)), key=lambda i: front.values[i] or 0.0)
        notes.append((front.name, hours[peak] + 0.5, top_of(front), "center"))
    if limit:
        third = max(1, len(hours) // 3)

        def nearest(part: slice) -> float:
            values = [v for one in series for v in one.values[part] if v is not None]
            return max(values, default=0.0)

        at_end = nearest(slice(-third, None)) <= nearest(slice(0, third)) + 0.1 * limit.value
        spot = hours[-1] + 1.3 if at_end else hours[0] - 0.1
        notes.append((limit.name, spot, limit.value, "right" if at_end else "left"))
    return notes


# ---- specification to SVG ----------------------------------------------------------------------

_DROPPED = {"class", "role", "style", "id", "clip-path", "font-family", "display", "href"}
_FORBIDDEN = {"script", "foreignObject", "style", "image", "a", "iframe"}


def to_svg(specification: dict[str, Any], label: str) -> str:
    """A Vega-Lite specification as inline SVG of nothing but shapes and text.

    Raises:
        ValueError: when the rendering holds anything beyond shapes and text.
    """
    import vl_convert

    root = ET.fromstring(  # noqa: S314  our own renderer's output
        vl_convert.vegalite_to_svg(specification)
    )
    for parent in root.iter():
        for child in list(parent):
            if _is_unpainted(child):
                parent.remove(child)
    for element in root.iter():
        element.tag = element.tag.rsplit("}", 1)[-1]
        if element.tag in _FORBIDDEN:
            raise ValueError(f"a chart may not hold <{element.tag}>")
        said = element.get("aria-label", "")
        for name in list(element.attrib):
            if name in _DROPPED or name.startswith(("aria-", "{")):
                del element.attrib[name]
        if SEPARATOR in said:  # the invisible bar over an hour: what it tells on hover
            element.set("class", "hour")
            ET.SubElement(element, "title").text = said.replace(SEPARATOR, "\n")
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    root.attrib.pop("version", None)
    root.set("class", "chart")
    root.set("role", "img")
    root.set("aria-label", label)
    return ET.tostring(root, encoding="unicode")


def _is_unpainted(element: ET.Element) -> bool:
    """The renderer's empty carriers of groups: nothing is drawn by them."""
    return element.get("class") in ("background", "foreground") and "fill" not in element.attrib
