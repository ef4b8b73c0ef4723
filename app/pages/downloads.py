"""Files that a page offers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fastapi.responses import Response

from app.files.sheets import Sheet, sheet_csv, workbook

SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def file_answer(content: bytes, name: str, kind: str) -> Response:
    """A file to be kept under a name."""
    return Response(
        content,
        media_type=kind,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def csv_file(text: str, name: str) -> Response:
    """A text as a CSV file."""
    # The mark at the front tells spreadsheets that the file is UTF-8.
    return file_answer(f"\ufeff{text}".encode(), name, "text/csv; charset=utf-8")


def csv_answer(sheet: Sheet, name: str) -> Response:
    """A table as CSV."""
    return csv_file(sheet_csv(sheet), name)


def book_answer(sheets: Sequence[Sheet], made_at: datetime, name: str) -> Response:
    """Tables as a spreadsheet."""
    return file_answer(workbook(sheets, made_at), name, SPREADSHEET)


def calendar_answer(content: bytes, name: str) -> Response:
    """A calendar file."""
    return file_answer(content, name, "text/calendar; charset=utf-8")
