"""What computes an answer: the model's version, and those of the libraries beneath it."""

from __future__ import annotations

from functools import cache
from importlib.metadata import version

LIBRARIES = ("simpy", "numpy", "scipy", "psychrolib")
MODEL = "2"
"""Raised whenever the model gives other figures for the same question."""


def libraries() -> dict[str, str]:
    """Versions of what computes a comparison."""
    return {name: _version(name) for name in ("clothcast", *LIBRARIES)}


@cache
def _version(name: str) -> str:
    """A version, which is read from a file, kept: it does not change while the program runs."""
    return version(name)
