"""The one table of who may do what: every route has its row, and whoever may not is refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.access import table
from app.access.table import (
    API,
    ATTENDANT,
    BY_ROUTE,
    MANAGER,
    NOBODY,
    OWNER,
    PHONE,
    PROGRAM,
    ROLES,
    SCOPES,
    SCREEN,
    TABLE,
    Visitor,
    may_ask,
)
from tests.demo_app import app_of, every_route
from tests.pages.pages import small_client

ATTENDANTS = {
    "api", "first", "guide", "logbook", "checks", "sheet", "shifts", "phones", "me", "sign-in",
}  # fmt: skip
"""Pages that an attendant has anything of: log, switch, checks, day sheet, own shifts, the guides,
how he is signed in, and the description of the interface for programs."""


def routes_of(client: TestClient) -> set[str]:
    """Method and path of every route of the app."""
    return {f"{method} {path}" for method, path in every_route(app_of(client))}


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser at an app with one site."""
    with small_client(tmp_path_factory.mktemp("table")) as made:
        yield made


def test_every_route_has_one_row(small: TestClient) -> None:
    """No route is without a row, no row without its routes, and none stands in two."""
    listed = [route for row in TABLE for route in row.routes]
    assert sorted(listed) == sorted(routes_of(small))
    assert len({(row.page, row.act) for row in TABLE}) == len(TABLE)


def test_a_route_without_a_row_is_refused_to_everybody(small: TestClient) -> None:
    """What the table lacks nobody may ask for, whatever he is."""
    for role in ROLES:
        assert not may_ask(Visitor(role, None), "GET /{slug}/planted", "mill-lane")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("app.pages.links.BY_ROUTE", {})
        patch.setattr(table, "BY_ROUTE", {})
        assert small.get("/mill-lane/today").status_code == 403


def test_an_attendant_has_the_crews_pages_and_nothing_else() -> None:
    """Log, switch, checks, day sheet, own shifts: no other row has an attendant in it, and of the
    crew's pages not what changes lists or files."""
    rows = [row for row in TABLE if ATTENDANT in row.roles]
    assert {row.page for row in rows} <= ATTENDANTS
    assert {row.act for row in rows if row.page in ("logbook", "checks")} == {"see", "log"}
    for role in (PHONE, SCREEN):
        assert {row.page for row in TABLE if role in row.roles} <= ATTENDANTS
    own = [row for row in TABLE if SCREEN in row.roles and row.roles != ROLES]
    assert all(route.startswith("GET ") for row in own for route in row.routes), "it only shows"


@pytest.mark.parametrize("role", ROLES)
def test_another_site_is_as_if_it_were_not_there(role: str) -> None:
    """Where a route is of a site, only whoever has that site may ask for it; the owner has all."""
    slugs = None if role == OWNER else frozenset({"mill-lane"})
    one = Visitor(role, slugs)
    for route, row in BY_ROUTE.items():
        if "{slug}" not in route or row.roles == ROLES or row.scope:
            continue  # a program's sites are tried in tests/api
        own, other = (may_ask(one, route, slug) for slug in ("mill-lane", "high-street"))
        assert own == (role in row.roles and role != NOBODY), (role, route)
        assert other == (own and role == OWNER), (role, route)


def test_a_manager_of_no_site_opens_none() -> None:
    """Without a site of his own a manager has the pages that need none."""
    one = Visitor(MANAGER, frozenset())
    assert may_ask(one, "GET /sites", None)
    assert not may_ask(one, "GET /{slug}/today", "mill-lane")
    assert may_ask(replace(one, slugs=None), "GET /{slug}/today", "mill-lane")


def test_acts_are_few_words_and_no_page_is_one() -> None:
    """What a row is part of and what it does there are not taken for each other."""
    acts = {"see", "change", "log", "make", "files", "keys", "trust", "open", "describe", *SCOPES}
    assert {row.act for row in TABLE} == acts
    assert not {row.page for row in TABLE} & acts
    assert {row.page for row in TABLE if row.is_open_here} == {"running"}


def test_a_program_has_the_scopes_of_its_token_at_its_sites() -> None:
    """Each route for programs by its own scope and no other; no person by any, nor a program what
    browsers ask for."""
    routes = {route: row for route, row in BY_ROUTE.items() if row.scope}
    assert {row.scope for row in routes.values()} == set(SCOPES)
    for scope in SCOPES:
        one = Visitor(PROGRAM, frozenset({"mill-lane"}), scopes=frozenset({scope}))
        for route, row in routes.items():
            assert row.roles == (PROGRAM,)
            assert f" {API}/" in route
            slug = "mill-lane" if "{slug}" in route else None
            assert may_ask(one, route, slug) == (row.scope == scope), route
            assert not may_ask(one, route, "high-street"), route
            assert not may_ask(Visitor(OWNER, None, scopes=frozenset(SCOPES)), route, slug)
        assert not may_ask(one, "GET /{slug}/today", "mill-lane")
    assert not may_ask(replace(one, scopes=frozenset()), "GET /{slug}/today", "mill-lane")


def test_of_some_sites_ones_own() -> None:
    """All of them for whoever has all; a stranger has none, a browser of the machine itself all."""
    sites = frozenset({"mill-lane", "high-street"})
    assert Visitor(MANAGER, frozenset({"mill-lane", "gone"})).where(sites) == {"mill-lane"}
    assert Visitor(OWNER, None).where(sites) == sites
    assert Visitor(MANAGER).where(sites) == frozenset()
    assert (table.HERE.role, table.HERE.where(sites)) == (MANAGER, sites)
    assert (table.STRANGER.role, table.STRANGER.where(sites)) == (NOBODY, frozenset())
    assert not table.STRANGER.may("today")
    assert table.HERE.may("today")
    assert table.HERE.may("plan", "change")


def test_acts_that_are_not_in_the_table_are_a_fault(tmp_path: Path) -> None:
    """A template that asks for an act by a wrong name finds that out."""
    with pytest.raises(KeyError):
        Visitor(OWNER, None).may("plan", "burn")
