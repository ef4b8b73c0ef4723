"""Words as they are read."""

from __future__ import annotations


def plain(words: object) -> str:
    """Without spaces at which no line ends."""
    return str(words).replace("\u00a0", " ")
