"""A real server process killed amid a study: nothing lost, nothing half, and gone on with."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2

from app.answers.serial import write
from app.db import store, studies
from app.db.session import Database, open_database
from app.db.studies import StoredStudy
from app.settings import DATABASE_NAME
from app.sites.changes import Gate
from tests.demo_app import OWN_PAGE
from tests.small_wash import PLANNED, small_wash
from tests.world import NOW, ROOT, answer_under

LIST = "/small-wash/studies.json"


@contextmanager
def server(folder: Path) -> Iterator[tuple[subprocess.Popen[str], httpx2.Client]]:
    """A server process, and a client of it; killed in the end if it is not yet."""
    command = [sys.executable, "-m", "tests.answers.study_server", str(folder)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            port = process.stdout.readline().strip()
            with httpx2.Client(
                base_url=f"http://127.0.0.1:{port}", timeout=60, headers=OWN_PAGE
            ) as client:
                yield process, client
        finally:
            process.kill()


def listed(client: httpx2.Client) -> list[dict[str, Any]]:
    """The list of studies."""
    found: list[dict[str, Any]] = client.get(LIST).json()["studies"]
    return found


def until_steps_are_written(process: subprocess.Popen[str]) -> None:
    """Waits for the server's line that says how far a study is."""
    assert process.stdout is not None
    assert " done" in process.stdout.readline()


def workers_of(process: subprocess.Popen[str]) -> list[int]:
    """Handles of the processes that a server has started."""
    children = Path(f"/proc/{process.pid}/task").glob("*/children")
    pids = [int(pid) for file in children for pid in file.read_text().split()]
    return [os.pidfd_open(pid) for pid in pids]


def written(database: Database, key: str) -> tuple[StoredStudy, dict[str, Any] | None]:
    """A study and its answer, as they lie in the database."""
    with database.session() as session:
        return studies.get_study(session, key), answer_under(session, key)


def test_a_killed_server_loses_nothing_and_is_gone_on_with(tmp_path: Path) -> None:
    """Killed amid the maps of a day, a server leaves what was stored, no half answer and no
    worker behind; the next one takes the same study up when it starts, whatever the clock says."""
    path = tmp_path / DATABASE_NAME
    database = open_database(path)
    with database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        site_id = gate.create_site(small_wash(), "site").site_id
        gate.store_result("before", site_id, PLANNED, write({"answer": "kept"}))
    with server(tmp_path) as (process, client):
        assert client.get(f"/small-wash/settings/{PLANNED.isoformat()}").status_code == 200
        until_steps_are_written(process)
        (asked,) = listed(client)
        handles = workers_of(process)
        assert handles
        process.send_signal(signal.SIGKILL)
        process.wait(60)
    left = select.poll()
    for handle in handles:
        left.register(handle, select.POLLIN)
    gone: set[int] = set()
    while len(gone) < len(handles):
        ended = left.poll(60_000)
        assert ended, "a worker outlives the server"
        for handle, _event in ended:
            gone.add(handle)
            left.unregister(handle)
            os.close(handle)

    study, answer = written(database, asked["key"])
    assert (study.state, answer) == ("running", None)
    with database.session() as session:
        assert answer_under(session, "before") == {"answer": "kept"}

    with server(tmp_path) as (process, client):
        until_steps_are_written(process)
        (again,) = listed(client)
        taken, answer = written(database, asked["key"])
        assert (again["key"], taken.state, answer) == (asked["key"], "running", None)
        assert taken.holder not in ("", study.holder)
        # Ended in good order it hands the study on, for the next server to have at once.
        process.send_signal(signal.SIGTERM)
        process.wait(60)
    handed_on, answer = written(database, asked["key"])
    assert (handed_on.state, handed_on.holder, answer) == ("waiting", "", None)
    database.close()
