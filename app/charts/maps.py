"""The maps of a day as charts: a map of the limits, a map a figure, and the grids beside them.

A map is shaded in few round steps, with some of its values printed on it, limits as lines and
named places. Every shade has its words in the key, and what may not be used is hatched, so nothing
is told by a shade alone.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup

from app.catalogue import _
from app.charts import marks
from app.charts.marks import Box, Chart, Key, Place, Scale
from app.words.beside import more_words
from app.words.map_levels import MapLevels
from app.words.numbers import amount, plain_number, shown
from sim.day.figures import FIGURES
from sim.decide.maps.answer import ALL, Axis, Map, MapPoint, SettingsMap
from sim.units import UNITS

Grid = Sequence[Sequence[float | None]]
"""A figure by row of the second axis, then of the first; None where nothing was simulated."""
Shades = tuple[tuple[int | None, ...], ...]
"""In the same order, 0 to `SHADES` − 1."""
Stretch = tuple[float, float, float, float]
"""From x, y to x, y."""
LIMITS_KEY = "limits"
SHORT = {"left_damp_share": "damp", "wait_p90_s": "wait", "cars_lost": "lost"}
"""What is printed on the map of limits where one holds."""
SHADES = 6
TOP, FLOOR, LEFT = 24.0, 304.0, 11.0
"""Frame of a map: down [px], across [%]."""
NARROW_PX = 340.0
"""Width at which words must not yet touch."""
BESIDE = 1.5
"""Grid steps that are shown beyond what may be used."""
TEXTS_DOWN = 5
SHORT_WORDS = 7
"""Longest words of which four stand beside each other; of longer ones three do."""
MOST_TICKS = 6
RING = Markup('<circle class="spot" r="5.5"/>')
DIAMOND = Markup('<path class="spot best" d="M0-8.5l6.5 8.5-6.5 8.5-6.5-8.5z"/>')


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

    @property
    def ticks(self) -> tuple[float, ...]:
        """Grid values that are named, evenly apart."""
        every = math.ceil(len(self.values) / MOST_TICKS)
        apart = every * self.step
        start = next((i for i in range(every) if abs(self.values[i] / apart % 1.0) < 1e-6), 0)
        return tuple(round(value, 6) for value in self.values[start::every])


@dataclass(frozen=True, slots=True)
class Seen:
    """What is seen of a map's cells: shades, words, and what the shades mean."""

    shades: Shades
    texts: tuple[tuple[str, ...], ...]
    key: tuple[Key, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """A named place on the map; `is_best` draws a diamond in place of a ring."""

    x: float
    y: float
    name: str
    is_best: bool = False


def settings_charts(levels: MapLevels, system: str) -> tuple[Chart, ...]:
    """Maps of speed and spacing: which limits hold, then a map a figure."""
    found = levels.found
    plane, now, better = found.settings, found.present, found.better
    spots = [Spot(*_place(plane, (now.x, now.y), system), _("now"))]
    if better is not None:
        spots.append(Spot(*_place(plane, (better.x, better.y), system), _("best"), is_best=True))
    return _charts(levels, "settings", spots, system)


def weather_charts(levels: MapLevels, system: str) -> tuple[Chart, ...]:
    """Maps of demand and temperature at the present setting."""
    found = levels.found
    place = _place(found.weather, (1.0, found.highest_temp_c), system)
    return _charts(levels, "weather", [Spot(*place, _("expected"))], system)


def maps_key(found: SettingsMap) -> tuple[Key, ...]:
    """What is drawn on the maps of speed and spacing besides shades."""
    best = Key(marks.swatch(DIAMOND), _("the best setting"))
    hatch = marks.stroke("hatch", "M-18 5l9-10M-9 5l9-10M0 5l9-10M9 5l9-10")
    unusable = _("outside the manual’s belt speeds, or closer than a car is long")
    return (
        Key(marks.swatch(RING), _("the setting now")),
        *([] if found.better is None else [best]),
        Key(marks.swatch(marks.stroke("bound")), _("where a limit begins to hold")),
        Key(marks.swatch(hatch), unusable),
    )


_KINDS = {
    "conveyor_speed_m_s": ("speed", "Conveyor speed"),
    "car_spacing_m": ("length", "Car spacing"),
    "demand": ("share", "Cars arriving, of those expected"),
    "highest_temp_c": ("temperature", "Highest temperature"),
}


def _edge(value: float, axis: Axis, system: str) -> float:
    return round(shown(value, _KINDS[axis.name][0], system), 9)


def _place(plane: Map, place: tuple[float, float], system: str) -> tuple[float, float]:
    return _edge(place[0], plane.x, system), _edge(place[1], plane.y, system)


def _ruler(axis: Axis, system: str) -> Ruler:
    kind, label = _KINDS[axis.name]
    title = _("{label}, {unit}", label=_(label), unit=UNITS[kind].symbol(system))
    values = tuple(_edge(value, axis, system) for value in axis.values)
    if kind not in ("speed", "length"):
        return Ruler(title, values)
    return Ruler(title, values, *(_edge(end, axis, system) for end in (axis.low, axis.high)))


def _charts(
    levels: MapLevels, which: Literal["settings", "weather"], spots: Sequence[Spot], system: str
) -> tuple[Chart, ...]:
    found = levels.found
    plane = found.settings if which == "settings" else found.weather
    x, y = _ruler(plane.x, system), _ruler(plane.y, system)
    if len(x.values) < 2 or len(y.values) < 2:
        return ()
    points = {(point.x, point.y): point for point in plane.grid}
    rows = [[points.get((i, j)) for i in plane.x.values] for j in plane.y.values]
    lines = {
        name: [
            (*_place(plane, (x0, y0), system), *_place(plane, (x1, y1), system))
            for x0, y0, x1, y1 in stretches
        ]
        for name, stretches in plane.boundaries.items()
    }

    corner = _("{down} by {across}", down=y.title, across=x.title)
    heads = (corner, *map(_plain, x.values))

    def chart(name: str, title: str, says: str, seen: Seen) -> Chart:
        label = _("Map of {title}; every value of its grid is in the table below.", title=title)
        svg = map_picture(label, x, y, seen, lines.get(name, lines[ALL]), spots)
        table = tuple(
            (_plain(value), *(cell or "–" for cell in row))
            for value, row in zip(y.values, seen.texts, strict=True)
        )
        return Chart(f"{which}-{name}", title, says, svg, heads, table, key=seen.key)

    charts = [chart(LIMITS_KEY, _("Which limits hold"), *_limits_map(rows))]
    for name in found.present.figures:
        is_setting = which == "settings"
        more = [
            [None if one is None else levels.apart(one, name, is_setting=is_setting) for one in row]
            for row in rows
        ]
        says = _says(levels, plane, name, system)
        seen = _shaded(name, more, levels.step(name))
        charts.append(chart(name, _title(name, system), says, seen))
    return tuple(charts)


def _title(name: str, system: str) -> str:
    if name == "cars_lost":
        return _("Cars lost a day, more or fewer")
    info = FIGURES[name]
    unit = _("cars in 100") if name == "left_damp_share" else UNITS[info.unit].symbol(system)
    return _("{label}, {unit} more or less", label=_(info.label), unit=unit)


# ---- what is seen --------------------------------------------------------------------------------


def _limits_map(rows: Sequence[Sequence[MapPoint | None]]) -> tuple[str, Seen]:
    """How many limits hold at each point, and which, after what is said of it."""
    missed = [
        [None if one is None else [name for name in SHORT if not one.keeps[name]] for one in row]
        for row in rows
    ]
    shade = (0, 2, 3, 5)
    counts = [len(names) for row in missed for names in row if names is not None]
    words = (_("all hold"), _("two hold"), _("one holds"), _("none holds"))
    named = _("Named is what holds: damp cars, the wait, lost cars.")
    if 0 not in counts:
        says = _("At no point do all three hold.") + " " + named
    elif not any(counts):
        says = _("All three hold everywhere.")
    else:
        says = _("The line bounds where all three hold.") + " " + named
    return says, Seen(
        tuple(tuple(None if m is None else shade[len(m)] for m in row) for row in missed),
        tuple(tuple("" if m is None else _held_words(m) for m in row) for row in missed),
        tuple(_shade_key(shade[n], words[n]) for n in range(len(words)) if n in counts),
    )


def _held_words(missed: Sequence[str]) -> str:
    if not missed:
        return _("all hold")
    return ", ".join(_(SHORT[name]) for name in SHORT if name not in missed) or _("none")


def _says(levels: MapLevels, plane: Map, name: str, system: str) -> str:
    """Beside what it is more or less, what the best setting does, and what is allowed."""
    found, now = levels.found, levels.now_words(name)
    is_weather, better = plane is found.weather, found.better
    if is_weather:
        parts = [_("Than expected: {value}.", value=now) if now else _("Than expected.")]
    else:
        parts = [_("Than now: {value}.", value=now) if now else _("Than now.")]
    if better is not None and not is_weather:
        parts.append(_("At the best setting {more}.", more=levels.apart_words(better, name)))
    if name in found.allowed:
        limit = amount(found.allowed[name], FIGURES[name].unit, system)
        sentence = "The line: {limit}, the most you allow, with every guess at its middle."
        parts.append(_(sentence, limit=limit))
    elif plane.boundaries[ALL]:
        parts.append(_("The line bounds where all three limits hold."))
    return " ".join(parts)


# ---- shades --------------------------------------------------------------------------------------


def _shade_key(shade: int, words: str) -> Key:
    box = marks.stroke(f"m{shade + 1}", "M-9.5-5.5h19v11h-19z")
    return Key(marks.swatch(box, wide=20), words)


def _shaded(name: str, more: Grid, step: float) -> Seen:
    """By how much a figure is more than now, its shades in at most `SHADES` round steps."""
    texts = tuple(tuple(more_words(name, value, step) for value in row) for row in more)
    flat = [v for row in more for v in row if v is not None]
    if not flat:
        return Seen(tuple((None,) * len(row) for row in more), texts, ())
    low, wide, count = round_steps(min(flat), max(flat))
    spread = [round(i * (SHADES - 1) / max(1, count - 1)) for i in range(count)]
    finest = 10.0 ** math.floor(math.log10(wide) + 1e-9)
    if not math.isclose(wide / finest, round(wide / finest)):
        finest /= 10.0  # 2.5 has a decimal
    ends = [more_words(name, low + i * wide, finest) for i in range(count + 1)]

    def shade(value: float | None) -> int | None:
        return None if value is None else spread[min(count - 1, int((value - low) / wide + 1e-9))]

    key = tuple(
        _shade_key(spread[i], _("{low} to {high}", low=ends[i], high=ends[i + 1]))
        for i in range(count)
    )
    return Seen(tuple(tuple(map(shade, row)) for row in more), texts, key)


def round_steps(low: float, high: float) -> tuple[float, float, int]:
    """Start, width and number of at most `SHADES` round steps that cover a range."""
    if not high > low:
        width = 10.0 ** math.floor(math.log10(abs(low))) if low else 1.0
        return math.floor(low / width) * width, width, 1
    power = math.floor(math.log10(high - low)) - 1
    while True:
        for part in (1.0, 2.0, 2.5, 5.0):
            step = part * 10.0**power
            start = math.floor(low / step + 1e-9)
            count = max(1, math.ceil(high / step - 1e-9) - start)
            if count <= SHADES:
                return start * step, step, count
        power += 1


# ---- the picture ---------------------------------------------------------------------------------


def map_picture(
    label: str,
    x: Ruler,
    y: Ruler,
    seen: Seen,
    lines: Sequence[Stretch],
    spots: Sequence[Spot],
) -> Markup:
    """A map; of the words of its cells some are printed."""
    shades, texts = seen.shades, seen.texts
    across, down = Scale(*x.domain, LEFT, 100.0), Scale(*y.domain, FLOOR, TOP)
    bound = marks.line_of(
        place
        for x0, y0, x1, y1 in lines
        for place in ((across(x0), down(y0)), (across(x1), down(y1)), None)
    )
    columns, rows = [across(edge) for edge in x.edges], [down(edge) for edge in y.edges]
    boxes = list(_runs(shades, columns, rows))
    shaded = [
        (f"m{n + 1}", "".join(marks.box_of(box) for shade, box in boxes if shade == n))
        for n in range(SHADES)
    ]
    hatch = marks.hatch_of(_unusable(shades, columns, rows))
    at = {spot: (across(spot.x), down(spot.y)) for spot in spots}
    longest = max(len(text) for row in texts for text in row)
    printed = (
        marks.words(texts[j][i], (place[0], place[1] + 4.5), "say halo", "middle")
        for j in _picked(len(y.values), TEXTS_DOWN)
        for i in _picked(len(x.values), 3 if longest > SHORT_WORDS else 4)
        for place in [(across(x.values[i]), down(y.values[j]))]
        if shades[j][i] is not None and not any(_touch(place, other) for other in at.values())
    )
    return marks.picture(
        label,
        FLOOR + 38.0,
        marks.stretched(FLOOR, *shaded, ("hatch", hatch), ("bound under", bound), ("bound", bound)),
        _axes(x, y, across, down),
        *printed,
        *(_named(spot, at) for spot in spots),
    )


def _runs(
    shades: Shades, columns: Sequence[float], rows: Sequence[float]
) -> Iterator[tuple[int, Box]]:
    """Neighbours of one shade in a row, as one box."""
    for j, row in enumerate(shades):
        start = 0
        for shade, same in itertools.groupby(row):
            end = start + len(list(same))
            if shade is not None:
                yield shade, (columns[start], columns[end], rows[j + 1], rows[j])
            start = end


def _unusable(shades: Shades, columns: Sequence[float], rows: Sequence[float]) -> Iterator[Box]:
    """What may not be used, around the rest, and rows of which nothing could be simulated."""
    left, right, top, foot = columns[0], columns[-1], rows[-1], rows[0]
    aside = (LEFT, left, TOP, FLOOR), (right, 100.0, TOP, FLOOR)
    beyond = (left, right, foot, FLOOR), (left, right, TOP, top)
    for box in (*aside, *beyond):
        if box[1] - box[0] > 0.01 and box[3] - box[2] > 0.01:
            yield box
    for j, row in enumerate(shades):
        if all(shade is None for shade in row):
            yield left, right, rows[j + 1], rows[j]


def _axes(x: Ruler, y: Ruler, across: Scale, down: Scale) -> Markup:
    drawn = [marks.upright("axis", LEFT, TOP, FLOOR)]
    for value, text in zip(map(down, y.ticks), marks.said(y.ticks), strict=True):
        drawn.append(marks.point((LEFT, value), marks.stroke("axis", "M-4 0h4")))
        drawn.append(marks.words(text, (LEFT, value + 4.5), "", "end", -7.0))
    along = list(zip(map(across, x.ticks), marks.said(x.ticks), strict=True))
    middle = ((LEFT + 100.0) / 2.0, FLOOR + 36.0)
    drawn.append(marks.words(y.title, (0.0, TOP - 11.0)))
    drawn.append(marks.floor(FLOOR, along, LEFT))
    return Markup("").join([*drawn, marks.words(x.title, middle, "", "middle")])


def _named(spot: Spot, at: Mapping[Spot, Place]) -> Markup:
    """A mark with its name right of it, or left near the right edge; the best one's above and the
    other's below where both share a place."""
    place = at[spot]
    is_left = place[0] > 75.0
    is_crowded = any(_touch(place, other, 40.0, 40.0) for one, other in at.items() if one != spot)
    lower = (-11.0 if spot.is_best else 11.0) if is_crowded else 0.0
    anchor, aside = ("end", -13.0) if is_left else ("start", 13.0)
    at_name = (place[0], place[1] + 4.5 + lower)
    drawn = marks.point(place, DIAMOND if spot.is_best else RING)
    return drawn + marks.words(spot.name, at_name, "strong halo", anchor, aside)


def _touch(one: Place, other: Place, wide: float = 75.0, high: float = 26.0) -> bool:
    """Whether two places are nearer than words are wide and high [px], on the narrowest map."""
    return abs(one[0] - other[0]) * NARROW_PX / 100.0 < wide and abs(one[1] - other[1]) < high


def _picked(count: int, most: int) -> list[int]:
    """At most so many places of `count`, evenly apart and away from both ends."""
    taken = min(count, most)
    return [math.floor((k + 0.5) * count / taken) for k in range(taken)]


def _plain(value: float) -> str:
    text = plain_number(value, 2)
    return text.rstrip("0").rstrip(".") if "." in text else text
