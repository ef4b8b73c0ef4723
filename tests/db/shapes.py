"""Databases of older shapes, as an older Clothcast has left them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from alembic import command
from sqlalchemy import create_engine, select, table, text

from app.db.session import begin_write, migration_config, open_database


def older(path: Path, revision: str) -> dict[str, list[tuple[object, ...]]]:
    """Take a database back to an older shape; what it then holds of the tables of both."""
    database = open_database(path)
    with database.session() as session:
        begin_write(session)
        command.downgrade(migration_config(session.connection()), revision)
        session.commit()
    database.close()
    rows = {name: plain(path, name) for name in ("sites", "input_values", "plans")}
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    return rows


def plain(path: Path, name: str) -> list[tuple[object, ...]]:
    """The rows of a table as they lie in a file of any shape."""
    engine = create_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        rows = connection.execute(select(text("*")).select_from(table(name))).all()
    engine.dispose()
    return [tuple(row) for row in rows]
