"""Reading a posted form by the table of inputs, in the reader's units.

Beside each field travels the text that it was drawn with. Where the typed text is still that text,
the stored value is left alone: a number never changes by being rounded for a page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from starlette.datastructures import FormData

from sim.checks import or_refusal
from sim.errors import InputError, InputProblem
from sim.inputs import Entry, Value

PostedForm = FormData
"""A posted form: texts and files by the name of their field."""

WAS = "was."
MARK = "mark."


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


def messages_by_field(problems: Iterable[InputProblem]) -> dict[str, list[InputProblem]]:
    """The problems under the name of their field, each sentence once a field."""
    found: dict[str, list[InputProblem]] = {}
    for problem in problems:
        found.setdefault(problem.field, []).append(problem)
    return found
