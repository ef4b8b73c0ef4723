"""Spreadsheets and CSV: numbers, dates and text stay what they are, and no text is a formula."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import UTC, date, datetime

import openpyxl
import pytest

from app.files.csv_table import as_text
from app.files.sheets import UNPACKED_BYTES, Sheet, sheet_csv, sheet_rows, workbook

NOW = datetime(2026, 7, 18, 12, tzinfo=UTC)
EVIL = ("=1+1", "+1", "-2", "@SUM(A1)", "\tx", '=HYPERLINK("http://x","y")')
SHEET = Sheet(
    "Days",
    ("Day", "Cars", "Share", "=Words"),
    (
        (date(2026, 7, 18), 12, 0.123456789012, "Größe, „ja“"),
        (date(2026, 11, 1), -3, None, "=1+1"),
    ),
)


def test_a_spreadsheet_opens_with_the_types_that_went_in() -> None:
    """Numbers are numbers to the last bit, dates dates, text text; what is empty is empty; a text
    that looks like a formula is text."""
    book = openpyxl.load_workbook(io.BytesIO(workbook([SHEET], NOW)))
    page = book["Days"]
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    assert rows[0] == ["Day", "Cars", "Share", "=Words"]
    assert rows[1] == [datetime(2026, 7, 18), 12, 0.123456789012, "Größe, „ja“"]  # noqa: DTZ001 - no zone there
    assert rows[2] == [datetime(2026, 11, 1), -3, None, "=1+1"]  # noqa: DTZ001 - a cell has no time zone
    assert [cell.is_date for cell in page["A"][1:]] == [True, True]
    assert [cell.data_type for cell in page["B"][1:]] == ["n", "n"]
    assert {cell.data_type for cell in page["D"]} == {"s"}


@pytest.mark.parametrize("text", EVIL)
def test_no_text_becomes_a_formula(text: str) -> None:
    """In a spreadsheet such text is a string, as head and as cell; in CSV it is set behind an
    apostrophe."""
    book = openpyxl.load_workbook(
        io.BytesIO(workbook([Sheet("One", (text,), ((text,),))], NOW)), data_only=False
    )
    assert [cell.data_type for cell in book["One"]["A"]] == ["s", "s"]
    assert as_text(text) == f"'{text}"
    lines = list(csv.reader(io.StringIO(sheet_csv(Sheet("One", (text,), ((text,),))))))
    assert lines == [[f"'{text}"], [f"'{text}"]]


def test_csv_has_iso_dates_and_plain_numbers() -> None:
    """Dates as 2026-07-18, numbers with a point, nothing where nothing is; a negative number stays
    a number."""
    lines = list(csv.reader(io.StringIO(sheet_csv(SHEET))))
    assert lines[1] == ["2026-07-18", "12", "0.123456789", "Größe, „ja“"]
    assert lines[2] == ["2026-11-01", "-3", "", "'=1+1"]


def test_the_same_tables_make_the_same_spreadsheet() -> None:
    """Nothing of the moment of writing is in it but what it was told."""
    one, two = workbook([SHEET], NOW), workbook([SHEET], NOW)
    first, second = (openpyxl.load_workbook(io.BytesIO(raw)) for raw in (one, two))
    assert first.properties.created == second.properties.created


def test_what_unpacks_to_too_much_is_refused() -> None:
    """A workbook of a few kilobytes that would unpack to more than may be read is refused by what
    its list of parts says, before any part is."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", bytes(UNPACKED_BYTES + 1))
    raw = made.getvalue()
    assert len(raw) < UNPACKED_BYTES // 500
    assert sheet_rows(raw) == "The spreadsheet is too large. Save its table as CSV, by pieces."


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "latin-1"])
def test_a_workbook_that_declares_names_of_its_own_is_refused(encoding: str) -> None:
    """A part with a type of document (XML 1.0, section 2.8), whose entities would else be filled
    in, is not read, whatever it is written in; the same part without one is."""

    def book(declared: str, said: str) -> bytes:
        made = io.BytesIO()
        with (
            zipfile.ZipFile(io.BytesIO(workbook([SHEET], NOW))) as old,
            zipfile.ZipFile(made, "w") as new,
        ):
            for name in old.namelist():
                part = old.read(name)
                if b"Cars" in part:
                    text = part.decode().replace("Cars", said)
                    body = text[text.index("?>") + 2 :] if text.startswith("<?xml") else text
                    body = body.replace("Größe, „ja“", "-")  # not every encoding has it
                    head = f'<?xml version="1.0" encoding="{encoding}"?>'
                    part = f"{head}{declared}{body}".encode(encoding)
                new.writestr(name, part)
        return made.getvalue()

    plain, filled = book("", "Cars"), book('<!DOCTYPE one [<!ENTITY e "Filled">]>', "&e;")
    assert sheet_rows(plain)[0] == (1, ["Day", "Cars", "Share", "=Words"])
    library = openpyxl.load_workbook(io.BytesIO(filled))
    assert library["Days"]["B1"].value == "Filled", "the library alone would take it"
    assert "no spreadsheet that can be read" in sheet_rows(filled)
