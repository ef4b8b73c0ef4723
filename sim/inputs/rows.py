"""Rows that a site keeps in its books: what a field of a row is, is said once, in the row's class.

A field has a `Cell`, as an input has a `sim.inputs.Entry`. File, form, checks of shape, history and
storage of a row follow from the cells of its class and from its `Rows`, which say where rows of
that kind are kept.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields, replace
from datetime import date
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from sim.errors import InputProblem, quoted
from sim.units import (
    BY_NAME,
    FIRST_YEAR,
    LAST_YEAR,
    UNITS,
    parse_clock,
    parse_day,
    parse_quantity,
    quantity,
    show_clock,
)

if TYPE_CHECKING:
    from sim.inputs.history import SiteData

T = TypeVar("T")
NEEDED = object()
BELONGS = "{column} “{value}” belongs to {known} alone. Leave it empty."
NOT_A_MINUTE = "Time {value} is not a minute of the day. Write it as 15:20."
"""Said of a time of day that no clock shows."""


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A field of a row; the classes below are the kinds of it.

    Attributes:
        name: of the field, everywhere but in the file, where it is `column`.
        label, hint: words above and below it in a form.
        empty: what an empty text stands for; `NEEDED` where there must be something.
        like: the field that it is like where its text is empty; empty for none.
        blank: tells of a row whether its file has nothing there; None for never.
        only: kinds of row that have it; empty for all.
        unreadable: what is said after a text that can't be read; `fault` of a value that can't be,
            with the gaps ``value`` and those of its kind, and the words of the row.
    """

    name: str = ""
    column: str = ""
    label: str = ""
    hint: str = ""
    empty: object = NEEDED
    like: str = ""
    blank: Callable[[Any], bool] | None = None
    only: tuple[str, ...] = ()
    unreadable: str = "can’t be read."
    fault: str = ""

    def read(self, text: str, system: str = BY_NAME) -> Any:
        """The value of a text; a bare number is in the unit of `system`.

        Raises:
            ValueError: for a text that is no value of this kind.
        """
        return text

    def show(self, value: Any) -> object:
        """A value as a file has it; `read` gives the same, to the last bit."""
        return value

    def plain(self, value: Any) -> object:
        """A value as JSON has it."""
        return value

    def of_plain(self, value: Any) -> object:
        """The reverse of `plain`."""
        return value

    def wrong(self, value: Any, today: date | None) -> str:
        """The sentence on a value that can't be; empty for one that can. `today` ends the past."""
        return ""

    def filling(self, value: Any) -> Mapping[str, object]:
        """What fills that sentence."""
        return {"value": value}

    def unread(self, text: str, where: str = "") -> InputProblem:
        """What is said of a text that can't be read: of a line of a file, or else of a form."""
        field, label = (self.column, self.column) if where else (self.name, self.label)
        sentence = "{label} “{value}” " + self.unreadable
        return InputProblem(field, sentence, {"label": label, "value": quoted(text)}, where)

    def written(self, row: object) -> object:
        """What the file has of a row; None for an empty cell."""
        value = getattr(row, self.name)
        is_blank = value is None or (self.blank is not None and self.blank(row))
        return None if is_blank else self.show(value)

    def problem(self, row: object, kind: str, today: date | None) -> InputProblem | None:
        """Why this field of a row of a kind can't be; its words fill the sentence too."""
        value = getattr(row, self.name)
        if self.only and kind not in self.only:
            if value == self.empty or not kind:
                return None
            known = ", ".join(f"“{one}”" for one in self.only)
            filling = {"column": self.column, "value": self.show(value), "known": known}
            return InputProblem(self.name, BELONGS, filling)
        said = "" if value is None else self.wrong(value, today)
        if not said:
            return None
        words = {name: getattr(row, name, "") for name in ("name", "day", "hour")}
        return InputProblem(self.name, said, {**words, "field": self.name, **self.filling(value)})


@dataclass(frozen=True, kw_only=True)
class Word(Cell):
    """A text: one of `choices`, in whatever capitals, or any; at most `longest` letters are kept."""

    longest: int = 0
    choices: tuple[str, ...] = ()

    def read(self, text: str, system: str = BY_NAME) -> str:
        return text.lower() if self.choices else text

    def wrong(self, value: str, today: date | None) -> str:
        return self.fault if self.choices and value not in self.choices else ""

    def filling(self, value: str) -> Mapping[str, object]:
        return {"value": value, "most": self.longest, "known": ", ".join(self.choices)}


@dataclass(frozen=True, kw_only=True)
class Name(Word):
    """What people call something: one line without spaces at its ends, nothing `barred` in it."""

    fault: str = "“{value}” can’t be used. Enter 1 to {most} characters, the first not “=”."
    longest: int = 40
    barred: str = ""

    def wrong(self, value: str, today: date | None) -> str:
        plain = value == value.strip() and value.isprintable() and value[:1] != "="
        is_barred = any(letter in value for letter in self.barred)
        fits = plain and not is_barred and 1 <= len(value) <= self.longest
        return "" if fits or value == self.empty else self.fault


@dataclass(frozen=True, kw_only=True)
class Day(Cell):
    """A date in the site's time zone; with words for a day `to_come` none after today."""

    unreadable: str = "is not a date. Write year-month-day, as in 2026-07-18."
    fault: str = f"{{value}} can't be kept. Use days of the years {FIRST_YEAR} to {LAST_YEAR}."
    to_come: str = ""

    def read(self, text: str, system: str = BY_NAME) -> date:
        return parse_day(text)

    def plain(self, value: date | None) -> str | None:
        return None if value is None else value.isoformat()

    def of_plain(self, value: str | None) -> date | None:
        return None if value is None else date.fromisoformat(value)

    def wrong(self, value: date, today: date | None) -> str:
        if not FIRST_YEAR <= value.year <= LAST_YEAR:
            return self.fault
        return self.to_come if today is not None and value > today else ""


@dataclass(frozen=True, kw_only=True)
class ClockCell(Cell):
    """A time of day on the site's clock [s after midnight]; with a `fault` a minute of the day."""

    unreadable: str = "is not a time of day. Write it as 15:20."

    def read(self, text: str, system: str = BY_NAME) -> float:
        return parse_clock(text)

    def show(self, value: float) -> str:
        return show_clock(value)

    def wrong(self, value: float, today: date | None) -> str:
        return "" if 0.0 <= value < 86_400.0 and not value % 60.0 else self.fault

    def filling(self, value: float) -> Mapping[str, object]:
        return {"value": f"{value:g} s"}


@dataclass(frozen=True, kw_only=True)
class Amount(Cell):
    """A number of a kind of unit, from `low` (above it, if `above`) to `high`, in SI."""

    unreadable: str = "is not a number."
    fault: str = "{label} {value} can’t be. Enter {low} to {high}."
    unit: str = "number"
    low: float = -math.inf
    high: float = math.inf
    above: bool = False

    def read(self, text: str, system: str = BY_NAME) -> float:
        return parse_quantity(text, UNITS[self.unit], system)

    def show(self, value: float) -> float:
        return float(value)

    def wrong(self, value: float, today: date | None) -> str:
        above = self.low < value if self.above else self.low <= value
        return "" if above and value <= self.high and math.isfinite(value) else self.fault

    def filling(self, value: float) -> Mapping[str, object]:
        return {
            "label": self.label or self.column,
            "value": quantity(value, self.unit, 4),
            "low": quantity(self.low, self.unit, 4, "least"),
            "high": quantity(self.high, self.unit, 4, "most"),
        }


@dataclass(frozen=True, kw_only=True)
class Whole(Amount):
    """A whole number."""

    unreadable: str = "is not a whole number."

    def read(self, text: str, system: str = BY_NAME) -> int:
        number = Amount.read(self, text, system)
        if number != int(number):
            raise ValueError(f"“{text}” is not a whole number")
        return int(number)

    def show(self, value: float) -> float:
        return value

    def wrong(self, value: float, today: date | None) -> str:
        # whatever a caller without types put there
        return Amount.wrong(self, value, today) if type(value) is int else self.fault

    def filling(self, value: float) -> Mapping[str, object]:
        shown = {} if type(value) is int else {"value": value}
        return {**Amount.filling(self, float(value)), **shown}


@dataclass(frozen=True, kw_only=True)
class Several(Cell):
    """Parts of one kind with semicolons between."""

    part: Cell
    empty: object = ()

    def read(self, text: str, system: str = BY_NAME) -> tuple[Any, ...]:
        return tuple(self.part.read(one.strip(), system) for one in text.split(";") if one.strip())

    def show(self, value: tuple[object, ...]) -> str:
        return "; ".join(str(self.part.show(one)) for one in value)

    def plain(self, value: tuple[object, ...]) -> list[object]:
        return [self.part.show(one) for one in value]

    def of_plain(self, value: Iterable[str]) -> tuple[Any, ...]:
        return tuple(map(self.part.read, value))

    def wrong(self, value: tuple[Any, ...], today: date | None) -> str:
        return next(filter(None, (self.part.wrong(one, today) for one in value)), "")

    def filling(self, value: tuple[Any, ...]) -> Mapping[str, object]:
        first = (one for one in value if self.part.wrong(one, None))
        return self.part.filling(next(first, value))


def cell(kind: Cell, default: Any = MISSING) -> Any:
    """A dataclass field with its cell; an empty text stands for the default, if there is one."""
    told = kind if default is MISSING else replace(kind, empty=default)
    return field(default=default, metadata={"cell": told})


@dataclass(frozen=True, eq=False)
class Rows(Generic[T]):
    """Rows of a kind: their class, where they are kept, and how they are told apart.

    Attributes:
        make: the class of a row.
        part: where a `SiteData` has them, such as ``cloth.sets``.
        table: of the database; `key` the fields that tell a site's rows apart there, and their
            order; empty for their place.
        file: of a folder; empty for none. Its columns begin with those of the fields `first`.
        what: of the history; `named` the fields by which it names a row.
        called, most: what they are called, and how many of them can be kept; 0 for any number.
        twice: what is said of rows that are named alike; empty where several may be.
        order: what they are sorted by; None for rows that stay as they were entered.
        kind: the field that tells kinds of row apart; empty for none.
    """

    make: type[T]
    part: str
    table: str
    key: tuple[str, ...] = ()
    file: str = ""
    first: tuple[str, ...] = ()
    what: str = ""
    named: tuple[str, ...] = ()
    called: str = ""
    most: int = 0
    twice: str = ""
    order: Callable[[T], Any] | None = None
    kind: str = ""

    @cached_property
    def cells(self) -> dict[str, Cell]:
        """The cells by the name of their field, in order."""
        made: Any = self.make
        told = ((one.name, one.metadata["cell"]) for one in fields(made))
        return {name: replace(c, name=name, column=c.column or name) for name, c in told}

    @cached_property
    def _bounded(self) -> list[Cell]:
        """The cells that not every value can be in: books are long, and checked as a whole."""
        cells = self.cells.values()
        return [c for c in cells if c.only or c.fault or isinstance(c, Several)]

    @cached_property
    def columns(self) -> dict[str, Cell]:
        """The cells by their column, in the order of the file."""
        return {self.cells[name].column: self.cells[name] for name in (*self.first, *self.cells)}

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns that a file must have."""
        found = self.columns.items()
        return tuple(column for column, c in found if c.empty is NEEDED and not c.like)

    def of(self, data: SiteData) -> tuple[T, ...]:
        """The rows of a site."""
        rows: tuple[T, ...] = attrgetter(self.part)(data)
        return rows

    def into(self, data: SiteData, rows: Iterable[T]) -> SiteData:
        """A site with these rows in place of its own, in order."""
        kept: Any = tuple(rows if self.order is None else sorted(rows, key=self.order))
        whole, _, inner = self.part.partition(".")
        held: Any = replace(getattr(data, whole), **{inner: kept}) if inner else kept
        return replace(data, **{whole: held})

    def read(
        self,
        texts: Mapping[str, str],
        problems: list[InputProblem],
        system: str = BY_NAME,
        where: str = "",
    ) -> T | None:
        """A row of texts by field; None, with a problem for each that can't be read.

        Args:
            where: line of a file, whose columns the problems then name.
        """
        found: dict[str, object] = {}
        before = len(problems)
        for name, cell in self.cells.items():
            text = texts.get(name, "") or texts.get(cell.like, "")
            try:
                is_open = not text and cell.empty is not NEEDED
                found[name] = cell.empty if is_open else cell.read(text, system)
            except ValueError:
                problems.append(cell.unread(text, where))
        return self.make(**found) if len(problems) == before else None

    def problems_of(self, row: T, today: date | None = None) -> list[InputProblem]:
        """Every reason why the shape of a row can't be; with `today` what lies in the future too."""
        kind = getattr(row, self.kind) if self.kind else ""
        told = self.cells[self.kind] if self.kind else None
        if isinstance(told, Word) and kind not in told.choices:
            kind = ""  # that is told; nothing belongs to a kind that there is not
        found = (cell.problem(row, kind, today) for cell in self._bounded)
        return [problem for problem in found if problem is not None]

    def problems(self, rows: tuple[T, ...], today: date | None = None) -> list[InputProblem]:
        """Every reason why rows can't be kept, each by itself and together."""
        return [p for row in rows for p in self.problems_of(row, today)] + self.together(rows)

    def together(self, rows: tuple[T, ...]) -> list[InputProblem]:
        """Every reason why rows, each fine by itself, can't be kept together."""
        problems: list[InputProblem] = []
        if self.most and len(rows) > self.most:
            sentence = "{count} {what} are too many; at most {most} can be kept."
            filling = {"count": len(rows), "what": self.called, "most": self.most}
            problems.append(InputProblem(self.named[0], sentence, filling))
        if self.twice:
            names = (tuple(getattr(row, name) for name in self.named) for row in rows)
            for told, times in Counter(names).items():
                if times > 1:
                    filling = {**dict(zip(self.named, told, strict=True)), "times": times}
                    problems.append(InputProblem(self.named[0], self.twice, filling))
        return problems

    def name_of(self, row: T) -> str:
        """How the history names a row."""
        return " ".join(str(self.cells[name].show(getattr(row, name))) for name in self.named)

    def plain(self, row: T) -> dict[str, object]:
        """A row as JSON has it."""
        return {name: cell.plain(getattr(row, name)) for name, cell in self.cells.items()}

    def of_plain(self, held: Any) -> T:
        """The reverse of `plain`."""
        return self.make(**{name: self.cells[name].of_plain(v) for name, v in held.items()})


AnyRows = Rows[Any]
