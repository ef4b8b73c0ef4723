"""A wash that is open for two hours, so that a whole plan of it takes a moment."""

from __future__ import annotations

from datetime import date, timedelta

from sim.inputs import DayNote, History, HourCount, HourWeather, Site, SiteData

TODAY = date(2026, 7, 16)
PLANNED = date(2026, 7, 18)
CLOSED = date(2026, 7, 20)
FAIR = date(2026, 7, 25)


def small_wash(cars_per_h: int = 30, name: str = "Small Wash") -> SiteData:
    """Four weeks of counts and weather before `TODAY`, a closed day and an event to come."""
    site = Site(name, "America/New_York").with_values({"open_h": 8.0, "close_h": 10.0})
    days = [TODAY - timedelta(days=back) for back in range(28, 0, -1)]
    counts = tuple(HourCount(day, hour, 0, cars_per_h) for day in days for hour in (8, 9))
    weather = tuple(HourWeather(day, hour, 0, 25.0, 0.7, 0.0) for day in days for hour in range(24))
    notes = (DayNote(CLOSED, "closed", "stocktaking"), DayNote(FAIR, "event", "fair"))
    history = History("arrived", counts, weather, notes)
    return SiteData(site, "us", frozenset({"open_h", "close_h"}), history)
