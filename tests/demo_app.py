"""The app with the demo site in a database of its own, for tests and bench."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.main import create_app
from app.services.demo import demo_data
from app.services.reading import gate
from app.settings import read_settings

TODAY = datetime.date(2026, 7, 15)
"""The day that tests take for today: a Wednesday in the demo site's peak season."""
ADDRESS = "http://localhost"


def make_demo_app(data_dir: Path, today: datetime.date = TODAY) -> FastAPI:
    """An app whose database in `data_dir` holds the demo site, laid out around `today`."""
    app = create_app(read_settings(data_dir=data_dir, today=today))
    web = app.state.web
    with gate(web.database, web.now()) as opened:
        opened.create_site(demo_data(today), "demo")
    return app


@contextmanager
def demo_client(data_dir: Path, today: datetime.date = TODAY) -> Iterator[TestClient]:
    """A browser without script on that app, which is started and stopped with it."""
    app = make_demo_app(data_dir, today)
    with TestClient(app, base_url=ADDRESS) as client:
        yield client
    app.state.web.database.close()
