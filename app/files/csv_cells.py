"""Cells of CSV files, out and in again: no text that goes out is a formula, and all comes back.

A spreadsheet takes a cell for a formula by its first letter. Which letters those are, and that an
apostrophe before them makes it text, follows OWASP, Application Security Verification Standard 5.0,
1.2.10, and the page CSV Injection; letters of double width count as those that they stand for.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable, Sequence

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
