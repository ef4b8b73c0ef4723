"""The days ahead at a glance: how many cars and what weather each is expected to bring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from app.answers.planning import Look
from app.sites.demo import demo_data, demo_days
from sim.errors import InputError
from sim.inputs import SiteData
from sim.learn.expected_day import Override, expected_day


@dataclass(frozen=True, slots=True)
class ComingDay:
    """A day that may be planned.

    Attributes:
        closed: whether no car is let in.
        cars: cars expected; None where the site's past gives no ground to expect any number.
        highest_temp_c: highest outdoor temperature [°C]; None with `cars`.
        note: what the site wrote beside the day, such as the name of an event.
    """

    day: date
    closed: bool
    cars: float | None
    highest_temp_c: float | None
    note: str = ""


def coming_days(
    data: SiteData, first: date, count: int = 14, look: Look = expected_day
) -> tuple[ComingDay, ...]:
    """`count` days from `first` on, each as it is expected before anything is typed over it."""
    return tuple(_look_at(data, first + timedelta(days=ahead), look) for ahead in range(count))


def days_with_notes(
    data: SiteData, after: date, look: Look = expected_day
) -> tuple[ComingDay, ...]:
    """Later days that the site has marked, in order."""
    marked = sorted({note.day for note in data.history.days if note.day > after})
    return tuple(_look_at(data, day, look) for day in marked)


def _look_at(data: SiteData, day: date, look: Look) -> ComingDay:
    note = next((item.note for item in data.history.days if item.day == day), "")
    try:
        expected = look(data, day, Override())
    except InputError:
        return ComingDay(day, False, None, None, note)
    if expected.closed:
        return ComingDay(day, True, 0.0, expected.highest_temp_c, note)
    return ComingDay(day, False, expected.expected_cars, expected.highest_temp_c, note)


HIGHLIGHTS = {
    "humid_peak": "A humid, busy Saturday",
    "quiet": "A quiet Tuesday",
    "hot_dry_peak": "A hot, dry, busy Saturday",
    "after_rain": "A day after rain",
    "closed": "A closed day",
}


@lru_cache(maxsize=4)
def _demo(today: date) -> tuple[str, dict[str, date]]:
    """Name and highlights of the demo as laid for a day; kept, because laying a year takes time."""
    return demo_data(today).site.name, demo_days(today)


def demo_highlights(
    data: SiteData, today: date, look: Look = expected_day
) -> tuple[tuple[str, ComingDay], ...]:
    """Name and look of the days that show the demo site best; empty for any other site."""
    name, days = _demo(today)
    if data.site.name != name:
        return ()
    return tuple(
        (HIGHLIGHTS[key], _look_at(data, days[key], look)) for key in HIGHLIGHTS if key in days
    )
