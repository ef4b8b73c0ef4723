"""Weighings of a strip: the cheapest way to learn what only the site can tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.inputs.rows import NOT_A_MINUTE, Amount, ClockCell, Day, Rows, Whole, Word, cell
from sim.inputs.site import INPUTS

SOAKED, DAMP, AFTERNOON = "soaked", "damp", "afternoon"
WEIGHINGS = (SOAKED, DAMP, AFTERNOON)
"""What a weighing caught: a soaked strip that has stopped dripping; a strip at the moment when
cars began to come out damp; a strip on a busy afternoon."""
MISFIT = "misfit"
"""Stands beside the kinds of weighings that an answer rests on, where the model does not explain
what was weighed and counted."""
CARS_LOOKED_AT = 20
"""Cars that the guided page asks to look at after a strip from the wheel was weighed."""


DRY = INPUTS["strip_dry_mass_kg"]
NOT_A_WEIGHT = "is not a weight. Enter a number, with kg, g, oz or lb if in another unit."
NOT_LOOKED_AT = (
    f"is not a number of cars. Look at the next {CARS_LOOKED_AT} cars, and enter how many came out "
    "with a damp hood or windshield; 0 for none."
)


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

    kind: str = cell(Word(
        longest=10, choices=WEIGHINGS,
        fault="“{value}” is no weighing. Use soaked, damp or afternoon.",
    ))
    day: date = cell(Day(
        column="date", label="Day", hint="Year-month-day.",
        to_come="{value} is still to come. Enter the day on which the strip was weighed.",
    ))
    at_s: float = cell(ClockCell(column="time", label="Time", hint="As 15:20.", fault=NOT_A_MINUTE))
    weight_kg: float = cell(Amount(
        label="Weight, wet", unit="small_mass", unreadable=NOT_A_WEIGHT,
        hint="Several strips with a space between. Write kg or lb after it for those.",
    ))
    dry_kg: float = cell(Amount(
        label="Weight of the same strip, dry", unit="small_mass", unreadable=NOT_A_WEIGHT,
        hint="As the Site page has it, unless you weighed it.", low=DRY.low, high=DRY.high,
        fault="Dry weight {value} can't be that of a strip. Enter {low} to {high}.",
    ))
    rule: str = cell(Word(), "full")
    cars: int = cell(Whole(
        label="Cars looked at afterwards", hint="The next ones, whatever they look like.",
        low=0, high=200, only=(DAMP, AFTERNOON), blank=lambda row: not row.cars,
        unreadable=NOT_LOOKED_AT,
        fault="{value} cars looked at can't be. Enter 1 to {high}, those right after the strip.",
    ), 0)
    damp_cars: int = cell(Whole(
        label="Of those, damp", only=(DAMP, AFTERNOON), blank=lambda row: not row.cars,
        unreadable=NOT_LOOKED_AT,
    ), 0)
    cars_so_far: int = cell(Whole(
        label="Cars washed so far that day",
        hint="By the counter, when the strip was weighed. Empty if nobody knows: then counts "
        "brought in later tell it.",
        low=0, high=5000, only=(DAMP, AFTERNOON), blank=lambda row: not row.cars_so_far,
        unreadable="is not a number of cars. Enter what the counter shows for today, or nothing.",
        fault="{value} cars washed so far can't be. Enter 1 to {high}, or nothing.",
    ), 0)
    weather: str = cell(Word(label="Weather that day, as felt", only=(DAMP, AFTERNOON)), "")

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


WEIGHED: Rows[Weighing] = Rows(
    Weighing, "weighings", "weighings", file="weighings.csv", what="weighing",
    named=("kind", "day", "at_s"), called="weighings", most=200, order=lambda row: row, kind="kind",
)
