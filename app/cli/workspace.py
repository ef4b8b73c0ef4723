"""SITE of a command: a folder, looked at in a temporary database, or a site by its name; and the
demo site in the database."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from app.answers.answer import Desk
from app.answers.planning import DEFAULT_SCENARIOS, PLAN, PlanView
from app.db import store
from app.db.session import Database, Session, open_database
from app.db.store import StoredSite
from app.settings import Settings
from app.sites import reading
from app.sites.changes import Gate
from app.sites.demo import demo_data, demo_days
from app.sites.folder import read_folder
from sim.errors import InputError
from sim.inputs import ClothBook, SiteData

SITE_FILE = "site.toml"
STALE_AFTER = timedelta(days=7)
"""So long the demo's year stays as it was laid."""


@dataclass(frozen=True, slots=True)
class OpenSite:
    """A site to work on.

    Attributes:
        session: of the database that it is kept in while it is open.
        stored, data: the site as it is stored, and with its past.
    """

    session: Session
    stored: StoredSite
    data: SiteData


def open_stored(settings: Settings) -> Database:
    """The database of the settings, made if it is not there; raises CannotOpen."""
    return open_database(settings.database_path)


def gate_for(session: Session, settings: Settings) -> Gate:
    """The gate for the built-in person at this moment."""
    return Gate(session, store.built_in_person(session), settings.now())


@contextmanager
def open_site(settings: Settings, reference: str) -> Iterator[OpenSite]:
    """Open SITE for as long as the context lasts. With a folder nothing is written anywhere.

    Raises:
        InputError: with every problem of a folder, or if there is neither folder nor site.
        CannotOpen: if the database cannot be used.
    """
    folder = folder_of(reference)
    if folder is not None:
        data = read_folder(folder)
        database = open_database(None)
    else:
        # Looking for a site must not make a database.
        if not settings.database_path.exists():
            raise InputError([reading.no_such_site(reference, ())])
        database = open_stored(settings)
    try:
        with database.session() as session:
            if folder is not None:
                gate_for(session, settings).create_site(data, request_key="folder")
                reference = data.site.name
            stored = reading.find(session, reference)
            yield OpenSite(session, stored, reading.with_history(session, stored))
    finally:
        database.close()


def folder_of(reference: str) -> Path | None:
    """The folder that SITE means: one that holds a site, or a path written as such."""
    path = Path(reference)
    written_as_path = len(path.parts) > 1 or reference.startswith(".")
    if path.is_dir() and ((path / SITE_FILE).exists() or written_as_path):
        return path
    return None


def bring_demo(session: Session, gate: Gate, today: date) -> tuple[StoredSite, PlanView]:
    """Bring the demo site in if it is not there, lay its year anew if it has grown old.

    What was entered at the demo site since stays; only its past is laid anew.

    Returns:
        The site, and its peak day's plan, whose comparison may still have to be computed.
    """
    data = demo_data(today)
    stored = store.find_site(session, data.site.name)
    if stored is None:
        gate.create_site(data, uuid.uuid4().hex)
    else:
        history = store.load_history(session, stored.id)
        last = max((row.day for row in history.counts), default=date.min)
        if not last < today <= last + STALE_AFTER:
            renewed = replace(stored.data, history=data.history)
            # a record of cloth that nobody touched moves with its days
            laid = demo_data(last + timedelta(days=1)).cloth if last > date.min else ClothBook()
            if stored.data.cloth in (laid, ClothBook()):
                renewed = replace(renewed, cloth=data.cloth)
            gate.replace_site(stored.id, renewed, stored.version, uuid.uuid4().hex)
    found = store.find_site(session, data.site.name)
    if found is None:
        raise LookupError(f"the demo site {data.site.name} was not stored")
    peak = demo_days(today)["humid_peak"]
    if store.find_plan(session, found.id, peak) is None:
        gate.store_plan(found.id, peak, "", DEFAULT_SCENARIOS, 0, uuid.uuid4().hex)
    return found, Desk(session, found).open(PLAN, peak)
