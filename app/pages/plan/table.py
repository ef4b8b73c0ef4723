"""A comparison of scenarios as a table and as CSV: a row a figure, a column a scenario."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.files.csv_table import table_csv
from app.sites.rule_forms import parts_of
from app.words.figures import FigureCell, cells_of, half_width
from app.words.numbers import amount, shown, step_of, stepped, whole
from sim.day.figures import FIGURES, PARTS, FigureInfo
from sim.decide.answer import Column, Comparison, Range
from sim.inputs import INPUTS, Value
from sim.units import NBSP, UNITS, show_clock

MAIN_FIGURES = (
    "cars_washed",
    "cars_lost",
    "wait_p90_s",
    "left_damp_share",
    "full_share",
    "saturation_max",
    "margin",
)
"""The seven figures of the table on top; the rest stands under “All other figures”."""


@dataclass(frozen=True, slots=True)
class Head:
    """Head of a column; `number` 1 to 6 chooses colour, dash and marker."""

    number: int
    name: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure with a cell a scenario.

    Attributes:
        beside: unit and note, the small line below the label.
        error: run error of each column in words, for the explanation.
    """

    info: FigureInfo
    beside: str
    error: str
    cells: tuple[FigureCell, ...]


@dataclass(frozen=True, slots=True)
class FigureGroup:
    """Rows under one heading."""

    title: str
    rows: tuple[FigureRow, ...]


@dataclass(frozen=True, slots=True)
class ComparisonTable:
    """The table of a plan.

    Attributes:
        groups: the figures that decide.
        others: all other figures.
        parts: the items that margin and cost are made of, and their sums.
        days, sites: of the `Comparison`.
    """

    heads: tuple[Head, ...]
    groups: tuple[FigureGroup, ...]
    others: tuple[FigureGroup, ...]
    parts: tuple[FigureGroup, ...]
    days: int
    sites: int

    @property
    def span(self) -> int:
        """Columns of the table, that of the figures' names included."""
        return len(self.heads) + 1

    @property
    def many(self) -> bool:
        """More columns than a narrow screen can show side by side."""
        return len(self.heads) > 3

    @property
    def few(self) -> bool:
        """One or two scenarios, which a narrow screen shows in two columns."""
        return len(self.heads) < 3

    @property
    def every(self) -> tuple[FigureGroup, ...]:
        """All groups, those that decide first."""
        items = tuple(group for group in self.parts if group.title == _(PARTS))
        return self.groups + self.others + items


def comparison_table(
    comparison: Comparison, system: str, advised: int | None = None
) -> ComparisonTable:
    """The table of a comparison in the reader's units ("si" or "us"); the `advised` column is
    marked, else the one that `Comparison.best` advises."""
    columns = comparison.columns
    best = comparison.best if advised is None else advised
    heads = tuple(
        Head(i + 1, column.name, _label(column, system), i == best and len(columns) > 1)
        for i, column in enumerate(columns)
    )
    known = [name for name in FIGURES if name in columns[0].figures]
    main = [name for name in MAIN_FIGURES if name in known]
    parts = [name for name in known if FIGURES[name].group == PARTS]
    rest = [name for name in known if name not in main and name not in parts]
    sums = [name for name in ("cost", "margin") if parts and name in known]

    def groups(names: Sequence[str]) -> tuple[FigureGroup, ...]:
        rows = [_row(FIGURES[name], comparison, system) for name in names]
        return tuple(
            FigureGroup(_(title), tuple(row for row in rows if row.info.group == title))
            for title in dict.fromkeys(row.info.group for row in rows)
        )

    made_of, days, sites = groups([*parts, *sums]), comparison.days, comparison.sites
    return ComparisonTable(heads, groups(main), groups(rest), made_of, days, sites)


def _label(column: Column, system: str) -> str:
    """The small line below a column's name: its rule, and what differs from the site."""
    label = _(column.label)
    if label.casefold() == column.name.casefold():
        plain = {
            "full": _("every car wiped in full"),
            "reduced": _("hood and windshield only"),
            "clock": _("full before and after"),
        }
        label = plain.get(parts_of(column.scenario.rule).kind, "")
    changes = column.scenario.changes.items()
    return "; ".join(filter(None, [label, *(_changed(key, v, system) for key, v in changes)]))


def _changed(name: str, value: Value, system: str) -> str:
    """An input that a scenario changes, in words."""
    row = INPUTS[name]
    label, kind = _(row.label), row.unit.kind
    if row.is_open(value):
        return f"{label}: {_(row.follows)}"
    if row.kind in ("choice", "words", "address"):
        return f"{label}: {_(dict(row.choices).get(str(value), str(value)))}"
    if isinstance(value, bool):
        return f"{label}: {_('yes') if value else _('no')}"
    if isinstance(value, int | float):
        return f"{label} {amount(value, kind, system, 4)}"
    steps = [step for step in value if isinstance(step, tuple)]
    if row.kind != "steps" or not steps:
        return label
    said = [(start, amount(number, kind, system, 4)) for start, number in steps]
    cells = [f"{show_clock(start)}{NBSP}{text}" if start else text for start, text in said]
    return f"{label} {', '.join(cells)}"


_SELF_EXPLAINING = ("cars", "people", "number")


def _beside(info: FigureInfo, system: str) -> str:
    symbol = "" if info.unit in _SELF_EXPLAINING else _(UNITS[info.unit].symbol(system))
    note = _(info.note) if info.note else ""
    if symbol == "$":
        return note
    if symbol == "%" and note.startswith(_("of ")):
        return f"% {note}"
    return ", ".join(filter(None, (symbol, note)))


def _row(info: FigureInfo, comparison: Comparison, system: str) -> FigureRow:
    cells = cells_of(info, comparison, system)
    return FigureRow(info, _beside(info, system), _error(info, comparison, system), cells)


def _error(info: FigureInfo, comparison: Comparison, system: str) -> str:
    """The run error of each column in words."""
    said = []
    for column in comparison.columns:
        half = half_width(column.figures[info.name].run_error, info.unit, system)
        if half:
            step = min(1.0, step_of(half, "") or 1.0)
            said.append(f"{column.name} ±{NBSP}{stepped(half, step)}")
    if not said:
        return ""
    sentence = "Error of the simulation itself, over {days} days: {list}."
    if comparison.sites:
        sentence = (
            "Error of the simulation itself, over {days} days at {sites} drawn sites: {list}."
        )
    days, listed = whole(comparison.days), "; ".join(said)
    return _(sentence, days=days, sites=comparison.sites, list=listed)


# ---- files ---------------------------------------------------------------------------------------

FILE_HEADS = (
    "figure", "unit", "scenario", "value", "day range low", "day range high",
    "site uncertainty low", "site uncertainty high", "run error low", "run error high",
    "difference to first", "difference site uncertainty low", "difference site uncertainty high",
    "days better", "sites better", "word",
)  # fmt: skip


def comparison_csv(comparison: Comparison, system: str) -> str:
    """Every figure of every scenario, unrounded, in the reader's units: a row each."""
    lines = [
        _file_row(info, column, system)
        for name, info in FIGURES.items()
        for column in comparison.columns
        if name in column.figures
    ]
    return table_csv(FILE_HEADS, lines)


def _file_row(info: FigureInfo, column: Column, system: str) -> list[object]:
    figure, apart = column.figures[info.name], column.apart(info.name)
    ranges = (figure.day_range, figure.site_uncertainty, figure.run_error)
    values = [figure.value, *(end for one in ranges for end in _ends(one))]
    differences = [apart.value, *_ends(apart.site_uncertainty)]
    return [
        info.label,
        UNITS[info.unit].symbol(system),
        column.name,
        *(v if v is None else shown(v, info.unit, system) for v in values),
        *(v if v is None else shown(v, info.unit, system, difference=True) for v in differences),
        apart.days_better,
        apart.sites_better,
        apart.word,
    ]


def hourly_csv(comparison: Comparison) -> str:
    """The figures by hour, in stored (SI) units: a row an hour and scenario."""
    names = list(dict.fromkeys(name for column in comparison.columns for name in column.hours))
    lines = [
        [column.name, hour, *(column.hour(name)[hour] for name in names)]
        for column in comparison.columns
        for hour in range(24)
    ]
    return table_csv(["scenario", "hour", *names], lines)


def _ends(found: Range | None) -> tuple[float | None, float | None]:
    return (None, None) if found is None else (found.low, found.high)
