"""Files that were sent but not yet stored: kept apart in the data folder until confirmed."""

from __future__ import annotations

import json
import re
import secrets
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path

KEPT = timedelta(hours=2)
MOST_WAITING = 40
"""Files kept at most; the oldest go first, so that a full disk is nobody's errand."""
_TOKEN = re.compile(r"[A-Za-z0-9_-]{24,48}")


@dataclass(frozen=True, slots=True)
class Pending:
    """A file that waits for its confirmation.

    Attributes:
        token: its random name, which the browser holds.
        site_id: the site it was sent for.
        kind: ``counts`` or ``weather``.
        counted: what was said to be counted, or empty.
        name: what the file was called.
        sent: when it was sent.
    """

    token: str
    site_id: int
    kind: str
    counted: str
    name: str
    sent: datetime


class Waiting:
    """The folder of waiting files."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(
        self, raw: bytes, site_id: int, kind: str, counted: str, name: str, now: datetime
    ) -> Pending:
        """Keeps a file until it is confirmed, dropped or too old; older ones are cleared away.

        Raises:
            OSError: if it can't be written; nothing of it is left behind.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        self._clear(now)
        pending = Pending(secrets.token_urlsafe(24), site_id, kind, counted, name, now)
        head = {**asdict(pending), "sent": now.isoformat()}
        try:
            (self._folder / f"{pending.token}.bin").write_bytes(raw)
            # The head is written last: a file without one is never offered.
            self._head(pending.token).write_text(json.dumps(head), encoding="utf-8")
        except OSError:
            self.drop(pending.token)
            raise
        self._clear_halves(pending.token)
        return pending

    def find(self, token: str, site_id: int, now: datetime) -> tuple[Pending, bytes] | None:
        """A waiting file of a site; None if it is unknown, stored, dropped or too old."""
        if not _TOKEN.fullmatch(token) or not self._head(token).exists():
            return None
        held = json.loads(self._head(token).read_text(encoding="utf-8"))
        pending = Pending(**{**held, "sent": datetime.fromisoformat(held["sent"])})
        if pending.site_id != site_id or now - pending.sent > KEPT:
            return None
        return pending, (self._folder / f"{token}.bin").read_bytes()

    def drop(self, token: str) -> None:
        """Forgets a waiting file; an unknown one is nothing to forget."""
        if _TOKEN.fullmatch(token):
            self._head(token).unlink(missing_ok=True)
            (self._folder / f"{token}.bin").unlink(missing_ok=True)

    def _head(self, token: str) -> Path:
        return self._folder / f"{token}.json"

    def _clear_halves(self, newest: str) -> None:
        """Files whose head never came, because what wrote them ended half-way long ago."""
        latest = self._head(newest).stat().st_mtime
        for path in self._folder.glob("*.bin"):
            is_half = not self._head(path.stem).exists()
            if is_half and path.stat().st_mtime < latest - KEPT.total_seconds():
                path.unlink(missing_ok=True)

    def _clear(self, now: datetime) -> None:
        heads = sorted(self._folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
        too_many = len(heads) - MOST_WAITING + 1
        for place, path in enumerate(heads):
            sent = datetime.fromisoformat(json.loads(path.read_text(encoding="utf-8"))["sent"])
            if place < too_many or now - sent > KEPT:
                self.drop(path.stem)
