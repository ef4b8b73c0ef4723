"""People and published rosters: what may be stored, files both ways, the database."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from app.answers.staff import days_of, monday_of
from app.books import BOOKS, csv_of
from app.db import store
from app.db.session import Session
from app.sites.changes import Gate
from app.sites.demo import demo_data, standing_day
from app.sites.folder import read_folder, write_folder
from sim.errors import InputError, InputProblem
from sim.inputs import (
    PEOPLE,
    SHIFTS,
    Away,
    Person,
    PlannedShift,
    Site,
    SiteData,
    StaffBook,
)

DAY = date(2026, 11, 30)
EIGHT, NOON, FOUR = 8 * 3600.0, 12 * 3600.0, 16 * 3600.0
BOOK = StaffBook(
    (
        Person("Zoë, “loader”", ("loader", "finisher"), 20.1, 8.0, 32.5,
               (Away(5), Away(1, 0.0, NOON), Away(date(2026, 12, 2), FOUR, 86400.0))),
        Person("Abe"),
    ),
    (
        PlannedShift(DAY, "Abe", "", EIGHT, FOUR, NOON, NOON + 1800.0),
        PlannedShift(DAY, "Zoë, “loader”", "loader", EIGHT, NOON, NOON, NOON),
    ),
)  # fmt: skip


def staff_problems(book: StaffBook) -> list[InputProblem]:
    """What is wrong with people and shifts."""
    return BOOKS["staff"].problems(SiteData(Site("Wash"), staff=book))


def read_staff(
    people: bytes | None, shifts: bytes | None
) -> tuple[StaffBook, tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """People and shifts of their files, what is wrong with them, and notes."""
    files = {PEOPLE.file: people, SHIFTS.file: shifts}
    data, problems, notes = BOOKS["staff"].read(files, SiteData(Site("Wash")))
    return data.staff, problems, notes


def test_files_are_lossless() -> None:
    """What is written is read again to the last bit, in the same order."""
    read = read_staff(csv_of(PEOPLE, BOOK.people).encode(), csv_of(SHIFTS, BOOK.shifts).encode())
    assert read == (BOOK, (), ())


def test_folder_is_lossless(tmp_path: Path) -> None:
    """A folder holds the files where there is something to hold, and gives the same site."""
    data = SiteData(Site("Wash"), staff=BOOK)
    write_folder(tmp_path, data)
    assert read_folder(tmp_path).staff == BOOK
    write_folder(tmp_path / "none", SiteData(Site("Wash")))
    assert not (tmp_path / "none" / "people.csv").exists()
    write_folder(tmp_path, SiteData(Site("Wash")))
    assert read_folder(tmp_path).staff == StaffBook()


def test_database_and_history(gate: Gate, session: Session) -> None:
    """The gate stores a book, the history tells who changed, and the book comes back."""
    made = gate.create_site(SiteData(Site("Wash"), staff=BOOK), "one")
    assert store.get_site(session, made.site_id).data.staff == BOOK
    fewer = StaffBook(BOOK.people[1:], BOOK.shifts[:1])
    done = gate.set_book(made.site_id, "staff", fewer, made.version, "two")
    assert store.get_site(session, made.site_id).data.staff == fewer
    told = [
        c
        for c in store.changes_since(session, made.site_id, made.version)
        if c.version == done.version
    ]
    fields = {c.field for c in told}
    assert fields == {"Zoë, “loader”", "Zoë, “loader” 2026-11-30"}
    assert {c.what for c in told} == {"staff", "shift"}
    assert all(c.new is None for c in told)


@pytest.mark.parametrize(
    ("person", "said"),
    [
        (Person(""), "“” can’t be used"),
        (Person("=A"), "“=A” can’t be used"),
        (Person("A", ("x", "x")), "A role of “A” stands twice"),
        (Person("A", wage_per_h=-1.0), "wage_per_h of “A” is −1. Enter 0 to 200."),
        (Person("A", most_h=float("nan")), "most_h of “A” is –. Enter 0 to 80."),
        (Person("A", least_h=30.0, most_h=20.0), "at least 30.0 and at most 20.0 hours"),
        (Person("A", away=(Away(7),)), "“A” is away on 7 from 0:00 to 24:00. Give a weekday"),
        (Person("A", away=(Away(1, NOON, EIGHT),)), "“A” is away on 1 from 12:00 to 8:00"),
    ],
)
def test_bad_people_are_named(person: Person, said: str) -> None:
    """Each fault of a person has its sentence, and the gate takes none of them."""
    assert any(said in str(problem) for problem in staff_problems(StaffBook((person,))))


def test_bad_books_are_refused(gate: Gate) -> None:
    """Two people of one name, two shifts of one person a day, a shift that ends too early."""
    twice = StaffBook((Person("A"), Person("A")))
    shift = PlannedShift(DAY, "A", "", FOUR, EIGHT, EIGHT, EIGHT)
    for book, said in (
        (twice, "There are 2 people “A”"),
        (StaffBook((), (shift, shift)), "“A” has 2 shifts on 2026-11-30"),
        (StaffBook((), (shift,)), "The shift of “A” on 2026-11-30, 16:00 to 8:00, can’t be"),
    ):
        with pytest.raises(InputError, match=said):
            gate.create_site(SiteData(Site("Wash"), staff=book), said)


@pytest.mark.parametrize(
    ("people", "rosters", "said"),
    [
        (b"roles\nx\n", None, "people.csv: No column gives name"),
        (b"name,away\nA,someday\n", None, "people.csv, line 2: away “someday” can’t be read"),
        (b"name,most_h\nA,many\n", None, "people.csv, line 2: most_h “many” is not a number"),
        (None, b"date,name,start,end\n2026-11-30,A,8:00,noon\n", "end “noon” is not a time"),
        (None, b"date,name,start,end\nMonday,A,8:00,12:00\n", "date “Monday” is not a date"),
    ],
)
def test_bad_lines_are_named(people: bytes | None, rosters: bytes | None, said: str) -> None:
    """A bad line is named with file, line, value and what would be right."""
    _, problems, _ = read_staff(people, rosters)
    assert said in "; ".join(map(str, problems))


def test_away_is_read_as_people_write_it() -> None:
    """Weekdays by their first letters in any case, dates, and times with either dash."""
    assert Away.read("Saturday") == Away(5)
    assert Away.read("tue 0:00–12:00") == Away(1, 0.0, NOON)
    assert Away.read("2026-12-02 16-24") == Away(date(2026, 12, 2), FOUR, 86400.0)
    with pytest.raises(ValueError, match="tue 12"):
        Away.read("tue 12")


def test_the_demo_has_people() -> None:
    """The demo site has people of its own, invented, and shifts of theirs in the week in which it
    always stands."""
    data = demo_data()
    names = {person.name for person in data.staff.people}
    assert len(names) >= 6
    monday = monday_of(standing_day(data))
    assert {shift.day for shift in data.staff.shifts} == set(days_of(monday))
    assert {shift.name for shift in data.staff.shifts} <= names
