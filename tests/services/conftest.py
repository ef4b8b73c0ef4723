"""An empty database, the gate to it, and a site of defaults."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from app.db import store
from app.db.session import Database, Session, open_database
from app.sites.changes import Gate
from sim.inputs import (
    Site,
    SiteData,
)
from tests.services.world import NAME, NOW


@pytest.fixture
def database() -> Iterator[Database]:
    """An empty database in memory."""
    opened = open_database(None)
    yield opened
    opened.close()


@pytest.fixture
def session(database: Database) -> Iterator[Session]:
    """A session on it."""
    with database.session() as opened:
        yield opened


@pytest.fixture
def gate(session: Session) -> Gate:
    """The gate for the built-in person."""
    return Gate(session, store.built_in_person(session), NOW)


@pytest.fixture
def site_id(gate: Gate) -> int:
    """A site of defaults at version 1."""
    return gate.create_site(SiteData(Site(NAME)), "create").site_id
