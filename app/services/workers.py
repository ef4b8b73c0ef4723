"""Worker processes: started afresh, shared by all studies, and never left over."""

from __future__ import annotations

import multiprocessing
import os
import threading
from concurrent.futures import Executor, ProcessPoolExecutor


class Pool(ProcessPoolExecutor):
    """Worker processes.

    Attributes:
        is_warm: a study has come to its end on them, so short work need not wait for their start.
    """

    is_warm = False


def is_warm(executor: Executor | None) -> bool:
    """Whether pieces that are handed out begin at once."""
    return isinstance(executor, Pool) and executor.is_warm


class Workers:
    """A pool of processes that is started when first needed and anew after one of them died.

    Processes are started afresh (spawn), so that they share nothing with the pages.

    Args:
        count: how many; below two there is no pool.
    """

    def __init__(self, count: int) -> None:
        self._count = count
        self._pool: Pool | None = None
        self._lock = threading.Lock()
        self._is_closed = False

    def executor(self, is_long: bool = True) -> Executor | None:
        """The pool; None where there is none, or where short work would wait for its start."""
        with self._lock:
            if self._count < 2 or self._is_closed:
                return None
            if not is_long and not is_warm(self._pool):
                return None
            if self._pool is None:
                self._pool = Pool(
                    self._count,
                    mp_context=multiprocessing.get_context("spawn"),
                    initializer=_end_with_parent,
                )
            return self._pool

    def drop(self, broken: Executor | None) -> None:
        """Give up a pool of which a process died; the next study gets a new one."""
        with self._lock:
            if broken is None or self._pool is not broken:
                return  # somebody else noticed before
            pool, self._pool = self._pool, None
        pool.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        """Stop the processes after the piece that each is at."""
        with self._lock:
            self._is_closed = True
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)


def _end_with_parent() -> None:
    """In a worker: end with the server, even if that is killed and can tell nobody."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)
