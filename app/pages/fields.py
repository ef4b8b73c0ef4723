"""Views of inputs and problems, ready to be drawn by `_field.html` and `_problems.html`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.catalogue import _, say
from app.pages.forms import Typed
from sim.errors import InputProblem
from sim.inputs import Entry, Value
from sim.units import format_number


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of a form.

    Attributes:
        id: anchor of the field; `name` of the input in the form.
        label, hint, unit: words above and beside it.
        value: text in the field; `was` the text it was first drawn with.
        messages: what is wrong with what was typed.
        choices: key and words of each choice; empty for a typed field.
        numeric: whether a phone should offer digits; `wide` whether it holds more than a number.
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
    choices: tuple[tuple[str, str], ...] = ()
    numeric: bool = True
    wide: bool = False
    origin: str = ""
    source: str = ""
    mark_words: str = ""
    mark_checked: bool = False


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


def field_id(name: str) -> str:
    """Anchor of an input's field."""
    return f"in-{name}"


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
    heading = (
        _("1 entry needs a change. Nothing was stored.")
        if len(lines) == 1
        else _("{count} entries need a change. Nothing was stored.", count=len(lines))
    )
    return Summary(heading, tuple(lines.values()))


def input_field(
    row: Entry,
    stored: Value,
    system: str,
    *,
    given: bool | None = None,
    typed: Typed | None = None,
    problems: Iterable[InputProblem] = (),
    name: str = "",
) -> FieldView:
    """The field of an input.

    Args:
        stored: its stored value (SI).
        system: the reader's units, "si" or "us".
        given: whether the site entered the value itself; None leaves out where it is from.
        typed: a form to be drawn again; what was typed in it stays.
        problems: what is wrong with this field.
        name: name of the field where it isn't the input's own.
    """
    name = name or row.name
    drawn = row.text(stored, system)
    # A field that nobody touched shows what is stored now, even if that changed meanwhile.
    touched = typed is not None and typed.texts.get(name, "") != typed.was.get(name, "")
    numeric = row.kind in ("number", "whole")
    marked = typed is not None and name in typed.marks
    return FieldView(
        id=field_id(name),
        name=name,
        label=_(row.label),
        value=typed.texts[name] if typed is not None and touched else drawn,
        was=drawn,
        hint=_hint(row, system),
        unit=_(row.unit.symbol(system)) if row.is_number else "",
        messages=tuple(dict.fromkeys(say(p, system) for p in problems)),
        choices=_choices(row),
        numeric=numeric,
        wide=row.kind in ("steps", "times"),
        origin="" if given is None else _origin(row, given),
        source="" if given is None else _source(row, system),
        mark_words=_mark(row, bool(given), system),
        mark_checked=marked,
    )


def _choices(row: Entry) -> tuple[tuple[str, str], ...]:
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
    if row.kind == "times":
        parts.append(_("Several, with a space between."))
    if row.follows:
        parts.append(_("Empty: {what}.", what=_(row.follows)))
    return " ".join(parts)


def _origin(row: Entry, given: bool) -> str:
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


def _mark(row: Entry, given: bool, system: str) -> str:
    return _("Back to the default, {value}", value=shown_default(row, system)) if given else ""
