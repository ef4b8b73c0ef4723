"""What computes is begun by the site's own pages alone, whatever page and whoever asks for it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from app.db import studies
from app.main import create_app
from app.settings import Settings
from app.sites.reading import gate
from tests.demo_app import ADDRESS, HERE, OWN_PAGE, app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK
from tests.pages.pages import asks_again, page_of

SLUG = "invented-lane"
PLAN = f"/{SLUG}/plan/{PEAK.isoformat()}"
CHANGE = f"{PLAN}/change/figures"
OTHERS: tuple[dict[str, str], ...] = (
    {},  # a program, or a page over plain HTTP that another site led to
    {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Dest": "image"},
    {"Sec-Fetch-Site": "same-site"},  # another port of this host
    {"Sec-Fetch-Site": "none", "Sec-Purpose": "prefetch"},
)
OWN = (
    OWN_PAGE,
    {"Sec-Fetch-Site": "none"},  # typed, or a bookmark
    {"Referer": f"{ADDRESS}/{SLUG}/plan"},  # a browser that tells no Fetch Metadata
)
GAPS = {
    "slug": SLUG,
    "day": PEAK.isoformat(),
    "week": "2026-07-13",
    "name": "start",
    "secret": "of-no-phone",
    "key": "k",
    "month": "7",
    "number": "1",
}
"""What fills the gaps of addresses."""


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A browser that says nothing of where its requests come from, and a site with a past."""
    app = create_app(Settings(data_dir=tmp_path, today=date(2026, 7, 16), workers=1))
    web = app.state.web
    with gate(web.database, web.now()) as writes:
        writes.create_site(invented.small_site(), request_key="site")
    with TestClient(app, base_url=ADDRESS, client=HERE) as made:
        yield made


def asked(client: TestClient) -> list[str]:
    """Kinds of the studies that were ever asked for."""
    with app_of(client).state.web.database.session() as session:
        return [one.kind for one in studies.list_studies(session, 1, 100)]


def read_pages(client: TestClient) -> list[str]:
    """The address of every page of the site that is looked at."""
    return [
        route.path.format(**GAPS)
        for route in iter_route_contexts(app_of(client).routes)
        if route.path and "{slug}" in route.path and "GET" in (getattr(route, "methods", ()) or ())
    ]


def test_nobody_else_begins_anything(client: TestClient) -> None:
    """Every page of a site is shown to whoever asks, and begins nothing for them."""
    pages = read_pages(client)
    assert len(pages) > 25
    for path in pages:
        for headers in OTHERS:
            assert client.get(path, headers=headers).status_code in (200, 403, 404, 422), path
            assert asked(client) == [], (path, headers)


@pytest.mark.parametrize("headers", OWN)
def test_our_own_pages_do(client: TestClient, headers: dict[str, str]) -> None:
    """A page of ours, or an address that its reader typed, leads to the answer by itself."""
    answer = client.get(PLAN, headers=headers)
    assert asks_again(answer).startswith("2; url=/")
    assert asked(client) == ["plan"]


@pytest.mark.parametrize("place", ["settings", "reduce", "staff"])
def test_a_button_leads_on(client: TestClient, place: str) -> None:
    """Where nothing was begun the page says so, and its button works without a script."""
    path = f"/{SLUG}/{place}/{PEAK.isoformat()}"
    answer = client.get(path)
    assert "This has not been worked out yet." in answer.text
    assert not asks_again(answer)
    form = page_of(answer).form(path)
    sent = client.post(path, data=form.data(), follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, path)
    assert len(asked(client)) == 1


def test_trying_a_change_is_for_our_own_pages(client: TestClient) -> None:
    """Figures that are computed while they are waited for are not given to other sites."""
    assert client.get(CHANGE, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert client.get(CHANGE, headers=OWN_PAGE).status_code == 200
