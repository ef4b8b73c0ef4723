"""Opening a page reads what it needs once: few SELECTs, and no question hashed twice."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from app.answers import serial
from app.answers.answer import Desk
from app.answers.coming_plans import COMING
from app.answers.kinds import KINDS
from app.answers.staff import STAFF, monday_of
from app.db.store import find_results
from app.db.tables import encode
from tests import demo_app
from tests.demo_app import begin_nothing

MOST_SELECTS = 12
HEAVIEST_BYTES = 100_000
BUSY = date(2026, 7, 18)
TOMORROW = demo_app.TODAY + timedelta(days=1)
NEXT_WEEK = monday_of(demo_app.TODAY) + timedelta(days=7)
PAGES = (
    "today", "plan", f"plan/{BUSY}", f"settings/{BUSY}", f"reduce/{BUSY}", f"sheet/{BUSY}",
    f"staff/{BUSY}", f"roster/{NEXT_WEEK}", f"roster/{NEXT_WEEK}/made", "cloth", "cloth/season",
    "coming", "weighings", "studies", "counts", "site", f"watch/{BUSY}",
    f"watch/{BUSY}/series.json?above=1&below=2",
)  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site with every answer stored; nothing that pages begin is done."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("once")) as opened,
    ):
        begin_nothing(patch)
        demo_app.store_comparison(opened, demo_app.TODAY)
        for store in (
            demo_app.store_comparison, demo_app.store_maps, demo_app.store_switch,
            demo_app.store_worth,
        ):  # fmt: skip
            store(opened, BUSY)
        for ahead in range(7):
            demo_app.keep(opened, STAFF, NEXT_WEEK + timedelta(days=ahead), demo_app.rough_staff)
        demo_app.store_staff(opened, BUSY)
        demo_app.keep(opened, COMING, TOMORROW, demo_app.small_coming)
        for store_whole in (
            demo_app.store_cloth, demo_app.store_roster, demo_app.store_season, demo_app.store_next,
        ):  # fmt: skip
            store_whole(opened)
        yield opened


@pytest.mark.parametrize("place", PAGES)
def test_a_page_is_light(client: TestClient, place: str) -> None:
    """From stored answers no page takes more than 100 kB on its way."""
    packed = client.get(f"/harbor-road/{place}", headers={"Accept-Encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) <= HEAVIEST_BYTES


@pytest.mark.parametrize("place", PAGES)
def test_a_page_reads_what_it_needs_once(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    """From stored answers a page makes at most twelve SELECTs, and hashes no question twice."""
    address = f"/harbor-road/{place}"
    assert client.get(address).status_code == 200
    selects: list[str] = []
    hashed: list[str] = []

    def heard(content: object) -> str:
        hashed.append(encode(content))
        return hashed[-1]

    def read(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            selects.append(statement)

    monkeypatch.setattr("app.answers.answer.encode", heard)
    with demo_app.app_of(client).state.web.database.session() as session:
        engine = session.get_bind()
    event.listen(engine, "before_cursor_execute", read)
    try:
        assert client.get(address).status_code == 200
    finally:
        event.remove(engine, "before_cursor_execute", read)
    assert 0 < len(selects) <= MOST_SELECTS
    assert len(set(hashed)) == len(hashed)


STORED: tuple[tuple[str, date], ...] = (
    ("plan", BUSY), ("maps", BUSY), ("switch", BUSY), ("staff", BUSY), ("cloth", demo_app.TODAY),
    ("season", demo_app.TODAY), ("coming", TOMORROW), ("roster", NEXT_WEEK),
)  # fmt: skip


@pytest.mark.parametrize(("kind", "day"), STORED, ids=[kind for kind, _day in STORED])
def test_what_is_stored_is_the_answer_that_pages_read(
    client: TestClient, kind: str, day: date
) -> None:
    """An answer's type reads its text, and writes one of the same content."""
    web, stored = demo_app.app_of(client).state.web, demo_app.demo_site(client)
    with web.database.session() as session:
        answer = Desk(session, stored).open(KINDS[kind], day)
        text = find_results(session, [answer.key])[answer.key].text
    assert isinstance(answer.result, KINDS[kind].found)
    assert json.loads(serial.write(answer.result)) == json.loads(text)


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_of_a_kind_is_closed(kind: str) -> None:
    """Every part of an answer has a type: nowhere does its JSON Schema allow just anything."""
    assert not list(open_parts(serial.schema(KINDS[kind].found), kind))


def test_a_part_without_a_type_is_found() -> None:
    """A dataclass that holds just anything, in a list or by name, is seen."""

    @dataclass(frozen=True)
    class Loose:
        """Something with untyped parts."""

        named: dict[str, object]
        listed: tuple[object, ...]
        plain: float

    assert set(open_parts(serial.schema(Loose), "loose")) == {
        "loose.properties.named.additionalProperties", "loose.properties.listed.items",
    }  # fmt: skip


TYPED = frozenset({"type", "$ref", "anyOf", "oneOf", "allOf", "const", "enum", "prefixItems"})
PARTS = frozenset({"additionalProperties", "items"})


def open_parts(schema: object, place: str) -> Iterator[str]:
    """Places of a JSON Schema that allow just anything."""
    if isinstance(schema, list):
        for at, part in enumerate(schema):
            yield from open_parts(part, f"{place}.{at}")
    if not isinstance(schema, dict):
        return
    for name, part in schema.items():
        inside = place.endswith((".properties", ".$defs"))
        if (name in PARTS or inside) and (part is True or not TYPED & set(part or ())):
            yield f"{place}.{name}"
        yield from open_parts(part, f"{place}.{name}")
