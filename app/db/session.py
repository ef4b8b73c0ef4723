"""Opening the database, bringing it to the present shape, and sessions on it."""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from copy import copy
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

if TYPE_CHECKING:  # slow to load, and a database is hardly ever of an older shape
    from alembic.config import Config

__all__ = [
    "CannotOpen", "Database", "Session", "backups_of", "begin_write", "copy_database",
    "is_newest", "migration_config", "open_copy", "open_database", "writing",
]  # fmt: skip

MIGRATIONS = Path(__file__).with_name("migrations")
REVISION_PREFIX = "clothcast_"
BUSY_MS = 30_000
"""How long a write waits for another one to finish [ms]; longer than a lease of studies, because on
a busy machine a process that stands back may be kept from ending its own for many seconds."""
BACKUPS = "backups"
WRITE = "clothcast_write"
_MAKING = threading.Lock()
"""Alembic makes one database at a time in a process."""
NO_WRITING = (
    "The database {path} cannot be written; allow writing in its folder, "
    "or choose another one with CLOTHCAST_DATA_DIR."
)
OF_ANOTHER = (
    "{path} is a database of another program; choose another data folder with CLOTHCAST_DATA_DIR."
)
NO_DATABASE = (
    "The file {path} is not a database, or it is damaged; move it away, or choose another data "
    "folder with CLOTHCAST_DATA_DIR."
)
UNUSABLE = {
    "disk is full": "The disk is full, so nothing was stored in {path}: make room on it, then try "
    "again.",
    "disk I/O": "The disk of {path} can't be read or written; nothing was stored.",
    "not a database": NO_DATABASE,
    "malformed": NO_DATABASE,
    "readonly": NO_WRITING,
    "unable to open": NO_WRITING,
    "locked": "The database {path} is in use by another program that does not let go; end that "
    "program first.",
}
"""What is said where SQLite says so."""
CANNOT_OPEN = "The database {path} cannot be opened: {reason}."


class CannotOpen(Exception):
    """A database that cannot be used.

    Attributes:
        sentence: what is wrong and what to do, with gaps in braces; the key of the catalogue.
        values: what fills the gaps.
    """

    def __init__(self, sentence: str, **values: object) -> None:
        self.sentence = sentence
        self.values = values
        super().__init__(sentence.format(**values))


class Database:
    """An open database.

    Attributes:
        path: its file; None for a temporary one in memory.
        on_written: called after somebody changed something through `app.sites.reading.gate`.
        person_id: as whom things are changed through it; 1 is the built-in person.
    """

    def __init__(self, engine: Engine, path: Path | None) -> None:
        self.path = path
        self._engine = engine
        self._sessions = sessionmaker(engine)
        self.on_written: Callable[[], None] = lambda: None
        self.person_id = 1

    def for_person(self, person_id: int) -> Database:
        """The same open database for somebody's changes."""
        other = copy(self)
        other.person_id = person_id
        return other

    @contextmanager
    def session(self) -> Iterator[Session]:
        """A session for reading and for `app.sites.changes`; what is not committed is undone.

        A database in memory has one connection: a second session waits until the first one has
        ended or committed.

        Raises:
            CannotOpen: if the file, or the disk that it lies on, can't be used any more.
        """
        try:
            with self._sessions() as session:
                yield session
        except (DatabaseError, json.JSONDecodeError, UnicodeDecodeError) as fault:
            told = _why_unusable(self.path, fault)
            if told is None:
                raise
            raise told from fault

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()


def begin_write(session: Session) -> None:
    """End what the session was reading and begin a transaction that may write.

    It takes the right to write at once, so that what it reads stays true until it commits.
    """
    if session.new or session.dirty or session.deleted:
        raise RuntimeError("the session holds changes that did not come through the gate")
    session.rollback()
    session.connection(execution_options={WRITE: True})


@contextmanager
def writing(session: Session) -> Iterator[None]:
    """One transaction that may write (`begin_write`): committed at its end, or undone."""
    begin_write(session)
    try:
        yield
        session.commit()
    except BaseException:
        session.rollback()
        raise


def open_database(path: Path | None) -> Database:
    """Open the database file, made if it is not there, in the present shape; None: in memory.

    Raises:
        CannotOpen: with one sentence that says what is wrong and what to do.
    """
    if path is not None:
        _prepare_folder(path)
        try:
            with _MAKING:
                _make_once(path)
        except PermissionError as fault:
            raise CannotOpen(NO_WRITING, path=path) from fault
        except OSError as fault:
            raise CannotOpen(CANNOT_OPEN, path=path, reason=fault.strerror or fault) from fault
    return Database(_opened(path, path), path)


def open_copy(path: Path) -> Database:
    """Open a database file to read it as it stands: it is neither made nor brought to another
    shape.

    Raises:
        CannotOpen: if it is none of ours in the present shape, or not there.
    """
    if not path.is_file():
        raise CannotOpen("There is no file {path}.", path=path)
    url = f"file:{quote(str(path.resolve()))}?mode=ro&uri=true"
    engine = create_engine(f"sqlite:///{url}", connect_args={"check_same_thread": False})
    database = Database(engine, path)
    try:
        with database.session() as session:
            is_ours = is_newest(session.connection())
    except CannotOpen:
        database.close()
        raise
    if not is_ours:
        database.close()
        raise CannotOpen("{path} is no database of this Clothcast’s shape.", path=path)
    return database


def copy_database(source: Path, target: Path) -> None:
    """Copy a database that may be in use, as it stands at one moment, into one file."""
    with (
        closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as read,
        closing(sqlite3.connect(target)) as written,
    ):
        read.backup(written)
        written.execute("PRAGMA journal_mode = DELETE")


def _opened(path: Path | None, named: Path | None) -> Engine:
    """An engine on a database in the present shape; `named` is what messages call its file."""
    engine = _engine(path)
    try:
        _migrate(engine, named)
    except (DatabaseError, UnicodeDecodeError) as fault:
        engine.dispose()
        told = _why_unusable(named, fault)
        reason = str(getattr(fault, "orig", fault))
        raise told or CannotOpen(CANNOT_OPEN, path=named, reason=reason) from fault
    except BaseException:
        engine.dispose()
        raise
    return engine


def _make_once(path: Path) -> None:
    """Make the file whole or not at all: one of length zero is therefore never a new one."""
    if path.exists():
        if path.stat().st_size == 0:
            raise CannotOpen(
                "The database {path} is empty, which none of ours ever is: put a backup in "
                "its place, or move it away to begin anew.",
                path=path,
            )
        return
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    os.close(handle)
    try:
        _opened(Path(name), path).dispose()
        _put_in_place(Path(name), path)
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            Path(name + end).unlink(missing_ok=True)


def _put_in_place(made: Path, path: Path) -> None:
    """Give a file its name unless another process was first; then that one's counts."""
    try:
        path.hardlink_to(made)
    except FileExistsError:
        pass
    except OSError:  # a disk without links
        if not path.exists():
            made.rename(path)


def migration_config(connection: Connection) -> Config:
    """Alembic's settings for our migrations on an open connection."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _prepare_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise CannotOpen(
            "The data folder {folder} cannot be made ({reason}); "
            "choose another one with CLOTHCAST_DATA_DIR.",
            folder=path.parent,
            reason=(fault.strerror or "not allowed").lower(),
        ) from fault


def _engine(path: Path | None) -> Engine:
    if path is None:
        # One connection that is never given up: with it the database would be gone.
        engine = create_engine(
            "sqlite://",
            poolclass=QueuePool,
            pool_size=1,
            max_overflow=0,
            connect_args={"check_same_thread": False},
        )
    else:
        # Built, not written: in an address some letters of a path mean something else.
        url = URL.create("sqlite", database=str(path))
        # As many connections as are asked for: who stores something reads with a second one, and
        # with a limit those who hold a first one would wait for one another.
        engine = create_engine(url, max_overflow=-1, connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _on_connect(connection: sqlite3.Connection, entry: ConnectionPoolEntry) -> None:
    # The driver's own idea of when to begin is switched off: it would begin too late for a
    # reading transaction and would commit table changes half-way.
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout = {BUSY_MS}",
        "foreign_keys = ON",
        "journal_mode = WAL",
        "synchronous = FULL",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _on_begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _migrate(engine: Engine, path: Path | None) -> None:
    with engine.connect().execution_options(**{WRITE: True}) as connection, connection.begin():
        if is_newest(connection):
            return
        from alembic import command
        from alembic.migration import MigrationContext
        from alembic.script import ScriptDirectory

        config = migration_config(connection)
        scripts = ScriptDirectory.from_config(config)
        known = {script.revision for script in scripts.walk_revisions()}
        found = MigrationContext.configure(connection).get_current_revision()
        if found is None and inspect(connection).get_table_names():
            raise CannotOpen(OF_ANOTHER, path=path)
        if found is not None and found not in known:
            raise _unknown_revision(path, found, min(known))
        if found is not None and path is not None:
            _keep_before(path, found)
        command.upgrade(config, "head")


def _keep_before(path: Path, revision: str) -> None:
    """Copy a database as it is before it is brought to another shape, unless that was done."""
    kept = backups_of(path) / f"before-{revision}{path.suffix}"
    if not kept.exists():
        kept.parent.mkdir(exist_ok=True)
        part = kept.with_suffix(".part")
        copy_database(path, part)
        part.replace(kept)


def backups_of(path: Path) -> Path:
    """The folder of a database's backups, beside it."""
    return path.parent / BACKUPS


def is_newest(connection: Connection) -> bool:
    """Whether the database has the shape of the newest migration, whose file has its name."""
    newest = max(file.stem for file in (MIGRATIONS / "versions").glob(f"{REVISION_PREFIX}*.py"))
    if not inspect(connection).has_table("alembic_version"):
        return False
    held = connection.scalars(text("SELECT version_num FROM alembic_version")).all()
    return len(held) == 1 and newest.startswith(f"{held[0]}_")


def _unknown_revision(path: Path | None, found: str, first: str) -> CannotOpen:
    """What is said of a step that is not ours; steps of ours have numbers, the first is `first`."""
    if not found.startswith(REVISION_PREFIX):
        return CannotOpen(OF_ANOTHER, path=path)
    if found < first:
        return CannotOpen(
            "The database {path} has a shape from before the first release of Clothcast; export "
            "its sites with the Clothcast that made it, move it away, then import them here.",
            path=path,
        )
    return CannotOpen(
        "The database {path} was written by a newer Clothcast; update the program, "
        "or choose another data folder with CLOTHCAST_DATA_DIR.",
        path=path,
    )


def _why_unusable(path: Path | None, fault: Exception) -> CannotOpen | None:
    """What is said where the file or its disk is at fault; None for a fault of the program."""
    if not isinstance(fault, DatabaseError):
        return CannotOpen(
            "The database {path} is damaged: something in it can't be read. Put a backup in its "
            "place.",
            path=path,
        )
    said = str(fault.orig)
    found = (sentence for mark, sentence in UNUSABLE.items() if mark in said)
    sentence = next(found, "")
    return CannotOpen(sentence, path=path) if sentence else None
