"""Wiping rules as the parts of a plain form, and back: kind, windows, band, vehicle classes."""

from __future__ import annotations

from dataclasses import dataclass

from sim.day.rules import Band, Classes, Clock, Service, parse_rule
from sim.errors import InputError
from sim.units import format_number, show_clock

KINDS = ("full", "reduced", "clock", "band", "class", "service", "text")
"""Kinds of rule that a form offers; ``text`` is any rule in its written form."""


@dataclass(frozen=True, slots=True)
class RuleParts:
    """A rule as the fields of a form; fields that its kind has no use for are empty.

    Attributes:
        kind: one of `KINDS`.
        windows: clock windows as typed, such as ``12:00-15:30``.
        upper, lower: saturations of a band as typed, in %.
        classes: keys of vehicle classes.
        text: the rule as it is written, for the kind ``text``.
    """

    kind: str
    windows: str = ""
    upper: str = ""
    lower: str = ""
    classes: tuple[str, ...] = ()
    text: str = ""

    @property
    def spans(self) -> list[tuple[str, str]]:
        """Start and end of each clock window of a rule by clock alone, as shown."""
        parts = (window.partition("-") for window in self.windows.split(", ") if window)
        return [(start, end) for start, _dash, end in parts]


def parts_of(text: str) -> RuleParts:
    """The parts of a written rule; one that is no single term, or no rule, is kept as text."""
    try:
        rule = parse_rule(text)
    except InputError:
        return RuleParts("text", text=text)
    if rule.everyone:
        return RuleParts("reduced")
    if not rule.either:
        return RuleParts("full")
    if len(rule.either) == 1 and len(rule.either[0]) == 1:
        term = rule.either[0][0]
        if isinstance(term, Clock):
            windows = (f"{show_clock(a)}-{show_clock(b)}" for a, b in term.windows)
            return RuleParts("clock", windows=", ".join(windows))
        if isinstance(term, Band):
            upper, lower = (format_number(100 * x, 4) for x in (term.upper, term.lower))
            return RuleParts("band", upper=upper, lower=lower)
        if isinstance(term, Classes):
            return RuleParts("class", classes=term.keys)
        if isinstance(term, Service):
            return RuleParts("service")
    return RuleParts("text", text=rule.text)


def written(parts: RuleParts) -> str:
    """The rule that the fields of a form state; whether it can be used is `parse_rule`'s to say."""
    if parts.kind == "clock":
        return "clock " + ",".join(w.strip() for w in parts.windows.split(",") if w.strip())
    if parts.kind == "band":
        upper, lower = (x.replace("%", "").strip() for x in (parts.upper, parts.lower))
        return f"band {upper}-{lower}"
    if parts.kind == "class":
        return "class " + ",".join(parts.classes)
    if parts.kind == "text":
        return " ".join(parts.text.split())
    return parts.kind


def words_of(text: str) -> str:
    """A written rule as a page says it; a text that is no rule as it stands."""
    try:
        return parse_rule(text).words()
    except InputError:
        return text
