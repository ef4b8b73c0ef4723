"""Upgrading: a copy first, tried on the copy, and nothing touched where that fails."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from app.db import store
from app.db.backups import backups, restore
from app.db.session import CannotOpen, backups_of, open_database
from app.db.upgrade import shape_of, upgrade
from app.sites.changes import Gate
from sim.inputs import Site, SiteData
from tests.db.shapes import older, plain
from tests.world import NAME, NOW, content

OLD = "clothcast_0016"
"""The shape before the history was chained."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A database of one site in an old shape, closed."""
    path = tmp_path / "data" / "clothcast.sqlite3"
    database = open_database(path)
    with database.session() as session:
        Gate(session, store.built_in_person(session), NOW).create_site(SiteData(Site(NAME)), "new")
    database.close()
    older(path, OLD)
    return path


def test_an_old_database_is_copied_then_brought_up(path: Path) -> None:
    """The copy has the old shape and the old rows, with its hash; the database has the newest,
    with its history whole; a second time nothing is left to do, and it is copied all the same."""
    sites = plain(path, "sites")
    done = upgrade(path, NOW)
    assert (done.before, shape_of(done.backup.path)) == (OLD, OLD)
    assert done.now == shape_of(path) > OLD
    assert done.found.is_whole
    assert plain(done.backup.path, "sites") == sites == plain(path, "sites")
    assert done.backup.path.with_name(done.backup.path.name + ".sha256").exists()
    again = upgrade(path, NOW + timedelta(minutes=1))
    assert again.before == again.now == done.now
    assert len(backups(backups_of(path))) == 2
    left = sorted(one.name for one in path.parent.iterdir())
    assert left == ["backups", path.name]
    assert {one.suffix for one in backups_of(path).iterdir()} == {".sqlite3", ".sha256"}


def test_it_can_be_gone_back_from(path: Path) -> None:
    """The copy is restored like any other; here, by the present Clothcast, into its shape."""
    done = upgrade(path, NOW)
    database = open_database(path)
    with database.session() as session:
        held = content(session)
    database.close()
    restore(done.backup.path, path, NOW + timedelta(hours=1))
    database = open_database(path)
    with database.session() as session:
        assert content(session) == held
    database.close()


def test_one_in_use_is_left_alone(path: Path) -> None:
    """While a server has it open nothing is copied and nothing changed."""
    database = open_database(path)
    with database.session() as session:
        session.connection()
        with pytest.raises(CannotOpen, match="is in use: end the Clothcast"):
            upgrade(path, NOW)
    database.close()
    assert backups(backups_of(path)) == ()


def test_where_the_trial_fails_the_database_is_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step that breaks on the copy never comes to the database; the copy stays."""

    def broken(at: Path) -> object:
        if at != path:
            raise CannotOpen("{path} breaks.", path=at)
        return open_database(at)

    monkeypatch.setattr("app.db.upgrade.open_database", broken)
    before = plain(path, "sites")
    with pytest.raises(CannotOpen, match="breaks"):
        upgrade(path, NOW)
    assert (shape_of(path), plain(path, "sites")) == (OLD, before)
    assert len(backups(backups_of(path))) == 1


def test_an_altered_history_is_not_upgraded(path: Path) -> None:
    """Rows whose chain does not hold are named, and nothing is changed."""
    upgrade(path, NOW)
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("UPDATE changes SET field = 'another' WHERE id = 1")
    with pytest.raises(CannotOpen, match=r"as it was: .*Row 1 of the history"):
        upgrade(path, NOW + timedelta(minutes=1))


@pytest.mark.parametrize("content", [b"no database at all, but some text", None])
def test_what_is_no_database_is_refused(tmp_path: Path, content: bytes | None) -> None:
    """Another file, or none, is told by name."""
    path = tmp_path / "clothcast.sqlite3"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CannotOpen, match=r"no database"):
        upgrade(path, NOW)


def test_another_programs_database_is_not_upgraded(path: Path) -> None:
    """It is told by name, and stays as it is."""
    path.unlink()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(CannotOpen, match="is no database of Clothcast"):
        upgrade(path, NOW)
    assert path.read_bytes() == before
