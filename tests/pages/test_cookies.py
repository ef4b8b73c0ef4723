"""Cookies of a host are shared by all its ports: our own are told apart, others' do no harm."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from starlette.datastructures import Headers

from app.pages.security import cookie_name, is_own_page
from tests.pages.pages import page_of, small_client, stored_site

FORM = "/mill-lane/site/line"
FOREIGN = (
    "a/b=1",
    "x@y=1",
    "a,b=1",
    "f[0]=1",
    "{q}=1",
    "(=1",
    "=",
    ";;;",
    "\u00e9=\u00fc",
    '"="\\',
)
"""Cookies of other programs: names that RFC 6265 forbids and browsers nevertheless send."""


@pytest.fixture
def two(tmp_path: Path) -> Iterator[tuple[TestClient, TestClient]]:
    """One browser at two programs of this machine, with a secret each."""
    with ExitStack() as stack:
        clients = []
        for port in (8000, 8001):
            (folder := tmp_path / str(port)).mkdir()
            one = stack.enter_context(small_client(folder))
            one.base_url = f"http://127.0.0.1:{port}"
            clients.append(one)
        first, second = clients
        second.cookies.jar = first.cookies.jar
        yield first, second


@pytest.mark.parametrize("cookie", FOREIGN)
def test_a_foreign_cookie_does_no_harm(client: TestClient, cookie: str) -> None:
    """Whatever other programs of this host have set, pages are shown and forms are stored."""
    form = page_of(client.get("/mill-lane/site")).form(FORM)
    own = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
    headers = {b"Cookie": f"{cookie}; {own}".encode()}
    assert client.get("/mill-lane/today", headers=headers).status_code == 200
    assert client.post(FORM, data=form.data(open_h="9"), headers=headers).status_code == 200
    assert stored_site(client).site.line.open_h == 9


def test_a_look_at_another_port_takes_nothing_away(two: tuple[TestClient, TestClient]) -> None:
    """A form drawn before a visit to a second program of this host is stored after it."""
    first, second = two
    form = page_of(first.get("/mill-lane/site")).form(FORM)
    second.get("/mill-lane/site")
    assert first.post(FORM, data=form.data(open_h="9")).status_code == 200
    assert stored_site(first).site.line.open_h == 9


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("127.0.0.1:8000", "n_8000"),
        ("[::1]:8001", "n_8001"),
        ("localhost", "n"),
        ("[::1]", "n"),
        ("localhost:", "n"),
        ("localhost:8000000", "n"),
        ("localhost:\u00b2", "n"),
        (":80", "n"),
        ("", "n"),
    ],
)
def test_a_cookie_has_the_port_in_its_name(host: str, name: str) -> None:
    """The port of the address that the browser used; none where there is none to be read."""
    assert cookie_name("n", Headers({"host": host})) == name


@pytest.mark.parametrize(
    "told", [{"Sec-Fetch-Site": "same-origin"}, {"Origin": "http://127.0.0.1"}]
)
def test_a_stale_token_gives_the_form_back(client: TestClient, told: dict[str, str]) -> None:
    """With the visit forgotten nothing is stored, and what was typed comes back to be sent."""
    form = page_of(client.get("/mill-lane/site")).form(FORM)
    client.cookies.clear()
    answer = client.post(FORM, data=form.data(open_h="9"), headers=told)
    assert answer.status_code == 403
    assert "set up anew. Nothing was stored." in answer.text
    assert stored_site(client).site.line.open_h == 7
    again = page_of(answer).form(FORM)
    assert client.post(again.action, data=again.data()).status_code == 200
    assert stored_site(client).site.line.open_h == 9


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},  # another port of this host
        {"Sec-Fetch-Site": "same-site", "Origin": "http://127.0.0.1"},
        {"Origin": "http://127.0.0.1:9000"},
        {"Origin": "null"},
        {"Referer": "http://evil.example/?http://127.0.0.1/"},
    ],
)
def test_what_another_site_made_up_is_not_offered(client: TestClient, told: dict[str, str]) -> None:
    """A form that no page of ours sent is refused without a button that would send it."""
    client.get("/mill-lane/site")
    del client.headers["Sec-Fetch-Site"]  # of our own pages; what the case tells takes its place
    answer = client.post(FORM, data={"form_token": "made up", "open_h": "9"}, headers=told)
    assert answer.status_code == 403
    assert page_of(answer).forms == []


def test_the_page_before_counts_where_nothing_else_is_told() -> None:
    """Over plain HTTP to another machine browsers leave Fetch Metadata out."""
    host = {"host": "192.168.1.7:8000"}
    assert is_own_page(Headers({**host, "referer": "http://192.168.1.7:8000/a?b#c"}))
    assert not is_own_page(Headers({**host, "referer": "http://192.168.1.7/a"}))
    assert not is_own_page(Headers(host))


def test_a_remembered_site_may_have_any_name(client: TestClient) -> None:
    """A garbled memory of the site that was looked at last is no reason not to show a page."""
    client.cookies.set("clothcast_site", "%00%ff/..", domain="127.0.0.1")
    assert client.get("/guide").status_code == 200
