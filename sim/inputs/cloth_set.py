"""Cloth sets of a site and what happened to each: put on, taken off, laundered, looked at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED = "on", "off", "laundered", "inspected"
HOODS_COUNTED = "hoods"
"""Hoods behind the wheel were looked at, with this set on it, and the damp ones counted."""
CLOTH_EVENTS = (PUT_ON, TAKEN_OFF, LAUNDERED, INSPECTED, HOODS_COUNTED)
"""What can happen to a set."""

ROTATED, WORN, PLANNED, ACCIDENT, STOLEN = "rotated", "worn", "planned", "accident", "stolen"
REASONS = (ROTATED, WORN, PLANNED, ACCIDENT, STOLEN)
"""Why a set was taken off: to dry or to be laundered; worn out; on plan, before it wore out; torn by
accident; gone. A set that rotated may be put on again, any other reason ends its life."""


@dataclass(frozen=True, slots=True)
class ClothSet:
    """The strips that are changed together.

    Attributes:
        name: what the crew calls it, unique at the site, 1 to 40 characters.
        bought: when it was bought; None if nobody knows.
        cars_before: its wear before the record begins [full-wipe equivalents].
    """

    name: str
    bought: date | None = None
    cars_before: float = 0.0


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

    day: date
    at_s: float
    kind: str
    name: str
    reason: str = ""
    cars: float | None = None
    length_m: float | None = None
    dry_kg: float | None = None
    torn: int | None = None
    hoods: int | None = None
    damp_hoods: int | None = None

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
