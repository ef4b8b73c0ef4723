"""Tables as CSV and as a spreadsheet: numbers as numbers, dates as dates, text never a formula."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from app.files.csv_table import LIMIT_BYTES, MOST_COLUMNS, MOST_LINES, Written, csv_text

if TYPE_CHECKING:  # slow to load, and few pages have to do with spreadsheets
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

Cell = str | int | float | date | timedelta | None
TITLE_LONGEST = 31
"""Characters that the name of a sheet may have."""
WIDEST = 60


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table.

    Attributes:
        title: at most 31 characters, none of ``[]:*?/\\``.
        heads: of the columns; rows: as long each, None for an empty cell.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def sheet_csv(sheet: Sheet) -> str:
    """A table as CSV: dates as 2026-07-18, times of day as 8:00, numbers with up to ten digits.

    A cell without anything is empty.
    """
    return csv_text(sheet.heads, ([_csv_cell(cell) for cell in row] for row in sheet.rows))


def _csv_cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, date):
        return Written(cell.isoformat())
    if isinstance(cell, timedelta):
        minutes = round(cell / timedelta(minutes=1))
        return Written(f"{minutes // 60}:{minutes % 60:02d}")
    return Written(f"{cell:.10g}")


def workbook(sheets: Sequence[Sheet], made_at: datetime) -> bytes:
    """Tables as a spreadsheet file (Office Open XML), a sheet each, heads frozen.

    Args:
        made_at: the moment that the file says it was made at.
    """
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    book.properties.creator = "Clothcast"
    book.properties.created = book.properties.modified = made_at.replace(tzinfo=None)
    for sheet in sheets:
        page = book.create_sheet(sheet.title[:TITLE_LONGEST])
        page.freeze_panes = "A2"
        for at, head in enumerate(sheet.heads):
            longest = max([len(head), *(len(_csv_cell(row[at])) for row in sheet.rows)])
            page.column_dimensions[get_column_letter(at + 1)].width = min(WIDEST, longest + 2)
        page.append([_text_cell(page, head, bold=True) for head in sheet.heads])
        for row in sheet.rows:
            page.append([_book_cell(page, cell) for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _book_cell(page: WriteOnlyWorksheet, cell: Cell) -> WriteOnlyCell | None:
    if cell is None:
        return None
    if isinstance(cell, str):
        return _text_cell(page, cell)
    from openpyxl.cell import WriteOnlyCell

    made = WriteOnlyCell(page, cell)
    if isinstance(cell, date):
        made.number_format = "yyyy-mm-dd"
    elif isinstance(cell, timedelta):
        made.number_format = "[h]:mm"  # 24:00 stays 24:00
    return made


def _text_cell(page: WriteOnlyWorksheet, said: str, bold: bool = False) -> WriteOnlyCell:
    """A cell of text, whatever it begins with: the library would take “=…” for a formula."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    made = WriteOnlyCell(page, said)
    made.data_type = "s"
    if bold:
        made.font = Font(bold=True)
    return made


# ---- spreadsheets that people bring --------------------------------------------------------------

WORKBOOK = b"PK\x03\x04"
"""How a spreadsheet file (Office Open XML) begins."""
DECLARED = b"<!DOCTYPE"
UNPACKED_BYTES = 60_000_000
"""Bytes of all its parts; 300,000 lines of three cells take half as many."""


def sheet_rows(raw: bytes) -> list[tuple[int, list[str]]] | str:
    """The lines of the first sheet with anything in it, cells as text; or what is wrong.

    A line is its number and its cells; dates and times are written by ISO 8601, a formula is the
    value that was last worked out of it.
    """
    bad = (
        "This is no spreadsheet that can be read. Save the table as CSV, or as a workbook (.xlsx), "
        "and bring that in."
    )
    if len(raw) > LIMIT_BYTES:
        return "The spreadsheet is too large. Save its table as CSV and bring that in by pieces."
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as parts:
            if sum(part.file_size for part in parts.infolist()) > UNPACKED_BYTES:
                return "The spreadsheet is too large. Save its table as CSV, by pieces."
            if any(_declares(parts.read(part)) for part in parts.infolist()):
                return bad
        book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        for sheet in book.worksheets:
            rows: list[tuple[int, list[str]]] = []
            for line, cells in enumerate(sheet.iter_rows(values_only=True), 1):
                if line > MOST_LINES:
                    return "The spreadsheet has too many lines. Bring it in by pieces."
                texts = [_sheet_text(cell) for cell in cells[: 4 * MOST_COLUMNS]]
                if any(texts):
                    rows.append((line, texts))
            if rows:
                return rows
    except Exception:  # the library raises whatever a broken file makes of it
        return bad
    return "The spreadsheet is empty."


def _declares(part: bytes) -> bool:
    """Whether a part of a workbook declares a type of document, and with it names that stand for
    other text or for files elsewhere (XML 1.0, section 2.8). No workbook has one (ECMA-376, part 2,
    section 8.1.4, from memory).

    Of every encoding that the parser knows the bytes of these letters are those of ASCII, if need
    be with zeros between (UTF-16).
    """
    return DECLARED in part or DECLARED in part.replace(b"\0", b"")


def _sheet_text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.isoformat(" ", "seconds")
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        minutes = round(cell / timedelta(minutes=1))
        return f"{minutes // 60}:{minutes % 60:02d}"
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return str(cell).strip()
