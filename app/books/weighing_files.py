"""Weighings of strips as a CSV file: read with every bad line named, and written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from app.books.weighing_checks import weighing_problems
from app.files.csv_table import Row, Table, csv_text, read_table, shortened
from sim.errors import InputProblem, quoted
from sim.inputs import Weighing
from sim.units import (
    BY_NAME,
    UNITS,
    parse_clock,
    parse_day,
    parse_quantity,
    show_clock,
    whole_number,
)

FILE = "weighings.csv"
NEEDED = ("kind", "date", "time", "weight_kg", "dry_kg")
COLUMNS = (*NEEDED, "rule", "cars", "damp_cars", "cars_so_far", "weather")
MASS = UNITS["mass"]


def weighings_csv(weighings: Sequence[Weighing]) -> str:
    """The text of a file of weighings, from which the same ones are read to the last bit."""
    rows = []
    for item in weighings:
        weights = (float(item.weight_kg), float(item.dry_kg))
        when = (item.day, show_clock(item.at_s))
        counts = (item.cars, item.damp_cars) if item.cars else ("", "")
        day = (item.cars_so_far or "", item.weather)
        rows.append([item.kind, *when, *weights, item.rule, *counts, *day])
    return csv_text(COLUMNS, rows, "\n")


def read_weighings(
    raw: bytes, file: str = FILE
) -> tuple[tuple[Weighing, ...], tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """Weighings from a CSV file; nothing in it raises.

    Columns: ``kind`` (soaked, damp or afternoon), ``date`` (year-month-day), ``time`` (15:20 on
    the site's clock), ``weight_kg``, ``dry_kg``, and, if not every car had been wiped in full,
    ``rule``; ``cars`` that were looked at afterwards and ``damp_cars`` of those, empty if nobody
    looked; ``cars_so_far`` that had been washed that day and its ``weather`` as felt, empty if
    nobody noted them. A weight may have a unit of its own, as in 310 g.

    Returns:
        The good lines in order, every line that was left out with its reason, and notes.
    """
    table = read_table(raw, file, COLUMNS)
    missing = [name for name in NEEDED if name not in table.columns]
    if table.columns and missing and not any(p.field == "header" for p in table.problems):
        sentence = "No column gives {names}. The file needs kind, date, time, weight_kg and dry_kg."
        filling = {"names": " or ".join(missing)}
        table.problems.append(InputProblem("header", sentence, filling, file))
    if any(p.field == "header" for p in table.problems) or missing:
        return (), shortened(table.problems, file), tuple(table.notes)
    found = [_weighing(row, table, f"{file}, line {row.line}") for row in table.rows]
    good = sorted(item for item in found if item is not None)
    return tuple(good), shortened(table.problems, file), tuple(table.notes)


def _weighing(row: Row, table: Table, where: str) -> Weighing | None:
    """The weighing of a line; None, with problems added to the table, if it is none."""
    cells = row.cells
    problems: list[InputProblem] = []
    day, at_s, weights = date.min, 0.0, [1.0, 1.0]
    try:
        day = parse_day(cells["date"])
    except ValueError:
        sentence = "date “{value}” is not a date. Write year-month-day, as in 2026-07-18."
        problems.append(InputProblem("date", sentence, {"value": quoted(cells["date"])}, where))
    try:
        at_s = parse_clock(cells["time"])
    except ValueError:
        sentence = "time “{value}” is not a time of day. Write it as 15:20."
        problems.append(InputProblem("time", sentence, {"value": quoted(cells["time"])}, where))
    for i, name in enumerate(("weight_kg", "dry_kg")):
        text = cells[name].replace(",", ".", 1) if table.decimal_comma else cells[name]
        try:
            weights[i] = parse_quantity(text, MASS, BY_NAME)
        except ValueError:
            sentence = "{field} “{value}” is not a weight. Enter kilograms, as in 0.31."
            filling = {"field": name, "value": quoted(cells[name])}
            problems.append(InputProblem(name, sentence, filling, where))
    counts = [0, 0, 0]
    for i, name in enumerate(("cars", "damp_cars", "cars_so_far")):
        text = cells.get(name, "").strip()
        number = whole_number(text or "0")
        if number is None:
            sentence = "{field} “{value}” is not a number of cars. Enter a whole one, or nothing."
            filling = {"field": name, "value": quoted(text)}
            problems.append(InputProblem(name, sentence, filling, where))
        else:
            counts[i] = number
    rule = cells.get("rule", "") or "full"
    weather = cells.get("weather", "").strip()
    item = Weighing(
        cells["kind"].lower(),
        day,
        at_s,
        weights[0],
        weights[1],
        rule,
        counts[0],
        counts[1],
        counts[2],
        weather,
    )
    if not problems:
        problems = [replace(p, where=where) for p in weighing_problems(item)]
    table.problems += problems
    return None if problems else item
