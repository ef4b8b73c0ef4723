"""Files that wait for their confirmation."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from app.files.look import NOTHING_SAID
from app.files.uploads import KEPT, MOST_OF_ONE, MOST_WAITING, UploadFolder

NOW = datetime(2026, 7, 15, 12, tzinfo=UTC)


def keep(
    waiting: UploadFolder,
    raw: bytes = b"a,b\n",
    site_id: int = 1,
    at: datetime = NOW,
    whose: str = "",
) -> str:
    """Keeps a file and returns its token."""
    return waiting.keep(raw, site_id, "counts", NOTHING_SAID, "july.csv", at, whose).token


def test_a_file_is_found_by_its_site_alone(tmp_path: Path) -> None:
    """A kept file comes back byte for byte for its own site, and for no other."""
    waiting = UploadFolder(tmp_path / "pending")
    token = keep(waiting, b"\xff\x00raw")
    found = waiting.find(token, 1, NOW)
    assert found is not None
    assert found.raw == b"\xff\x00raw"
    told = found.pending
    assert (told.name, told.kind, told.sent) == ("july.csv", "counts", NOW)
    assert waiting.find(token, 2, NOW) is None


def test_a_file_grows_old(tmp_path: Path) -> None:
    """A file is kept for its time and not a second longer, and is cleared by the next one."""
    waiting = UploadFolder(tmp_path)
    token = keep(waiting)
    late = NOW + KEPT + timedelta(seconds=1)
    assert waiting.find(token, 1, NOW + KEPT) is not None
    assert waiting.find(token, 1, late) is None
    keep(waiting, at=late)
    assert len(list(tmp_path.iterdir())) == 1


def test_a_dropped_file_is_gone(tmp_path: Path) -> None:
    """A dropped file leaves nothing behind; dropping it again is nothing."""
    waiting = UploadFolder(tmp_path)
    token = keep(waiting)
    waiting.drop(token)
    waiting.drop(token)
    assert list(tmp_path.iterdir()) == []


def test_no_more_than_so_many_wait(tmp_path: Path) -> None:
    """However many people send files, only the newest few are kept."""
    waiting = UploadFolder(tmp_path)
    tokens = [keep(waiting, whose=f"person {n}") for n in range(MOST_WAITING + 5)]
    assert len(list(tmp_path.glob("*.file"))) == MOST_WAITING
    assert waiting.find(tokens[-1], 1, NOW) is not None


def test_nobody_pushes_out_anothers(tmp_path: Path) -> None:
    """Whoever sends many loses his own oldest; what another sent before them stays."""
    waiting = UploadFolder(tmp_path)
    first = keep(waiting, whose="Ann")
    tokens = [keep(waiting, whose="Ben") for _ in range(MOST_OF_ONE + 5)]
    assert waiting.find(first, 1, NOW) is not None
    kept = [waiting.find(token, 1, NOW) is not None for token in tokens]
    assert kept == [False] * 5 + [True] * MOST_OF_ONE


@pytest.mark.parametrize("token", ["", "..", "../form", "x" * 30 + "/", "x" * 200])
def test_made_up_tokens(tmp_path: Path, token: str) -> None:
    """A token of another shape opens and removes nothing."""
    waiting = UploadFolder(tmp_path / "pending")
    keep(waiting)
    (tmp_path / "form.file").write_text("{}", encoding="utf-8")
    assert waiting.find(token, 1, NOW) is None
    waiting.drop(token)
    assert (tmp_path / "form.file").exists()


def full_disk(path: Path, *given: object, **more: object) -> int:
    """In place of writing a file: half of it is there when the disk is full."""
    with path.open("wb") as file:
        file.write(b"half")
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))


def test_a_file_that_finds_no_room_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of it does not stay behind, and others do."""
    waiting = UploadFolder(tmp_path)
    token = keep(waiting)
    before = sorted(tmp_path.iterdir())
    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OSError, match="No space left"):
        keep(waiting)
    assert sorted(tmp_path.iterdir()) == before
    assert waiting.find(token, 1, NOW) is not None


def test_half_a_file_of_a_process_that_ended_is_cleared(tmp_path: Path) -> None:
    """What never got its name goes once it is old; what may still be written stays."""
    waiting = UploadFolder(tmp_path)
    old, young = tmp_path / f"{'o' * 32}.half", tmp_path / f"{'y' * 32}.half"
    for path in (old, young):
        path.write_bytes(b"half")
    seconds = old.stat().st_mtime - KEPT.total_seconds() - 60.0
    os.utime(old, (seconds, seconds))
    keep(waiting)
    assert (old.exists(), young.exists()) == (False, True)
