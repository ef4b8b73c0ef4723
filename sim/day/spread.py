"""Pieces of work spread over processes: in order, few handed out at a time, soon given up."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from typing import TypeVar

Piece = TypeVar("Piece")
Found = TypeVar("Found")

PENDING = 16
"""Pieces handed out at once: other work for the same processes waits for no more than these."""


def spread(
    work: Callable[[Piece], Found],
    pieces: Sequence[Piece],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> list[Found]:
    """What `work` makes of each piece, in the order of the pieces; no figure depends on who ran it.

    Whatever ends the work early, an exception of `told` included, takes back every piece that no
    process has begun; so a caller gives up by raising there, and no more than the pieces already
    handed out are computed in vain.

    Args:
        work: a function that other processes can import; pieces of a tenth of a second or less
            let go of the processors soon.
        executor: runs pieces side by side; None runs them here, one after another.
        told: told after each piece how many are done.
    """
    found: list[Found] = []

    def take(result: Found) -> None:
        found.append(result)
        told(len(found))

    if executor is None:
        for piece in pieces:
            take(work(piece))
        return found
    waiting: deque[Future[Found]] = deque()
    try:
        for piece in pieces:
            if len(waiting) >= PENDING:
                take(waiting.popleft().result())
            waiting.append(executor.submit(work, piece))
        while waiting:
            take(waiting.popleft().result())
    finally:
        for future in waiting:
            future.cancel()
    return found
