"""Stops and alarms: counted, listed by time, brought in from a file once, priced for a day."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.answers import stops as answers
from app.answers.studies.line import StudyQueue
from app.sites.reading import gate, log_of
from sim.inputs import INPUTS, LogEntry
from sim.inputs.logbook import ALARM, STOP
from tests.demo_app import app_of
from tests.pages.pages import page_of, small_client, work_at_once
from tests.small_wash import small_wash

STOPS = "/small-wash/stops"
DAY = date(2026, 7, 14)
GOOD = (
    "Date,Time,Reason,Duration (min)\n07/14/2026,8:10,car crosswise,4\n"
    "07/14/2026,8:40,driver braked,0.5\n07/13/2026,9:12,car crosswise,2:30\n"
)


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A wash open from 8 to 10 with four weeks of counts; what is begun is done at once, by few
    simulated days."""
    monkeypatch.setattr(StudyQueue, "begin", work_at_once)
    monkeypatch.setattr(answers, "DRAWS", 8)
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


def words(answer: Response) -> str:
    """A page as it is read."""
    return html.unescape(answer.text).replace("\u00a0", " ")


def held(client: TestClient) -> tuple[LogEntry, ...]:
    """What is stored of the log."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    assert site is not None
    return log_of(web.database, site.id, date(2026, 1, 1), date(2026, 12, 31))


def note(client: TestClient, *entries: LogEntry) -> None:
    """Notes some entries."""
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, entries, f"noted {len(held(client))}")


def send(client: TestClient, text: str) -> Response:
    """Pastes lines as the page does, and follows to what they would bring."""
    form = page_of(client.get(STOPS)).form(f"{STOPS}/preview")
    return client.post(form.action, data=form.data(pasted=text))


def store(client: TestClient, preview: Response, **changes: str | None) -> Response:
    """Presses the button of a preview."""
    form = page_of(preview).form(f"{STOPS}/confirm")
    return client.post(form.action, data=form.data(**{"drop": None, **changes}))


def test_nothing_noted_says_so(client: TestClient) -> None:
    """And how stops come in; a day without one as well."""
    assert "No stop is noted in these days." in words(client.get(STOPS))
    assert "No stop is noted on this day." in words(client.get(f"{STOPS}/{DAY}"))


def test_a_file_is_shown_first_and_stored_once(client: TestClient) -> None:
    """What was understood stands there; nothing is stored before the button; the same file again
    stores nothing, whatever was corrected or taken back since."""
    preview = send(client, GOOD)
    assert "3 stops can be stored." in words(preview)
    assert "Monday 13 July 2026, 9:12" in words(preview)
    assert held(client) == ()
    assert "Stored." in words(store(client, preview))
    first = held(client)
    assert [(one.name, one.lasted_s) for one in first] == [
        ("car crosswise", 150.0), ("car crosswise", 240.0), ("driver braked", 30.0),
    ]  # fmt: skip
    note(client, replace(first[0], name="hitch in the way"), replace(first[1], struck="yes"))
    again = send(client, GOOD)
    assert "All of its lines are stored already." in words(again)
    assert "headings are those of an earlier file" in words(again)
    assert [(one.name, one.struck) for one in held(client)] == [
        ("hitch in the way", ""), ("car crosswise", "yes"), ("driver braked", ""),
    ]  # fmt: skip
    more = send(client, GOOD + "07/14/2026,9:00,pull cord,1\n")
    assert "1 stop can be stored. 3 are stored already." in words(more)
    store(client, more)
    assert len(held(client)) == 4


def test_columns_are_matched_once(client: TestClient) -> None:
    """What somebody says of a file holds for the next one with its headings; the Counts page knows
    nothing of such files."""
    preview = send(client, GOOD)
    form = page_of(preview).forms[-1]
    assert form.action == STOPS
    other = client.get(form.action, params=form.data(kind="alarm", lasted="="))
    assert "3 alarms can be stored." in words(other)
    store(client, other)
    assert {(one.kind, one.lasted_s) for one in held(client)} == {(ALARM, None)}
    again = send(client, GOOD + "07/15/2026,9:00,pull cord,1\n")
    assert "1 alarm can be stored." in words(again)
    assert "Files like these" not in words(client.get("/small-wash/counts"))


def test_bad_lines_are_named(client: TestClient) -> None:
    """With line and reason; the rest may be stored; a file of nothing can't be."""
    preview = send(client, GOOD + "soon,9:00,x,1\n07/14/2026,9:30,x,ages\n")
    assert "pasted text, line 5" in words(preview)
    assert "“ages” is no length of time." in words(preview)
    store(client, preview)
    assert len(held(client)) == 3
    nothing = send(client, "name,color\nAnna,red\nBen,blue\n")
    assert "No column says when it was." in words(nothing)
    answer = store(client, nothing)
    assert answer.status_code == 422
    assert "Nothing was stored." in words(answer)


def test_a_form_without_a_file_keeps_what_was_typed(client: TestClient) -> None:
    """It says what is missing, beside the field; a file that is let go leaves nothing."""
    form = page_of(client.get(STOPS)).form(f"{STOPS}/preview")
    answer = client.post(form.action, data=form.data())
    assert answer.status_code == 422
    assert "No file was chosen." in words(answer)
    preview = send(client, GOOD)
    assert "Nothing of it was stored." in words(store(client, preview, drop="1"))
    assert store(client, preview).status_code == 404
    assert held(client) == ()


def test_causes_are_told_in_four_ways(client: TestClient) -> None:
    """Over the counted days alone: 28 days of 60 cars and 2 hours; a stop on another day is named,
    not counted. The limits are those of two events (Garwood 1936): 0.2422 and 7.225."""
    store(client, send(client, GOOD + "03/02/2026,9:00,pull cord,1\n"))
    page = words(client.get(f"{STOPS}?days=365"))
    assert "The belt stood 4 times. That is 1.8 stops in 1,000 cars." in " ".join(
        page.replace("<b>", "").replace("</b>", "").split()
    )
    cars, hours = 28 * 60 / 1000, 56
    assert f"Counted over 28 days with 1,680 cars and {hours} open hours." in page
    assert "Plans count on 18 stops in these days; 3 were noted." in page  # 0.3·56 + 1·1.68
    assert "1 was on a day whose cars were not counted" in page
    for over in (cars, hours):
        assert f"{2 / over:.2g} ({0.2422 / over:.2g}–{7.225 / over:.2g})" in page
    assert "0.071 (0.0087–0.26)" in page  # a day: 2, 0.24221 and 7.2247 over 28
    assert "1 in 840 (230–6,900)" in page


def test_a_day_is_priced_with_and_without(client: TestClient) -> None:
    """A long stop of a full hour costs cars; the page tells by how many, and what was guessed."""
    note(
        client,
        LogEntry("noted-001", DAY, 8.5 * 3600.0, STOP, lasted_s=1_200.0, name="car crosswise"),
        LogEntry("noted-002", DAY, 9.5 * 3600.0, STOP, name="pull cord"),
    )
    page = words(client.get(f"{STOPS}/{DAY}"))
    assert "2 stops, 21 min in all." in page
    assert "Without: car crosswise" in page
    assert "Without: pull cord" in page
    assert "The cars are those that were counted. 8 simulated days" in page
    assert "The length of 1 stop was not noted: it has your usual one." in page
    assert "stop it, lock it out, try the start" in page
    closed = words(client.get(f"{STOPS}/2026-07-20"))
    assert "No stop is noted on this day." in closed


@pytest.mark.parametrize("pattern", ["", "https://recorder.example/play?at={date}T{time}"])
def test_a_minute_leads_to_the_recorder(client: TestClient, pattern: str) -> None:
    """Where the site has entered its address, with the gaps filled; else it says where to."""
    store(client, send(client, GOOD))
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    with gate(web.database, web.now()) as opened:
        opened.set_inputs(
            site.id, {"recorder_address": pattern}, expected_version=site.version, request_key="r"
        )
    page = words(client.get(STOPS))
    link = 'href="https://recorder.example/play?at=2026-07-14T08:10"'
    assert (link in page) == bool(pattern)
    assert ("Enter your recorder’s address" in page) != bool(pattern)
    assert (link in words(client.get(f"{STOPS}/{DAY}"))) == bool(pattern)


def test_what_plans_count_on_stands_beside_what_the_log_says(client: TestClient) -> None:
    """Forty noted stops in two weeks, each of three minutes, say surely more than was guessed; one
    press stores the middle of what the log leaves as the site's own, and then nothing is left to
    take over. Without stops there is nothing to say."""
    assert "What plans count on" not in words(client.get(STOPS))
    stops = [
        LogEntry(f"often-{n:03d}", date(2026, 7, 1 + n % 14), 30_000.0 + 60.0 * n, STOP)
        for n in range(40)
    ]
    note(client, *(replace(one, name="car crosswise", lasted_s=180.0) for one in stops))
    page = client.get(STOPS)
    assert "The log says otherwise than plans count on." in words(page)
    forms = [one for one in page_of(page).forms if one.action == "/small-wash/site/line"]
    assert [sorted(set(one.data()) & set(INPUTS)) for one in forms] == [
        ["stops_per_car", "stops_per_h"], ["stop_log_sd", "stop_median_s"],
    ]  # fmt: skip
    for _ in range(2):
        form = page_of(client.get(STOPS)).form("/small-wash/site/line")
        assert client.post(form.action, data=form.data()).status_code == 200
    web = app_of(client).state.web
    site = web.site_at("small-wash")
    assert site is not None
    assert {"stops_per_h", "stops_per_car", "stop_median_s"} <= site.data.given
    assert 150.0 < site.data.site.line.stop_median_s < 190.0
    page = client.get(STOPS)
    assert "Plans count on what the log says, as far as it does." in words(page)
    assert "/small-wash/site/line" not in page.text
