"""A comparison of scenarios as a table and as CSV: a row a figure, a column a scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from app.catalogue import _
from app.files.csv_table import Written, csv_text
from app.sites.rule_forms import facts_of
from app.words.columns import (
    NO_MATTER,
    Comparison,
    best_column,
    difference_of,
    drawn_sites,
    value_of,
)
from app.words.figures import (
    finest_of,
    half_width,
    interval,
    plain_number,
    printed_step,
    range_step,
    shown,
    signed,
    span,
    step_of,
    stepped,
)
from sim.day.figures import PARTS
from sim.inputs import INPUTS, Entry
from sim.units import NBSP, UNITS, quantity

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
        site: where the expected value may lie at the site; empty where no guess was drawn, or
            none moves the figure by as much as is printed.
        days: what single days do; empty where there is nothing to say.
        difference: to the first column, with its sign; empty in the first.
        word: plain word on the difference.
        plain: the word is no reason to act.
        chosen: the cell stands in the advised column.
    """

    value: str
    days: str
    site: str = ""
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
        parts: the items that margin and cost are made of, and their sums.
        many: more columns than a narrow screen can show side by side.
        days: how many days were simulated.
        sites: how many sites were drawn for them; 0 where guesses stayed at middle values.
    """

    heads: tuple[Head, ...]
    groups: tuple[Group, ...]
    others: tuple[Group, ...]
    parts: tuple[Group, ...]
    many: bool
    days: int
    sites: int

    @property
    def span(self) -> int:
        """Columns of the table, that of the figures' names included."""
        return len(self.heads) + 1

    @property
    def every(self) -> tuple[Group, ...]:
        """All groups, those that decide first."""
        items = tuple(group for group in self.parts if group.title == _title(PARTS))
        return self.groups + self.others + items

    @property
    def few(self) -> bool:
        """One or two scenarios, which a narrow screen shows in two columns."""
        return len(self.heads) < 3


def comparison_table(
    comparison: Comparison, figures: Figures, system: str, advised: int | None = None
) -> Table:
    """The table of a comparison in the reader's units ("si" or "us").

    Args:
        advised: the column to mark; without it the one that `best_column` advises.
    """
    columns = comparison["scenarios"]
    best = best_column(comparison) if advised is None else advised
    best = best if len(columns) > 1 else -1
    heads = tuple(
        Head(i + 1, str(column["name"]), _label(column, system), i == best)
        for i, column in enumerate(columns)
    )
    days, sites = int(comparison["days"]), drawn_sites(comparison)
    known = [name for name in figures if name in columns[0]["figures"]]
    main = [name for name in MAIN_FIGURES if name in known]
    parts = [name for name in known if figures[name].group == PARTS]
    rest = [name for name in known if name not in main and name not in parts]
    sums = [name for name in ("cost", "margin") if parts and name in known]

    def groups(names: Sequence[str]) -> tuple[Group, ...]:
        titles = dict.fromkeys(_title(figures[name].group) for name in names)
        return tuple(
            Group(
                title,
                tuple(
                    _row(figures[name], columns, system, best, days, sites)
                    for name in names
                    if _title(figures[name].group) == title
                ),
            )
            for title in titles
        )

    parts_of = groups([*parts, *sums])
    return Table(heads, groups(main), groups(rest), parts_of, len(columns) > 3, days, sites)


def _title(group: str) -> str:
    titles = {
        "line": _("Line"),
        "cloth": _("Cloth"),
        "people": _("People"),
        "staff": _("People"),
        "money": _("Money"),
    }
    return titles.get(group.lower(), _(group))


def _label(column: Mapping[str, Any], system: str) -> str:
    """The small line below a column's name: its rule, and what differs from the site."""
    name = str(column["name"]).casefold()
    label = _(str(column["label"]))
    rule = facts_of(str(column["rule"]))
    if label.casefold() == name:
        plain = {
            "full": _("every car wiped in full"),
            "reduced": _("hood and windshield only"),
            "clock": _("full before and after"),
        }
        label = plain.get(rule.kind, "")
    parts = [label, *(_changed(key, value, system) for key, value in column["changes"].items())]
    return "; ".join(part for part in parts if part)


def _changed(name: str, value: Any, system: str) -> str:
    """An input that a scenario changes, in words."""
    row = INPUTS[name]
    if row.is_open(value):
        return f"{_(row.label)}: {_(row.follows)}"
    if row.kind in ("choice", "words"):
        return f"{_(row.label)}: {_(dict(row.choices).get(str(value), str(value)))}"
    if row.kind == "steps" and isinstance(value, list | tuple):
        cells = [
            f"{clock}{NBSP}{_amount(row, number, system)}"
            if str(clock) != "0:00"
            else _amount(row, number, system)
            for clock, number in value
        ]
        return f"{_(row.label)} {', '.join(cells)}"
    if isinstance(value, list | tuple):
        return _(row.label)
    if isinstance(value, bool):
        return f"{_(row.label)}: {_('yes') if value else _('no')}"
    return f"{_(row.label)} {_amount(row, value, system)}"


def _amount(row: Entry, value: float, system: str) -> str:
    return quantity(float(value), row.unit.kind, 4).show(system)


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
    info: FigureInfo,
    columns: Sequence[Mapping[str, Any]],
    system: str,
    best: int,
    days: int,
    sites: int,
) -> Row:
    cells = tuple(_cell(info, column, system, i == best, days) for i, column in enumerate(columns))
    return Row(
        info.name,
        _(info.label),
        _beside(info, system),
        _(info.origin) if info.origin else "",
        _error(info, columns, system, days, sites),
        cells,
    )


def _error(
    info: FigureInfo, columns: Sequence[Mapping[str, Any]], system: str, days: int, sites: int
) -> str:
    """The run error of each column in words."""
    said = []
    for column in columns:
        half = half_width(column["figures"][info.name], "run error", info.unit, system)
        if half:
            step = min(1.0, step_of(half, "") or 1.0)
            said.append(f"{column['name']} ±{NBSP}{stepped(half, step)}")
    if not said:
        return ""
    listed, simulated = "; ".join(said), plain_number(days, 0)
    if sites:
        return _(
            "Error of the simulation itself, over {days} days at {sites} drawn sites: {list}.",
            days=simulated,
            sites=sites,
            list=listed,
        )
    return _(
        "Error of the simulation itself, over {days} days: {list}.",
        days=plain_number(days, 0),
        list=listed,
    )


def _cell(
    info: FigureInfo, column: Mapping[str, Any], system: str, chosen: bool, days: int
) -> Cell:
    figure = column["figures"][info.name]
    value = value_of(column, info.name)
    if value is None:
        return Cell("–", _("no car to say it of"), chosen=chosen)
    as_shown = shown(value, info.unit, system)
    step = printed_step(figure, info.unit, system, as_shown)
    is_exact = not half_width(figure, "run error", info.unit, system)
    if is_exact and as_shown == round(as_shown):
        step = max(step, 1.0)  # 100 % by rule is no measurement with decimals
    text = stepped(as_shown, step)
    ranged = _days(info, figure, value, system, days)
    site = _site(info, figure, system, step)
    moved = difference_of(column, info.name)
    if moved.get("value") is None:
        return Cell(text, ranged, site, chosen=chosen)
    word = str(moved["word"])
    return Cell(
        text,
        ranged,
        site,
        _difference(info, moved, system, step),
        _(word).replace("'", "’"),
        word in NO_MATTER,
        chosen,
    )


def _difference(info: FigureInfo, moved: Mapping[str, Any], system: str, step: float) -> str:
    """A difference with its sign; `step` is that of the figure beside it.

    Columns share their days and drawn sites, so a difference is known better than the figures
    themselves; it may show one digit more than they do, not more.
    """
    value = shown(float(moved["value"]), info.unit, system, difference=True)
    fine = step
    if half_width(moved, "run error", info.unit, system):
        own = printed_step(moved, info.unit, system, value)
        fine = max(own, step / 10.0)
        if not half_width(moved, "site uncertainty", info.unit, system):
            fine = min(step, fine)
    return signed(value, max(fine, finest_of(info.unit, value)))


def _site(info: FigureInfo, figure: Mapping[str, Any], system: str, step: float) -> str:
    """Where the expected value may lie at the site, to the digits of the figure itself."""
    ends = interval(figure, "site uncertainty")
    if ends is None or figure.get("fewer_than_one_in_days"):
        return ""
    low, high = (shown(end, info.unit, system) for end in ends)
    return "" if stepped(low, step) == stepped(high, step) else span(low, high, step)


def _days(info: FigureInfo, figure: Mapping[str, Any], value: float, system: str, days: int) -> str:
    """What single days do, in words where a range would say nothing."""
    seldom = figure.get("fewer_than_one_in_days")
    if seldom and figure.get("event_days") == 0:
        return _("none in {days} days", days=plain_number(days, 0))
    if seldom and seldom > 1:  # of very few days nothing can be said so
        return _("on fewer than 1 day in {days}", days=plain_number(seldom, 0))
    ends = interval(figure, "day range")
    if ends is None:
        return ""
    low, high = (shown(end, info.unit, system) for end in ends)
    if ends[0] == ends[1] == value:
        if info.name == "full_share":
            return _("by rule")
        if value == 0:
            return _("none in {days} days", days=plain_number(days, 0))
        return _("the same every day")
    step = range_step(low, high, info.unit)
    if stepped(low, step) == stepped(high, step):
        return _("days about {value}", value=stepped(low, step))
    return _("days {range}", range=span(low, high, step))


KINDS = ("day range", "site uncertainty", "run error")


def comparison_csv(comparison: Comparison, figures: Figures, system: str) -> str:
    """Every figure of every scenario, unrounded, in the reader's units: a row each."""
    lines: list[list[object]] = []
    write = lines.append
    write(
        [
            "figure",
            "unit",
            "scenario",
            "value",
            "day range low",
            "day range high",
            "site uncertainty low",
            "site uncertainty high",
            "run error low",
            "run error high",
            "difference to first",
            "difference site uncertainty low",
            "difference site uncertainty high",
            "days better",
            "sites better",
            "word",
        ]
    )
    for name, info in figures.items():
        for column in comparison["scenarios"]:
            figure = column["figures"].get(name)
            if figure is None:
                continue
            other = difference_of(column, name)
            ends = [end for kind in KINDS for end in _ends(figure, kind)]
            apart = (other.get("value"), *_ends(other, "site uncertainty"))
            write(
                [
                    info.label,
                    UNITS[info.unit].symbol(system),
                    column["name"],
                    *(_plain(x, info.unit, system) for x in (value_of(column, name), *ends)),
                    *(_plain(x, info.unit, system, difference=True) for x in apart),
                    _share(other.get("days_better")),
                    _share(other.get("sites_better")),
                    other.get("word", ""),
                ]
            )
    return csv_text([str(name) for name in lines[0]], lines[1:])


def hourly_csv(comparison: Comparison) -> str:
    """The figures by hour, in stored (SI) units: a row an hour and scenario."""
    lines: list[list[object]] = []
    write = lines.append
    names = list(
        dict.fromkeys(name for column in comparison["scenarios"] for name in column["hours"])
    )
    write(["scenario", "hour", *names])
    for column in comparison["scenarios"]:
        for hour in range(24):
            values = [column["hours"].get(name, [None] * 24)[hour] for name in names]
            cells = [_share(v) for v in values]
            write([column["name"], hour, *cells])
    return csv_text([str(name) for name in lines[0]], lines[1:])


def _ends(figure: Mapping[str, Any], kind: str) -> tuple[float | None, float | None]:
    return interval(figure, kind) or (None, None)


def _plain(value: float | None, unit: str, system: str, difference: bool = False) -> str:
    return "" if value is None else Written(f"{shown(value, unit, system, difference):.6g}")


def _share(value: float | None) -> str:
    return "" if value is None else Written(f"{value:.6g}")
