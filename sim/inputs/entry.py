"""One row of the table of inputs: what an input is called, means, may be and where it is from."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import partial
from typing import Any, Literal

from sim.errors import InputError, InputProblem
from sim.units import (
    UNITS,
    Quantity,
    Unit,
    check_length,
    format_number,
    parse_clock,
    parse_quantity,
    show_clock,
)

Kind = Literal["number", "whole", "choice", "flag", "words", "address", "steps", "times", "months"]
Steps = tuple[tuple[float, float], ...]
"""A timetable: (seconds after midnight, value from then on), first row at 0; empty for none."""
Times = tuple[float, ...]
"""Measured times [s], or another list of numbers."""
LISTS = ("times", "months")
"""Kinds of input that are a list of numbers: as many as there are, or one a month or none."""
Value = float | int | bool | str | Steps | Times
FOLLOWS = -1.0
"""Stands for a number that nobody entered and that follows from others, see `Entry.follows`."""
ON_SITE = "guess; measure on site"
MANUAL = "guess; take it from the equipment's own manual"
"""Sources of defaults that a site should replace by its own."""
LONGEST_WORDS = 30
"""Characters of an input of kind ``words``."""
GAPS = ("date", "time", "year", "month", "day", "hour", "minute")
"""What may stand in braces in an input of kind ``address``, and is filled in for a moment."""
LONGEST_ADDRESS = 180
"""Characters of an input of kind ``address``."""
LONGEST_LIST = 4_000
"""Characters of a typed timetable or list of times."""
LONGEST_TEXT = 200
"""Characters of any other typed input."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of a guessed input before the site has measured it.

    Attributes:
        family: ``ln`` lognormal, ``bt`` logit-normal, ``nm`` normal; the median is the default.
        low, high: 2.5th and 97.5th percentile, in SI.
    """

    family: Literal["ln", "bt", "nm"]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Entry:
    """One input. `low` and `high` bound a number (each value of a timetable or list), in SI.

    Attributes:
        follows: what the number is where nobody has entered one, in words; it is `FOLLOWS` then,
            and an empty field says so. Empty for inputs that always have a number.
    """

    name: str
    label: str
    kind: Kind
    unit: Unit
    default: Value
    source: str
    low: float = 0.0
    high: float = 0.0
    prior: Prior | None = None
    choices: tuple[tuple[str, str], ...] = ()
    help: str = ""
    follows: str = ""

    @property
    def is_number(self) -> bool:
        """Whether it is made of numbers, which have a unit and limits."""
        return self.kind not in ("choice", "flag", "words", "address")

    @property
    def is_guess(self) -> bool:
        """Whether the default was neither measured, published nor the site's own choice."""
        return self.source.startswith("guess")

    def is_open(self, value: object) -> bool:
        """Whether a value stands for one that nobody entered and that follows from others."""
        return bool(self.follows) and value == FOLLOWS

    def amount(self, value: float, limit: str = "") -> Quantity:
        """The value as a quantity of this input's unit; `limit` as there."""
        return Quantity(float(value), self.unit, 4, limit)

    def limits(self) -> dict[str, object]:
        """Fillings "low" and "high" of a sentence that says what may be entered."""
        return {"low": self.amount(self.low, "least"), "high": self.amount(self.high, "most")}

    def parse(self, text: str, system: str = "si") -> Value:
        """The stored value of a typed text, in the units of `system` unless the text names one.

        `system` is ``si`` or ``us`` where the unit of that system is shown beside the text, and
        `sim.units.BY_NAME` where the input's name is.

        Timetables read ``2; 11:00 3; 18:00 2``, lists ``41 38.5 52``.

        Raises:
            InputError: with one problem that names label, text and what would be right.
        """
        typed = text.strip()
        if self.follows and not typed:
            return FOLLOWS
        try:
            value = self._read(typed, system)
        except ValueError as fault:
            raise self._error(typed, str(fault)) from None
        problems = self.typed_problems(value)
        if problems:
            raise InputError(problems)
        if self.is_open(value):
            raise self._error(typed, f"“{typed}” is less than there can be")
        return value

    def _read(self, typed: str, system: str) -> Value:
        check_length(typed, LONGEST_LIST if self.kind in ("steps", *LISTS) else LONGEST_TEXT)
        if self.kind == "choice":
            if typed not in dict(self.choices):
                allowed = ", ".join(key for key, _ in self.choices)
                raise ValueError(f"“{typed}” is not a choice; use one of {allowed}")
            return typed
        if self.kind == "flag":
            words = {"yes": True, "true": True, "on": True, "no": False, "false": False, "": False}
            if typed.lower() not in words:
                raise ValueError(f"“{typed}” is neither yes nor no")
            return words[typed.lower()]
        if self.kind in ("words", "address"):
            return " ".join(typed.split())
        if self.kind == "steps":
            return self._read_steps(typed, system)
        if self.kind in LISTS:
            # a comma within a cell may be a decimal mark, thousands or two numbers: none is guessed
            cells = re.sub(r"[;,](?=\s|$)|;", " ", typed).split()
            unclear = next((cell for cell in cells if "," in cell), "")
            if unclear:
                raise ValueError(f"“{unclear}” may be one number or two; put a space between numbers")
            return tuple(parse_quantity(cell, self.unit, system) for cell in cells)
        if not typed:
            raise ValueError("nothing was entered")
        number = parse_quantity(typed, self.unit, system)
        if self.kind == "whole":
            if number != int(number):
                raise ValueError(f"“{typed}” is not a whole number")
            return int(number)
        return number

    def _read_steps(self, typed: str, system: str) -> Steps:
        rows: list[tuple[float, float]] = []
        for position, part in enumerate(p.strip() for p in typed.split(";") if p.strip()):
            clock, _, rest = part.partition(" ")
            if ":" in clock:
                rows.append((parse_clock(clock), parse_quantity(rest, self.unit, system)))
            elif position == 0:
                rows.append((0.0, parse_quantity(part, self.unit, system)))
            else:
                raise ValueError(f"“{part}” has no time; write it as 11:00 {part}")
        if any(b[0] <= a[0] for a, b in itertools.pairwise(rows)):
            raise ValueError(f"the times of “{typed}” do not follow one another")
        if rows and rows[0][0] > 0:
            rows.insert(0, (0.0, rows[0][1]))
        return tuple(rows)

    def _error(self, typed: str, fault: str) -> InputError:
        sentence = "{label}: {fault}." + (" Enter {low} to {high}." if self.is_number else "")
        filling = {"label": self.label, "fault": fault, "typed": typed, **self.limits()}
        return InputError([InputProblem(self.name, sentence, filling)])

    def problems(self, value: Value) -> list[InputProblem]:
        """Every reason why a stored value may not be used; empty when it is fine."""
        if self.is_open(value):
            return []
        if self.is_number:
            found = [p for number in self._numbers(value) for p in self._range_problem(number)]
            return found or self._length_problem(value)
        filling: dict[str, object] = {"label": self.label, "value": value}
        if self.kind == "choice":
            fits = value in dict(self.choices)
            sentence = "{label} “{value}” is not a choice. Use one of {allowed}."
            filling["allowed"] = ", ".join(key for key, _ in self.choices)
        elif self.kind == "flag":
            fits = isinstance(value, bool)
            sentence = "{label} “{value}” is neither yes nor no."
        elif self.kind == "address":
            fits = isinstance(value, str) and (not value or is_address(value))
            sentence = (
                "{label} “{value}” can’t be used. Begin with http:// or https://, without spaces, at "
                "most {most} letters, in braces only {gaps}."
            )
            filling |= {"most": LONGEST_ADDRESS, "gaps": ", ".join(GAPS)}
        else:
            fits = isinstance(value, str) and value.isprintable() and self._fits(value)
            sentence = "{label} “{value}” can’t be used. Enter a word or a few, 1 to {most} letters."
            filling["most"] = LONGEST_WORDS
        return [] if fits else [InputProblem(self.name, sentence, filling)]

    def typed_problems(self, value: Value) -> list[InputProblem]:
        """The same of a value that somebody wrote, which stands for itself alone."""
        if self.follows:
            return self._range_problem(value)
        return self.problems(value)

    @staticmethod
    def _fits(words: str) -> bool:
        return words == " ".join(words.split()) and 1 <= len(words) <= LONGEST_WORDS

    def _numbers(self, value: Value) -> list[object]:
        if self.kind == "steps" and isinstance(value, tuple):
            return [row[1] if isinstance(row, tuple) and len(row) == 2 else row for row in value]
        if self.kind in LISTS and isinstance(value, tuple):
            return list(value)
        return [value]

    def _length_problem(self, value: Value) -> list[InputProblem]:
        if self.kind != "months" or not isinstance(value, tuple) or len(value) in (0, 12):
            return []
        sentence = (
            "{label}: {count} numbers were given. Enter twelve, January first, with a space "
            "between; or none."
        )
        filling = {"label": self.label, "count": len(value)}
        return [InputProblem(self.name, sentence, filling)]

    def _range_problem(self, number: object) -> list[InputProblem]:
        shown: object = number
        if (
            isinstance(number, bool)
            or not isinstance(number, int | float)
            or not math.isfinite(number)
        ):
            sentence = "{label} “{value}” is not a number. Enter {low} to {high}."
        elif self.kind == "whole" and number != int(number):
            sentence = "{label} {value} is not a whole number. Enter {low} to {high}."
            shown = self.amount(number)
        elif not self.low <= number <= self.high:
            sentence = "{label} {value} is outside what can be used. Enter {low} to {high}."
            shown = self.amount(number)
        else:
            return []
        filling = {"label": self.label, **self.limits(), "value": shown}
        return [InputProblem(self.name, sentence, filling)]

    def with_unit(self, value: Value, system: str = "si") -> str:
        """A stored value with its unit beside each number; `parse` reads it back in any system.

        Lists of times are in seconds, as the names of those inputs say.
        """
        if not self.is_number or self.kind == "times":
            return self.text(value, system)
        symbol = self.unit.symbol(system)
        if self.kind == "months":
            return " ".join(f"{part}{symbol}" for part in self.text(value, system).split())
        parts = self.text(value, system).split("; ")
        return "; ".join(f"{part} {symbol}".rstrip() if part else "" for part in parts)

    def text(self, value: Value, system: str = "si") -> str:
        """A stored value as a form shows it, without its unit; `parse` reads it back."""
        if self.is_open(value):
            return ""
        if self.kind == "flag":
            return "yes" if value else "no"
        if self.kind in ("choice", "words", "address"):
            return str(value)
        if self.kind == "steps" and isinstance(value, tuple):
            cells = []
            for row in value:
                moment, amount = row if isinstance(row, tuple) else (0.0, row)
                shown = self._plain(amount, system)
                cells.append(shown if moment == 0 else f"{show_clock(moment)} {shown}")
            return "; ".join(cells)
        if self.kind in LISTS and isinstance(value, tuple):
            return " ".join(self._plain(x, system) for x in value if isinstance(x, float | int))
        return self._plain(value, system) if isinstance(value, int | float) else str(value)

    def _plain(self, stored: float, system: str) -> str:
        return format_number(self.unit.to_edge(stored, system), 4).replace("\u2212", "-")


def is_address(text: str) -> bool:
    """Whether a text is the pattern of an address of the web, see `GAPS`."""
    scheme, _, rest = text.partition("://")
    bare = rest
    for gap in GAPS:
        bare = bare.replace(f"{{{gap}}}", "0")
    is_web = scheme in ("http", "https") and bare[:1] not in ("", "/", "?", "#")
    fits = len(text) <= LONGEST_ADDRESS and text.isprintable() and not set(text) & set(" \"'<>\\`")
    return is_web and fits and not set(bare) & set("{}")


def _entry(kind: Kind, default: Value, label: str, unit: str, source: str, **more: Any) -> Any:
    row = Entry("", label, kind, UNITS[unit], default, source, **more)
    return field(default=default, metadata={"entry": row})


def number(
    default: float,
    label: str,
    unit: str,
    low: float,
    high: float,
    source: str,
    prior: Prior | None = None,
    advice: str = "",
    follows: str = "",
) -> Any:
    """A dataclass field for a real-valued input; `unit` is a kind of `sim.units`."""
    more = {"low": low, "high": high, "prior": prior, "help": advice, "follows": follows}
    return _entry("number", default, label, unit, source, **more)


def whole(
    default: int, label: str, unit: str, low: int, high: int, source: str, advice: str = ""
) -> Any:
    """A dataclass field for a whole-numbered input."""
    return _entry("whole", default, label, unit, source, low=low, high=high, help=advice)


def choice(default: str, label: str, choices: dict[str, str], source: str, advice: str = "") -> Any:
    """A dataclass field for one of several named choices (stored key to shown words)."""
    pairs = tuple(choices.items())
    return _entry("choice", default, label, "number", source, choices=pairs, help=advice)


def flag(default: bool, label: str, source: str, advice: str = "") -> Any:
    """A dataclass field for yes or no."""
    return _entry("flag", default, label, "number", source, help=advice)


def words(default: str, label: str, source: str, advice: str = "") -> Any:
    """A dataclass field for a few words of the site's own, on one line."""
    return _entry("words", default, label, "number", source, help=advice)


def address(label: str, source: str, advice: str = "") -> Any:
    """A dataclass field for the pattern of an address of the web; empty for none."""
    return _entry("address", "", label, "number", source, help=advice)


def steps(
    default: Steps, label: str, unit: str, low: float, high: float, source: str, advice: str = ""
) -> Any:
    """A dataclass field for a timetable over the day."""
    return _entry("steps", default, label, unit, source, low=low, high=high, help=advice)


def times(default: Times, label: str, low: float, high: float, source: str, advice: str = "") -> Any:
    """A dataclass field for a list of measured times [s]."""
    return numbers(default, label, "seconds", low, high, source, advice)


def numbers(
    default: Times, label: str, unit: str, low: float, high: float, source: str, advice: str = ""
) -> Any:
    """A dataclass field for a list of as many numbers as there are."""
    return _entry("times", default, label, unit, source, low=low, high=high, help=advice)


def months(
    default: Times, label: str, unit: str, low: float, high: float, source: str, advice: str = ""
) -> Any:
    """A dataclass field for twelve numbers, January first; none of them where it is empty."""
    return _entry("months", default, label, unit, source, low=low, high=high, help=advice)


ln, bt, nm = (partial(Prior, family) for family in ("ln", "bt", "nm"))
"""A lognormal, logit-normal or normal prior by its 95 % range."""


def entries_of(group: type) -> dict[str, Entry]:
    """The rows of a dataclass whose fields were made by this module, by name of the field."""
    return {item.name: replace(item.metadata["entry"], name=item.name) for item in fields(group)}


def value_at(table: Steps, moment_s: float) -> float:
    """The value of a timetable at a time of day; the table must not be empty."""
    current = table[0][1]
    for start, amount in table:
        if start > moment_s:
            break
        current = amount
    return current


def between_times(
    table: Steps, from_s: float, until_s: float, change: Callable[[float], float]
) -> Steps:
    """A timetable with its values changed between two times; the table must not be empty."""
    starts = sorted({table[0][0], from_s, until_s, *(start for start, _amount in table)})
    rows: list[tuple[float, float]] = []
    for start in starts:
        amount = value_at(table, start)
        if from_s <= start < until_s:
            amount = change(amount)
        if not rows or rows[-1][1] != amount:
            rows.append((start, amount))
    return tuple(rows)


def fewer(table: Steps, from_s: float, until_s: float, least: float) -> Steps:
    """A timetable of people with one fewer between two times, nowhere below `least`."""
    return between_times(
        table, from_s, until_s, lambda count: min(count, max(least, count - 1.0))
    )
