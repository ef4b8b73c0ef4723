"""Worker processes for studies: a pool that nothing blocks, and what is handed out."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
import traceback
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Executor, Future, InvalidStateError
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from multiprocessing.reduction import ForkingPickler
from pathlib import Path
from typing import ParamSpec, TypeVar, cast
from weakref import WeakSet

TRIES = 3
"""So many processes may die at a piece before it counts as what kills them."""
STUCK_S = 300.0
"""A process that is at one piece for longer is ended [s]: pieces take a tenth of a second, but the
first may have to wait until the day is compiled."""
UNWANTED_S = 5.0
"""The same for a piece that nobody waits for any more [s]."""
LOOK_S = 1.0
"""How often the watch looks at the processes [s]."""
NICE = 5
"""How far a process that computes stands back behind the one that begins it (POSIX nice), so that
the server which answers people comes first."""
TASKS = Path("/proc/self/task")
"""A folder for each thread of this process, those of libraries included (proc(5))."""
Begun = tuple[BaseProcess, Connection]
"""A process that computes, and our end of its pipe."""
Rank = tuple[bool, int]
"""Whose pieces come first: what a person waits for before what nobody asked for; of the former what
takes fewer simulated days, of the latter what was begun before."""


def in_order() -> Rank:
    """The rank of pieces that are somebody's and as short as any."""
    return False, 0


Given = ParamSpec("Given")
Made = TypeVar("Made")


@dataclass(eq=False, slots=True)
class _Piece:
    work: Callable[..., object]
    given: tuple[object, ...]
    named: dict[str, object]
    future: Future[object]
    rank: Callable[[], Rank]
    spend: Callable[[float], None]
    tries: int = 0


def may_fork() -> bool:
    """Whether a process may be begun as a copy of this one, with all that it has loaded: where no
    second thread can hold a lock at that moment. Elsewhere than on Linux system libraries may
    themselves hold what a copy can't use, so nothing is copied there."""
    return sys.platform == "linux" and len(list(TASKS.iterdir())) == 1


def fork_workers(count: int, *held: Connection) -> tuple[Begun, ...]:
    """Processes begun as copies of this one; none where it may not be copied.

    Args:
        held: pipes of this process that its copies must let go of.
    """
    begun: list[Begun] = []
    context = multiprocessing.get_context("fork")
    for _number in range(count if may_fork() else 0):
        ours, theirs = context.Pipe()
        others = (*held, *(pipe for _process, pipe in begun), ours)
        process = context.Process(target=_serve, args=(theirs, others), daemon=True)
        process.start()
        theirs.close()
        begun.append((process, ours))
    return tuple(begun)


class Pool(Executor):
    """Worker processes: those that have begun, else started afresh (spawn) so that they share
    nothing with the pages.

    Args:
        count: how many.
        clock: seconds that pass, whatever the wall clock does.
        begun: the first of them.

    Attributes:
        is_warm: they had begun, or a study has come to its end on them, so short work need not wait
            for their start.
    """

    def __init__(
        self,
        count: int,
        clock: Callable[[], float] = time.monotonic,
        begun: Sequence[Begun] = (),
    ) -> None:
        self.is_warm = len(begun) >= count
        self.clock = clock
        self._waiting: deque[_Piece] = deque()
        self._changed = threading.Condition()
        self._is_closed = False
        self._ended = threading.Event()
        self._places = [_Place(self, *begun[at : at + 1]) for at in range(count)]
        for place in self._places:
            place.thread.start()
        threading.Thread(target=self._watch, daemon=True, name="watch").start()

    def submit(
        self, fn: Callable[Given, Made], /, *args: Given.args, **kwargs: Given.kwargs
    ) -> Future[Made]:
        """Hand a piece out.

        Raises:
            RuntimeError: after the pool was shut down.
        """
        future: Future[Made] = Future()
        self.add(_Piece(fn, args, kwargs, cast("Future[object]", future), in_order, _uncounted))
        return future

    def add(self, piece: _Piece) -> None:
        """Hand a piece out with its rank; raises as `submit` does."""
        with self._changed:
            if self._is_closed:
                raise RuntimeError("the pool of processes is closed")
            self._waiting.append(piece)
            self._changed.notify()

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the processes when all is done that was handed out, or what each is at where the
        rest is cancelled."""
        with self._changed:
            self._is_closed = True
            dropped = list(self._waiting) if cancel_futures else []
            if cancel_futures:
                self._waiting.clear()
            self._changed.notify_all()
        for piece in dropped:
            piece.future.cancel()
        if wait:
            for place in self._places:
                place.thread.join()
            self._ended.set()

    def kill(self) -> None:
        """End everything at once; what is under way ends in `BrokenProcessPool`."""
        self.shutdown(wait=False, cancel_futures=True)
        for process in self.processes():
            process.kill()

    def processes(self) -> tuple[BaseProcess, ...]:
        """The processes that are there now."""
        found = [place.process for place in self._places]
        return tuple(one for one in found if one is not None)

    def look(self) -> None:
        """End processes that are at one piece for too long; the watch does so every second."""
        for place in self._places:
            place.look(self.clock())

    # ---- for its places --------------------------------------------------------------------------

    def next_piece(self) -> _Piece | None:
        """A piece to compute, as soon as there is one; None when there will be no more."""
        while True:
            with self._changed:
                while not self._waiting:
                    if self._is_closed:
                        return None
                    self._changed.wait()
                piece = min(self._waiting, key=lambda one: one.rank())
                self._waiting.remove(piece)
            if piece.tries:
                is_wanted = not piece.future.done()
            else:
                is_wanted = piece.future.set_running_or_notify_cancel()
            if is_wanted:
                return piece

    def bring_back(self, piece: _Piece) -> None:
        """What a process died at is computed anew, unless it is what processes die of."""
        piece.tries += 1
        with self._changed:
            is_over = self._is_closed or piece.tries >= TRIES or piece.future.done()
            if not is_over:
                self._waiting.appendleft(piece)
                self._changed.notify()
        if is_over:
            settle(piece.future, fault=BrokenProcessPool("a process was ended from outside"))

    def _watch(self) -> None:
        while not self._ended.wait(LOOK_S) and any(p.thread.is_alive() for p in self._places):
            self.look()


def _uncounted(_seconds: float) -> None:
    """Nobody counts what it took."""


def settle(
    future: Future[object], found: object = None, fault: BaseException | None = None
) -> None:
    """Set what came of a piece, unless somebody was first: a study that was stopped, say."""
    with suppress(InvalidStateError):
        if fault is None:
            future.set_result(found)
        else:
            future.set_exception(fault)


class _Place:
    """A place for one process at a time, and the thread that waits for it."""

    def __init__(self, pool: Pool, begun: Begun | None = None) -> None:
        self._pool = pool
        self.process: BaseProcess | None = None
        self._pipe: Connection | None = None
        if begun is not None:
            self.process, self._pipe = begun
        self._at: tuple[_Piece, float] | None = None
        self.thread = threading.Thread(target=self._run, daemon=True, name="worker")

    def look(self, now: float) -> None:
        """End the process if it is at its piece for too long."""
        at, process = self._at, self.process
        if at is None or process is None:
            return
        piece, since = at
        # Where the piece has just been done, the next one is computed anew, and nothing is lost.
        if now - since > (UNWANTED_S if piece.future.done() else STUCK_S):
            process.kill()

    def _run(self) -> None:
        while (piece := self._pool.next_piece()) is not None:
            self._at = piece, self._pool.clock()
            try:
                self._compute(piece)
            finally:
                self._at = None
        self._end()

    def _compute(self, piece: _Piece) -> None:
        try:
            asked = ForkingPickler.dumps((piece.work, piece.given, piece.named))
        except Exception as fault:  # the piece's own: what goes through a pipe must be picklable
            settle(piece.future, fault=fault)
            return
        try:
            pipe = self._pipe or self._start()
            pipe.send_bytes(asked)
            answer = pipe.recv_bytes()
        except Exception as fault:  # whatever it is, half a message may be left in the pipe
            self._end()
            if isinstance(fault, EOFError | OSError):  # its process is no more
                self._pool.bring_back(piece)
            else:
                settle(piece.future, fault=fault)
            return
        try:
            is_fine, found, spent_s = ForkingPickler.loads(answer)
        except Exception as fault:
            is_fine, found, spent_s = False, fault, 0.0
        piece.spend(spent_s)
        settle(piece.future, found, None if is_fine else found)

    def _start(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs,), daemon=True)
        process.start()
        theirs.close()
        self.process, self._pipe = process, ours
        return ours

    def _end(self) -> None:
        process, pipe = self.process, self._pipe
        self.process = self._pipe = None
        if pipe is not None:
            pipe.close()
        if process is not None:
            process.kill()
            process.join()


def _serve(pipe: Connection, others: Sequence[Connection] = ()) -> None:
    """In a worker: computes piece after piece until the server closes the pipe.

    Args:
        others: pipes that it has only because it is a copy; held open here, their ends would not be
            told there.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C ends the server, and it the workers
    for other in others:
        other.close()
    stand_back()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    while True:
        try:
            work, given, named = pipe.recv()
            began_s = time.process_time()
            found = True, work(*given, **named), time.process_time() - began_s
        except EOFError:
            return
        except Exception as fault:
            fault.add_note(traceback.format_exc())
            found = False, fault, 0.0
        try:
            pipe.send(found)
        except OSError:
            return
        except Exception as fault:  # it can't be pickled; nothing of it was sent
            pipe.send((False, RuntimeError(f"{type(fault).__name__}: {fault}"), 0.0))


def stand_back() -> None:
    """Have this process stand back behind the one that began it."""
    if os.name == "posix":
        os.nice(NICE)


def _end_with(parent: BaseProcess) -> None:
    """End with the server, even if that is killed and can tell nobody."""
    parent.join()
    os._exit(1)


class Hands(Executor):
    """The processes as one study uses them, which are taken away from it when it is stopped.

    Stopping reaches a study that waits: whatever it waits for ends in `CancelledError` at once,
    and so does what it hands out later.

    Args:
        rank: of its pieces at the moment.

    Attributes:
        spent_s: processor time that its pieces took so far [s].
    """

    def __init__(self, pool: Pool, rank: Callable[[], Rank] = in_order) -> None:
        self.pool, self.rank = pool, rank
        self.spent_s = 0.0
        self._out: WeakSet[Future[object]] = WeakSet()
        self._lock = threading.Lock()
        self._is_stopped = False

    def submit(
        self, fn: Callable[Given, Made], /, *args: Given.args, **kwargs: Given.kwargs
    ) -> Future[Made]:
        """Hand a piece out; raises CancelledError once the study is stopped."""
        with self._lock:
            if self._is_stopped:
                raise CancelledError
            future: Future[Made] = Future()
            held = cast("Future[object]", future)
            self.pool.add(_Piece(fn, args, kwargs, held, self.rank, self._spend))
            self._out.add(held)
        return future

    def _spend(self, seconds: float) -> None:
        with self._lock:
            self.spent_s += seconds

    def stop(self) -> None:
        """Take everything back that was handed out; a process may still end its piece."""
        with self._lock:
            self._is_stopped = True
            out = list(self._out)
        for future in out:
            if not future.cancel():
                settle(future, fault=CancelledError())


def is_warm(executor: Executor | None) -> bool:
    """Whether pieces that are handed out begin at once, or nobody waits for their beginning."""
    return isinstance(executor, Hands) and (executor.pool.is_warm or executor.rank()[0])


class Workers:
    """The pool of processes, started when first needed.

    Args:
        count: how many; below two there is no pool.
        begun: those that have begun, see `fork_workers`.
    """

    def __init__(self, count: int, begun: Sequence[Begun] = ()) -> None:
        self._count = count
        self._pool = Pool(count, begun=begun) if begun else None
        self._lock = threading.Lock()
        self._is_closed = False

    def hands(self, is_long: bool = True, rank: Callable[[], Rank] = in_order) -> Hands | None:
        """The processes for a study; None where there are none, or where short work would wait
        for their start.

        Args:
            rank: of its pieces among those of all studies.
        """
        with self._lock:
            if self._count < 2 or self._is_closed:
                return None
            if not is_long and not (self._pool and self._pool.is_warm):
                return None
            if self._pool is None:
                self._pool = Pool(self._count)
            return Hands(self._pool, rank)

    def close(self) -> None:
        """End the processes."""
        with self._lock:
            self._is_closed = True
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.kill()
