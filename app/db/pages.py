"""Reading of rows of which there are many: a page at a time, by a key that no row ever changes, and
what they are named; nothing here writes."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from sqlalchemy import func, select, tuple_
from sqlalchemy.orm import Session

from app.db.tables import ROWS
from sim.inputs import COUNTS, LOG, HourCount, LogEntry

DAY_S = 86_400.0
entry_of = lru_cache(8_192)(LogEntry)
"""The entry of a row of the log: the very same for all who read it. Each page of a day reads all of
the day, and where many do so at once each would hold a log of its own."""


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
    return tuple(entry_of(*row) for row in found)


def names_of_log(
    session: Session, site_id: int, first: date, last: date
) -> tuple[tuple[str, str], ...]:
    """Kind and name of what entries of some days were named, both days included, the newest first;
    of entries that were taken back nothing."""
    columns = ROWS[LOG].c
    newest = func.max(func.julianday(columns.day) * DAY_S + columns.at_s)
    found = session.execute(
        select(columns.kind, columns.name)
        .where(columns.site_id == site_id, columns.day >= first, columns.day <= last)
        .where(columns.name != "", columns.struck == "")
        .group_by(columns.kind, columns.name)
        .order_by(newest.desc(), columns.name)
    )
    return tuple((kind, name) for kind, name in found)


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
