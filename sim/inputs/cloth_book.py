"""What a site writes down of its cloth: weighings of strips, sets, and what happened to each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sim.inputs.rows import NOT_A_MINUTE, Amount, ClockCell, Day, Name, Rows, Whole, Word, cell
from sim.inputs.site import INPUTS

# ---- measurements: the cheapest way to learn what only the site can tell -------------------------

SOAKED, DAMP, AFTERNOON = "soaked", "damp", "afternoon"
WEIGHINGS = (SOAKED, DAMP, AFTERNOON)
"""What a weighing caught: a soaked strip that has stopped dripping; a strip at the moment when
cars began to come out damp; a strip on a busy afternoon."""
SPIN, TOWEL, HOODS = "spin", "towel", "hoods"
MEASURED = (*WEIGHINGS, SPIN, TOWEL, HOODS)
"""Besides: a strip before and after the wheel idled without cars; a towel before and after it dried
a hood that the crew would let pass or call back; damp ones among the last hoods at some time."""
ON_A_SCALE = (*WEIGHINGS, SPIN, TOWEL)
BY_THE_DAY = (DAMP, AFTERNOON, HOODS)
"""Kinds of measurement that have weights, and those that tell of the cars and air of their day."""
EFFORT: dict[str, tuple[int, int]] = {
    SOAKED: (30, 1), DAMP: (15, 1), AFTERNOON: (15, 1), SPIN: (40, 2), TOWEL: (40, 0),
    HOODS: (15, 0),
}  # fmt: skip
"""Minutes of a person's work and lock-outs that each takes; common practice, no source."""
LET_PASS, CALL_BACK = "pass", "back"
VERDICTS = (LET_PASS, CALL_BACK)
"""What the crew would do with a car."""
MISFIT = "misfit"
"""Stands beside the kinds of weighings that an answer rests on, where the model does not explain
what was weighed and counted."""
CARS_LOOKED_AT = 20
"""Cars that the guided page asks to look at after a strip from the wheel was weighed, and the last
ones of which it asks how many were damp."""

DRY = INPUTS["strip_dry_mass_kg"]
SPUN_MOST_S = 4.0 * 3600.0
"""Longest spin test that is judged [s]."""
NOT_A_WEIGHT = "is not a weight. Enter a number, with kg, g, oz or lb if in another unit."
NOT_LOOKED_AT = (
    f"is not a number of cars. Look at the next {CARS_LOOKED_AT} cars, and enter how many came out "
    "with a damp hood or windshield; 0 for none."
)


@dataclass(frozen=True, slots=True, order=True)
class Weighing:
    """One strip or towel on a scale, or hoods that were looked at.

    Attributes:
        kind: one of `MEASURED`.
        day: date in the site's time zone.
        at_s: seconds after midnight on the site's clock [s]; of a spin test when it began.
        weight_kg: what strip or towel weighed wet [kg], above `dry_kg`; 0 of hoods looked at.
        dry_kg: what it weighs dry [kg], above zero; 0 of hoods looked at.
        rule: how cars had been wiped that day until then, see `sim.day.rules.parse_rule`.
        cars: that were looked at: the next ones after a strip, the last ones, or those that went
            by until the towels of a test had their hoods; 0 if nobody looked. Strips weighed at
            one time, and towels of one test, share one count.
        damp_cars: of those, how many left with a damp hood or windshield, or would have been
            called back.
        cars_so_far: washed that day until then; 0 if nobody counted.
        weather: of that day as it was felt, as `sim.learn.expected_day.parse_override` reads it;
            empty if nothing was said.
        after_kg: what the strip weighed after the wheel had idled [kg]; of a spin test, else 0.
        spun_s: how long that was in all since it weighed `weight_kg` [s]; of a spin test, else 0.
        verdict: one of `VERDICTS`, on the car whose hood a towel dried; else empty.
    """

    kind: str = cell(Word(
        longest=10, choices=MEASURED,
        fault="“{value}” is no weighing. Use {known}.",
    ))
    day: date = cell(Day(
        column="date", label="Day", hint="Year-month-day.",
        to_come="{value} is still to come. Enter the day on which it was measured.",
    ))
    at_s: float = cell(ClockCell(column="time", label="Time", hint="As 15:20.", fault=NOT_A_MINUTE))
    weight_kg: float = cell(Amount(
        label="Weight, wet", unit="small_mass", unreadable=NOT_A_WEIGHT, only=ON_A_SCALE,
        blank=lambda row: row.kind == HOODS,
        hint="Several strips with a space between. Write kg or lb after it for those.",
    ), 0.0)
    dry_kg: float = cell(Amount(
        label="Weight of the same strip, dry", unit="small_mass", unreadable=NOT_A_WEIGHT,
        only=ON_A_SCALE, blank=lambda row: row.kind == HOODS,
        hint="As the Site page has it, unless you weighed it.", low=DRY.low, high=DRY.high,
        fault="Dry weight {value} can't be that of a strip or towel. Enter {low} to {high}.",
    ), 0.0)
    rule: str = cell(Word(), "full")
    cars: int = cell(Whole(
        label="Cars looked at afterwards", hint="The next ones, whatever they look like.",
        low=0, high=200, only=(*BY_THE_DAY, TOWEL), blank=lambda row: not row.cars,
        unreadable=NOT_LOOKED_AT,
        fault="{value} cars looked at can't be. Enter 1 to {high}, those right after the strip.",
    ), 0)
    damp_cars: int = cell(Whole(
        label="Of those, damp", only=(*BY_THE_DAY, TOWEL), blank=lambda row: not row.cars,
        unreadable=NOT_LOOKED_AT,
    ), 0)
    cars_so_far: int = cell(Whole(
        label="Cars washed so far that day",
        hint="By the counter, at that time. Empty if nobody knows: then counts brought in later "
        "tell it.",
        low=0, high=5000, only=BY_THE_DAY, blank=lambda row: not row.cars_so_far,
        unreadable="is not a number of cars. Enter what the counter shows for today, or nothing.",
        fault="{value} cars washed so far can't be. Enter 1 to {high}, or nothing.",
    ), 0)
    weather: str = cell(Word(
        label="Weather that day, as felt", only=(*BY_THE_DAY, SPIN),
    ), "")
    after_kg: float = cell(Amount(
        label="Weight after idling", unit="small_mass", unreadable=NOT_A_WEIGHT, only=(SPIN,),
        blank=lambda row: row.kind != SPIN,
        hint="The same strip. After several times: the weight at each, with a space between.",
    ), 0.0)
    spun_s: float = cell(Amount(
        label="How long the wheel idled", unit="minutes_from_s", only=(SPIN,),
        blank=lambda row: row.kind != SPIN, low=60.0, high=SPUN_MOST_S,
        unreadable="is not a number of minutes. Enter how long the wheel idled, as in 10.",
        hint="Since the first weighing. Several times with a space between, as in 10 30.",
        fault="{value} of idling can't be judged. Enter {low} to {high}.",
    ), 0.0)
    verdict: str = cell(Word(
        longest=10, choices=VERDICTS, only=(TOWEL,),
        fault="“{value}” says not what the crew would do with the car. Use pass or back.",
    ), "")

    @property
    def moisture_kg_kg(self) -> float:
        """Moisture of the strip [kg water per kg dry cloth]."""
        return self.weight_kg / self.dry_kg - 1.0

    @property
    def after_kg_kg(self) -> float:
        """Moisture of the strip after a spin test [kg water per kg dry cloth]."""
        return self.after_kg / self.dry_kg - 1.0

    @property
    def gain_kg(self) -> float:
        """Water that a towel took [kg]."""
        return self.weight_kg - self.dry_kg

    @property
    def needs_day(self) -> bool:
        """Whether it is judged by what its day brought until then.

        A strip at the damp limit without a count is judged by the damp limit alone.
        """
        return self.kind in (AFTERNOON, HOODS) or (self.kind == DAMP and self.cars > 0)

    @property
    def at_once(self) -> bool:
        """Whether it is judged by the site alone, without day or air."""
        return not self.needs_day and self.kind != SPIN


def all_told(kinds: Collection[str]) -> bool:
    """Whether measurements of these kinds, which fit the model, tell what advice rests on most: how
    much the cloth holds, what counts as damp, and how water leaves the wheel."""
    return MISFIT not in kinds and all(not kinds_of.isdisjoint(kinds) for kinds_of in TELL)


TELL = (frozenset({SOAKED}), frozenset({DAMP, TOWEL}), frozenset({AFTERNOON, SPIN}))
"""Of each of these one kind or the other must have been measured before any advice is firm."""


WEIGHED: Rows[Weighing] = Rows(
    Weighing, "weighings", "weighings", file="weighings.csv", what="weighing",
    named=("kind", "day", "at_s"), called="weighings", most=200, order=lambda row: row, kind="kind",
)


# ---- sets and what happened to them --------------------------------------------------------------

PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED = "on", "off", "laundered", "inspected"
HOODS_COUNTED = "hoods"
"""Hoods behind the wheel were looked at, with this set on it, and the damp ones counted."""
CLOTH_EVENTS = (PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED, HOODS_COUNTED)
"""What can happen to a set."""

ROTATED, WORN, PLANNED, ACCIDENT, STOLEN = "rotated", "worn", "planned", "accident", "stolen"
REASONS = (ROTATED, WORN, PLANNED, ACCIDENT, STOLEN)
"""Why a set was taken off: to dry or to be laundered; worn out; on plan, before it wore out; torn by
accident; gone. A set that rotated may be put on again, any other reason ends its life."""

WEAR = "{value} cars can’t be the wear of a set. Enter {low} to {high}."
MOST_CARS = 1e6
NOT_CARS = "is not a number of cars. Enter one, as in 42000, or leave it empty."
NOT_STRIPS = "is not a number of strips. Enter a whole number, or leave it empty."
NOT_MEASURED = "can’t be read. Enter a number, with a unit if in another one, or leave it empty."


@dataclass(frozen=True, slots=True)
class ClothSet:
    """The strips that are changed together.

    Attributes:
        name: what the crew calls it, unique at the site, 1 to 40 characters.
        bought: when it was bought; None if nobody knows.
        cars_before: its wear before the record begins [full-wipe equivalents].
    """

    name: str = cell(Name(
        column="set", label="Name", hint="What the crew calls it.",
        fault="Name “{value}” can’t be used. Enter 1 to {most} characters, the first not “=”.",
    ))
    bought: date | None = cell(Day(
        label="Bought", hint="Year-month-day; may stay empty.",
        to_come="{value} is still to come. Enter the day on which the set was bought.",
    ), None)
    cars_before: float = cell(Amount(
        label="Full wipes before this record", hint="Empty for a new set.",
        unit="number", low=0, high=MOST_CARS, fault=WEAR, unreadable=NOT_CARS,
    ), 0.0)


@dataclass(frozen=True, slots=True)
class ClothEvent:
    """One thing that happened to a set.

    Attributes:
        day: date in the site's time zone.
        at_s: seconds after midnight on the site's clock [s].
        kind: one of `CLOTH_EVENTS`.
        name: of the set.
        reason: one of `REASONS` for a set taken off, else empty.
        cars: wear since the set was put on, where it is known [full-wipe equivalents]; of a set
            taken off.
        length_m: length of a strip [m]; dry_kg: its weight dry [kg]; torn: strips torn or gone;
            each of an inspection, None where nobody looked.
        hoods: hoods looked at behind the wheel; damp_hoods: how many of them were damp; of a count
            of hoods, else None.
    """

    day: date = cell(Day(
        column="date", label="Day", hint="Year-month-day.",
        to_come="{value} is still to come. Enter the day on which it happened.",
    ))
    at_s: float = cell(ClockCell(column="time", label="Time", hint="As 15:20.", fault=NOT_A_MINUTE))
    kind: str = cell(Word(
        column="what", longest=10, choices=CLOTH_EVENTS,
        fault="“{value}” is nothing that happens to a set. Use {known}.",
    ))
    name: str = cell(Name(column="set", label="Set"))
    reason: str = cell(Word(
        label="Why", longest=10, choices=REASONS, only=(TAKEN_OFF,),
        fault="“{value}” is no reason to take a set off. Use {known}.",
    ), "")
    cars: float | None = cell(Amount(
        label="Full wipes since it was put on",
        hint="Only if a counter told; else it is worked out from the counts of cars.",
        unit="number", low=0, high=MOST_CARS, only=(TAKEN_OFF,), fault=WEAR, unreadable=NOT_CARS,
    ), None)
    length_m: float | None = cell(Amount(
        label="Length of a strip", unit="short_length", only=(INSPECTED,),
        low=0, above=True, high=INPUTS["strip_length_m"].high, unreadable=NOT_MEASURED,
        fault="Length {value} can’t be that of a strip. Enter more than 0, up to {high}.",
    ), None)
    dry_kg: float | None = cell(Amount(
        label="Weight of a strip, dry", unit="small_mass", only=(INSPECTED,),
        low=0, above=True, high=INPUTS["strip_dry_mass_kg"].high, unreadable=NOT_MEASURED,
        fault="Dry weight {value} can’t be that of a strip. Enter more than 0, up to {high}.",
    ), None)
    torn: int | None = cell(Whole(
        label="Strips torn or gone", only=(INSPECTED,), low=0, high=INPUTS["strip_count"].high,
        fault="{value} torn strips can’t be. Enter {low} to {high}.", unreadable=NOT_STRIPS,
    ), None)
    hoods: int | None = cell(Whole(
        label="Hoods looked at", only=(HOODS_COUNTED,), low=1, high=1000,
        fault="{value} hoods can’t have been looked at. Enter {low} to {high}.",
        unreadable="is not a number of hoods. Enter a whole number.",
    ), None)
    damp_hoods: int | None = cell(Whole(
        label="Of these damp", only=(HOODS_COUNTED,),
        unreadable="is not a number of hoods. Enter a whole number.",
    ), None)

    @property
    def place(self) -> tuple[date, float, bool, str, str]:
        """Where it stands in the record: by time; a set comes off before the next is put on."""
        return self.day, self.at_s, self.kind == PUT_ON, self.kind, self.name


@dataclass(frozen=True, slots=True)
class ClothBook:
    """All sets of a site, in the order in which they were entered, and their record by time."""

    sets: tuple[ClothSet, ...] = ()
    events: tuple[ClothEvent, ...] = ()

    def in_order(self) -> ClothBook:
        """The same with its record in order of time."""
        return ClothBook(self.sets, tuple(sorted(self.events, key=lambda event: event.place)))


SETS: Rows[ClothSet] = Rows(
    ClothSet, "cloth.sets", "cloth_sets", file="cloth_sets.csv", what="cloth", named=("name",),
    called="sets", most=200, twice="There are {times} sets “{name}”. Give each a name of its own.",
)
EVENTS: Rows[ClothEvent] = Rows(
    ClothEvent, "cloth.events", "cloth_events", file="cloth_log.csv",
    first=("day", "at_s", "name", "kind"), what="cloth", named=("name", "kind", "day", "at_s"),
    called="entries", most=5_000, order=lambda event: event.place, kind="kind",
)
