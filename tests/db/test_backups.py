"""Backups: whole, of one moment, looked through by themselves, and restored from."""

from __future__ import annotations

import sqlite3
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from app.db import store
from app.db.backups import (
    DAYS,
    MONTHS,
    WEEKS,
    back_up,
    backups,
    kept,
    looked_through,
    restore,
    thin_out,
)
from app.db.chain import verify
from app.db.session import (
    CannotOpen,
    Database,
    backups_of,
    open_database,
)
from app.sites.changes import Gate
from sim.inputs import LogEntry, Site, SiteData
from sim.inputs.logbook import NOTE
from tests.db.shapes import older, plain
from tests.seeds import generator
from tests.world import DAY, NAME, NOW, content


def enter(database: Database, first: int, last: int) -> None:
    """Entries of the logbook, one transaction each."""
    for number in range(first, last):
        with database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW)
            entry = LogEntry(f"entry-{number:05d}", DAY, 60.0, NOTE, text=f"entry {number}")
            gate.enter(1, [entry], f"request {number}")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A database of one site and five entries, closed."""
    path = tmp_path / "data" / "clothcast.sqlite3"
    database = open_database(path)
    with database.session() as session:
        Gate(session, store.built_in_person(session), NOW).create_site(SiteData(Site(NAME)), "new")
    enter(database, 0, 5)
    database.close()
    return path


def held(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Everything that a database file holds."""
    database = open_database(path)
    try:
        with database.session() as session:
            return content(session)
    finally:
        database.close()


def test_a_backup_restores_to_its_moment(path: Path) -> None:
    """All tables are as they were when it was made; what came later is in the database that was
    put aside, which is whole as well."""
    then = held(path)
    made = back_up(path, backups_of(path), NOW)
    assert made.found.is_whole
    assert made.backup.path.name == "clothcast-20260718T093000Z.sqlite3"
    database = open_database(path)
    enter(database, 5, 8)
    database.close()
    later = held(path)
    found, aside = restore(made.backup.path, path, NOW + timedelta(hours=1))
    assert held(path) == then != later
    assert found.end == made.found.end
    assert aside is not None
    assert held(aside) == later


def test_a_backup_during_writes_is_of_one_moment(path: Path) -> None:
    """Made again and again while another thread writes: each is whole, and has all entries up to
    some number and none beyond."""
    database = open_database(path)
    writing = threading.Thread(target=enter, args=(database, 5, 120))
    writing.start()
    folder, number = backups_of(path), 0
    while writing.is_alive() or number < 3:
        number += 1
        made = back_up(path, folder, NOW + timedelta(seconds=number))
        log = held(made.backup.path)["log"]
        assert sorted(str(row[1]) for row in log) == [f"entry-{n:05d}" for n in range(len(log))]
        assert made.found.is_whole
    writing.join()
    back_up(path, folder, NOW + timedelta(hours=1))
    database.close()
    assert len(backups(folder)) == number + 1
    assert len(held(backups(folder)[0].path)["log"]) == 120


def test_a_changed_byte_is_found(path: Path) -> None:
    """Any of forty drawn bytes of a backup, changed: it is not restored, and the database stays."""
    made, rng = back_up(path, backups_of(path), NOW), generator("a byte")
    whole, before = made.backup.path.read_bytes(), path.read_bytes()
    for place in rng.integers(0, len(whole), 40).tolist():
        spoilt = bytearray(whole)
        spoilt[place] ^= 1 << int(rng.integers(0, 8))
        made.backup.path.write_bytes(spoilt)
        with pytest.raises(CannotOpen, match="something in it changed"):
            restore(made.backup.path, path, NOW)
    assert path.read_bytes() == before


def test_the_hash_beside_a_backup_is_what_common_tools_read(path: Path) -> None:
    """One line: hash, two spaces, name of the file, as `sha256sum --check` takes it."""
    made = back_up(path, backups_of(path), NOW).backup.path
    said, name = made.with_name(made.name + ".sha256").read_text().rstrip("\n").split("  ")
    assert (len(said), name) == (64, made.name)


def test_a_rewritten_history_is_not_restored(path: Path) -> None:
    """A backup without its hash, in which somebody changed a row: its chain tells."""
    made = back_up(path, backups_of(path), NOW).backup.path
    made.with_name(made.name + ".sha256").unlink()
    with sqlite3.connect(made) as connection:
        connection.execute("UPDATE changes SET field = 'another' WHERE id = 2")
    connection.close()
    with pytest.raises(CannotOpen, match="Row 2 of the history"):
        restore(made, path, NOW)
    assert held(path)["log"]


def test_a_database_in_use_is_not_replaced(path: Path) -> None:
    """While a program has it open; then everything stays as it is."""
    made = back_up(path, backups_of(path), NOW).backup.path
    database = open_database(path)
    with database.session() as session:
        assert store.list_sites(session)
    with pytest.raises(CannotOpen, match="is in use: end the Clothcast that serves it"):
        restore(made, path, NOW)
    database.close()
    assert sorted(one.name for one in path.parent.glob("*.sqlite3")) == [path.name]


@pytest.mark.parametrize("data", [b"", b"no database", b"SQLite format 3\x00" + b"\x01" * 5_000])
def test_what_is_no_database_is_not_restored(path: Path, tmp_path: Path, data: bytes) -> None:
    """A sentence, and the database stays; so with a file that is not there."""
    other, before = tmp_path / "other.sqlite3", path.read_bytes()
    other.write_bytes(data)
    for bad in (other, tmp_path / "nothing.sqlite3"):
        with pytest.raises(CannotOpen):
            restore(bad, path, NOW)
    assert path.read_bytes() == before
    assert not list(path.parent.glob(".restored-*"))


@pytest.mark.parametrize("steps", [1, 2, 3])
def test_databases_of_older_shapes_are_restored(path: Path, tmp_path: Path, steps: int) -> None:
    """The last three shapes of the history: brought to the present one, their sites, inputs and
    entries the same, their history chained; an older one that is opened is kept as it was."""
    numbers = sorted(
        file.stem[:14] for file in Path("app/db/migrations/versions").glob("clothcast_*.py")
    )
    revision, old = numbers[-1 - steps], tmp_path / "old.sqlite3"
    path.rename(old)
    rows = older(old, revision)
    assert rows["sites"]
    copy = tmp_path / "copy" / "clothcast.sqlite3"
    copy.parent.mkdir()
    copy.write_bytes(old.read_bytes())
    found, aside = restore(old, path, NOW)
    assert (found.is_whole, aside) == (True, None)
    there = held(path)
    for name, was in rows.items():
        assert sorted(row[: len(was[0])] for row in plain(path, name)) == sorted(was), name
        assert len(there[name]) == len(was)
    opened = open_database(copy)
    with opened.session() as session:
        assert verify(session).is_whole
    opened.close()
    before = backups_of(copy) / f"before-{revision}.sqlite3"
    with sqlite3.connect(before) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [
            (revision,)
        ]
    connection.close()


def test_copies_are_kept_by_day_week_and_month() -> None:
    """Of two years of nightly copies there are left: one of each of the last seven days, of each of
    the last four weeks, of each of the last twelve months, and no others; a copy of tomorrow, made
    before a clock was set back, stays."""
    now = datetime(2026, 7, 18, 3, 12, tzinfo=UTC)
    nights = [now - timedelta(days=n) for n in range(730)]
    tomorrow = now + timedelta(days=1)
    stay = kept([*nights, tomorrow], now)
    assert tomorrow in stay
    assert set(nights[:DAYS]) <= stay
    weeks = {at.isocalendar()[:2] for at in stay if at <= now and at > now - timedelta(days=28)}
    assert len(weeks) >= WEEKS
    months = {(at.year, at.month) for at in stay if at <= now}
    assert len(months) in (MONTHS, MONTHS + 1)
    assert len(stay) <= 1 + DAYS + (WEEKS + 1) + (MONTHS + 1)
    assert min(stay) > now - timedelta(days=31 * MONTHS)
    of_one_day = [now - timedelta(hours=hours) for hours in range(3)]
    assert kept(of_one_day, now) == {now}


def test_thinning_out_removes_files_and_hashes(path: Path) -> None:
    """Ten nightly copies: what is not kept is gone with its hash, other files are let be."""
    folder = backups_of(path)
    for night in range(10):
        back_up(path, folder, NOW - timedelta(days=night))
    (folder / "clothcast-mine.sqlite3").write_bytes(b"mine")
    stay = kept((one.at for one in backups(folder)), NOW)
    gone = thin_out(folder, NOW)
    assert gone == 10 - len(stay) > 0
    assert {one.at for one in backups(folder)} == stay
    assert len(list(folder.glob("*.sha256"))) == len(stay)
    assert (folder / "clothcast-mine.sqlite3").exists()


def test_a_folder_that_cannot_be_written_is_told(path: Path, tmp_path: Path) -> None:
    """A file where the folder should be: a sentence, and nothing is left behind."""
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    with pytest.raises(CannotOpen, match="No backup can be written to"):
        back_up(path, blocked / "in it", NOW)


def test_looking_at_a_backup_leaves_it_as_it_is(path: Path) -> None:
    """Not a byte is another afterwards, and no journal stands beside it."""
    made = back_up(path, backups_of(path), NOW).backup.path
    before = made.read_bytes()
    assert looked_through(made).is_whole
    assert made.read_bytes() == before
    assert sorted(one.suffix for one in made.parent.iterdir()) == [".sha256", ".sqlite3"]


def test_another_programs_database_is_not_restored(path: Path, tmp_path: Path) -> None:
    """A whole database that is none of ours is named, and ours stays."""
    other, before = tmp_path / "other.sqlite3", path.read_bytes()
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    with pytest.raises(CannotOpen, match="is no database of Clothcast"):
        restore(other, path, NOW)
    assert path.read_bytes() == before


def test_a_copy_of_an_altered_history_is_not_kept(path: Path) -> None:
    """Row and number are named, and no file is left in the folder of backups."""
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE changes SET field = 'another' WHERE id = 2")
    connection.close()
    with pytest.raises(CannotOpen, match=r"is not whole, so it was not kept: .*Row 2"):
        back_up(path, backups_of(path), NOW)
    assert list(backups_of(path).iterdir()) == []
