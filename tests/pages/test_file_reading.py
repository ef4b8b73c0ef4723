"""A large file is read as a study: the page waits, shows the preview when it is there, can stop."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.answers import file_study
from app.files.hourly import Preview
from app.files.uploads import MOST_KEPT, FilePreviews
from app.files.uploads import read_file as read_really
from app.sites.reading import history_of
from sim.inputs import History
from tests.demo_app import app_of
from tests.pages.pages import asks_again, page_of, small_client
from tests.small_wash import small_wash

SLUG = "small-wash"
ADDRESS = f"/{SLUG}/counts"
HEAD = "date,hour,cars_arrived\n"
LINES = "".join(f"2026-07-{1 + i // 24:02d},{i % 24},{i % 50}\n" for i in range(240))
LARGE = (HEAD + LINES * 50).encode()
"""Past the size of small files; the second time that an hour comes is a problem."""


class Gate:
    """Holds the reading of files until a test lets it go on."""

    def __init__(self) -> None:
        self.reads = 0
        self.may_go_on = threading.Event()

    def read(self, *given: object, **more: object) -> object:
        """In place of the reading of a file."""
        self.reads += 1
        assert self.may_go_on.wait(60)
        return read_really(*given, **more)  # type: ignore[arg-type]  # as it was called


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on a small site."""
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


@pytest.fixture
def held(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    """Readings wait for the test; they are let go in the end."""
    gate = Gate()
    monkeypatch.setattr(file_study, "read_file", gate.read)
    yield gate
    gate.may_go_on.set()


def send(client: TestClient, raw: bytes) -> Response:
    """Sends a file as the page does and follows to what is shown of it."""
    form = page_of(client.get(ADDRESS)).form(f"{ADDRESS}/preview")
    data = form.data(kind="counts")
    return client.post(form.action, data=data, files={"file": ("july.csv", raw)})


def wait_for_readings(client: TestClient) -> None:
    """Until every reading under way has come to its end."""
    app_of(client).state.web.runner._line.thread(file_study.FILE.name).submit(lambda: None).result(
        60
    )


def test_a_small_file_is_shown_at_once(client: TestClient) -> None:
    """A file of a few thousand lines needs no study."""
    answer = send(client, (HEAD + LINES).encode())
    assert "240 hours of cars arrived" in answer.text.replace("\u00a0", " ")
    assert not asks_again(answer)


def test_a_large_file_is_read_beside_the_pages(client: TestClient, held: Gate) -> None:
    """The request ends before the file is read; the page asks again until the preview is there,
    which is read once and then stored as it was shown."""
    assert len(LARGE) > file_study.SMALL_BYTES
    waiting = send(client, LARGE)
    assert "Reading it." in waiting.text
    address = asks_again(waiting).partition("url=")[2]
    assert "Reading it." in client.get(address).text
    assert client.get(ADDRESS).status_code == 200  # other pages go on meanwhile
    held.may_go_on.set()
    wait_for_readings(client)
    preview = client.get(address)
    assert not asks_again(preview)
    assert "240 hours of cars arrived" in preview.text.replace("\u00a0", " ")
    assert "Further lines with problems: 11,660." in preview.text
    form = page_of(preview).form(f"{ADDRESS}/confirm")
    done = client.post(form.action, data=form.data(drop=None, replace_all="1"))
    assert "Stored." in done.text
    assert held.reads == 1
    web = app_of(client).state.web
    site = web.site_at(SLUG)
    assert site is not None
    assert len(history_of(web.database, site.id).counts) == 240


def test_a_reading_can_be_stopped_and_begun_again(client: TestClient, held: Gate) -> None:
    """Stopped from the page that waits, the file still waits, and a press reads it after all."""
    waiting = send(client, LARGE)
    address = asks_again(waiting).partition("url=")[2]
    stop = next(f for f in page_of(waiting).forms if f.action.endswith("/cancel"))
    client.post(stop.action, data=stop.data())
    held.may_go_on.set()
    wait_for_readings(client)
    stopped = client.get(address)
    assert not asks_again(stopped)
    again = page_of(stopped).form(f"{ADDRESS}/again")
    client.post(again.action, data=again.data())
    wait_for_readings(client)
    assert "240 hours of cars arrived" in client.get(address).text.replace("\u00a0", " ")


def test_a_file_that_is_let_go_is_forgotten(client: TestClient, held: Gate) -> None:
    """Let go while it is read, neither file nor preview stays."""
    waiting = send(client, LARGE)
    form = page_of(waiting).form(f"{ADDRESS}/confirm")
    assert "The file was let go." in client.post(form.action, data=form.data(drop="1")).text
    held.may_go_on.set()
    wait_for_readings(client)
    address = asks_again(waiting).partition("url=")[2]
    assert client.get(address).status_code == 404


def test_only_a_few_previews_are_kept() -> None:
    """The oldest preview is forgotten, and that it was is known, so that it can be read anew."""
    previews = FilePreviews()
    found = Preview(History("arrived"), (), ())
    for number in range(MOST_KEPT + 1):
        previews.keep(str(number), found)
    assert previews.find("0") is None
    assert (previews.times_forgotten("0"), previews.times_forgotten("1")) == (1, 0)
    assert previews.find(str(MOST_KEPT)) == found
