"""Pieces of work spread over processes: in order, few handed out at a time, soon given up."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from typing import TypeVar

Piece = TypeVar("Piece")
Found = TypeVar("Found")

PENDING = 16
"""Pieces handed out at once: other work for the same processes waits for no more than these."""


def parallel_map(
    work: Callable[[Piece], Found],
    pieces: Iterable[Piece],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> Iterator[Found]:
    """What `work` makes of each piece, in the order of the pieces; no figure depends on who ran it.

    Whatever ends the work early, an exception of `told` included, takes back every piece that no
    process has begun; so a caller gives up by raising there, and no more than the pieces already
    handed out are computed in vain.

    Args:
        work: a function that other processes can import; pieces of a tenth of a second or less
            let go of the processors soon.
        executor: runs pieces side by side; None runs them here, one after another.
        told: told of each piece how many are done, before its result is given out.
    """
    done = 0
    if executor is None:
        for piece in pieces:
            found = work(piece)
            done += 1
            told(done)
            yield found
        return
    waiting: deque[Future[Found]] = deque()
    try:
        for result in _handed_out(work, pieces, executor, waiting):
            done += 1
            told(done)
            yield result
    finally:
        for future in waiting:
            future.cancel()


def _handed_out(
    work: Callable[[Piece], Found],
    pieces: Iterable[Piece],
    executor: Executor,
    waiting: deque[Future[Found]],
) -> Iterator[Found]:
    for piece in pieces:
        if len(waiting) >= PENDING:
            yield waiting.popleft().result()
        waiting.append(executor.submit(work, piece))
    while waiting:
        yield waiting.popleft().result()
