"""The books of a site: their rows as CSV files, both ways, and all that is wrong with one.

A line of the table `BOOKS` is a book; what its rows hold is told by `sim.inputs.rows`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from app.books.checks import (
    cloth_story,
    event_problems,
    person_problems,
    shift_problems,
    weighing_problems,
)
from app.files.csv_table import csv_text, read_table, shortened
from sim.errors import InputProblem
from sim.inputs import EVENTS, PEOPLE, SETS, SHIFTS, WEIGHED, AnyRows, Rows, SiteData
from sim.inputs.rows import Amount

T = TypeVar("T")
Problems = tuple[InputProblem, ...]
Check = Callable[..., Iterable[InputProblem]]


def csv_of(rows: Rows[T], items: Iterable[T]) -> str:
    """The text of a file of rows, from which the same ones are read to the last bit."""
    lines = ([cell.written(item) for cell in rows.columns.values()] for item in items)
    return csv_text(tuple(rows.columns), lines, "\n")


def read_rows(
    rows: Rows[T], raw: bytes | None, check: Check | None = None
) -> tuple[tuple[T, ...], Problems, Problems]:
    """Rows of a CSV file, which may be missing; nothing in it raises.

    Its columns are those of the cells; the needed ones must be there. An amount may have a unit of
    its own, as in 310 g; a bare number is in the unit that its column names.

    Args:
        check: what else than its shape can be wrong with a row by itself.

    Returns:
        The good lines, every line that was left out with its reason, and notes.
    """
    if raw is None:
        return (), (), ()
    table = read_table(raw, rows.file, tuple(rows.columns))
    missing = [name for name in rows.needed if name not in table.columns]
    broken = any(p.field == "header" for p in table.problems)
    if table.columns and missing and not broken:
        sentence = "No column gives {names}. The file needs {needed}."
        filling = {"names": " or ".join(missing), "needed": ", ".join(rows.needed)}
        table.problems.append(InputProblem("header", sentence, filling, rows.file))
    found: list[T] = []
    for line in () if missing or broken else table.rows:
        where = f"{rows.file}, line {line.line}"
        texts = {}
        for column, text in line.cells.items():
            cell = rows.columns.get(column)
            with_comma = table.decimal_comma and isinstance(cell, Amount)
            if cell is not None:
                texts[cell.name] = text.replace(",", ".", 1) if with_comma else text
        problems: list[InputProblem] = []
        item = rows.read(texts, problems, where=where)
        if item is not None:
            faults = [*rows.problems_of(item), *(check(item) if check else ())]
            problems = [replace(p, where=where) for p in faults]
            if not faults:
                found.append(item)
        table.problems += problems
    return tuple(found), shortened(table.problems, rows.file), tuple(table.notes)


@dataclass(frozen=True, slots=True)
class Book:
    """A book: its rows, each kind with what else than its shape can be wrong with one by itself.

    Attributes:
        part: where a `SiteData` has it.
        story: where the rows of a site, each fine alone, don't fit one another.
    """

    part: str
    rows: Mapping[AnyRows, Check | None]
    story: Callable[[SiteData], Iterable[InputProblem]] | None = None

    def problems(self, data: SiteData, today: date | None = None) -> list[InputProblem]:
        """Every reason why a site's book can't be; with `today` also what lies in the future."""
        found: list[InputProblem] = []
        for rows, check in self.rows.items():
            items = rows.of(data)
            found += rows.problems(items, today)
            found += (p for item in items for p in check(item)) if check else ()
        return found or list(self.story(data) if self.story else ())

    def in_order(self, data: SiteData) -> SiteData:
        """A site with the rows of this book in order."""
        for rows in self.rows:
            data = rows.into(data, rows.of(data))
        return data

    def read(
        self, files: Mapping[str, bytes | None], data: SiteData
    ) -> tuple[SiteData, Problems, Problems]:
        """A site with this book of its files, any of which may be missing; nothing raises.

        Returns:
            The site with the good lines, every problem with file and line, and notes.
        """
        problems: list[InputProblem] = []
        notes: list[InputProblem] = []
        for rows, check in self.rows.items():
            items, bad, told = read_rows(rows, files.get(rows.file), check)
            data = rows.into(data, items)
            problems += bad
            notes += told
        if not problems:
            last = list(self.rows)[-1].file
            problems = [replace(p, where=last) for p in self.problems(data)]
        return data, tuple(problems), tuple(notes)


BOOKS: dict[str, Book] = {
    book.part: book
    for book in (
        Book("weighings", {WEIGHED: weighing_problems}),
        Book("cloth", {SETS: None, EVENTS: event_problems}, cloth_story),
        Book("staff", {PEOPLE: person_problems, SHIFTS: shift_problems}),
    )
}
"""Every book by the part of a `SiteData` that has it."""
