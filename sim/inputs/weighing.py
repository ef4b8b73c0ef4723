"""Weighings of a strip: the cheapest way to learn what only the site can tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SOAKED, DAMP, AFTERNOON = "soaked", "damp", "afternoon"
WEIGHINGS = (SOAKED, DAMP, AFTERNOON)
"""What a weighing caught: a soaked strip that has stopped dripping; a strip at the moment when
cars began to come out damp; a strip on a busy afternoon."""
MISFIT = "misfit"
"""Stands beside the kinds of weighings that an answer rests on, where the model does not explain
what was weighed and counted."""
CARS_LOOKED_AT = 20
"""Cars that the guided page asks to look at after a strip from the wheel was weighed."""


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
        cars: the next cars after it that were looked at; 0 if nobody looked. Strips weighed at
            one time share one count.
        damp_cars: of those, how many left with a damp hood or windshield.
        cars_so_far: washed that day until then; 0 if nobody counted.
        weather: of that day as it was felt, as `sim.learn.override.parse_override` reads it;
            empty if nothing was said.
    """

    kind: str
    day: date
    at_s: float
    weight_kg: float
    dry_kg: float
    rule: str = "full"
    cars: int = 0
    damp_cars: int = 0
    cars_so_far: int = 0
    weather: str = ""

    @property
    def moisture_kg_kg(self) -> float:
        """Moisture of the strip [kg water per kg dry cloth]."""
        return self.weight_kg / self.dry_kg - 1.0

    @property
    def needs_day(self) -> bool:
        """Whether it is judged by what its day brought until then.

        A strip at the damp limit without a count is judged by the damp limit alone.
        """
        return self.kind == AFTERNOON or (self.kind == DAMP and self.cars > 0)
