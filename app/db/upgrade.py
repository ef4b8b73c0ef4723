"""Bringing a database to the present shape: copied first, tried on the copy, followed after."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from app.db.backups import Backup, as_one_file, followed, is_ours, named, no_room
from app.db.chain import Verified
from app.db.session import CannotOpen, backups_of, copy_database, open_database


@dataclass(frozen=True, slots=True)
class Upgraded:
    """What became of a database.

    Attributes:
        backup: the copy of before, in the shape of before.
        before, now: names of both shapes; the same where it had the present one already.
        found: what following its history finds, after.
    """

    backup: Backup
    before: str
    now: str
    found: Verified


def upgrade(path: Path, now: datetime) -> Upgraded:
    """Bring a database that nobody uses to the present shape.

    Its copy is brought there first, and its history followed; only where that is whole is the
    database itself touched.

    Raises:
        CannotOpen: if it is none of ours, in use or not whole, or there is no room for the copy;
            then it is as it was.
    """
    folder = backups_of(path)
    try:
        if not path.is_file():
            raise CannotOpen("There is no database {path} yet.", path=path)
        if not is_ours(path):
            raise CannotOpen("{path} is no database of Clothcast.", path=path)
        if not as_one_file(path):
            raise CannotOpen(
                "{path} is in use: end the Clothcast that serves it, then upgrade.", path=path
            )
        before = shape_of(path)
        folder.mkdir(exist_ok=True)
        backup = Backup(_copied(path, folder, now), now.astimezone(UTC))
        _try_on(backup.path, path)
        found = followed(open_database(path))
    except sqlite3.DatabaseError as fault:
        raise CannotOpen("{path} is no database, or it is damaged.", path=path) from fault
    except OSError as fault:
        raise no_room(folder, fault) from fault
    return Upgraded(backup, before, shape_of(path), found)


def shape_of(path: Path) -> str:
    """The name of the shape of one of our databases."""
    with closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def _copied(path: Path, folder: Path, now: datetime) -> Path:
    """A copy in a database's present shape, under its name."""
    made = _empty(folder)
    try:
        copy_database(path, made)
        return named(made, folder, now)
    finally:
        made.unlink(missing_ok=True)


def _try_on(backup: Path, path: Path) -> None:
    """Bring a copy of a copy to the present shape, and look it through.

    Raises:
        CannotOpen: if that can't be done, or its history is not whole.
    """
    tried = _empty(path.parent)
    try:
        copy_database(backup, tried)
        found = followed(open_database(tried))
        if not found.is_whole:
            why = " ".join(str(one) for one in found.breaks)
            raise CannotOpen("{path} is not upgraded, and is as it was: {why}", path=path, why=why)
    finally:
        for end in ("", "-wal", "-shm"):
            Path(f"{tried}{end}").unlink(missing_ok=True)


def _empty(folder: Path) -> Path:
    """A new file of no length in a folder."""
    handle, name = tempfile.mkstemp(dir=folder, prefix=".copy-", suffix=".sqlite3")
    os.close(handle)
    return Path(name)
