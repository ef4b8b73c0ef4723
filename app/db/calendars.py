"""What a site has exported into calendars: plain records out of the database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db.tables import CalendarRow


@dataclass(frozen=True, slots=True)
class Entry:
    """What is to be in a calendar.

    Attributes:
        key: what it is about, such as ``change-2`` or ``laundry-2026-07-18``.
        start_s: seconds after midnight on the site's clock; None for the whole day.
        minutes: how long it takes; 0 for the whole day.
    """

    key: str
    day: date
    start_s: float | None
    minutes: float
    summary: str
    description: str


@dataclass(frozen=True, slots=True)
class Kept:
    """An entry as it was exported last.

    Attributes:
        uid: identity for ever; sequence: how often it has changed since.
        at: when it changed last.
    """

    uid: str
    entry: Entry
    sequence: int
    is_cancelled: bool
    at: datetime


def load_calendar(session: Session, site_id: int) -> tuple[Kept, ...]:
    """Every entry that a site has exported, in order of time."""
    found = session.scalars(
        select(CalendarRow)
        .where(CalendarRow.site_id == site_id)
        .order_by(CalendarRow.day, CalendarRow.key, CalendarRow.uid)
    )
    return tuple(
        Kept(
            row.uid,
            Entry(row.key, row.day, row.start_s, row.minutes, row.summary, row.description),
            row.sequence,
            row.is_cancelled,
            row.at,
        )
        for row in found
    )
