"""The pages line leads to the day that is looked at, and begins no work for another."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient

from app.answers.studies.line import StudyQueue
from app.answers.studies.runner import Run
from app.pages.days import typed_date
from app.pages.menu import OF_A_DAY, STEPPED
from tests.demo_app import TODAY, demo_client

SLUG = "/harbor-road"
LATER = TODAY + timedelta(days=5)
begun: list[Run] = []


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site; what pages begin is noted, not worked out."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_client(tmp_path_factory.mktemp("menu")) as browser,
    ):
        patch.setattr(StudyQueue, "begin", lambda _line, run, *_more: begun.append(run))
        yield browser


def line(browser: TestClient, place: str) -> dict[str, str]:
    """Where the pages line of a page leads, by page; a stranger's cookies are not sent."""
    answer = browser.get(f"{SLUG}/{place}")
    assert answer.status_code == 200
    nav = answer.text.split('<nav class="pages"')[1].split("</nav>")[0]
    links = [part.split('"')[0] for part in nav.split('href="')]
    return {one.split("/")[2]: one for one in links if one.startswith(f"{SLUG}/")}


def test_the_day_is_carried_over_pages_that_have_none(demo: TestClient) -> None:
    """From the plan of a day the line leads to that day, over the pages Cloth, Counts and Site as
    well, and to the roster of its week; from Today it leads to today again."""
    demo.cookies.clear()
    assert all(line(demo, "counts")[page] == f"{SLUG}/{page}/{TODAY}" for page in OF_A_DAY)
    for place in (f"plan/{LATER}", "counts", "site", "sheet/" + LATER.isoformat(), "cloth"):
        found = line(demo, place)
        assert {page: found[page] for page in OF_A_DAY} == {
            page: f"{SLUG}/{page}/{LATER}" for page in OF_A_DAY
        }, place
        monday = LATER - timedelta(days=LATER.weekday())
        assert found["roster"] == f"{SLUG}/roster/{monday}"
    week = LATER - timedelta(days=LATER.weekday())
    assert line(demo, f"roster/{week}")["plan"] == f"{SLUG}/plan/{LATER}", "the day, not its Monday"
    assert line(demo, "today")["plan"] == f"{SLUG}/plan/{TODAY}"
    assert line(demo, "counts")["plan"] == f"{SLUG}/plan/{TODAY}"


def test_a_click_in_the_line_begins_work_for_that_day_alone(demo: TestClient) -> None:
    """Whatever of the line is pressed, nothing of another day is begun that has a page of its
    own."""
    line(demo, f"plan/{LATER}")
    begun.clear()
    for address in list(line(demo, "counts").values()):
        demo.get(address)
    names = {"plan", "switch", "staff", "maps"}
    assert {run.job.day for run in begun if run.kind in names} == {LATER}


@pytest.mark.parametrize("page", STEPPED)
def test_the_days_beside_stand_beside_the_day(demo: TestClient, page: str) -> None:
    """The page of a day leads to the same page of the day before and after, each named."""
    text = demo.get(f"{SLUG}/{page}/{LATER}").text
    for rel, day, name in (
        ("prev", LATER - timedelta(days=1), "Sunday 19 July"),
        ("next", LATER + timedelta(days=1), "Tuesday 21 July"),
    ):
        link = text.split(f'rel="{rel}" href="')[1]
        assert link.split('"')[0] == f"{SLUG}/{page}/{day}"
        assert name in link.split("</a>")[0]


@pytest.mark.parametrize(
    "said", ["2026-07-20", "elsewhere:2026-07-20", "harbor-road:soon", ":", ""]
)
def test_a_cookie_that_says_no_day_of_this_site_is_left_alone(demo: TestClient, said: str) -> None:
    """Then the line leads to today."""
    demo.cookies.clear()
    demo.cookies.set("clothcast_day", said)
    assert line(demo, "counts")["plan"] == f"{SLUG}/plan/{TODAY}"
    demo.cookies.clear()


@pytest.mark.parametrize(
    ("text", "system", "day"),
    [
        ("2026-07-18", "us", date(2026, 7, 18)),
        ("7/18/2026", "us", date(2026, 7, 18)),
        ("18/7/2026", "si", date(2026, 7, 18)),
        ("18.7.2026", "us", date(2026, 7, 18)),
        ("08.07.2026", "si", date(2026, 7, 8)),
        ("18/7/2026", "us", None),
        ("7/18/2026", "si", None),
        ("31.2.2026", "si", None),
        ("7/18.2026", "us", None),
        ("18.7.26", "si", None),
        ("soon", "us", None),
    ],
)
def test_a_date_of_the_sites_own_country_is_taken(text: str, system: str, day: date | None) -> None:
    """The month comes first where feet are read, with slashes; with dots the day does anywhere."""
    assert typed_date(text, system) == day


def test_a_typed_date_leads_to_its_day(demo: TestClient) -> None:
    """The field of a day takes it."""
    answer = demo.get(f"{SLUG}/plan?day=7/18/2026", follow_redirects=False)
    assert answer.headers["location"] == f"{SLUG}/plan/2026-07-18"
