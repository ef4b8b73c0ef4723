"""A browser without script at the invented site, whose day has or has not been decided."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk, Kind
from app.answers.serial import write
from app.answers.studies.runner import Job, Progress
from app.answers.switching import SWITCH
from app.main import create_app
from app.settings import Settings
from app.sites.reading import gate
from sim.decide.switching.answer import WhenToReduce
from tests.demo_app import HERE, OWN_PAGE, app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK
from tests.pages.pages import page_of

SLUG = "invented-lane"
PAGE = f"/{SLUG}/reduce/{PEAK.isoformat()}"
SHEET = f"/{SLUG}/sheet/{PEAK.isoformat()}"
PLAN = f"/{SLUG}/plan/{PEAK.isoformat()}"


@dataclass
class Visitor:
    """A browser without script, and the jobs that pages have begun."""

    client: TestClient
    site_id: int
    begun: list[Job]

    @property
    def web(self) -> Any:
        """The parts of the app."""
        return app_of(self.client).state.web

    def text(self, path: str = PAGE, status: int = 200) -> str:
        """The text of a page, as it is read."""
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return html.unescape(answer.text).replace("\u00a0", " ")

    def view(self, day: date = PEAK, kind: Kind[Any, Any] = SWITCH) -> Any:
        """What is stored of a day."""
        stored = self.web.site_at(SLUG)
        assert stored is not None
        with self.web.database.session() as session:
            return Desk(session, stored, self.web.runner).open(kind, day)

    def store(self, answer: WhenToReduce, *, is_final: bool = True) -> None:
        """Stores an answer of the day, or what of it is known so far."""
        with gate(self.web.database, self.web.now()) as writes:
            key = self.view().key
            writes.store_result(key, self.site_id, PEAK, write(answer), is_final=is_final)

    def send(self, path: str, **changes: str | None) -> Any:
        """Sends a form of the page, some fields changed."""
        data = page_of(self.client.get(PAGE)).form(path).data(**changes)
        return self.client.post(path, data=data, follow_redirects=False)


def standing(
    running: Progress | None = None, failed: str = ""
) -> Callable[[Any, dict[str, bool]], dict[str, tuple[Progress | None, str]]]:
    """Stands for a runner's `standing`: whatever is asked for is so far, or has failed."""
    return lambda _session, finals: dict.fromkeys(finals, (running, failed))


@contextmanager
def visiting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; jobs are noted, not computed."""
    settings = Settings(data_dir=tmp_path, today=date(2026, 7, 16), workers=1)
    app = create_app(settings)
    begun: list[Job] = []
    monkeypatch.setattr(app.state.web.runner, "begin", begun.append)
    with gate(app.state.web.database, settings.now()) as writes:
        site_id = writes.create_site(invented.small_site(), request_key="site").site_id
    with TestClient(app, base_url="http://127.0.0.1", headers=OWN_PAGE, client=HERE) as client:
        yield Visitor(client, site_id, begun)
