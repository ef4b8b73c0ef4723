"""Days as they are expected: the coming ones at a glance, and the last open one before a day."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from app.sites.demo import FAIR_BRINGS, demo_days
from sim.day.night import PreviousDay
from sim.decide.switching.answer import DayState
from sim.errors import InputError
from sim.inputs import SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day, parse_override

Look = Callable[[SiteData, date, Override], ExpectedDay]
"""Gives the expected day of a site, a date and what was typed over it; may raise InputError."""
COMING_DAYS = 14
"""How many coming days are shown and prepared for."""
LOOK_BACK_DAYS = 7
"""How far back the last open day is looked for; after more the cloth counts as dry."""


@dataclass(frozen=True, slots=True)
class ComingDay:
    """A day that may be planned.

    Attributes:
        expected: what it is expected to bring; None where the site's past gives no ground to
            expect anything.
        note: what the site wrote beside the day, such as the name of an event.
    """

    day: date
    expected: ExpectedDay | None
    note: str = ""

    @property
    def state(self) -> DayState:
        """Whether it can be planned."""
        if self.expected is None:
            return "unknown"
        if self.expected.closed:
            return "closed"
        return "open" if self.expected.expected_cars > 0 else "no cars"

    @property
    def cars(self) -> float:
        """Cars expected; 0 on a day that is not open."""
        return self.expected.expected_cars if self.expected and self.state == "open" else 0.0


def coming_day(data: SiteData, day: date, look: Look = expected_day, typed: str = "") -> ComingDay:
    """A day as it is expected, with what was typed over it."""
    note = next((item.note for item in data.history.days if item.day == day), "")
    try:
        return ComingDay(day, look(data, day, parse_override(typed, data.units)), note)
    except InputError:
        return ComingDay(day, None, note)


def busiest(days: Iterable[ComingDay]) -> date:
    """The busiest of some days; the first where nothing is expected of any."""
    return max(days, key=lambda one: one.cars).day


def coming_days(
    data: SiteData, first: date, count: int = COMING_DAYS, look: Look = expected_day
) -> tuple[ComingDay, ...]:
    """`count` days from `first` on, each as it is expected before anything is typed over it."""
    return tuple(coming_day(data, first + timedelta(days=ahead), look) for ahead in range(count))


def days_with_notes(
    data: SiteData, after: date, look: Look = expected_day
) -> tuple[ComingDay, ...]:
    """Later days that the site has marked, in order."""
    marked = sorted({note.day for note in data.history.days if note.day > after})
    return tuple(coming_day(data, day, look) for day in marked)


def evening_before(data: SiteData, day: date, look: Look) -> PreviousDay | None:
    """The last open day before, from which the cloth's moisture in the morning comes, by what is
    expected of it."""
    for back in range(1, LOOK_BACK_DAYS + 1):
        before = coming_day(data, day - timedelta(days=back), look)
        if before.expected is None:
            return None
        if before.state == "open":
            return PreviousDay(before.expected.conditions, back, before.day)
    return None


HIGHLIGHTS = {
    "humid_peak": (
        "Busy peak",
        "More cars in humid air than the cloth can dry: the day to ask when to reduce.",
    ),
    "hot_dry_peak": (
        "Hot and dry",
        "As many cars, but dry air takes the water out of the cloth between them.",
    ),
    "quiet": ("Quiet", "Few cars with long gaps: the cloth has all the time it needs."),
    "after_rain": ("After rain", "Cars that waited for the rain to end come all at once."),
    "hands": (
        "Hands",
        "The street fair brings cars and takes the people from the exit: is one with a towel "
        "worth more than reduced wiping?",
    ),
    "closed": ("Closed", "A marked day: no car is let in, and nothing is planned."),
}
"""Name of each of the demo's days, and what is special about it."""


def demo_highlights(
    data: SiteData, look: Look = expected_day
) -> tuple[tuple[str, str, ComingDay], ...]:
    """Name, what is special, and look of the days that show an invented site best, the fair's as
    its plan has it; empty for any other site."""
    if data.stands_on is None:
        return ()
    days = demo_days()
    return tuple(
        (name, special, coming_day(data, days[key], look, FAIR_BRINGS if key == "hands" else ""))
        for key, (name, special) in HIGHLIGHTS.items()
    )
