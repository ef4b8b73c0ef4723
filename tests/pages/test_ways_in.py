"""Ways in of people, and how they end: the first start, codes that were used meanwhile, limits of
tries, passkeys where there can be none, and what the history says of it."""

from __future__ import annotations

import html
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from argon2 import PasswordHasher
from fastapi.testclient import TestClient

from app.access.codes import digest_of_code
from app.access.limits import FREE
from app.access.passwords import Passwords
from app.access.table import MANAGER, OWNER, PHONE
from app.main import create_app
from app.pages.people import first
from app.settings import read_settings
from app.sites.people import members_of, people_gate, sessions_of
from tests.access.signed import ADDRESS, ELSEWHERE, NAMES, OWN, PASSWORD, PIN, Clock, Wash, wash
from tests.demo_app import OWN_PAGE, begin_nothing
from tests.pages.pages import page_of

BARE = "http://192.168.1.5:8000"
"""An address without a name."""


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes of passwords that take no time; how good they are is tried elsewhere."""
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(Passwords, "hash", lambda _own, password: hasher.hash(password))


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Wash]:
    """An installation with somebody of each role."""
    begin_nothing(monkeypatch)
    with wash(tmp_path) as made:
        yield made


@contextmanager
def nobody_yet(folder: Path) -> Iterator[TestClient]:
    """A browser at an installation without an owner, which the code ``first`` makes."""
    given = read_settings(data_dir=folder, workers=1, sign_in=True)
    app = create_app(Clock(**given.model_dump()))
    web = app.state.web
    now = web.settings.clock()
    with people_gate(web.database, now) as people:
        people.begin_first(digest_of_code("first"), now + timedelta(days=1))
    with TestClient(
        app, base_url=ADDRESS, headers=OWN_PAGE, client=ELSEWHERE, follow_redirects=False
    ) as browser:
        yield browser
    web.runner.close()
    web.database.close()


def typed(browser: TestClient, path: str, **words: str) -> tuple[int, str]:
    """Status and text of a form of a page that was sent with what is typed in it."""
    answer = browser.post(path, data=page_of(browser.get(path)).form(path).data(**words))
    return answer.status_code, html.unescape(answer.text)


def token_of(browser: TestClient, path: str = "/me") -> dict[str, str]:
    """What every form of a page proves that it is of this server by."""
    return {"form_token": page_of(browser.get(path)).forms[0].data()["form_token"][0]}


# ---- the first start -----------------------------------------------------------------------------


def test_the_code_of_the_terminal_makes_the_owner_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wrong one makes nobody; the right one signs in whoever typed it, and never again; a code
    that somebody else used while this form was on its way makes nobody either."""
    own = {"name": "Olive", "password": PASSWORD, "again": PASSWORD}
    with nobody_yet(tmp_path) as browser:
        status, said = typed(browser, "/first", code="wrong", **own)
        assert (status, first.NO_FIRST in said) == (403, True)
        assert 'value="Olive"' in said
        with monkeypatch.context() as late:
            late.setattr(first, "invitation_with", lambda *_given: SimpleNamespace())
            status, said = typed(browser, "/first", code="gone", **own)
            assert (status, first.NO_FIRST in said) == (403, True)
        page = page_of(browser.get("/first"))
        answer = browser.post("/first", data=page.form("/first").data(code="first", **own))
        assert answer.headers["location"] == "/me"
        assert "Olive" in browser.get("/me").text
        assert browser.get("/first").headers["location"] == "/sign-in"


def test_a_first_owner_has_a_name_of_their_own(tmp_path: Path) -> None:
    """The name under which all was stored before anybody signed in is told as taken, with what was
    typed still there, and the code stays good."""
    own = {"code": "first", "password": PASSWORD, "again": PASSWORD}
    with nobody_yet(tmp_path) as browser:
        status, said = typed(browser, "/first", name="Site manager", **own)
        assert status == 422
        assert first.TAKEN.format(name="Site manager") in said
        assert 'value="Site manager"' in said
        page = page_of(browser.get("/first")).form("/first").data(name="Olive", **own)
        assert browser.post("/first", data=page).headers["location"] == "/me"


def test_codes_are_tried_a_few_times(tmp_path: Path) -> None:
    """After five wrong ones whoever tries has to wait, at the first start as with a link."""
    own = {"password": PASSWORD, "again": PASSWORD}
    with nobody_yet(tmp_path) as browser:
        for _number in range(FREE):
            assert typed(browser, "/invited", code="wrong", **own)[0] == 403
        status, said = typed(browser, "/invited", code="wrong", **own)
        assert (status, "Try again in 2 seconds." in said) == (429, True)
        status, said = typed(browser, "/first", code="first", name="Olive", **own)
        assert (status, "Try again in 2 seconds." in said) == (429, True)


def test_a_link_that_was_used_meanwhile_sets_no_password(
    small: Wash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two who choose by the same link: the second is told that the code is used."""
    held = SimpleNamespace(person_id=small.people[MANAGER])
    monkeypatch.setattr(first, "invitation_with", lambda *_given: held)
    with small.browser() as browser:
        status, said = typed(browser, "/invited", code="used", password=PASSWORD, again=PASSWORD)
        assert (status, first.NO_CODE in said) == (403, True)


# ---- one's own ways in ---------------------------------------------------------------------------


def test_one_time_passwords_are_asked_for_no_more(small: Wash) -> None:
    """Set up, then off with the present password; a set-up that took too long is begun again."""
    with small.browser(MANAGER) as browser:
        web = small.app.state.web
        data = page_of(browser.get("/me")).form("/me/one-time").data(present=PASSWORD, do="on")
        confirm = page_of(browser.post("/me/one-time", data=data)).form("/me/one-time")
        late = browser.post("/me/one-time", data=confirm.data(code="0", sealed="made up"))
        assert late.headers["location"] == "/me"
        with people_gate(web.database, web.settings.clock()) as people:
            people.set_one_time(small.people[MANAGER], "A" * 32)
        assert "They are asked for." in browser.get("/me").text
        browser.post("/me/one-time", data=data | {"do": "off"})
        assert "They are asked for." not in browser.get("/me").text
        assert not next(o for o in members_of(web.database) if o.name == NAMES[MANAGER]).one_time


def test_the_present_password_is_tried_a_few_times(small: Wash) -> None:
    """After five wrong ones even the right one has to wait before a way in changes."""
    with small.browser(MANAGER) as browser:
        data = page_of(browser.get("/me")).form("/me/one-time").data(do="on")
        for _number in range(FREE):
            answer = browser.post("/me/one-time", data=data | {"present": "wrong"})
            assert answer.status_code == 422
        answer = browser.post("/me/one-time", data=data | {"present": PASSWORD})
        assert "Try again in 2 seconds." in answer.text


def test_a_bare_address_has_no_passkeys(small: Wash) -> None:
    """Neither to make one nor to sign in by one; it says what they need."""
    words = {"problem": "Passkeys need HTTPS and a name in place of a bare address."}
    with small.browser(MANAGER, BARE) as browser:
        token = token_of(browser)
        asked = browser.post("/me/passkey/ask", data=token | {"present": PASSWORD})
        assert (asked.status_code, asked.json()) == (422, words)
        assert browser.post("/me/passkey", data=token).status_code == 422
    with small.browser(address=BARE) as browser:
        asked = browser.post("/sign-in/passkey/ask", data=token_of(browser, "/sign-in"))
        assert (asked.status_code, asked.json()) == (403, words)


def test_a_passkey_that_was_not_asked_for_is_not_kept(small: Wash) -> None:
    """Without a challenge, or with an answer that does not fit it, nothing is stored."""
    words = {"problem": "This passkey did not answer as it should. Try once more."}
    with small.browser(MANAGER) as browser:
        token = token_of(browser)
        kept = browser.post("/me/passkey", data=token | {"answer": "{}"})
        assert (kept.status_code, kept.json()) == (422, words)
        asked = browser.post("/me/passkey/ask", data=token | {"present": PASSWORD})
        assert asked.json()["user"]["name"] == NAMES[MANAGER]
        kept = browser.post("/me/passkey", data=token | {"answer": "{}"})
        assert (kept.status_code, kept.json()) == (422, words)


def test_passkeys_are_tried_a_few_times(small: Wash) -> None:
    """An answer of a passkey that nobody has counts as a try like any other."""
    with small.browser() as browser:
        data = token_of(browser, "/sign-in") | {"answer": "{}"}
        for _number in range(FREE):
            assert browser.post("/sign-in/passkey", data=data).status_code == 403
        waits = browser.post("/sign-in/passkey", data=data)
        assert (waits.status_code, "seconds" in waits.json()["problem"]) == (429, True)


def test_who_was_never_signed_in_signs_out_all_the_same(small: Wash) -> None:
    """The form of a page that lay open leads to signing in, whoever sends it."""
    with small.browser() as browser:
        answer = browser.post("/sign-out", data=token_of(browser, "/sign-in"))
        assert answer.headers["location"] == "/sign-in"


def test_a_phone_whose_link_is_taken_back_signs_in_like_any_browser(small: Wash) -> None:
    """Its names are shown no more, and six digits open nothing."""
    web = small.app.state.web
    with small.browser(PHONE) as phone, small.browser(OWNER) as owner:
        assert NAMES["attendant"] in phone.get("/sign-in").text
        token = token_of(owner, f"/{OWN}/phones")
        owner.post(f"/{OWN}/phones/revoke", data=token | {"phone": "1"})
        page = phone.get("/sign-in")
        assert NAMES["attendant"] not in page.text
        sent = token_of(phone, "/sign-in") | {"name": NAMES["attendant"], "pin": PIN}
        assert phone.post("/sign-in", data=sent).status_code == 403
    assert sessions_of(web.database, small.people["attendant"])


# ---- people --------------------------------------------------------------------------------------


def test_people_are_told_by_their_ways_in_and_by_what_was_changed(small: Wash) -> None:
    """Password, one-time password, passkey; a name is taken once; a new link; sessions that are
    ended; and a sentence of history for each."""
    web = small.app.state.web
    with small.browser(OWNER) as owner:

        def line() -> str:
            return " ".join(html.unescape(owner.get("/people").text).split())

        token = token_of(owner, "/people")
        assert "A password alone." in line()
        with people_gate(web.database, web.settings.clock()) as people:
            people.set_one_time(small.people[MANAGER], "A" * 32)
        assert "Password and one-time password." in line()
        with people_gate(web.database, web.settings.clock()) as people:
            people.add_passkey(small.people[MANAGER], "key", "public", 0, "Phone")
        assert "A passkey." in line()
        assert f"passkeys or one-time passwords of {NAMES[MANAGER]} were changed." in line()

        twice = owner.post("/people", data=token | {"name": NAMES[MANAGER].upper(), "role": OWNER})
        assert twice.status_code == 422
        assert "There is somebody of the name" in html.unescape(twice.text)

        new = owner.post("/people/renew", data=token | {"person": small.people[MANAGER]})
        assert "/invited/" in new.text
        assert f"a link or code for {NAMES[MANAGER]}." in line()

        assert sessions_of(web.database, small.people[MANAGER])
        owner.post("/people/sign-out", data=token | {"person": small.people[MANAGER]})
        assert not sessions_of(web.database, small.people[MANAGER])

        owner.post("/people/let-go", data=token | {"person": small.people[MANAGER]})
        assert f"{NAMES[MANAGER]} was let go." in line()


def test_the_only_owner_who_can_sign_in_stays(small: Wash) -> None:
    """An owner who was let in but has chosen no password yet is none to leave the place to."""
    web = small.app.state.web
    with small.browser(OWNER) as owner:
        token = token_of(owner, "/people")
        owner.post("/people", data=token | {"name": "Nora New", "role": OWNER})
        own = token | {"person": small.people[OWNER]}
        answer = owner.post("/people/let-go", data=own)
        assert answer.status_code == 409
        assert "is the only owner" in html.unescape(answer.text)
        second = next(one for one in members_of(web.database) if one.name == "Nora New")
        with people_gate(web.database, web.settings.clock()) as people:
            people.set_password(second.id, web.passwords.hash(PASSWORD))
        assert owner.post("/people/let-go", data=own).status_code == 303
