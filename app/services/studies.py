"""Long computations in the background: each question once, its progress, and its answer stored."""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from app.catalogue import _
from app.db import store
from app.db.session import Database
from app.services.changes import Gate
from app.services.past import Past

LEAST_FOR_WORKERS = 2_000
"""From so many simulated days, counted over scenarios, starting worker processes is worth it."""


def is_long(days: int) -> bool:
    """Whether so many simulated days are worth the seconds that worker processes take to start."""
    return days >= LEAST_FOR_WORKERS


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a computation is: draws done, of all."""

    done: int
    total: int


class Stopped(Exception):
    """A computation was given up because the program ends."""


@dataclass(frozen=True, slots=True)
class Job:
    """A computation whose answer is stored under a key of everything it depends on.

    Attributes:
        kind: jobs of one kind are computed one after another.
        total: steps that it takes, as far as is known.
        days: simulated days that it takes, which says whether worker processes are worth it.
        work: given an executor (or None) and whom to tell of steps done and in all, returns the
            answer as plain content.
        failed: the sentence for whatever goes wrong, with the gap ``{fault}``.
    """

    kind: str
    key: str
    site_id: int
    day: date
    total: int
    days: int
    work: Callable[[Executor | None, Callable[[int, int], None]], dict[str, Any]]
    failed: str


class Runner:
    """Computes in the background, each question once, and stores the answers.

    One thread a kind of job waits for the days that worker processes simulate; processes are
    started afresh (spawn), so that they share nothing with the pages.
    """

    def __init__(self, database: Database, workers: int, now: Callable[[], datetime]) -> None:
        self._database = database
        self._now = now
        self._workers = workers
        self.past = Past()
        self._threads: dict[str, ThreadPoolExecutor] = {}
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()
        self._progress: dict[str, Progress] = {}
        self._failures: dict[str, str] = {}
        self._is_closing = threading.Event()

    def begin(self, job: Job) -> Future[None] | None:
        """Begin a job; nothing if it is under way."""
        with self._lock:
            if job.key in self._progress or self._is_closing.is_set():
                return None
            self._progress[job.key] = Progress(0, job.total)
            self._failures.pop(job.key, None)
            thread = self._threads.get(job.kind)
            if thread is None:
                thread = ThreadPoolExecutor(1, thread_name_prefix=job.kind)
                self._threads[job.kind] = thread
        return thread.submit(self._work, job)

    def progress(self, key: str) -> Progress | None:
        """How far a question is; None when it is not being computed."""
        with self._lock:
            return self._progress.get(key)

    def failure(self, key: str) -> str:
        """What went wrong with a question, in a sentence; empty when nothing did."""
        with self._lock:
            return self._failures.get(key, "")

    def close(self) -> None:
        """Stop the workers; what is not finished is given up at its next step, and not stored."""
        self._is_closing.set()
        for thread in self._threads.values():
            thread.shutdown(wait=False, cancel_futures=True)
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _work(self, job: Job) -> None:
        def told(done: int, total: int) -> None:
            if self._is_closing.is_set():
                raise Stopped
            with self._lock:
                self._progress[job.key] = Progress(done, total)

        try:
            with self._database.session() as session:
                if store.find_result(session, job.key) is not None:
                    return  # a page drawn before the answer was stored asked once more
            payload = job.work(self._executor(job), told)
            with self._database.session() as session:
                gate = Gate(session, store.built_in_person(session), self._now())
                gate.store_result(job.key, job.site_id, job.day, payload)
        except Stopped:
            return
        except Exception as fault:
            # Whatever happens in a worker must reach the page as a sentence, not die in a thread.
            with self._lock:
                self._failures[job.key] = _(job.failed, fault=fault)
                pool, self._pool = self._pool, None
            if pool is not None:
                pool.shutdown(wait=False, cancel_futures=True)
        finally:
            with self._lock:
                self._progress.pop(job.key, None)

    def _executor(self, job: Job) -> Executor | None:
        if self._workers < 2 or not is_long(job.days):
            return None
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    self._workers, mp_context=multiprocessing.get_context("spawn")
                )
            return self._pool
