"""Opening a page reads what it needs once: few SELECTs, and no question hashed twice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event
from sqlalchemy.engine import Engine

from app.answers.roster import monday_of
from app.answers.studies.line import Line
from app.db.codec import encode
from tests import demo_app

MOST_SELECTS = 12
BUSY = date(2026, 7, 18)
NEXT_WEEK = monday_of(demo_app.TODAY) + timedelta(days=7)
PAGES = (
    "today", "plan", f"plan/{BUSY}", f"settings/{BUSY}", f"reduce/{BUSY}", f"sheet/{BUSY}",
    f"staff/{BUSY}", f"roster/{NEXT_WEEK}", f"roster/{NEXT_WEEK}/made", "cloth", "cloth/season",
    "coming", "weighings", "studies", "counts", "site",
)  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site with every answer stored; nothing that pages begin is done."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("once")) as opened,
    ):
        patch.setattr(Line, "begin", lambda *_given: None)
        demo_app.store_comparison(opened, demo_app.TODAY)
        for store in (demo_app.store_comparison, demo_app.store_maps, demo_app.store_switch):
            store(opened, BUSY)
        for ahead in range(7):
            demo_app.store_staff(opened, NEXT_WEEK + timedelta(days=ahead))
        demo_app.store_staff(opened, BUSY)
        for store_whole in (demo_app.store_cloth, demo_app.store_roster, demo_app.store_season):
            store_whole(opened)
        yield opened


@pytest.mark.parametrize("page", PAGES)
def test_a_page_reads_what_it_needs_once(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, page: str
) -> None:
    """From stored answers a page makes at most twelve SELECTs, and hashes no question twice."""
    address = f"/harbor-road/{page}"
    assert client.get(address).status_code == 200
    selects: list[str] = []
    hashed: list[str] = []

    def heard(content: object) -> str:
        hashed.append(encode(content))
        return hashed[-1]

    def read(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            selects.append(statement)

    monkeypatch.setattr("app.answers.libraries.encode", heard)
    event.listen(Engine, "before_cursor_execute", read)
    try:
        assert client.get(address).status_code == 200
    finally:
        event.remove(Engine, "before_cursor_execute", read)
    assert 0 < len(selects) <= MOST_SELECTS
    assert len(set(hashed)) == len(hashed)
