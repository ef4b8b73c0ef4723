"""Nothing acknowledged is lost: not where a process is killed, not where the power goes."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy.pool import ConnectionPoolEntry

from app.db import session as session_module
from app.db import store
from app.db.chain import verify
from app.db.session import open_database
from app.sites.changes import Gate
from sim.inputs import LogEntry, Site, SiteData
from sim.inputs.logbook import NOTE
from tests.db.killable import PEOPLE, STUDIES
from tests.db.power import Recorded, recording
from tests.seeds import generator
from tests.sizes import Size
from tests.world import DAY, NAME, NOW, ROOT

MOST_ACKNOWLEDGED, LONGEST_SPIN = 6, 60_000
"""A run ends after so many acknowledged writes at most, and after so many turns of an empty loop,
which reach from one write well into the next but one."""
FRESH = 50
"""Runs on one database, which grows, before a new one is begun."""


@pytest.fixture
def killable() -> Iterator[subprocess.Popen[str]]:
    """The process that forks what is killed."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.db.killable"],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
    ) as process:  # fmt: skip
        yield process
        assert process.stdin is not None
        process.stdin.close()


def a_database(path: Path) -> None:
    """A database with one site, made by a process of its own opening."""
    database = open_database(path)
    with database.session() as session:
        Gate(session, store.built_in_person(session), NOW).create_site(SiteData(Site(NAME)), "new")
    database.close()


def killed_run(
    process: subprocess.Popen[str], path: Path, run: int, kind: str, after: int, spin: int
) -> list[list[str]]:
    """Let a child write, kill it after so many acknowledged writes and turns of an empty loop, and
    return all that it had acknowledged by then."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(f"{path} {run} {kind}\n")
    process.stdin.flush()
    _begun, child = process.stdout.readline().split()
    told = [process.stdout.readline().rstrip("\n").split(" ", 2) for _ in range(after)]
    for _ in range(spin):
        pass
    os.kill(int(child), signal.SIGKILL)
    while (line := process.stdout.readline().rstrip("\n")) != "ended":
        told.append(line.split(" ", 2))
    return told


def lost(path: Path, told: list[list[str]]) -> tuple[list[str], list[str]]:
    """Of what was acknowledged, keys that are not there as they were told last; and what following
    the history, the file and its tables finds wrong. The database is opened as a server does."""
    last = {key: (what, said) for what, key, said in told}
    database = open_database(path)
    try:
        with database.session() as session:
            entries = {entry.key: entry.text for entry in store.load_log(session, 1, DAY, DAY)}
            answers = store.find_results(session, list(last))
            gone = [
                key
                for key, (what, said) in last.items()
                if not (
                    # a correction may be there before it was acknowledged
                    entries.get(key, "").startswith(said) if what == "entry"
                    else key in answers and answers[key].text == said
                )
            ]  # fmt: skip
            return gone, [str(one) for one in verify(session).breaks]
    finally:
        database.close()


@pytest.mark.soak
def test_nothing_acknowledged_is_lost_when_a_process_is_killed(
    tmp_path: Path,
    killable: subprocess.Popen[str],
    size: Size,
    record_figure: Callable[[str, float, str], None],
) -> None:
    """Killed at drawn moments, half of the processes writing entries and half running studies: each
    write that was acknowledged outside of the process is there, the file and the chain of the
    history are whole, and the next process goes on with the same file."""
    rng, runs, acknowledged = generator("killed"), size(small=100, full=10_000), 0
    path = tmp_path / "0.sqlite3"
    for run in range(runs):
        if run % FRESH == 0:
            path = tmp_path / f"{run}.sqlite3"
            a_database(path)
        told = killed_run(
            killable, path, run, (PEOPLE, STUDIES)[run % 2],
            int(rng.integers(0, MOST_ACKNOWLEDGED)), int(rng.integers(0, LONGEST_SPIN)),
        )  # fmt: skip
        acknowledged += len(told)
        assert lost(path, told) == ([], [])
    assert acknowledged >= 2 * runs
    record_figure("acknowledged writes", acknowledged, "in all")


def test_a_write_that_is_not_there_is_found(tmp_path: Path) -> None:
    """The check itself: one acknowledged entry, or answer, that was never written is named."""
    path = tmp_path / "c.sqlite3"
    a_database(path)
    told = [["entry", "never-1", "text"], ["answer", "never-2", "text"]]
    assert lost(path, told) == (["never-1", "never-2"], [])


# ---- the power goes ------------------------------------------------------------------------------

ENTRIES = 300
"""Enough to fill the journal once, so that pages go into the database itself as well."""


def written_down(folder: Path) -> tuple[dict[str, bytes], Recorded]:
    """Files as they were at first, and all that was done while entries were stored."""
    path = folder / "c.sqlite3"
    a_database(path)
    first = {one.name: one.read_bytes() for one in folder.iterdir()}
    with recording(folder) as recorded:
        database = open_database(path)
        for number in range(ENTRIES):
            with database.session() as session:
                gate = Gate(session, store.built_in_person(session), NOW)
                entry = LogEntry(f"power-{number:05d}", DAY, 60.0, NOTE, text=f"entry {number}")
                gate.enter(1, [entry], f"request {number}")
            recorded.say(f"entry {entry.key} {entry.text}")
        database.close()
    return first, recorded


def after_the_power_went(
    folder: Path, first: dict[str, bytes], recorded: Recorded, rng: np.random.Generator
) -> tuple[list[str], list[str]]:
    """What is lost, or wrong, where the power goes at a drawn moment."""
    until = int(rng.integers(1, len(recorded.acts)))
    folder.mkdir()
    for name, data in recorded.files(first, until, rng).items():
        (folder / name).write_bytes(data)
    told = [line.split(" ", 2) for line in recorded.said(until)]
    return lost(folder / "c.sqlite3", told)


def test_nothing_acknowledged_is_lost_when_the_power_goes(tmp_path: Path) -> None:
    """200 cuts of power at drawn moments, each losing drawn sectors of whatever was not flushed to
    the disk: every entry that was acknowledged is there, file and history are whole."""
    (tmp_path / "first").mkdir()
    first, recorded = written_down(tmp_path / "first")
    assert {act.file for act in recorded.acts if act.what == "write"} == {
        "c.sqlite3", "c.sqlite3-wal",
    }  # fmt: skip
    rng = generator("power")
    for cut in range(200):
        found = after_the_power_went(tmp_path / str(cut), first, recorded, rng)
        assert found == ([], []), cut


def test_a_database_that_does_not_flush_loses_entries(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check itself: where a commit does not wait for the disk, acknowledged entries are lost in
    some of 40 cuts."""
    usual = session_module._on_connect

    def careless(connection: sqlite3.Connection, entry: ConnectionPoolEntry) -> None:
        usual(connection, entry)
        connection.execute("PRAGMA synchronous = NORMAL")

    (tmp_path / "first").mkdir()
    with monkeypatch.context() as patched:
        patched.setattr(session_module, "_on_connect", careless)
        first, recorded = written_down(tmp_path / "first")
    rng, gone = generator("power, not flushed"), 0
    for cut in range(40):
        gone += bool(after_the_power_went(tmp_path / str(cut), first, recorded, rng)[0])
    assert gone >= 5
