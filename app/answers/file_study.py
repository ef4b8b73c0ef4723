"""Reading a file that waits: a small one at once, a large one as a study that a page waits for."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, fields
from datetime import date
from functools import partial
from itertools import count

from app.answers.answer import Desk, Kind
from app.answers.studies.runner import Progress, Report, Runner
from app.answers.studies.stages import Stage
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.files.csv_table import LIMIT_BYTES
from app.files.hourly import Preview
from app.files.look import Said
from app.files.uploads import WaitingFile, read_file

SCHEMA = "clothcast.file/1"
SAID = {part.name for part in fields(Said)}
SMALL_BYTES = 150_000
"""Bytes of a file that is read while its page is asked for: some 8,000 lines, two tenths of a
second (weather with a wet bulb in each line: four)."""


@dataclass(frozen=True, slots=True)
class FileView:
    """A file that waits, as far as it is read.

    Attributes:
        preview: what it would bring; None until it is read.
        key: names its study, empty for a small file; running, failed: how far that is, or what went
            wrong.
    """

    file: WaitingFile
    preview: Preview | None
    key: str = ""
    running: Progress | None = None
    failed: str = ""

    @property
    def kind(self) -> Kind[FileAsked | None, FileRead]:
        """The kind of its study."""
        return FILE


@dataclass(frozen=True, slots=True)
class FileAsked:
    """A large file to be read for a site, by a runner that keeps what is read."""

    stored: StoredSite
    file: WaitingFile
    runner: Runner

    @property
    def key(self) -> str:
        """Names a reading: what is read is kept in this process, so each reads for itself."""
        file, stored, runner = self.file, self.stored, self.runner
        parts = (
            f"{SCHEMA} {file.pending.token} {file.pending.said} {stored.id} {stored.version} "
            f"{runner.book.holder}"
        )
        for times in count():
            key = hashlib.sha256(f"{parts} {times}".encode()).hexdigest()[:32]
            if runner.previews.times_forgotten(key) == 0:
                return key
        raise AssertionError("unreachable: some number has not been forgotten")

    @property
    def lines(self) -> int:
        """Its lines."""
        return self.file.raw.count(b"\n") + 1


@dataclass(frozen=True, slots=True)
class FileRead:
    """That a file was read, and its lines; what it would bring is kept in this process."""

    lines: int


def open_file(stored: StoredSite, file: WaitingFile, runner: Runner) -> FileView:
    """A file that waits, read if it is small; the reading of a large one is begun."""
    if not SMALL_BYTES < len(file.raw) <= LIMIT_BYTES:  # beyond the limit it is refused unread
        with runner.database.session() as session:
            return FileView(file, read_for_site(session, stored, file))
    view = _look(stored, file, runner)
    if view.preview is None and view.running is None and not view.failed:
        begin_reading(stored, file, runner)
        view = _look(stored, file, runner)
    return view


def begin_reading(stored: StoredSite, file: WaitingFile, runner: Runner) -> None:
    """Begin to read a large file, also anew where that was stopped."""
    runner.previews.ask(stored.id, file)
    asked = FileAsked(stored, file, runner)
    FILE.of(stored.id, file.pending.sent.date(), asked).begin(runner)


def drop_file(stored: StoredSite, file: WaitingFile, runner: Runner) -> None:
    """Forget a file that was stored or let go; a reading under way ends."""
    key = FileAsked(stored, file, runner).key
    runner.previews.drop(key, stored.id)
    if runner.has(key):
        runner.break_off(key)


def read_for_site(
    session: Session,
    stored: StoredSite,
    file: WaitingFile,
    told: Callable[[int], None] = lambda line: None,
) -> Preview:
    """What a file would bring, read as the site's earlier exports of its shape were."""
    known = store.load_exports(session, stored.id)
    kept = {one.shape: Said(**one.said) for one in known if one.said.keys() <= SAID}
    past = partial(store.load_history, session, stored.id)
    return read_file(file, stored.data.site, told, kept, past)


def _look(stored: StoredSite, file: WaitingFile, runner: Runner) -> FileView:
    asked = FileAsked(stored, file, runner)
    found = runner.previews.find(asked.key)
    if found is not None:
        return FileView(file, found, asked.key)
    with runner.database.session() as session:
        running, failed = runner.standing(session, {asked.key: False})[asked.key]
    return FileView(file, None, asked.key, running, failed)


def _work(asked: FileAsked | None, _executor: Executor | None, report: Report) -> FileRead:
    if asked is None:
        raise ValueError("no file waits")
    lines, key = asked.lines, asked.key

    def told(line: int) -> None:
        report(min(line, lines), lines)

    told(0)
    with asked.runner.database.session() as session:
        read = read_for_site(session, asked.stored, asked.file, told)
    asked.runner.previews.keep(key, read)
    return FileRead(lines)


def _ask(desk: Desk, _day: date) -> FileAsked | None:
    """The reading that a site waits for; None if this process was asked for none."""
    runner = desk.runner
    file = runner.previews.asked(desk.site.id) if runner else None
    return None if file is None or runner is None else FileAsked(desk.site, file, runner)


FILE: Kind[FileAsked | None, FileRead] = Kind(
    name="file",
    label="A file of hours",
    stages=(Stage("lines", "reading the lines"),),
    page="counts",
    found=FileRead,
    ask=_ask,
    key=lambda asked: "" if asked is None else asked.key,
    days=lambda _asked: 0,
    work=_work,
    failed="The file could not be read: {fault}",
    is_apart=False,
)
