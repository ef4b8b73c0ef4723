"""The forms of the page Cloth: what a crew enters of its sets, a form an act, read and drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from starlette.datastructures import FormData

from app.books import BOOKS
from app.catalogue import _
from app.pages.forms import Choices, FieldView, RowForm, text_of
from sim.errors import InputProblem
from sim.inputs import (
    EVENTS,
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    SETS,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    SiteData,
)
from sim.units import show_clock

BOUGHT = "bought"
"""The form that enters a new set."""
ACTS = (PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED, HOODS_COUNTED, BOUGHT)


def fields_of(act: str) -> tuple[str, ...]:
    """Fields of a form, in order; putting a set on may also say why another came off."""
    if act == BOUGHT:
        return tuple(SETS.cells)
    if act == PUT_ON:
        return "name", "day", "at_s", "reason"
    told = (name for name, cell in EVENTS.cells.items() if act in cell.only)
    return "name", "day", "at_s", *told


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


def read_cloth_form(form: FormData, data: SiteData, today: date) -> ClothRead:
    """Reads a form; a bare number is in the small units that the site's people read."""
    act, book = text_of(form, "act"), data.cloth
    if act not in ACTS:
        sentence = "“{act}” is nothing that can be entered here. Use one of the forms."
        problem = InputProblem("act", sentence, {"act": act})
        return ClothRead("", {}, book, (problem,))
    typed = {name: text_of(form, name).strip() for name in fields_of(act)}
    problems: list[InputProblem] = []
    longer = book
    if act == BOUGHT:
        made = SETS.read(typed, problems, data.units)
        if made is not None:
            longer = ClothBook((*book.sets, made), book.events)
    else:
        longer = ClothBook(book.sets, (*book.events, *_events(act, typed, data, problems)))
    problems = problems or BOOKS["cloth"].problems(data.with_book("cloth", longer), today)
    return ClothRead(act, typed, book if problems else longer.in_order(), tuple(problems))


def _events(
    act: str, typed: Mapping[str, str], data: SiteData, problems: list[InputProblem]
) -> tuple[ClothEvent, ...]:
    """What happened; the set that came off, where there was one, before the one put on."""
    if not typed["name"]:
        problems.append(InputProblem("name", "No set was chosen. Choose one."))
    reason = typed.get("reason", "")
    told = {**typed, "kind": act, "reason": "" if act == PUT_ON else reason}
    event = EVENTS.read(told, problems, data.units)
    if event is None:
        return ()
    before = on_wheel(data.cloth)
    if act == PUT_ON and before and reason:
        return ClothEvent(event.day, event.at_s, TAKEN_OFF, before, reason), event
    return (event,)


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
        form = RowForm(act, system, typed, problems if is_typed else ())
        if act == BOUGHT:
            fields = tuple(form.field(cell) for cell in SETS.cells.values())
        else:
            names = _names(act, book, states, usual, typed.get("name", ""))
            fields = _event_fields(form, names, usual, today, now_s)
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


def _event_fields(
    form: RowForm, names: Sequence[str], usual: str, today: date, now_s: float
) -> tuple[FieldView, ...]:
    act = form.name
    is_looked = act in (INSPECTED, HOODS_COUNTED)
    first = usual if is_looked and usual else names[0] if names else ""
    values = {"name": first, "day": today.isoformat(), "at_s": show_clock(now_s), "reason": ROTATED}
    choices: dict[str, Choices] = {
        "name": tuple((one, one) for one in names), "reason": tuple(reason_words().items())
    }  # fmt: skip
    found = []
    for name in fields_of(act):
        label, hint = "", ""
        if act == PUT_ON and name == "reason":
            if not usual:
                continue
            label = _("Why {name} came off", name=usual)
            hint = _("It is stored as taken off at the same time.")
        found.append(
            form.field(
                EVENTS.cells[name], values.get(name, ""), label=label, hint=hint,
                choices=choices.get(name, ()),
            )
        )  # fmt: skip
    return tuple(found)
