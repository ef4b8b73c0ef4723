"""Worker processes for studies: one pool for all, and what each study has handed out."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Executor, Future
from typing import Any
from weakref import WeakSet

from app.answers.studies.pool import Pool, settle


class Hands(Executor):
    """The processes as one study uses them, which are taken away from it when it is stopped.

    Stopping reaches a study that waits: whatever it waits for ends in `CancelledError` at once,
    and so does what it hands out later.
    """

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self._out: WeakSet[Future[Any]] = WeakSet()
        self._lock = threading.Lock()
        self._is_stopped = False

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Hand a piece out; raises CancelledError once the study is stopped."""
        with self._lock:
            if self._is_stopped:
                raise CancelledError
            future = self.pool.submit(fn, *args, **kwargs)
            self._out.add(future)
        return future

    def stop(self) -> None:
        """Take everything back that was handed out; a process may still end its piece."""
        with self._lock:
            self._is_stopped = True
            out = list(self._out)
        for future in out:
            if not future.cancel():
                settle(future, fault=CancelledError())


def is_warm(executor: Executor | None) -> bool:
    """Whether pieces that are handed out begin at once."""
    return isinstance(executor, Hands) and executor.pool.is_warm


class Workers:
    """The pool of processes, started when first needed.

    Args:
        count: how many; below two there is no pool.
    """

    def __init__(self, count: int) -> None:
        self._count = count
        self._pool: Pool | None = None
        self._lock = threading.Lock()
        self._is_closed = False

    def hands(self, is_long: bool = True) -> Hands | None:
        """The processes for a study; None where there are none, or where short work would wait
        for their start."""
        with self._lock:
            if self._count < 2 or self._is_closed:
                return None
            if not is_long and not (self._pool and self._pool.is_warm):
                return None
            if self._pool is None:
                self._pool = Pool(self._count)
            return Hands(self._pool)

    def close(self) -> None:
        """End the processes."""
        with self._lock:
            self._is_closed = True
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.kill()
