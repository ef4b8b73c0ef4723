"""The app served over a real socket for the browser: in a thread, from a data folder of its own."""

from __future__ import annotations

import datetime
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from app.answers.answer import Asked, Desk, Found, Kind
from app.answers.beliefs import BELIEF
from app.answers.cloth import CLOTH
from app.answers.coming_plans import COMING
from app.answers.demo import bring_demo
from app.answers.drift import DRIFT
from app.answers.next_measurement import NEXT
from app.answers.planning import PLAN
from app.answers.scored import SCORE
from app.answers.season import SEASON
from app.answers.serial import write
from app.answers.settings_map import MAPS
from app.answers.staff import STAFF
from app.answers.switching import SWITCH, TOGETHER
from app.cli.workspace import gate_for, open_stored
from app.main import create_app
from app.settings import read_settings
from tests.demo_app import (
    belief_once,
    small_coming,
    small_comparison,
    small_drift,
    small_maps,
    small_next,
    small_score,
    small_season,
    small_staff,
    small_switch,
    small_together,
    whole_cloth,
)

TODAY = datetime.date(2026, 7, 13)
"""The day that is taken for today: the Monday before the demo site's humid peak."""
FEW_DAYS = 32
"""Simulated days of the stored answer: guesses stay at their middle values."""
TOMORROW = datetime.date(2026, 7, 14)
DEMO = "/harbor-road"
PEAK = f"{DEMO}/plan/2026-07-18"
REDUCE = f"{DEMO}/reduce/2026-07-18"
SHEET = f"{DEMO}/sheet/2026-07-18"


@dataclass(frozen=True, slots=True)
class Served:
    """A running app: its address, and the app itself to look into its database."""

    url: str
    app: FastAPI


@contextmanager
def serve(data_dir: Path, today: datetime.date = TODAY) -> Iterator[Served]:
    """Serves the app on a free port while the block runs; plans are computed in a thread."""
    with serve_app(create_app(read_settings(data_dir=data_dir, today=today, workers=1))) as served:
        yield served


@contextmanager
def serve_app(app: FastAPI, name: str = "127.0.0.1") -> Iterator[Served]:
    """Serves an app on a free port of this machine, under a name of it."""
    config = uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        # A request that comes before the server is up waits in the socket's queue.
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        try:
            yield Served(f"http://{name}:{listener.getsockname()[1]}", app)
        finally:
            server.should_exit = True
            thread.join()


def prepare_demo(
    data_dir: Path,
    replications: int = FEW_DAYS,
    today: datetime.date = TODAY,
) -> None:
    """Brings the demo site into a data folder with its peak day computed, as `make demo` does.

    When to reduce on that day and tomorrow is there as well, and so are that day's settings with
    their rule, its maps, who is needed, the coming days, a short season and what is
    learnt, all computed small.

    Args:
        replications: fewer make a coarser answer under the same key, for tests of pages.
    """
    settings = read_settings(data_dir=data_dir, today=today)
    database = open_stored(settings)
    with database.session() as session:
        gate = gate_for(session, settings)
        stored, view = bring_demo(gate)
        peak = view.day

        def keep(
            kind: Kind[Asked, Found], day: datetime.date, small: Callable[[Asked], Found]
        ) -> None:
            answer = Desk(session, stored).open(kind, day)
            gate.store_result(answer.key, stored.id, day, write(small(answer.asked)))

        keep(BELIEF, max(item.day for item in stored.data.weighings), belief_once)
        keep(PLAN, peak, lambda asked: small_comparison(asked, replications))
        tomorrow = today + datetime.timedelta(days=1)
        for day in (peak, tomorrow):
            keep(SWITCH, day, small_switch)
        keep(TOGETHER, peak, small_together)
        keep(MAPS, peak, small_maps)
        keep(STAFF, peak, small_staff)
        keep(COMING, tomorrow, small_coming)
        keep(CLOTH, today, whole_cloth)
        keep(SEASON, today, small_season)
        keep(DRIFT, today, small_drift)
        keep(NEXT, today, small_next)
        keep(SCORE, today, small_score)
    database.close()
