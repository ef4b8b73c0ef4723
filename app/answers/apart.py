"""Studies computed in a process of their own, so that pages are as quick as without them.

The server writes down what is asked; the other process has the same database, takes up what is
written down there, works ahead, and computes with the workers. How far it is stands in the
database. Between both goes only what hastens that: what was asked, seen, stopped or changed.
"""

from __future__ import annotations

import atexit
import threading
from collections.abc import Sequence
from concurrent.futures import Future
from contextlib import suppress
from datetime import date
from functools import partial
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from app.answers import kinds
from app.answers.ahead import Ahead, Wanted
from app.answers.early import Early
from app.answers.studies.runner import Runner
from app.answers.studies.workers import fork_workers, may_fork
from app.db.session import open_database
from app.db.store import SiteLine
from app.memory import few_arenas
from app.settings import Settings
from sim.day.kernel import warm

AGAIN_S = 5.0
"""So long after its end another process is begun in its place [s]."""
Following = tuple[int, str, date, str]
"""What is worked out ahead next: site, kind, day, reason."""


class Apart:
    """The computing process, as the server has it; begun anew where it was ended from outside.

    Attributes:
        following: what is worked out ahead next; None where everything is there.
        readable: sites of which something can be read on every page of today, as far as is known.
        process: the one that is there now; None before the first.

    Args:
        early: the first one, where it has begun to load already.
    """

    def __init__(self, settings: Settings, early: Early | None = None) -> None:
        self.following: Following | None = None
        self.readable: tuple[int, ...] = ()
        self.process: BaseProcess | None = None
        self._settings, self._early = settings, early
        self._is_loaded = False
        self._lock = threading.Lock()
        self._waiting: dict[str, list[Future[None]]] = {}
        self._pipe: Connection | None = None
        self._is_closed = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True, name="apart")

    def start(self) -> None:
        """Have it begin, unless it has."""
        if not self._thread.is_alive():
            atexit.register(self.close)  # before the interpreter waits for its children
            self._thread.start()

    def is_alive(self) -> bool:
        """Whether it is there."""
        process = self.process
        return process is not None and process.is_alive()

    def close(self) -> None:
        """Have it end, and wait until it has."""
        self._is_closed.set()
        with self._lock:
            pipe, self._pipe = self._pipe, None
            process = self.process
        if pipe is not None:
            with suppress(OSError):
                pipe.send(("end",))
        if process is not None and not self._is_loaded:
            process.kill()  # it has nothing to let go of, and would load to the end
        if self._thread.is_alive():
            self._thread.join()
        elif self._early is not None:
            self._early.end()
        atexit.unregister(self.close)

    # ---- what the runner of the server tells it, see `Elsewhere` ------------------------------

    def asked(self, key: str) -> Future[None]:
        """A study was written down; done when it has ended there."""
        future: Future[None] = Future()
        with self._lock:
            self._waiting.setdefault(key, []).append(future)
        self._tell("asked", key)
        return future

    def seen(self, keys: Sequence[str]) -> None:
        """Somebody looks at pages that wait for these."""
        if keys:
            self._tell("seen", *keys)

    def stop(self, key: str) -> None:
        """A study was ended; whoever computes it is to let go."""
        self._tell("stop", key)

    def look(self) -> None:
        """Take up what was left behind."""
        self._tell("look")

    def changed(self) -> None:
        """Somebody changed something."""
        self._tell("changed")

    # ---- parts -----------------------------------------------------------------------------------

    def _tell(self, *words: str) -> None:
        with self._lock, suppress(OSError):  # one that has ended finds all in the database
            if self._pipe is not None:
                self._pipe.send(words)

    def _run(self) -> None:
        while not self._is_closed.is_set():
            early, self._early = self._early or Early(), None
            ours, process = early.taken()
            with suppress(OSError):  # one that has ended is replaced
                ours.send(self._settings)
            with self._lock:
                self.process, self._is_loaded = process, False
                self._pipe = None if self._is_closed.is_set() else ours
                asked = tuple(self._waiting)
            for key in asked:  # of the process before
                self._tell("asked", key)
            if self._pipe is not None:
                self._listen(ours)
            ours.close()
            process.join()
            self._is_closed.wait(AGAIN_S)
        self._settle(tuple(self._waiting))

    def _listen(self, pipe: Connection) -> None:
        with suppress(EOFError, OSError):
            while True:
                said, told = pipe.recv()
                if said == "loaded":
                    self._is_loaded = True
                elif said == "ended":
                    self._settle((told,))
                else:
                    self.following, self.readable = told

    def _settle(self, keys: Sequence[str]) -> None:
        with self._lock:
            done = [one for key in keys for one in self._waiting.pop(key, [])]
        for future in done:
            future.set_result(None)


def compute(pipe: Connection) -> None:
    """In the process of its own, once it is told the settings: compute until the server ends or
    says so."""
    few_arenas()
    if may_fork():
        warm()  # the workers are copies, and have it with all else
    try:
        settings: Settings = pipe.recv()
        pipe.send(("loaded", None))
    except (EOFError, OSError):
        return  # the server is no more
    count = settings.workers_apart
    begun = fork_workers(count, pipe) if count > 1 else ()
    database = open_database(settings.database_path)
    runner = Runner(database, count, settings.now, settings.clock, begun)
    runner.is_apart = True
    runner.on_asked = partial(kinds.drop_stale, database, runner)
    ahead = Ahead(database, runner, settings.today_at, settings.ahead_s)
    lock = threading.Lock()

    def say(word: str, told: object) -> None:
        with lock, suppress(OSError):
            pipe.send((word, told))

    def follows(found: tuple[SiteLine, Wanted] | None, readable: tuple[int, ...]) -> None:
        one = None if found is None else (found[0].id, found[1].kind, found[1].day, found[1].reason)
        say("following", (one, readable))

    def take_up(key: str = "") -> None:
        kinds.take_up(database, runner)
        if not key:
            return
        future = runner.ended(key)
        if future is None:
            say("ended", key)
        else:
            future.add_done_callback(lambda _done: say("ended", key))

    ahead.on_found = follows
    runner.aside(take_up)
    ahead.start()
    try:
        while True:
            word, *keys = pipe.recv()
            if word == "end":
                break
            if word == "asked":
                runner.adopt(keys[0])
                runner.aside(partial(take_up, keys[0]))
            elif word == "seen":
                runner.seen(keys)
            elif word == "stop":
                runner.let_go(keys[0])
            elif word == "look":
                runner.aside(take_up)
                ahead.look()
            else:
                ahead.look()
    except (EOFError, ConnectionResetError):
        pass  # the server is no more
    finally:
        ahead.close()
        runner.close()
        database.close()
