"""What pages read of the database, and the way to the gate: the records and who hands them out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime

from app.db import store
from app.db.session import CannotOpen, Database
from app.db.store import Change, SiteLine, StoredPlan, StoredSite
from app.sites.changes import Gate, Outcome, Stale
from app.sites.transactions import label_of
from sim.inputs import History

__all__ = [
    "Change",
    "CannotOpen",
    "Database",
    "Gate",
    "Outcome",
    "SiteLine",
    "Stale",
    "StoredPlan",
    "StoredSite",
    "changes_of",
    "gate",
    "history_of",
    "label_of",
    "shift_changes_of",
    "site_at",
    "sites_of",
]


def sites_of(database: Database) -> tuple[SiteLine, ...]:
    """Every site, by name."""
    with database.session() as session:
        return store.list_sites(session)


def site_at(database: Database, slug: str) -> StoredSite | None:
    """The site whose pages lie at an address; None if there is none."""
    with database.session() as session:
        for line in store.list_sites(session):
            if line.slug == slug:
                return store.get_site(session, line.id)
    return None


def history_of(database: Database, site_id: int) -> History:
    """The past of a site."""
    with database.session() as session:
        return store.load_history(session, site_id)


def changes_of(database: Database, site_id: int, limit: int) -> tuple[Change, ...]:
    """The newest changes to a site."""
    with database.session() as session:
        return store.input_history(session, site_id, limit)


def shift_changes_of(database: Database, site_id: int, days: Sequence[date]) -> tuple[Change, ...]:
    """Every change of the shifts of some days, newest first."""
    with database.session() as session:
        return store.shift_changes(session, site_id, days)


@contextmanager
def gate(database: Database, now: datetime) -> Iterator[Gate]:
    """The one gate for writes, for the built-in person at a moment."""
    with database.session() as session:
        yield Gate(session, store.built_in_person(session), now)
