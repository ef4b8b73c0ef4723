"""Reading the forms of the page Cloth: each adds to the record, and says what does not fit it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from app.books.cloth_checks import cloth_problems
from app.pages.forms import PostedForm, text_of
from app.pages.writing import read_clock, read_day
from sim.errors import InputProblem
from sim.inputs import (
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    ClothSet,
)
from sim.units import UNITS, parse_quantity, whole_number

BOUGHT = "bought"
"""The form that enters a new set."""
ACTS = (PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED, HOODS_COUNTED, BOUGHT)
FIELDS: Mapping[str, tuple[str, ...]] = {
    PUT_ON: ("set", "day", "at", "reason"),
    TAKEN_OFF: ("set", "day", "at", "reason", "cars"),
    LAUNDERED: ("set", "day", "at"),
    INSPECTED: ("set", "day", "at", "length", "dry", "torn"),
    HOODS_COUNTED: ("set", "day", "at", "hoods", "damp_hoods"),
    BOUGHT: ("name", "bought", "cars_before"),
}
"""Fields of each form, in order."""


@dataclass(frozen=True, slots=True)
class ClothRead:
    """A form of the page.

    Attributes:
        act: which one, of `ACTS`; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        book: the record with what was entered; as it was with problems.
        problems: of the fields of the form.
    """

    act: str
    typed: Mapping[str, str]
    book: ClothBook
    problems: tuple[InputProblem, ...]


def on_wheel(book: ClothBook) -> str:
    """The set on the wheel at the end of the record; empty for none."""
    name = ""
    for event in book.in_order().events:
        if event.kind == PUT_ON:
            name = event.name
        elif event.kind == TAKEN_OFF:
            name = ""
    return name


def read_cloth_form(form: PostedForm, book: ClothBook, system: str, today: date) -> ClothRead:
    """Reads a form; a bare number is in the small units of `system`."""
    act = text_of(form, "act")
    if act not in ACTS:
        sentence = "“{act}” is nothing that can be entered here. Use one of the forms."
        problem = InputProblem("act", sentence, {"act": act})
        return ClothRead("", {}, book, (problem,))
    typed = {name: text_of(form, name).strip() for name in FIELDS[act]}
    problems: list[InputProblem] = []
    if act == BOUGHT:
        longer = ClothBook((*book.sets, _set(typed, problems)), book.events)
    else:
        longer = ClothBook(book.sets, (*book.events, *_events(act, typed, book, system, problems)))
    problems = problems or cloth_problems(longer, today)
    return ClothRead(act, typed, book if problems else longer.in_order(), tuple(problems))


def _set(typed: Mapping[str, str], problems: list[InputProblem]) -> ClothSet:
    bought = read_day("bought", typed["bought"], problems) if typed["bought"] else None
    cars = _number("cars_before", typed["cars_before"], problems)
    return ClothSet(typed["name"], bought, cars or 0.0)


def _events(
    act: str,
    typed: Mapping[str, str],
    book: ClothBook,
    system: str,
    problems: list[InputProblem],
) -> list[ClothEvent]:
    day = read_day("day", typed["day"], problems) or date.min
    at_s = read_clock("at", typed["at"], problems)
    name = typed["set"]
    if not name:
        problems.append(InputProblem("set", "No set was chosen. Choose one."))
    if act == PUT_ON:
        before = on_wheel(book)
        found = [ClothEvent(day, at_s, PUT_ON, name)]
        if before and typed["reason"]:
            found.insert(0, ClothEvent(day, at_s, TAKEN_OFF, before, typed["reason"]))
        return found
    if act == TAKEN_OFF:
        cars = _number("cars", typed["cars"], problems)
        return [ClothEvent(day, at_s, TAKEN_OFF, name, typed["reason"], cars)]
    if act == LAUNDERED:
        return [ClothEvent(day, at_s, LAUNDERED, name)]
    if act == HOODS_COUNTED:
        hoods, damp = (_count(field, typed[field], problems) for field in FIELDS[act][3:])
        return [ClothEvent(day, at_s, HOODS_COUNTED, name, hoods=hoods, damp_hoods=damp)]
    return [
        ClothEvent(
            day,
            at_s,
            INSPECTED,
            name,
            length_m=_amount("length", typed["length"], "short_length", system, problems),
            dry_kg=_amount("dry", typed["dry"], "small_mass", system, problems),
            torn=_count("torn", typed["torn"], problems),
        )
    ]


def _number(field: str, text: str, problems: list[InputProblem]) -> float | None:
    if not text:
        return None
    try:
        return parse_quantity(text, UNITS["cars"], "si")
    except ValueError:
        sentence = "“{typed}” is not a number of cars. Enter one, as in 42000, or leave it empty."
        problems.append(InputProblem(field, sentence, {"typed": text}))
        return None


def _count(field: str, text: str, problems: list[InputProblem]) -> int | None:
    if not text:
        return None
    number = whole_number(text)
    if number is None:
        sentence = "“{typed}” is not a number of {what}. Enter a whole number."
        what = "strips" if field == "torn" else "hoods"
        if field == "torn":
            sentence = (
                "“{typed}” is not a number of {what}. Enter a whole number, or leave it empty."
            )
        problems.append(InputProblem(field, sentence, {"typed": text, "what": what}))
    return number


def _amount(
    field: str, text: str, kind: str, system: str, problems: list[InputProblem]
) -> float | None:
    if not text:
        return None
    unit = UNITS[kind]
    try:
        return parse_quantity(text, unit, system)
    except ValueError:
        sentence = "“{typed}” can’t be read. Enter a number of {unit}, or leave it empty."
        filling = {"typed": text, "unit": unit.symbol(system)}
        problems.append(InputProblem(field, sentence, filling))
        return None
