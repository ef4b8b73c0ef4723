"""The gate writes whole or not at all, whoever else writes and whatever breaks."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy.exc import SQLAlchemyError

from app.db import store, writes
from app.db.session import Session, open_database
from app.sites.changes import Gate, Outcome, Stale
from sim.inputs import (
    History,
    Site,
    SiteData,
)
from tests.world import DAY, NAME, NOW, ROOT, content, hours


def test_of_two_that_write_at_once_one_is_stale(tmp_path: Path) -> None:
    """Threads that read the same version and write together: one wins, the others are told."""
    database = open_database(tmp_path / "c.sqlite3")
    with database.session() as session:
        person = store.built_in_person(session)
        site_id = Gate(session, person, NOW).create_site(SiteData(Site(NAME)), "create").site_id

    def write(number: int) -> str:
        with database.session() as own:
            version = store.get_site(own, site_id).version  # a page was read before the write
            assert version >= 1
            try:
                Gate(own, person, NOW).set_inputs(
                    site_id,
                    {"load_mean_s": 20.0 + number},
                    expected_version=1,
                    request_key=f"{number}",
                )
            except Stale as stale:
                return stale.person
            return "won"

    with ThreadPoolExecutor(4) as pool:
        results = sorted(pool.map(write, range(4)))
    assert results == ["site manager"] * 3 + ["won"]
    with database.session() as session:
        assert store.get_site(session, site_id).version == 2
        assert len([c for c in store.input_history(session, site_id) if c.version == 2]) == 1


def test_one_request_in_two_threads_is_carried_out_once(tmp_path: Path) -> None:
    """A double click that reaches two threads changes once, and both get the same answer."""
    database = open_database(tmp_path / "c.sqlite3")
    with database.session() as session:
        person = store.built_in_person(session)
        site_id = Gate(session, person, NOW).create_site(SiteData(Site(NAME)), "create").site_id

    def write(_: int) -> Outcome:
        with database.session() as own:
            return Gate(own, person, NOW).set_inputs(
                site_id, {"load_mean_s": 20.0}, expected_version=1, request_key="click"
            )

    with ThreadPoolExecutor(4) as pool:
        outcomes = list(pool.map(write, range(4)))
    assert sorted(o.repeated for o in outcomes) == [False, True, True, True]
    assert {(o.version, o.changed) for o in outcomes} == {(2, ("load_mean_s",))}


@pytest.mark.parametrize(
    "step", ["raise_site_version", "set_inputs", "put_rows", "add_changes", "add_outcome"]
)
def test_a_fault_in_the_middle_leaves_nothing(
    session: Session, gate: Gate, site_id: int, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """Whichever step breaks, the database is as before, and the next write works."""
    before = content(session)
    data = SiteData(
        Site(NAME).with_values({"load_mean_s": 15.0}),
        history=History(counts=hours(DAY, [1, 2, 3])),
    )

    def after(real: Callable[..., object]) -> Callable[..., object]:
        def broken(*args: object, **more: object) -> object:
            real(*args, **more)
            raise SQLAlchemyError("the disk is full")

        return broken

    with monkeypatch.context() as patch:
        patch.setattr(writes, step, after(getattr(writes, step)))
        with pytest.raises(SQLAlchemyError, match="the disk is full"):
            gate.replace_site(site_id, data, 1, "a")
    assert content(session) == before
    assert gate.replace_site(site_id, data, 1, "a") == Outcome(
        site_id, 2, ("load_mean_s", "counts")
    )


KILLED = """
import os, signal, sys
from datetime import UTC, date, datetime
from pathlib import Path
from app.db import store, writes
from app.db.session import open_database
from app.sites.changes import Gate
from sim.inputs import History, HourCount

real = writes.add_outcome
def killed(*args):
    real(*args)
    os.kill(os.getpid(), signal.SIGKILL)
writes.add_outcome = killed
counts = tuple(HourCount(date(2026, 7, 1 + n // 24), n % 24, 0, n) for n in range(600))
with open_database(Path(sys.argv[1])).session() as session:
    gate = Gate(session, store.built_in_person(session), datetime(2026, 7, 18, tzinfo=UTC))
    gate.store_hours(1, History("arrived", counts), 1, "a")
"""


def test_a_program_killed_in_the_middle_leaves_nothing(tmp_path: Path) -> None:
    """A process killed just before it commits leaves the database as it was, and sound."""
    path = tmp_path / "c.sqlite3"
    database = open_database(path)
    with database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        assert gate.create_site(SiteData(Site(NAME)), "create").site_id == 1
        before = content(session)
    database.close()
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(path)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert ended.returncode == -signal.SIGKILL
    with open_database(path).session() as session:
        assert content(session) == before
        assert session.connection().exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        later = Gate(session, store.built_in_person(session), NOW)
        assert later.store_hours(1, History("arrived", hours(DAY, [5])), 1, "a").version == 2
