"""Today: the answer first, then a line for each page behind it, and what comes next."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.planning import PLAN
from app.settings import Settings
from app.sites.demo import demo_days
from app.sites.reading import gate
from tests.demo_app import (
    TODAY,
    app_of,
    demo_client,
    demo_site,
    store_cloth,
    store_coming,
    store_comparison,
    store_switch,
)
from tests.pages.pages import page_of

SLUG = "/harbor-road"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site; no test of this module writes to it."""
    with demo_client(tmp_path_factory.mktemp("demo")) as browser:
        yield browser


def test_empty_site(client: TestClient) -> None:
    """A site without counts says what is missing, and its one button leads there."""
    answer = client.get("/mill-lane/today")
    assert "Nothing is known of today yet." in answer.text
    assert "/mill-lane/counts#bring-in" in page_of(answer).links
    assert answer.text.count("button first") == 1


def test_expected_day(demo: TestClient) -> None:
    """Without a plan, today's expected cars, weather and settings stand there, by the hour."""
    answer = demo.get(f"{SLUG}/today")
    text = answer.text.replace("\u00a0", " ")
    assert re.search(r"<b>About [\d,]+0 cars today.</b> \d+ °F at most, air at \d+ % then", text)
    assert re.search(r">About [\d,]+0; the busiest hour begins at 1\d:00.</a>", text)
    assert "No plan has been worked out for today." in text
    assert ">Conveyor speed</button></dt><dd>49.2 ft/min</dd>" in text
    hours = text.split('<table class="today">')[1].split("</table>")[0]
    assert hours.count('<tr><th scope="row">') == 13
    assert f"{SLUG}/plan/{TODAY.isoformat()}" in page_of(answer).links


def test_next_busy_day(demo: TestClient) -> None:
    """The busiest of the next two weeks is named and can be planned at once."""
    answer = demo.get(f"{SLUG}/today")
    assert "The busiest of the next two weeks." in answer.text
    ahead = [link for link in page_of(answer).links if "/plan/" in link]
    days = [(TODAY + timedelta(days=later)).isoformat() for later in range(1, 8)]
    strip = [f"{SLUG}/plan/{day}" for day in days]
    later = [link for link in ahead if link > f"{SLUG}/plan/{TODAY}"]
    assert later[:-1] == strip
    assert later[-1] == strip[2], "Saturday 18 July"


def test_cautions(demo: TestClient) -> None:
    """The page that the crew works from tells to lock out, and what stands above it."""
    text = demo.get(f"{SLUG}/today").text
    assert "<b>Stop.</b> Before a hand goes near the wheel or the belt" in text
    assert "Local codes, the equipment’s own manual and licensed practice" in text


def test_closed_day(tmp_path: Path) -> None:
    """On a closed day the answer is that, and which day is the next open one."""
    closed = demo_days()["closed"]
    with demo_client(tmp_path, TODAY) as browser:
        web = app_of(browser).state.web
        site = web.site_at("harbor-road")
        assert site is not None
        with gate(web.database, web.now()) as opened:
            opened.mark_day(
                site.id, TODAY, "closed", "painting",
                expected_version=site.version, request_key="closed",
            )  # fmt: skip
        text = browser.get(f"{SLUG}/today").text
    assert closed != TODAY
    assert "<b>Closed today.</b> The next open day is Thursday 16 July." in text
    assert "Hour by hour" not in text


def test_planned_day(tmp_path: Path) -> None:
    """With a stored comparison the answer is the advised act, and the hours show its cloth."""
    day = demo_days()["humid_peak"]
    with demo_client(tmp_path, day) as browser:
        store_comparison(browser, day)
        answer = browser.get(f"{SLUG}/today")
    assert "No plan has been worked out" not in answer.text
    assert "As planned: “" in answer.text
    assert ">Damp at the wheel, %</button></th>" in answer.text
    links = page_of(answer).links
    assert f"{SLUG}/sheet/{day}" in links, "the day sheet is one press away"
    assert 'id="before"' not in answer.text


def test_an_entry_leaves_the_answer_and_says_before_what_it_was(tmp_path: Path) -> None:
    """An input that changes the question leaves the answer of before, under a line that names
    what was changed and when, on the printed page as well; the plan then has none of its own, and
    once its answer is there the line is gone."""
    day = demo_days()["humid_peak"]
    with demo_client(tmp_path, day) as browser:
        store_comparison(browser, day)
        web = app_of(browser).state.web
        before = page_of(browser.get(f"{SLUG}/today"))
        assert "before" not in before.by_id
        site = demo_site(browser)
        with gate(web.database, web.now()) as opened:
            opened.set_inputs(
                site.id, {"film_cv": 0.31}, expected_version=site.version, request_key="film"
            )
        answer = browser.get(f"{SLUG}/today")
        said = page_of(answer).by_id["before"]
        with web.database.session() as session:
            assert Desk(session, demo_site(browser)).open(PLAN, day).result is None
        store_comparison(browser, day)
        after = browser.get(f"{SLUG}/today")
    assert said.startswith("This was worked out before a change: Film, variation between cars")
    assert "18 July 2026" in said
    assert said.endswith("The new one is worked out once the plan is opened.")
    assert "As planned: “" in answer.text
    assert "screen-only" not in answer.text.split('id="before"')[0].rsplit("<", 1)[1]
    assert 'id="before"' not in after.text


def test_cloth_that_is_due_is_named_once_it_is_worked_out(tmp_path: Path) -> None:
    """When the set is changed and when it goes to the laundry stand there as on the page Cloth;
    before that only the way there."""
    with demo_client(tmp_path, demo_days()["humid_peak"]) as browser:
        assert "When to change the set on the wheel" in browser.get(f"{SLUG}/today").text
        page = browser.get(store_cloth(browser)).text
        text = browser.get(f"{SLUG}/today").text
    assert "When to change the set on the wheel" not in text
    change, laundry = "Change Set 8 in the morning of Monday 20 July", "opening on Sunday 19 July"
    for said in (change, laundry):
        assert said in text
        assert said in page


def test_one_fewer_is_told_and_put_into_the_plan(tmp_path: Path) -> None:
    """Two choices on Today say what one loader fewer until 14:00 does, and store nothing; a press
    lets the plan be led by it, under the hours alone. What is no such choice is no question."""
    day = demo_days()["humid_peak"]
    with demo_client(tmp_path, day) as browser:
        asked = f"{SLUG}/today?fewer=loaders&until=14:00"
        page = page_of(browser.get(asked))
        with app_of(browser).state.web.database.session() as session:
            assert Desk(session, demo_site(browser)).plans.get(day) is None
        assert "One loader fewer, 7:00 to 14:00." in browser.get(asked).text
        form = page.form(f"{SLUG}/today/short")
        answer = browser.post(f"{SLUG}/today/short", data=form.data(), follow_redirects=False)
        assert answer.status_code == 303
        with app_of(browser).state.web.database.session() as session:
            stored = Desk(session, demo_site(browser)).plans[day]
        for other in ("fewer=captain&until=14:00", "fewer=loaders&until=3:00", "fewer=loaders"):
            assert (
                'action="/harbor-road/today/short"' not in browser.get(f"{SLUG}/today?{other}").text
            )
    first = stored.scenarios[0]
    assert first.name == "One loader fewer, 7:00 to 14:00"
    assert first.changes["loaders"] == ((0.0, 1.0), (14 * 3600.0, 2.0), (17 * 3600.0, 1.0))
    assert first.changes["people"] == (
        (0.0, 3.0), (7 * 3600.0, 2.0), (9 * 3600.0, 4.0), (14 * 3600.0, 5.0), (19 * 3600.0, 3.0),
    )  # fmt: skip
    assert len(stored.scenarios) == 4


def test_early_in_the_morning_today_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 6:45 the bare address answers what to do today without a click: the act first, then how
    many cars, how long the wait, who comes, money, cloth and what to measure, each leading to its
    page; the day sheet is one press away, with the same act, and the page asks again by itself."""
    day = demo_days()["humid_peak"]
    with demo_client(tmp_path, day) as browser:
        early = datetime(day.year, day.month, day.day, 10, 45, tzinfo=UTC)  # 6:45 in New York
        monkeypatch.setattr(Settings, "now", lambda _settings: early)
        store_comparison(browser, day)
        store_switch(browser, day)
        store_cloth(browser)
        answer = browser.get("/")
        text = answer.text
        act = text.split('<p class="answer"><b>')[1].split("</b>")[0]
        links = page_of(answer).links
        sheet = browser.get(f"{SLUG}/sheet/{day}").text
    assert str(answer.url).endswith(f"{SLUG}/today")
    assert re.match("Reduce|Wipe|Stay", act)
    assert f"<b>{act}</b>" in sheet
    for head, place in (
        ("Cars", f"plan/{day}"), ("Wait", f"plan/{day}"), ("People", "roster/2026-07-13"),
        ("Money", f"plan/{day}"), ("Cloth", "cloth"), ("Measure", "weighings"),
    ):  # fmt: skip
        line = text.split(f">{head}</button></dt><dd>")[1].split("</dd>")[0]
        assert line.startswith(f'<a href="{SLUG}/{place}">')
        assert "ot worked out" not in line
    assert f"{SLUG}/sheet/{day}" in links
    assert 'data-again="60"' in text
    assert "One loader" not in text


def test_the_strip_tells_the_days_own_rule_and_else_says_about(tmp_path: Path) -> None:
    """Seven days: one with an answer of its own has its rule, others that of the coming days with
    “about”, and one that nobody has looked at says so."""
    with demo_client(tmp_path) as browser:
        store_coming(browser)
        before = browser.get(f"{SLUG}/today").text
        own = TODAY + timedelta(days=3)
        store_switch(browser, own)
        text = browser.get(f"{SLUG}/today").text
    rows = {when: row for when, row in _strip(text).items() if when != own.isoformat()}
    assert len(rows) == 6
    assert rows == {when: row for when, row in _strip(before).items() if when in rows}
    assert "about:" in rows[(TODAY + timedelta(days=1)).isoformat()]
    assert "not worked out yet" in rows[(TODAY + timedelta(days=7)).isoformat()]
    assert "about:" in _strip(before)[own.isoformat()]
    assert re.search("reduced 1|full all day", _strip(text)[own.isoformat()])
    assert "about:" not in _strip(text)[own.isoformat()]


def _strip(text: str) -> dict[str, str]:
    """The rows of the strip by day."""
    table = text.split('<table class="strip-of-days">')[1].split("</table>")[0]
    rows = table.split("<tbody>")[1].split("<tr>")[1:]
    return {row.split("/plan/")[1][:10]: row for row in rows}
