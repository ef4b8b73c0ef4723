"""What stands in the database, counted, for whoever operates the server; nothing of anybody."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select

from app.db.session import Database, is_newest
from app.db.studies import OPEN, spent_ahead
from app.db.tables import ROWS, StudyRow
from sim.inputs import LOG


@dataclass(frozen=True, slots=True)
class Standing:
    """Counts of a database.

    Attributes:
        studies: long computations that have not come to an end, by their state.
        ahead_s: processor time that work ahead took on the day that was asked for [s].
        entries: of all logbooks, those that were taken back among them.
    """

    studies: dict[str, int]
    ahead_s: float
    entries: int


def standing(database: Database, day: date) -> Standing:
    """The counts, and the processor time of work ahead on a day of the server's clock."""
    with database.session() as session:
        grouped = select(StudyRow.state, func.count()).where(StudyRow.state.in_(OPEN))
        open_ones = dict.fromkeys(OPEN, 0)
        for state, count in session.execute(grouped.group_by(StudyRow.state)):
            open_ones[state] = count
        entries = session.scalar(select(func.count()).select_from(ROWS[LOG])) or 0
        return Standing(open_ones, spent_ahead(session, day), entries)


def has_newest_shape(database: Database) -> bool:
    """Whether an open database still has the shape of the newest migration.

    Raises:
        CannotOpen: if it can't be read any more.
    """
    with database.session() as session:
        return is_newest(session.connection())
