"""A site's calendar as an iCalendar file (RFC 5545), in the site's time zone."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from app.db.calendars import Kept

PRODUCT = "-//Clothcast//Calendar//EN"


def new_uid() -> str:
    """An identity that nothing else in the world has."""
    return f"{uuid.uuid4().hex}@clothcast"


def calendar_file(
    rows: Sequence[Kept], name: str, timezone: str, today: date, is_busy: bool = False
) -> bytes:
    """Entries from today on, cancelled ones among them.

    Times stand on the site's clock with the rules of its time zone in the file, so that they stay
    right when clocks change.

    Args:
        name: of the calendar, as its reader sees it.
        timezone: name in the IANA time zone database.
        is_busy: whether whoever reads it is taken by its entries.
    """
    made = Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("name", name)
    zone = ZoneInfo(timezone)
    shown = [row for row in rows if row.entry.day >= today]
    for row in shown:
        made.add_component(_event(row, zone, is_busy))
    last = max([today, *(row.entry.day for row in shown)])
    # a year more, so that the rules of the zone are there beyond the last entry
    made.add_missing_timezones(first_date=today, last_date=last + timedelta(days=366))
    return bytes(made.to_ical())


def _event(row: Kept, zone: ZoneInfo, is_busy: bool) -> Event:
    entry = row.entry
    event = Event()
    event.add("uid", row.uid)
    event.add("sequence", row.sequence)
    event.add("dtstamp", row.at.astimezone(UTC))
    event.add("last-modified", row.at.astimezone(UTC))
    event.add("status", "CANCELLED" if row.is_cancelled else "CONFIRMED")
    event.add("summary", entry.summary)
    event.add("description", entry.description)
    event.add("transp", "OPAQUE" if is_busy else "TRANSPARENT")
    if entry.start_s is None:
        event.add("dtstart", entry.day)
        event.add("dtend", entry.day + timedelta(days=1))
        return event
    start = datetime.combine(entry.day, time(), zone) + timedelta(seconds=round(entry.start_s))
    event.add("dtstart", start)
    # by the clock, so that an end keeps its hour on a day on which clocks change
    event.add("dtend", start + timedelta(minutes=round(entry.minutes)))
    return event
