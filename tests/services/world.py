"""What tests of the gate share: a moment, a day, a site's name, all that a database holds."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import select

from app.db.session import Session
from app.db.tables import Base
from sim.inputs import (
    HourCount,
)

ROOT = Path(__file__).resolve().parents[2]


NOW = datetime(2026, 7, 18, 9, 30, tzinfo=UTC)


DAY = date(2026, 7, 18)


NAME = "Invented Wash"


def content(session: Session) -> dict[str, list[tuple[object, ...]]]:
    """Everything that the database holds."""
    return {
        table.name: [tuple(row) for row in session.execute(select(table))]
        for table in Base.metadata.sorted_tables
    }


def hours(first: date, cars: list[int]) -> tuple[HourCount, ...]:
    """Counts of the hours from seven o'clock on."""
    return tuple(HourCount(first, 7 + i, 0, count) for i, count in enumerate(cars))
