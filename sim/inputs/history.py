"""What a site knows of its past days: counts, weather, closed days. All in the local clock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sim.inputs.cloth_book import EVENTS, SETS, WEIGHED, ClothBook, Weighing
from sim.inputs.forecast import Forecast
from sim.inputs.logbook import CHECKS, DEFAULT_CHECKS, LOG, CheckItem, LogEntry
from sim.inputs.roster import PEOPLE, SHIFTS, StaffBook
from sim.inputs.rows import Amount, AnyRows, Day, Rows, Whole, Word, cell
from sim.inputs.site import Site

TYPED = "typed"
"""What stands for counts where nobody counted: a week of hours that somebody typed, a guess."""
COUNTS_OF = ("arrived", "washed")
"""What a count counted: cars that arrived, or cars that were washed."""
COUNTED = (*COUNTS_OF, TYPED)
TYPED_WEEK = date(2001, 1, 1)
"""Monday of the week that typed days stand in, so that no day to plan is taken for one of them."""
MOST_CARS_PER_H = 5_000
COLDEST_C, HOTTEST_C = -60.0, 60.0
MOST_RAIN_MM = 400.0
"""Rain in an hour [mm]."""
TOTAL = "total"
"""A day whose cars were counted in all: its hours are a guess, see `sim.learn.day_totals`."""
DAY_KINDS = ("closed", "event", TOTAL)
NO_HOUR = "Hour {hour} of {day} is none. Use hours 0 to 23, and fold 0 or 1."
NO_AIR = "{day} {hour}:00: {field} {value} can't be. Enter {low} to {high}."


@dataclass(frozen=True, slots=True, order=True)
class HourCount:
    """Cars counted in the hour that begins at `hour` o'clock local time.

    Attributes:
        fold: 1 for the second of the two equal clock hours when clocks go back, else 0.
        cars: whole number, 0 or more.
    """

    day: date = cell(Day())
    hour: int = cell(Whole(low=0, high=23, fault=NO_HOUR))
    fold: int = cell(Whole(low=0, high=1, fault=NO_HOUR))
    cars: int = cell(Whole(
        low=0, high=MOST_CARS_PER_H,
        fault="{day} {hour}:00: {value} cars can't be. Enter a whole number, {low} to {high}.",
    ))


@dataclass(frozen=True, slots=True, order=True)
class HourWeather:
    """Outdoor air in an hour: temperature [°C], relative humidity 0 to 1, rain [mm]."""

    day: date = cell(Day())
    hour: int = cell(Whole(low=0, high=23, fault=NO_HOUR))
    fold: int = cell(Whole(low=0, high=1, fault=NO_HOUR))
    temp_c: float = cell(Amount(unit="temperature", low=COLDEST_C, high=HOTTEST_C, fault=NO_AIR))
    humidity: float = cell(Amount(unit="share", low=0, high=1, fault=NO_AIR))
    rain_mm: float = cell(Amount(unit="rain", low=0, high=MOST_RAIN_MM, fault=NO_AIR))


@dataclass(frozen=True, slots=True, order=True)
class DayNote:
    """A day that stands out: `kind` is ``closed`` or ``event``; or of which only a total is known."""

    day: date = cell(Day())
    kind: str = cell(Word(
        longest=10, choices=DAY_KINDS,
        fault="{day} can't be marked “{value}”. Use closed, event or total.",
    ))
    note: str = cell(Word(), "")


@dataclass(frozen=True, slots=True)
class History:
    """The past of a site, each part sorted by time.

    Attributes:
        counted: one of `COUNTED`. Cars washed are cut off by capacity: a lower bound on cars
            arrived in a full hour. Typed days are nobody's count; counts replace them.
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
        checks: the site's own lists of checks; empty where it keeps to those of `DEFAULT_CHECKS`.
        log: its logbook, in order; read where a whole site is asked for, else left out, because it
            grows by the minute and no answer rests on all of it.
        stands_on: the day that it always is at an invented site, which so looks the same whenever
            it is opened; None at a real one, where the clock tells.
        forecast: of the days after its counts, where that was found to tell them better than like
            days; it follows from the rest and is no part of a folder.
    """

    site: Site
    units: str = "us"
    given: frozenset[str] = frozenset()
    history: History = History()
    weighings: tuple[Weighing, ...] = ()
    cloth: ClothBook = ClothBook()
    staff: StaffBook = StaffBook()
    checks: tuple[CheckItem, ...] = ()
    log: tuple[LogEntry, ...] = ()
    stands_on: date | None = None
    forecast: Forecast | None = None

    @property
    def check_list(self) -> tuple[CheckItem, ...]:
        """The checks to be done."""
        return self.checks or DEFAULT_CHECKS

    def with_book(self, part: str, book: object) -> SiteData:
        """The same with another book in one of its parts, such as ``cloth``."""
        changes: dict[str, Any] = {part: book}
        return replace(self, **changes)


HOUR = ("day", "hour", "fold")
TWICE = "{day} {hour}:00 stands there {times} times. Give every hour once."
COUNTS: Rows[HourCount] = Rows(
    HourCount, "history.counts", "counts", key=HOUR, named=HOUR, twice=TWICE
)
WEATHER: Rows[HourWeather] = Rows(
    HourWeather, "history.weather", "weather", key=HOUR, named=HOUR, twice=TWICE
)
DAYS: Rows[DayNote] = Rows(
    DayNote, "history.days", "days", key=("day", "kind"), named=("day", "kind"),
    twice="{day} is marked {kind} {times} times. Mark it once.",
)
PAST: tuple[AnyRows, ...] = (COUNTS, WEATHER, DAYS)
"""Rows of a site's past, of which there are many."""
KEPT: tuple[AnyRows, ...] = (WEIGHED, SETS, EVENTS, PEOPLE, SHIFTS, CHECKS)
"""Rows of a site's books."""
NOTED: tuple[AnyRows, ...] = (LOG,)
"""Rows that are entered one at a time, and read by the day."""
