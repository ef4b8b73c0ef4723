"""Challenges that browsers have been asked and have not answered: each may be answered once, soon,
by the browser that was asked."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

ANSWERED = timedelta(minutes=5)
"""How long a challenge may be answered; a guess."""
MOST_KEPT = 1_000


@dataclass
class Challenges:
    """Challenges by the visit of the browser, kept in memory; `about` says what one was for."""

    most_kept: int = MOST_KEPT
    _held: OrderedDict[str, tuple[bytes, str, datetime]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(self, visit: str, challenge: bytes, about: str, now: datetime) -> None:
        """Keep a challenge in place of the browser's earlier one."""
        with self._lock:
            self._held[visit] = challenge, about, now + ANSWERED
            self._held.move_to_end(visit)
            while len(self._held) > self.most_kept:
                self._held.popitem(last=False)

    def take(self, visit: str, about: str, now: datetime) -> bytes | None:
        """The challenge that a browser was asked; None if it was not, or too long ago."""
        with self._lock:
            challenge, of, until = self._held.pop(visit, (b"", "", now))
        return challenge if challenge and of == about and now <= until else None
