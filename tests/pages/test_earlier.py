"""Over an entry a page keeps what was worked out before, under a line that says so, until the new
answer is there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk, with_earlier
from app.answers.beliefs import BELIEF
from app.answers.season import SEASON
from app.answers.studies.runner import Progress
from app.settings import DATABASE_NAME
from app.sites.demo import demo_data
from app.sites.reading import gate
from tests.demo_app import (
    TODAY,
    app_of,
    belief_once,
    demo_client,
    demo_site,
    keep,
    lay_database,
    store_cloth,
    store_coming,
    store_comparison,
    store_maps,
    store_season,
    store_staff,
    store_switch,
)
from tests.pages.pages import asks_again, page_of
from tests.pages.switch_visitor import standing
from tests.world import NOW

SATURDAY = date(2026, 7, 18)
STORE: dict[str, Callable[[TestClient], str]] = {
    "plan": lambda client: store_comparison(client, SATURDAY),
    "reduce": lambda client: store_switch(client, SATURDAY),
    "sheet": lambda client: store_switch(client, SATURDAY).replace("reduce", "sheet"),
    "settings": lambda client: store_maps(client, SATURDAY),
    "staff": lambda client: store_staff(client, SATURDAY),
    "coming": store_coming,
    "cloth": store_cloth,
    "season": store_season,
}


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A browser on the demo site, whose server works nothing out."""
    with demo_client(tmp_path) as visitor:
        monkeypatch.setattr(app_of(visitor).state.web.runner, "begin", lambda *_given: None)
        yield visitor


def enter(client: TestClient) -> None:
    """An input that every answer rests on becomes another."""
    web, site = app_of(client).state.web, demo_site(client)
    with gate(web.database, web.now()) as writes:
        writes.set_inputs(
            site.id, {"film_cv": 0.31}, expected_version=site.version, request_key="film"
        )


def answer_of(text: str) -> str:
    """The answer of a page, as it stands there."""
    return text.split('<p class="answer">')[1].split("</p>")[0]


@pytest.mark.parametrize("name", STORE)
def test_a_page_keeps_its_answer_over_an_entry(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """It says before which change, how far the new answer is and what is done now, and asks for
    it; print has the line but not the bar. What was stopped is said under the same answer."""
    path = STORE[name](client)
    shown = client.get(path).text
    assert 'id="before"' not in shown
    answer = answer_of(shown)
    enter(client)
    runner = app_of(client).state.web.runner
    monkeypatch.setattr(runner, "standing", standing(Progress(250, 1_000)))
    during = client.get(path)
    said = page_of(during).by_id
    assert said["before"].startswith("This was worked out before a change: Film, variation")
    assert said["before"].endswith("The new one is being worked out and takes its place by itself.")
    assert answer_of(during.text) == answer
    assert asks_again(during)
    assert '<progress class="wait" max="1000" value="250"' in during.text
    assert "screen-only" not in during.text.split('id="before"')[0].rsplit("<", 1)[1]
    monkeypatch.setattr(runner, "standing", standing(None, "It was stopped."))
    stopped = client.get(path)
    assert page_of(stopped).by_id["before"].endswith("It was stopped.")
    assert answer_of(stopped.text) == answer
    assert not asks_again(stopped)
    assert stopped.text.count(">Work it out</button>") == (0 if name == "plan" else 1)


def test_today_is_there_before_the_measurements_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Until they are worked in, today is shown without them and says so; then it keeps that answer
    under a line that says what it lacks, until the new one is there."""
    lay_database(
        tmp_path / DATABASE_NAME, "measured", NOW,
        lambda opened: opened.create_site(demo_data(), "demo"),
    )  # fmt: skip
    with demo_client(tmp_path) as client:
        monkeypatch.setattr(app_of(client).state.web.runner, "begin", lambda *_given: None)
        today = store_comparison(client, TODAY).replace(f"plan/{TODAY}", "today")
        first = client.get(today).text
        without = "The weighings are being worked in; until that is done this plan is without them."
        assert without in first
        assert 'id="before"' not in first
        keep(client, BELIEF, max(one.day for one in demo_data().weighings), belief_once)
        during = client.get(today)
        said = page_of(during).by_id["before"]
        assert said.startswith("This was worked out without what was measured at the site.")
        assert without not in during.text
        assert answer_of(during.text) == answer_of(first)
        store_comparison(client, TODAY)
        assert 'id="before"' not in client.get(today).text


def test_the_new_answer_takes_the_place_of_the_one_before(client: TestClient) -> None:
    """Once the present question has its answer, the line is gone."""
    path = store_comparison(client, SATURDAY)
    enter(client)
    assert "before" in page_of(client.get(path)).by_id
    store_comparison(client, SATURDAY)
    assert "before" not in page_of(client.get(path)).by_id


def test_an_answer_of_before_is_never_final_and_never_of_another_day(client: TestClient) -> None:
    """Nothing can be done with it that asks for the present answer: no file is given out, no rule
    put into the plan. A day without an answer of its own is shown none of another's."""
    path = store_switch(client, SATURDAY)
    assert "Day sheet to print" in client.get(path).text
    enter(client)
    text = client.get(path).text
    assert 'id="before"' in text
    assert "Day sheet to print" not in text
    assert "Put into the plan" not in text
    assert client.get(f"{path}/rules.csv").status_code == 404
    sunday = path.replace("2026-07-18", "2026-07-19")
    assert 'id="before"' not in client.get(sunday).text


def test_a_page_of_no_day_keeps_the_answer_of_the_day_before(client: TestClient) -> None:
    """The season as of yesterday is shown, and said to be that, until today's is there."""
    store_season(client)
    web, site = app_of(client).state.web, demo_site(client)
    with web.database.session() as session:
        tomorrow = Desk(session, site).open(SEASON, TODAY + timedelta(days=1))
        view = with_earlier(session, tomorrow)
    assert tomorrow.result is None
    assert view.earlier is not None
    assert view.earlier.day == TODAY
    assert view.is_wanting
