"""A chart as somebody sees it: where its words, lines and points are, and what its axes make of it.

Nothing here knows how charts are put together: positions are read out of the picture, and a value
is told by the gridlines and the words beside them.
"""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

STYLES = (Path(__file__).resolve().parents[2] / "app" / "static" / "charts.css").read_text()
NARROWEST_PX = 330.0
CHARACTER_PX, LINE_PX = 6.7, 11.0
"""About as wide as a character and as high as a line of the charts' words."""

Point = tuple[float, float]
"""Percent across, pixels down."""


@dataclass(frozen=True)
class Words:
    """Words on a chart.

    Attributes:
        at: the place of their anchor.
        box: left, right, top and foot on the narrowest chart [px].
    """

    text: str
    at: Point
    kind: str
    box: tuple[float, float, float, float]


@dataclass
class Drawn:
    """What is on a chart.

    Attributes:
        lines: by class, places of each unbroken piece.
        points: by class of the shape, where each stands.
        boxes: by class, left, right, top and foot.
    """

    words: list[Words] = field(default_factory=list)
    lines: dict[str, list[list[Point]]] = field(default_factory=dict)
    points: dict[str, list[Point]] = field(default_factory=dict)
    boxes: dict[str, list[tuple[float, float, float, float]]] = field(default_factory=dict)

    @property
    def floor(self) -> float:
        """Where the axis across lies, or bars end where there is none."""
        level = (one[1] for one, other in self.lines.get("axis", ()) if one[1] == other[1])
        return next(level, max((box[3] for row in self.boxes.values() for box in row), default=0.0))

    def value(self, down: float) -> float:
        """The value at a height, by two marks of the axis: its lowest line, and a named one."""
        floor = self.floor
        line, named = next(
            (line[0][1], one)
            for line in self.lines["grid"]
            for one in self.words
            if abs(one.at[0] - line[0][0]) < 1e-6 and 0.0 <= line[0][1] - one.at[1] < 6.0
        )
        return number(named.text) * (floor - down) / (floor - line)

    def along(self, right: float) -> float:
        """The value at a place across, by the first and the last word below the axis."""
        ticks = [
            one for one in self.words if one.at[1] > self.floor and re.match(r"[-−\d]", one.text)
        ]
        first, last = ticks[0], ticks[-1]
        share = (right - first.at[0]) / (last.at[0] - first.at[0])
        return number(first.text) + share * (number(last.text) - number(first.text))


def number(text: str) -> float:
    """The number that words begin with; of a clock time its hour."""
    found = re.match(r"([-−+]?)\$?([-−]?[\d,]*\.?\d+)", text)
    assert found, f"{text!r} begins with no number"
    return float((found[1] + found[2]).replace(",", "").replace("−", "-"))


def elements(svg: str) -> list[ET.Element]:
    """All elements of a picture."""
    return list(ET.fromstring(svg).iter())  # noqa: S314  our own picture


def drawn(svg: str) -> Drawn:
    """Reads a picture."""
    found = Drawn()
    root = ET.fromstring(svg)  # noqa: S314  our own picture
    height = float(root.get("height", ""))
    _read(root, found, (0.0, 0.0), height)
    return found


def _read(parent: ET.Element, found: Drawn, origin: Point, height: float) -> None:
    for element in parent:
        kind = element.get("class", "")
        if element.tag == "svg" and element.get("viewBox"):
            _read_stretched(element, found)
        elif element.tag == "svg":
            place = (_percent(element.get("x")), float(element.get("y", "0")))
            for shape in element:
                found.points.setdefault(shape.get("class", ""), []).append(place)
        elif element.tag == "g":
            _read(element, found, origin, height)
        elif element.tag == "text":
            found.words.append(_words(element))
        elif element.tag == "line":
            ends = [
                (_percent(element.get(f"x{end}")), float(element.get(f"y{end}", "0")))
                for end in (1, 2)
            ]
            found.lines.setdefault(kind, []).append(ends)
        elif element.tag == "rect":
            left, top = _percent(element.get("x")), float(element.get("y", ""))
            right = left + _percent(element.get("width"))
            box = (left, right, top, top + float(element.get("height", "")))
            found.boxes.setdefault(kind, []).append(box)


def _read_stretched(frame: ET.Element, found: Drawn) -> None:
    _x, _y, wide, high = map(float, frame.get("viewBox", "").split())
    assert frame.get("preserveAspectRatio") == "none"
    assert float(frame.get("height", "")) == high, "a frame stretches across alone"
    for path in frame:
        for piece in re.findall(r"M([^M]+)", path.get("d", "")):
            places: list[Point] = []
            for letter, text in re.findall(r"(^|[LHVz])([^LHVz]*)", piece):
                values = [float(value) for value in text.replace(",", " ").split()]
                if letter == "z":
                    continue
                if letter == "H":
                    values = [values[0], places[-1][1]]
                elif letter == "V":
                    values = [places[-1][0] * wide / 100.0, values[0]]
                places.append((100.0 * values[0] / wide, values[1]))
            found.lines.setdefault(path.get("class", ""), []).append(places)


def _words(element: ET.Element) -> Words:
    at = (_percent(element.get("x")), float(element.get("y", "0")))
    text = element.text or ""
    start = at[0] * NARROWEST_PX / 100.0 + float(element.get("dx", "0"))
    long = CHARACTER_PX * len(text)
    left = (
        start
        - long * {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")]
    )
    return Words(text, at, element.get("class", ""), (left, left + long, at[1] - LINE_PX, at[1]))


def _percent(text: str | None) -> float:
    if text in (None, "", "0"):
        return 0.0
    assert text.endswith("%"), f"{text} is not a share of the width"
    return float(text[:-1])


# ---- claims about any chart ----------------------------------------------------------------------


def faults(svg: str) -> Iterator[str]:
    """What a strict content policy, the dark or paper would not bear, and words on words."""
    root = ET.fromstring(svg)  # noqa: S314  our own picture
    if root.get("role") != "img" or not root.get("aria-label"):
        yield "who does not see it is not told what it is"
    classes = set(re.findall(r"\.([a-z][\w-]*)", STYLES))
    for element in root.iter():
        if element.tag not in {"svg", "g", "path", "line", "circle", "text", "rect", "title"}:
            yield f"<{element.tag}>"
        for name in element.attrib:
            if name in {"style", "id", "href", "fill", "stroke", "opacity"} or name.startswith(
                "on"
            ):
                yield f"{name} at <{element.tag}>"
        yield from (f"no look for {k}" for k in set(element.get("class", "").split()) - classes)
    for one, other in itertools.combinations(drawn(svg).words, 2):
        (a, b, c, d), (e, f, g, h) = one.box, other.box
        if a < f and e < b and c < h and g < d:
            yield f"{one.text!r} lies on {other.text!r}"
