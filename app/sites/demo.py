"""The invented demo site, which always stands on one day, and its twin that measured nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from app.sites.folder import read_folder
from sim.inputs import INPUTS, ClothBook, History, SiteData, StaffBook

DEMO_FOLDER = Path(__file__).parents[2] / "demo_site"
TWIN = "{name}, unweighed"
LEARNT = frozenset({
    "film_after_rinse_kg_m2", "blower_removal", "contact_patch_m", "film_cv", "uptake_max",
    "wipe_time_s",
    "finish_area_s_m2", "allowed_film_kg_m2", "zone_minded_roof", "zone_minded_rear",
})  # fmt: skip
"""Inputs that the demo site found out in its first year."""
YEAR_DAYS = 364
HOT_DRY_DAY = 61
QUIET_DAY = 190
"""Days of the demo's year, counted from 0, in the middle of a season: a Saturday, a Tuesday."""
FAIR_BRINGS = "82 °F, 85 %, +30 %"
"""Typed over the day of the street fair: a muggy, grey day is forecast, and the fair of last
December brought so many more."""
WET_MM = 5.0
SURGE = 1.2


@lru_cache(maxsize=1)
def demo_data() -> SiteData:
    """The demo site.

    Raises:
        InputError: if the files of the demo have been spoiled.
    """
    return read_folder(DEMO_FOLDER)


@lru_cache(maxsize=1)
def twin_data() -> SiteData:
    """The same site as it was before anything was weighed, looked at or written down: its counts
    and weather, and what its people knew on the first day."""
    data = demo_data()
    site = data.site.with_values({name: INPUTS[name].default for name in LEARNT})
    return replace(
        data, site=replace(site, name=TWIN.format(name=site.name)), given=data.given - LEARNT,
        weighings=(), cloth=ClothBook(), staff=StaffBook(), log=(),
    )  # fmt: skip


def demo_days() -> dict[str, date]:
    """Days worth looking at in the demo.

    ``humid_peak``: the Saturday on which it always stands; ``hot_dry_peak``: a Saturday and
    ``quiet``: a Tuesday, both in the coming year; ``after_rain``: the last day of the counts on
    which cars came in numbers after a wet day; ``closed``: the next day marked closed.
    """
    data = demo_data()
    history, today = data.history, standing_day(data)
    next_year = history.counts[0].day + timedelta(days=YEAR_DAYS)
    return {
        "humid_peak": today,
        "quiet": next_year + timedelta(days=QUIET_DAY),
        "hot_dry_peak": next_year + timedelta(days=HOT_DRY_DAY),
        "after_rain": _after_rain(history),
        "hands": _next_marked(history, "event", today),
        "closed": _next_marked(history, "closed", today),
    }


def standing_day(data: SiteData) -> date:
    """The day that it always is at an invented site.

    Raises:
        LookupError: if it has none.
    """
    if data.stands_on is None:
        raise LookupError(f"{data.site.name} has no day on which it stands")
    return data.stands_on


def _next_marked(history: History, kind: str, today: date) -> date:
    return min(note.day for note in history.days if note.kind == kind and note.day > today)


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
