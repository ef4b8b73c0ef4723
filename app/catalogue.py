"""The catalogue of texts: every sentence that a reader sees passes through `_`, dates included.

The key of a text is the English text itself, with named gaps in braces. Without a table, the text
stands for itself; a table of another language is put on for one request with `speaking`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from types import MappingProxyType

from sim.errors import InputProblem, Note, NotedDay, NotedSentence, Sentence

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip

_NO_TABLE: Mapping[str, str] = MappingProxyType({})
_table: ContextVar[Mapping[str, str]] = ContextVar("texts", default=_NO_TABLE)


def _(text: str, /, **values: object) -> str:
    """The text in the reader's language, its named gaps filled with `values`.

    A text without values is left as it is, braces included. A `markupsafe.Markup` text stays
    markup, and what fills its gaps is escaped.

    Raises:
        KeyError: if the text has a gap that `values` doesn't fill.
    """
    said = _table.get().get(str(text), text)
    if said is not text and hasattr(text, "__html__"):
        said = type(text)(said)
    return said.format(**values) if values else said


def _n(one: str, many: str, count: int, /, **values: object) -> str:
    """The text that goes with a count: `one` for 1, else `many`, with the count in its gap
    ``{count}``.

    Each is a whole sentence of its own, so that a language may turn it as it has to.
    """
    return _(one if count == 1 else many, **{"count": f"{count:,}", **values})


@contextmanager
def speaking(table: Mapping[str, str]) -> Iterator[None]:
    """Within the block, texts that `table` holds are said as it has them."""
    token = _table.set(table)
    try:
        yield
    finally:
        _table.reset(token)


def weekday(day: date) -> str:
    """The name of a day of the week."""
    return _(WEEKDAYS[day.weekday()])


def long_date(day: date, year: bool = False) -> str:
    """A date as ``Saturday 18 July``, with the year where it could be mistaken."""
    words = _(
        "{weekday} {day} {month}",
        weekday=weekday(day),
        day=day.day,
        month=_(MONTHS[day.month - 1]),
    )
    return f"{words} {day.year}" if year else words


def month_of(day: date) -> str:
    """The month of a date as ``July 2026``."""
    return _("{month} {year}", month=_(MONTHS[day.month - 1]), year=day.year)


def day_month(day: date) -> str:
    """A date as ``18 July``, where the year is plain."""
    return _("{day}\u00a0{month}", day=day.day, month=_(MONTHS[day.month - 1]))


def short_date(day: date) -> str:
    """A date as ``18 July 2026``."""
    return _("{day} {month} {year}", day=day.day, month=_(MONTHS[day.month - 1]), year=day.year)


FILTERS = {one.__name__: one for one in (day_month, long_date, month_of, short_date, weekday)}
"""Filters of the templates, each by its function's name: ``{{ day | long_date }}``."""


def say(told: InputProblem | Sentence | Note | NotedSentence, system: str) -> str:
    """A problem or another sentence in the reader's language and units ("si" or "us")."""
    shown = {name: _shown(value, system) for name, value in told.values.items()}
    return _(told.sentence, **shown) if shown else _(told.sentence)


def _shown(value: object, system: str) -> str:
    if isinstance(value, Sentence | NotedSentence):
        return say(value, system)
    if isinstance(value, date | NotedDay):
        return short_date(value.day if isinstance(value, NotedDay) else value)
    return str(value.show(system)) if hasattr(value, "show") else _(str(value))
