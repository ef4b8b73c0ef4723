"""What computes an answer: the model's version, and those of the libraries beneath it."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version

from app.db.tables import encode

LIBRARIES = ("simpy", "numpy", "scipy", "psychrolib")
MODEL = "2"
"""Raised whenever the model gives other figures for the same question."""


def libraries() -> dict[str, str]:
    """Versions of what computes a comparison."""
    return {name: _version(name) for name in ("clothcast", *LIBRARIES)}


def answer_key(schema: str, *asked: object) -> str:
    """The key under which an answer lies: a hash of everything that it depends on.

    Args:
        schema: of the answer; asked: what was asked, as content that JSON can hold.
    """
    content = encode([schema, MODEL, libraries(), *asked])
    return hashlib.sha256(content.encode()).hexdigest()[:32]


@cache
def _version(name: str) -> str:
    """A version, which is read from a file, kept: it does not change while the program runs."""
    return version(name)
