"""What computes an answer: the model's version, and those of the libraries beneath it."""

from __future__ import annotations

from importlib.metadata import version

LIBRARIES = ("simpy", "numpy", "scipy", "psychrolib")
MODEL = "1"
"""Raised whenever the model gives other figures for the same question."""


def libraries() -> dict[str, str]:
    """Versions of what computes a comparison."""
    return {"clothcast": version("clothcast"), **{name: version(name) for name in LIBRARIES}}
