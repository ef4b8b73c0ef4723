"""Forms of the page Roster: a shift moved by hand, and somebody who can be put on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from starlette.datastructures import FormData

from app.answers.roster import days_of, hand_shift
from app.books.staff_checks import HALF_HOUR_S
from app.books.staff_files import read_away
from app.pages.forms import text_of
from app.pages.writing import read_clock
from sim.errors import InputProblem
from sim.inputs import Person, SiteData, StaffBook

SHIFT_FIELDS = ("who", "weekday", "start", "end")
PERSON_FIELDS = ("name", "roles", "wage", "least", "most", "away")
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
    numbers = {
        name: _number(name, typed[name], usual, problems)
        for name, usual in (("wage", 20.0), ("least", 0.0), ("most", 40.0))
    }
    away = []
    for text in filter(None, (part.strip() for part in typed["away"].split(";"))):
        try:
            away.append(read_away(text))
        except ValueError:
            sentence = (
                "“{typed}” can’t be read. Write sat, tue 0:00-12:00 or 2026-07-18, several parted "
                "by semicolons."
            )
            problems.append(InputProblem("away", sentence, {"typed": text}))
    roles = tuple(filter(None, (part.strip() for part in typed["roles"].split(";"))))
    person = Person(
        typed["name"], roles, numbers["wage"], numbers["least"], numbers["most"], tuple(away)
    )
    names = [one.name for one in book.people]
    if person.name in names:
        people = tuple(person if one.name == person.name else one for one in book.people)
    else:
        people = (*book.people, person)
    return replace(book, people=people), problems


def _number(field: str, text: str, usual: float, problems: Problems) -> float:
    try:
        return float(text.replace(",", ".")) if text else usual
    except ValueError:
        sentence = "“{typed}” is not a number. Enter one, as in 37.5."
        problems.append(InputProblem(field, sentence, {"typed": text}))
        return usual
