"""A real browser on the real app; every test watches what pages ask for and complain of."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import BrowserContext, expect

from app.answers import planning
from app.sites.reading import gate
from sim.decide.answer import Comparison
from sim.decide.compare import Question
from sim.inputs import Site, SiteData
from tests.browser.served import Served, prepare_demo, serve

FEW_DAYS = 4
"""Simulated days of a plan in these tests; what a page does with an answer needs no more."""
PATIENCE_MS = 120_000
"""How long a page may take at most before a test gives up; nothing waits for as long as that."""
REFUSED = re.compile(r"Failed to load resource: the server responded with a status of 4\d\d")
"""What the browser's console says of a form that was refused, or of a page that is not there."""


@dataclass
class Watched:
    """What the pages of a test did that they must not do."""

    url: str
    faults: list[str] = field(default_factory=list)

    def watch(self, context: BrowserContext) -> None:
        """Notes requests to elsewhere, console messages and script errors of a context's pages."""
        home = urlsplit(self.url).netloc

        def asked(url: str) -> None:
            if urlsplit(url).netloc != home:
                self.faults.append(f"asked for {url}")

        def said(kind: str, text: str) -> None:
            if not REFUSED.match(text):
                self.faults.append(f"console {kind}: {text}")

        context.on("request", lambda request: asked(request.url))
        context.on("console", lambda message: said(message.type, message.text))
        context.on("weberror", lambda fault: self.faults.append(f"script: {fault.error}"))


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with the demo site, its peak day computed, and a site without anything.

    Tests copy it or only read it.
    """
    folder = tmp_path_factory.mktemp("demo") / "data"
    prepare_demo(folder, FEW_DAYS)
    with serve(folder) as served:
        web = served.app.state.web
        with gate(web.database, web.now()) as writes:
            writes.create_site(SiteData(Site("Mill Lane", "America/New_York"), "us"), "empty")
    return folder


@pytest.fixture(autouse=True)
def few_days(monkeypatch: pytest.MonkeyPatch) -> None:
    """While a test of the browser runs, plans are computed from few simulated days."""
    stages = planning.compare_in_stages

    def few(question: Question, *more: Any) -> Iterator[Comparison]:
        return stages(replace(question, replications=FEW_DAYS), *more)

    monkeypatch.setattr(planning, "compare_in_stages", few)


@pytest.fixture(scope="session")
def shared(demo_folder: Path) -> Iterator[Served]:
    """The app with the demo site, for tests that store nothing."""
    with serve(demo_folder) as served:
        yield served


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Iterator[Served]:
    """The app with a demo site of this test's own."""
    folder = shutil.copytree(demo_folder, tmp_path / "data")
    with serve(folder) as served:
        yield served


@pytest.fixture
def served(request: pytest.FixtureRequest) -> Served:
    """The app of this test: its own one where it asks for `own`, else the shared one."""
    found = request.getfixturevalue("own" if "own" in request.fixturenames else "shared")
    assert isinstance(found, Served)
    return found


@pytest.fixture
def browser_context_args(
    browser_context_args: dict[str, Any], served: Served, request: pytest.FixtureRequest
) -> dict[str, Any]:
    """Short addresses, and an English browser of a fixed size and time zone."""
    return {
        "viewport": {"width": 1280, "height": 900},
        "locale": "en-US",
        "timezone_id": "America/New_York",
        **browser_context_args,
        "base_url": served.url,
    }


@pytest.fixture
def watched(served: Served) -> Iterator[Watched]:
    """At the end of the test: no other host asked, nothing on the console, no script error."""
    found = Watched(served.url)
    yield found
    assert found.faults == []


@pytest.fixture
def context(context: BrowserContext, watched: Watched) -> BrowserContext:
    """A browser without history, patient and watched."""
    context.set_default_timeout(PATIENCE_MS)
    watched.watch(context)
    return context


@pytest.fixture(autouse=True)
def _patience() -> None:
    """Expectations wait as long as pages may take."""
    expect.set_options(timeout=PATIENCE_MS)
