"""The one table of rows: file, database, history and form all follow from its cells."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from app.books import BOOKS, check_problems, csv_of, person_problems, read_rows
from app.catalogue import say
from app.db import store
from app.db.session import Session
from app.db.tables import ROWS
from app.sites.changes import Gate
from sim.errors import InputError, InputProblem
from sim.inputs import (
    INSPECTED,
    KEPT,
    NOTED,
    PAST,
    SETS,
    AnyRows,
    CheckItem,
    ClothBook,
    ClothSet,
    Person,
    SiteData,
    StaffBook,
)
from sim.inputs.logbook import DEFAULT_CHECKS
from sim.inputs.rows import Amount, Cell, ClockCell, Day
from tests.answers.test_cloth import BOOK as CLOTH
from tests.answers.test_staff import BOOK as STAFF
from tests.answers.test_weighings import CALLED, NOON, SOAK, SPUN, TWENTY
from tests.answers.test_weighings import NOTED as NOTED_AIR
from tests.log import logged
from tests.small_wash import small_wash

MEASURED = tuple(sorted((NOON, NOTED_AIR, SOAK, SPUN, CALLED, TWENTY)))
FULL = replace(
    small_wash(), weighings=MEASURED, cloth=CLOTH, staff=STAFF, log=logged(), checks=DEFAULT_CHECKS
)
GUIDE = Path("app/guide/site-folder.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("rows", [*KEPT, *NOTED], ids=lambda rows: rows.table)
def test_files_are_as_the_guide_shows_them(rows: AnyRows) -> None:
    """Byte for byte, with every column: people have such files, so none may move or go unsaid."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", GUIDE, re.DOTALL | re.MULTILINE)
    head = ",".join(rows.columns) + "\n"
    (block,) = (block for block in blocks if block.startswith(head))
    found, problems, notes = read_rows(rows, block.encode())
    assert (len(found), problems, notes) == (block.count("\n") - 1, (), ())
    assert csv_of(rows, found) == block


@pytest.mark.parametrize("rows", [*KEPT, *NOTED], ids=lambda rows: rows.table)
def test_files_give_their_rows_back(rows: AnyRows) -> None:
    """To the last bit, with quotes, commas and semicolons in what people write."""
    text = csv_of(rows, rows.of(FULL))
    assert read_rows(rows, text.encode()) == (rows.of(FULL), (), ())


def test_a_row_of_the_history_is_a_row_again() -> None:
    """To the last bit, dates, roles and times away included."""
    for rows in (*KEPT, *PAST, *NOTED):
        for row in rows.of(FULL):
            assert rows.of_plain(rows.plain(row)) == row


def test_every_table_has_the_columns_of_its_cells(session: Session, gate: Gate) -> None:
    """And gives a site's rows back in their order, whatever they hold."""
    made = gate.create_site(FULL, "make")
    for rows in (*KEPT, *PAST):
        place = [] if rows.key else ["position"]
        assert [c.name for c in ROWS[rows].columns] == ["site_id", *place, *rows.cells]
        assert store.load_rows(session, made.site_id, rows) == rows.of(FULL)


def test_every_kind_of_row_is_in_a_book() -> None:
    """So that nothing is stored which nobody checked."""
    assert [rows for book in BOOKS.values() for rows in book.rows] == [*KEPT, *NOTED]


@pytest.mark.parametrize(
    ("cell", "text", "said"),
    [
        (
            Day(),
            "2026-13-01",
            "“2026-13-01” is not a date. Write year-month-day, as in 2026-07-18.",
        ),
        (ClockCell(), "25:00", "“25:00” is not a time of day. Write it as 15:20."),
        (Amount(), "1,5", "“1,5” is not a number."),
        (Cell(unreadable="is odd."), "x", "“x” is odd."),
    ],
)
def test_a_text_that_cannot_be_read_is_told(cell: Cell, text: str, said: str) -> None:
    """Under the column in a file, under its label in a form, with what would be right."""
    named = replace(cell, name="a_b", column="a b", label="Thing")
    if not cell.unreadable:
        with pytest.raises(ValueError, match=text[:2]):
            named.read(text)
    in_form, in_file = named.unread(text), named.unread(text, "f.csv, line 2")
    assert (in_form.field, str(in_form)) == ("a_b", f"Thing {said}")
    assert (in_file.field, str(in_file)) == ("a b", f"f.csv, line 2: a b {said}")


def test_the_order_in_which_rows_were_entered_is_a_change(session: Session, gate: Gate) -> None:
    """Of people and of sets, which have one of their own; told once, by their names."""
    made = gate.create_site(FULL, "make")
    turned = StaffBook(STAFF.people[::-1], STAFF.shifts)
    done = gate.set_book(made.site_id, "staff", turned, made.version, "a")
    gate.set_book(
        made.site_id, "cloth", ClothBook(CLOTH.sets[::-1], CLOTH.events), done.version, "b"
    )
    held = store.get_site(session, made.site_id).data
    assert (held.staff, held.cloth.sets) == (turned, CLOTH.sets[::-1])
    told = store.changes_since(session, made.site_id, made.version)
    assert [(c.what, c.field, c.new) for c in told] == [
        ("cloth", "order", ["B, “second”", "A"]),
        ("staff", "order", ["Abe", "Zoë, “loader”"]),
    ]


def test_a_changed_set_is_one_change_and_a_changed_entry_two(session: Session, gate: Gate) -> None:
    """A set has a name of its own; of an entry one is gone and one is new."""
    made = gate.create_site(FULL, "make")
    sets = (replace(CLOTH.sets[0], bought=date(2026, 5, 1)), CLOTH.sets[1])
    events = tuple(replace(e, torn=4) if e.kind == INSPECTED else e for e in CLOTH.events)
    gate.set_book(made.site_id, "cloth", ClothBook(sets, events), made.version, "a")
    told = store.changes_since(session, made.site_id, made.version)
    assert [(c.field, bool(c.old), bool(c.new)) for c in told] == [
        ("A inspected 2026-07-07 16:00", False, True),
        ("A inspected 2026-07-07 16:00", True, False),
        ("A", True, True),
    ]


def test_too_many_rows_and_names_that_come_twice_are_told(gate: Gate) -> None:
    """Whatever the book; with how many can be kept, and the name."""
    many = tuple(ClothSet(f"S{n}") for n in range(SETS.most + 1))
    for book, said in (
        (ClothBook(many), "201 sets are too many; at most 200 can be kept."),
        (ClothBook((CLOTH.sets[0],) * 2), "There are 2 sets “A”. Give each a name of its own."),
    ):
        with pytest.raises(InputError, match=said):
            gate.create_site(SiteData(small_wash().site, cloth=book), said)


@pytest.mark.parametrize(
    ("problems", "field", "says"),
    [
        (person_problems(Person("Ann", ("loader", "loader"))), "roles", "stands twice"),
        (
            person_problems(Person("Ann", ("loader",), least_h=30.0, most_h=20.0)),
            "least_h",
            "“Ann” has at least 30",
        ),
        (check_problems(CheckItem("", "opening")), "name", "A check needs a name"),
        (check_problems(CheckItem("Belt", "opening", "x" * 2_000)), "how", "The text is too long"),
        (
            check_problems(CheckItem("Belt", "opening", low=1.0, high=2.0)),
            "unit",
            "A range without a unit",
        ),
        (
            check_problems(CheckItem("Belt", "opening", unit="mm", low=2.0, high=1.0)),
            "low",
            "a range from 2",
        ),
    ],
)
def test_rows_that_do_not_fit_in_themselves_are_named(
    problems: Iterable[InputProblem], field: str, says: str
) -> None:
    """Each cell may be as it is, and the row still can't: by its field, with what is meant."""
    (found,) = problems
    assert found.field == field
    assert says in say(found, "si")
