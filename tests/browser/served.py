"""The app served over a real socket for the browser: in a thread, from a data folder of its own."""

from __future__ import annotations

import datetime
import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI

from app.answers import (
    cloth,
    coming_plans,
    demo_start,
    planning,
    season,
    staff,
    switching,
    together,
)
from app.answers.serial import write
from app.answers.studies.runner import Runner
from app.cli.workspace import gate_for, open_stored
from app.main import create_app
from app.settings import read_settings
from tests.demo_app import small_coming, small_season, small_staff, small_switch, small_together

TODAY = datetime.date(2026, 7, 6)
"""The day that is taken for today: the Monday before the demo site's humid peak."""
FEW_DAYS = 32
"""Simulated days of the stored answer: guesses stay at their middle values."""
TOMORROW = datetime.date(2026, 7, 7)
DEMO = "/harbor-road"
PEAK = f"{DEMO}/plan/2026-07-11"
REDUCE = f"{DEMO}/reduce/2026-07-11"
SHEET = f"{DEMO}/sheet/2026-07-11"


@dataclass(frozen=True, slots=True)
class Served:
    """A running app: its address, and the app itself to look into its database."""

    url: str
    app: FastAPI


@contextmanager
def serve(data_dir: Path, today: datetime.date = TODAY) -> Iterator[Served]:
    """Serves the app on a free port while the block runs; plans are computed in a thread."""
    app = create_app(read_settings(data_dir=data_dir, today=today, workers=1))
    config = uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        # A request that comes before the server is up waits in the socket's queue.
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        try:
            yield Served(f"http://127.0.0.1:{listener.getsockname()[1]}", app)
        finally:
            server.should_exit = True
            thread.join()


class Untold:
    """Whom a job tells of its steps that nobody waits for."""

    def __call__(self, done: int, total: int) -> None:
        """Nothing is said."""

    def early(self, payload: dict[str, Any]) -> None:
        """Nothing is shown."""


def prepare_demo(
    data_dir: Path,
    replications: int = FEW_DAYS,
    today: datetime.date = TODAY,
) -> None:
    """Brings the demo site into a data folder with its peak day computed, as `make demo` does.

    When to reduce on that day and tomorrow is there as well, and so are that day's settings with
    their rule, who is needed, the coming days and a short season, all computed small.

    Args:
        replications: fewer make a coarser answer under the same key, for tests of pages.
    """
    settings = read_settings(data_dir=data_dir, today=today)
    database = open_stored(settings)
    with database.session() as session:
        gate = gate_for(session, settings)
        stored, view = demo_start.prepare(session, gate, today)
        assert view.question is not None
        assert view.expected is not None
        question = replace(view.question, replications=replications)
        found = planning.answer(question, view.day, view.expected.origin)
        gate.store_result(view.key, stored.id, view.day, found)
        for day in (view.day, TOMORROW):
            switch = switching.open_switch(session, stored, day)
            gate.store_result(switch.key, stored.id, day, json.loads(write(small_switch(switch))))
        parts = together.open_together(session, switching.open_switch(session, stored, view.day))
        gate.store_result(
            parts.key, stored.id, view.day, json.loads(write(small_together(parts.switch)))
        )
        people = staff.open_staff(session, stored, view.day)
        gate.store_result(people.key, stored.id, view.day, small_staff(people))
        runner = Runner(database, 1, settings.now)
        coming = coming_plans.open_coming(session, stored, TOMORROW, runner)
        gate.store_result(coming.key, stored.id, TOMORROW, json.loads(write(small_coming(coming))))
        sets = cloth.open_cloth(session, stored, settings.now(), today, runner)
        asked = cloth.cloth_job(session, stored, sets, runner)
        assert asked is not None
        gate.store_result(sets.key, stored.id, today, asked.work(None, Untold()))
        year = season.open_season(session, stored, today, runner)
        runner.close()
        gate.store_result(year.key, stored.id, today, json.loads(write(small_season(year))))
    database.close()
