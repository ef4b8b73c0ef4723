"""Cues of a crew as parts of a sentence: what a count, a weight or a clock time says."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.catalogue import _
from sim.units import NBSP, format_number, quantity

Term = Mapping[str, Any]
CREW = "crew_"
"""How kinds of terms begin that a crew carries out."""


def weight_of(weight_kg: float, system: str) -> str:
    """A strip's weight as a scale shows it; grams beside ounces, since scales have them too."""
    said = quantity(weight_kg, "small_mass", 3).show(system)
    return said if system == "si" else f"{said} ({format_number(1000 * weight_kg)}{NBSP}g)"


def reads_up(term: Term, system: str) -> str:
    """The reading at which to reduce."""
    if term["kind"] == "crew_cars":
        return _("{cars} or more", cars=format_number(term["upper"]))
    return _("{weight} or more", weight=weight_of(term["upper_kg"], system))


def reads_down(term: Term, system: str) -> str:
    """The reading at which to go back."""
    if term["kind"] == "crew_cars":
        return _("{cars} or fewer", cars=format_number(term["lower"]))
    return _("{weight} or less", weight=weight_of(term["lower_kg"], system))


def watched_words(term: Term, system: str) -> str:
    """When a watched cue says to reduce and to go back."""
    up, down = reads_up(term, system), reads_down(term, system)
    if term["kind"] == "crew_cars":
        sentence = "when {up} cars were washed in the last hour, until {down} were"
        return _(sentence, up=up, down=down)
    return _("when a strip weighs {up}, until it weighs {down}", up=up, down=down)
