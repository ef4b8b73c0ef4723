"""What a site knows of its past days: counts, weather, closed days. All in the local clock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sim.inputs.cloth_set import EVENTS, SETS, ClothBook
from sim.inputs.roster import PEOPLE, SHIFTS, StaffBook
from sim.inputs.rows import Amount, AnyRows, Day, Rows, Whole, Word, cell
from sim.inputs.site import Site
from sim.inputs.weighing import WEIGHED, Weighing

COUNTED = ("arrived", "washed")
"""What a count counted: cars that arrived, or cars that were washed."""


@dataclass(frozen=True, slots=True, order=True)
class HourCount:
    """Cars counted in the hour that begins at `hour` o'clock local time.

    Attributes:
        fold: 1 for the second of the two equal clock hours when clocks go back, else 0.
        cars: whole number, 0 or more.
    """

    day: date = cell(Day())
    hour: int = cell(Whole())
    fold: int = cell(Whole())
    cars: int = cell(Whole())


@dataclass(frozen=True, slots=True, order=True)
class HourWeather:
    """Outdoor air in an hour: temperature [°C], relative humidity 0 to 1, rain [mm]."""

    day: date = cell(Day())
    hour: int = cell(Whole())
    fold: int = cell(Whole())
    temp_c: float = cell(Amount())
    humidity: float = cell(Amount())
    rain_mm: float = cell(Amount())


@dataclass(frozen=True, slots=True, order=True)
class DayNote:
    """A day that stands out: `kind` is ``closed`` or ``event``."""

    day: date = cell(Day())
    kind: str = cell(Word(longest=10))
    note: str = cell(Word(), "")


@dataclass(frozen=True, slots=True)
class History:
    """The past of a site, each part sorted by time.

    Attributes:
        counted: one of `COUNTED`. Cars washed are cut off by capacity: a lower bound on cars
            arrived in a full hour.
    """

    counted: str = "arrived"
    counts: tuple[HourCount, ...] = ()
    weather: tuple[HourWeather, ...] = ()
    days: tuple[DayNote, ...] = ()


@dataclass(frozen=True, slots=True)
class SiteData:
    """A whole site as a folder holds it.

    Attributes:
        units: ``us`` or ``si``, what its people read.
        given: names of the inputs that the site entered itself; the rest are defaults.
        weighings: of strips, in order.
        cloth: its sets, and what happened to each.
        staff: people who can be put on a roster, and rosters published.
    """

    site: Site
    units: str = "us"
    given: frozenset[str] = frozenset()
    history: History = History()
    weighings: tuple[Weighing, ...] = ()
    cloth: ClothBook = ClothBook()
    staff: StaffBook = StaffBook()

    def with_book(self, part: str, book: object) -> SiteData:
        """The same with another book in one of its parts, such as ``cloth``."""
        changes: dict[str, Any] = {part: book}
        return replace(self, **changes)


HOUR = ("day", "hour", "fold")
COUNTS: Rows[HourCount] = Rows(HourCount, "history.counts", "counts", key=HOUR)
WEATHER: Rows[HourWeather] = Rows(HourWeather, "history.weather", "weather", key=HOUR)
DAYS: Rows[DayNote] = Rows(DayNote, "history.days", "days", key=("day", "kind"))
PAST: tuple[AnyRows, ...] = (COUNTS, WEATHER, DAYS)
"""Rows of a site's past, of which there are many."""
KEPT: tuple[AnyRows, ...] = (WEIGHED, SETS, EVENTS, PEOPLE, SHIFTS)
"""Rows of a site's books."""
