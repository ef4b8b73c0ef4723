"""Forms by the table of inputs: fields as they are drawn, and what a posted form says in them.

Beside each field travels the text that it was drawn with. Where the typed text is still that text,
the stored value is left alone: a number never changes by being rounded for a page.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from starlette.datastructures import FormData

from app.catalogue import _, _n, say
from app.words.dry import hood_words
from sim.checks import or_refusal
from sim.errors import InputError, InputProblem
from sim.inputs import LISTS, Cell, Entry, Site, SiteData, Value
from sim.inputs.rows import Amount, ClockCell, Day
from sim.units import SYSTEMS, UNITS, format_number

WAS = "was."
MARK = "mark."
DATE_TEXT = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])")
TIME_TEXT = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")
Choices = tuple[tuple[str, str], ...]
"""Key and words of each choice."""
Faults = Mapping[str, tuple[str, ...]]
"""What is wrong, in sentences by the name of the field."""


# ---- what a form says ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Typed:
    """A form as it was sent, so that it can be drawn again unchanged.

    Attributes:
        texts: what stands in each field.
        was: what each field was first drawn with.
        marks: fields whose box "ours" or "back to the default" was ticked.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    was: Mapping[str, str] = field(default_factory=dict)
    marks: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class FormReading:
    """What a form says about some inputs.

    Attributes:
        typed: the form as it was sent.
        values: stored values (SI) of the inputs whose text was changed, by name of the field.
        problems: one or more a field that couldn't be read.
    """

    typed: Typed
    values: Mapping[str, Value]
    problems: tuple[InputProblem, ...]


def text_of(form: FormData, name: str) -> str:
    """The text of a field; empty if the form hasn't got it or holds a file there."""
    held = form.get(name, "")
    return held if isinstance(held, str) else ""


def units_of(form: FormData, else_: str) -> str:
    """The units that a form was typed in; they may have been changed in another window since."""
    units = text_of(form, "units")
    return units if units in SYSTEMS else else_


def read_fields(form: FormData, rows: Mapping[str, Entry], system: str) -> FormReading:
    """Reads the fields of `rows` (name of the field to its input) that the form has.

    A bare number is in the units of `system` ("si" or "us"), unless a unit is typed with it.
    """
    present = [name for name in rows if name in form]
    typed = Typed(
        {name: text_of(form, name) for name in present},
        {name: text_of(form, WAS + name) for name in present},
        frozenset(name for name in present if MARK + name in form),
    )
    values: dict[str, Value] = {}
    problems: list[InputProblem] = []
    for name in present:
        text = typed.texts[name].strip()
        if WAS + name in form and text == typed.was[name].strip():
            continue
        try:
            values[name] = rows[name].parse(text, system)
        except InputError as fault:
            told = [replace(p, field=name) for p in fault.problems]
            problems += or_refusal(name, text, told)
    return FormReading(typed, values, tuple(problems))


def units_choices() -> Choices:
    """The units that a site can be shown in."""
    return (("us", _("US: feet, °F, pounds")), ("si", _("SI: metres, °C, kilograms")))


# ---- what is wrong with it -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ProblemLine:
    """A line of the list on top of a page: the sentence, and where its field is."""

    text: str
    href: str


@dataclass(frozen=True, slots=True)
class Summary:
    """The list of problems on top of a page."""

    heading: str
    lines: tuple[ProblemLine, ...]


def faults_of(problems: Sequence[InputProblem], system: str) -> Faults:
    """What is wrong by the name of the field, each sentence once."""
    faults: dict[str, tuple[str, ...]] = {}
    for problem in problems:
        held, said = faults.get(problem.field, ()), say(problem, system)
        faults[problem.field] = held if said in held else (*held, said)
    return faults


def summary(
    problems: Sequence[InputProblem], system: str, hrefs: Mapping[str, str] | None = None
) -> Summary | None:
    """The list on top for some problems; None when there are none.

    The same sentence about several fields (a sum of shares) is one line, leading to the first.
    `hrefs` says where a field is that has no anchor of its own.
    """
    lines: dict[str, ProblemLine] = {}
    for problem in problems:
        text = say(problem, system)
        href = (hrefs or {}).get(problem.field, "#" + field_id(problem.field))
        lines.setdefault(text, ProblemLine(text, href))
    if not lines:
        return None
    heading = _n(
        "1 entry needs a change. Nothing was stored.",
        "{count} entries need a change. Nothing was stored.",
        len(lines),
    )
    return Summary(heading, tuple(lines.values()))


# ---- fields as they are drawn --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of a form, drawn by `_field.html`.

    Attributes:
        id: anchor of the field; `name` of the input in the form.
        label, hint, unit: words above and beside it.
        value: text in the field; `was` the text it was first drawn with.
        messages: what is wrong with what was typed.
        choices: empty for a typed field.
        numeric: whether a phone should offer digits; `wide` whether it holds more than a number.
        picker: "date" or "time" where the browser's own field for that can show the text.
        origin: "a guess", "yours" or "default"; `source` says more; both may be empty.
        mark_words: words of the tick box under `source`; empty for none.
    """

    id: str
    name: str
    label: str
    value: str
    was: str = ""
    hint: str = ""
    unit: str = ""
    messages: tuple[str, ...] = ()
    choices: Choices = ()
    numeric: bool = True
    wide: bool = False
    picker: str = ""
    origin: str = ""
    source: str = ""
    mark_words: str = ""
    mark_checked: bool = False


def field_id(name: str) -> str:
    """Anchor of an input's field."""
    return f"in-{name}"


def input_fields(
    rows: Mapping[str, Entry],
    data: SiteData,
    system: str,
    typed: Typed | None = None,
    problems: Sequence[InputProblem] = (),
) -> tuple[FieldView, ...]:
    """The fields of inputs of a site, with what was typed in them and what is wrong with it."""
    faults = faults_of(problems, system)
    return tuple(
        input_field(
            row,
            data.site.value(name),
            system,
            given=name in data.given,
            typed=typed,
            messages=faults.get(name, ()),
        )
        for name, row in rows.items()
    )


def input_field(
    row: Entry,
    stored: Value,
    system: str,
    *,
    given: bool | None = None,
    typed: Typed | None = None,
    messages: tuple[str, ...] = (),
    name: str = "",
) -> FieldView:
    """The field of an input.

    Args:
        stored: its stored value (SI).
        system: the reader's units, "si" or "us".
        given: whether the site entered the value itself; None leaves out where it is from.
        typed: a form to be drawn again; what was typed in it stays.
        messages: what is wrong with this field.
        name: name of the field where it isn't the input's own.
    """
    name = name or row.name
    drawn = row.text(stored, system)
    # A field that nobody touched shows what is stored now, even if that changed meanwhile.
    touched = typed is not None and typed.texts.get(name, "") != typed.was.get(name, "")
    has_origin = given is not None
    back = _("Back to the default, {value}", value=shown_default(row, system)) if given else ""
    return FieldView(
        id=field_id(name),
        name=name,
        label=_(row.label),
        value=typed.texts[name] if typed is not None and touched else drawn,
        was=drawn,
        hint=_hint(row, system),
        unit=_(row.unit.symbol(system)) if row.is_number else "",
        messages=messages,
        choices=_choices(row),
        numeric=row.kind in ("number", "whole"),
        wide=row.kind in ("steps", "address", *LISTS),
        origin=origin_of(row, bool(given)) if has_origin else "",
        source=_source(row, system) if has_origin else "",
        mark_words=back,
        mark_checked=typed is not None and name in typed.marks,
    )


def with_water_seen(fields: Sequence[FieldView], site: Site) -> tuple[FieldView, ...]:
    """Fields of a site's inputs; that of the allowed film also says how much water one sees."""
    seen = hood_words(site)
    return tuple(
        replace(row, hint=f"{row.hint} {seen}") if row.name == "allowed_film_kg_m2" else row
        for row in fields
    )


def _choices(row: Entry) -> Choices:
    if row.kind == "flag":
        return (("yes", _("yes")), ("no", _("no")))
    return tuple((key, _(words)) for key, words in row.choices)


def _number(row: Entry, stored: float, system: str) -> str:
    return format_number(row.unit.to_edge(stored, system), 3)


def _hint(row: Entry, system: str) -> str:
    parts = [_(row.help)] if row.help else []
    if row.is_number:
        low, high = _number(row, row.low, system), _number(row, row.high, system)
        parts.append(_("{low} to {high}.", low=low, high=high))
    if row.kind in LISTS:
        parts.append(_("Several, with a space between."))
    if row.follows:
        parts.append(_("Empty: {what}.", what=_(row.follows)))
    return " ".join(parts)


def origin_of(row: Entry, given: bool) -> str:
    """Whether a value is the site's own, a guess or a default, in a word or two."""
    if given:
        return _("yours")
    return _("a guess") if row.is_guess else _("default")


def shown_default(row: Entry, system: str) -> str:
    """The default as words, with its unit."""
    if row.kind == "choice":
        return _(dict(row.choices)[str(row.default)])
    if row.kind == "flag":
        return _("yes") if row.default else _("no")
    if row.is_open(row.default):
        return _(row.follows)
    text = row.text(row.default, system)
    if not text:
        return _("nothing")
    symbol = _(row.unit.symbol(system)) if row.is_number else ""
    return f"{text}\u00a0{symbol}" if symbol else text


def _source(row: Entry, system: str) -> str:
    said = _("Default {value}: {source}.", value=shown_default(row, system), source=_(row.source))
    if row.prior is None:
        return said
    prior = _(
        "Before anything is measured, {low} to {high} is believed of 19 sites in 20.",
        low=_number(row, row.prior.low, system),
        high=_number(row, row.prior.high, system),
    )
    return f"{said} {prior}"


def picker_of(cell: Cell, text: str) -> str:
    """The browser's own kind of field for a day or a time of day; none for a text that it could not
    show, which would be lost in it."""
    if isinstance(cell, Day):
        return "date" if not text or DATE_TEXT.fullmatch(text) else ""
    if isinstance(cell, ClockCell):
        return "time" if not text or TIME_TEXT.fullmatch(text) else ""
    return ""


@dataclass(frozen=True, slots=True)
class RowForm:
    """A form for the cells of a row, empty or again with what was typed.

    Attributes:
        name: what the ids of its fields begin with; empty for the one form of a page.
        system: the reader's units.
        typed: the texts as they were typed, by the name of their field.
        problems: of those fields.
    """

    name: str
    system: str
    typed: Mapping[str, str]
    problems: Sequence[InputProblem] = ()

    def field(
        self,
        cell: Cell,
        value: str = "",
        *,
        label: str = "",
        hint: str = "",
        choices: Choices = (),
        numeric: bool | None = None,
    ) -> FieldView:
        """The field of a cell; words are the cell's own unless others are given."""
        hint = hint or cell.hint
        stored = value.zfill(5) if value and isinstance(cell, ClockCell) else value
        text = self.typed.get(cell.name, stored)
        picker = picker_of(cell, text) if numeric is None else ""
        numeric = isinstance(cell, Amount) if numeric is None else numeric
        return FieldView(
            field_id(f"{self.name}-{cell.name}" if self.name else cell.name),
            cell.name,
            _(label or cell.label),
            text,
            hint=_(hint) if hint else "",
            unit=_(UNITS[cell.unit].symbol(self.system)) if isinstance(cell, Amount) else "",
            messages=faults_of(self.problems, self.system).get(cell.name, ()),
            choices=choices,
            numeric=numeric,
            wide=not numeric,
            picker=picker,
        )
