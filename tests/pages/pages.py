"""What the tests of pages share: a small site, a browser without script, forms as it sends them."""

from __future__ import annotations

import ast
import datetime
import html
import re
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import urldefrag, urljoin, urlsplit

from fastapi.testclient import TestClient
from httpx2 import Response
from jinja2 import nodes

from app.answers.studies.line import StudyQueue
from app.answers.studies.runner import Run
from app.main import create_app
from app.pages.deps import TEMPLATES, make_templates
from app.settings import read_settings
from app.sites.reading import StoredSite
from sim.inputs import Site, SiteData
from tests.demo_app import ADDRESS as DEMO_ADDRESS
from tests.demo_app import HERE, OWN_PAGE, app_of, lay_database

ADDRESS = "http://127.0.0.1"
TODAY = datetime.date(2026, 7, 15)


@dataclass
class Field:
    """A field of a page: its attributes, value, and the ids of what describes it."""

    name: str
    value: str
    attrs: dict[str, str]


@dataclass
class Form:
    """A form of a page: where it is sent, and its fields in order."""

    action: str
    fields: list[Field] = field(default_factory=list)

    def data(self, **changes: str | None) -> dict[str, Any]:
        """What a browser would send, some fields changed; None leaves a field out."""
        sent: dict[str, list[str]] = {}
        for item in self.fields:
            if item.attrs.get("type") == "file":
                continue
            is_ticked = item.attrs.get("type") in ("checkbox", "radio")
            if is_ticked and "checked" not in item.attrs:
                continue
            sent.setdefault(item.name, []).append(item.value)
        for name, value in changes.items():
            sent.pop(name, None)
            if value is not None:
                sent[name] = [value]
        return dict(sent)


class Page(HTMLParser):
    """A page as far as tests read it: forms, texts by id, links, tags and attributes seen."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[str] = []
        self.by_id: dict[str, str] = {}
        self.tags: list[tuple[str, dict[str, str]]] = []
        self._open: list[tuple[str, str]] = []
        self._select: Field | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes a tag; fields belong to the form that is open."""
        given = {name: value or "" for name, value in attrs}
        self.tags.append((tag, given))
        if tag == "form":
            self.forms.append(Form(given["action"]))
        if tag == "a":
            self.links.append(given.get("href", ""))
        if tag in ("input", "select") and self.forms:
            found = Field(given.get("name", ""), given.get("value", ""), given)
            self.forms[-1].fields.append(found)
            self._select = found if tag == "select" else None
        if tag == "option" and self._select is not None and "selected" in given:
            self._select.value = given["value"]
        if tag not in ("input", "meta", "link", "path", "br", "option"):
            self._open.append((tag, given.get("id", "")))
        if "id" in given:
            self.by_id.setdefault(given["id"], "")

    def handle_endtag(self, tag: str) -> None:
        """Closes the innermost tag of that name."""
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        """Adds text to every open tag that has an id."""
        for _tag, name in self._open:
            if name:
                self.by_id[name] += data

    def form(self, action: str) -> Form:
        """The form that is sent to an address."""
        return next(form for form in self.forms if form.action == action)

    def field(self, name: str) -> Field:
        """The first field of a name."""
        return next(f for form in self.forms for f in form.fields if f.name == name)


def page_of(answer: Response) -> Page:
    """The page of an answer."""
    return Page(answer.text)


def asks_again(answer: Response) -> str:
    """Seconds after which a page that waits asks for its answer, and where a browser without script
    then goes, ``2; url=/…``; empty for a page that does not wait."""
    script = re.search(r'<script src="[^"]*wait\.js[^"]*" data-again="(\d+)" defer>', answer.text)
    plain = re.search(r'<noscript><meta http-equiv="refresh" content="([^"]*)">', answer.text)
    assert (script is None) == (plain is None)
    if script is None or plain is None:
        return ""
    assert plain[1].partition(";")[0] == script[1]
    return html.unescape(plain[1])


@contextmanager
def small_client(
    folder: Path, data: SiteData | None = None, raise_errors: bool = True
) -> Iterator[TestClient]:
    """A browser on an app with one site that has nothing of its own."""
    settings = read_settings(data_dir=folder, today=TODAY, workers=1)
    site = data or SiteData(Site("Mill Lane", "America/New_York"), "us")
    lay_database(
        settings.database_path,
        site,
        settings.now(),
        lambda opened: opened.create_site(site, "one"),
    )
    with TestClient(
        create_app(settings),
        base_url=ADDRESS,
        headers=OWN_PAGE,
        client=HERE,
        raise_server_exceptions=raise_errors,
    ) as client:
        yield client


def work_at_once(self: StudyQueue[Run], turn: Run, work: Callable[[Run], None]) -> None:
    """In place of `Line.begin`: a study is done when the page that begins it is drawn."""
    turn.is_taken = True
    work(turn)
    turn.future.set_result(None)


def stored_site(client: TestClient, slug: str = "mill-lane") -> SiteData:
    """What is stored of a site."""
    found: StoredSite | None = app_of(client).state.web.site_at(slug)
    assert found is not None
    return found.data


def a_page_of_each_sort(client: TestClient, day: datetime.date) -> Iterator[tuple[str, str]]:
    """Address and text of a page of each sort that links of the demo lead to, those of an answered
    day first. Pages that differ by a day or a number alone are of one sort."""
    answered = ("plan", "settings", "reduce", "staff", "sheet")
    waiting = deque([*(f"/harbor-road/{page}/{day}" for page in answered), "/"])
    sorts = {_sort(address) for address in waiting}
    while waiting:
        address = waiting.popleft()
        answer = client.get(address)
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        yield address, answer.text
        for one in filter(None, page_of(answer).links):
            target = urldefrag(urljoin(str(answer.url), one)).url
            path = urlsplit(target).path
            if target.startswith(DEMO_ADDRESS) and _sort(path) not in sorts:
                sorts.add(_sort(path))
                waiting.append(target.removeprefix(DEMO_ADDRESS))


def _sort(path: str) -> str:
    return re.sub(r"\d[\d-]*", "#", path)


def written_texts() -> frozenset[str]:
    """Every text that stands in the code or in a template, as a catalogue of texts finds them.

    What is put together while the program runs is not among them: no table could have it.
    """
    found: set[str] = set()
    for file in (*Path("app").rglob("*.py"), *Path("sim").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value)
    environment = make_templates().env
    for file in TEMPLATES.rglob("*.html"):
        for const in environment.parse(file.read_text(encoding="utf-8")).find_all(nodes.Const):
            if isinstance(const.value, str):
                found.add(const.value)
    return frozenset(found)
