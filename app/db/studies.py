"""Long computations as they are written down: who asked, how far each is, who has it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from statistics import median

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.db.tables import AheadRow, PersonRow, StudyRow

LEASE = timedelta(seconds=20)
"""How long a process keeps a study without a sign of life; starting its workers takes less."""
LAST_FEW = 5
"""So many studies of a kind tell how long the next one takes."""
OPEN = ("waiting", "running")
"""States of a study that has not come to an end."""


@dataclass(frozen=True, slots=True)
class StoredStudy:
    """A long computation as it is written down.

    Attributes:
        person: who asked, by name.
        state: ``waiting``, ``running``, ``done``, ``cancelled``, ``failed`` or ``broken off``.
        done, total: parts; their total stays from the beginning.
        sentence: what went wrong; empty when nothing did.
        holder: id of the server process that computes it; empty for none.
        began_at: when its present run began; None before.
        lease_until: until when it is the holder's; None for nobody's.
        reason: why it was begun before anybody asked; empty for what a person asked for.
        asker: who of those that one person's name stands for, such as a browser; empty for none.
        spent_s: processor time that it took so far [s].
    """

    key: str
    kind: str
    site_id: int
    day: date
    person: str
    asked_at: datetime
    state: str
    done: int
    total: int
    sentence: str
    holder: str
    began_at: datetime | None
    beat_at: datetime | None
    lease_until: datetime | None
    reason: str
    asker: str
    spent_s: float

    @property
    def is_open(self) -> bool:
        """Whether it waits or runs."""
        return self.state in OPEN

    def is_held(self, now: datetime) -> bool:
        """Whether a server process is at work on it, as far as its lease tells at a moment.

        A lease that ends later than one which was renewed now is of a clock that was set back
        since: its holder would have renewed it.
        """
        lease = self.lease_until
        return self.state == "running" and lease is not None and now < lease <= now + LEASE


def find_study(session: Session, key: str) -> StoredStudy | None:
    """A long computation by the key of its question; None if it was never asked."""
    found = _studies(session, [StudyRow.key == key], 1)
    return found[0] if found else None


def find_studies(session: Session, keys: Collection[str]) -> dict[str, StoredStudy]:
    """Long computations by key, of those that were asked."""
    if not keys:
        return {}
    return {one.key: one for one in _studies(session, [StudyRow.key.in_(keys)], None)}


def get_study(session: Session, key: str) -> StoredStudy:
    """A long computation by its key; raises LookupError if it was never asked."""
    found = find_study(session, key)
    if found is None:
        raise LookupError(f"there is no study {key}")
    return found


def list_studies(session: Session, site_id: int, limit: int) -> tuple[StoredStudy, ...]:
    """Long computations of a site, asked last first."""
    return _studies(session, [StudyRow.site_id == site_id], limit)


def studies_page(
    session: Session, site_id: int, behind: str, limit: int
) -> tuple[StoredStudy, ...]:
    """Long computations of a site in the order of their keys, those behind a key."""
    return _studies(session, [StudyRow.site_id == site_id, StudyRow.key > behind], limit, False)


def open_studies(session: Session) -> tuple[StoredStudy, ...]:
    """Long computations of every site that have not come to an end."""
    return _studies(session, [StudyRow.state.in_(OPEN)], None)


def count_open(session: Session, person_id: int, asker: str | None = None) -> int:
    """How many long computations wait or run that a person asked for; of one asker alone unless
    that is None."""
    where = [StudyRow.person_id == person_id, StudyRow.state.in_(OPEN), StudyRow.reason == ""]
    if asker is not None:
        where.append(StudyRow.asker == asker)
    return session.scalar(select(func.count()).select_from(StudyRow).where(*where)) or 0


def usual_spent(session: Session, kind: str) -> float | None:
    """Processor time that the last studies of a kind took, their median [s]; None where none is
    known."""
    where = (StudyRow.kind == kind, StudyRow.state == "done", StudyRow.spent_s > 0.0)
    newest = select(StudyRow.spent_s).where(*where).order_by(StudyRow.asked_at.desc())
    found = session.scalars(newest.limit(LAST_FEW)).all()
    return median(found) if found else None


def spent_ahead(session: Session, day: date) -> float:
    """Processor time that work ahead took on a day of the server's clock [s]."""
    return session.scalar(select(AheadRow.spent_s).where(AheadRow.day == day)) or 0.0


def _studies(
    session: Session,
    where: list[ColumnElement[bool]],
    limit: int | None,
    newest_first: bool = True,
) -> tuple[StoredStudy, ...]:
    order = (StudyRow.asked_at.desc(), StudyRow.key) if newest_first else (StudyRow.key,)
    columns = (
        PersonRow.name if one.name == "person" else getattr(StudyRow, one.name)
        for one in fields(StoredStudy)
    )
    found = session.execute(
        select(*columns)
        .join(PersonRow, PersonRow.id == StudyRow.person_id)
        .where(*where)
        .order_by(*order)
        .limit(limit)
    )
    return tuple(StoredStudy(*row) for row in found)
