"""Reading rows of which there are many a page at a time, by a key that no row ever changes; nothing
here writes."""

from __future__ import annotations

from datetime import date

from sqlalchemy import select, tuple_
from sqlalchemy.orm import Session

from app.db.tables import ROWS
from sim.inputs import COUNTS, LOG, HourCount, LogEntry


def log_page(
    session: Session, site_id: int, first: date, last: date, behind: str, limit: int
) -> tuple[LogEntry, ...]:
    """Entries of some days, both included, in the order of their keys, those behind a key."""
    columns = ROWS[LOG].c
    found = session.execute(
        select(*(columns[name] for name in LOG.cells))
        .where(columns.site_id == site_id, columns.day >= first, columns.day <= last)
        .where(columns.key > behind)
        .order_by(columns.key)
        .limit(limit)
    )
    return tuple(LogEntry(*row) for row in found)


def counts_page(
    session: Session,
    site_id: int,
    first: date,
    last: date,
    behind: tuple[date, int, int],
    limit: int,
) -> tuple[HourCount, ...]:
    """Counts of some days, both included, in order of time, those behind an hour."""
    columns = ROWS[COUNTS].c
    place = (columns.day, columns.hour, columns.fold)
    found = session.execute(
        select(*(columns[name] for name in COUNTS.cells))
        .where(columns.site_id == site_id, columns.day >= first, columns.day <= last)
        .where(tuple_(*place) > tuple_(*behind))
        .order_by(*place)
        .limit(limit)
    )
    return tuple(HourCount(*row) for row in found)
