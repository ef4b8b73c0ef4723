"""What the page About the model is made of."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Equation:
    """An equation: its head, the lines of it, and what the signs mean."""

    head: str
    lines: tuple[Markup, ...]
    meaning: str


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the page: anchor, head, words in the margin, paragraphs and equations."""

    anchor: str
    head: str
    margin: str
    paragraphs: tuple[str, ...] = ()
    equations: tuple[Equation, ...] = ()
    points: tuple[tuple[str, str], ...] = ()
