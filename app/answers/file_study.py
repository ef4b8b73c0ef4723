"""Reading a file that waits: a small one at once, a large one as a study that a page waits for."""

from __future__ import annotations

import hashlib
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date
from itertools import count
from typing import Any

from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db.session import Session
from app.db.store import StoredSite
from app.files.csv_table import LIMIT_BYTES
from app.files.uploads import Preview, WaitingFile, read_file

KIND = "file"
SCHEMA = "clothcast.file/1"
FAILED = "The file could not be read: {fault}"
SMALL_BYTES = 150_000
"""Bytes of a file that is read while its page is asked for: some 8,000 lines, two tenths of a
second (weather with a wet bulb in each line: four)."""


@dataclass(frozen=True, slots=True)
class FileView:
    """A file that waits, as far as it is read.

    Attributes:
        preview: what it would bring; None until it is read.
        key: names its study; empty for a small file.
        running, failed: how far the study is, or what went wrong.
    """

    file: WaitingFile
    preview: Preview | None
    key: str = ""
    running: Progress | None = None
    failed: str = ""


def open_file(stored: StoredSite, file: WaitingFile, runner: Runner) -> FileView:
    """A file that waits, read if it is small; the reading of a large one is begun."""
    if not SMALL_BYTES < len(file.raw) <= LIMIT_BYTES:  # beyond the limit it is refused unread
        return FileView(file, read_file(file, stored.data.site))
    view = _look(stored, file, runner)
    if view.preview is None and view.running is None and not view.failed:
        begin_reading(stored, file, runner)
        view = _look(stored, file, runner)
    return view


def begin_reading(stored: StoredSite, file: WaitingFile, runner: Runner) -> None:
    """Begin to read a large file, also anew where that was stopped."""
    runner.previews.ask(stored.id, file)
    runner.begin(_job(stored, file, runner))


def drop_file(stored: StoredSite, file: WaitingFile, runner: Runner) -> None:
    """Forget a file that was stored or let go; a reading under way ends."""
    key = _key(stored, file, runner)
    runner.previews.drop(key, stored.id)
    if runner.has(key):
        runner.break_off(key)


def _look(stored: StoredSite, file: WaitingFile, runner: Runner) -> FileView:
    key = _key(stored, file, runner)
    found = runner.previews.find(key)
    if found is not None:
        return FileView(file, found, key)
    return FileView(file, None, key, runner.progress(key), runner.failure(key))


def job_of_day(_session: Session, stored: StoredSite, _day: date, runner: Runner) -> Job | None:
    """The reading that a site waits for; None if this process was asked for none."""
    file = runner.previews.asked(stored.id)
    return None if file is None else _job(stored, file, runner)


def _key(stored: StoredSite, file: WaitingFile, runner: Runner) -> str:
    """Names a reading: what is read is kept in this process, so each reads for itself."""
    parts = f"{SCHEMA} {file.pending.token} {stored.id} {stored.version} {runner.book.holder}"
    for times in count():
        key = hashlib.sha256(f"{parts} {times}".encode()).hexdigest()[:32]
        if runner.previews.times_forgotten(key) == 0:
            return key
    raise AssertionError("unreachable: some number has not been forgotten")


def _job(stored: StoredSite, file: WaitingFile, runner: Runner) -> Job:
    key, lines = _key(stored, file, runner), file.raw.count(b"\n") + 1

    def work(_executor: Executor | None, report: Report) -> dict[str, Any]:
        def told(line: int) -> None:
            report(min(line, lines), lines)

        told(0)
        runner.previews.keep(key, read_file(file, stored.data.site, told))
        return {"schema": SCHEMA, "lines": lines}

    return Job(KIND, key, stored.id, file.pending.sent.date(), lines, 0, work, FAILED)
