"""What goes out as CSV comes in again, and no cell of it is a formula to a spreadsheet."""

from __future__ import annotations

import csv
import io
import unicodedata
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.files.csv_table import Written, as_text, as_typed, csv_text, read_table
from app.sites.folder import read_folder, write_folder
from sim.inputs import ClothBook, ClothSet, Person, PlannedShift, StaffBook
from tests.architecture import modules
from tests.small_wash import small_wash

NAMES = (
    "@Anna", "+cmd|' /C calc'!A0", "=1+1", "-Bo", "＝1+1", "＠Cy", "'=1+1", "''@x", "'Dee",
    "Eve", "﹢1+1x", "O'Neil",
)  # fmt: skip


def starts_a_formula(cell: str) -> bool:
    """By OWASP, ASVS 5.0, 1.2.10 (= + - @ tab, null) and its page CSV Injection (CR, LF, and the
    letters of double width)."""
    first = unicodedata.normalize("NFKC", cell.lstrip(" ")[:1])
    return first != "" and first in "=+-@\t\r\n\0"


def is_number(cell: str) -> bool:
    """Whether a cell is a plain number, which may have a sign."""
    try:
        float(cell)
    except ValueError:
        return False
    return True


@given(st.text(st.characters(exclude_categories=["Cs"])) | st.sampled_from(NAMES))
def test_a_text_goes_out_as_no_formula_and_comes_back(said: str) -> None:
    """Whatever a text holds, its cell begins no formula and is read as the same text."""
    assert not starts_a_formula(as_text(said))
    assert as_typed(as_text(said)) == said
    ((cell,), (again,)) = list(csv.reader(io.StringIO(csv_text([said], [[said]]), newline="")))
    assert cell == again == as_text(said)


def test_numbers_dates_and_words_stay_as_they_are() -> None:
    """A number keeps its sign, and nothing is put before what no spreadsheet computes."""
    cells = (-3, -0.5, Written("-1.5e-05"), date(2026, 7, 18), "8:00", None, "a", "O'Neil")
    assert csv_text(["x"], [cells]) == "x\r\n-3,-0.5,-1.5e-05,2026-07-18,8:00,,a,O'Neil\r\n"


def test_a_site_with_any_names_comes_back_from_its_folder(tmp_path: Path) -> None:
    """People, roles, sets and shifts called like formulas are exported safely and read again."""
    day = date(2026, 7, 13)
    names = tuple(name for name in NAMES if name[0] != "=")  # which nothing may be called
    people = tuple(Person(name, roles=("loader",)) for name in names)
    hours = (28800.0, 43200.0, 43200.0, 43200.0)
    shifts = tuple(PlannedShift(day, name, "loader", *hours) for name in names)
    staff = StaffBook(people, shifts).in_order()
    cloth = ClothBook(tuple(ClothSet(name) for name in names), ())
    data = replace(small_wash(), staff=staff, cloth=cloth)
    write_folder(tmp_path / "out", data)
    for path in (tmp_path / "out").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not [c for c in cells if starts_a_formula(c) and not is_number(c)], path.name
    again = read_folder(tmp_path / "out")
    assert again.staff.in_order() == staff
    assert {one.name for one in again.cloth.sets} == set(names)


@pytest.mark.parametrize("cell", ["=SUM(A1)", "@SUM(A1)", "＝SUM(A1)", "﹦SUM(A1)", "＠SUM(A1)"])
def test_a_formula_in_a_file_is_refused_with_what_would_be_right(cell: str) -> None:
    """Also one whose mark has double width; its value or an apostrophe is asked for."""
    table = read_table(f"name\n{cell}\n'{cell}\n".encode(), "people.csv", ("name",))
    rows = list(table.rows)
    (problem,) = table.problems
    assert str(problem).startswith(f"people.csv, line 2: name “{cell}” is a formula.")
    assert "has an apostrophe before it" in str(problem)
    assert [row.cells["name"] for row in rows] == [cell]


def test_one_function_writes_every_cell() -> None:
    """No other module writes CSV through the library, past the rule for formulas."""
    writing = {module.name for module in modules() if "csv.writer(" in module.text}
    assert writing == {"app.files.csv_table"}
