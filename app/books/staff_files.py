"""People and published rosters as two CSV files: read with every bad line named, and written."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from app.books.cloth_files import amount_of, day_of_cell, read_items
from app.books.staff_checks import person_problems, shift_problems, staff_problems
from app.files.csv_table import Row, Table, csv_text
from sim.errors import InputProblem, quoted
from sim.inputs import Away, Person, PlannedShift, StaffBook
from sim.units import parse_clock, parse_day, show_clock

PEOPLE_FILE, ROSTERS_FILE = "people.csv", "rosters.csv"
PEOPLE_COLUMNS = ("name", "roles", "wage_per_h", "least_h", "most_h", "away")
ROSTER_COLUMNS = ("date", "name", "role", "start", "end", "break_start", "break_end")
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_S = 86400.0
Problems = list[InputProblem]


def people_csv(book: StaffBook) -> str:
    """The text of a file of people, from which the same ones are read to the last bit."""
    rows = (
        (
            p.name, "; ".join(p.roles), float(p.wage_per_h), float(p.least_h),
            float(p.most_h), "; ".join(away_text(away) for away in p.away),
        )
        for p in book.people
    )  # fmt: skip
    return csv_text(PEOPLE_COLUMNS, rows, "\n")


def rosters_csv(book: StaffBook) -> str:
    """The text of a file of published shifts."""
    rows = (
        (
            s.day, s.name, s.role, show_clock(s.start_s), show_clock(s.end_s),
            *(("", "") if s.break_start_s == s.break_end_s
              else (show_clock(s.break_start_s), show_clock(s.break_end_s))),
        )
        for s in book.shifts
    )  # fmt: skip
    return csv_text(ROSTER_COLUMNS, rows, "\n")


def away_text(away: Away) -> str:
    """As people write it: ``sat``, ``tue 0:00-12:00`` or ``2026-07-18``."""
    when = away.when.isoformat() if isinstance(away.when, date) else WEEKDAYS[away.when]
    if (away.from_s, away.to_s) == (0.0, DAY_S):
        return when
    return f"{when} {_clock(away.from_s)}-{_clock(away.to_s)}"


def _clock(seconds: float) -> str:
    return "24:00" if seconds == DAY_S else show_clock(seconds)


def read_away(text: str) -> Away:
    """The reverse of `away_text`; raises ValueError for anything else."""
    word, _, span = text.strip().partition(" ")
    day: int | date
    if word.lower()[:3] in WEEKDAYS and word.isalpha():
        day = WEEKDAYS.index(word.lower()[:3])
    else:
        day = parse_day(word)
    if not span.strip():
        return Away(day)
    start, dash, end = span.replace("–", "-").partition("-")
    if not dash:
        raise ValueError(text)
    return Away(day, parse_clock(start.strip()), parse_clock(end.strip()))


def read_staff(
    people_raw: bytes | None, rosters_raw: bytes | None
) -> tuple[StaffBook, tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """People and published shifts from two CSV files, either of which may be missing.

    ``people.csv``: ``name`` and, where they apply, ``roles`` and ``away`` (several parted by
    semicolons), ``wage_per_h``, ``least_h``, ``most_h``. ``rosters.csv``: ``date``, ``name``,
    ``start``, ``end`` and, where they apply, ``role``, ``break_start``, ``break_end``.

    Returns:
        The good lines, every problem with file and line, and notes; nothing raises.
    """
    people, bad_people, people_notes = read_items(
        people_raw, PEOPLE_FILE, PEOPLE_COLUMNS, PEOPLE_COLUMNS[:1], _person, person_problems
    )
    needed = ("date", "name", "start", "end")
    shifts, bad_shifts, shift_notes = read_items(
        rosters_raw, ROSTERS_FILE, ROSTER_COLUMNS, needed, _shift, shift_problems
    )
    book = StaffBook(tuple(people), tuple(shifts)).in_order()
    problems = [*bad_people, *bad_shifts]
    if not problems:
        problems = [replace(p, where=PEOPLE_FILE) for p in staff_problems(book)]
    return book, tuple(problems), (*people_notes, *shift_notes)


def _person(row: Row, table: Table, where: str, problems: Problems) -> Person:
    usual = Person("")
    numbers = {
        name: amount_of(name, row, table, "number", where, problems)
        for name in ("wage_per_h", "least_h", "most_h")
    }
    given = {name: value for name, value in numbers.items() if value is not None}
    away = []
    for text in _parts(row.cells.get("away", "")):
        try:
            away.append(read_away(text))
        except ValueError:
            sentence = (
                "away “{value}” can’t be read. Write sat, tue 0:00-12:00 or 2026-07-18, several "
                "parted by semicolons."
            )
            problems.append(InputProblem("away", sentence, {"value": quoted(text)}, where))
    roles = tuple(_parts(row.cells.get("roles", "")))
    return replace(usual, name=row.cells["name"], roles=roles, away=tuple(away), **given)


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def _shift(row: Row, table: Table, where: str, problems: Problems) -> PlannedShift:
    cells = row.cells
    day = day_of_cell("date", cells["date"], where, problems)
    times: dict[str, float] = {}
    for name in ("start", "end", "break_start", "break_end"):
        text = cells.get(name, "") or (cells["end"] if name.startswith("break") else "")
        try:
            times[name] = parse_clock(text)
        except ValueError:
            sentence = "{name} “{value}” is not a time of day. Write it as 15:30."
            filling = {"name": name, "value": quoted(text)}
            problems.append(InputProblem(name, sentence, filling, where))
            times[name] = 0.0
    return PlannedShift(
        day, cells["name"], cells.get("role", ""), times["start"], times["end"],
        times["break_start"], times["break_end"],
    )  # fmt: skip
