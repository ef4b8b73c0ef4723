"""A site's calendars: entries of a season, how any follows what was exported before, the file.

An entry keeps its identity for as long as it is about the same thing, and counts up each time it
changes, so that whoever imports the file again sees days move instead of doubling. What is taken
away stays in the file as cancelled until its day has passed (RFC 5545, 3.8.7.4 and 3.8.1.11).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from app.catalogue import _, short_date
from app.db.store import CalendarEntry, Exported
from sim.decide.cloth.answer import SeasonAnswer
from sim.inputs import Site
from sim.units import show_clock

if TYPE_CHECKING:  # needed only where a calendar is written
    from icalendar import Event

PRODUCT = "-//Clothcast//Calendar//EN"
ABOUT = ("laundry-", "change-", "order-")
"""How keys of a season's entries begin."""


def entries_of(found: SeasonAnswer, site: Site, today: date) -> tuple[CalendarEntry, ...]:
    """The laundry days, changes and orders of a season, in order of time.

    An order that should have gone out before today is put on today.
    """
    minutes = site.wear.set_change_min
    opens_s = site.line.open_h * 3600.0
    before_opening = max(0.0, opens_s - 60.0 * minutes)
    summary = _("Cloth: set to the laundry, hang the next dry one")
    words = _("Before opening at {time}.", time=show_clock(opens_s))
    rows = [
        CalendarEntry(f"laundry-{day.isoformat()}", day, before_opening, minutes, summary, words)
        for day in found.laundry_days
    ]
    summary = _("Cloth: change a worn set, about now")
    for change in found.changes:
        words = _(
            "Look at the set before. 8 of 10 futures have this change between {low} and {high}.",
            low=short_date(change.low),
            high=_("after the season") if change.high is None else short_date(change.high),
        )
        key = f"change-{change.number}"
        rows.append(CalendarEntry(key, change.day, before_opening, minutes, summary, words))
    for order in found.orders:
        words = _("For change {number}.", number=order.for_change)
        if order.by < today:
            words = _(
                "For change {number}. It should have gone out by {day}.",
                number=order.for_change,
                day=short_date(order.by),
            )
        summary = _("Cloth: order {count} new", count=order.quantity)
        key, day = f"order-{order.for_change}", max(order.by, today)
        rows.append(CalendarEntry(key, day, None, 0.0, summary, words))
    return tuple(sorted(rows, key=lambda row: (row.day, row.key)))


def of_calendar(rows: Sequence[Exported], about: tuple[str, ...]) -> tuple[Exported, ...]:
    """Entries of one calendar: those whose keys begin so; all of them for no beginnings."""
    return tuple(row for row in rows if not about or row.entry.key.startswith(about))


def follow(
    kept: Sequence[Exported],
    wanted: Sequence[CalendarEntry],
    today: date,
    now: datetime,
    new_uid: Callable[[], str],
) -> tuple[Exported, ...]:
    """What is to be kept and exported now, in order of time.

    What lies before today is done with and stays as it was; a thing of the same key is then a new
    one. An entry that is as it was keeps number and moment, so an unchanged season gives an
    unchanged file.
    """
    past = [row for row in kept if row.entry.day < today]
    held = {row.entry.key: row for row in kept if row.entry.day >= today}
    rows = list(past)
    for entry in wanted:
        before = held.pop(entry.key, None)
        if before is None:
            rows.append(Exported(new_uid(), entry, 0, False, now))
        elif before.entry == entry and not before.is_cancelled:
            rows.append(before)
        else:
            rows.append(Exported(before.uid, entry, before.sequence + 1, False, now))
    for row in held.values():
        gone = replace(row, sequence=row.sequence + 1, is_cancelled=True, at=now)
        rows.append(row if row.is_cancelled else gone)
    return tuple(sorted(rows, key=lambda row: (row.entry.day, row.entry.key, row.uid)))


def new_uid() -> str:
    """An identity that nothing else in the world has."""
    return f"{uuid.uuid4().hex}@clothcast"


def calendar_file(
    rows: Sequence[Exported], name: str, timezone: str, today: date, is_busy: bool = False
) -> bytes:
    """Entries from today on, cancelled ones among them.

    Times stand on the site's clock with the rules of its time zone in the file, so that they stay
    right when clocks change.

    Args:
        name: of the calendar, as its reader sees it.
        timezone: name in the IANA time zone database.
        is_busy: whether whoever reads it is taken by its entries.
    """
    from icalendar import Calendar

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


def _event(row: Exported, zone: ZoneInfo, is_busy: bool) -> Event:
    from icalendar import Event

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
