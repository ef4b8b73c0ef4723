"""The page Work in hand, the button that stops, and what waiting and refined pages say."""

from __future__ import annotations

import html
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, cast

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.apart import Apart
from app.answers.file_study import FileView
from app.answers.planning import PLAN
from app.answers.serial import write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.main import create_app
from app.pages.deps import Web
from app.pages.security import VISIT_COOKIE, asker_of
from app.pages.waiting import left_words, refining_words, waiting
from app.settings import Settings
from app.sites.reading import gate
from sim.decide.answer import Comparison
from tests.demo_app import HERE, OWN_PAGE, app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK
from tests.pages.pages import asks_again, page_of
from tests.world import failure, progress

SLUG = "invented-lane"
LIST = f"/{SLUG}/studies"
PLAN_PAGE = f"/{SLUG}/plan/{PEAK.isoformat()}"
MAPS = f"/{SLUG}/settings/{PEAK.isoformat()}"


@dataclass
class Visitor:
    """A browser, the runner behind it, and work that goes on when the test says so."""

    client: TestClient
    runner: Runner
    site_id: int
    halfway: threading.Event
    go_on: threading.Event

    def work(self, executor: Executor | None, report: Report) -> dict[str, Any]:
        """Three steps of four, then a pause."""
        report(3, 4)
        self.halfway.set()
        assert self.go_on.wait(60)
        report(4, 4)
        return {"answer": 42}

    def begin(self, kind: str = "maps", key: str = "k", asker: str = "") -> Any:
        """A study that is under way when this returns."""
        job = Job(kind, key, self.site_id, PEAK, 4, 1, self.work, "It broke: {fault}")
        future = self.runner.asked_by(asker).begin(job)
        assert self.halfway.wait(60)
        return future

    def text(self, path: str = LIST) -> str:
        """The text of a page, as it is read."""
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        return html.unescape(answer.text)


def refined_later() -> Comparison:
    """A first answer: of 64 days."""
    return replace(invented.peak_day_over_sites(), replications=256, days=64)


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site."""
    settings = Settings(data_dir=tmp_path, today=date(2026, 7, 16), workers=1)
    app = create_app(settings)
    web = app.state.web
    with gate(web.database, settings.now()) as writes:
        site_id = writes.create_site(invented.small_site(), request_key="site").site_id
    with TestClient(app, base_url="http://127.0.0.1", headers=OWN_PAGE, client=HERE) as client:
        web.runner.on_asked = None  # the studies below answer no question of the site
        made = Visitor(client, web.runner, site_id, threading.Event(), threading.Event())
        yield made
        made.go_on.set()


def test_the_list_says_who_asked_how_far_and_until_when(visitor: Visitor) -> None:
    """A study under way stands with its day, its steps and who asked; the list looks again."""
    visitor.begin()
    answer = visitor.client.get(LIST)
    text = html.unescape(answer.text)
    assert asks_again(answer).startswith("5; url=/")
    assert "One answer is being worked out." in text
    assert f'<a href="{MAPS}">Speed and spacing, Saturday 18 July 2026</a>' in text
    assert "Running. 2 of 2: trying speeds and spacings." in text
    assert "Asked by site manager, 16 July 2026" in text
    content = visitor.client.get(f"{LIST}.json").json()
    assert content["schema"] == "clothcast.studies/1"
    (one,) = content["studies"]
    assert (one["key"], one["page"], one["done"], one["total"]) == ("k", MAPS, 3, 4)
    assert one["is_open"]


def test_the_list_says_what_was_begun_ahead_and_why(visitor: Visitor) -> None:
    """A study that nobody asked for says why it was begun; without a process of its own the server
    works nothing ahead, and the page says that."""
    job = Job("maps", "k", visitor.site_id, PEAK, 4, 1, visitor.work, "It broke: {fault}")
    visitor.runner.begin(job, "The busiest of the coming 14 days.")
    assert visitor.halfway.wait(60)
    text = visitor.text()
    assert "Worked out ahead, 16 July 2026" in text
    assert ": The busiest of the coming 14 days." in text
    assert "Asked by" not in text
    assert "Nothing is worked out ahead here: its budget of processor time is 0." in text
    (one,) = visitor.client.get(f"{LIST}.json").json()["studies"]
    assert one["reason"] == "The busiest of the coming 14 days."


def test_the_list_says_what_the_budget_is_and_what_comes_next(visitor: Visitor) -> None:
    """Seconds used of those there are; what comes next here, or at another site, and when no more
    is begun today."""
    web: Web = app_of(visitor.client).state.web
    apart = Apart(web.settings)
    app_of(visitor.client).state.web = replace(web, apart=apart)
    visitor.runner.book.spend(1_200.0)
    assert "1,200 of 3,600 processor seconds have been used today" in visitor.text()
    assert "Something to show on every page of today comes first." in visitor.text()
    assert asks_again(visitor.client.get(LIST)).startswith("5;")
    apart.readable = (visitor.site_id,)
    assert "Every page of today has something to show." in visitor.text()
    assert "All that is wanted ahead is there or under way." in visitor.text()
    assert not asks_again(visitor.client.get(LIST))
    apart.following = visitor.site_id, "maps", PEAK, "The busiest of the coming 14 days."
    assert asks_again(visitor.client.get(LIST)).startswith("5;")
    said = "Next: Speed and spacing, Saturday 18 July. The busiest of the coming 14 days."
    assert said in visitor.text()
    apart.following = visitor.site_id + 1, "maps", PEAK, "The busiest of the coming 14 days."
    assert "Next comes something of another site." in visitor.text()
    visitor.runner.book.spend(2_400.0)
    assert "No more is begun until tomorrow" in visitor.text()


def test_an_idle_list_does_not_look_again(visitor: Visitor) -> None:
    """With nothing under way the page stays as it is and says how studies begin."""
    answer = visitor.client.get(LIST)
    assert not asks_again(answer)
    assert "Nothing is being computed." in answer.text
    assert "None yet." in answer.text


def test_stopping_from_the_list(visitor: Visitor) -> None:
    """The button ends the study at its next step and leads back to the list, which says so."""
    future = visitor.begin()
    form = page_of(visitor.client.get(LIST)).form(f"{LIST}/k/cancel")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, LIST)
    visitor.go_on.set()
    future.result(60)
    text = visitor.text()
    assert "The computation was stopped before it was done." in text
    assert "Nothing is being computed." in text
    assert "Stop computing" not in text


def test_stopping_all(visitor: Visitor) -> None:
    """One button ends what runs and what waits, and the list says so."""
    futures = [visitor.begin(), visitor.begin(key="later")]
    assert "Waits for its turn: one answer of its kind comes before it." in visitor.text()
    form = page_of(visitor.client.get(LIST)).form(f"{LIST}/stop")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, LIST)
    visitor.go_on.set()
    for future in futures:
        future.result(60)
    text = visitor.text()
    assert text.count("The computation was stopped before it was done.") == 2
    assert "Nothing is being computed." in text
    assert "Stop all" not in text


def test_too_much_at_once_is_said(visitor: Visitor) -> None:
    """With twelve things under way for a browser a page begins no more and says so; its button
    still can when one has ended."""
    visitor.text()
    seals = app_of(visitor.client).state.web.seals
    visit = seals.visit_of(visitor.client.cookies[VISIT_COOKIE])
    for number in range(12):
        visitor.begin(key=f"k{number}", asker=asker_of(visit))
    answer = visitor.client.get(MAPS)
    text = html.unescape(answer.text)
    assert "12 things are being worked out for you already." in text
    assert not asks_again(answer)
    assert len(visitor.client.get(f"{LIST}.json").json()["studies"]) == 12
    visitor.runner.cancel("k11")
    form = page_of(answer).form(MAPS)
    assert visitor.client.post(MAPS, data=form.data()).status_code == 200
    assert len(visitor.client.get(f"{LIST}.json").json()["studies"]) == 13


def test_a_page_that_waits_tells_its_turn(visitor: Visitor) -> None:
    """While others of its kind come first, the page says how many."""
    visitor.begin()
    visitor.begin(key="next")
    answer = visitor.client.get(MAPS)
    assert asks_again(answer).startswith("2; url=/")
    # whoever waits on a page comes before what nobody waits for, but not before what runs
    assert "Waits for its turn: one answer of its kind comes before it." in answer.text
    assert "2 answers of its kind come before it." in visitor.text()


def test_stopping_from_the_page_that_waits(visitor: Visitor) -> None:
    """Without a word of where it came from, it leads back to the page of the study's answer."""
    visitor.begin("plan")
    token = page_of(visitor.client.get(LIST)).field("form_token").value
    sent = visitor.client.post(
        f"{LIST}/k/cancel", data={"form_token": token}, follow_redirects=False
    )
    assert (sent.status_code, sent.headers["location"]) == (303, PLAN_PAGE)


def test_a_study_that_is_not_there_is_not_stopped(visitor: Visitor) -> None:
    """An unknown key is a page that says so; without the form's token nothing is stopped."""
    visitor.begin()
    token = page_of(visitor.client.get(LIST)).field("form_token").value
    unknown = visitor.client.post(f"{LIST}/other/cancel", data={"form_token": token})
    assert (unknown.status_code, "There is no such work in hand." in unknown.text) == (404, True)
    assert visitor.client.post(f"{LIST}/k/cancel").status_code == 403
    assert progress(visitor.runner, "k") == Progress(3, 4)


def test_a_failure_stays_in_the_list(visitor: Visitor) -> None:
    """What went wrong is told by its sentence."""

    def broken(executor: Executor | None, report: Report) -> dict[str, Any]:
        raise MemoryError("no room left")

    job = Job("plan", "k", visitor.site_id, PEAK, 4, 1, broken, "It broke: {fault}")
    future = visitor.runner.begin(job)
    assert future is not None
    future.result(60)
    assert "It broke: no room left" in visitor.text()


@pytest.mark.parametrize("path", [PLAN_PAGE, MAPS])
def test_pages_that_wait_can_stop_and_lead_to_the_list(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """While a page waits it says how long still, has the button, and the way to all studies."""
    progress = Progress(120, 900, left_s=38.0)

    def standing(_session: object, finals: Mapping[str, bool]) -> dict[str, tuple[Progress, str]]:
        return dict.fromkeys(finals, (progress, ""))

    monkeypatch.setattr(visitor.runner, "standing", standing)
    answer = visitor.client.get(path)
    page = page_of(answer)
    assert asks_again(answer).startswith("2; url=/")
    assert "About 40 s left." in answer.text
    assert any(form.action.startswith(f"{LIST}/") for form in page.forms)
    assert LIST in page.links


def test_a_stopped_plan_is_begun_by_its_button_alone(visitor: Visitor) -> None:
    """After stopping, the plan's page says so and waits for Compute; it begins nothing itself."""
    with app_of(visitor.client).state.web.database.session() as session:
        stored = store.get_site(session, visitor.site_id)
        key = Desk(session, stored).open(PLAN, PEAK).key
    future = visitor.begin("plan", key)
    visitor.runner.cancel(key)
    visitor.go_on.set()
    future.result(60)
    answer = visitor.client.get(PLAN_PAGE)
    assert "The computation was stopped before it was done." in answer.text
    assert "Press Compute to work it out." in answer.text
    assert not asks_again(answer)
    assert progress(visitor.runner, key) is None


def test_a_first_answer_is_shown_while_it_is_refined(visitor: Visitor) -> None:
    """The first answer stands with a quiet line; the page has its form and does not look again."""
    web = app_of(visitor.client).state.web
    with web.database.session() as session:
        stored = store.get_site(session, visitor.site_id)
        key = Desk(session, stored).open(PLAN, PEAK).key
    first = invented.plan(refined_later())
    with gate(web.database, web.now()) as writes:
        writes.store_result(key, visitor.site_id, PEAK, write(first), is_final=False)
    visitor.begin("plan", key)
    answer = visitor.client.get(PLAN_PAGE)
    text = html.unescape(answer.text)
    assert not asks_again(answer)
    assert "Being refined: these figures come from 64 simulated days" in text
    assert '<form class="plan"' in text
    assert ">Side by side</" in text


def test_another_question_stops_the_one_before(visitor: Visitor) -> None:
    """Storing a changed plan ends the refining of the old one, which nobody asks for any more."""
    web = app_of(visitor.client).state.web
    with web.database.session() as session:
        key = Desk(session, store.get_site(session, visitor.site_id)).open(PLAN, PEAK).key
    with gate(web.database, web.now()) as writes:
        first = invented.plan(refined_later())
        writes.store_result(key, visitor.site_id, PEAK, write(first), is_final=False)
    future = visitor.begin("plan", key)
    form = page_of(visitor.client.get(PLAN_PAGE)).form(PLAN_PAGE)
    sent = visitor.client.post(
        PLAN_PAGE, data=form.data(expect="+50 %", do="compute"), follow_redirects=False
    )
    assert sent.status_code == 303
    visitor.go_on.set()
    future.result(60)
    assert failure(visitor.runner, key) == "The computation was stopped before it was done."


# ---- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("left_s", "words"),
    [
        (None, ""),
        (0.4, "a few seconds left"),
        (5.0, "a few seconds left"),
        (16.2, "about 20 s left"),
        (31.0, "about 40 s left"),
        (59.0, "about 60 s left"),
        (61.0, "about 2 min left"),
        (26 * 60.0, "about 30 min left"),
        (3 * 3600.0, "about 3 h left"),
    ],
)
def test_time_left_is_said_without_false_precision(left_s: float | None, words: str) -> None:
    """A few seconds, then steps of five and ten, then minutes, then hours; unknown is unsaid."""
    assert left_words(left_s) == words
    view = FileView(cast(Any, None), None, "k", Progress(1, 2, left_s))
    told = waiting(view)
    assert told is not None
    assert (told.left, told.now) == (words, "Now: reading the lines.")


def test_the_quiet_line_of_a_first_answer() -> None:
    """Under way it says from how many days; stopped, that and how to begin again; else nothing."""
    assert refining_words(None, "", 256) == ""
    under_way = refining_words(Progress(300, 512), "", 256)
    assert under_way.endswith("from 256 simulated days, at your next visit from more.")
    stopped = refining_words(None, "The computation was stopped before it was done.", 256)
    assert stopped.endswith("stopped before it was done. Compute begins it again.")
