"""New databases of a run of the tests begin as copies of one that the migrations made.

All steps of our shape's history take a tenth of a second for each of a thousand databases. The
first of each process is made by them; one that holds something already is brought up by them.
"""

from __future__ import annotations

import sqlite3
from functools import cache
from pathlib import Path
from typing import cast

import pytest
from sqlalchemy import Connection, Engine, inspect

from app.db import session

BY_MIGRATIONS = session._migrate


def begin_as_made(patch: pytest.MonkeyPatch) -> None:
    """While `patch` holds, an empty database gets tables and rows of the first one."""
    patch.setattr(session, "_migrate", _as_made)


def _as_made(engine: Engine, path: Path | None) -> None:
    with engine.connect() as connection:
        is_new = not inspect(connection).get_table_names()
    if not is_new:
        BY_MIGRATIONS(engine, path)
        return
    made = _made()
    writing = engine.connect().execution_options(**{session.WRITE: True})
    with writing as connection, connection.begin():
        if not inspect(connection).get_table_names():  # nobody was first meanwhile
            for statement in made:
                connection.exec_driver_sql(statement)


@cache
def _made() -> list[str]:
    """The statements of the first database of the process, which the migrations make."""
    first = session._engine(None)
    BY_MIGRATIONS(first, None)
    with first.connect() as connection:
        found = statements_of(connection)
    first.dispose()
    return found


def statements_of(connection: Connection) -> list[str]:
    """What makes the tables of a database, and the rows that it begins with."""
    held = cast(sqlite3.Connection, connection.connection.dbapi_connection)
    return list(held.iterdump())[1:-1]  # without the dump's own transaction
