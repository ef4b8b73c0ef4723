"""Jobs in the background: begun once, stored, given up when the program ends."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from datetime import UTC, date, datetime
from typing import Any

import pytest

from app.answers.studies.runner import Job, Progress, Runner
from app.db import store
from app.db.session import Database, open_database
from app.sites.changes import Gate
from sim.inputs import Site, SiteData
from tests.world import answer_under, failure, progress

NOW = datetime(2026, 7, 15, 12, tzinfo=UTC)
DAY = date(2026, 7, 18)
Told = Callable[[int, int], None]


@pytest.fixture
def database() -> Iterator[Database]:
    """A database with one site."""
    opened = open_database(None)
    with opened.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        gate.create_site(SiteData(Site("Mill Lane")), "one")
    yield opened
    opened.close()


def job(work: Callable[[Executor | None, Told], dict[str, Any]], key: str = "k") -> Job:
    """A job of four steps."""
    return Job("maps", key, 1, DAY, 4, 4, work, "It broke: {fault}")


def stored(database: Database, key: str = "k") -> dict[str, Any] | None:
    """The stored answer of a job."""
    with database.session() as session:
        return answer_under(session, key)


def test_a_job_tells_how_far_it_is_and_is_stored(database: Database) -> None:
    """Under way it is not begun again; its total is the one that it began with; done, its answer
    is stored."""
    runner = Runner(database, 1, lambda: NOW)
    halfway, go_on = threading.Event(), threading.Event()

    def work(executor: Executor | None, told: Told) -> dict[str, Any]:
        assert executor is None
        told(3, 7)
        halfway.set()
        assert go_on.wait(60)
        return {"answer": 42}

    future = runner.begin(job(work))
    assert future is not None
    assert halfway.wait(60)
    assert progress(runner, "k") == Progress(1, 4)
    assert runner.begin(job(work)) is None
    go_on.set()
    future.result(60)
    assert (progress(runner, "k"), failure(runner, "k")) == (None, "")
    assert stored(database) == {"answer": 42}
    runner.close()


def test_kinds_do_not_wait_for_one_another(database: Database) -> None:
    """A short job of another kind ends while a long one is still under way."""
    runner = Runner(database, 1, lambda: NOW)
    go_on = threading.Event()

    def long(executor: Executor | None, told: Told) -> dict[str, Any]:
        assert go_on.wait(60)
        return {"long": True}

    first = runner.begin(job(long, "long"))
    short = Job("plan", "short", 1, DAY, 1, 1, lambda _e, _t: {"short": True}, "{fault}")
    second = runner.begin(short)
    assert first is not None
    assert second is not None
    second.result(60)
    assert stored(database, "short") == {"short": True}
    assert stored(database, "long") is None
    go_on.set()
    first.result(60)
    runner.close()


def test_a_failed_job_ends_in_its_sentence(database: Database) -> None:
    """What goes wrong is said in the job's own words and stores nothing."""
    runner = Runner(database, 1, lambda: NOW)

    def broken(executor: Executor | None, told: Told) -> dict[str, Any]:
        raise MemoryError("no room left")

    future = runner.begin(job(broken))
    assert future is not None
    future.result(60)
    assert failure(runner, "k") == "It broke: no room left"
    assert stored(database) is None
    runner.close()


def test_closing_gives_a_job_up_at_its_next_step(database: Database) -> None:
    """After closing, the next step told ends the job without a failure and without an answer, and
    nothing more is begun."""
    runner = Runner(database, 1, lambda: NOW)
    started, closed = threading.Event(), threading.Event()
    reached: list[str] = []

    def work(executor: Executor | None, told: Told) -> dict[str, Any]:
        told(1, 4)
        started.set()
        assert closed.wait(60)
        told(2, 4)
        reached.append("the end")
        return {}

    future = runner.begin(job(work))
    assert future is not None
    assert started.wait(60)
    runner.close()
    closed.set()
    future.result(60)
    assert (reached, failure(runner, "k"), stored(database)) == ([], "", None)
    assert runner.begin(job(work, "later")) is None
