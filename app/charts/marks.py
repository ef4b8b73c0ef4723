"""What every chart is made of: scales, axes, lines, bars, points, words, and the key beside them.

A chart is inline SVG that lives under a strict content policy and in light, dark and print alike.
Positions are percent across and pixels down, so that only positions stretch with the page and
words keep their size; colours, dashes and widths are classes of the stylesheet. What has to bend
with the page, such as lines and hatching, lies in a frame of its own that is stretched. Every
scenario has its colour, its dash and its marker, always together.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from app.words.numbers import plain_number

WIDE = 1000.0
"""Units across of the frame that is stretched to the chart's width; down they are pixels."""
TYPICAL_PX = 400.0
"""Width of a chart beside another; only slants are made for it."""
ABOVE = 4.0
"""Words stand so far above the line that they belong to [px]."""
WORDS_PX = 18.0
"""From an axis down to the foot of the words below it [px]."""
FOOT_PX = 24.0
"""From the axis to the foot of the picture [px]."""
HATCH_PX = 9.0
"""Between slanting lines of a hatching, across and down."""

Place = tuple[float, float]
"""Percent across, pixels down."""
Box = tuple[float, float, float, float]
"""Left and right [% across], top and bottom [px down]."""

SHAPES = (
    Markup('<circle class="dot s1" r="4"/>'),
    Markup('<path class="dot s2" d="M-4-4h8v8h-8z"/>'),
    Markup('<path class="dot s3" d="M0-5.2l5.2 9.4h-10.4z"/>'),
    Markup('<path class="dot s4" d="M0-5.4l4.6 5.4-4.6 5.4-4.6-5.4z"/>'),
    Markup('<path class="dot s5" d="M-1.6-4.8h3.2v3.2h3.2v3.2h-3.2v3.2h-3.2V1.6h-3.2v-3.2h3.2z"/>'),
    Markup('<circle class="hollow s6" r="3.6"/>'),
)
"""The marker of each scenario, around its place."""


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture with everything that stands around it.

    Attributes:
        name: short, unique on its page.
        title: the figure and its unit.
        says: the line under the title: what is seen.
        svg: the picture, inline.
        heads, rows: the same figures as a table; the first cell of a row names it.
        key: what each mark means.
    """

    name: str
    title: str
    says: str
    svg: Markup
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    key: tuple[Key, ...] = ()


@dataclass(frozen=True, slots=True)
class Key:
    """A row of a key: the mark, and what it means."""

    mark: Markup
    words: str


@dataclass(frozen=True, slots=True)
class Scale:
    """Values from `low` to `high`, laid evenly from `start` to `end` [% across, or px down]."""

    low: float
    high: float
    start: float = 0.0
    end: float = 100.0

    def __call__(self, value: float) -> float:
        """Where a value lies."""
        return self.start + (self.end - self.start) * (value - self.low) / (self.high - self.low)


def _drawn(text: str) -> Markup:
    return Markup(text)  # noqa: S704  numbers and classes of our own, and escaped words


# ---- marks ---------------------------------------------------------------------------------------


def picture(label: str, height: float, *marks: Markup) -> Markup:
    """The marks of a chart, first ones behind; `label` is what it is for those who don't see it."""
    frame = Markup(
        '<svg class="chart" width="100%" height="{}" role="img" aria-label="{}">{}</svg>'
    )
    return frame.format(_short(height), label, Markup("").join(marks))


def line(kind: str, box: Box) -> Markup:
    """A straight line between corners of a box, left and top to right and foot."""
    left, right, top, foot = box
    across = f'x1="{_share(left)}" x2="{_share(right)}"'
    return _drawn(f'<line class="{kind}" {across} y1="{_short(top)}" y2="{_short(foot)}"/>')


def across(kind: str, down: float, left: float = 0.0, right: float = 100.0) -> Markup:
    """A level line."""
    return line(kind, (left, right, down, down))


def upright(kind: str, at: float, top: float, foot: float) -> Markup:
    """A line from top to foot."""
    return line(kind, (at, at, top, foot))


def bar(kind: str, box: Box, says: str = "") -> Markup:
    """A filled box; `says` is told where the pointer rests on it."""
    left, right, top, foot = box
    across = f'x="{_share(left)}" width="{_share(right - left)}"'
    drawn = f'<rect class="{kind}" {across} y="{_short(top)}" height="{_short(foot - top)}"'
    return _drawn(f"{drawn}><title>{escape(says)}</title></rect>" if says else f"{drawn}/>")


def point(place: Place, shape: Markup) -> Markup:
    """A shape at a place; it keeps its size."""
    return _drawn(f'<svg x="{_share(place[0])}" y="{_short(place[1])}">{shape}</svg>')


def words(
    text: str, place: Place, kind: str = "", anchor: str = "start", aside: float = 0.0
) -> Markup:
    """Words at a place, on their foot, or so far aside of it [px]; anchor start, middle or end."""
    return _drawn(
        "<text"
        + (f' class="{kind}"' if kind else "")
        + f' x="{_share(place[0])}" y="{_short(place[1])}"'
        + (f' dx="{_short(aside)}"' if aside else "")
        + (f' text-anchor="{anchor}"' if anchor != "start" else "")
        + f">{escape(text)}</text>"
    )


def told(says: str, *marks: Markup) -> Markup:
    """Marks that tell something where the pointer rests on them."""
    return Markup("<g><title>{}</title>{}</g>").format(says, Markup("").join(marks))


def stretched(height: float, *paths: tuple[str, str]) -> Markup:
    """Paths (class and outline) in the frame of `WIDE` by the chart's height."""
    drawn = "".join(f'<path class="{kind}" d="{outline}"/>' for kind, outline in paths if outline)
    y = _short(height)
    frame = f'<svg height="{y}" viewBox="0 0 {WIDE:.0f} {y}" preserveAspectRatio="none">'
    return _drawn(f"{frame}{drawn}</svg>" if drawn else "")


def line_of(places: Iterable[Place | None]) -> str:
    """Outline of a line through places, broken where there is none."""
    parts, kind = [], "M"
    for place in places:
        if place is not None:
            parts.append(f"{kind}{_units(place[0])} {_short(place[1])}")
        kind = "M" if place is None else "L"
    return "".join(parts)


def box_of(box: Box) -> str:
    """Outline of a box."""
    left, right, top, foot = box
    return f"M{_units(left)} {_short(top)}H{_units(right)}V{_short(foot)}H{_units(left)}z"


def hatch_of(boxes: Iterable[Box]) -> str:
    """Slanting lines over boxes, on one lattice for all, so that they meet at corners."""
    parts = []
    for box in boxes:
        left, right = (side * TYPICAL_PX / 100.0 for side in box[:2])
        top, foot = box[2:]
        first, last = math.ceil((left + top) / HATCH_PX), math.floor((right + foot) / HATCH_PX)
        for total in (HATCH_PX * k for k in range(first, last + 1)):
            start, end = max(left, total - foot), min(right, total - top)
            if end - start > 0.5:
                ends = [(100.0 * px / TYPICAL_PX, total - px) for px in (start, end)]
                parts.append(line_of(ends))
    return "".join(parts)


# ---- axes ----------------------------------------------------------------------------------------


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


def said(values: Sequence[float]) -> tuple[str, ...]:
    """Values of an axis in as many decimals as all of them need, two at most."""
    decimals = next((n for n in (0, 1) if all(abs(v - round(v, n)) < 1e-6 for v in values)), 2)
    return tuple(plain_number(value, decimals) for value in values)


def grid(down: Scale, values: Sequence[float], unit: str = "") -> Markup:
    """Gridlines with their values on them, and the unit with the last."""
    return Markup("").join(
        across("grid", down(value))
        + words(text + (unit if value == values[-1] else ""), (0.0, down(value) - ABOVE))
        for value, text in zip(values, said(values), strict=True)
    )


def ticks(down: float, places: Iterable[tuple[float, str]], kind: str = "") -> Markup:
    """Words at places across, below a chart that ends there; near its edges they stay inside."""
    return Markup("").join(
        words(text, (at, down + WORDS_PX), kind, _anchor(at)) for at, text in places
    )


def floor(
    down: float, places: Sequence[tuple[float, str]], left: float = 0.0, *, is_thinned: bool = False
) -> Markup:
    """The axis below a chart, with words at places; thinned, a phone has every second one."""
    notches = (upright("axis", at, down, down + 4.0) for at, _text in places)
    named = [ticks(down, places)]
    if is_thinned:
        named = [ticks(down, places[::2]), ticks(down, places[1::2], "odd")]
    return Markup("").join([across("axis", down, left), *notches, *named])


def limit(down: float, name: str, is_left: bool = False) -> Markup:
    """A named dotted line."""
    place = (0.5 if is_left else 100.0, down - ABOVE - 1.0)
    named = words(name, place, "say halo", "start" if is_left else "end")
    return across("limit", down) + named


# ---- keys ----------------------------------------------------------------------------------------


def swatch(*marks: Markup, wide: int = 44) -> Markup:
    """Marks of a key around its middle, in so many pixels by 12."""
    frame = Markup('<svg viewBox="{} -6 {} 12" aria-hidden="true" focusable="false">{}</svg>')
    return frame.format(-wide // 2, wide, Markup("").join(marks))


def stroke(kind: str, outline: str = "M-21 0h42") -> Markup:
    """A line of a key."""
    return _drawn(f'<path class="{kind}" d="{outline}"/>')


def scenario_mark(number: int) -> Markup:
    """Line and marker of a scenario, 1 to 6, for a key or the head of a column."""
    return swatch(stroke(f"line s{number}"), SHAPES[number - 1])


BAR = swatch(stroke("wet", "M-6-5h12v11h-12z"))
DASH = swatch(stroke("would", "M-10 0h20"))
"""A bar, and a line across one."""


# ---- numbers -------------------------------------------------------------------------------------


def _anchor(percent: float) -> str:
    return "start" if percent < 1.0 else "end" if percent > 99.0 else "middle"


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _units(percent: float) -> str:
    return _short(percent * WIDE / 100.0)


def _share(percent: float) -> str:
    text = f"{percent:.2f}".rstrip("0").removesuffix(".")
    return f"{text}%" if percent else "0"
