"""A real browser on the real app; every test watches what pages ask for and complain of."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from app.db.session import open_database
from app.settings import DATABASE_NAME, read_settings
from app.sites.reading import gate
from sim.inputs import Site, SiteData
from tests.browser.served import TODAY, Served, prepare_demo, serve
from tests.demo_app import plan_few_days
from tests.remembering import kept

FEW_DAYS = 4
"""Simulated days of a plan in these tests; what a page does with an answer needs no more."""
PATIENCE_MS = 120_000
"""How long a page may take at most before a test gives up; nothing waits for as long as that."""
REFUSED = re.compile(
    r"Failed to load resource: the server responded with a status of 4\d\d"
    r"|Clear-Site-Data header on .*: Cleared data types: \"cache\"\.$"
)
"""What the browser's console says of a form that was refused, of a page that is not there, and of
its copies that go when somebody signs out."""


@dataclass
class Watched:
    """What the pages of a test did that they must not do."""

    url: str
    faults: list[str] = field(default_factory=list)

    def watch(self, context: BrowserContext) -> Callable[[], None]:
        """Notes requests to elsewhere, console messages and script errors of a context's pages,
        until the function that it returns is called."""
        home = urlsplit(self.url).netloc

        def asked(url: str) -> None:
            if urlsplit(url).netloc != home:
                self.faults.append(f"asked for {url}")

        def said(kind: str, text: str) -> None:
            if not REFUSED.match(text):
                self.faults.append(f"console {kind}: {text}")

        listeners: dict[Any, Callable[[Any], None]] = {
            "request": lambda request: asked(request.url),
            "console": lambda message: said(message.type, message.text),
            "weberror": lambda fault: self.faults.append(f"script: {fault.error}"),
        }
        for event, listener in listeners.items():
            context.on(event, listener)

        def stop() -> None:
            for event, listener in listeners.items():
                context.remove_listener(event, listener)

        return stop


def context_args(url: str) -> dict[str, Any]:
    """Short addresses, and an English browser of a fixed size and time zone."""
    return {
        "viewport": {"width": 1280, "height": 900},
        "locale": "en-US",
        "timezone_id": "America/New_York",
        "base_url": url,
    }


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with the demo site, its peak day computed, and a site without anything.

    Tests copy it or only read it.
    """

    def prepared() -> bytes:
        with TemporaryDirectory() as own:
            prepare_demo(Path(own), FEW_DAYS)
            settings = read_settings(data_dir=Path(own), today=TODAY)
            database = open_database(settings.database_path)
            with gate(database, settings.now()) as writes:
                writes.create_site(SiteData(Site("Mill Lane", "America/New_York"), "us"), "empty")
            database.close()
            return settings.database_path.read_bytes()

    folder = tmp_path_factory.mktemp("demo")
    (folder / DATABASE_NAME).write_bytes(kept(("demo, prepared", FEW_DAYS), prepared))
    return folder


@pytest.fixture(scope="module", autouse=True)
def few_days() -> Iterator[None]:
    """While tests of the browser run, plans are computed from few simulated days."""
    with pytest.MonkeyPatch.context() as patch:
        plan_few_days(patch, FEW_DAYS)
        yield


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


@pytest.fixture(scope="module")
def tab(browser: Browser, shared: Served) -> Iterator[Page]:
    """One page of the browser for all addresses: nothing is stored, so each begins afresh."""
    context = browser.new_context(**context_args(shared.url))
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


@pytest.fixture
def browser_context_args(
    browser_context_args: dict[str, Any], served: Served, request: pytest.FixtureRequest
) -> dict[str, Any]:
    """The browser of every test, changed by what the test asks for."""
    own = context_args(served.url)
    return {**own, **browser_context_args, "base_url": own["base_url"]}


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


@pytest.fixture(scope="module", autouse=True)
def _patience() -> None:
    """Expectations wait as long as pages may take."""
    expect.set_options(timeout=PATIENCE_MS)
