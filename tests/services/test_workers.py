"""Worker processes: when work goes to them."""

from __future__ import annotations

from app.services.workers import Pool, Workers, is_warm


def test_short_work_goes_to_processes_that_are_up_and_never_starts_them() -> None:
    """Short work gets no pool until a study has come to its end on one; long work starts it."""
    workers = Workers(2)
    try:
        assert workers.executor(is_long=False) is None
        pool = workers.executor()
        assert isinstance(pool, Pool)
        assert not is_warm(pool)
        assert workers.executor(is_long=False) is None
        pool.is_warm = True
        assert workers.executor(is_long=False) is pool
        workers.drop(pool)
        assert workers.executor(is_long=False) is None
    finally:
        workers.close()
    assert workers.executor() is None


def test_one_worker_is_the_server_itself() -> None:
    """With fewer than two there is no pool, however long the work is."""
    assert Workers(1).executor() is None
    assert not is_warm(None)
