"""Copies of the database: made while it is written to, each opened and followed by itself."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from app.db.chain import Verified, verify
from app.db.session import CannotOpen, Database, copy_database, open_copy, open_database

PREFIX, SUFFIX = "clothcast-", ".sqlite3"
STAMP = "%Y%m%dT%H%M%SZ"
"""A moment in a file's name: the basic form of ISO 8601, in UTC."""
DIGEST = ".sha256"
"""The end of the name of the file that holds a copy's hash, as the common tools of checking read
it: hash, two spaces, name."""
DAYS, WEEKS, MONTHS = 7, 4, 12
"""The newest copy of so many days, weeks and months is kept."""
BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy of the database.

    Attributes:
        path: its file. at: when it was made, in UTC.
    """

    path: Path
    at: datetime


@dataclass(frozen=True, slots=True)
class Made:
    """A copy that was just made, and what following its history found."""

    backup: Backup
    found: Verified


def back_up(source: Path, folder: Path, now: datetime) -> Made:
    """Copy a database that may be in use into a folder, and look at the copy.

    All pages are copied at once, as they stood at one moment; whoever writes meanwhile goes on.
    The copy is opened by itself: the file is looked through, and its history followed. Only then
    does it get its name.

    Raises:
        CannotOpen: if either can't be read or written, or the copy is not whole.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=folder, prefix=".copy-")
        os.close(handle)
    except OSError as fault:
        raise no_room(folder, fault) from fault
    made = Path(name)
    try:
        copy_database(source, made)
        found = looked_through(made)
        if not found.is_whole:
            raise CannotOpen(
                "The backup of {path} is not whole, so it was not kept: {why}",
                path=source, why=" ".join(str(one) for one in found.breaks),
            )  # fmt: skip
        target = named(made, folder, now)
    except (sqlite3.Error, OSError) as fault:
        raise no_room(folder, fault) from fault
    finally:
        made.unlink(missing_ok=True)
    return Made(Backup(target, now.astimezone(UTC)), found)


def named(made: Path, folder: Path, now: datetime) -> Path:
    """Give a copy that is whole its name in a folder, with its hash beside it."""
    _flush(made)
    target = folder / f"{PREFIX}{now.astimezone(UTC):{STAMP}}{SUFFIX}"
    _write(_digest_file(target), f"{digest(made)}  {target.name}\n")
    made.replace(target)
    _flush(folder)
    return target


def looked_through(path: Path, against: str = "") -> Verified:
    """What following the history of a database file finds; it stays as it is.

    Raises:
        CannotOpen: if it is no database of ours.
    """
    return followed(open_copy(path), against)


def followed(database: Database, against: str = "") -> Verified:
    """What following the history of an open database finds; it is closed then."""
    try:
        with database.session() as session:
            return verify(session, against)
    finally:
        database.close()


def backups(folder: Path) -> tuple[Backup, ...]:
    """The copies in a folder, newest first; files of other names are none."""
    found = []
    for path in folder.glob(f"{PREFIX}*{SUFFIX}") if folder.is_dir() else ():
        try:
            at = datetime.strptime(path.name[len(PREFIX) : -len(SUFFIX)], "%Y%m%dT%H%M%S%z")
        except ValueError:
            continue
        found.append(Backup(path, at))
    return tuple(sorted(found, key=lambda one: one.at, reverse=True))


def kept(moments: Iterable[datetime], now: datetime) -> frozenset[datetime]:
    """Which copies stay: the newest of each of the last days, weeks and months, the present ones
    among them, and whatever is of a later moment than now, which a clock that was set back leaves.

    Args:
        moments, now: in UTC.
    """
    ordered = sorted(moments, reverse=True)
    stay = {at for at in ordered if at > now}
    for name, count, width in (("day", DAYS, 1), ("week", WEEKS, 7), ("month", MONTHS, 31)):
        first = now.date() - timedelta(days=count * width)
        newest: dict[object, datetime] = {}
        for at in ordered:
            if first < at.date() and at <= now:
                newest.setdefault(_span(name, at.date()), at)
        stay.update(newest.values())
    return frozenset(stay)


def _span(name: str, day: date) -> object:
    """The day, the week or the month that a day is of."""
    return {"day": day, "week": day.isocalendar()[:2], "month": (day.year, day.month)}[name]


def thin_out(folder: Path, now: datetime) -> int:
    """Remove the copies that need not be kept; says how many went."""
    there = backups(folder)
    stay = kept((one.at for one in there), now.astimezone(UTC))
    gone = [one for one in there if one.at not in stay]
    for one in gone:
        one.path.unlink(missing_ok=True)
        _digest_file(one.path).unlink(missing_ok=True)
    return len(gone)


def restore(backup: Path, path: Path, now: datetime) -> tuple[Verified, Path | None]:
    """Put a copy in the place of the database, which is kept beside it under another name.

    A copy of an older shape is brought to the present one first. Says what following its history
    found, and where the database of before is now.

    Raises:
        CannotOpen: if the copy is not whole or of a newer Clothcast, or a program has the database
            open; then everything is as it was.
    """
    _check_digest(backup)
    if not backup.is_file():
        raise CannotOpen("There is no file {path}.", path=backup)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".restored-")
    os.close(handle)
    fresh = Path(name)
    try:
        copy_database(backup, fresh)
        if not is_ours(fresh):
            raise CannotOpen("{path} is no database of Clothcast.", path=backup)
        found = _brought_up(fresh)
        if not found.is_whole:
            why = " ".join(str(one) for one in found.breaks)
            raise CannotOpen("{path} is not restored: {why}", path=backup, why=why)
        _flush(fresh)
        aside = _put_aside(path, now) if path.exists() else None
        fresh.replace(path)
        _flush(path.parent)
    except sqlite3.DatabaseError as fault:
        raise CannotOpen("{path} is no database, or it is damaged.", path=backup) from fault
    except OSError as fault:
        raise no_room(path.parent, fault) from fault
    finally:
        for end in ("", "-wal", "-shm"):
            Path(name + end).unlink(missing_ok=True)
    return found, aside


def is_ours(path: Path) -> bool:
    """Whether a file has the table in which Alembic keeps a database's shape."""
    with closing(sqlite3.connect(path)) as connection:
        asked = "SELECT count(*) FROM sqlite_master WHERE name = 'alembic_version'"
        return bool(connection.execute(asked).fetchone()[0])


def _brought_up(path: Path) -> Verified:
    """Bring a copy to the present shape and follow its history; one file is left."""
    found = followed(open_database(path))
    as_one_file(path)
    return found


def digest(path: Path) -> str:
    """SHA-256 of a file."""
    made = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(BLOCK):
            made.update(block)
    return made.hexdigest()


def _check_digest(backup: Path) -> None:
    """Refuse a copy of which a single byte is another than its hash says; without one it may be."""
    beside = _digest_file(backup)
    if not beside.exists():
        return
    said = beside.read_text(encoding="ascii", errors="replace").split(" ")[0]
    if said != digest(backup):
        raise CannotOpen(
            "{path} is not restored: it is not the file that was made, something in it changed.",
            path=backup,
        )


def _put_aside(path: Path, now: datetime) -> Path:
    """Give a database that nobody uses another name, as one file."""
    if not as_one_file(path):
        raise CannotOpen(
            "{path} is in use: end the Clothcast that serves it, then restore.", path=path
        )
    aside = path.with_name(f"{path.stem}-before-{now.astimezone(UTC):{STAMP}}{path.suffix}")
    path.replace(aside)
    return aside


def as_one_file(path: Path) -> bool:
    """Have a database give up the journal beside it; False where another program has it open."""
    with closing(sqlite3.connect(path, timeout=0.0, isolation_level=None)) as connection:
        try:
            (mode,) = connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault):
                raise
            return False
    return bool(mode == "delete")


def _digest_file(path: Path) -> Path:
    return path.with_name(path.name + DIGEST)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="ascii")
    _flush(path)


def _flush(path: Path) -> None:
    """Have a file, or the names of a folder, on the disk."""
    if path.is_dir() and os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def no_room(folder: Path, fault: Exception) -> CannotOpen:
    reason = getattr(fault, "strerror", None) or str(fault)
    return CannotOpen(
        "No backup can be written to {folder} or read from it ({reason}); nothing was changed.",
        folder=folder,
        reason=reason.lower(),
    )
