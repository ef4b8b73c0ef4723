"""What can be wrong with an input, and how it is said.

A problem holds a sentence with named gaps and the quantities that fill them, so that the
same problem reads in feet on one page and in metres on another, and in another language later.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Protocol, runtime_checkable

Filling = object
"""What may stand in a gap: text, a number, or an amount that shows itself in either system."""


@runtime_checkable
class Shown(Protocol):
    """An amount that can be shown in a system of units, such as a `sim.units.Quantity`."""

    def show(self, system: str) -> str:
        """Value and unit as a reader of `system` sees them."""
        ...


@dataclass(frozen=True, slots=True)
class Sentence:
    """A text that a reader sees, with what fills its gaps.

    Attributes:
        sentence: with named gaps in braces; the key of the catalogue of texts.
        values: what fills the gaps; quantities are shown in the reader's units, and a sentence
            may stand in another one.
    """

    sentence: str
    values: Mapping[str, Filling] = dataclasses.field(default_factory=dict)

    def say(self, system: str = "si") -> str:
        """The sentence with its gaps filled, in the units of `system` ("si" or "us")."""
        return self.sentence.format(**_shown(self.values, system)) if self.values else self.sentence

    def __str__(self) -> str:
        return self.say()


def _shown(values: Mapping[str, Filling], system: str) -> dict[str, str]:
    return {
        name: value.show(system)
        if isinstance(value, Shown)
        else value.say(system)
        if isinstance(value, Sentence)
        else str(value)
        for name, value in values.items()
    }


@dataclass(frozen=True, slots=True)
class InputProblem:
    """One thing wrong with one input.

    Attributes:
        field: name of the input as the table of inputs has it, or a column of a file.
        sentence: what is wrong with the value given and what would be right, with named gaps
            in braces; the key of the catalogue of texts.
        values: what fills the gaps; quantities are shown in the reader's units.
        where: file and line, such as ``counts.csv, line 12``; empty for a form.
    """

    field: str
    sentence: str
    values: Mapping[str, Filling] = dataclasses.field(default_factory=dict)
    where: str = ""

    def say(self, system: str = "si") -> str:
        """The sentence with its gaps filled, in the units of `system` ("si" or "us")."""
        return self.sentence.format(**_shown(self.values, system))

    def noted(self) -> Note:
        """The same as an answer keeps it."""
        return Note(self.field, self.sentence, _noted(self.values))

    def __str__(self) -> str:
        said = self.say()
        return f"{self.where}: {said}" if self.where else said


@dataclass(frozen=True, slots=True)
class NotedAmount:
    """An amount of a note, as a reader of either system sees it."""

    si: str
    us: str

    def show(self, system: str = "si") -> str:
        """Value and unit in the units of `system` ("si" or "us")."""
        return self.us if system == "us" else self.si


@dataclass(frozen=True, slots=True)
class NotedDay:
    """A day of a note."""

    day: date


@dataclass(frozen=True, slots=True)
class NotedSentence:
    """A sentence of a note, with what fills its gaps."""

    sentence: str
    values: dict[str, Noted]


Noted = str | NotedAmount | NotedDay | NotedSentence
"""What fills a gap of a note."""


@dataclass(frozen=True, slots=True)
class Note:
    """A problem that an answer tells: like `InputProblem`, of parts that can be stored."""

    field: str
    sentence: str
    values: dict[str, Noted]


def _noted(values: Mapping[str, Filling]) -> dict[str, Noted]:
    noted: dict[str, Noted] = {}
    for name, value in values.items():
        if isinstance(value, Shown):
            noted[name] = NotedAmount(value.show("si"), value.show("us"))
        elif isinstance(value, Sentence):
            noted[name] = NotedSentence(value.sentence, _noted(value.values))
        else:
            noted[name] = NotedDay(value) if isinstance(value, date) else str(value)
    return noted


class InputError(ValueError):
    """Inputs that cannot be used; carries every problem found, never only the first.

    Attributes:
        problems: at least one `InputProblem`.
    """

    def __init__(self, problems: Iterable[InputProblem]) -> None:
        self.problems: tuple[InputProblem, ...] = tuple(problems)
        if not self.problems:
            raise ValueError("an InputError needs at least one problem")
        super().__init__("; ".join(str(p) for p in self.problems))


def problems_of(*reads: Callable[[], object]) -> list[InputProblem]:
    """The problems of everything that is read, each read whatever is wrong with the others."""
    problems: list[InputProblem] = []
    for read in reads:
        try:
            read()
        except InputError as fault:
            problems += fault.problems
    return problems


class OutOfRangeWarning(UserWarning):
    """A value outside the range in which an equation was validated; the result still stands."""


def quoted(text: str, most: int = 40) -> str:
    """A typed text as messages repeat it: at most `most` characters."""
    return text if len(text) <= most else text[: most - 1] + "…"


LONGEST_NAME_LOOKED_UP = 80
"""Characters of a name for which a similar one is looked for: comparing takes their square."""


def nearest(name: str, known: Iterable[str], most: int = 1, cutoff: float = 0.6) -> list[str]:
    """The known names most like a mistyped one, the likest first; none if none is alike."""
    if len(name) > LONGEST_NAME_LOOKED_UP:
        return []
    return difflib.get_close_matches(name, list(known), n=most, cutoff=cutoff)
