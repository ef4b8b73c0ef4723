"""The forms of the logbook: their fields, and what was typed in them as an entry."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from starlette.datastructures import FormData

from app.answers.checks import named_problems, reading_problems
from app.books import entry_problems, weather_line
from app.catalogue import _
from app.pages.cautions import DEFERENCE, LOCK_OUT, SAFETY_DEVICE, SET_CHANGE, WHEEL, Notice
from app.pages.forms import WAS, Choices, FieldView, RowForm, text_of
from app.pages.writing import new_request_key
from app.words.logbook import KINDS, SAID, device_name, timed_name
from sim.errors import InputProblem, quoted
from sim.inputs import LOG, CheckItem, LogEntry, SiteData
from sim.inputs.logbook import (
    ADVICE,
    ALARM,
    CARS,
    CHECK,
    CLAIM,
    COMMON,
    DAMP_HOODS,
    DEVICE,
    DEVICES,
    DOWN,
    FELT,
    FINE,
    HOUR,
    LOGGED,
    NOTE,
    OPEN,
    SET_CHANGED,
    SOMEBODY,
    STATES,
    STOP,
    STRIP,
    TIMED,
    TURNED_AWAY,
    WAIT,
    WIPING,
)
from sim.inputs.rows import Amount, Cell, ClockCell
from sim.inputs.timed import TIMED_THINGS
from sim.units import MINUS, UNITS, format_number, show_clock

ENTERED = tuple(kind for kind in LOGGED if kind != ADVICE)
"""Kinds that people enter; an advice is written by the program alone."""
RARER = tuple(kind for kind in ENTERED if kind not in COMMON)
HOODS_LOOKED_AT = 20
QUICK = {
    DAMP_HOODS: ("count", range(6)),
    TURNED_AWAY: ("count", range(1, 6)),
    WAIT: ("lasted_s", (0, 5, 10, 15, 20, 30)),
}
"""Kinds of a number that has a button each where it is a usual one: the cell, and the numbers as
they are typed."""
LATELY = 4
"""Names of a kind that have a button each, the last ones first."""
OF_LATE = (STOP, ALARM, SET_CHANGED)
"""Kinds whose names of late have a button each."""
AT_ONCE = {CHECK: FINE, DEVICE: DOWN}
"""Kinds whose every name has a button, and the word that such a button says."""
NOTICES: dict[str, tuple[Notice, ...]] = {
    STRIP: (LOCK_OUT, WHEEL),
    SET_CHANGED: (LOCK_OUT, SET_CHANGE),
    STOP: (LOCK_OUT,),
    ALARM: (LOCK_OUT, DEFERENCE),
    DEVICE: (SAFETY_DEVICE, DEFERENCE),
    CHECK: (LOCK_OUT, DEFERENCE),
}
"""What must be said where a kind of entry brings hands near the wheel or the belt."""


def new_entry_key(now: datetime) -> str:
    """An identity for an entry: those of one minute stand in the order in which they were made."""
    return f"{round(1000.0 * now.timestamp()):012x}-{secrets.token_urlsafe(9)}"


# ---- the forms -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class End:
    """A button that sends a form: what it says of which cell, none for a plain one; its words."""

    name: str
    value: str
    words: str


@dataclass(frozen=True, slots=True)
class EntryForm:
    """A form of the logbook.

    Attributes:
        id: what the ids of its fields begin with.
        key: of the entry that comes of it.
        fixed: cells that it always sends, with their texts.
        fields: to be filled in first; asked: those that stand folded below them.
        ends: the buttons that send it. legend: what they say together.
        by: who noted the entry before, and this one if nothing else is typed.
        names: what may be chosen in place of typing a name.
    """

    id: str
    kind: str
    key: str
    request_key: str
    fixed: tuple[tuple[str, str], ...]
    fields: tuple[FieldView, ...]
    asked: tuple[FieldView, ...]
    ends: tuple[End, ...]
    legend: str
    by: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Of:
    """What the forms of a day are made with.

    Attributes:
        data: the site. day: that they are for; None for whatever day it is when they are sent.
        now: the moment at which they are drawn. by: who noted the entry before; empty if unknown.
        names: of each kind, what its entries were named of late, the newest first.
    """

    data: SiteData
    day: date | None
    names: Mapping[str, Sequence[str]]
    now: datetime
    by: str


def forms_of(kind: str, of: Of) -> tuple[EntryForm, ...]:
    """The forms by which an entry of a kind is made, the quickest first."""
    if kind in QUICK:
        cell, numbers = QUICK[kind]
        ends = tuple(End(cell, str(n), str(n)) for n in numbers)
        fixed = [("of", str(HOODS_LOOKED_AT))] if kind == DAMP_HOODS else []
        typed = (cell, "of") if kind == DAMP_HOODS else (cell,)
        return (
            _form(of, kind, ends=ends, fixed=fixed),
            _form(of, kind, typed, name=f"{kind}-more"),
        )
    known = _known(kind, of)
    words = STATES.get(kind, ())
    # the Enter key sends by the first button, and never says that what is described is fine
    words = words[::-1] if kind == CHECK else words
    states = tuple(End("word", word, _(SAID[word])) for word in words)
    whole = _form(of, kind, _typed(kind), ends=states, name=f"{kind}-more" if known else "")
    if not known:
        return (whole,)
    fixed = [("word", AT_ONCE[kind])] if kind in AT_ONCE else []
    return _form(of, kind, ends=known, fixed=fixed), whole


def _known(kind: str, of: Of) -> tuple[End, ...]:
    """Names of a kind that have a button each."""
    if kind in AT_ONCE:
        return tuple(End("name", *one) for one in _choices(kind, "name", of))
    if kind not in OF_LATE:
        return ()
    names = of.names.get(kind, ()) or tuple(_names(kind, of))
    return tuple(End("name", one, one) for one in names[:LATELY])


def check_form(item: CheckItem, place: str, of: Of) -> EntryForm:
    """The form of one check on the page Checks, which it leads back to: with its reading, or what
    is not fine. The Enter key goes by the first button.

    Args:
        place: what the ids of its fields begin with.
    """
    words = (FINE, OPEN) if item.unit else (OPEN, FINE)
    ends = tuple(End("word", word, _(FOUND[word])) for word in words)
    fields = ("reading", "text") if item.unit else ("text",)
    fixed = [("name", item.name), ("back", "checks")]
    made = _form(of, CHECK, fields, ends=ends, fixed=fixed, name=place)
    if item.unit:
        label = _("Reading, {unit}", unit=_(item.unit))
        reading, *rest = made.fields
        made = replace(made, fields=(replace(reading, label=label, unit=""), *rest))
    return made


def fine_form(names: Sequence[str], of: Of) -> EntryForm:
    """The one press that says of a check, or of several, that they are fine."""
    fixed = [("back", "checks"), ("by", of.by), *(("name", name) for name in names)]
    return _form(of, CHECK, ends=(End("word", FINE, _(FOUND[FINE])),), fixed=fixed, name="fine")


def switch_form(word: str, of: Of) -> EntryForm:
    """The one button that says that the crew has switched."""
    words = _("We have switched to full") if word == "full" else _("We have switched to reduced")
    return _form(
        of, WIPING, ends=(End("word", word, words),), name="switched", fixed=[("by", of.by)]
    )


def whole_form(
    kind: str,
    of: Of,
    texts: Mapping[str, str],
    problems: Sequence[InputProblem] = (),
    corrects: LogEntry | None = None,
) -> EntryForm:
    """The form with every field of a kind, filled in: for an entry to be corrected, and for one
    that was refused."""
    was = {} if corrects is None else texts_of(corrects, of.data.units)
    made = _form(
        of, kind, (*_typed(kind, with_word=True), "day", "at_s", "text", "by"), name="whole",
        texts=texts, problems=problems, fixed=[("correct", "yes")] if corrects else [],
    )  # fmt: skip
    fields = tuple(replace(one, was=was.get(one.name, "")) for one in made.fields)
    return replace(made, key=texts.get("key", "") or made.key, fields=fields, asked=())


def _typed(kind: str, with_word: bool = False) -> tuple[str, ...]:
    """The fields that a kind has for itself, in order."""
    own = tuple(name for name, cell in LOG.cells.items() if kind in cell.only)
    order = ("name", "count", "of", "weight_kg", "reading", "lasted_s", "vehicle")
    word = ("word",) if with_word and kind in STATES else ()
    said = ("text",) if not with_word and kind in (NOTE, FELT, CLAIM, TIMED) else ()
    # what is typed comes first, as the keyboard is there
    of_kind = tuple(name for name in order if name in own)
    return (*word, *said, *of_kind)


def _form(
    of: Of,
    kind: str,
    fields: Iterable[str] = (),
    *,
    ends: tuple[End, ...] = (),
    fixed: Sequence[tuple[str, str]] = (),
    name: str = "",
    texts: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
) -> EntryForm:
    first = tuple(fields)
    row = RowForm(name or kind, of.data.units, texts or {}, problems)
    values = {"of": str(HOODS_LOOKED_AT)} if texts is None else {}
    asked = tuple(one for one in ("at_s", "text", "by") if one not in first)
    day = () if "day" in first else (("day", of.day.isoformat() if of.day else ""),)
    return EntryForm(
        id=name or kind,
        kind=kind,
        key=new_entry_key(of.now),
        request_key=new_request_key(),
        fixed=(("kind", kind), *day, *fixed),
        fields=tuple(_field(row, kind, one, of, values.get(one, "")) for one in first),
        asked=tuple(_field(row, kind, one, of, of.by if one == "by" else "") for one in asked),
        by=of.by,
        ends=ends or (End("", "", _("Store")),),
        legend=_(LEGENDS.get(kind, KINDS[kind])),
        names=tuple(_names(kind, of)) if "name" in first else (),
    )


FOUND = {FINE: "Fine", OPEN: "Not fine"}
"""How a check went, as its buttons on the page Checks say it."""
LEGENDS = {
    CHECK: "Fine",
    DEVICE: "Down",
    DAMP_HOODS: "Damp among the last twenty",
    WAIT: "Minutes from joining the line to the belt, paying apart",
}
"""What the buttons of a kind say together, where its name does not."""
LABELS = {
    (STOP, "name"): "Cause",
    (ALARM, "name"): "What the alarm says",
    (SET_CHANGED, "name"): "Set put on",
    (DEVICE, "name"): "Which device",
    (CHECK, "name"): "Which check",
    (CARS, "count"): "Cars so far",
    (HOUR, "count"): "Cars in the last hour",
    (DAMP_HOODS, "count"): "Damp hoods among them",
    (TURNED_AWAY, "count"): "Cars that drove away",
    (WAIT, "lasted_s"): "Minutes waited",
    (FELT, "text"): "Weather",
    (TIMED, "name"): "What was timed",
    (TIMED, "text"): "Times in seconds, car by car",
    (NOTE, "text"): "What there is to say",
    (CLAIM, "text"): "What is claimed",
}
"""Labels that are not those of the cell."""
HINTS_OF = {(WAIT, "lasted_s"): "From joining the line until on the belt, paying apart."}
HINTS = {
    "lasted_s": "In minutes. Empty while it is not known.",
    "vehicle": "Only if it was about one car.",
    "at_s": "Empty: now.",
}


def _field(row: RowForm, kind: str, name: str, of: Of, value: str = "") -> FieldView:
    cell: Cell = LOG.cells[name]
    label = LABELS.get((kind, name), "")
    hint = HINTS_OF.get((kind, name), HINTS.get(name, ""))
    if name == "at_s" and of.day is not None:
        hint = _("As 15:20.")
    if name == "day" and of.day is None and not row.typed.get("day"):
        hint = _("Empty: today.")
    if name == "text" and kind == FELT:
        example = "33, 70 %" if of.data.units == "si" else "91, 70 %"
        hint = _("Temperature and humidity as they are then, as in {example}.", example=example)
    if name == "text" and kind == TIMED:
        hint = _("As in 14 12 15; paying, of every car in turn: 14 12 slow 52.")
    choices = _choices(kind, name, of)
    typed = row.typed.get(name, "")
    if choices and typed and typed not in dict(choices):
        choices = (*choices, (typed, typed))  # a check or a class that there was
    return row.field(cell, value, label=label, hint=hint, choices=choices)


def _choices(kind: str, name: str, of: Of) -> Choices:
    if name == "word":
        return tuple((word, _(SAID[word])) for word in STATES[kind])
    if name == "vehicle":
        return (("", _("not known")), *((one.key, one.label) for one in of.data.site.vehicles))
    if (kind, name) == (DEVICE, "name"):
        return tuple((key, device_name(key)) for key in DEVICES)
    if (kind, name) == (TIMED, "name"):
        return tuple((key, timed_name(key)) for key in TIMED_THINGS)
    if (kind, name) == (CHECK, "name"):
        return tuple((one.name, _(one.name)) for one in of.data.check_list)
    return ()


def _names(kind: str, of: Of) -> Iterable[str]:
    """What a name may be, where it isn't chosen from a list."""
    if kind == SOMEBODY:
        return (one.name for one in of.data.staff.people)
    if kind == SET_CHANGED:
        return (one.name for one in of.data.cloth.sets)
    return of.names.get(kind, ()) if kind in (STOP, ALARM) else ()


# ---- what was typed ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class EntryRead:
    """A form of the logbook as it was sent.

    Attributes:
        kind: of the entry; empty for none that there is.
        texts: as they were typed, by the name of their cell.
        entry: None with problems.
        is_now: whether its time was left open.
        is_correction: whether it takes the place of the entry of its key.
    """

    kind: str
    texts: Mapping[str, str]
    entry: LogEntry | None
    problems: tuple[InputProblem, ...]
    is_now: bool
    is_correction: bool


def read_entry(
    form: FormData, data: SiteData, today: date, now_s: float, held: LogEntry | None
) -> EntryRead:
    """Reads a form; without a day it is today, without a time then now.

    Args:
        now_s: on the site's clock [s after midnight].
        held: what is stored under its key. Where a correction leaves a text as it was drawn, the
            stored value stays: no number changes by being rounded for a page.
    """
    kind = text_of(form, "kind")
    texts = {name: text_of(form, name).strip() for name in LOG.cells}
    is_now, is_correction = not texts["at_s"], "correct" in form
    if kind not in ENTERED:
        sentence = "“{kind}” is no kind of entry. Use {known}."
        filling = {"kind": quoted(kind), "known": ", ".join(ENTERED)}
        problem = InputProblem("kind", sentence, filling)
        return EntryRead("", texts, None, (problem,), is_now, is_correction)
    problems: list[InputProblem] = []
    full = {**texts, "key": texts["key"] or new_request_key()}
    full["day"] = texts["day"] or today.isoformat()
    full["at_s"] = texts["at_s"] or show_clock(now_s)
    if is_now and full["day"] != today.isoformat():
        sentence = "No time was given. Enter when it happened, as 15:20."
        problems.append(InputProblem("at_s", sentence))
    problems += named_problems(kind, texts["name"], texts["vehicle"], data, is_correction)
    if kind == FELT and texts["text"]:
        full["text"], wrong = weather_line(texts["text"], data.units)
        problems += (replace(one, field="text") for one in wrong)
        full["text"] = full["text"] or texts["text"]
    entry = LOG.read(full, problems, data.units)
    if entry is not None and held is not None and is_correction:
        untouched = (name for name, text in texts.items() if text_of(form, WAS + name) == text)
        entry = replace(entry, **{name: getattr(held, name) for name in untouched})
    if entry is not None:
        problems += (*LOG.problems_of(entry, today), *entry_problems(entry))
        problems += reading_problems(entry, data)
    told = tuple({(one.field, str(one)): one for one in problems}.values())
    return EntryRead(kind, texts, None if told else entry, told, is_now, is_correction)


def texts_of(entry: LogEntry, system: str) -> dict[str, str]:
    """What a form that corrects an entry has of it, by the name of the cell."""
    return {name: _text(cell, getattr(entry, name), system) for name, cell in LOG.cells.items()}


def _text(cell: Cell, value: object, system: str) -> str:
    if isinstance(cell, Amount) and isinstance(value, int | float):
        edge = UNITS[cell.unit].to_edge(value, system)
        return format_number(edge, 6).replace(MINUS, "-").replace(",", "")
    if isinstance(cell, ClockCell) and isinstance(value, int | float):
        return show_clock(value).zfill(5)
    return "" if value is None else str(value)


def is_same(entry: LogEntry, held: LogEntry, is_now: bool) -> bool:
    """Whether an entry says what is stored under its key, but for a time that nobody typed."""
    if is_now:
        entry = replace(entry, day=held.day, at_s=held.at_s)
    return entry == held
