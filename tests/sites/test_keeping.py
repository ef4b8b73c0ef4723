"""A copy a day, by itself."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from app.db.session import backups_of, open_database
from app.settings import Settings
from app.sites.keeping import Nightly, copies, kept_of
from tests.world import NOW


class Clocked(Settings):
    """Settings whose clock is set by hand."""

    at: datetime = NOW

    def clock(self) -> datetime:
        """The moment that was set."""
        return self.at


def test_one_copy_a_day(tmp_path: Path) -> None:
    """None within a day of the last one; one when a day has passed; a clock that is set back by a
    year holds nothing up, and one that was ahead neither."""
    database = open_database(tmp_path / "c.sqlite3")
    for hours, is_due in ((0, True), (1, False), (23, False), (24, True), (-9_000, True)):
        at = NOW + timedelta(hours=hours)
        made = Nightly(database, Clocked(at=at)).keep()
        assert (made is not None) == is_due, hours
        assert made is None or made.backup.at == at
    assert kept_of(database).newest == NOW + timedelta(hours=24)
    database.close()


def test_why_no_copy_could_be_made_is_told_until_one_is(tmp_path: Path) -> None:
    """On a full disk: one sentence, which stays until a whole copy was made; nothing is left of
    the one that was begun."""
    database = open_database(tmp_path / "c.sqlite3")
    nightly = Nightly(database, Clocked())
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("app.db.backups.digest", _full)
        assert nightly.keep() is None
    folder = backups_of(tmp_path / "c.sqlite3")
    assert kept_of(database).fault == (
        f"No backup can be written to {folder} or read from it (no space left on device); nothing "
        "was changed."
    )
    assert copies(database) == ()
    assert [one.name for one in folder.iterdir()] == ["why-not.txt"]
    assert nightly.keep() is not None
    assert kept_of(database).fault == ""
    database.close()


def _full(path: Path) -> str:
    raise OSError(28, "No space left on device", str(path))


def test_a_database_in_memory_is_not_copied() -> None:
    """It has no file."""
    database = open_database(None)
    assert Nightly(database, Clocked()).keep() is None
    assert kept_of(database) == type(kept_of(database))(None, 0, "")
    database.close()
