"""Signing in and out, invitations, recovery, short codes, screens: as browsers meet them; and every
route asked for by everybody."""

from __future__ import annotations

import html
import re
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urldefrag, urlsplit

import pytest
from fastapi import HTTPException
from fastapi.testclient import TestClient

from app import main
from app.access.one_time import password_at
from app.access.table import ATTENDANT, BY_ROUTE, MANAGER, NOBODY, OWNER, PHONE, ROLES, SCREEN
from app.answers.studies.runner import Runner
from app.sites.people import members_of, sessions_of
from app.sites.reading import gate
from sim.inputs import StaffBook
from sim.inputs.roster import PlannedShift
from tests.access.signed import (
    ADDRESS,
    NAMES,
    OTHER,
    OWN,
    PASSWORD,
    PIN,
    Wash,
    sign_in_again,
    wash,
)
from tests.demo_app import HERE, TODAY, begin_nothing, every_route
from tests.pages.pages import page_of

ADMITTED = 418
FILLED = {
    "day": "2026-07-18", "week": "2026-07-13", "number": "1", "key": "x", "group": "line",
    "name": "people", "secret": "x" * 43,
}  # fmt: skip
SECRET = re.compile(r"/invited/([A-Za-z0-9_-]{43})")


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Wash]:
    """An installation with somebody of each role; what pages begin is not worked out."""
    begin_nothing(monkeypatch)
    with wash(tmp_path) as made:
        yield made


def test_every_route_by_every_role_at_own_and_other_sites(
    small: Wash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever the table lets in gets as far as the form's token; everybody else is led to sign in,
    refused, or told that there is no such site, and gets no further."""

    def admitted() -> None:
        raise HTTPException(ADMITTED)

    monkeypatch.setattr(main, "guard", admitted)
    made = main.routes_of.__wrapped__  # the app's own, behind another guard; none of them is kept
    statics, *_guarded, interface = small.app.router.routes
    small.app.router.routes[:] = [statics, *made(True), *made(False), interface]
    asked = 0
    for role in ROLES:
        with small.browser(role) as browser:
            for method, gaps in every_route(small.app):
                for slug in (OWN, OTHER) if "{slug}" in gaps else ("",):
                    path = gaps.format(slug=slug, **FILLED)
                    answer = browser.request(method, path)
                    row = BY_ROUTE[f"{method} {gaps}"]
                    is_own = slug != OTHER or role == OWNER or row.roles == ROLES
                    expected = ADMITTED
                    if row.page == "api":
                        expected = 401 if row.scope else 200  # a browser's cookies count for none
                    elif role not in row.roles:
                        signs_in = 303 if method == "GET" else 401
                        expected = signs_in if role == NOBODY else 403
                    elif not is_own:
                        expected = 404
                    assert answer.status_code == expected, (role, method, path)
                    asked += 1
    assert asked > 1_000


def test_pages_of_people_are_never_kept(small: Wash) -> None:
    """What has ways in, names or shifts says that no browser and nothing between may store it, to
    whoever is let in as to whoever is not (RFC 9111, section 5.2.2.5); a page with a form of the
    site may be kept, so that going back finds what was typed, and is asked for anew else."""
    people = ("/people", "/me", "/people/programs", f"/{OWN}/phones", f"/{OWN}/roster",
              f"/{OWN}/sheet", "/sign-in", "/invited", "/first", "/api/v1/sites")  # fmt: skip
    for role in (OWNER, NOBODY):
        with small.browser(role) as browser:
            for path in people:
                assert browser.get(path).headers["cache-control"] == "no-store", (role, path)
            for path in (f"/{OWN}/site", f"/{OWN}/logbook", "/guide"):
                assert browser.get(path).headers["cache-control"] == "private, no-cache", path
    with small.browser(ATTENDANT) as browser:
        assert browser.get(f"/{OWN}/shifts").headers["cache-control"] == "no-store"


@pytest.mark.parametrize("role", [ATTENDANT, PHONE, SCREEN])
def test_no_page_leads_where_its_reader_may_not_go(small: Wash, role: str) -> None:
    """From the first page on, every link and every form of the pages of an attendant, a phone and
    a screen is one that they may use; guides are for everybody and speak of all pages."""
    with small.browser(role) as browser:
        waiting, seen = deque(["/"]), {"/"}
        while waiting:
            path = waiting.popleft()
            answer = browser.get(path)
            assert answer.status_code in (200, 303), (role, path)
            if answer.status_code == 303:
                found = [answer.headers["location"]]
            else:
                page = page_of(answer)
                is_text = path.startswith(("/guide/", "/about"))
                found = [urldefrag(link).url for link in page.links if link[:1] == "/"]
                found = [] if is_text else found
                for form in page.forms:
                    sent = browser.post(form.action, data={})
                    assert "<h1>Not stored" in sent.text, (role, form.action)
            for link in found:
                sort = re.sub(r"\d[\d-]*", "#", urlsplit(link).path)
                if sort not in seen and not sort.startswith("/static"):
                    seen.add(sort)
                    waiting.append(link)
    assert len(seen) > 3


# ---- the first start -----------------------------------------------------------------------------


def fields_of(browser: TestClient, path: str, action: str, **typed: str | None) -> dict[str, Any]:
    """A form of a page with what was typed in it."""
    found: dict[str, Any] = page_of(browser.get(path)).form(action).data(**typed)
    return found


def signs_in(
    browser: TestClient, name: str, password: str = PASSWORD, code: str = ""
) -> tuple[int, str]:
    """Status and text of a try to sign in."""
    data = fields_of(browser, "/sign-in", "/sign-in", name=name, password=password, code=code)
    answer = browser.post("/sign-in", data=data)
    return answer.status_code, html.unescape(answer.text)


def test_signing_in_makes_session_and_visit_anew(small: Wash) -> None:
    """The cookie of before opens nothing; after signing in there is another, and a form that was
    drawn before is refused; signing out ends the session on the server too."""
    with small.browser() as browser:
        answer = browser.get("/mill-lane/plan/2026-07-18?tour=1")
        assert (
            answer.headers["location"]
            == "/sign-in?then=%2Fmill-lane%2Fplan%2F2026-07-18%3Ftour%3D1"
        )
        page = browser.get(answer.headers["location"])
        data = page_of(page).form("/sign-in").data(name="olive owner", password=PASSWORD)
        before = dict(browser.cookies)
        answer = browser.post("/sign-in", data=data)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/mill-lane/plan/2026-07-18?tour=1"
        after = dict(browser.cookies)
        assert after["clothcast_visit_8000"] != before["clothcast_visit_8000"]
        assert browser.get("/people").status_code == 200
        old = {"form_token": data["form_token"][0]}
        assert browser.post("/people", data=old).status_code == 403
        data = fields_of(browser, "/me", "/sign-out")
        assert browser.post("/sign-out", data=data).headers["location"] == "/sign-in"
        browser.cookies.set("clothcast_session_8000", after["clothcast_session_8000"])
        assert browser.get("/people").status_code == 303


def test_signing_out_clears_what_the_browser_kept(small: Wash) -> None:
    """The answer tells the browser to forget its copies of pages (W3C Clear Site Data, section 3.1)
    and to keep what a phone has yet to send; the cookie of the session goes."""
    with small.browser(OWNER) as browser:
        answer = browser.post("/sign-out", data=fields_of(browser, "/me", "/sign-out"))
        assert answer.headers["clear-site-data"] == '"cache"'
        gone = answer.headers["set-cookie"]
        assert gone.startswith('clothcast_session_8000=""')
        assert "Max-Age=0" in gone


def test_a_person_is_one_in_every_browser(small: Wash, monkeypatch: pytest.MonkeyPatch) -> None:
    """What somebody has open and has sent is counted for the person, whatever the browser; two
    browsers at which nobody is signed in are two."""
    seen: list[str] = []
    asked_by = Runner.asked_by

    def noted(runner: Runner, asker: str) -> Runner:
        seen.append(asker)
        return asked_by(runner, asker)

    monkeypatch.setattr(Runner, "asked_by", noted)

    def askers(role: str) -> set[str]:
        seen.clear()
        for _number in range(2):
            with small.browser(role) as browser:
                browser.get("/guide")
                browser.get("/guide")
        return set(seen)

    owner, manager, nobody = askers(OWNER), askers(MANAGER), askers(NOBODY)
    assert (len(owner), len(manager)) == (1, 1)
    assert len(nobody) > 1
    assert not owner & manager


def test_every_page_has_a_way_out(small: Wash) -> None:
    """Whoever is signed in finds on each page the link to the page that signs him out."""
    with small.browser(OWNER) as browser:
        for path in ("/people", "/sites", "/guide", f"/{OWN}/logbook", f"/{OWN}/site"):
            assert "/me" in page_of(browser.get(path)).links, path
        assert page_of(browser.get("/me")).form("/sign-out").action == "/sign-out"


def test_fields_are_of_the_kind_that_browsers_help_with(small: Wash) -> None:
    """Passwords are hidden while they are typed, and tell a password manager what they are; nothing
    forbids to paste."""
    with small.browser() as browser:
        text = browser.get("/sign-in").text
        assert re.search(r'<input[^>]*type="password"[^>]*autocomplete="current-password"', text)
    with small.browser(OWNER) as browser:
        text = browser.get("/me").text
        assert 'autocomplete="new-password"' in text
        named = re.findall(r"<input[^>]*name=\"(?:present|password|again)\"[^>]*>", text)
        assert named
        assert all('type="password"' in one for one in named)
        assert "onpaste" not in text


@pytest.mark.parametrize(
    "then", ["//evil.example/", "https://evil.example", "/\\evil.example", "x"]
)
def test_signing_in_leads_to_no_other_server(small: Wash, then: str) -> None:
    """Only a page of this server can be led on to."""
    with small.browser() as browser:
        data = fields_of(browser, "/sign-in", "/sign-in", name=NAMES[OWNER], password=PASSWORD)
        answer = browser.post("/sign-in", data={**data, "then": then})
        assert answer.headers["location"] == "/"


def test_what_was_wrong_is_not_told(small: Wash) -> None:
    """A wrong password and a name that is not there get the same answer, and what was typed as a
    name is kept."""
    with small.browser() as browser:
        told = set()
        for name, word in ((NAMES[MANAGER], "x" * 20), ("Nobody There", PASSWORD)):
            status, said = signs_in(browser, name, word)
            told.add((status, re.findall(r'class="problems".*?</h2>', said)[0]))
        assert len(told) == 1
        assert next(iter(told))[0] == 403
        data = fields_of(browser, "/sign-in", "/sign-in", name="Nobody There", password="x" * 20)
        answer = browser.post("/sign-in", data=data)
        assert 'value="Nobody There"' in answer.text
        assert "x" * 20 not in answer.text


def test_wrong_tries_wait_but_never_keep_the_owner_out(small: Wash) -> None:
    """After five wrong tries even the right password has to wait; at the machine itself it does
    not; and after the wait it is taken from elsewhere too."""
    with small.browser() as guesser, small.browser(at=HERE) as here:
        for _number in range(5):
            assert signs_in(guesser, NAMES[OWNER], "wrong" * 4)[0] == 403
        status, said = signs_in(guesser, NAMES[OWNER])
        assert (status, "Try again in 2 seconds." in said) == (429, True)
        assert signs_in(here, NAMES[OWNER])[0] == 303
        small.later(seconds=2)
        assert signs_in(guesser, NAMES[OWNER])[0] == 303


def test_a_session_ends_when_it_is_left_alone(small: Wash) -> None:
    """An hour without a page, or a day in all, and a manager has to sign in again."""
    with small.browser(MANAGER) as browser:
        for _hour in range(3):
            small.later(minutes=50)
            assert browser.get("/sites").status_code == 200
        small.later(minutes=62)
        assert browser.get("/sites").status_code == 303
    sign_in_again(small, MANAGER)
    with small.browser(MANAGER) as browser:
        for _hour in range(28):
            small.later(minutes=50)
            browser.get("/sites")
        small.later(minutes=41)
        assert browser.get("/sites").status_code == 303, "a day is over"


# ---- one's own ways in ---------------------------------------------------------------------------


def test_one_time_passwords_are_set_up_and_asked_for(small: Wash) -> None:
    """Set up with the present password and confirmed by one that the app shows, a one-time password
    is needed from then on, and each is taken once."""
    with small.browser(MANAGER) as browser, small.browser(at=HERE) as other:
        data = fields_of(browser, "/me", "/me/one-time", present="not mine at all", do="on")
        assert browser.post("/me/one-time", data=data).status_code == 422
        answer = browser.post("/me/one-time", data=data | {"present": PASSWORD})
        found = re.search(r'<code class="link">([A-Z2-7]{32})</code>', answer.text)
        assert found is not None
        confirm = page_of(answer).form("/me/one-time")
        assert browser.post("/me/one-time", data=confirm.data(code="000000")).status_code == 422
        now = small.app.state.web.settings.clock()
        code = password_at(found[1], now)
        assert browser.post("/me/one-time", data=confirm.data(code=code)).status_code == 303
        assert "They are asked for." in browser.get("/me").text
        assert signs_in(other, NAMES[MANAGER])[0] == 403
        assert signs_in(other, NAMES[MANAGER], code=code)[0] == 403, "it was used to confirm"
        small.later(seconds=60)
        fresh = password_at(found[1], small.app.state.web.settings.clock())
        assert signs_in(other, NAMES[MANAGER], code=fresh)[0] == 303
        other.cookies.clear()
        assert signs_in(other, NAMES[MANAGER], code=fresh)[0] == 403


def test_a_new_password_signs_out_everywhere_else(small: Wash) -> None:
    """Changed by whoever knows the present one, it ends every other session of his alone."""
    with small.browser(MANAGER) as browser, small.browser(at=HERE) as other:
        assert signs_in(other, NAMES[MANAGER])[0] == 303
        new = "five other plain words"
        data = fields_of(
            browser, "/me", "/me/password", present=PASSWORD, password=new, again="another"
        )
        assert browser.post("/me/password", data=data).status_code == 422
        answer = browser.post("/me/password", data=data | {"again": new})
        assert answer.status_code == 303
        assert browser.get("/me").status_code == 200
        assert other.get("/me").status_code == 303
        other.cookies.clear()
        assert signs_in(other, NAMES[MANAGER])[0] == 403
        assert signs_in(other, NAMES[MANAGER], new)[0] == 303
        browser.post("/me/sign-out", data=fields_of(browser, "/me", "/me/sign-out"))
        assert other.get("/me").status_code == 303
    with small.browser(OWNER) as owner:
        assert owner.get("/me").status_code == 200


# ---- people --------------------------------------------------------------------------------------


def test_an_invitation_is_used_once(small: Wash) -> None:
    """The owner invites a manager of one site by a link that is shown once; by it a password is
    chosen, that is all it does, and it stands in the history."""
    with small.browser(OWNER) as owner, small.browser() as guest:
        data = fields_of(owner, "/people", "/people", name="Nora New", role="manager")
        answer = owner.post("/people", data=data)
        assert answer.status_code == 422
        assert "Choose a site at least" in answer.text
        answer = owner.post("/people", data=data | {"site": ["2"]})
        found = SECRET.search(answer.text)
        assert found is not None
        assert found[1] not in owner.get("/people").text
        link = f"/invited/{found[1]}"
        assert "Nora New, choose a password." in guest.get(link).text
        form = page_of(guest.get(link)).form("/invited")
        short = guest.post("/invited", data=form.data(password=OTHER, again=OTHER))
        assert short.status_code == 422
        word = "words of a new manager"
        data = form.data(password=word, again=word)
        assert guest.post("/invited", data=data).headers["location"] == "/me"
        assert guest.get(f"/{OTHER}/site").status_code == 200
        assert guest.get(f"/{OWN}/site").status_code == 404
        assert guest.get(link).status_code == 403
        assert "Nora New was let in as manager." in owner.get("/people").text


def test_a_manager_looks_after_attendants_of_his_sites_alone(small: Wash) -> None:
    """He may give attendants of his sites a new code and let them go; nobody else, and nobody at
    other sites, whatever the form says."""
    web = small.app.state.web
    with small.browser(MANAGER) as browser:
        page = browser.get("/people")
        assert NAMES[OWNER] not in page.text
        data = fields_of(browser, "/people", "/people", name="Bo", role="owner")
        assert browser.post("/people", data=data).status_code == 422
        data |= {"role": "attendant", "site": ["2"]}
        assert browser.post("/people", data=data).status_code == 422
        token = {"form_token": data["form_token"]}
        for act in ("renew", "let-go", "sign-out"):
            sent = browser.post(f"/people/{act}", data=token | {"person": small.people[OWNER]})
            assert sent.status_code == 404
        answer = browser.post("/people/renew", data=token | {"person": small.people[ATTENDANT]})
        assert re.search(r'<code class="link">\d{6}</code>', answer.text)
        gone = browser.post("/people/let-go", data=token | {"person": small.people[ATTENDANT]})
        assert gone.status_code == 303
    assert NAMES[ATTENDANT] not in {one.name for one in members_of(web.database)}
    with small.browser(ATTENDANT) as gone_one:
        assert gone_one.get(f"/{OWN}/sheet").status_code == 403, "the phone's link is left"


def test_the_only_owner_stays(small: Wash) -> None:
    """Nobody can let the only owner go."""
    with small.browser(OWNER) as owner:
        token = fields_of(owner, "/people", "/people")["form_token"]
        answer = owner.post(
            "/people/let-go", data={"form_token": token, "person": small.people[OWNER]}
        )
        assert answer.status_code == 409
        assert "is the only owner" in html.unescape(answer.text)
        assert owner.get("/people").status_code == 200


# ---- the crew's phone and screen -----------------------------------------------------------------


def test_a_short_code_works_on_a_phone_that_was_let_in(small: Wash) -> None:
    """On the phone an attendant chooses a name and types six digits; elsewhere the same code is
    nothing, and when the phone's link is taken back the session is over too."""
    web = small.app.state.web
    with small.browser() as elsewhere:
        assert signs_in(elsewhere, NAMES[ATTENDANT], PIN)[0] == 403
        data = fields_of(elsewhere, "/sign-in", "/sign-in", name=NAMES[ATTENDANT], code=None)
        data.pop("password")
        assert elsewhere.post("/sign-in", data=data | {"pin": PIN}).status_code == 403
    with small.browser(PHONE) as phone:
        page = page_of(phone.get("/sign-in"))
        assert phone.get(f"/{OWN}/sheet").status_code == 403
        data = page.forms[0].data(name=NAMES[ATTENDANT], pin="000000")
        assert phone.post("/sign-in", data=data).status_code == 403
        data = page_of(phone.get("/sign-in")).forms[0].data(name=NAMES[ATTENDANT], pin=PIN)
        assert phone.post("/sign-in", data=data).status_code == 303
        assert phone.get(f"/{OWN}/sheet").status_code == 200
        assert phone.get(f"/{OWN}/today").status_code == 403
        assert {one.phone_id for one in sessions_of(web.database, small.people[ATTENDANT])} == {1}
        with small.browser(MANAGER) as manager:
            token = fields_of(manager, f"/{OWN}/phones", f"/{OWN}/phones")["form_token"]
            manager.post(f"/{OWN}/phones/revoke", data={"form_token": token, "phone": "1"})
        assert phone.get(f"/{OWN}/sheet").status_code == 403
        assert phone.get(f"/{OWN}/logbook").status_code == 403


def test_an_attendant_sees_own_shifts_alone(small: Wash) -> None:
    """By the name as it is signed in, from today on; nobody else's."""
    web = small.app.state.web
    site = web.site_at(OWN)
    hours = (8 * 3600.0, 16 * 3600.0, 16 * 3600.0, 16 * 3600.0)
    shifts = tuple(
        PlannedShift(TODAY.replace(day=day), name, "", *hours)
        for day, name in ((14, "Ada Attendant"), (17, "ada attendant"), (16, "Bo Baker"))
    )
    with gate(web.database, web.now()) as opened:
        opened.set_book(site.id, "staff", StaffBook((), shifts), site.version, "roster")
    with small.browser(ATTENDANT) as browser:
        said = html.unescape(browser.get(f"/{OWN}/shifts").text)
    assert "You work on Friday 17 July" in said
    assert "Bo Baker" not in said
    assert "14 July" not in said


def test_a_screen_shows_the_sheet_and_asks_again(small: Wash) -> None:
    """Its link leads to today's sheet, which asks again by itself; nothing can be sent from it."""
    with small.browser() as screen:
        led = screen.get(f"/{OWN}/phone/{small.secrets[SCREEN]}")
        assert led.headers["location"] == f"/{OWN}/sheet"
        page = screen.get(led.headers["location"])
        assert page.status_code == 200
        assert "data-again=" in page.text
        assert page_of(page).forms == []


def test_a_manager_has_the_sites_that_he_makes(small: Wash) -> None:
    """A site that a manager sets up is his own; the change is told under his name."""
    with small.browser(MANAGER) as browser:
        data = fields_of(browser, "/sites", "/sites/demo")
        made = browser.post("/sites/demo", data=data)
        assert made.status_code == 303
        assert browser.get(made.headers["location"]).status_code == 200
        assert NAMES[MANAGER] in browser.get("/harbor-road/site").text


# ---- HTTPS, and who need not sign in -------------------------------------------------------------


def test_cookies_that_open_something_are_sealed_by_https(small: Wash) -> None:
    """By HTTPS they are named so that no other host can set them, and hold there alone."""
    with small.browser(address="https://localhost:8443", at=HERE) as browser:
        data = fields_of(browser, "/sign-in", "/sign-in", name=NAMES[OWNER], password=PASSWORD)
        answer = browser.post("/sign-in", data=data)
        told = answer.headers.get_list("set-cookie")
        assert {one.partition("=")[0] for one in told} == {
            "__Host-clothcast_session_8443", "__Host-clothcast_visit_8443",
        }  # fmt: skip
        for one in told:
            assert {"HttpOnly", "Path=/", "Secure"} <= set(one.split("; ")), one
            assert "domain" not in one.lower()
            assert "samesite=lax" in one.lower()


def test_a_script_is_told_that_nobody_is_signed_in(small: Wash) -> None:
    """What asks for JSON has the sentence in it, and a form is not led away."""
    with small.browser() as browser:
        answer = browser.get("/sites", headers={"Accept": "application/json"})
        assert answer.status_code == 401
        assert answer.json()["problem"].startswith("Nobody is signed in")
        assert browser.post(f"/{OWN}/logbook", data={}).status_code == 401


def test_guides_are_open_and_tell_nothing_of_a_site(small: Wash) -> None:
    """Whoever is not signed in reads the guides, without a word of the sites there are."""
    with small.browser() as browser:
        said = browser.get("/guide").text
        assert "Mill Lane" not in said
        assert "/sites" not in page_of(browser.get("/guide")).links


def test_addresses_of_tests_are_as_they_say() -> None:
    """The browsers here come by a name that the machine alone has, from another machine: only both
    together would make them the machine's own."""
    assert ADDRESS.startswith("http://localhost")
