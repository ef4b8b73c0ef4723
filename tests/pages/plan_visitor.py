"""A browser without script at the invented site, whose plan has or has not been computed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.answers.answer import Answer
from app.answers.planning import PLAN as PLAN_KIND
from app.answers.planning import PlanView
from app.answers.studies.runner import Progress
from app.db import store
from app.main import create_app
from app.settings import Settings
from app.sites.reading import gate
from sim.decide.answer import Plan
from tests.demo_app import HERE, OWN_PAGE, app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK

SLUG = "invented-lane"
PLAN = f"/{SLUG}/plan/{PEAK.isoformat()}"


@dataclass
class Planned:
    """Stands in for the planning service: what it answers, and what was begun."""

    result: Plan | None = None
    running: Progress | None = None
    failed: str = ""
    started: list[PlanView] = field(default_factory=list)

    def stand(self, _session: object, _runner: object, asked: Sequence[PlanView]) -> list[PlanView]:
        """The questions with the answer that this test wants; nothing is simulated."""
        return [
            replace(
                one, result=self.result, running=self.running, failed=self.failed, is_final=True
            )
            if one.kind is PLAN_KIND and one.key
            else one
            for one in asked
        ]

    def begun(self, view: PlanView) -> None:
        """Notes a plan that is begun; weighings, which every plan asks for, are none."""
        if view.kind is PLAN_KIND:
            self.started.append(view)


@dataclass
class Visitor:
    """A client with a site, and the planning service's stand-in."""

    client: TestClient
    planned: Planned
    site_id: int

    def page(self, path: str = PLAN) -> str:
        """The text of a page that must stand."""
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.text

    def form(self, text: str) -> dict[str, Any]:
        """The fields of the plan's form, as a browser would send them."""
        part = text[text.index('<form class="plan"') :]
        part = part[: part.index("</form>")]
        fields: dict[str, Any] = {}
        for tag in re.findall(r"<input[^>]*>", part):
            name, value = _attribute(tag, "name"), _attribute(tag, "value")
            if 'type="checkbox"' not in tag:
                fields[name] = value
        for tag, inside in re.findall(r"(<select[^>]*>)(.*?)</select>", part, re.DOTALL):
            chosen = re.search(r'value="([^"]*)" selected', inside)
            fields[_attribute(tag, "name")] = chosen.group(1) if chosen else ""
        for tag, inside in re.findall(r"(<textarea[^>]*>)(.*?)</textarea>", part, re.DOTALL):
            fields[_attribute(tag, "name")] = html.unescape(inside).removeprefix("\n")
        return fields

    def send(self, changes: dict[str, Any], do: str = "compute") -> Response:
        """Sends the form of the plan's page with some fields changed."""
        fields = self.form(self.page())
        return self.client.post(PLAN, data={**fields, **changes, "do": do}, follow_redirects=False)

    def stored(self) -> store.StoredPlan | None:
        """The plan as it is stored."""
        with app_of(self.client).state.web.database.session() as session:
            return store.find_plan(session, self.site_id, PEAK)


def _attribute(tag: str, name: str) -> str:
    found = re.search(rf'\b{name}="([^"]*)"', tag)
    return html.unescape(found.group(1)) if found else ""


@contextmanager
def visiting(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; nothing is simulated."""
    settings = Settings(data_dir=folder, today=date(2026, 7, 16), workers=1)
    app = create_app(settings)
    planned = Planned(result=invented.plan(invented.peak_day()))
    monkeypatch.setattr("app.answers.answer.stand", planned.stand)
    monkeypatch.setattr(Answer, "begin", lambda view, _runner: planned.begun(view))
    with gate(app.state.web.database, settings.now()) as writes:
        site_id = writes.create_site(invented.small_site(), request_key="site").site_id
    with TestClient(app, base_url="http://127.0.0.1", headers=OWN_PAGE, client=HERE) as client:
        yield Visitor(client, planned, site_id)
