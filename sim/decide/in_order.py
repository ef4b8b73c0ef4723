"""Jobs for other processes, a few at a time, with their answers in the order of the jobs."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from typing import TypeVar

Job = TypeVar("Job")
Answer = TypeVar("Answer")

PENDING = 16
"""Jobs handed out at once: other work for the same processes waits for no more than these."""


def in_order(
    run: Callable[[Job], Answer], jobs: Iterable[Job], executor: Executor | None
) -> Iterator[Answer]:
    """Answers in the order of the jobs, never more than `PENDING` of them handed out.

    Whoever stops asking, or fails between two answers, takes back what has not begun.
    """
    if executor is None:
        yield from map(run, jobs)
        return
    waiting: deque[Future[Answer]] = deque()
    try:
        for job in jobs:
            if len(waiting) >= PENDING:
                yield waiting.popleft().result()
            waiting.append(executor.submit(run, job))
        while waiting:
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()
