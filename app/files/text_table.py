"""A file that holds a table as lines of text: CSV however its cells are parted, spreadsheets."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass, field

from app.files.csv_table import CsvTable, as_typed, decode, lines_of, too_many_lines
from app.files.sheets import WORKBOOK, sheet_rows
from sim.errors import InputProblem

MARKS = ";\t,|"
"""What may part cells."""
LOOKED_AT = 60
"""Lines by which the mark is told."""


@dataclass(slots=True)
class TextTable:
    """A table as it stands in a file.

    Attributes:
        name: of the file, for messages.
        rows: number of the line (the first is 1) and its cells, stripped; blank lines left out.
        problems, notes: what is wrong with the file, and what a reader should know.
    """

    name: str
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    problems: list[InputProblem] = field(default_factory=list)
    notes: list[InputProblem] = field(default_factory=list)


def text_table(raw: bytes, name: str) -> TextTable:
    """The lines of a file; nothing in it raises."""
    if raw.startswith(WORKBOOK):
        found = sheet_rows(raw)
        if isinstance(found, str):
            return TextTable(name, problems=[InputProblem("file", found, {}, name)])
        rows = [(line, [_typed(cell) for cell in cells]) for line, cells in found]
        return TextTable(name, rows)
    told = CsvTable()
    text = decode(raw, name, told)
    rows = []
    if text is not None and not too_many_lines(text, name, told):
        mark = _mark(text)
        rows = [
            (line, [_typed(cell) for cell in cells])
            for line, cells in lines_of(text, mark, name, told)
        ]
    return TextTable(name, rows, list(told.problems), list(told.notes))


def _typed(cell: str) -> str:
    """A cell without what keeps a spreadsheet from making something else of it."""
    if cell.startswith('="') and cell.endswith('"'):
        return cell[2:-1].strip()
    return as_typed(cell)


def _mark(text: str) -> str:
    """The mark that parts most lines into the same number of cells."""
    lines = [line for line in text[:100_000].splitlines() if line.strip()][:LOOKED_AT]

    def score(mark: str) -> tuple[int, int]:
        reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=mark)
        try:
            widths = Counter(len(cells) for cells in reader)
        except csv.Error:
            return 0, 0
        width, times = max(widths.items(), key=lambda item: (item[0] > 1, item[1]))
        return (times, width) if width > 1 else (0, 0)

    return max(MARKS, key=score)
