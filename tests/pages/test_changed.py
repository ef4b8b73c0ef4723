"""That something changed at a site, by the damp hoods of its log: worked out from what was noted,
and said on Measurements, on the page of its month, and on Today while plans don't know of it."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.drift import DRIFT, changes_of, open_change
from app.answers.serial import write
from app.sites.reading import gate
from sim.inputs import HOODS, SOAKED, LogEntry, Weighing
from sim.inputs.logbook import DAMP_HOODS, FULL, REDUCED, WIPING
from sim.learn.drift import Change, DriftFound, find_changes
from sim.learn.logged_hoods import hoods_noted
from tests.demo_app import app_of, begin_nothing
from tests.pages.pages import small_client
from tests.small_wash import TODAY, small_wash

SINCE = date(2026, 7, 10)
NINE_S = 9.0 * 3600.0
SAID = "Something changed about Friday 10 July: cars leave wetter at the same cloth."


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A wash open from 8 to 10 with four weeks of counts; nothing is worked out by itself."""
    begin_nothing(monkeypatch)
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


def words(client: TestClient, path: str) -> str:
    """A page as it is read."""
    answer = client.get(f"/small-wash/{path}")
    assert answer.status_code == 200
    return html.unescape(answer.text).replace("\u00a0", " ")


def looks() -> list[LogEntry]:
    """Two hundred hoods a day, of which ten were damp, and sixty since a day in July."""
    days = [TODAY - timedelta(days=back) for back in range(28, -1, -1)]
    return [
        LogEntry(
            f"looked-{day}-0001", day, NINE_S, DAMP_HOODS, 60 if day >= SINCE else 10, 200
        )
        for day in days
    ]  # fmt: skip


def work_out(client: TestClient) -> DriftFound:
    """Notes the looks, and stores what they tell."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, looks(), "noted")
    with web.database.session() as session:
        view = Desk(session, web.site_at("small-wash")).open(DRIFT, TODAY)
    found = changes_of(view.asked)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, site.id, TODAY, write(found))
    return found


def test_a_change_is_found_in_the_log_and_said_on_three_pages(client: TestClient) -> None:
    """From a day on six times as many hoods are damp. Until anything is worked out no page speaks
    of it; then Measurements says when, which way and by how much, and what to do, the month says
    that it began in it, and Today has a line. The day itself is not judged yet."""
    for path in ("weighings", "today", "happened/2026-07"):
        assert "Something changed" not in words(client, path)
    found = work_out(client)
    assert (found.days, found.last) == (28, TODAY - timedelta(days=1))
    assert [one.since for one in found.changes] == [SINCE]
    said = words(client, "weighings")
    assert SAID in said
    assert "30 % were damp; as it was before it would have been 5 %" in said
    assert "look at twenty hoods on a busy day, so that plans know" in said
    assert "By 5,600 hoods that were looked at on 28 days." in said
    assert SAID in words(client, "happened/2026-07")
    assert SAID not in words(client, "happened/2026-06")
    assert SAID in words(client, "today")


def test_today_is_silent_once_cars_were_looked_at_anew(client: TestClient) -> None:
    """Twenty hoods measured since then tell plans; the page of measurements keeps the change, and
    asks for nothing more."""
    work_out(client)
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    hoods = Weighing(HOODS, SINCE + timedelta(days=2), NINE_S, 0.0, 0.0, cars=20, damp_cars=6)
    with gate(web.database, web.now()) as opened:
        opened.set_book(site.id, "weighings", (hoods,), site.version, "hoods")
    assert SAID not in words(client, "today")
    assert "so that plans know" not in words(client, "weighings")


def test_only_a_look_at_cars_since_then_closes_a_change() -> None:
    """Neither a soaked strip nor hoods of before tell plans how wet cars leave now."""
    change = Change(SINCE, SINCE + timedelta(days=3), "wetter", 0.05, 0.3)
    found = replace(find_changes(()), changes=(change,))
    hoods = Weighing(HOODS, SINCE, NINE_S, 0.0, 0.0, cars=20)
    assert open_change(found, ()) == change
    assert open_change(found, (replace(hoods, day=SINCE - timedelta(days=1)),)) == change
    assert open_change(found, (Weighing(SOAKED, SINCE, NINE_S, 0.3, 0.1),)) == change
    assert open_change(found, (hoods,)) is None
    assert open_change(None, ()) is None
    assert open_change(find_changes(()), ()) is None


def test_too_short_a_log_asks_nothing(client: TestClient) -> None:
    """With fewer days than a site is learnt from there is nothing to say."""
    web = app_of(client).state.web
    with gate(web.database, web.now()) as opened:
        opened.enter(web.site_at("small-wash").id, looks()[-15:], "noted")
    with web.database.session() as session:
        assert not Desk(session, web.site_at("small-wash")).open(DRIFT, TODAY).key
    assert "Has anything changed" not in words(client, "weighings")


def test_a_look_of_the_log_is_a_measurement_of_its_day() -> None:
    """As it was wiped that day; what was taken back counts for nothing, and hoods before opening
    are none of that day."""
    entries = (
        LogEntry("a", SINCE, NINE_S, DAMP_HOODS, 5, 20),
        LogEntry("b", SINCE, NINE_S - 1800.0, WIPING, word=REDUCED),
        LogEntry("c", SINCE, NINE_S + 1800.0, WIPING, word=FULL),
        LogEntry("d", SINCE, NINE_S, DAMP_HOODS, 9, 20, struck="yes"),
        LogEntry("e", SINCE, 7.0 * 3600.0, DAMP_HOODS, 9, 20),
        LogEntry("f", SINCE - timedelta(days=1), NINE_S, DAMP_HOODS, 0, 20),
    )
    before, then = hoods_noted(entries, 8.0 * 3600.0, 10.0 * 3600.0)
    assert (before.rule, before.cars, before.damp_cars) == ("full", 20, 0)
    assert (then.kind, then.day, then.at_s, then.cars, then.damp_cars) == (
        HOODS, SINCE, NINE_S, 20, 5,
    )  # fmt: skip
    assert then.rule == "clock 8:30-9:30"
