"""The maps of a day as charts: a map of the limits, a map a figure, and the grids beside them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from app.catalogue import _
from app.charts.heat import SHADES, Heat, Ruler, Spot, heat_picture
from app.words.figures import finest_of, plain_number, shown, stepped
from sim.day.figures import FIGURES
from sim.units import NBSP, UNITS

Map = Mapping[str, Any]
LIMITS_KEY = "limits"
SHORT = {"damp_share": "damp", "wait_p90_s": "wait", "cars_lost": "lost"}
"""What is printed on the map of limits where one is missed."""


@dataclass(frozen=True, slots=True)
class Shade:
    """A step of a map's key: number of its shade from 1, and its words."""

    number: int
    words: str


@dataclass(frozen=True, slots=True)
class MapChart:
    """A map with everything that stands around it.

    Attributes:
        key: short name, unique on the page.
        says: the line under the title: the figure now, at the best setting, and what is allowed.
        shades: the key, from little to much.
        heads: values of the first axis; rows: of the second, with the words of each cell.
        corner: what the heads and the rows' first column are.
    """

    key: str
    title: str
    says: str
    label: str
    svg: Markup
    shades: tuple[Shade, ...]
    corner: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def figure_words(name: str, value: float | None, system: str, with_unit: bool = True) -> str:
    """A figure as maps print it."""
    if value is None:
        return "–"
    kind = FIGURES[name].unit
    seen = shown(value, kind, system)
    step = 1.0 if kind == "minutes_from_s" and seen >= 10 else finest_of(kind, seen)
    said = stepped(seen, step)
    unit = UNITS[kind].symbol(system)
    if unit == "$":
        return f"${said}"
    return f"{said}{NBSP}{unit}" if with_unit and unit else said


def settings_charts(found: Map, system: str) -> tuple[MapChart, ...]:
    """Maps of speed and spacing: which limits hold, then a map a figure."""
    spots = [Spot(*_place(found["settings"], found["present"], system), _("now"))]
    if found["best"] is not None and not found["stays"]:
        spots.append(Spot(*_place(found["settings"], found["best"], system), _("best"), True))
    return _charts(found, "settings", tuple(spots), system)


def weather_charts(found: Map, system: str) -> tuple[MapChart, ...]:
    """Maps of demand and temperature at the present setting."""
    plane = found["weather"]
    x = _edge(1.0, plane["x"], system)
    y = _edge(found["expected"]["highest_temp_c"], plane["y"], system)
    return _charts(found, "weather", (Spot(x, y, _("expected")),), system)


_KINDS = {
    "conveyor_speed_m_s": ("speed", "Conveyor speed"),
    "car_spacing_m": ("length", "Car spacing"),
    "demand": ("share", "Cars arriving, of those expected"),
    "highest_temp_c": ("temperature", "Highest temperature"),
}


def _edge(value: float, axis: Mapping[str, Any], system: str) -> float:
    return round(shown(value, _KINDS[axis["name"]][0], system), 9)


def _place(plane: Mapping[str, Any], point: Map, system: str) -> tuple[float, float]:
    return _edge(point["x"], plane["x"], system), _edge(point["y"], plane["y"], system)


def _ruler(axis: Mapping[str, Any], system: str) -> Ruler:
    kind, label = _KINDS[axis["name"]]
    is_equipment = kind in ("speed", "length")

    def bound(value: float | None) -> float | None:
        return None if value is None or not is_equipment else _edge(value, axis, system)

    return Ruler(
        _("{label}, {unit}", label=_(label), unit=UNITS[kind].symbol(system)),
        tuple(_edge(value, axis, system) for value in axis["values"]),
        bound(axis["low"]),
        bound(axis["high"]),
    )


@dataclass(frozen=True, slots=True)
class _Grid:
    """Rows of a stored map by grid place: `cells[j][i]`, None where nothing was simulated."""

    columns: dict[str, int]
    cells: tuple[tuple[Sequence[Any] | None, ...], ...]

    def figure(self, name: str) -> tuple[tuple[float | None, ...], ...]:
        """A figure's values."""
        at = self.columns[name]
        return tuple(tuple(None if c is None else c[at] for c in row) for row in self.cells)


def _grid(plane: Mapping[str, Any]) -> _Grid:
    rows = {(row[0], row[1]): row for row in plane["points"] if row[2]}
    cells = tuple(
        tuple(rows.get((x, y)) for x in plane["x"]["values"]) for y in plane["y"]["values"]
    )
    return _Grid({name: i for i, name in enumerate(plane["columns"])}, cells)


def _charts(found: Map, which: str, spots: tuple[Spot, ...], system: str) -> tuple[MapChart, ...]:
    plane = found[which]
    x, y = _ruler(plane["x"], system), _ruler(plane["y"], system)
    if len(x.values) < 2 or len(y.values) < 2:
        return ()
    grid = _grid(plane)
    kept = _LimitsMap(grid)
    lines = {name: _lines(plane, name, system) for name in plane["boundaries"]}
    all_lines = lines["all"]
    charts = [
        _chart(
            which, LIMITS_KEY, _("Which limits hold"), _says_limits(kept), x, y, kept.shades,
            kept.texts, all_lines, spots, kept.key,
        )
    ]  # fmt: skip
    for name in _figures(plane):
        values = grid.figure(name)
        shades, key = _shades(name, values, system)
        texts = tuple(
            tuple(figure_words(name, value, system, with_unit=False) for value in row)
            for row in values
        )
        charts.append(
            _chart(
                which, name, _title(name, system), _says(found, which, name, system), x, y,
                shades, texts, lines.get(name, all_lines), spots, key,
            )
        )  # fmt: skip
    return tuple(charts)


def _figures(plane: Mapping[str, Any]) -> list[str]:
    return [name for name in plane["columns"] if name in FIGURES]


def _title(name: str, system: str) -> str:
    info = FIGURES[name]
    note = {"damp_share": _("% of cars washed")}.get(name, UNITS[info.unit].symbol(system))
    if name == "cars_lost":
        return _("Cars lost a day")
    return _("{label}, {unit}", label=_(info.label), unit=note)


def _lines(
    plane: Mapping[str, Any], name: str, system: str
) -> tuple[tuple[float, float, float, float], ...]:
    x, y = plane["x"], plane["y"]
    return tuple(
        (
            _edge(x0, x, system),
            _edge(y0, y, system),
            _edge(x1, x, system),
            _edge(y1, y, system),
        )
        for x0, y0, x1, y1 in plane["boundaries"][name]
    )


class _LimitsMap:
    """How many limits each point misses, and which."""

    def __init__(self, grid: _Grid) -> None:
        names = [name for name in SHORT if f"keeps_{name}" in grid.columns]
        at = {name: grid.columns[f"keeps_{name}"] for name in names}
        missed = tuple(
            tuple(None if c is None else [n for n in names if not c[at[n]]] for c in row)
            for row in grid.cells
        )
        shade = (0, 2, 3, 5)
        self.shades = tuple(
            tuple(None if m is None else shade[len(m)] for m in row) for row in missed
        )
        self.texts = tuple(
            tuple("" if m is None else _missed_words(m) for m in row) for row in missed
        )
        counts = [len(m) for row in missed for m in row if m is not None]
        self.kept, self.count = counts.count(0), len(counts)
        words = (_("all hold"), _("one missed"), _("two missed"), _("all three missed"))
        self.key = tuple(Shade(shade[n] + 1, words[n]) for n in range(len(words)) if n in counts)


def _missed_words(missed: Sequence[str]) -> str:
    if not missed:
        return _("all hold")
    if len(missed) == len(SHORT):
        return _("none")
    return ", ".join(_(SHORT[name]) for name in missed)


def _says_limits(kept: _LimitsMap) -> str:
    words = _("Named where it is missed: damp cars, lost cars, the wait; “none” where none holds.")
    if not kept.kept:
        return _("At no point do all three hold.") + " " + words
    if kept.kept == kept.count:
        return _("All three hold everywhere.")
    return _("The line bounds where all three hold.") + " " + words


def _says(found: Map, which: str, name: str, system: str) -> str:
    allowed = {one["figure"]: one["allowed"] for one in found["limits"]}
    parts = [_("Now {value}.", value=figure_words(name, found["present"]["figures"][name], system))]
    if which == "weather":
        parts = [
            _(
                "As expected {value}.",
                value=figure_words(name, found["present"]["figures"][name], system),
            )
        ]
    elif found["best"] is not None and not found["stays"]:
        best = figure_words(name, found["best"]["figures"][name], system)
        parts.append(_("At the best setting {value}.", value=best))
    if name in allowed:
        limit = figure_words(name, allowed[name], system)
        parts.append(_("The line: {limit}, the most you allow.", limit=limit))
    elif found[which]["boundaries"]["all"]:
        parts.append(_("The line bounds where all three limits hold."))
    return " ".join(parts)


def _shades(
    name: str, values: Sequence[Sequence[float | None]], system: str
) -> tuple[tuple[tuple[int | None, ...], ...], tuple[Shade, ...]]:
    """Shades of a figure in at most `SHADES` round steps, and their key."""
    kind = FIGURES[name].unit
    seen = [[None if v is None else shown(v, kind, system) for v in row] for row in values]
    flat = [v for row in seen for v in row if v is not None]
    if not flat:
        return tuple(tuple(None for _v in row) for row in seen), ()
    low, step, count = round_steps(min(flat), max(flat))
    shades = tuple(
        tuple(None if v is None else min(count - 1, int((v - low) / step + 1e-9)) for v in row)
        for row in seen
    )
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    spread = [round(i * (SHADES - 1) / max(1, count - 1)) for i in range(count)]
    key = tuple(
        Shade(
            spread[i] + 1,
            f"{plain_number(low + i * step, decimals)}–"
            f"{plain_number(low + (i + 1) * step, decimals)}",
        )
        for i in range(count)
    )
    return tuple(tuple(None if s is None else spread[s] for s in row) for row in shades), key


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


def _chart(
    which: str,
    key: str,
    title: str,
    says: str,
    x: Ruler,
    y: Ruler,
    shades: tuple[tuple[int | None, ...], ...],
    texts: tuple[tuple[str, ...], ...],
    lines: tuple[tuple[float, float, float, float], ...],
    spots: tuple[Spot, ...],
    key_rows: tuple[Shade, ...],
) -> MapChart:
    label = _("Map of {title}; every value of its grid is in the table below.", title=title)
    svg = Markup(  # noqa: S704  our own rendering, stripped of all but shapes and text
        heat_picture(Heat(x, y, shades, texts, lines, spots), label)
    )
    return MapChart(
        f"{which}-{key}",
        title,
        says,
        label,
        svg,
        key_rows,
        _("{down} by {across}", down=y.title, across=x.title),
        tuple(_plain(value) for value in x.values),
        tuple(
            (_plain(value), tuple(cell or "–" for cell in row))
            for value, row in zip(y.values, texts, strict=True)
        ),
    )


def _plain(value: float) -> str:
    text = plain_number(value, 2)
    return text.rstrip("0").rstrip(".") if "." in text else text
