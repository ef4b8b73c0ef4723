"""Cloth sets and their record as two CSV files: read with every bad line named, and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TypeVar

from app.books.cloth_checks import cloth_problems, event_problems, set_problems
from app.files.csv_table import Row, Table, csv_text, read_table, shortened
from sim.errors import InputProblem, quoted
from sim.inputs import ClothBook, ClothEvent, ClothSet
from sim.units import BY_NAME, UNITS, parse_clock, parse_day, parse_quantity, show_clock

SETS_FILE, LOG_FILE = "cloth_sets.csv", "cloth_log.csv"
SET_COLUMNS = ("set", "bought", "cars_before")
LOG_COLUMNS = (
    "date", "time", "set", "what", "reason", "cars", "length_m", "dry_kg", "torn", "hoods",
    "damp_hoods",
)  # fmt: skip

Item = TypeVar("Item")
Problems = list[InputProblem]


def sets_csv(book: ClothBook) -> str:
    """The text of a file of sets, from which the same ones are read to the last bit."""
    rows = ((s.name, s.bought or "", float(s.cars_before)) for s in book.sets)
    return csv_text(SET_COLUMNS, rows, "\n")


def log_csv(book: ClothBook) -> str:
    """The text of a file of what happened to the sets."""
    rows = (
        (
            e.day, show_clock(e.at_s), e.name, e.kind, e.reason,
            _number(e.cars), _number(e.length_m), _number(e.dry_kg),
            *("" if count is None else count for count in (e.torn, e.hoods, e.damp_hoods)),
        )
        for e in book.events
    )  # fmt: skip
    return csv_text(LOG_COLUMNS, rows, "\n")


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)


def read_cloth(
    sets_raw: bytes | None, log_raw: bytes | None
) -> tuple[ClothBook, tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """Sets and their record from two CSV files, either of which may be missing; nothing raises.

    ``cloth_sets.csv``: ``set`` (name), and, where known, ``bought`` (year-month-day) and
    ``cars_before``. ``cloth_log.csv``: ``date``, ``time``, ``set``, ``what`` (on, off, laundered,
    inspected, hoods), and, where they apply, ``reason``, ``cars``, ``length_m``, ``dry_kg``,
    ``torn``, ``hoods``, ``damp_hoods``.

    Returns:
        The good lines, every problem with file and line, and notes.
    """
    sets, bad_sets, set_notes = read_items(
        sets_raw, SETS_FILE, SET_COLUMNS, SET_COLUMNS[:1], _set, set_problems
    )
    log, bad_log, log_notes = read_items(
        log_raw, LOG_FILE, LOG_COLUMNS, LOG_COLUMNS[:4], _event, event_problems
    )
    book = ClothBook(tuple(sets), tuple(log)).in_order()
    problems = [*bad_sets, *bad_log]
    if not problems:
        problems = [replace(p, where=LOG_FILE) for p in cloth_problems(book)]
    return book, tuple(problems), (*set_notes, *log_notes)


def read_items(
    raw: bytes | None,
    file: str,
    known: tuple[str, ...],
    needed: tuple[str, ...],
    make: Callable[[Row, Table, str, Problems], Item],
    alone: Callable[[Item], Problems],
) -> tuple[list[Item], tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """Items of a file, one a line; `alone` says what is wrong with one by itself."""
    if raw is None:
        return [], (), ()
    table = read_table(raw, file, known)
    missing = [name for name in needed if name not in table.columns]
    if table.columns and missing and not any(p.field == "header" for p in table.problems):
        sentence = "No column gives {names}. The file needs {needed}."
        filling = {"names": " or ".join(missing), "needed": ", ".join(needed)}
        table.problems.append(InputProblem("header", sentence, filling, file))
    found: list[Item] = []
    if not missing and not any(p.field == "header" for p in table.problems):
        for row in table.rows:
            problems: Problems = []
            where = f"{file}, line {row.line}"
            item = make(row, table, where, problems)
            problems = problems or [replace(p, where=where) for p in alone(item)]
            table.problems += problems
            if not problems:
                found.append(item)
    return found, shortened(table.problems, file), tuple(table.notes)


def _set(row: Row, table: Table, where: str, problems: Problems) -> ClothSet:
    cells = row.cells
    text = cells.get("bought", "")
    bought = day_of_cell("bought", text, where, problems) if text else None
    cars = amount_of("cars_before", row, table, "number", where, problems)
    return ClothSet(cells["set"], bought, cars or 0.0)


def _event(row: Row, table: Table, where: str, problems: Problems) -> ClothEvent:
    cells = row.cells
    at_s = 0.0
    day = day_of_cell("date", cells["date"], where, problems)
    try:
        at_s = parse_clock(cells["time"])
    except ValueError:
        sentence = "time “{value}” is not a time of day. Write it as 15:20."
        problems.append(InputProblem("time", sentence, {"value": quoted(cells["time"])}, where))
    return ClothEvent(
        day,
        at_s,
        cells["what"].lower(),
        cells["set"],
        cells.get("reason", "").lower(),
        amount_of("cars", row, table, "number", where, problems),
        amount_of("length_m", row, table, "short_length", where, problems),
        amount_of("dry_kg", row, table, "mass", where, problems),
        *(_whole(name, row, table, where, problems) for name in ("torn", "hoods", "damp_hoods")),
    )


def _whole(name: str, row: Row, table: Table, where: str, problems: Problems) -> int | None:
    """A whole number of a cell; None if it is empty, or, with a problem, none."""
    number = amount_of(name, row, table, "number", where, problems)
    if number is None:
        return None
    if number != int(number):
        sentence = "{name} “{value}” is not a whole number."
        filling = {"name": name, "value": quoted(row.cells[name])}
        problems.append(InputProblem(name, sentence, filling, where))
    return int(number)


def day_of_cell(name: str, text: str, where: str, problems: Problems) -> date:
    """A date of a cell; the first of all days, with a problem, if it is none."""
    try:
        return parse_day(text)
    except ValueError:
        sentence = "{name} “{value}” is not a date. Write year-month-day, as in 2026-07-18."
        filling = {"name": name, "value": quoted(text)}
        problems.append(InputProblem(name, sentence, filling, where))
        return date.min


def amount_of(
    name: str, row: Row, table: Table, unit: str, where: str, problems: Problems
) -> float | None:
    """A number of a cell; None if it is empty, or, with a problem, no number."""
    text = row.cells.get(name, "")
    if not text:
        return None
    read = text.replace(",", ".", 1) if table.decimal_comma else text
    try:
        return parse_quantity(read, UNITS[unit], BY_NAME)
    except ValueError:
        sentence = "{name} “{value}” is not a number."
        filling = {"name": name, "value": quoted(text)}
        problems.append(InputProblem(name, sentence, filling, where))
        return None
