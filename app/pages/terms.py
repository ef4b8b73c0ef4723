"""Terms on pages: a word that opens what it means, and the texts that a page's terms open.

While a page is drawn its terms are noted, so that the text of each stands on it once, at its end,
and no text of any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from app.words.glossary import Term
from app.words.terms import EVERY, key_of, labels, meaning


@dataclass(slots=True)
class Noted:
    """What a page being drawn has used: its terms in order, what more is said of each, and the
    labels by which terms are found."""

    terms: dict[str, str] = field(default_factory=dict)
    known: dict[bool, dict[str, str]] = field(default_factory=dict)


_noted: ContextVar[Noted | None] = ContextVar("terms of the page", default=None)


@contextmanager
def noting() -> Iterator[None]:
    """Within the block, a page's terms are noted from none on."""
    token = _noted.set(Noted())
    try:
        yield
    finally:
        _noted.reset(token)


def opens(words: str, key: str = "", more: str = "", costs: bool = False) -> str:
    """The id of the text that a head or a term's key opens; empty where it is no term.

    A part of a page that is drawn by itself opens texts of the page that it goes into.

    Args:
        more: said below the text, such as the error of a figure on this very page.
    """
    noted = _noted.get() or Noted()
    if not key:
        if costs not in noted.known:
            noted.known[costs] = labels(costs)
        key = key_of(str(words), noted.known[costs])
    elif key not in EVERY:
        raise KeyError(key)
    if not key:
        return ""
    noted.terms[key] = more or noted.terms.get(key, "")
    return f"t-{key}"


def opened() -> list[tuple[Term, str]]:
    """The terms noted so far and what more is said of each."""
    noted = _noted.get()
    return [(meaning(key), more) for key, more in noted.terms.items()] if noted else []
