"""The line in which studies wait in a server process: a thread a kind, present questions first."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import datetime, timedelta
from functools import partial
from typing import Generic, TypeVar

PRESENT = timedelta(seconds=10)
"""Somebody waits on a page for what was looked at so lately: such pages ask every two seconds."""


class Turn:
    """Something that waits for its turn and then has it.

    Attributes:
        kind: things of one kind have their turn one after another.
        looked_at: when somebody who waits for it looked last; None for never.
        is_taken: whether its turn has come; is_stopped: whether it is to end.
        future: done when it has ended, or was stopped before its turn came.
    """

    def __init__(self, key: str, kind: str) -> None:
        self.key, self.kind = key, kind
        self.looked_at: datetime | None = None
        self.is_taken = False
        self.is_stopped = threading.Event()
        self.future: Future[None] = Future()

    def stop(self) -> None:
        """End as soon as may be."""
        self.is_stopped.set()


AnyTurn = TypeVar("AnyTurn", bound=Turn)


class StudyQueue(Generic[AnyTurn]):
    """Who waits and whose turn it is.

    Args:
        clock: the moment, by which is told what somebody waits for.
    """

    def __init__(self, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        self._turns: dict[str, AnyTurn] = {}
        self._threads: dict[str, ThreadPoolExecutor] = {}
        self._lock = threading.Lock()

    def find(self, key: str) -> AnyTurn | None:
        """What waits or has its turn under a key, unless it was stopped."""
        with self._lock:
            turn = self._turns.get(key)
        return None if turn is None or turn.is_stopped.is_set() else turn

    def add(self, turn: AnyTurn) -> bool:
        """Let it stand in line; False if its key does so already."""
        with self._lock:
            there = self._turns.get(turn.key)
            if there is not None and not there.is_stopped.is_set():
                return False
            self._turns.pop(turn.key, None)
            self._turns[turn.key] = turn
        return True

    def begin(self, turn: AnyTurn, work: Callable[[AnyTurn], None]) -> None:
        """Do the work of what stands in line when its turn comes."""
        # The thread comes once for each, and takes whatever is first then.
        self.thread(turn.kind).submit(self._take_next, turn.kind, work)

    def leave(self, turn: AnyTurn) -> None:
        """It is over, or was not to be."""
        with self._lock:
            if self._turns.get(turn.key) is turn:
                del self._turns[turn.key]

    def stop(self, key: str) -> None:
        """End what has its turn; what waits leaves the line at once."""
        with self._lock:
            turn = self._turns.get(key)
            if turn is None:
                return
            if not turn.is_taken:
                del self._turns[key]
                turn.future.set_result(None)
        turn.stop()

    def ahead(self, turn: AnyTurn) -> int:
        """How many of its kind come before it, the one that has its turn included."""
        with self._lock:
            at_work = sum(one.kind == turn.kind and one.is_taken for one in self._turns.values())
            waiting = self._waiting(turn.kind)
        return at_work + (waiting.index(turn) if turn in waiting else 0)

    def thread(self, kind: str) -> ThreadPoolExecutor:
        """The one thread of a kind."""
        with self._lock:
            thread = self._threads.get(kind)
            if thread is None:
                thread = self._threads[kind] = ThreadPoolExecutor(1, thread_name_prefix=kind)
            return thread

    def close(self, wait_for: str) -> None:
        """Stop everything; the thread of one kind alone is waited for."""
        with self._lock:
            keys, threads = list(self._turns), dict(self._threads)
        for key in keys:
            self.stop(key)
        for kind, thread in threads.items():
            thread.shutdown(wait=kind == wait_for, cancel_futures=True)

    def _waiting(self, kind: str) -> list[AnyTurn]:
        waiting = [one for one in self._turns.values() if one.kind == kind and not one.is_taken]
        return sorted(waiting, key=partial(_is_left, since=self._clock() - PRESENT))

    def _take_next(self, kind: str, work: Callable[[AnyTurn], None]) -> None:
        with self._lock:
            waiting = self._waiting(kind)
            if not waiting:
                return
            turn = waiting[0]
            turn.is_taken = True
        try:
            work(turn)
        finally:
            turn.future.set_result(None)


def _is_left(turn: Turn, since: datetime) -> bool:
    return turn.looked_at is None or turn.looked_at < since
