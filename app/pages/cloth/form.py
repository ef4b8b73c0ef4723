"""The forms of the page Cloth: what a crew enters of its sets, a form an act, read and drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from app.books.cloth_checks import cloth_problems
from app.catalogue import _, say
from app.pages.fields import FieldView
from app.pages.forms import PostedForm, text_of
from app.pages.writing import read_clock, read_day
from sim.errors import InputProblem
from sim.inputs import (
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    ClothSet,
)
from sim.units import UNITS, parse_quantity, show_clock, whole_number

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


Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ClothForm:
    """A form: what it enters, its fields, whether it is open."""

    act: str
    heading: str
    hint: str
    button: str
    fields: tuple[FieldView, ...]
    is_open: bool


def reason_words() -> dict[str, str]:
    """Why a set was taken off, in words."""
    return {
        "rotated": _("to dry or be laundered"),
        "worn": _("worn out"),
        "planned": _("on plan, before it wore out"),
        "accident": _("torn by accident"),
        "stolen": _("stolen or lost"),
    }


def act_words() -> dict[str, tuple[str, str, str]]:
    """Heading, hint and button of each form."""
    return {
        PUT_ON: (
            _("A set was put on"),
            _("Put on with wheel and belt stopped, locked out, and the start tried."),
            _("Store it"),
        ),
        TAKEN_OFF: (
            _("The set was taken off"),
            _(
                "Why it came off tells how long sets last: only “worn out” counts as the end of "
                "its life. One that comes off to dry or be laundered comes back."
            ),
            _("Store it"),
        ),
        LAUNDERED: (_("A set was laundered"), "", _("Store it")),
        INSPECTED: (
            _("A set was looked at"),
            _("One of the three is enough. Measure and weigh a strip only off the locked wheel."),
            _("Store it"),
        ),
        HOODS_COUNTED: (
            _("Damp hoods were counted"),
            _(
                "Look at some twenty hoods of cars behind the wheel, wiped in full, and count the "
                "damp ones; once under a new set and once under an old one, at about the same hour "
                "of like days. It tells what wear takes of the cloth, which no other entry does."
            ),
            _("Store it"),
        ),
        BOUGHT: (_("A new set"), "", _("Enter the set")),
    }


def cloth_forms(
    book: ClothBook,
    states: Mapping[str, str],
    today: date,
    now_s: float,
    system: str,
    read: ClothRead | None,
    problems: Sequence[InputProblem],
) -> tuple[ClothForm, ...]:
    """Every form; what was typed in one stays, and what is wrong is beside its field.

    Args:
        states: where each set is, by its name.
    """
    words = act_words()
    usual = on_wheel(book)
    acts = [act for act in ACTS if act == BOUGHT or book.sets]
    if not usual and TAKEN_OFF in acts:
        acts.remove(TAKEN_OFF)
    found = []
    for act in acts:
        is_typed = read is not None and read.act == act
        typed = dict(read.typed) if read is not None and is_typed else {}
        wrong: dict[str, list[str]] = {}
        for problem in problems if is_typed else ():
            wrong.setdefault(problem.field, []).append(say(problem, system))
        names = _names(act, book, states, usual, typed.get("set", ""))
        fields = tuple(
            _field(act, name, names, usual, today, now_s, system, typed, wrong)
            for name in FIELDS[act]
            if not (act == PUT_ON and name == "reason" and not usual)
        )
        heading, hint, button = words[act]
        is_open = is_typed or (not book.sets and act == BOUGHT)
        found.append(ClothForm(act, heading, hint, button, fields, is_open))
    return tuple(found)


def _names(
    act: str, book: ClothBook, states: Mapping[str, str], usual: str, typed: str
) -> list[str]:
    """Sets that an act may be about; what was typed stays among them."""
    names = [item.name for item in book.sets]
    if act == TAKEN_OFF:
        names = [usual]
    elif act in (PUT_ON, LAUNDERED):
        names = [name for name in names if states.get(name, "new") in ("new", "off")]
    if typed and typed not in names:
        names.append(typed)
    return names


def _field(
    act: str,
    name: str,
    names: Sequence[str],
    usual: str,
    today: date,
    now_s: float,
    system: str,
    typed: Mapping[str, str],
    wrong: Mapping[str, Sequence[str]],
) -> FieldView:
    clock = show_clock(now_s)
    reasons: Choices = tuple(reason_words().items())
    small = {key: UNITS[key].symbol(system) for key in ("short_length", "small_mass")}
    choices: Choices = ()
    label, hint, unit, value, numeric = "", "", "", "", False
    if name == "set":
        label, choices = _("Set"), tuple((one, one) for one in names)
        is_looked = act in (INSPECTED, HOODS_COUNTED)
        value = usual if is_looked and usual else names[0] if names else ""
    elif name == "day":
        label, value, hint = _("Day"), today.isoformat(), _("Year-month-day.")
    elif name == "at":
        label, value, hint = _("Time"), clock, _("As 15:20.")
    elif name == "reason" and act == PUT_ON:
        label, choices = _("Why {name} came off", name=usual), reasons
        value = ROTATED
        hint = _("It is stored as taken off at the same time.")
    elif name == "reason":
        label, choices, value = _("Why"), reasons, ROTATED
    elif name == "cars":
        label, numeric = _("Full wipes since it was put on"), True
        hint = _("Only if a counter told; else it is worked out from the counts of cars.")
    elif name == "length":
        label, unit, numeric = _("Length of a strip"), small["short_length"], True
    elif name == "dry":
        label, unit, numeric = _("Weight of a strip, dry"), small["small_mass"], True
    elif name == "torn":
        label, numeric = _("Strips torn or gone"), True
    elif name == "hoods":
        label, numeric = _("Hoods looked at"), True
    elif name == "damp_hoods":
        label, numeric = _("Of these damp"), True
    elif name == "name":
        label, hint = _("Name"), _("What the crew calls it.")
    elif name == "bought":
        label, hint = _("Bought"), _("Year-month-day; may stay empty.")
    else:
        label, numeric = _("Full wipes before this record"), True
        hint = _("Empty for a new set.")
    return FieldView(
        f"in-{act}-{name}", name, label, typed.get(name, value), hint=hint, unit=unit,
        messages=tuple(dict.fromkeys(wrong.get(name, ()))), choices=choices, numeric=numeric,
        wide=not numeric,
    )  # fmt: skip
