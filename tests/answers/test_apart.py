"""Studies computed in a process of their own: asked, stopped, and taken up after its death."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future
from datetime import date, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers import apart as computing
from app.answers.answer import Answer, Desk
from app.answers.apart import Apart
from app.answers.kinds import KINDS
from app.db import studies
from app.main import create_app
from app.pages.deps import Web
from app.settings import Settings
from app.sites.reading import find, gate
from tests.demo_app import HERE, OWN_PAGE
from tests.pages.pages import asks_again
from tests.small_wash import PLANNED, TODAY, small_wash

LONG_S = 300


class Server:
    """A server whose studies are computed apart, with the small wash; nothing is begun ahead."""

    def __init__(self, client: TestClient, web: Web) -> None:
        self.client, self.web = client, web

    @property
    def apart(self) -> Apart:
        """The computing process."""
        assert self.web.apart is not None
        return self.web.apart

    def state(self, key: str) -> str:
        """What has become of a study."""
        with self.web.database.session() as session:
            return studies.get_study(session, key).state

    def open(self, kind: str, day: date = PLANNED) -> Answer[object, object]:
        """A day's answer as a page finds it."""
        with self.web.database.session() as session:
            desk = Desk(session, find(session, "small-wash"), self.web.runner)
            return desk.open(KINDS[kind], day)

    def begin(self, kind: str, day: date = PLANNED) -> Future[None]:
        """A day's study, begun as a page begins it."""
        future = self.open(kind, day).begin(self.web.runner)
        assert future is not None
        return future


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all, whose other process takes seconds to come up."""
    folder: Path = tmp_path_factory.mktemp("apart")
    settings = Settings(data_dir=folder, today=TODAY, workers=1, ahead_s=0.0)
    app = create_app(settings, Apart(settings))
    web: Web = app.state.web
    with gate(web.database, settings.now()) as opened:
        opened.create_site(small_wash(), "site")
    with TestClient(app, base_url="http://localhost", headers=OWN_PAGE, client=HERE) as client:
        yield Server(client, web)


def test_the_other_process_computes_and_the_page_shows_it(server: Server) -> None:
    """What a page begins is computed apart: nothing has a turn in the server, the page says how
    far it is, and when it has ended its answer is there; asked again nothing is begun."""
    future = server.begin("plan")
    waiting = server.open("plan")
    assert waiting.running is not None or waiting.result is not None
    assert not server.web.runner.has(waiting.key)
    future.result(LONG_S)
    there = server.open("plan")
    assert there.is_final
    assert server.state(there.key) == "done"
    assert there.begin(server.web.runner) is None
    page = server.client.get(f"/small-wash/plan/{PLANNED}")
    assert not asks_again(page)


def test_what_a_page_stops_ends_there(server: Server) -> None:
    """Stopped by a page, a study lets go and stores no answer."""
    future = server.begin("maps")
    key = server.open("maps").key
    server.web.runner.cancel(key)
    future.result(LONG_S)
    assert server.state(key) == "cancelled"
    assert server.open("maps").result is None


def test_a_dead_process_is_replaced_and_what_it_had_is_computed(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed, another one takes up what was asked, and whoever waits is answered."""
    monkeypatch.setattr(computing, "AGAIN_S", 0.0)
    day = PLANNED + timedelta(days=1)
    before = server.apart.process
    assert before is not None
    future = server.begin("plan", day)
    before.kill()
    future.result(LONG_S)
    assert server.open("plan", day).is_final
    assert server.apart.process is not before
