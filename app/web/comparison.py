"""A comparison of scenarios as the table that a page draws: a row a figure, a column a scenario."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from app.catalogue import _
from app.web.answer import NO_MATTER, Spoken, answer_sentences, best_column, value_of
from app.web.figures import interval, range_step, shown, signed, step_of, stepped
from sim.units import MINUS, NBSP, UNITS

__all__ = [
    "MAIN_FIGURES",
    "Spoken",
    "Table",
    "answer_sentences",
    "comparison_csv",
    "comparison_table",
    "hourly_csv",
]

MAIN_FIGURES = (
    "cars_washed",
    "cars_lost",
    "cars_per_hour",
    "wait_p95_s",
    "damp_share",
    "full_share",
    "saturation_max",
    "wear_cars",
    "margin",
)
"""Figures of the table on top; the rest stands under “All figures”."""

Comparison = Mapping[str, Any]


class FigureInfo(Protocol):
    """What is needed of a row of the table of figures."""

    @property
    def name(self) -> str:
        """Name of the figure in the comparison."""

    @property
    def label(self) -> str:
        """What the row is called."""

    @property
    def note(self) -> str:
        """A few words below the label; may be empty."""

    @property
    def unit(self) -> str:
        """Kind of unit of the stored value, see `sim.units`."""

    @property
    def group(self) -> str:
        """Heading it belongs to."""

    @property
    def origin(self) -> str:
        """Where the figure comes from and what moves it."""


Figures = Mapping[str, FigureInfo]


@dataclass(frozen=True, slots=True)
class Head:
    """Head of a column; `number` 1 to 6 chooses colour, dash and marker."""

    number: int
    name: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure of a scenario, all as shown text.

    Attributes:
        days: what single days do; empty where there is nothing to say.
        difference: to the first column, with its sign; empty in the first.
        word: plain word on the difference.
        plain: the word is no reason to act.
        chosen: the cell stands in the advised column.
    """

    value: str
    days: str
    difference: str = ""
    word: str = ""
    plain: bool = True
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A figure with a cell a scenario.

    Attributes:
        beside: unit and note, the small line below the label.
        explanation: where the figure comes from and what moves it.
        error: run error of each column in words, for the explanation.
    """

    name: str
    label: str
    beside: str
    explanation: str
    error: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The table of a plan.

    Attributes:
        groups: the figures that decide.
        others: all other figures.
        many: more columns than a narrow screen can show side by side.
        days: how many days were simulated.
    """

    heads: tuple[Head, ...]
    groups: tuple[Group, ...]
    others: tuple[Group, ...]
    many: bool
    days: int


def comparison_table(comparison: Comparison, figures: Figures, system: str) -> Table:
    """The table of a comparison in the reader's units ("si" or "us")."""
    columns = comparison["scenarios"]
    best = best_column(comparison) if len(columns) > 1 else -1
    heads = tuple(
        Head(i + 1, str(column["name"]), _label(column), i == best)
        for i, column in enumerate(columns)
    )
    days = int(comparison["replications"])
    known = [name for name in figures if name in columns[0]["figures"]]
    main = [name for name in MAIN_FIGURES if name in known]
    rest = [name for name in known if name not in main]

    def groups(names: Sequence[str]) -> tuple[Group, ...]:
        titles = dict.fromkeys(_title(figures[name].group) for name in names)
        return tuple(
            Group(
                title,
                tuple(
                    _row(figures[name], columns, system, best, days)
                    for name in names
                    if _title(figures[name].group) == title
                ),
            )
            for title in titles
        )

    return Table(heads, groups(main), groups(rest), len(columns) > 3, days)


def _title(group: str) -> str:
    titles = {
        "line": _("Line"),
        "cloth": _("Cloth"),
        "people": _("People"),
        "staff": _("People"),
        "money": _("Money"),
    }
    return titles.get(group.lower(), _(group))


def _label(column: Mapping[str, Any]) -> str:
    """The small line below a column's name: its rule, if the name does not say it already."""
    label, name = str(column["label"]), str(column["name"])
    return "" if label.casefold() == name.casefold() else label


_SELF_EXPLAINING = ("cars", "people", "number")


def _beside(info: FigureInfo, system: str) -> str:
    symbol = _(UNITS[info.unit].symbol(system))
    if info.unit in _SELF_EXPLAINING:
        symbol = ""
    note = _(info.note) if info.note else ""
    if symbol == "%" and note.startswith(_("of ")):
        return f"% {note}"
    return ", ".join(part for part in (symbol, note) if part)


def _row(
    info: FigureInfo, columns: Sequence[Mapping[str, Any]], system: str, best: int, days: int
) -> Row:
    halves = [_half_width(column["figures"][info.name], info.unit, system) for column in columns]
    steps = [step_of(half, info.unit) for half in halves]
    # A figure without error of its own (cars wiped in full by rule) is printed like its row.
    coarse = max((s for s, half in zip(steps, halves, strict=True) if half), default=None)
    cells = tuple(
        _cell(info, column, system, step if half or coarse is None else coarse, i == best, days)
        for i, (column, step, half) in enumerate(zip(columns, steps, halves, strict=True))
    )
    said = [
        f"{column['name']} ±{NBSP}{stepped(half, _error_step(half))}"
        for column, half in zip(columns, halves, strict=True)
        if half
    ]
    error = (
        _(
            "Error of the simulation itself, over {days} days: {list}.",
            days=days,
            list="; ".join(said),
        )
        if said
        else ""
    )
    return Row(
        info.name,
        _(info.label),
        _beside(info, system),
        _(info.origin) if info.origin else "",
        error,
        cells,
    )


def _error_step(half: float) -> float:
    return min(1.0, step_of(half, "") or 1.0)


def _half_width(figure: Mapping[str, Any], unit: str, system: str) -> float:
    ends = interval(figure, "run error")
    if ends is None:
        return 0.0
    return abs(shown(ends[1] - ends[0], unit, system, difference=True)) / 2.0


def _cell(
    info: FigureInfo,
    column: Mapping[str, Any],
    system: str,
    step: float,
    chosen: bool,
    days: int,
) -> Cell:
    figure = column["figures"][info.name]
    value = value_of(column, info.name)
    if value is None:
        return Cell("–", _("no car to say it of"), chosen=chosen)
    text = stepped(shown(value, info.unit, system), step)
    ranged = _days(info, figure, value, system, days)
    difference = (column["differences"] or {}).get(info.name)
    if difference is None or difference["value"] is None:
        return Cell(text, ranged, chosen=chosen)
    moved = shown(float(difference["value"]), info.unit, system, difference=True)
    # Columns share their days, so a difference is known better than the figures themselves;
    # it may show one digit more than they do, not more.
    half = _half_width(difference, info.unit, system)
    fine = min(step, max(step_of(half, info.unit), step / 10.0)) if half else step
    word = str(difference["word"])
    return Cell(
        text,
        ranged,
        signed(moved, fine),
        _(word).replace("'", "’"),
        word in NO_MATTER,
        chosen,
    )


def _days(info: FigureInfo, figure: Mapping[str, Any], value: float, system: str, days: int) -> str:
    """What single days do, in words where a range would say nothing."""
    seldom = figure.get("fewer_than_one_in_days")
    if seldom and figure.get("event_days") == 0:
        return _("none in {days} days", days=days)
    if seldom:
        return _("on fewer than 1 day in {days}", days=seldom)
    ends = interval(figure, "day range")
    if ends is None:
        return ""
    low, high = (shown(end, info.unit, system) for end in ends)
    if ends[0] == ends[1] == value:
        if info.name == "full_share":
            return _("by rule")
        if value == 0:
            return _("none in {days} days", days=days)
        return _("the same every day")
    step = range_step(low, high, info.unit)
    first, last = stepped(low, step), stepped(high, step)
    if first == last:
        return _("days about {value}", value=first)
    dash = f"{NBSP}to{NBSP}" if first.startswith(MINUS) or last.startswith(MINUS) else "–"
    return _("days {range}", range=f"{first}{dash}{last}")


# ---- the same as files -------------------------------------------------------------------------


def comparison_csv(comparison: Comparison, figures: Figures, system: str) -> str:
    """Every figure of every scenario, unrounded, in the reader's units: a row each."""
    out = io.StringIO()
    write = csv.writer(out).writerow
    write(
        [
            "figure",
            "unit",
            "scenario",
            "value",
            "day range low",
            "day range high",
            "run error low",
            "run error high",
            "difference to first",
            "days better",
            "word",
        ]
    )
    for name, info in figures.items():
        for column in comparison["scenarios"]:
            figure = column["figures"].get(name)
            if figure is None:
                continue
            other = (column["differences"] or {}).get(name) or {}
            ends = [end for kind in ("day range", "run error") for end in _ends(figure, kind)]
            moved = other.get("value")
            write(
                [
                    _safe(info.label),
                    UNITS[info.unit].symbol(system),
                    _safe(column["name"]),
                    *(_plain(x, info.unit, system) for x in (value_of(column, name), *ends)),
                    _plain(moved, info.unit, system, difference=True),
                    _share(other.get("days_better")),
                    other.get("word", ""),
                ]
            )
    return out.getvalue()


def hourly_csv(comparison: Comparison) -> str:
    """The figures by hour, in stored (SI) units: a row an hour and scenario."""
    out = io.StringIO()
    write = csv.writer(out).writerow
    names = list(
        dict.fromkeys(name for column in comparison["scenarios"] for name in column["hours"])
    )
    write(["scenario", "hour", *names])
    for column in comparison["scenarios"]:
        for hour in range(24):
            values = [column["hours"].get(name, [None] * 24)[hour] for name in names]
            cells = ["" if v is None else f"{v:.6g}" for v in values]
            write([_safe(column["name"]), hour, *cells])
    return out.getvalue()


def _ends(figure: Mapping[str, Any], kind: str) -> tuple[float | None, float | None]:
    return interval(figure, kind) or (None, None)


def _plain(value: float | None, unit: str, system: str, difference: bool = False) -> str:
    return "" if value is None else f"{shown(value, unit, system, difference):.6g}"


def _share(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def _safe(text: object) -> str:
    """A text cell that no spreadsheet takes for a formula."""
    said = str(text)
    return f"'{said}" if said[:1] in ("=", "+", "-", "@", "\t", "\r") else said
