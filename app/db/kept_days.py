"""On which days a site's logbook was kept."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from sqlalchemy import select

from app.db.session import Session
from app.db.tables import ROWS
from sim.inputs import LOG


def kept_days(
    session: Session, site_id: int, first: date, last: date, without: Collection[str]
) -> frozenset[date]:
    """Days from one to another that have an entry of other kinds than some, which counts."""
    columns = ROWS[LOG].c
    found = session.scalars(
        select(columns.day)
        .where(columns.site_id == site_id, columns.day >= first, columns.day <= last)
        .where(columns.kind.not_in(without), columns.struck == "")
        .distinct()
    )
    return frozenset(found)
