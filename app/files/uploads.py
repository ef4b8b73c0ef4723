"""Files that were sent but not yet stored, and what they would bring, until they are confirmed."""

from __future__ import annotations

import json
import re
import secrets
import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from app.files.export import read_export
from app.files.hourly import Preview, read_weather
from app.files.look import NOTHING_SAID, Said
from sim.inputs import History, Site
from sim.learn.day_totals import usual_days
from sim.learn.full_hours import capacity_notes

KEPT = timedelta(hours=2)
MOST_WAITING, MOST_OF_ONE = 40, 8
"""Files kept at most, of all together and of one person; the oldest go first, one's own before
anybody else's, so that a full disk is nobody's errand."""
_TOKEN = re.compile(r"[A-Za-z0-9_-]{24,48}")


@dataclass(frozen=True, slots=True)
class Pending:
    """A file that waits for its confirmation.

    Attributes:
        token: its random name, which the browser holds.
        site_id: the site it was sent for.
        kind: ``counts`` or ``weather``.
        name: what the file was called.
        sent: when it was sent.
        said: what was said of how it is to be read.
        whose: a word for whoever sent it.
    """

    token: str
    site_id: int
    kind: str
    name: str
    sent: datetime
    said: Said = NOTHING_SAID
    whose: str = ""


@dataclass(frozen=True, slots=True)
class WaitingFile:
    """A file that waits, with its content."""

    pending: Pending
    raw: bytes


class UploadFolder:
    """The folder of waiting files: each a line that says what it is, and its content."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(
        self,
        raw: bytes,
        site_id: int,
        kind: str,
        said: Said,
        name: str,
        now: datetime,
        whose: str = "",
    ) -> Pending:
        """Keeps a file until it is confirmed, dropped or too old; older ones are cleared away.

        Raises:
            OSError: if it can't be written; nothing of it is left behind.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        self._clear(now, whose)
        pending = Pending(secrets.token_urlsafe(24), site_id, kind, name, now, said, whose)
        self._write(pending, raw)
        return pending

    def say(self, file: WaitingFile, said: Said) -> None:
        """Keeps what was said of a waiting file with it; raises OSError as `keep` does."""
        self._write(replace(file.pending, said=said), file.raw)

    def _write(self, pending: Pending, raw: bytes) -> None:
        head = json.dumps({**asdict(pending), "sent": pending.sent.isoformat()})
        path = self._path(pending.token)
        half = path.with_suffix(".half")
        try:
            half.write_bytes(head.encode() + b"\n" + raw)
            half.rename(path)  # a half is never offered
        except OSError:
            half.unlink(missing_ok=True)
            raise
        oldest = path.stat().st_mtime - KEPT.total_seconds()
        for half in self._folder.glob("*.half"):  # of a process that ended meanwhile
            if half.stat().st_mtime < oldest:
                half.unlink(missing_ok=True)

    def find(self, token: str, site_id: int, now: datetime) -> WaitingFile | None:
        """A waiting file of a site; None if it is unknown, stored, dropped or too old."""
        if not _TOKEN.fullmatch(token) or not self._path(token).exists():
            return None
        head, _, raw = self._path(token).read_bytes().partition(b"\n")
        pending = _pending(head)
        is_there = pending.site_id == site_id and now - pending.sent <= KEPT
        return WaitingFile(pending, raw) if is_there else None

    def drop(self, token: str) -> None:
        """Forgets a waiting file; an unknown one is nothing to forget."""
        if _TOKEN.fullmatch(token):
            self._path(token).unlink(missing_ok=True)

    def _path(self, token: str) -> Path:
        return self._folder / f"{token}.file"

    def _clear(self, now: datetime, whose: str) -> None:
        """Make room for one more of somebody's: what is too old goes, then what is too much."""
        there = []
        for path in sorted(self._folder.glob("*.file"), key=lambda path: path.stat().st_mtime):
            with path.open("rb") as file:
                pending = _pending(file.readline())
            if now - pending.sent > KEPT:
                self.drop(path.stem)
            else:
                there.append((path.stem, pending.whose))
        own = [token for token, of in there if of == whose]
        gone = own[: max(0, len(own) - MOST_OF_ONE + 1)]
        left = [token for token, _of in there if token not in gone]
        gone += left[: max(0, len(left) - MOST_WAITING + 1)]
        for token in gone:
            self.drop(token)


def _pending(head: bytes) -> Pending:
    held = json.loads(head)
    read = {"sent": datetime.fromisoformat(held["sent"]), "said": Said(**held["said"])}
    return Pending(**{**held, **read})


MOST_KEPT = 3
"""Previews kept at most; one of the longest file takes some 40 MB. The oldest go first."""


def read_file(
    file: WaitingFile,
    site: Site,
    told: Callable[[int], None] = lambda line: None,
    kept: Mapping[str, Said] = {},
    past: Callable[[], History] = History,
) -> Preview:
    """What a file would bring to a site.

    Args:
        told: hears of the lines that were reached.
        kept: how files are read by the shape of their headings.
        past: of the site, by which totals of days are spread over hours.
    """
    pending = file.pending
    if pending.kind == "weather":
        pressure_pa = site.drying.pressure_pa
        return read_weather(file.raw, site.timezone, pressure_pa, pending.name, told)
    found = read_export(
        file.raw, site.timezone, site.line.open_h, site.line.close_h,
        pending.sent.astimezone(ZoneInfo(site.timezone)).date(),
        pending.said, kept.get, lambda: usual_days(past(), site.line), pending.name, told,
    )  # fmt: skip
    return replace(found, notes=(*capacity_notes(site, found.history), *found.notes))


class FilePreviews:
    """Previews by the key of their reading, and which file each site asked for last."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Preview] = OrderedDict()
        self._asked: dict[int, WaitingFile] = {}
        self._gone: Counter[str] = Counter()

    def keep(self, key: str, preview: Preview) -> None:
        """Keep what a reading found; too many, and the oldest are forgotten."""
        with self._lock:
            self._kept[key] = preview
            while len(self._kept) > MOST_KEPT:
                forgotten, _preview = self._kept.popitem(last=False)
                self._gone[forgotten] += 1

    def drop(self, key: str, site_id: int) -> None:
        """Forget a reading whose file was stored or let go."""
        with self._lock:
            self._kept.pop(key, None)
            self._asked.pop(site_id, None)

    def find(self, key: str) -> Preview | None:
        """What a reading found; None if it was not made, or is forgotten."""
        with self._lock:
            return self._kept.get(key)

    def times_forgotten(self, key: str) -> int:
        """How often what a reading found was forgotten, so that it is made anew."""
        with self._lock:
            return self._gone[key]

    def ask(self, site_id: int, file: WaitingFile) -> None:
        """Remember the file that a site asked for last."""
        with self._lock:
            self._asked[site_id] = file

    def asked(self, site_id: int) -> WaitingFile | None:
        """The file that a site asked for last; None for none."""
        with self._lock:
            return self._asked.get(site_id)
