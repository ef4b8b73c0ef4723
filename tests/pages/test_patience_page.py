"""How long people are willing to wait, by the log: worked out, said on Measurements, taken over."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers import patience
from app.answers.answer import Desk
from app.answers.patience import PATIENCE, PatienceFound, patience_of
from app.answers.serial import write
from app.sites.reading import gate
from sim.inputs import INPUTS, LogEntry
from sim.inputs.logbook import TURNED_AWAY, WAIT
from sim.learn.patience import WaitDay, lived
from tests.demo_app import app_of, begin_nothing
from tests.pages.pages import page_of, small_client
from tests.small_wash import TODAY, small_wash

PATH = "/small-wash/weighings"
AT_S = tuple(3600.0 * 8 + 60.0 * minute for minute in (45, 60, 75, 90, 105))


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A wash open from 8 to 10 to which more cars come than it can wash; few drawn sites, and
    nothing is worked out by itself."""
    begin_nothing(monkeypatch)
    monkeypatch.setattr(patience, "SITES", 64)
    with small_client(tmp_path, small_wash(190)) as browser:
        yield browser


def words(client: TestClient) -> str:
    """The page as it is read."""
    return html.unescape(client.get(PATH).text).replace("\u00a0", " ")


def note(client: TestClient) -> None:
    """Six days of a site half of whose people wait eight minutes, as a crew would note them."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    hasty = site.data.site.with_values({"patience_median_s": 480.0})
    entries = []
    for back in range(2, 8):
        day = TODAY - timedelta(days=back)
        came = tuple(190.0 if hour in (8, 9) else 0.0 for hour in range(24))
        lost, waits = lived(hasty, WaitDay(came, 0, tuple((at, 0.0) for at in AT_S)), back)
        entries += [
            LogEntry(f"wait-{back}-{at:05.0f}", day, at, WAIT, lasted_s=float(wait))
            for at, wait in zip(AT_S, waits, strict=True)
        ]
        entries.append(LogEntry(f"gone-{back}-0001", day, 36_000.0, TURNED_AWAY, count=lost))
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, entries, "noted")


def work_out(client: TestClient) -> PatienceFound:
    """Stores what was noted tells."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with web.database.session() as session:
        view = Desk(session, site).open(PATIENCE, TODAY)
    assert view.job is not None
    assert len(view.asked.days) == 6
    found = patience_of(view.asked)
    with gate(web.database, web.now()) as opened:
        opened.store_result(view.key, site.id, TODAY, write(found))
    return found


def test_patience_stands_beside_what_the_log_says_and_is_taken_over(client: TestClient) -> None:
    """Until enough is noted the page says what is; then that it is worked out; then the guess, what
    the log leaves of it, and by how many waits of how many days. One press stores the middle."""
    assert "Too little is noted yet: a dozen waits on three days at least." in words(client)
    note(client)
    assert "It is being worked out." in words(client)
    found = work_out(client)
    assert found.finding is not None
    (told,) = found.finding.inputs
    assert told.after[0] < 480.0 < told.after[2] < told.now
    assert "30 waits, 6 days" in words(client)
    form = page_of(client.get(PATH)).form("/small-wash/site/pay")
    assert sorted(set(form.data()) & set(INPUTS)) == ["patience_median_s"]
    assert client.post(form.action, data=form.data()).status_code == 200
    site = app_of(client).state.web.site_at("small-wash")
    assert site.data.site.pay.patience_median_s == pytest.approx(told.after[1], rel=0.05)


def test_a_log_that_no_site_would_write_is_told_as_such(client: TestClient) -> None:
    """Waits of five hours at a wash that holds thirty cars are no news of patience."""
    note(client)
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with web.database.session() as session:
        asked = Desk(session, site).open(PATIENCE, TODAY).asked
    days = tuple(
        replace(one, waits=tuple((at, 18_000.0) for at, _ in one.waits)) for one in asked.days
    )
    found = patience_of(replace(asked, days=days))
    assert found.finding is None
    with web.database.session() as session:
        key = Desk(session, site).open(PATIENCE, TODAY).key
    with gate(web.database, web.now()) as opened:
        opened.store_result(key, site.id, TODAY, write(found))
    assert "The log fits no site that is believed in." in words(client)
