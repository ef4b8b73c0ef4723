"""New databases of a run of the tests begin as copies of one that the migrations made.

All steps of our shape's history take a tenth of a second for each of a thousand databases. The
first of each process is made by them; one that holds something already is brought up by them.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import cast

import pytest
from sqlalchemy import Connection, Engine, inspect

from app.db import session

BY_MIGRATIONS = session._migrate


def begin_as_made(patch: pytest.MonkeyPatch) -> None:
    """While `patch` holds, an empty database gets tables and rows of the first one."""
    made: list[str] = []

    def migrate(engine: Engine, path: Path | None) -> None:
        with engine.connect() as connection:
            is_new = not inspect(connection).get_table_names()
        if not is_new:
            BY_MIGRATIONS(engine, path)
            return
        if not made:
            first = session._engine(None)
            BY_MIGRATIONS(first, None)
            with first.connect() as connection:
                made.extend(statements_of(connection))
            first.dispose()
        with (
            engine.connect().execution_options(**{session.WRITE: True}) as connection,
            connection.begin(),
        ):
            if not inspect(connection).get_table_names():
                for statement in made:
                    connection.exec_driver_sql(statement)

    patch.setattr(session, "_migrate", migrate)


def statements_of(connection: Connection) -> list[str]:
    """What makes the tables of a database, and the rows that it begins with."""
    held = cast(sqlite3.Connection, connection.connection.dbapi_connection)
    return list(held.iterdump())[1:-1]  # without the dump's own transaction
