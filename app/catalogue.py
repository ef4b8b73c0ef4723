"""The catalogue of texts: every sentence that a reader sees passes through `_`.

The key of a text is the English text itself, with named gaps in braces. Without a table, the text
stands for itself; a table of another language is put on for one request with `speaking`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from types import MappingProxyType

from sim.errors import InputProblem

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


@contextmanager
def speaking(table: Mapping[str, str]) -> Iterator[None]:
    """Within the block, texts that `table` holds are said as it has them."""
    token = _table.set(table)
    try:
        yield
    finally:
        _table.reset(token)


def say(problem: InputProblem, system: str) -> str:
    """A problem in the reader's language and units ("si" or "us")."""
    shown = {
        name: value.show(system) if hasattr(value, "show") else _(str(value))
        for name, value in problem.values.items()
    }
    return _(problem.sentence, **shown) if shown else _(problem.sentence)
