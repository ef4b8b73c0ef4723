"""Tables as CSV and as a spreadsheet: numbers as numbers, dates as dates, text never a formula."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from app.files.csv_table import Written, csv_text

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
    made = WriteOnlyCell(page, cell)
    if isinstance(cell, date):
        made.number_format = "yyyy-mm-dd"
    elif isinstance(cell, timedelta):
        made.number_format = "[h]:mm"  # 24:00 stays 24:00
    return made


def _text_cell(page: WriteOnlyWorksheet, said: str, bold: bool = False) -> WriteOnlyCell:
    """A cell of text, whatever it begins with: the library would take “=…” for a formula."""
    made = WriteOnlyCell(page, said)
    made.data_type = "s"
    if bold:
        made.font = Font(bold=True)
    return made
