"""SITE of a command: a folder, looked at in a temporary database, or a site by its name; and the
demo site in the database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from app.db import store
from app.db.session import Database, Session, open_database
from app.db.store import StoredSite
from app.settings import Settings
from app.sites import reading
from app.sites.changes import Gate
from app.sites.folder import read_folder
from sim.errors import InputError
from sim.inputs import SiteData

SITE_FILE = "site.toml"


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

    def today(self, settings: Settings) -> date:
        """The date at the site."""
        return settings.today_at(self.data.site.timezone, self.data.stands_on)


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
            yield OpenSite(session, stored, reading.whole_site(session, stored))
    finally:
        database.close()


def folder_of(reference: str) -> Path | None:
    """The folder that SITE means: one that holds a site, or a path written as such."""
    path = Path(reference)
    written_as_path = len(path.parts) > 1 or reference.startswith(".")
    if path.is_dir() and ((path / SITE_FILE).exists() or written_as_path):
        return path
    return None
