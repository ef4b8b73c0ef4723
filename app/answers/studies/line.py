"""The line: what waits in a server process, whose turn it is, and who stands back behind whom."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Generic, Protocol, TypeVar

from app.answers.studies.workers import Rank

ASIDE = "aside"
"""The thread for what is no study."""
AHEAD = "ahead"
"""The lane of what nobody asked for."""
THREADS = {AHEAD: 2}
"""Threads of a lane that has more than one: what nobody asked for may be two at once."""
GLANCE_S = 1.0
"""How often work ahead that stands back looks whether it is still wanted [s]."""
PRESENT = timedelta(seconds=10)
"""Somebody waits on a page for what was looked at so lately: such pages ask every two seconds."""


class InLine(Protocol):
    """What may stand in a line, see `app.answers.studies.runner.Run`."""

    key: str
    lane: str
    asker: str
    turn: int
    looked_at: datetime | None
    is_taken: bool
    is_shown: bool
    is_stopped: threading.Event
    future: Future[None]

    @property
    def is_ahead(self) -> bool:
        """Whether nobody waits for it."""

    def rank(self) -> Rank:
        """Whom it comes behind."""

    def stop(self) -> None:
        """End."""


Waits = TypeVar("Waits", bound=InLine)


class StudyQueue(Generic[Waits]):
    """Who waits in this process and whose turn it is: a thread a kind, present questions first,
    then by turns of who asked. What has shown a first answer gives its thread away to whatever of
    its kind has none yet, and goes on when all have.

    Args:
        clock: the moment, by which is told what somebody waits for.
        is_single: whether one process computes, so that what is side by side is in the way.
    """

    def __init__(self, clock: Callable[[], datetime], is_single: bool = False) -> None:
        self._clock, self._is_single = clock, is_single
        self._runs: dict[str, Waits] = {}
        self._threads: dict[str, ThreadPoolExecutor] = {}
        self._before: list[ThreadPoolExecutor] = []
        self._works: dict[str, Callable[[Waits], None]] = {}
        self._at: dict[str, int] = {}
        self._last: dict[tuple[str, str], int] = {}
        self._changed = threading.Condition(threading.RLock())
        self._lock = self._changed

    def find(self, key: str) -> Waits | None:
        """What waits or has its turn under a key, unless it was stopped."""
        with self._lock:
            run = self._runs.get(key)
        return None if run is None or run.is_stopped.is_set() else run

    def add(self, run: Waits) -> bool:
        """Let it stand in line; False if its key does so already."""
        with self._lock:
            there = self._runs.get(run.key)
            if there is not None and not there.is_stopped.is_set():
                return False
            self._runs.pop(run.key, None)
            if not any(one.lane == run.lane for one in self._runs.values()):
                self._at.pop(run.lane, None)
                self._last = {who: at for who, at in self._last.items() if who[0] != run.lane}
            # Start-time fair queuing (Goyal, Vin & Cheng 1996, from memory): an asker's next has a
            # turn later than his last, and nobody's is earlier than that of what was taken last.
            who = run.lane, run.asker
            run.turn = max(self._at.get(run.lane, 0), self._last.get(who, -1) + 1)
            self._last[who] = run.turn
            self._runs[run.key] = run
        return True

    def begin(self, run: Waits, work: Callable[[Waits], None]) -> None:
        """Do the work of what stands in line when its turn comes."""
        # The thread comes once for each, and takes whatever is first then.
        with self._lock:
            thread, self._works[run.lane] = self.thread(run.lane), work
        thread.submit(self._take_next, run.lane, thread)
        self.look_again()

    def show(self, run: Waits) -> None:
        """Something can be read of a run: others of its kind have their turn before it goes on."""
        with self._lock:
            if run.is_shown or run.lane not in self._works:
                return
            run.is_shown = True
            self._before.append(self._threads.pop(run.lane))
            thread = self.thread(run.lane)
            for _one in self._waiting(run.lane):
                thread.submit(self._take_next, run.lane, thread)
        self.look_again()

    def look_again(self) -> None:
        """Have whatever stands back look who waits now."""
        with self._changed:
            self._changed.notify_all()

    def wait_behind(self, run: Waits, seconds: float) -> bool:
        """Whether a run is to stand back; waits so long for a change.

        What nobody asked for stands back behind everything that somebody did. What can be read
        already does behind others of its kind that can't, and behind those that could before it.
        Where one process computes, so does what somebody asked for behind shorter work that has its
        turn.
        """
        with self._changed:
            if not self._is_behind(run):
                return False
            self._changed.wait(seconds)
            return self._is_behind(run)

    def _is_behind(self, run: Waits) -> bool:
        there = [one for one in self._runs.values() if not one.is_stopped.is_set()]
        asked = [one for one in there if one is not run and not one.is_ahead]
        if run.is_ahead and asked:
            return True
        if run.is_shown:
            alike = [one for one in there if one.lane == run.lane]
            first = next(one for one in alike if one.is_shown)
            if first is not run or not all(one.is_shown for one in alike):
                return True
        if run.is_ahead:
            return False
        rank = run.rank()
        return self._is_single and any(
            one.is_taken and not one.is_shown and one.rank() < rank for one in asked
        )

    def leave(self, run: Waits) -> None:
        """It is over, or was not to be."""
        with self._lock:
            if self._runs.get(run.key) is run:
                del self._runs[run.key]
            self._changed.notify_all()

    def stop(self, key: str) -> None:
        """End what has its turn; what waits leaves the line at once."""
        with self._lock:
            run = self._runs.get(key)
            if run is None:
                return
            if not run.is_taken:
                del self._runs[key]
                run.future.set_result(None)
        run.stop()
        self.look_again()

    def ahead(self, run: Waits) -> int:
        """How many for the same thread come before it, the one that has its turn included."""
        with self._lock:
            at_work = sum(one.lane == run.lane and one.is_taken for one in self._runs.values())
            waiting = self._waiting(run.lane)
        return at_work + (waiting.index(run) if run in waiting else 0)

    def thread(self, lane: str) -> ThreadPoolExecutor:
        """The thread of a lane, or its `THREADS`."""
        with self._lock:
            if lane not in self._threads:
                count = THREADS.get(lane, 1)
                self._threads[lane] = ThreadPoolExecutor(count, thread_name_prefix=lane)
            return self._threads[lane]

    def close(self, wait_for: str) -> None:
        """Stop everything; one thread alone is waited for."""
        with self._lock:
            keys, threads = list(self._runs), dict(self._threads)
            before = list(self._before)
        for key in keys:
            self.stop(key)
        for thread in before:
            thread.shutdown(wait=False, cancel_futures=True)
        for lane, thread in threads.items():
            thread.shutdown(wait=lane == wait_for, cancel_futures=True)

    def _waiting(self, lane: str) -> list[Waits]:
        waiting = [one for one in self._runs.values() if one.lane == lane and not one.is_taken]
        since = self._clock() - PRESENT
        gone = {run.key: run.looked_at is None or run.looked_at < since for run in waiting}
        return sorted(waiting, key=lambda run: (gone[run.key], run.turn))

    def _take_next(self, lane: str, thread: ThreadPoolExecutor) -> None:
        with self._lock:
            run = next(iter(self._waiting(lane)), None)
            if run is None or self._threads.get(lane) is not thread:
                return  # what waits has been given another thread
            run.is_taken, work = True, self._works[lane]
            self._at[lane] = max(self._at.get(lane, 0), run.turn)
        try:
            work(run)
        finally:
            run.future.set_result(None)
