"""Nothing lost: a copy of the database every day while a server runs, and what stands of them."""

from __future__ import annotations

import os
import tempfile
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from app.db.backups import (
    Backup,
    Made,
    back_up,
    backups,
    followed,
    looked_through,
    restore,
    thin_out,
)
from app.db.chain import Verified, last_link, shown, typed
from app.db.session import CannotOpen, Database, backups_of, open_database
from app.db.standing import Standing, has_newest_shape, standing
from app.db.upgrade import Upgraded, upgrade
from app.running.log import tell
from app.settings import Settings

__all__ = [
    # what pages and commands name of the rooms behind
    "Backup", "Kept", "Made", "Nightly", "Standing", "Upgraded", "Verified", "back_up",
    "backups_of", "can_keep", "copies", "has_newest_shape", "kept_of",
    "looked_through", "restore", "sheet_value", "standing", "typed", "upgrade",
    "verified",
]  # fmt: skip

EVERY = timedelta(days=1)
PROBE = 4096
"""Bytes by which it is tried whether a disk takes anything: a page of the database."""
FIRST_S, LOOK_S = 60.0, 600.0
"""Between a start, which has enough to do, and the first look whether a copy is due, and between
two looks [s]."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What is said of the copies of a database.

    Attributes:
        newest: when the newest was made, in UTC; None where there is none.
        count: of them. fault: why the last one could not be made; empty where it could.
    """

    newest: datetime | None
    count: int
    fault: str


def copies(database: Database) -> tuple[Backup, ...]:
    """The copies of a database beside it, newest first; none of one in memory."""
    return () if database.path is None else backups(backups_of(database.path))


def kept_of(database: Database) -> Kept:
    """What is said of a database's copies."""
    there = copies(database)
    return Kept(there[0].at if there else None, len(there), fault_of(database))


def can_keep(folder: Path) -> bool:
    """Whether a folder can still be written: a file is put into it and on the disk, and removed."""
    try:
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".probe-") as probe:
            probe.write(bytes(PROBE))
            probe.flush()
            os.fsync(probe.fileno())
    except OSError:
        return False
    return True


def sheet_value(database: Database) -> str:
    """The last value of the history as a sheet prints it."""
    with database.session() as session:
        return shown(last_link(session))


def verified(path: Path, against: str = "") -> Verified:
    """What following the history of the database of a server finds.

    Raises:
        CannotOpen: if there is none.
    """
    if not path.exists():
        raise CannotOpen("There is no database {path} yet.", path=path)
    return followed(open_database(path), against)


def fault_of(database: Database) -> str:
    """Why the last copy could not be made; empty where it could."""
    path = None if database.path is None else _fault_file(database.path)
    return path.read_text("utf-8") if path is not None and path.exists() else ""


def _fault_file(path: Path) -> Path:
    return backups_of(path) / "why-not.txt"


class Nightly:
    """Copies a server's database once a day, the first time soon after its start if the newest copy
    is older than that, and removes copies that need not be kept.

    Args:
        database: whose file is copied; one in memory is not.
    """

    def __init__(self, database: Database, settings: Settings) -> None:
        self._path = database.path
        self._settings = settings
        self._ended = threading.Event()

    def start(self) -> None:
        """Begin, beside the pages."""
        if self._path is not None:
            threading.Thread(target=self._watch, daemon=True, name="backups").start()

    def close(self) -> None:
        """Make no more."""
        self._ended.set()

    def keep(self) -> Made | None:
        """Make a copy if one is due; why it could not be made is kept beside the others.

        By the machine's own clock. A copy of a later moment, from before the clock was set back,
        holds nothing up.
        """
        path, now = self._path, self._settings.clock()
        if path is None:
            return None
        folder = backups_of(path)
        past = [one.at for one in backups(folder) if one.at <= now]
        if past and now - max(past) < EVERY:
            return None
        try:
            made = back_up(path, folder, now)
            thin_out(folder, now)
            _fault_file(path).unlink(missing_ok=True)
        except (CannotOpen, OSError) as fault:
            self._note(path, str(fault))
            tell("copy failed", fault)
            return None
        tell("copied", rows=made.found.rows)
        return made

    def _note(self, path: Path, sentence: str) -> None:
        try:
            _fault_file(path).write_text(sentence, "utf-8")
        except OSError:  # where nothing can be written there is no folder either
            return

    def _watch(self) -> None:
        wait_s = FIRST_S
        while not self._ended.wait(wait_s):
            self.keep()
            wait_s = LOOK_S
