"""What was planned, what happened: the plan as it stood that morning, a day, a month."""

from __future__ import annotations

import html
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers import happened, scored
from app.answers.answer import Desk
from app.answers.planning import PLAN
from app.answers.serial import write
from app.answers.studies.line import StudyQueue
from app.answers.switching import SWITCH
from app.sites.reading import gate
from sim.inputs import LogEntry, Scenario
from sim.inputs.logbook import DAMP_HOODS, FULL, REDUCED, WIPING
from tests.demo_app import app_of, demo_client, demo_site, small_comparison, store_switch
from tests.pages.pages import TODAY, small_client, work_at_once
from tests.small_wash import small_wash

HAPPENED = "/small-wash/happened"
DAY = date(2026, 7, 14)
OPENS = datetime(2026, 7, 14, 12, tzinfo=UTC)
"""Eight o’clock in New York, in summer."""


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A wash open from 8 to 10 with four weeks of counts, thirty cars an hour; what is begun is
    done at once, by few simulated days."""
    monkeypatch.setattr(StudyQueue, "begin", work_at_once)
    monkeypatch.setattr(happened, "FIRST_REPLICATIONS", 8)
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


def words(client: TestClient, path: str) -> str:
    """A page as it is read."""
    answer = client.get(path)
    assert answer.status_code == 200
    return html.unescape(answer.text).replace("\u00a0", " ")


def store_plan(client: TestClient, at: datetime, rule: str) -> None:
    """Stores a plan of the day that is led by a rule, and its answer, at a moment."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with gate(web.database, at) as opened:
        opened.store_plan(site.id, DAY, "", [Scenario(rule, rule)], 0, f"plan {rule}")
    with web.database.session() as session:
        view = Desk(session, site).open(PLAN, DAY)
    text = write(small_comparison(view.asked, 8))
    with gate(web.database, at) as opened:
        opened.store_result(view.key, site.id, DAY, text)


def note(client: TestClient, *entries: LogEntry) -> None:
    """Notes some entries."""
    web = app_of(client).state.web
    with gate(web.database, web.now()) as opened:
        opened.enter(web.site_at("small-wash").id, entries, "noted")


REDUCED_AT_NINE = (
    LogEntry("noted-001", DAY, 9.0 * 3600.0, WIPING, word=REDUCED),
    LogEntry("noted-002", DAY, 9.5 * 3600.0, WIPING, word=FULL, text="cars came out dry"),
    LogEntry("noted-003", DAY, 8.5 * 3600.0, DAMP_HOODS, count=0, of=20),
)


def test_the_plan_counts_as_it_stood_that_morning(client: TestClient) -> None:
    """What was stored an hour before opening is the plan of the day, and its switches are held
    against the log; what came in the plan an hour after is no plan of that day."""
    note(client, *REDUCED_AT_NINE)
    before = OPENS.replace(hour=11)
    store_plan(client, before, "clock 8:30-9:30")
    page = words(client, f"{HAPPENED}/{DAY}")
    assert "The plan as it stood when the day opened." in page
    assert "The plan was not followed." in page
    assert "1 switch was not as planned." in page
    assert "cars came out dry" in page
    assert f"/small-wash/plan/{DAY}/versions/1" in page


def test_a_later_plan_is_none_of_that_day(client: TestClient) -> None:
    """Then what would have been told is worked out afterwards, wiped as it was, and said so."""
    note(client, *REDUCED_AT_NINE)
    store_plan(client, OPENS.replace(hour=13), "clock 8:30-9:30")
    page = words(client, f"{HAPPENED}/{DAY}")
    assert "No plan was stored before this day opened." in page
    assert "worked out now, from the counts until the evening before" in page
    assert "Switched to reduced at 9:00." in page
    assert "versions/1" not in page


def test_a_day_as_told(client: TestClient) -> None:
    """Sixty cars came each day, so that is what was told; nobody noted how long they waited."""
    page = words(client, f"{HAPPENED}/{DAY}")
    assert "The day went as it was told." in page
    assert "nobody noted it" in page


def test_days_to_come_and_days_that_are_none(client: TestClient) -> None:
    """Neither has a page; a day of which nothing is known says that."""
    assert client.get(f"{HAPPENED}/2026-07-29").status_code == 404
    assert client.get(f"{HAPPENED}/2026-13").status_code == 404
    assert client.get(f"{HAPPENED}/sometime").status_code == 404
    assert "Too little was noted" in words(client, f"{HAPPENED}/2026-02-03")


def test_a_month_tells_how_often_as_many_came(client: TestClient) -> None:
    """Yesterday’s month is led to; each counted day has a line; days to come have none."""
    page = words(client, HAPPENED)
    assert "July 2026" in page
    assert "On 15 of 15 days as many cars came as was told." in page
    assert "100 % of days; by so few days the truth may be 78–100 %." in page
    assert page.count(f"{HAPPENED}/2026-07-") == 15
    assert f"{HAPPENED}/2026-06" in page
    empty = words(client, f"{HAPPENED}/2026-02")
    assert "No day of this month was counted, by counts or log." in empty


def test_the_rule_of_when_to_reduce_is_the_plan(tmp_path: Path) -> None:
    """Where it was worked out by then, the crew was told that rule: its switches are held against
    the log, its figures are those of the day. At an invented site, where it always is one day,
    whatever is stored stood that morning."""
    day = date(2026, 7, 18)
    with demo_client(tmp_path, day) as browser:
        store_switch(browser, day)
        web = app_of(browser).state.web
        with web.database.session() as session:
            desk = Desk(session, demo_site(browser))
            answer = desk.open(SWITCH, day).result
            assert answer is not None
            planned = happened.day_beside(desk, day).found.planned
        told = answer.comparison.columns[answer.columns.told]
        assert (planned.source, planned.rule) == ("stored", answer.told.text)
        assert planned.figures["damp_share"][0] == told.value("damp_share")
        assert planned.damp_by_hour == told.hour("damp_share")
        page = html.unescape(browser.get(f"/harbor-road/happened/{day}").text)
        assert "The plan as it stood when the day opened." in page


# ---- how good the advice was


def test_how_good_the_advice_was(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hoods of twelve days against what was told of them: a plan that stood counts as stored, one
    worked out now as that, days without an entry not at all; the page shows the very score."""
    monkeypatch.setattr(scored, "RUNS", 8)
    days = [DAY - timedelta(days=back) for back in range(12)]
    note(
        client,
        *(
            LogEntry(f"looked-{day}", day, 8.5 * 3600.0, DAMP_HOODS, count=19, of=20)
            for day in days
        ),
    )
    store_plan(client, OPENS.replace(hour=11), "clock 8:30-9:30")
    page = words(client, f"{HAPPENED}/2026-07")
    assert "more hoods were damp than was told" in page
    assert "On 12 days we said that none of the hoods would be damp; it was 9 in 10." in page
    assert "1 day had its plan stored before it opened." in page
    assert "Of 11 days none was stored: what it would have told is worked out now." in page
    assert "78 of the 90 days have no entry in the log and are not counted." in page
    assert "On 1 day the rule went by the clock; its switches were as planned on 0." in page
    web = app_of(client).state.web
    found = web.open(web.site_at("small-wash"), scored.SCORE, TODAY).result
    assert found is not None
    month, quarter = found.windows
    assert (quarter.stored, quarter.afterwards, quarter.unlogged) == (1, 11, 78)
    assert quarter.damp is not None
    assert (quarter.damp.of, quarter.damp.came) == (240, 228)
    assert quarter.lost is None
    assert month.damp == quarter.damp
    assert f"{quarter.damp.brier:.3f}" in page


def test_nothing_to_score_is_not_shown(client: TestClient) -> None:
    """Without any entry of the log there is no such part."""
    assert "How good the advice was" not in words(client, f"{HAPPENED}/2026-07")
