"""What every answer and every form must pass, whatever the page."""

from __future__ import annotations

import socket
import zlib
from dataclasses import replace
from pathlib import Path

import pytest
import uvicorn
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from app.main import create_app
from app.pages.security import FormRefused, Seals
from app.settings import read_settings
from sim.inputs import Site, SiteData
from tests.demo_app import HERE, app_of
from tests.pages.pages import ADDRESS, page_of, small_client, stored_site

PAGES = (
    "/sites",
    "/mill-lane/today",
    "/mill-lane/counts",
    "/mill-lane/counts.csv",
    "/mill-lane/site",
    "/mill-lane/setup",
    "/about",
    "/guide",
    "/guide/start",
    "/nowhere/today",
    "/static/clothcast.css",
    "/static/nothing.css",
)


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_has_the_policy(client: TestClient, path: str) -> None:
    """Pages, files and refusals alike carry the strict policy and the other headers."""
    headers = client.get(path).headers
    policy = headers["content-security-policy"].split("; ")
    assert policy[0] == "default-src 'none'"
    assert {"frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} <= set(policy)
    assert not any("unsafe" in part or "*" in part for part in policy)
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize("path", PAGES)
def test_a_head_is_the_answer_without_its_body(client: TestClient, path: str) -> None:
    """HEAD has status and headers of GET, whatever the page, and nothing after them."""
    whole, head = client.get(path), client.head(path)
    assert (head.status_code, head.content) == (whole.status_code, b"")
    assert head.headers["content-type"] == whole.headers["content-type"]


@pytest.mark.parametrize("path", [p for p in PAGES if not p.endswith((".css", ".csv"))])
def test_no_page_needs_what_the_policy_forbids(client: TestClient, path: str) -> None:
    """No page has a script or style of its own, a handler in an attribute, or another host."""
    for tag, attrs in page_of(client.get(path)).tags:
        assert tag not in ("style", "iframe", "base")
        assert tag != "script" or attrs["src"].startswith("/static/")
        assert not [name for name in attrs if name == "style" or name.startswith("on")]
        for name in ("href", "src", "action"):
            assert not attrs.get(name, "").startswith(("http:", "https:", "//", "javascript:"))


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil"])
def test_other_hosts_are_refused(client: TestClient, host: str) -> None:
    """A request by another host name (a rebound address) gets a plain page and nothing else."""
    answer = client.get("/mill-lane/site", headers={"Host": host})
    assert answer.status_code == 400
    assert "Clothcast does not answer to this name." in answer.text
    assert "Mill Lane" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost:9000", "[::1]:8000", "LOCALHOST"])
def test_local_hosts_are_served(client: TestClient, host: str) -> None:
    """The machine's own names are served at any port."""
    assert client.get("/sites", headers={"Host": host}).status_code == 200


def test_a_form_without_token_is_refused(client: TestClient) -> None:
    """A form that is not from a page of ours stores nothing and is told so."""
    form = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line")
    for token in (None, "", "made up", form.data()["form_token"][0] + "x"):
        answer = client.post(form.action, data=form.data(form_token=token, open_h="9"))
        assert answer.status_code == 403
        assert "Nothing was stored." in answer.text
    assert stored_site(client).site.line.open_h == 7


def test_a_token_of_another_browser_is_refused(client: TestClient) -> None:
    """A token holds only together with the cookie of the browser it was drawn for."""
    form = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line")
    client.cookies.clear()
    answer = client.post(form.action, data=form.data(open_h="9"))
    assert answer.status_code == 403
    assert stored_site(client).site.line.open_h == 7


def test_every_route_that_writes_asks_for_the_token(client: TestClient) -> None:
    """No route takes a form without a token, those of a later page included."""
    routes = [
        route.path
        for route in iter_route_contexts(app_of(client).routes)
        if route.path
        and {"POST", "PUT", "PATCH", "DELETE"} & set(getattr(route, "methods", ()) or ())
    ]
    assert len(routes) >= 8
    for path in routes:
        filled = path.format(
            slug="mill-lane", group="line", day="2026-07-18", week="2026-07-20", key="k", number="1"
        )
        assert client.post(filled, data={"name": "x"}).status_code == 403, path


def test_an_old_form_can_be_sent_again(client: TestClient) -> None:
    """A page that was open too long stores nothing, keeps what was typed, and offers it again."""
    state = app_of(client).state
    web = state.web
    form = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line")
    state.web = replace(web, seals=Seals(web.seals.secret, token_age_s=-1.0))
    answer = client.post(form.action, data=form.data(open_h="9"))
    assert answer.status_code == 403
    assert "open too long. Nothing was stored." in answer.text
    assert stored_site(client).site.line.open_h == 7
    again = page_of(answer).form("/mill-lane/site/line")
    assert again.data()["open_h"] == ["9"]
    state.web = web
    assert client.post(again.action, data=again.data()).status_code == 200
    assert stored_site(client).site.line.open_h == 9


def test_a_token_never_looks_the_same() -> None:
    """Drawn twice in one second, tokens of a visit have no six letters in common at any place, and
    both hold: what compresses well beside them is no part of either."""
    seals = Seals("a secret of this test")
    visit, _cookie = seals.new_visit()
    first, second = seals.token(visit), seals.token(visit)
    for token in (first, second):
        seals.check_token(token, visit)
    parts = {first[at : at + 6] for at in range(len(first) - 5)}
    assert not parts & {second[at : at + 6] for at in range(len(second) - 5)}
    assert len(zlib.compress((first + second).encode())) > 0.7 * len(first + second)


@pytest.mark.parametrize("token", ["é", "AAA", "AAAA", "_" * 9, "=", "\x00", "A" * 4_000])
def test_a_token_that_cannot_be_unmasked_is_none(token: str) -> None:
    """Whatever stands in the field, it is refused as a token that is not ours."""
    with pytest.raises(FormRefused) as caught:
        Seals("a secret of this test").check_token(token, "visit")
    assert not caught.value.expired


@pytest.mark.parametrize("path", ["/mill-lane/site", "/static/clothcast.css", "/nowhere/today"])
def test_answers_are_compressed(client: TestClient, path: str) -> None:
    """A browser that can read it has pages, files and refusals compressed, headers and all; one
    that can't has them as they are."""
    plain = client.get(path, headers={"Accept-Encoding": "identity"})
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    for answer in (plain, packed):
        assert "Accept-Encoding" in answer.headers["vary"]
        assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert len(packed.content) == pytest.approx(len(plain.content), abs=200)
    assert int(packed.headers["content-length"]) < 0.6 * int(plain.headers["content-length"])


def test_a_forged_token_never_counts_as_old() -> None:
    """Only a token that was really signed here may be called expired."""
    seals = Seals("a secret of this test", token_age_s=-1.0)
    visit, _cookie = seals.new_visit()
    other = Seals("another secret")
    for token, expired in ((seals.token(visit), True), (other.token(visit), False), ("", False)):
        with pytest.raises(FormRefused, match="form token") as caught:
            seals.check_token(token, visit)
        assert caught.value.expired is expired
    with pytest.raises(FormRefused, match="missing or wrong") as caught:
        seals.check_token(seals.token("another visit"), visit)
    assert not caught.value.expired


def test_a_forged_cookie_is_no_visit() -> None:
    """A visit cookie that was not signed here is as good as none."""
    seals = Seals("a secret of this test")
    visit, cookie = seals.new_visit()
    assert seals.visit_of(cookie) == visit
    assert seals.visit_of(cookie[:-2] + "xx") is None
    assert seals.visit_of(Seals("another").new_visit()[1]) is None


def test_too_large_a_form_is_refused(client: TestClient) -> None:
    """More than 256 kB of typed text is refused with a page, and nothing is stored."""
    form = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line")
    answer = client.post(form.action, data=form.data(open_h="9", note="x" * 300_000))
    assert answer.status_code == 413
    assert "larger than can be taken. Nothing was stored." in answer.text
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert stored_site(client).site.line.open_h == 7


@pytest.mark.parametrize("declared", [True, False])
def test_too_large_a_file_is_refused(client: TestClient, declared: bool) -> None:
    """A file above the limit is refused with a page, whether its length is declared or not."""
    form = page_of(client.get("/mill-lane/counts")).form("/mill-lane/counts/preview")
    boundary = "edge"
    head = "".join(
        f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value[0]}\r\n'
        for name, value in form.data().items()
    )
    head += f'--{boundary}\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
    body = head.encode() + b"1,2,3\n" * 1_200_000 + f"\r\n--{boundary}--\r\n".encode()
    kind = {"Content-Type": f"multipart/form-data; boundary={boundary}"}
    content = body if declared else (body[i : i + 65536] for i in range(0, len(body), 65536))
    answer = client.post(form.action, content=content, headers=kind)
    assert answer.status_code == 413
    assert "A file may have up to 5 MB" in answer.text
    assert not list((app_of(client).state.web.settings.data_dir / "pending").glob("*"))


def test_no_page_shows_a_traceback(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of our own is answered by a plain page with the policy, without a word of code."""

    def broken(*_args: object) -> None:
        raise RuntimeError("secret inside")

    with small_client(tmp_path, raise_errors=False) as client:
        monkeypatch.setattr("app.pages.site.changes_of", broken)
        answer = client.get("/mill-lane/site")
    assert answer.status_code == 500
    assert "Clothcast made a mistake here." in answer.text
    assert "Traceback" not in answer.text
    assert "secret inside" not in answer.text
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")


@pytest.mark.parametrize("path", ["/nowhere", "/nowhere/today", "/guide/nothing", "/mill-lane/x"])
def test_unknown_addresses(client: TestClient, path: str) -> None:
    """An address without a page is answered by a page that says so."""
    answer = client.get(path)
    assert answer.status_code == 404
    assert "Not here" in answer.text


@pytest.mark.parametrize(
    "path",
    ["/.git/HEAD", "/.git/", "/static/", "/static/..%2f..%2fpyproject.toml", "/pyproject.toml",
     "/static/../main.py", "/data/clothcast.sqlite3", "/data/secret", "/docs", "/openapi.json"],
)  # fmt: skip
def test_what_lies_beside_the_pages_is_not_to_be_had(client: TestClient, path: str) -> None:
    """Neither the source and its history nor what is stored, no list of a folder and no document of
    the routes."""
    answer = client.get(path)
    assert answer.status_code == 404
    assert "Not here" in answer.text


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH", "OPTIONS", "CONNECT"])
def test_other_methods_are_refused(client: TestClient, method: str) -> None:
    """Only what reads and what sends a form is answered; nothing is echoed."""
    answer = client.request(method, "/guide", headers={"X-Planted": "echo me"})
    assert answer.status_code == 405
    assert "echo me" not in answer.text


@pytest.mark.parametrize("path", PAGES)
def test_pages_of_another_origin_read_nothing(client: TestClient, path: str) -> None:
    """Whoever's page asks, no answer has a header that would let it read (W3C Fetch, section 3.3,
    the headers of the CORS protocol)."""
    asked = {"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site"}
    headers = client.get(path, headers=asked).headers
    assert [name for name in headers if name.lower().startswith("access-control-")] == []


@pytest.mark.parametrize("claimed", ["127.0.0.1", "127.0.0.1, 192.168.1.7", "::1", "localhost"])
def test_nobody_elsewhere_can_pass_for_this_machine(client: TestClient, claimed: str) -> None:
    """As the server is set up: an address that a proxy is said to have seen, and a local host name,
    make nobody of the network a browser of the machine; on the machine itself both are told."""
    served = uvicorn.Config(app_of(client), log_level="critical")
    served.load()
    said = {"X-Forwarded-For": claimed, "X-Real-IP": claimed, "Forwarded": f"for={claimed}"}
    asked = {"app": served.loaded_app, "base_url": ADDRESS, "headers": said}
    for path in ("/health/live", "/mill-lane/today"):
        answer = TestClient(**asked, client=("192.168.1.7", 50_000)).get(path)
        assert answer.status_code in (303, 403)
        assert "is_live" not in answer.text


def test_a_garbled_form(client: TestClient) -> None:
    """A form that can't be taken apart is refused with a page and stores nothing."""
    kind = {"Content-Type": "multipart/form-data; boundary=edge"}
    answer = client.post("/mill-lane/site/line", content=b"--other\r\n", headers=kind)
    assert answer.status_code in (400, 403)
    assert "Nothing was stored." in answer.text
    many = "&".join(f"f{number}=1" for number in range(2_100))
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post("/mill-lane/site/line", content=many, headers=form)
    assert answer.status_code == 400
    assert "Nothing was stored." in answer.text


def test_unknown_group_of_inputs(client: TestClient) -> None:
    """A form for a group that there is not is answered by the page for unknown addresses."""
    form = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line")
    assert client.post("/mill-lane/site/nothing", data=form.data()).status_code == 404


def test_wrong_method(client: TestClient) -> None:
    """An address that only reads refuses to be written to by any other way."""
    answer = client.get("/mill-lane/counts/preview")
    assert answer.status_code == 405
    assert "Not this way" in answer.text


def test_a_site_named_like_markup_is_only_a_name(tmp_path: Path) -> None:
    """Markup in a name is shown as typed on every page, never obeyed."""
    name = '<script>alert("1")</script>'
    data = SiteData(Site(name, "UTC"), "si")
    with small_client(tmp_path, data) as client:
        slug = page_of(client.get("/sites")).links
        address = next(link for link in slug if link.endswith("/today")).removesuffix("/today")
        for page in ("today", "counts", "site", "setup", "plan"):
            answer = client.get(f"{address}/{page}")
            assert answer.status_code == 200
            assert name not in answer.text
            assert "&lt;script&gt;" in answer.text


def test_static_files_may_be_kept(client: TestClient) -> None:
    """A page names its stylesheet by content, so that it may be kept for ever; pages may not."""
    answer = client.get("/sites")
    assert answer.headers["cache-control"] == "private, no-cache"
    sheet = next(
        attrs["href"]
        for tag, attrs in page_of(answer).tags
        if tag == "link" and attrs.get("rel") == "stylesheet"
    )
    assert "immutable" in client.get(sheet).headers["cache-control"]
    assert "immutable" not in client.get("/static/clothcast.css").headers["cache-control"]


def test_cookies_are_out_of_reach_of_scripts(client: TestClient) -> None:
    """No cookie can be read by a script or is sent along from another site's form."""
    client.get("/mill-lane/today")
    fresh = TestClient(app_of(client), base_url=ADDRESS, client=HERE)
    cookies = fresh.get("/mill-lane/today").headers.get_list("set-cookie")
    assert len(cookies) == 3
    for cookie in cookies:
        assert "httponly" in cookie.lower()
        assert "samesite=lax" in cookie.lower()


OWN = ["192.168.7.5", "192.168.7.5:8000", "10.0.0.7:80", "[fe80::1]:8000", "[2001:db8::5]"]


@pytest.mark.parametrize("everywhere", ["0.0.0.0", "::"])  # noqa: S104 - nothing listens there
def test_a_machine_open_to_its_network_answers_to_its_own_addresses(
    tmp_path: Path, everywhere: str
) -> None:
    """Served at every address, the pages answer to addresses and to the machine's own name, in any
    case: where people sign in with what is open to all; where nobody does, with the pages of a
    manager at the names that the machine alone has, and else with what opens them."""
    own = (*OWN, socket.gethostname(), socket.gethostname().upper())
    local = ("127.0.0.1:8000", "localhost", "LocalHost:8000")
    settings = read_settings(data_dir=tmp_path, host=everywhere, workers=1, sign_in=True)
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE) as client:
        for host in (*own, *local):
            assert client.get("/guide", headers={"Host": host}).status_code == 200, host
    settings = read_settings(data_dir=tmp_path, host=everywhere, workers=1)
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE) as client:
        for host in local:
            assert client.get("/sites", headers={"Host": host}).status_code == 200, host
        for host in own:
            answer = client.get("/sites", headers={"Host": host})
            assert answer.status_code == 403, host
            assert "opens only by the link of a phone." in answer.text
        foreign = ("evil.example", "192.168.7.5.evil.example", "1.2.3.4.5", "[evil]", "1.2.3.4:x")
        for host in foreign:
            answer = client.get("/sites", headers={"Host": host})
            assert (answer.status_code, "does not answer to this name" in answer.text) == (
                400,
                True,
            )


def test_a_machine_that_listens_to_itself_answers_to_no_other_address(client: TestClient) -> None:
    """Not open to the network, a bare address is as foreign as a name."""
    for host in OWN:
        assert client.get("/sites", headers={"Host": host}).status_code == 400
