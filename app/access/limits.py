"""Limits of tries to sign in: whoever fails has to wait, longer each time, but never for ever.

Tries are counted by account and by address. On the machine itself only those made there count, so
that nobody who tries from elsewhere keeps its owner out. Counts are kept in memory: a new start of
the server forgets them.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

FREE = 5
"""Tries that fail before anybody has to wait; a guess."""
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=2), timedelta(minutes=15)
"""The first wait, doubled with every further try up to the longest; guesses."""
FORGOTTEN = timedelta(days=1)
"""After so long without a try everything before is forgotten; a guess."""
MOST_KEPT = 10_000
NONE = timedelta(0)


def wait_after(failed: int) -> timedelta:
    """How long to wait after so many tries that failed one after another."""
    beyond = failed - FREE
    if beyond < 0:
        return NONE
    return min(LONGEST_WAIT, FIRST_WAIT * (1 << min(beyond, 20)))


def keys_of(account: str, address: str, *, is_here: bool) -> tuple[str, ...]:
    """What a try counts for.

    Args:
        account: whose; empty for nobody's.
        is_here: whether it is made on the machine itself.
    """
    own = [f"from {address}"]
    if account and not is_here:
        own.append(f"to {account.casefold()}")
    return tuple(own)


@dataclass
class Tries:
    """Tries that failed, by what they count for."""

    most_kept: int = MOST_KEPT
    _held: OrderedDict[str, tuple[int, datetime]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait(self, keys: Sequence[str], now: datetime) -> timedelta:
        """How long whoever tries now has to wait first; nothing if he may try."""
        with self._lock:
            return max((self._left(key, now) for key in keys), default=NONE)

    def begin(self, keys: Sequence[str], now: datetime) -> timedelta:
        """The same; a try that may be made counts as failed from now on, until it `succeeded`, so
        that tries at the same moment count as well."""
        with self._lock:
            left = max((self._left(key, now) for key in keys), default=NONE)
            if left == NONE:
                for key in keys:
                    self._held[key] = (self._count(key, now) + 1, now)
                    self._held.move_to_end(key)
                while len(self._held) > self.most_kept:
                    self._held.popitem(last=False)
            return left

    def succeeded(self, keys: Sequence[str]) -> None:
        """Forget what failed before."""
        with self._lock:
            for key in keys:
                self._held.pop(key, None)

    def _count(self, key: str, now: datetime) -> int:
        count, at = self._held.get(key, (0, now))
        return 0 if now - at > FORGOTTEN else count

    def _left(self, key: str, now: datetime) -> timedelta:
        _count, at = self._held.get(key, (0, now))
        since = max(NONE, now - at)
        return max(NONE, wait_after(self._count(key, now)) - since)
