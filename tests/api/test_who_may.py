"""Which program may ask for what: every address by every scope at an own and at another site,
without a token, with one that has ended; and the page that makes tokens."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.access.table import API, ATTENDANT, BY_ROUTE, MANAGER, OWNER, SCOPES
from app.sites.people import people_gate
from app.sites.programs import tokens_of
from tests.access.signed import ELSEWHERE, OTHER, OWN, Wash, wash
from tests.api.programs import Program, is_problem, let_in
from tests.demo_app import app_of, begin_nothing, demo_client, every_route
from tests.pages.pages import page_of

FILLED = {"day": "2026-07-14", "key": "x"}
PASSED = {
    "GET /api/v1/sites": 200,
    "PUT /api/v1/sites/{slug}/log/{key}": 422,
    "PUT /api/v1/sites/{slug}/log/{key}/struck": 422,
    "POST /api/v1/sites/{slug}/log": 400,
    "POST /api/v1/sites/{slug}/weighings": 400,
    "PUT /api/v1/sites/{slug}/counts": 422,
    "POST /api/v1/sites/{slug}/work": 422,
    "GET /api/v1/sites/{slug}/log/{key}": 404,
    "GET /api/v1/sites/{slug}/work/{key}": 404,
}
"""What a request without a body gets that the table lets in; 200 unless told."""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Wash]:
    """An installation with somebody of each role; what is asked for is not worked out."""
    folder = tmp_path_factory.mktemp("programs")
    with pytest.MonkeyPatch.context() as patch, wash(folder) as made:
        begin_nothing(patch)
        yield made


def of_programs(small: Wash) -> list[tuple[str, str]]:
    """Routes of the interface that need a token."""
    every = [one for one in every_route(small.app) if one[1].startswith(f"{API}/")]
    return [(method, path) for method, path in every if BY_ROUTE[f"{method} {path}"].scope]


def test_every_route_by_every_scope_at_own_and_other_sites(small: Wash) -> None:
    """A token of one scope at one site gets as far as its row of the table says, and no further:
    403 for another scope, 404 for another site, also where its maker owns that; 401 without one."""
    asked = 0
    with small.browser() as client:
        nobody = Program(client, "unknown")
        for scope in SCOPES:
            token = let_in(small.app, scope, (scope,), (1,), small.people[OWNER])
            program = Program(client, token)
            for method, path in of_programs(small):
                row = BY_ROUTE[f"{method} {path}"]
                for slug in (OWN, OTHER) if "{slug}" in path else ("",):
                    address = path.removeprefix(API).format(slug=slug, **FILLED)
                    answer = program.ask(method, address)
                    if row.scope != scope:
                        is_problem(answer, 403, "scope")
                        assert f'scope="{row.scope}"' in answer.headers["www-authenticate"]
                    elif slug == OTHER:
                        is_problem(answer, 404, "not-here")
                    else:
                        expected = PASSED.get(f"{method} {path}", 200)
                        assert answer.status_code == expected, (scope, method, path, answer.text)
                    asked += 1
        for method, path in of_programs(small):
            address = path.removeprefix(API).format(slug=OWN, **FILLED)
            is_problem(nobody.ask(method, address), 401, "token-refused")
    assert asked > 140


def test_the_description_is_open_and_tells_of_no_site(small: Wash) -> None:
    """Whoever asks reads what may be asked here; that cookies open nothing else is tried with every
    route of the pages."""
    with small.browser() as browser:
        said = browser.get(f"{API}/openapi.json")
        assert said.status_code == 200
        assert "Mill Lane" not in said.text
        assert "mill-lane" not in said.text


def test_a_token_opens_no_page(small: Wash) -> None:
    """With a token of the owner's no page opens: a browser without a cookie has to sign in."""
    token = let_in(small.app, "till", SCOPES, (1, 2), small.people[OWNER])
    with small.browser() as client:
        for page in ("/sites", f"/{OWN}/today", "/people", "/people/programs"):
            answer = client.get(page, headers={"Authorization": f"Bearer {token}"})
            assert answer.status_code == 303, page


def test_a_token_ends(tmp_path: Path) -> None:
    """It opens nothing once its time is over, once it is taken back, and once whoever made it is
    let go, also after that one is let in again; and never more than its maker may open."""
    with wash(tmp_path) as small, small.browser() as client:
        short = Program(client, let_in(small.app, "short", days=1.0, person_id=small.people[OWNER]))
        manager = small.people[MANAGER]
        wide = Program(client, let_in(small.app, "wide", ("read",), (1, 2), manager))
        assert [one["slug"] for one in short.get("/sites")["items"]] == [OWN]
        assert [one["slug"] for one in wide.get("/sites")["items"]] == [OWN], "as its maker"
        small.later(days=1)
        is_problem(short.ask("GET", "/sites"), 401, "token-refused")
        assert wide.ask("GET", "/sites").status_code == 200
        now = small.app.state.web.settings.clock()
        with people_gate(small.app.state.web.database, now) as people:
            people.let_go(manager)
            is_problem(wide.ask("GET", "/sites"), 401, "token-refused")
            people.invite("Max Manager", MANAGER, [1])
        is_problem(wide.ask("GET", "/sites"), 401, "token-refused")


def test_a_token_of_nobody_opens_where_nobody_signs_in(small: Wash, tmp_path: Path) -> None:
    """One that was made in a demo, where nobody signs in, holds there, on that machine alone; where
    people sign in it does not."""
    with small.browser() as client:
        is_problem(
            Program(client, let_in(small.app, "old")).ask("GET", "/sites"), 401, "token-refused"
        )
    with demo_client(tmp_path / "demo") as client:
        token = let_in(app_of(client), "demo")
        assert Program(client, token).ask("GET", "/sites").status_code == 200
        far = TestClient(app_of(client), base_url="http://localhost", client=ELSEWHERE)
        is_problem(Program(far, token).ask("GET", "/sites"), 403, "scope")


def test_a_day_of_which_nothing_is_known_has_nothing_to_work_out(small: Wash) -> None:
    """At a site without counts an answer is not to be had, and is told so with why."""
    with small.browser() as client:
        program = Program(client, let_in(small.app, "early", person_id=small.people[OWNER]))
        told = program.get(f"/sites/{OWN}/days/2026-07-18/plan")
        assert (told["state"], told["answer"]) == ("nothing", None)
        assert told["says"]
        sent = {"kind": "plan", "day": "2026-07-18"}
        is_problem(program.ask("POST", f"/sites/{OWN}/work", json=sent), 422, "values")


# ---- the page ------------------------------------------------------------------------------------


def test_the_page_makes_a_token_and_takes_it_back(small: Wash) -> None:
    """A manager makes one for what and where he chooses; it is shown once, of it a digest is kept,
    it does what was chosen, the page tells when it was used, and it is taken back at a press."""
    with small.browser(MANAGER) as browser, small.browser() as client:
        form = page_of(browser.get("/people/programs")).form("/people/programs")
        data = form.data(name="Till <1>")
        answer = browser.post("/people/programs", data=data | {"may": ["read", "log"]})
        said = html.unescape(answer.text)
        found = re.search(r'<code class="link">([A-Za-z0-9_-]{43})</code>', answer.text)
        assert found is not None
        assert "Till &lt;1&gt;" in answer.text
        program = Program(client, found[1])
        assert program.ask("GET", f"/sites/{OWN}/log").status_code == 200
        is_problem(program.ask("POST", f"/sites/{OWN}/work"), 403, "scope")
        said = html.unescape(browser.get("/people/programs").text)
        assert found[1] not in said
        assert "Last used 2026-07-15." in said
        held = (small.app.state.web.settings.database_path).read_bytes()
        assert found[1].encode() not in held
        back = page_of(browser.get("/people/programs")).form("/people/programs/take-back")
        assert browser.post("/people/programs/take-back", data=back.data()).status_code == 303
        is_problem(program.ask("GET", "/sites"), 401, "token-refused")
        assert "Taken back" in browser.get("/people/programs").text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"name": ""}, "can’t be a name"),
        ({"name": "=1"}, "can’t be a name"),
        ({"may": []}, "Choose at least one thing"),
        ({"site": ["2"]}, "Choose a site at least"),
        ({"days": "9000"}, "Choose how long it lasts"),
    ],
)
def test_what_can_not_be_is_told_and_nothing_typed_is_lost(
    small: Wash, typed: dict[str, object], says: str
) -> None:
    """Each field that can't be is told beside it, the site of somebody else included; no token is
    made, and the name that was typed stays."""
    with small.browser(MANAGER) as browser:
        form = page_of(browser.get("/people/programs")).form("/people/programs")
        data = form.data(name="The till") | {"may": ["read"], "days": "30"} | typed
        answer = browser.post("/people/programs", data=data)
        assert answer.status_code == 422
        assert says in html.unescape(answer.text)
        assert "name" in typed or 'value="The till"' in answer.text
        assert ">The till<" not in answer.text


def test_a_manager_takes_back_what_is_his_alone(small: Wash) -> None:
    """A token that is for other sites too is the owner's; an attendant has no such page."""
    let_in(small.app, "both", SCOPES, (1, 2), small.people[OWNER])
    newest = str(tokens_of(small.app.state.web.database)[-1].id)
    with small.browser(MANAGER) as browser, small.browser(OWNER) as owner:
        page = browser.get("/people/programs")
        assert ">both<" not in page.text
        data = page_of(page).form("/people/programs").data() | {"program": newest}
        assert browser.post("/people/programs/take-back", data=data).status_code == 404
        back = page_of(owner.get("/people/programs")).form("/people/programs/take-back").data()
        back |= {"program": newest}
        assert owner.post("/people/programs/take-back", data=back).status_code == 303
    with small.browser(ATTENDANT) as browser:
        assert browser.get("/people/programs").status_code == 403
