"""Phones: a link that is shown once, what it opens and what not, and its end; HTTPS as pages meet
it."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.certificates import issue
from app.main import create_app
from app.pages.links import digest_of
from app.settings import EVERY_ADDRESS, Settings, read_settings
from app.sites.reading import phones_of
from tests.demo_app import HERE, OWN_PAGE, app_of
from tests.pages.pages import TODAY, page_of, small_client, stored_site

PHONES = "/mill-lane/phones"
LOGBOOK = "/mill-lane/logbook"
CHECKS = "/mill-lane/checks"
SECRET = re.compile(r"https?://[^ <]*/mill-lane/phone/([A-Za-z0-9_-]{43})")
OUTSIDE = ("/", "/sites", "/mill-lane/today", "/mill-lane/site", PHONES, "/mill-lane/weighings")


@contextmanager
def another(client: TestClient, base_url: str = "http://127.0.0.1") -> Iterator[TestClient]:
    """A second browser at the same program, from another machine unless told otherwise."""
    with_own_cookies = TestClient(app_of(client), base_url=base_url, headers=OWN_PAGE)
    yield with_own_cookies
    with_own_cookies.close()


def make_link(client: TestClient, name: str = "Exit") -> str:
    """The path of the link that the page shows once."""
    form = page_of(client.get(PHONES)).form(PHONES)
    answer = client.post(PHONES, data=form.data(name=name))
    assert answer.status_code == 200
    found = SECRET.search(html.unescape(answer.text))
    assert found is not None
    return f"/mill-lane/phone/{found[1]}"


def take_back(client: TestClient) -> None:
    """Takes the first link back that the page has."""
    form = page_of(client.get(PHONES)).form(f"{PHONES}/revoke")
    assert client.post(form.action, data=form.data()).status_code == 200


def test_a_link_is_shown_once_and_kept_as_a_digest(client: TestClient) -> None:
    """The answer to the form has the link as text and as a code; no other page has it, and of its
    256 bits a digest is stored."""
    form = page_of(client.get(PHONES)).form(PHONES)
    answer = client.post(PHONES, data=form.data(name="  Exit  "))
    said = html.unescape(answer.text)
    found = SECRET.search(said)
    assert found is not None
    secret = found[1]
    assert "shown only once" in said
    assert 'class="code"' in said
    assert secret not in client.get(PHONES).text
    (phone,) = phones_of(app_of(client).state.web.database, stored_site_id(client))
    assert phone.name == "Exit"
    path = app_of(client).state.web.settings.database_path
    files = [path, *path.parent.glob(f"{path.name}-*")]
    held = b"".join(file.read_bytes() for file in files)
    assert digest_of(secret).encode() in held
    assert secret.encode() not in held


def stored_site_id(client: TestClient) -> int:
    """The number of the small site."""
    found = app_of(client).state.web.site_at("mill-lane")
    assert found is not None
    return int(found.id)


def test_a_phone_opens_the_logbook_alone(client: TestClient) -> None:
    """Once its link was opened, a phone is led to the logbook; every other page, forms among them,
    answers 403 with a sentence and does nothing, whatever its address looks like."""
    link = make_link(client)
    with another(client) as phone:
        opened = phone.get(link, follow_redirects=False)
        assert (opened.status_code, opened.headers["location"]) == (303, LOGBOOK)
        assert phone.get(LOGBOOK).status_code == 200
        assert phone.get("/", follow_redirects=False).headers["location"] == LOGBOOK
        assert phone.get("/guide/phones").status_code == 200
        for path in OUTSIDE[1:]:
            answer = phone.get(path)
            assert answer.status_code == 403, path
            assert "This phone’s link opens the logbook and the checks alone." in html.unescape(
                answer.text
            )
        token = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/line").data()
        assert phone.post("/mill-lane/site/line", data=token).status_code == 403


def test_a_phone_does_the_opening_check(client: TestClient) -> None:
    """The checks open by the link, and a press there is an entry; the lists themselves, by whatever
    address, and devices that are down do not."""
    link = make_link(client)
    here = page_of(client.get(CHECKS))
    with another(client) as phone:
        phone.get(link, follow_redirects=False)
        opened = phone.get(CHECKS)
        assert opened.status_code == 200
        page = page_of(opened)
        assert f"{CHECKS}/list" not in [form.action for form in page.forms]
        assert not {f"{CHECKS}/list", "/mill-lane/down", "/sites"} & set(page.links)
        pressed = next(form for form in page.forms if form.data().get("name") == ["Fault lights"])
        stored = phone.post(LOGBOOK, data=pressed.data(word="fine"))
        assert "Stored: Fault lights." in stored.text
        assert str(stored.url).split("?")[0].endswith(CHECKS)
        for below in ("list", "remove", "ours"):
            form = here.form(f"{CHECKS}/list")
            for path in (f"{CHECKS}/{below}", f"{CHECKS}/./{below}", f"{CHECKS}%2F{below}"):
                answer = phone.post(path, data=form.data(name="Drain", when="monthly"))
                assert answer.status_code == 403, path
        assert phone.get("/mill-lane/down").status_code == 403
    assert stored_site(client).checks == ()


def test_a_script_is_told_in_json(client: TestClient) -> None:
    """What asks for JSON has the sentence in it."""
    link = make_link(client)
    with another(client) as phone:
        phone.get(link, follow_redirects=False)
        answer = phone.get("/sites", headers={"Accept": "application/json"})
        assert answer.status_code == 403
        assert answer.json()["problem"].startswith("This phone’s link opens the logbook")


def test_a_link_that_was_taken_back_opens_nothing(client: TestClient) -> None:
    """Taken back, the phone is told so on every page, the logbook among them, and the link itself
    opens no more; the page says since when."""
    link = make_link(client)
    with another(client) as phone:
        phone.get(link, follow_redirects=False)
        take_back(client)
        for path in (LOGBOOK, link, *OUTSIDE):
            answer = phone.get(path, follow_redirects=False)
            assert answer.status_code == 403, path
            assert "This phone’s link was taken back." in html.unescape(answer.text)
    assert "Exit: from" in client.get(PHONES).text
    assert client.post(f"{PHONES}/revoke", data=token_of(client, phone="99")).status_code == 404


def token_of(client: TestClient, **fields: str) -> dict[str, str]:
    """A form of no fields but these and the token."""
    held = page_of(client.get(PHONES)).form(PHONES).data()
    return {"form_token": held["form_token"][0], **fields}


@pytest.mark.parametrize(
    "link", ["/mill-lane/phone/made-up", "/mill-lane/phone/" + "A" * 43, "/mill-lane/phone/%00"]
)
def test_a_made_up_link_opens_nothing(client: TestClient, link: str) -> None:
    """A secret that nobody made sets no cookie."""
    answer = client.get(link, follow_redirects=False)
    assert answer.status_code == 403
    assert "clothcast_phone" not in answer.headers.get("set-cookie", "")


def test_names_are_told_apart(client: TestClient) -> None:
    """A phone needs a name that no other has: what can't be is said beside the field, and a form
    sent twice makes no second link."""
    make_link(client)
    for name, said in (
        ("", "can’t be the name of a phone. Enter 1 to 40"),
        ("x" * 41, "can’t be the name of a phone. Enter 1 to 40"),
        ("exit", "There is a phone “exit”. Take its link back first"),
    ):
        answer = client.post(PHONES, data=token_of(client, name=name))
        assert answer.status_code == 422
        assert said in html.unescape(answer.text)
        assert page_of(answer).form(PHONES).data()["name"] == [name]
    assert len(phones_of(app_of(client).state.web.database, stored_site_id(client))) == 1
    take_back(client)
    make_link(client)


# ---- from this machine, and from others ----------------------------------------------------------


@pytest.fixture
def strict(tmp_path: Path) -> Iterator[Callable[[str, str], TestClient]]:
    """Browsers at a program that lets other machines in by a link alone: by the address that they
    have, and the one that they open."""
    with small_client(tmp_path) as made:
        web = app_of(made).state.web
        settings = read_settings(
            data_dir=web.settings.data_dir, today=TODAY, links_only=True, host=EVERY_ADDRESS[0]
        )
        app = create_app(settings)
        opened = []

        def browser(at: str, base_url: str) -> TestClient:
            opened.append(TestClient(app, base_url=base_url, client=(at, 1), headers=OWN_PAGE))
            return opened[-1]

        yield browser
        for one in opened:
            one.close()
        app.state.web.database.close()


def test_links_only_keeps_other_machines_out(
    strict: Callable[[str, str], TestClient],
) -> None:
    """With it another machine needs a link, taken back it has none, and the machine itself may do
    everything; a program that hands on what comes from the network counts as the network."""
    here = strict("127.0.0.1", "http://localhost:8000")
    for at, url in (
        ("192.168.1.7", "http://192.168.1.20:8000"),
        ("127.0.0.1", "http://192.168.1.20"),
    ):
        for path in ("/sites", LOGBOOK, "/guide"):
            answer = strict(at, url).get(path)
            assert answer.status_code == 403
            assert "opens only by the link of a phone" in answer.text
    assert here.get("/sites").status_code == 200
    link = make_link(here)
    phone = strict("192.168.1.7", "http://192.168.1.20:8000")
    assert phone.get(link, follow_redirects=False).status_code == 303
    assert phone.get(LOGBOOK).status_code == 200
    take_back(here)
    assert phone.get(LOGBOOK).status_code == 403


def test_a_browser_of_the_machine_stays_free(strict: Callable[[str, str], TestClient]) -> None:
    """Whoever tries a link on the machine itself is not held to the logbook by it."""
    here = strict("127.0.0.1", "http://localhost:8000")
    here.get(make_link(here), follow_redirects=False)
    assert here.get("/mill-lane/site").status_code == 200


# ---- what HTTPS brings ---------------------------------------------------------------------------


def test_cookies_and_headers_follow_https(client: TestClient) -> None:
    """By HTTPS cookies are sealed to it, and a host is opened in no other way from then on, but not
    the machine's own names; by HTTP neither."""
    link = make_link(client)
    for base, sealed, stays in (
        ("https://127.0.0.1:8443", True, False),
        ("http://127.0.0.1", False, False),
    ):
        with another(client, base) as browser:
            answers = [browser.get(link, follow_redirects=False), browser.get(LOGBOOK)]
            cookies = [c for a in answers for c in a.headers.get_list("set-cookie")]
            assert len(cookies) >= 3
            assert all(("secure" in c.lower()) == sealed for c in cookies)
            told = [a.headers.get("strict-transport-security") for a in answers]
            assert told == [None, None] if not stays else all(told)


def test_a_certificate_names_the_hosts(tmp_path: Path) -> None:
    """Served with a certificate, the program answers to its names, tells browsers to stay with
    HTTPS there, and links for phones begin with the first of them."""
    with small_client(tmp_path) as made:
        data_dir = app_of(made).state.web.settings.data_dir
        plain = Settings(data_dir=data_dir)
        served = issue(plain, ["wash.example"], plain.clock()).served
        settings = read_settings(
            data_dir=data_dir, today=TODAY, host=EVERY_ADDRESS[0],
            certificate=served.certificate, key=served.key,
        )  # fmt: skip
        app = create_app(settings)
        browser = TestClient(app, base_url="https://wash.example:8443", headers=OWN_PAGE)
        answer = browser.get("/sites")
        assert answer.status_code == 403, "answered, though only whoever has a link is let in"
        assert answer.headers["strict-transport-security"] == "max-age=31536000"
        assert browser.get("/sites", headers={"Host": "evil.example"}).status_code == 400
        here = TestClient(app, base_url="https://localhost:8443", headers=OWN_PAGE, client=HERE)
        form = page_of(here.get(PHONES)).form(PHONES)
        said = here.post(PHONES, data=form.data(name="Exit")).text
        assert "https://wash.example:8443/mill-lane/phone/" in html.unescape(said)
        assert "Served without HTTPS" not in said
        found = here.get(f"{PHONES}/authority.crt")
        assert found.content == plain.authority.read_bytes()
        browser.close()
        here.close()
        app.state.web.database.close()


def test_the_page_says_what_is_missing(client: TestClient) -> None:
    """By HTTP at the machine's own address the page says both, and that no authority was made."""
    said = html.unescape(client.get(PHONES).text)
    assert "Only this computer reaches Clothcast now" in said
    assert "Served without HTTPS, a phone writes only while it reaches the server" in said
    assert client.get(f"{PHONES}/authority.crt").status_code == 404
    assert stored_site(client).site.name == "Mill Lane"
