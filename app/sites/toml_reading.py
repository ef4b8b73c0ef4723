"""Reads single values of a TOML file and remembers on which line each of them stands."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from app.files.csv_table import PROBLEMS_SHOWN
from sim.checks import or_refusal
from sim.errors import InputError, InputProblem, quoted
from sim.inputs import Entry, Value
from sim.units import BY_NAME, parse_clock, parse_day

Place = tuple[str, int, str]
"""Table ("" at the top), its number among tables of that name, and key ("" the table itself)."""


@dataclass(slots=True)
class Reading:
    """What has been understood so far."""

    file: str
    lines: dict[Place, int]
    problems: list[InputProblem] = field(default_factory=list)

    @property
    def is_enough(self) -> bool:
        """Whether so much is wrong that the rest is looked at once this is mended."""
        return len(self.problems) > PROBLEMS_SHOWN

    def where(self, table: str, number: int, key: str) -> str:
        """File and line of a key, else of its table."""
        places = ((table, number, key), (table, number, ""), ("", 0, table))
        line = next((self.lines[place] for place in places if place in self.lines), None)
        return f"{self.file}, line {line}" if line else self.file

    def add(self, place: Place, name: str, sentence: str, /, **values: object) -> None:
        """Adds a problem about input `name` at a place of the file."""
        self.problems.append(InputProblem(name, sentence, values, self.where(*place)))


def syntax_problem(fault: str, text: str, file: str) -> InputProblem:
    """What is said of a file that is not TOML, from what the parser said of it."""
    match = re.search(r"^(.*?) \(at (?:line (\d+), column \d+|end of document)\)$", fault)
    what = quoted(match.group(1) if match else fault, 120)
    line = match.group(2) if match else None
    at = line or str(text.rstrip("\n").count("\n") + 1)
    sentence = (
        "The file can't be read: {fault}. A line is a name, an equals sign and a value; text "
        "stands in quotation marks, decimals have a point."
    )
    return InputProblem(
        "file", sentence, {"fault": what[:1].lower() + what[1:]}, f"{file}, line {at}"
    )


LIMIT_BYTES = 1_000_000
"""Bytes of a `site.toml`; thirty years of marked days take half as much."""
MOST_POINTS = 32
"""Points between two other marks of a line: the parser's work grows with the square of the parts
of a name, and no name here has more than two."""
_MARKS = str.maketrans(dict.fromkeys(",[]{}#", "="))


def size_problem(text: str, file: str) -> InputProblem | None:
    """What is said of a text that would take long to read; None for any other."""
    if len(text) > LIMIT_BYTES:
        sentence = "The file has {count} characters; at most {most} can be read."
        filling = {"count": f"{len(text):,}", "most": f"{LIMIT_BYTES:,}"}
        return InputProblem("file", sentence, filling, file)
    for at, line in enumerate(text.split("\n"), 1):
        if any(part.count(".") > MOST_POINTS for part in line.translate(_MARKS).split("=")):
            sentence = "“{line}” holds too many points. Write a name and its value on a line."
            return InputProblem("file", sentence, {"line": quoted(line)}, f"{file}, line {at}")
    return None


_TABLE = re.compile(r"\s*\[\[?\s*\"?([A-Za-z0-9_\-]+)\"?\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*\"?([A-Za-z0-9_\-]+)\"?\s*(?:\.\s*\"?([A-Za-z0-9_\-]+)\"?\s*)?=")


def key_lines(text: str) -> dict[Place, int]:
    """Where each table and key stands, found by looking at how lines begin."""
    lines: dict[Place, int] = {}
    table, number = "", 0
    begun: Counter[str] = Counter()
    for at, line in enumerate(text.split("\n"), 1):
        head = _TABLE.match(line)
        if head:
            table = head.group(1)
            number = begun[table]
            begun[table] += 1
            lines[table, number, ""] = at
            continue
        key = _KEY.match(line)
        if key and key.group(2) and table == "":
            lines.setdefault((key.group(1), 0, key.group(2)), at)
        if key:
            lines.setdefault((table, number, key.group(1)), at)
    return lines


def text_of(reading: Reading, place: Place, value: object, default: str) -> str:
    """A text; the default if there is none, or, with its problem noted, something else."""
    if isinstance(value, str):
        return value
    if value is not None:
        sentence = "{name} {value} is not text. Put it in quotation marks."
        reading.add(place, place[2], sentence, name=place[2], value=shown(value))
    return default


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
        open_ = isinstance(value, str) and not value.strip()
        found = row.problems(read) if open_ else row.typed_problems(read)
    if isinstance(value, str) and found:
        found = list(or_refusal(row.name, value, found))
    for p in found:
        reading.problems.append(InputProblem(p.field, p.sentence, p.values, reading.where(*place)))
    return None if found else read


def _shape(row: Entry, value: object) -> Value:
    if isinstance(value, str):
        # With a unit or as a timetable in words if need be.
        return row.parse(value, BY_NAME)
    if row.kind in ("choice", "words"):
        raise ValueError(f"put the {row.kind} in quotation marks.")
    if row.kind == "steps":
        return _steps(value)
    if row.kind == "times":
        if not isinstance(value, list):
            raise ValueError("write a list of seconds, as in [41, 38.5, 52].")
        return tuple(_float(x) for x in value)
    if row.kind == "flag":
        if not isinstance(value, bool):
            raise ValueError("write true or false.")
        return value
    number = _float(value)
    return int(number) if row.kind == "whole" and number.is_integer() else number


def _steps(value: object) -> Value:
    if not isinstance(value, list):
        return ((0.0, _float(value)),)
    rows: list[tuple[float, float]] = []
    for item in value:
        if not isinstance(item, list) or len(item) != 2:
            raise ValueError('write rows of time and value, as in [["0:00", 2], ["11:00", 3]].')
        moment, amount = item
        start = parse_clock(moment) if isinstance(moment, str) else _float(moment)
        rows.append((start, _float(amount)))
    starts = [start for start, _ in rows]
    follow = all(a < b for a, b in itertools.pairwise(starts))
    if starts and (starts[0] != 0.0 or not follow or starts[-1] > 86_400.0):
        raise ValueError("the times must begin at 0:00 and follow one another, up to 24:00.")
    return tuple(rows)


def _float(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("write a number.")
    try:
        return float(value)
    except OverflowError:
        raise ValueError("that is too large a number.") from None


def shown(value: object) -> str:
    """A value as messages repeat it: at most 60 characters, text in quotation marks."""
    return quoted(f"“{value}”" if isinstance(value, str) else str(value), 60)


def iso_date(text: str) -> date | None:
    """A date written year-month-day; None for anything else."""
    try:
        return parse_day(text) if re.fullmatch(r"[0-9-]{10}", text) else None
    except ValueError:
        return None
