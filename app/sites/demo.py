"""The invented demo site, laid so that its year ends within the week before today."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from app.files.site_clock import SiteClock
from app.sites.folder import read_folder
from sim.inputs import ClothBook, History, HourWeather, SiteData

DEMO_FOLDER = Path(__file__).parents[2] / "demo_site"
YEAR_DAYS = 364
HOT_DRY_DAY = 103
QUIET_DAY = 246
"""Days of the demo's year, counted from 0, in the middle of a season: a Saturday, a Tuesday."""
WET_MM = 5.0
SURGE = 1.2


@lru_cache(maxsize=1)
def _base() -> SiteData:
    return read_folder(DEMO_FOLDER)


def demo_data(today: date) -> SiteData:
    """The demo site with its 364 days laid before `today`.

    They are moved by whole weeks, so every day keeps its weekday, and end on the last Sunday
    before today, one to seven days ago. The seasons move with them: the demo stands before its
    humid peak on whatever day it is looked at. Marked days move as well; two are still to come.
    Where clocks change on a day as laid, its weather loses or doubles that hour as a real file
    would.

    Raises:
        InputError: if the files of the demo have been spoiled.
    """
    base = _base()
    past = base.history
    shift = _shift(past, today)
    counts = tuple(dataclasses.replace(row, day=row.day + shift) for row in past.counts)
    days = tuple(dataclasses.replace(note, day=note.day + shift) for note in past.days)
    weather = tuple(_laid_weather(past, shift, SiteClock(base.site.timezone)))
    history = History(past.counted, counts, weather, days)
    return dataclasses.replace(base, history=history, cloth=_laid_cloth(base.cloth, shift))


def demo_days(today: date) -> dict[str, date]:
    """Days worth looking at in the demo as laid for `today`.

    ``humid_peak``: the first Saturday after today; ``hot_dry_peak``: a Saturday and ``quiet``: a
    Tuesday, both in the coming year; ``after_rain``: the last day of the counts on which cars came
    in numbers after a wet day; ``closed``: the next day marked closed.
    """
    data = demo_data(today)
    history = data.history
    next_year = history.counts[0].day + timedelta(days=YEAR_DAYS)
    to_saturday = (5 - today.weekday() - 1) % 7 + 1
    return {
        "humid_peak": today + timedelta(days=to_saturday),
        "quiet": next_year + timedelta(days=QUIET_DAY),
        "hot_dry_peak": next_year + timedelta(days=HOT_DRY_DAY),
        "after_rain": _after_rain(history),
        "closed": min(n.day for n in history.days if n.kind == "closed" and n.day > today),
    }


def _shift(past: History, today: date) -> timedelta:
    last = past.counts[-1].day
    return timedelta(weeks=((today - last).days - 1) // 7)


def _laid_cloth(book: ClothBook, shift: timedelta) -> ClothBook:
    sets = (
        dataclasses.replace(item, bought=item.bought and item.bought + shift) for item in book.sets
    )
    events = (dataclasses.replace(event, day=event.day + shift) for event in book.events)
    return ClothBook(tuple(sets), tuple(events))


def _laid_weather(past: History, shift: timedelta, clock: SiteClock) -> Iterator[HourWeather]:
    by_day: dict[date, dict[int, HourWeather]] = {}
    for row in past.weather:
        by_day.setdefault(row.day, {}).setdefault(row.hour, row)
    for day in sorted(by_day):
        rows = by_day[day]
        for hour in range(24):
            # The hour that the stored day skips is like the one before it.
            row = rows.get(hour) or rows[hour - 1]
            for fold in range(clock.times(day + shift, hour)):
                yield dataclasses.replace(row, day=day + shift, hour=hour, fold=fold)


def _after_rain(history: History) -> date:
    totals: dict[date, int] = {}
    for row in history.counts:
        totals[row.day] = totals.get(row.day, 0) + row.cars
    rain: dict[date, float] = {}
    open_hours = {row.hour for row in history.counts}
    for air in history.weather:
        if air.hour in open_hours:
            rain[air.day] = rain.get(air.day, 0.0) + air.rain_mm
    marked = {note.day for note in history.days}
    week = timedelta(days=7)
    return max(
        day
        for day, total in totals.items()
        if rain[day] == 0.0
        and rain.get(day - timedelta(days=1), 0.0) >= WET_MM
        and day not in marked
        and total >= SURGE * totals.get(day - week, total)
    )
