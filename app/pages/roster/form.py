"""Forms of the page Roster: a shift moved by hand, and somebody who can be put on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from starlette.datastructures import FormData

from app.answers.roster import days_of, hand_shift
from app.books.staff import HALF_HOUR_S
from app.pages.forms import text_of
from app.pages.writing import read_clock
from sim.errors import InputProblem
from sim.inputs import PEOPLE, SiteData, StaffBook
from sim.inputs.rows import Amount

SHIFT_FIELDS = ("who", "weekday", "start", "end")
PERSON_FIELDS = tuple(PEOPLE.cells)
Problems = list[InputProblem]


def typed_in(form: FormData, names: tuple[str, ...]) -> dict[str, str]:
    """What was typed, by field."""
    return {name: text_of(form, name).strip() for name in names}


def moved_shift(
    typed: Mapping[str, str], data: SiteData, monday: date
) -> tuple[StaffBook, Problems]:
    """The book with somebody's shift of a day as typed; a day off where both times are empty."""
    book = data.staff
    problems: Problems = []
    if typed["who"] not in [person.name for person in book.people]:
        sentence = "“{name}” is not among the people of this site. Choose somebody who is."
        problems.append(InputProblem("who", sentence, {"name": typed["who"]}))
    if typed["weekday"] not in tuple("0123456"):
        sentence = "“{typed}” is no day of this week. Choose one."
        problems.append(InputProblem("weekday", sentence, {"typed": typed["weekday"]}))
    start_s = end_s = 0.0
    if typed["start"] or typed["end"]:
        start_s = read_clock("start", typed["start"], problems)
        end_s = read_clock("end", typed["end"], problems)
        if not problems:
            _check_times(start_s, end_s, typed, problems)
    if problems:
        return book, problems
    who, day = typed["who"], days_of(monday)[int(typed["weekday"])]
    shifts = [one for one in book.in_week(monday) if (one.name, one.day) != (who, day)]
    if end_s > start_s:
        shifts.append(hand_shift(data.site.shifts, day, who, start_s, end_s))
    return book.with_week(monday, shifts), []


def _check_times(
    start_s: float, end_s: float, typed: Mapping[str, str], problems: Problems
) -> None:
    for field, at in (("start", start_s), ("end", end_s)):
        if at % HALF_HOUR_S:
            sentence = "“{typed}” is not on a full or half hour. Write it as 15:30."
            problems.append(InputProblem(field, sentence, {"typed": typed[field]}))
    if end_s <= start_s:
        sentence = "End “{typed}” is not after start {start}. Enter a later time, 24:00 at most."
        filling = {"typed": typed["end"], "start": typed["start"]}
        problems.append(InputProblem("end", sentence, filling))


def with_person(typed: Mapping[str, str], book: StaffBook) -> tuple[StaffBook, Problems]:
    """The book with somebody entered; whoever has that name is changed."""
    problems: Problems = []
    with_points = {
        name: typed[name].replace(",", ".") if isinstance(cell, Amount) else typed[name]
        for name, cell in PEOPLE.cells.items()
    }
    person = PEOPLE.read(with_points, problems)
    if person is None:
        return book, problems
    people = {one.name: one for one in (*book.people, person)}
    return replace(book, people=tuple(people.values())), problems
