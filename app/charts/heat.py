"""A map drawn: shaded steps with their values printed in them, limits as lines, named marks.

Every shade has its words in the key and values stand on the map itself; what may not be used is
hatched. So nothing is told by a shade alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.charts.drawing import to_svg

SHADES = 6
WIDTH, HEIGHT = 400, 300
FONT = 13.5
HATCH_PX = 9.0
BESIDE = 1.5
"""Grid steps that are shown beyond what may be used."""
TEXTS_ACROSS, TEXTS_DOWN = 4, 5
"""Values printed on a map, at most."""

Stretch = tuple[float, float, float, float]
"""From x, y to x, y; of a box its left, right, lower and upper end."""


@dataclass(frozen=True, slots=True)
class Ruler:
    """An axis as the reader sees it.

    Attributes:
        values: grid values, ascending and evenly apart; two or more.
        low, high: what may be used; beyond it the map is hatched. None where nothing bounds it.
    """

    title: str
    values: tuple[float, ...]
    low: float | None = None
    high: float | None = None

    @property
    def step(self) -> float:
        """From one grid value to the next."""
        return (self.values[-1] - self.values[0]) / (len(self.values) - 1)

    @property
    def domain(self) -> tuple[float, float]:
        """What is shown: the grid, and some of what may not be used."""
        half = 0.5 * self.step
        low, high = self.values[0] - half, self.values[-1] + half
        if self.low is not None and self.low > self.values[0] - 3 * self.step:
            low = self.low - BESIDE * self.step
        if self.high is not None and self.high < self.values[-1] + 3 * self.step:
            high = self.high + BESIDE * self.step
        return low, high

    @property
    def edges(self) -> tuple[float, ...]:
        """Where one grid value's strip ends and the next begins; outermost at what may be used."""
        half = 0.5 * self.step
        low, high = self.domain
        first = low if self.low is None else max(low, self.low)
        last = high if self.high is None else min(high, self.high)
        return (first, *(value + half for value in self.values[:-1]), last)


@dataclass(frozen=True, slots=True)
class Spot:
    """A named place on the map; `is_best` draws a diamond in place of a ring."""

    x: float
    y: float
    name: str
    is_best: bool = False


@dataclass(frozen=True, slots=True)
class Heat:
    """A map to be drawn.

    Attributes:
        shades: by row of `y`, then of `x`: 0 to `SHADES` − 1, None where nothing was simulated.
        texts: words of each cell, of which some are printed.
        lines: stretches of the limit, from x, y to x, y.
    """

    x: Ruler
    y: Ruler
    shades: tuple[tuple[int | None, ...], ...]
    texts: tuple[tuple[str, ...], ...]
    lines: tuple[Stretch, ...]
    spots: tuple[Spot, ...]


@lru_cache(maxsize=128)
def heat_picture(heat: Heat, label: str) -> str:
    """A map as inline SVG, kept by its content."""
    return to_svg(_specification(heat), label)


def _specification(heat: Heat) -> dict[str, Any]:
    """The Vega-Lite specification: the frame that all maps of these axes share, and the data."""
    data = {
        "strips": _strips(heat),
        "hatch": _broken(_hatch(heat)),
        "lines": _broken(heat.lines),
        "texts": _texts(heat),
    }
    return {**_frame(heat.x, heat.y, heat.spots), "datasets": data}


@lru_cache(maxsize=32)
def _frame(x: Ruler, y: Ruler, spots: tuple[Spot, ...]) -> dict[str, Any]:
    """Everything but the data, which is referred to by name: building it takes a while."""
    # Loaded here: Altair takes most of a second, which the first page need not wait for.
    import altair

    alt: Any = altair  # its types know colours by name only, and these are custom properties
    x_scale = alt.Scale(domain=list(x.domain), nice=False, zero=False)
    y_scale = alt.Scale(domain=list(y.domain), nice=False, zero=False)
    look = {
        "grid": False,
        "domainColor": "var(--ink)",
        "tickColor": "var(--ink)",
        "tickSize": 4,
        "labelPadding": 5,
        "labelColor": "var(--soft)",
        "labelFontSize": FONT,
        "titleColor": "var(--soft)",
        "titleFontSize": FONT,
        "titleFontWeight": "normal",
        "labelOverlap": False,
    }
    place = {
        "x": alt.X("x:Q", scale=x_scale, axis=alt.Axis(title=x.title, values=_ticks(x, 6), **look)),
        "y": alt.Y("y:Q", scale=y_scale, axis=alt.Axis(title=y.title, values=_ticks(y, 6), **look)),
    }
    shade = alt.Fill(
        "s:N",
        scale=alt.Scale(
            domain=[str(i) for i in range(SHADES)],
            range=[f"var(--m{i + 1})" for i in range(SHADES)],
        ),
        legend=None,
    )

    def chart(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def line(name: str, colour: str, width: float) -> Any:
        # `order` keeps the given order, without which ends would be joined from left to right
        look = {"color": colour, "strokeWidth": width, "strokeCap": "round", "opacity": 1}
        return chart(name).mark_line(**look).encode(**place, order=alt.value(None))

    layers = [
        chart("strips").mark_rect(opacity=1).encode(**place, x2="x2:Q", y2="y2:Q", fill=shade),
        line("hatch", "var(--edge)", 1),
        line("lines", "var(--paper)", 6),
        line("lines", "var(--ink)", 2.5),
        *_written(chart("texts"), {**place, "text": "t:N"}),
    ]
    for spot in spots:
        here = alt.Chart(alt.Data(values=[{"x": spot.x, "y": spot.y}]))
        inside, edge = ("ink", "paper") if spot.is_best else ("paper", "ink")
        layers.append(
            here.mark_point(
                filled=True,
                shape="diamond" if spot.is_best else "circle",
                size=150 if spot.is_best else 95,
                fill=f"var(--{inside})",
                stroke=f"var(--{edge})",
                strokeWidth=2.5,
                opacity=1,
            ).encode(**place)
        )
        layers += _written(
            here, place, text=spot.name, fontWeight="bold", **_beside(x, y, spots, spot)
        )
    drawn = (
        alt.layer(*layers)
        .properties(width=WIDTH, height=HEIGHT, padding=2)
        .configure(view=alt.ViewConfig(stroke=None), aria=False)
    )
    # Nor does its schema, so it is not consulted.
    specification: dict[str, Any] = drawn.to_dict(validate=False)
    specification["background"] = None
    return specification


def _written(chart: Any, encoded: dict[str, Any], **more: Any) -> list[Any]:
    """Text in ink over a broad edge in the colour of the paper."""
    options = {"align": "center", "baseline": "middle", "fontSize": FONT, "opacity": 1, **more}
    halo = {"stroke": "var(--paper)", "strokeWidth": 4, "strokeJoin": "round"}
    return [
        chart.mark_text(**options, **halo, color="var(--paper)").encode(**encoded),
        chart.mark_text(**options, color="var(--ink)").encode(**encoded),
    ]


def _beside(x: Ruler, y: Ruler, spots: tuple[Spot, ...], spot: Spot) -> dict[str, Any]:
    """Where a mark's name stands: right of it, or left near the right edge; the best one's above
    and the other's below where both share a place."""
    at = _pixel(x, y, spot.x, spot.y)
    others = (_pixel(x, y, other.x, other.y) for other in spots if other is not spot)
    is_crowded = any(math.dist(at, other) < 40 for other in others)
    is_left = at[0] > 0.75 * WIDTH
    return {
        "align": "right" if is_left else "left",
        "dx": -13 if is_left else 13,
        "dy": (-11 if spot.is_best else 11) if is_crowded else 0,
    }


def _pixel(x: Ruler, y: Ruler, at_x: float, at_y: float) -> tuple[float, float]:
    (x0, x1), (y0, y1) = x.domain, y.domain
    return WIDTH * (at_x - x0) / (x1 - x0), HEIGHT * (y1 - at_y) / (y1 - y0)


def _ticks(ruler: Ruler, most: int) -> list[float]:
    """Grid values that are named, evenly apart."""
    every = math.ceil(len(ruler.values) / most)
    start = next(
        (i for i in range(every) if abs(ruler.values[i] / (every * ruler.step) % 1.0) < 1e-6), 0
    )
    return [round(value, 6) for value in ruler.values[start::every]]


def _strips(heat: Heat) -> list[dict[str, Any]]:
    """Neighbours of one shade in a row, drawn as one rectangle."""
    across, down = heat.x.edges, heat.y.edges
    rows = []
    for j, row in enumerate(heat.shades):
        start = 0
        for i in range(1, len(row) + 1):
            if i == len(row) or row[i] != row[start]:
                if row[start] is not None:
                    ends = {"x": across[start], "x2": across[i], "y": down[j], "y2": down[j + 1]}
                    rows.append({**ends, "s": str(row[start])})
                start = i
    return rows


def _texts(heat: Heat) -> list[dict[str, Any]]:
    """Some of the cells' words, evenly spread, none under a mark or its name."""
    found = []
    for j in _picked(len(heat.y.values), TEXTS_DOWN):
        for i in _picked(len(heat.x.values), TEXTS_ACROSS):
            x, y = heat.x.values[i], heat.y.values[j]
            at = _pixel(heat.x, heat.y, x, y)
            covered = False
            for spot in heat.spots:
                px, py = _pixel(heat.x, heat.y, spot.x, spot.y)
                covered |= abs(at[0] - px) < 75 and abs(at[1] - py) < 26
            if heat.shades[j][i] is not None and not covered:
                found.append({"x": x, "y": y, "t": heat.texts[j][i]})
    return found


def _picked(count: int, most: int) -> list[int]:
    """At most so many places of `count`, evenly apart and away from both ends."""
    taken = min(count, most)
    return [math.floor((k + 0.5) * count / taken) for k in range(taken)]


def _broken(lines: Sequence[Stretch]) -> list[dict[str, float | None]]:
    """Stretches as one line with gaps, which is drawn as a single path."""
    rows: list[dict[str, float | None]] = []
    for x0, y0, x1, y1 in lines:
        rows += [{"x": x0, "y": y0}, {"x": x1, "y": y1}, {"x": None, "y": None}]
    return rows


def _hatch(heat: Heat) -> list[Stretch]:
    """Slanting lines over what may not be used or could not be simulated."""
    (x0, x1), (y0, y1) = heat.x.domain, heat.y.domain
    across, down = heat.x.edges, heat.y.edges
    boxes = []
    if across[0] > x0 + 1e-9:
        boxes.append((x0, across[0], y0, y1))
    if across[-1] < x1 - 1e-9:
        boxes.append((across[-1], x1, y0, y1))
    if down[0] > y0 + 1e-9:
        boxes.append((across[0], across[-1], y0, down[0]))
    if down[-1] < y1 - 1e-9:
        boxes.append((across[0], across[-1], down[-1], y1))
    for j, row in enumerate(heat.shades):
        if all(shade is None for shade in row):
            boxes.append((across[0], across[-1], down[j], down[j + 1]))
    return [line for box in boxes for line in _slanting(heat, box)]


def _slanting(heat: Heat, box: Stretch) -> list[Stretch]:
    left, top = _pixel(heat.x, heat.y, box[0], box[3])
    right, bottom = _pixel(heat.x, heat.y, box[1], box[2])

    def back(px: float, py: float) -> tuple[float, float]:
        (x0, x1), (y0, y1) = heat.x.domain, heat.y.domain
        return x0 + px / WIDTH * (x1 - x0), y1 - py / HEIGHT * (y1 - y0)

    lines = []
    # lines px + py = c, on one lattice for all boxes, so that they meet at the corners
    for k in range(math.ceil((left + top) / HATCH_PX), math.floor((right + bottom) / HATCH_PX) + 1):
        total = k * HATCH_PX
        start = max(left, total - bottom)
        end = min(right, total - top)
        if end - start > 0.5:
            lines.append((*back(start, total - start), *back(end, total - end)))
    return lines
