"""Weighings of a strip: the cheapest way to learn what only the site can tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SOAKED, DAMP, AFTERNOON = "soaked", "damp", "afternoon"
WEIGHINGS = (SOAKED, DAMP, AFTERNOON)
"""What a weighing caught: a soaked strip that has stopped dripping; a strip at the moment when
cars began to come out damp; a strip on a busy afternoon."""


@dataclass(frozen=True, slots=True, order=True)
class Weighing:
    """One strip on a scale.

    Attributes:
        kind: one of `WEIGHINGS`.
        day: date in the site's time zone.
        at_s: seconds after midnight on the site's clock [s].
        weight_kg: what the strip weighed [kg], above `dry_kg`.
        dry_kg: what it weighs dry [kg], above zero.
        rule: how cars had been wiped that day until then, see `sim.day.rules.parse_rule`.
    """

    kind: str
    day: date
    at_s: float
    weight_kg: float
    dry_kg: float
    rule: str = "full"

    @property
    def moisture_kg_kg(self) -> float:
        """Moisture of the strip [kg water per kg dry cloth]."""
        return self.weight_kg / self.dry_kg - 1.0
