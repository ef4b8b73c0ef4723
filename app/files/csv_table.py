"""CSV as people's programs write it: no cell a formula, tables of named cells, no traceback."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Self

from sim.errors import InputProblem, nearest, quoted

FORMULA_MARKS = "=+-@"
"""What begins a formula."""
CONTROLS = "\t\r\n\0"
"""What a spreadsheet may drop or end a cell at, so that what follows is the beginning."""
APOSTROPHE = "'"


class Written(str):
    """A cell that the program wrote itself, such as a number with its sign; no text of anybody."""

    __slots__ = ()


def is_formula(text: str) -> bool:
    """Whether a spreadsheet may take a text for a formula."""
    if text[:1] in CONTROLS:
        return text != ""
    begun = unicodedata.normalize("NFKC", text.lstrip()[:1])
    return begun != "" and begun in FORMULA_MARKS


def as_text(said: str) -> str:
    """A text as a cell that no spreadsheet takes for a formula; `as_typed` is the way back."""
    return APOSTROPHE + said if is_formula(said.lstrip(APOSTROPHE)) else said


def as_typed(cell: str) -> str:
    """The text of a cell, without the apostrophe that `as_text` put before it."""
    is_text = cell.startswith(APOSTROPHE) and is_formula(cell.lstrip(APOSTROPHE))
    return cell[1:] if is_text else cell


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]], line_end: str = "\r\n") -> str:
    """The text of a CSV file (RFC 4180): None is an empty cell, a text is never a formula.

    Numbers and dates are written as they are, and so is what is `Written`.
    """
    out = io.StringIO(newline="")
    write = csv.writer(out, lineterminator=line_end).writerow
    write([as_text(name) for name in head])
    for row in rows:
        write([as_text(cell) if type(cell) is str else cell for cell in row])
    return out.getvalue()


def table_csv(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as CSV for people's programs: numbers to six digits, what holds as yes or no."""
    return csv_text(head, (list(map(_cell, row)) for row in rows))


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return Written(f"{value:.6g}") if isinstance(value, float) else value


LIMIT_BYTES = 5_000_000
MOST_LINES = 300_000
MOST_COLUMNS = 50
"""No file of hours needs more: 34 years; a few columns. Keeps nonsense from taking minutes."""
PROBLEMS_SHOWN = 100
"""Problems of one file that are listed; the rest is counted, a page can't use more."""

_MAGIC = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a spreadsheet or archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document"),
)
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_DATE = re.compile(r"\s*\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One line of the file: its number (the first is 1) and its cells by column, stripped."""

    line: int
    cells: dict[str, str]


class Problems(list[InputProblem]):
    """Problems in the order of their lines: the first ones are kept, the rest is only counted.

    Attributes:
        left_out: how many more there were.
    """

    def __init__(self) -> None:
        super().__init__()
        self.left_out = 0

    def append(self, problem: InputProblem) -> None:
        """Keeps a problem if there are not too many yet."""
        if len(self) < 2 * PROBLEMS_SHOWN:
            super().append(problem)
        else:
            self.left_out += 1

    # the stubs say a list's own twice over, as this one can't; it takes what that takes, one by one
    def __iadd__(self, problems: Iterable[InputProblem]) -> Self:  # type: ignore[override,misc]
        for problem in problems:
            self.append(problem)
        return self


@dataclass(slots=True)
class CsvTable:
    """What a CSV file held.

    Attributes:
        columns: names of the first line, lower case.
        rows: lines that have as many cells as there are columns, read as they are asked for, once;
            `problems` is complete when they are.
        decimal_comma: whether a comma may stand for the decimal point (cells are then parted by
            semicolons or tabs).
        problems: what is wrong with the file or with single lines.
        notes: what a reader should know.
    """

    columns: tuple[str, ...] = ()
    rows: Iterator[CsvRow] = iter(())
    decimal_comma: bool = False
    problems: Problems = field(default_factory=Problems)
    notes: list[InputProblem] = field(default_factory=list)

    @property
    def is_broken(self) -> bool:
        """Whether its first line is amiss, so that a missing column is no news."""
        return any(p.field == "header" for p in self.problems)


def too_large(size_bytes: int, file: str) -> InputProblem:
    """What is said of a file above `LIMIT_BYTES`."""
    sentence = (
        "The file has {size} MB; at most {limit} MB can be read. Ten years of hours take about "
        "2 MB: leave out other columns or bring in a few years at a time."
    )
    filling = {"size": f"{size_bytes / 1e6:.1f}", "limit": f"{LIMIT_BYTES / 1e6:g}"}
    return InputProblem("file", sentence, filling, file)


def shortened(problems: Sequence[InputProblem], file: str) -> tuple[InputProblem, ...]:
    """At most `PROBLEMS_SHOWN` problems by line, the last saying how many more there are."""
    left_out = problems.left_out if isinstance(problems, Problems) else 0
    problems = sorted(problems, key=line_of)
    if len(problems) <= PROBLEMS_SHOWN:
        return tuple(problems)
    rest = InputProblem(
        "file",
        "Further lines with problems: {count}. Mend those named first, then bring the file in "
        "again.",
        {"count": f"{len(problems) - PROBLEMS_SHOWN + left_out:,}"},
        file,
    )
    return (*problems[:PROBLEMS_SHOWN], rest)


def line_of(problem: InputProblem) -> int:
    """The line of a file that a problem is about; 0 for the file as a whole."""
    match = re.search(r" line (\d+)$", problem.where)
    return int(match.group(1)) if match else 0


def read_table(raw: bytes, file: str, known: Sequence[str]) -> CsvTable:
    """The rows of a CSV file with a line of column names (RFC 4180).

    Accepted besides: semicolons or tabs between cells (then with decimal commas), a byte-order
    mark, UTF-16 with one, and Latin-1, which is noted. Blank lines are passed over. Columns that
    are not in `known` are problems that name the nearest; a column ``note`` is let be.

    Args:
        raw: the whole file.
        file: its name, for messages.
        known: names a column may have.
    """
    table = CsvTable()
    text = decode(raw, file, table)
    if text is None:
        return table
    first = text.lstrip().partition("\n")[0]
    delimiter = next((mark for mark in ";\t" if mark in first), ",")
    table.decimal_comma = delimiter != ","
    if too_many_lines(text, file, table):
        return table
    lines = lines_of(text, delimiter, file, table)
    line, header = next(lines, (0, []))
    if not header:
        return table
    table.columns = tuple(cell.strip().lower() for cell in header)
    table.problems += _header_problems(table.columns, known, f"{file}, line {line}")
    if table.is_broken:
        return table
    if "note" in table.columns:
        sentence = "The column “note” is not stored; mark closed days and events by date instead."
        table.notes.append(InputProblem("note", sentence, {}, file))
    table.rows = _rows(table, lines, file)
    return table


def _problem(table: CsvTable, sentence: str, where: str, **values: object) -> None:
    table.problems.append(InputProblem("file", sentence, values, where))


def too_many_lines(text: str, file: str, table: CsvTable) -> bool:
    """Whether a text has more than `MOST_LINES`; then with its problem."""
    if max(text.count("\n"), text.count("\r")) <= MOST_LINES:
        return False
    sentence = "The file has more than {most} lines. Bring it in by pieces."
    _problem(table, sentence, file, most=f"{MOST_LINES:,}")
    return True


def decode(raw: bytes, file: str, table: CsvTable) -> str | None:
    """The text of a file; None, with its problem, for what is no text. What is worth knowing of
    how it was read is noted."""
    if len(raw) > LIMIT_BYTES:
        table.problems.append(too_large(len(raw), file))
        return None
    for magic, what in _MAGIC:
        if raw.startswith(magic):
            sentence = "This is {what}, not a CSV file. Save the table as CSV and bring that in."
            _problem(table, sentence, file, what=what)
            return None
    text = None
    # two bytes a character, and no mark that says so: every other byte of plain text is zero
    for codec, zeros in (("utf-16-le", raw[1:400:2]), ("utf-16-be", raw[0:400:2])):
        is_marked = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
        if not is_marked and len(zeros) > 3 and zeros.count(0) > 0.8 * len(zeros):
            raw = b"\xff\xfe" + raw.decode(codec, "replace").encode("utf-16-le")
    for codec, mark in (("utf-16", (b"\xff\xfe", b"\xfe\xff")), ("utf-8-sig", (b"",))):
        if raw.startswith(mark):
            try:
                text = raw.decode(codec)
                break
            except UnicodeDecodeError:
                continue
    if text is None:
        text = raw.decode("latin-1")
        sentence = (
            "The file is not UTF-8 and was read as Latin-1. Numbers and dates are the same in "
            "both; look at letters with accents."
        )
        table.notes.append(InputProblem("file", sentence, {}, file))
    if _CONTROL.search(text):
        table.notes.clear()
        sentence = (
            "The file holds bytes that no text has; it looks like a picture or a program’s own "
            "file under another name. Save the table as CSV and bring that in."
        )
        _problem(table, sentence, file)
        return None
    if not text.strip():
        sentence = "The file is empty. Its first line must name the columns."
        _problem(table, sentence, file)
        return None
    return text


def lines_of(
    text: str, delimiter: str, file: str, table: CsvTable
) -> Iterator[tuple[int, list[str]]]:
    """Each line with something in it: the number of the line it starts on, and stripped cells."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                yield start, stripped
            start = reader.line_num + 1
    except csv.Error as fault:
        sentence = (
            "A cell of this line is longer than any number or date, so nothing after it could be "
            "read. Look for a quotation mark that is not closed."
        )
        if "limit" not in str(fault):
            sentence = (
                "The quotation marks of this line do not pair up, so nothing after it could be "
                "read. A quotation mark inside a quoted cell is written twice."
            )
        _problem(table, sentence, f"{file}, line {start}")


def _header_problems(
    columns: tuple[str, ...], known: Sequence[str], where: str
) -> list[InputProblem]:
    if len(columns) > MOST_COLUMNS:
        sentence = "The first line names {count} columns; at most {most} can be. Keep those needed."
        filling = {"count": f"{len(columns):,}", "most": MOST_COLUMNS}
        return [InputProblem("header", sentence, filling, where)]
    if any(_DATE.match(name) for name in columns):
        sentence = (
            "The first line holds a date, so it names no columns. Put a line of names above it: "
            "{known}."
        )
        return [InputProblem("header", sentence, {"known": ", ".join(known)}, where)]
    problems: list[InputProblem] = []
    for position, name in enumerate(columns, 1):
        if not name:
            sentence = "Column {position} has no name. Name it or leave it out."
            problems.append(InputProblem("header", sentence, {"position": position}, where))
        elif columns.index(name) != position - 1:
            sentence = "The column “{name}” is there twice. Leave one out."
            problems.append(InputProblem("header", sentence, {"name": quoted(name)}, where))
        elif name not in known and name != "note":
            near = nearest(name, known)
            sentence = "“{name}” is not a column of this file; it may have {known}."
            if near:
                sentence = "“{name}” is not a column of this file. Did you mean {near}?"
            filling = {
                "name": quoted(name),
                "known": ", ".join(known),
                "near": near[0] if near else "",
            }
            problems.append(InputProblem("header", sentence, filling, where))
    return problems


def _rows(table: CsvTable, lines: Iterator[tuple[int, list[str]]], file: str) -> Iterator[CsvRow]:
    """The good ones among lines."""
    for line, cells in lines:
        row = _row(table, line, cells, file)
        if row is not None:
            yield row


def _row(table: CsvTable, line: int, cells: list[str], file: str) -> CsvRow | None:
    while len(cells) > len(table.columns) and not cells[-1]:
        cells.pop()
    if len(cells) != len(table.columns):
        where = f"{file}, line {line}"
        sentence = "This line has {count} cells, the first line names {columns} columns."
        if len(cells) > len(table.columns) and not table.decimal_comma:
            sentence += (
                " With commas between cells write decimals with a point, as in 21.5; or put "
                "semicolons between cells."
            )
        _problem(table, sentence, where, count=len(cells), columns=len(table.columns))
        return None
    if all(cell[:1].isalnum() for cell in cells):  # as nearly all are: then none is a formula
        return CsvRow(line, dict(zip(table.columns, cells, strict=True)))
    for name, cell in zip(table.columns, cells, strict=True):
        if name != "note" and is_formula(cell) and unicodedata.normalize("NFKC", cell)[0] in "=@":
            sentence = (
                "{field} “{value}” is a formula. Save the table with its values, not its formulas. "
                "A text that begins so has an apostrophe before it."
            )
            filling = {"field": name, "value": quoted(cell)}
            where = f"{file}, line {line}"
            table.problems.append(InputProblem(name, sentence, filling, where))
            return None
    typed = map(as_typed, cells)
    return CsvRow(line, dict(zip(table.columns, typed, strict=True)))
