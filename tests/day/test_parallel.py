"""Pieces over processes: their order, how few are handed out, and what giving up takes back."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any

import pytest

from sim.day.engine import PENDING, parallel_map


class ByHand(Executor):
    """Keeps what is handed out and computes a piece only when its result is waited for."""

    def __init__(self) -> None:
        self.handed: list[Future[Any]] = []
        self.computed: list[int] = []
        self.most_open = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """A future that does its work when asked for its result."""
        future = _Lazy(self, fn, args[0])
        self.handed.append(future)
        self.most_open = max(self.most_open, len(self.handed) - len(self.computed))
        return future


class _Lazy(Future[Any]):
    def __init__(self, owner: ByHand, work: Callable[[int], Any], piece: int) -> None:
        super().__init__()
        self._owner, self._work, self._piece = owner, work, piece

    def result(self, timeout: float | None = None) -> Any:
        self._owner.computed.append(self._piece)
        return self._work(self._piece)


def square(number: int) -> int:
    """Some work."""
    return number * number


@pytest.mark.parametrize("executor", [None, ByHand()])
def test_results_keep_the_order_of_the_pieces(executor: Executor | None) -> None:
    """With and without an executor the results are the same, and each is told of."""
    told: list[int] = []
    found = list(parallel_map(square, range(100), executor, told.append))
    assert found == [n * n for n in range(100)]
    assert told == list(range(1, 101))


def test_few_pieces_are_handed_out_at_once() -> None:
    """However many there are, never more than `PENDING` wait at the executor."""
    executor = ByHand()
    list(parallel_map(square, range(10 * PENDING), executor))
    assert executor.most_open == PENDING


def test_giving_up_takes_back_what_nobody_began() -> None:
    """Raising at a step ends the work: what was handed out is cancelled, the rest never is."""
    executor = ByHand()

    def told(done: int) -> None:
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(parallel_map(square, range(1_000), executor, told))
    assert executor.computed == [0, 1, 2, 3, 4]
    assert len(executor.handed) == PENDING + 4
    assert all(future.cancelled() for future in executor.handed[5:])


def test_without_an_executor_giving_up_ends_at_once() -> None:
    """In this process nothing is computed after the step at which it was given up."""
    done: list[int] = []

    def told(count: int) -> None:
        if count == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(parallel_map(done.append, range(1_000), None, told))
    assert done == [0, 1, 2]
