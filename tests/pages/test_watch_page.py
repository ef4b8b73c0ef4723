"""Watch the day: what the page says and draws, which scenarios it takes, and who may ask for it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.planning import PLAN, planned_day
from app.charts.watch import ROW, STEP, stage_of, still, watch_key
from app.words.watch import moment_words
from sim.day.watched import BELT, DRIED, LINE, STACK, STANDS, Room, WatchedScenario
from tests import demo_app
from tests.charts.drawn import drawn, faults, number
from tests.pages.pages import page_of, small_client

BUSY = date(2026, 7, 18)
PLACE = f"/harbor-road/watch/{BUSY}"
ELSEWHERE = {"Sec-Fetch-Site": "cross-site"}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site, of which nothing has been worked out."""
    with demo_app.demo_client(tmp_path_factory.mktemp("watch")) as opened:
        yield opened


@pytest.fixture(scope="module")
def watched(client: TestClient) -> tuple[WatchedScenario, ...]:
    """What the page shows: the plan's first two scenarios."""
    web = demo_app.app_of(client).state.web
    with web.database.session() as session:
        question = planned_day(Desk(session, web.site_at("harbor-road")), BUSY).to_compare
    found: tuple[WatchedScenario, ...] = web.watched.days(question, (1, 2))
    return found


def test_the_page_says_what_came_of_the_day(
    client: TestClient, watched: tuple[WatchedScenario, ...]
) -> None:
    """It says that it is one day and of which seed, and for each scenario how many cars left damp
    and were lost; the table of hours adds up to just these."""
    text = client.get(PLACE).text
    assert "One day as it may go, not the average." in text
    assert f"This is the day of seed {watched[0].day.seed}." in text
    tables = re.findall(r"<tbody>(.*?)</tbody>", text, flags=re.DOTALL)
    assert len(tables) == 2
    for one, table in zip(watched, tables, strict=True):
        end = one.day.moment(one.day.ends)
        said = f"With “{one.name}”: {end.left_damp:,} left damp, {end.lost:,} lost."
        assert said in text
        rows = [re.findall(r"<td>(.*?)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", table)]
        sums = [sum(int(row[at].replace(",", "")) for row in rows) for at in (3, 4, 5)]
        assert sums == [end.washed, end.left_damp, end.lost]


def test_which_scenarios_are_watched(client: TestClient) -> None:
    """An address may name one or two of the plan's scenarios; what no plan has is left out."""
    names = {
        "": ["Always full", "Always reduced"],
        "?above=3&below=1": ["Reduced 10:00–17:00", "Always full"],
        "?above=2&below=none": ["Always reduced"],
        "?above=2&below=2": ["Always reduced"],
        "?above=9&below=soon": ["Always full", "Always reduced"],
    }
    for asked, shown in names.items():
        page = client.get(f"{PLACE}{asked}").text
        assert re.findall(r"<figure data-plays><figcaption><b>With “(.*?)”", page) == shown
        series = page_of(client.get(f"{PLACE}{asked}"))
        (place,) = [given["data-series"] for _tag, given in series.tags if "data-series" in given]
        assert len(client.get(place).json()["days"]) == len(shown)


def test_the_advised_scenario_is_watched_beside_the_first(client: TestClient) -> None:
    """Once the plan has its answer, the scenario that it advises is drawn below the first."""
    web = demo_app.app_of(client).state.web
    day = date(2026, 7, 17)
    demo_app.store_comparison(client, day)
    view = web.open(web.site_at("harbor-road"), PLAN, day)
    best = view.result.comparison.columns[view.result.comparison.best].name
    page = client.get(f"/harbor-road/watch/{day}").text
    plays = re.findall(r"<figure data-plays><figcaption><b>With “(.*?)”", page)
    assert plays[0] == "Always full"
    assert best in plays


def test_nothing_is_simulated_for_other_sites(client: TestClient) -> None:
    """A page of another site gets a page that leads on, and no series; no day is simulated."""
    web = demo_app.app_of(client).state.web
    kept = list(web.watched._kept)
    address = "/harbor-road/watch/2026-07-25"
    answer = client.get(address, headers=ELSEWHERE)
    assert "Nothing is simulated for a page that was opened from elsewhere." in answer.text
    assert f"{address}?above=1&amp;below=2" in answer.text
    assert client.get(f"{address}/series.json", headers=ELSEWHERE).status_code == 403
    assert list(web.watched._kept) == kept


def test_a_day_without_cars_says_so(client: TestClient) -> None:
    """A closed day has no drawing and no series; what is no day is not found."""
    closed = client.get("/harbor-road/watch/2026-07-29")
    assert "there is nothing to plan" in closed.text
    assert "data-plays" not in closed.text
    assert client.get("/harbor-road/watch/2026-07-29/series.json").status_code == 404
    assert client.get("/harbor-road/watch/soon").status_code == 404


def test_a_site_without_counts_says_what_is_missing(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Where nothing is known of a day, the page says where counts are brought in."""
    with small_client(tmp_path_factory.mktemp("empty")) as empty:
        page = empty.get("/mill-lane/watch/2026-07-18")
    assert page.status_code == 200
    assert "Counts and weather are brought in on the Counts page" in page.text


@pytest.mark.parametrize("share", [0.02, 0.3, 0.55, 0.8, 1.0])
def test_a_still_picture_shows_its_moment(
    watched: tuple[WatchedScenario, ...], share: float
) -> None:
    """Drawn are as many cars as there are in each place, those on the belt at their metres; the
    words say the moment, the strips are filled as far as they are wet, and nothing touches."""
    for scenario in watched:
        day = scenario.day
        at = round(day.opens + share * (day.ends - day.opens))
        stage, one = stage_of(day.room), day.moment(at)
        chart = still("one", "One", day, one.at)
        assert list(faults(str(chart.svg))) == []
        assert chart.says == moment_words(one)
        picture = drawn(str(chart.svg))
        cars = [box for kind, row in picture.boxes.items() if kind[:3] == "car" for box in row]
        riding = [box for box in cars if box[2] > stage.belt[2] and box[0] < stage.belt[1]]
        told = {text.text.split(":")[0]: number(text.text.split(": ")[1]) for text in picture.words}
        assert told["Belt"] == one.count(BELT)
        assert told["Stack"] == one.count(STACK)
        assert told["Loading line"] == one.count(LINE)
        assert told["Damp"] == one.count(STANDS, DRIED)
        assert told["Strips"] == math.floor(one.wet / 10 + 0.5)
        for car in one.cars[BELT]:
            nose = day.nose(car, one.at)
            scale = (stage.belt[1] - stage.belt[0]) / (stage.last - stage.first)
            ends = [stage.belt[0] + scale * (cm - stage.first) for cm in (nose - car.length, nose)]
            assert any(
                abs(box[0] - max(ends[0], 0.0)) < 0.02 and abs(box[1] - ends[1]) < 0.02
                for box in riding
            )
        wet = picture.boxes["wet"][0]
        cloth = picture.boxes["cloth"][0]
        filled = (wet[3] - wet[2]) / (cloth[3] - cloth[2])
        assert filled == pytest.approx(one.wet / 1000.0, abs=0.01)


@pytest.mark.parametrize("room", [Room(0, 1, 0, 500), Room(300, 40, 60, 12_000)])
def test_the_stage_holds_any_line(room: Room) -> None:
    """The smallest and the largest line that a site may have are drawn within the picture; places
    of different parts do not lie on each other."""
    stage = stage_of(room)
    assert stage.height < 200
    boxes = [
        (x, x + stage.car[0], y, y + stage.car[1])
        for places in stage.places.values()
        for x, y in places
    ]
    boxes += stage.strips
    assert all(left >= 0.0 and right <= 100.0 for left, right, _top, _foot in boxes)
    assert all(foot <= stage.height for _left, _right, _top, foot in boxes)
    for at, (a, b, c, d) in enumerate(boxes):
        assert not any(a < f and e < b and c < h and g < d for e, f, g, h in boxes[at + 1 :])


@pytest.mark.parametrize("room", [Room(20, 2, 8, 3_000), Room(300, 40, 60, 12_000)])
def test_who_waits_moves_up_to_a_place_beside(room: Room) -> None:
    """From each waiting place the next one toward the front is beside it or over it, so that a
    line of cars moves up like one; a line that jumps from row to row is found."""
    stage = stage_of(room)

    def jumps(places: Sequence[tuple[float, float]]) -> list[int]:
        steps = [(abs(z - x), abs(w - y)) for (x, y), (z, w) in pairwise(places)]
        beside, over = pytest.approx((STEP, 0.0)), pytest.approx((0.0, ROW))
        return [at for at, step in enumerate(steps) if step != beside and step != over]

    for where in (STACK, LINE, STANDS):
        assert jumps(stage.places[where]) == []
    assert jumps([(column * STEP, row * ROW) for row in range(2) for column in range(9)]) == [8]


def test_every_mark_has_its_words(watched: tuple[WatchedScenario, ...]) -> None:
    """The key has each look of a car, the strips, the limit and both ways of wiping."""
    said = [row.words for row in watch_key([one.day for one in watched])]
    assert len(said) == len(set(said)) == 8
