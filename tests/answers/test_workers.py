"""Worker processes: when work goes to them, and what becomes of it when they die or stand still."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import CancelledError, Executor, Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from app.answers.studies.workers import STUCK_S, UNWANTED_S, Hands, Pool, Workers, is_warm
from tests.answers import study_pieces


class Seconds:
    """Seconds that pass when told to."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        """The seconds so far."""
        return self.now


@pytest.fixture
def seconds() -> Seconds:
    """A clock of the test's own."""
    return Seconds()


@pytest.fixture
def pool(seconds: Seconds) -> Iterator[Pool]:
    """One process."""
    made = Pool(1, seconds)
    yield made
    made.kill()


def standing_still(pool: Executor, folder: Path) -> Future[int]:
    """A piece whose process has said that it is there and now stands still."""
    says = folder / "says"
    os.mkfifo(says)
    future = pool.submit(study_pieces.stop_itself, (str(folder), 7))
    assert says.read_text("ascii") == "here"
    return future


def test_short_work_goes_to_processes_that_are_up_and_never_starts_them() -> None:
    """Short work gets no pool until a study has come to its end on one; long work starts it."""
    workers = Workers(2)
    try:
        assert workers.hands(is_long=False) is None
        hands = workers.hands()
        assert hands is not None
        assert not is_warm(hands)
        assert workers.hands(is_long=False) is None
        hands.pool.is_warm = True
        again = workers.hands(is_long=False)
        assert again is not None
        assert again.pool is hands.pool
        assert is_warm(again)
    finally:
        workers.close()
    assert workers.hands() is None


def test_one_worker_is_the_server_itself() -> None:
    """With fewer than two there is no pool, however long the work is."""
    assert Workers(1).hands() is None
    assert not is_warm(None)


def test_a_process_that_stands_still_is_ended(pool: Pool, seconds: Seconds, tmp_path: Path) -> None:
    """After the limit, and not before, its piece is computed by another one."""
    future = standing_still(pool, tmp_path)
    (first,) = pool.processes()
    seconds.now += STUCK_S
    pool.look()
    assert pool.processes() == (first,)
    seconds.now += 1.0
    pool.look()
    assert future.result(60) == 7
    assert pool.processes() != (first,)


def test_what_nobody_waits_for_is_ended_sooner(
    pool: Pool, seconds: Seconds, tmp_path: Path
) -> None:
    """Taken back, a piece ends at once for whoever waited, and its process soon after."""
    hands = Hands(pool)
    future = standing_still(hands, tmp_path)
    later = hands.submit(study_pieces.leave_trace, (str(tmp_path), 8))
    hands.stop()
    for taken_back in (future, later):
        with pytest.raises(CancelledError):
            taken_back.result(60)
    with pytest.raises(CancelledError):
        hands.submit(study_pieces.leave_trace, (str(tmp_path), 9))
    seconds.now += UNWANTED_S + 1.0
    pool.look()
    assert pool.submit(study_pieces.leave_trace, (str(tmp_path), 10)).result(60) == 10
    assert not (tmp_path / "8").exists()


def test_faults_of_a_piece_are_its_own(pool: Pool, tmp_path: Path) -> None:
    """What a piece raises, and what can't be sent, reaches who asked; the process goes on."""
    one = (str(tmp_path), 3)
    with pytest.raises(ValueError, match="piece 3"):
        pool.submit(study_pieces.refuse, one).result(60)
    (first,) = pool.processes()
    with pytest.raises(RuntimeError, match="pickle"):
        pool.submit(study_pieces.unfit, one).result(60)
    with pytest.raises(AttributeError, match="pickle"):
        pool.submit(lambda: one).result(60)
    assert pool.submit(study_pieces.leave_trace, one).result(60) == 3
    assert pool.processes() == (first,)


def test_what_kills_every_process_is_given_up(pool: Pool, tmp_path: Path) -> None:
    """A piece at which three processes died is not tried by a fourth."""
    with pytest.raises(BrokenProcessPool):
        pool.submit(study_pieces.die_always, (str(tmp_path), 2)).result(120)
    assert pool.submit(study_pieces.leave_trace, (str(tmp_path), 1)).result(60) == 1


def test_closing_in_good_order_ends_what_waits(pool: Pool, tmp_path: Path) -> None:
    """Pieces handed out before are computed, none is taken after, and no process is left."""
    futures = [pool.submit(study_pieces.leave_trace, (str(tmp_path), n)) for n in range(5)]
    pool.shutdown()
    assert [future.result(0) for future in futures] == [0, 1, 2, 3, 4]
    assert pool.processes() == ()
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit(study_pieces.leave_trace, (str(tmp_path), 6))
