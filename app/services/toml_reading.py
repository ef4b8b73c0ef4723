"""Reads single values of a TOML file and remembers on which line each of them stands."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field
from datetime import date

from sim.errors import InputError, InputProblem
from sim.inputs import Entry, Value
from sim.units import parse_clock

Place = tuple[str, int, str]
"""Table ("" at the top), its number among tables of that name, and key ("" the table itself)."""


@dataclass(slots=True)
class Reading:
    """What has been understood so far."""

    file: str
    lines: dict[Place, int]
    problems: list[InputProblem] = field(default_factory=list)

    def where(self, table: str, number: int, key: str) -> str:
        """File and line of a key, else of its table."""
        line = self.lines.get((table, number, key)) or self.lines.get((table, number, ""))
        return f"{self.file}, line {line}" if line else self.file

    def add(self, place: Place, name: str, sentence: str, /, **values: object) -> None:
        """Adds a problem about input `name` at a place of the file."""
        self.problems.append(InputProblem(name, sentence, values, self.where(*place)))


def line_of(problem: InputProblem) -> int:
    return int(problem.where.rpartition(" line ")[2]) if " line " in problem.where else 0


def syntax_problem(fault: str, text: str, file: str) -> InputProblem:
    match = re.search(r"^(.*?) \(at (?:line (\d+), column \d+|end of document)\)$", fault)
    what = match.group(1) if match else fault
    line = match.group(2) if match else None
    at = line or str(max(1, len(text.splitlines())))
    sentence = (
        "The file can't be read: {fault}. A line is a name, an equals sign and a value; text "
        "stands in quotation marks, decimals have a point."
    )
    return InputProblem(
        "file", sentence, {"fault": what[:1].lower() + what[1:]}, f"{file}, line {at}"
    )


_TABLE = re.compile(r"\s*\[\[?\s*\"?([A-Za-z0-9_\-]+)\"?\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*\"?([A-Za-z0-9_\-]+)\"?\s*(?:\.\s*\"?([A-Za-z0-9_\-]+)\"?\s*)?=")


def key_lines(text: str) -> dict[Place, int]:
    """Where each table and key stands, found by looking at how lines begin."""
    lines: dict[Place, int] = {}
    table, number = "", 0
    for at, line in enumerate(text.splitlines(), 1):
        head = _TABLE.match(line)
        if head:
            table = head.group(1)
            number = sum(1 for place in lines if place[0] == table and place[2] == "")
            lines[table, number, ""] = at
            continue
        key = _KEY.match(line)
        if key and key.group(2) and table == "":
            lines.setdefault((key.group(1), 0, key.group(2)), at)
        if key:
            lines.setdefault((table, number, key.group(1)), at)
    return lines


def text_of(reading: Reading, place: Place, value: object) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    sentence = "{name} {value} is not text. Put it in quotation marks."
    reading.add(place, place[2], sentence, name=place[2], value=shown(value))
    return ""


def value_of(reading: Reading, place: Place, row: Entry, value: object) -> Value | None:
    """The value of one input; None, with its problems noted, if it can't be used."""
    read: Value | None = None
    found: list[InputProblem] = []
    try:
        read = _shape(row, value)
    except InputError as fault:
        found = list(fault.problems)
    except ValueError as fault:
        sentence = "{label} {value}: {fault}"
        filling = {"label": row.label, "value": shown(value), "fault": str(fault)}
        found = [InputProblem(row.name, sentence, filling)]
    else:
        found = row.problems(read)
    for p in found:
        reading.problems.append(InputProblem(p.field, p.sentence, p.values, reading.where(*place)))
    return None if found else read


def _shape(row: Entry, value: object) -> Value:
    if row.kind == "steps":
        return _steps(row, value)
    if row.kind == "times":
        if not isinstance(value, list) or not all(_is_number(x) for x in value):
            raise ValueError("write a list of seconds, as in [41, 38.5, 52].")
        return tuple(float(x) for x in value)
    if row.kind == "flag":
        if not isinstance(value, bool):
            raise ValueError("write true or false.")
        return value
    if row.kind == "choice":
        if not isinstance(value, str):
            raise ValueError("put the choice in quotation marks.")
        return value
    if isinstance(value, str):
        return row.parse(value, "si")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("write a number.")
    if row.kind == "whole":
        return int(value) if value == value // 1 else value
    return float(value)


def _steps(row: Entry, value: object) -> Value:
    if _is_number(value):
        return ((0.0, float(str(value))),)
    how = 'write a number, or rows of time and value, as in [["0:00", 2], ["11:00", 3]].'
    if not isinstance(value, list):
        raise ValueError(how)
    rows: list[tuple[float, float]] = []
    for item in value:
        if not isinstance(item, list) or len(item) != 2 or not _is_number(item[1]):
            raise ValueError(how)
        if _is_number(item[0]):
            moment = float(item[0])
        elif isinstance(item[0], str):
            moment = parse_clock(item[0])
        else:
            raise ValueError(how)
        rows.append((moment, float(item[1])))
    starts = [moment for moment, _ in rows]
    follow = all(a < b for a, b in itertools.pairwise(starts))
    if starts and (starts[0] != 0.0 or not follow or starts[-1] > 86_400.0):
        raise ValueError("the times must begin at 0:00 and follow one another, up to 24:00.")
    return tuple(rows)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def shown(value: object) -> str:
    text = f"“{value}”" if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:59] + "…"


def iso_date(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if re.fullmatch(r"[0-9-]{10}", text) else None
    except ValueError:
        return None
