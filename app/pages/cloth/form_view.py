"""The forms of the page Cloth: what a crew enters of its sets, a form an act."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from app.catalogue import _, say
from app.pages.cloth.form import ACTS, BOUGHT, FIELDS, ClothRead, on_wheel
from app.pages.fields import FieldView
from sim.errors import InputProblem
from sim.inputs import (
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    ClothBook,
)
from sim.units import UNITS, show_clock

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
