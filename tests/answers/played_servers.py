"""Servers that share studies, played by runners on one database, and work that is told to wait."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Executor
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from app.answers.studies.runner import Job, Report, Runner
from app.db import store, studies
from app.db.session import Database, open_database
from app.db.studies import StoredStudy
from app.sites.changes import Gate
from sim.inputs import Site, SiteData
from tests.world import answer_under

DAY = date(2026, 7, 18)
FAILED = "It broke: {fault}"
MANY_DAYS = 10_000
"""So many simulated days are worth worker processes."""
Work = Callable[[Executor | None, Report], dict[str, Any]]


class Clock:
    """A clock that goes on when it is told to."""

    def __init__(self) -> None:
        self.now = datetime(2026, 7, 15, 12, tzinfo=UTC)

    def __call__(self) -> datetime:
        """The moment."""
        return self.now

    def on(self, by: timedelta) -> None:
        """Let time pass."""
        self.now += by


class Servers:
    """Server processes, played by runners, that share one database file and one clock."""

    def __init__(self, path: Path) -> None:
        self.clock = Clock()
        self.database: Database = open_database(path)
        with self.database.session() as session:
            gate = Gate(session, store.built_in_person(session), self.clock())
            gate.create_site(SiteData(Site("Mill Lane")), "one")
        self.runners: list[Runner] = []

    def runner(self, workers: int = 1) -> Runner:
        """Another server."""
        made = Runner(self.database, workers, self.clock)
        self.runners.append(made)
        return made

    def study(self, key: str = "k") -> StoredStudy:
        """What is written down of a study."""
        with self.database.session() as session:
            return studies.get_study(session, key)

    def result(self, key: str = "k") -> tuple[dict[str, Any] | None, bool]:
        """The stored answer, and whether it is the last one."""
        with self.database.session() as session:
            return answer_under(session, key), store.is_final(session, key)


def job(work: Work, key: str = "k", days: int = 1) -> Job:
    """A job of four steps."""
    return Job("maps", key, 1, DAY, 4, days, work, FAILED)


def begun(runner: Runner, asked: Job) -> Any:
    """The future of a job that must have been begun."""
    future = runner.begin(asked)
    assert future is not None
    return future


class Gated:
    """Work that tells its first step and then waits until it may go on."""

    def __init__(self, answer: int = 42) -> None:
        self.answer = answer
        self.halfway, self.go_on = threading.Event(), threading.Event()
        self.times = 0
        self.steps: list[int] = []

    def __call__(self, executor: Executor | None, report: Report) -> dict[str, Any]:
        """The work."""
        self.times += 1
        for step in range(1, 5):
            report(step, 4)
            self.steps.append(step)
            if step == 1:
                self.halfway.set()
                assert self.go_on.wait(60)
        return {"answer": self.answer}
