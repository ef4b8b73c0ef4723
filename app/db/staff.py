"""People of a site and the rosters published, in and out of the database."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from app.db.codec import encode
from app.db.tables import StaffRow, StaffShiftRow
from sim.inputs import Away, Person, PlannedShift, StaffBook


def load_staff(session: Session, site_id: int) -> StaffBook:
    """People in the order in which they were entered, and every published shift."""
    people = session.scalars(
        select(StaffRow).where(StaffRow.site_id == site_id).order_by(StaffRow.position)
    )
    shifts = session.scalars(
        select(StaffShiftRow)
        .where(StaffShiftRow.site_id == site_id)
        .order_by(StaffShiftRow.day, StaffShiftRow.name)
    )
    return StaffBook(
        tuple(
            Person(
                row.name, tuple(json.loads(row.roles)), row.wage_per_h, row.least_h, row.most_h,
                tuple(_away(*entry) for entry in json.loads(row.away)),
            )
            for row in people
        ),
        tuple(
            PlannedShift(
                row.day, row.name, row.role, row.start_s, row.end_s, row.break_start_s,
                row.break_end_s,
            )
            for row in shifts
        ),
    )  # fmt: skip


def _away(when: int | str, from_s: float, to_s: float) -> Away:
    return Away(date.fromisoformat(when) if isinstance(when, str) else when, from_s, to_s)


def plain_away(away: Away) -> list[int | str | float]:
    """As JSON has it: a weekday by its number or a date, from, to."""
    when = away.when.isoformat() if isinstance(away.when, date) else away.when
    return [when, away.from_s, away.to_s]


def set_staff(session: Session, site_id: int, book: StaffBook) -> None:
    """Store people and published shifts in place of the earlier ones."""
    for table in (StaffRow, StaffShiftRow):
        session.execute(delete(table).where(table.site_id == site_id))
    people = [
        {
            "site_id": site_id,
            "position": position,
            "name": person.name,
            "roles": encode(list(person.roles)),
            "wage_per_h": person.wage_per_h,
            "least_h": person.least_h,
            "most_h": person.most_h,
            "away": encode([plain_away(away) for away in person.away]),
        }
        for position, person in enumerate(book.people)
    ]
    shifts = [{"site_id": site_id, **asdict(shift)} for shift in book.shifts]
    if people:
        session.execute(insert(StaffRow), people)
    if shifts:
        session.execute(insert(StaffShiftRow), shifts)
