"""Bad input of every kind through the real pages: told with value and remedy, kept, no crash."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.answers.answer import Answer
from app.sites.folder import read_site_text
from app.sites.reading import history_of
from sim.inputs import History, SiteData
from tests.demo_app import app_of
from tests.pages.pages import Page, page_of, small_client, stored_site
from tests.small_wash import CLOSED, PLANNED, TODAY, small_wash

SLUG = "small-wash"
PLAN = f"/{SLUG}/plan/{PLANNED.isoformat()}"
COUNTS = "date,hour,cars_arrived\n"
MOIST = "date,hour,temp_c,humidity_pct\n"
WET_BULB = "date,hour,temp_c,wet_bulb_c\n"


@contextmanager
def browser_on(folder: Path, data: SiteData, begun: list[object]) -> Iterator[TestClient]:
    """A browser on one site; what would be computed in the background is only noted."""
    with small_client(folder, data) as browser, pytest.MonkeyPatch.context() as patch:
        patch.setattr(Answer, "begin", lambda view, _runner: begun.append(view))
        yield browser


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on a small site with counts and weather."""
    with browser_on(tmp_path, small_wash(), []) as browser:
        yield browser


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """As `client`, one for all tests that store nothing."""
    with browser_on(tmp_path_factory.mktemp("fields"), small_wash(), []) as browser:
        yield browser


@pytest.fixture(scope="module")
def filer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """As `client`, one for all files; each stored one takes the place of all before."""
    with browser_on(tmp_path_factory.mktemp("files"), small_wash(), []) as browser:
        yield browser


def words_of(answer: Response) -> str:
    """What a page says, its tags left out."""
    plain = html.unescape(re.sub(r"<[^>]+>", " ", answer.text))
    return " ".join(plain.replace("\u00a0", " ").split())


def past(client: TestClient) -> History:
    """What is stored of the site's past."""
    web = app_of(client).state.web
    site = web.site_at(SLUG)
    assert site is not None
    return history_of(web.database, site.id)


# ---- fields --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Typed:
    """A text typed in a field of a page.

    Attributes:
        what: the kind of bad input.
        form: address of the page and of its form.
        name: the field; typed: its text; said: what must stand beside it.
        more: other fields of the form.
    """

    what: str
    form: tuple[str, str]
    name: str
    typed: str
    said: str
    more: dict[str, str] = field(default_factory=dict)


LINE = (f"/{SLUG}/site", f"/{SLUG}/site/line")
VEHICLES = (f"/{SLUG}/site", f"/{SLUG}/site/vehicles")
DAY = (PLAN, PLAN)
FIELDS = [
    Typed(
        "negative speed", LINE, "conveyor_speed_m_s", "-49",
        "Conveyor speed −49 ft/min is outside what can be used. Enter 9.843 ft/min to",
    ),
    Typed(
        "negative speed of a scenario", DAY, "scenario-2.conveyor_speed_m_s", "-49",
        "Conveyor speed −49 ft/min is outside what can be used. Enter 9.843 ft/min to",
    ),
    Typed(
        "spacing shorter than a car", LINE, "car_spacing_m", "15.5",
        "Car spacing 15.5 ft is shorter than the reference car, sedan of 15.91 ft. Enter 15.92 ft",
    ),
    Typed(
        "spacing of a scenario shorter than a car", DAY, "scenario-3.car_spacing_m", "15.5",
        "Car spacing 15.5 ft is shorter than the reference car, sedan of 15.91 ft. Enter 15.92 ft",
    ),
    Typed(
        "shares that don't sum to 1", VEHICLES, "vehicle.van.share", "15",
        "The shares of the vehicle classes sum to 110 %. Make them sum to 100 %.",
    ),
    Typed(
        "share above 1", VEHICLES, "vehicle.van.share", "105",
        "Share of cars 105 % is outside what can be used. Enter 0 % to 100 %.",
    ),
    Typed(
        "decimal comma", LINE, "wheel_position_m", "108,3",
        "“108,3” has a comma: write decimals with a point, as in 3.5",
    ),
    Typed(
        "decimal comma in the expected day", DAY, "expect", "33,5 °C, 70 %",
        "“33,5 °C, 70 %” has a comma inside a number. Write decimals with a point",
    ),
    Typed(
        "humidity 104 %", DAY, "expect", "91 °F, 104 %",
        "The humidity 104 % is outside what can be used. Enter 1 % to 100 %.",
    ),
    Typed(
        "a temperature that no day has", DAY, "expect", "-40 °F",
        "The highest temperature −40 °F is outside what can be used.",
    ),
    Typed(
        "too many more cars", DAY, "expect", "+3000 %",
        "The change of cars 3,000 % is outside what can be used.",
    ),
    Typed(
        "a number without end", DAY, "scenario-2.car_spacing_m", "1" * 5000,
        "has 5,000 characters; at most 200 can be read",
    ),
    Typed(
        "a line of the day without end", DAY, "expect", "91 °F, " * 500,
        "has 3,500 characters; at most 200 can be read",
    ),
    Typed("about 40", LINE, "stops_per_h", "about 40", "“about 40” is not a number. Enter 0 per h"),
    Typed("a formula", LINE, "stops_per_h", "=1+1", "“=1+1” is not a number. Enter 0 per h"),
    Typed(
        "a failed safety device", DAY, "scenario-2.name", "Emergency stop failed",
        "stop, lock out, and call licensed service",
    ),
    Typed(
        "a rule for a failed safety device", DAY, "scenario-2.rule", "failed interlock",
        "stop, lock out, and call licensed service", {"scenario-2.kind": "text"},
    ),
    Typed(
        "a safety device as the failed sensor", DAY, "scenario-2.failed_sensor", "emergency_stop",
        "stop, lock out, and call licensed service",
    ),
    Typed(
        "a dry set for a failed safety device", DAY, "scenario-2.cloth", "guard off",
        "stop, lock out, and call licensed service",
    ),
]  # fmt: skip
STANDS_AT = {"scenario-2.rule": "scenario-2.kind"}
"""Fields whose message stands at another one: a rule is told as a whole."""


@pytest.mark.parametrize("case", FIELDS, ids=lambda case: case.what)
def test_a_bad_field_is_told_beside_it_and_kept(reader: TestClient, case: Typed) -> None:
    """Value and remedy stand at the field and on top, what was typed stays, nothing is stored."""
    address, action = case.form
    before = stored_site(reader, SLUG)
    drawn = page_of(reader.get(address)).form(action)
    sent: dict[str, Any] = drawn.data(**case.more, **{case.name: case.typed})
    answer = reader.post(action, data={**sent, "do": "compute"})
    assert answer.status_code == 422
    page = page_of(answer)
    place = f"in-{STANDS_AT.get(case.name, case.name)}"
    assert case.said in said_at(page, place)
    # A sentence that stands beside several fields is listed once on top.
    assert any(case.said in said_at(page, link[1:]) for link in page.links)
    if not is_select(page, case.name):
        assert page.field(case.name).value == case.typed
    assert stored_site(reader, SLUG) == before
    assert "Nothing was stored." in answer.text


def said_at(page: Page, place: str) -> str:
    """The message that stands beside a field, by the field's id."""
    return " ".join(page.by_id.get(f"{place}-e", "").replace("\u00a0", " ").split())


def is_select(page: Page, name: str) -> bool:
    """Whether a field is a list of choices, which can't hold what is none of them."""
    return ("select", page.field(name).attrs) in page.tags


@pytest.mark.parametrize(
    "line", ["failed_sensor = emergency_stop", "interlock = failed", "run without guards"]
)
def test_other_inputs_by_name_make_no_plan_for_a_safety_device(
    reader: TestClient, line: str
) -> None:
    """The lines of other inputs refuse a safety device as well, with the same advice."""
    sent = page_of(reader.get(PLAN)).form(PLAN).data()
    answer = reader.post(PLAN, data={**sent, "scenario-1.more": line, "do": "compute"})
    assert answer.status_code == 422
    message = page_of(answer).by_id["in-scenario-1.more-e"]
    assert "stop, lock out, and call licensed service" in message
    assert line in answer.text


# ---- days ----------------------------------------------------------------------------------------


def test_a_closed_day(client: TestClient) -> None:
    """On a closed day nothing can be planned, and the page says why."""
    answer = client.get(f"/{SLUG}/plan/{CLOSED.isoformat()}")
    assert answer.status_code == 200
    assert "Closed: no car is let in on Monday 20 July" in words_of(answer)
    assert "stocktaking" in answer.text


@pytest.mark.parametrize(
    ("typed", "said"),
    [("-100 %", "Nothing to decide: no car is expected on this day."), ("14 °F", "below is frost")],
)
def test_a_day_with_nothing_to_plan(client: TestClient, typed: str, said: str) -> None:
    """Zero cars and frost can be typed and stored; the page says what stands in the way."""
    sent = page_of(client.get(PLAN)).form(PLAN).data(expect=typed)
    answer = client.post(PLAN, data={**sent, "do": "compute"})
    assert answer.status_code == 200
    assert said in words_of(answer)
    assert page_of(answer).field("expect").value == typed


@pytest.mark.parametrize("cars", [0, 1_000])
def test_days_of_no_car_and_of_twenty_thousand(tmp_path: Path, cars: int) -> None:
    """Counts of 0 and of 20,000 cars a day come in through the page and are what is expected."""
    wash, begun = small_wash(), list[object]()
    longer = replace(wash, site=wash.site.with_values({"open_h": 0.0, "close_h": 20.0}))
    with browser_on(tmp_path, longer, begun) as client:
        days = [TODAY - timedelta(days=back) for back in range(28, 0, -1)]
        lines = "".join(f"{day},{hour},{cars}\n" for day in days for hour in range(20))
        confirm(client, send(client, COUNTS + lines))
        assert sum(row.cars for row in past(client).counts) == 28 * 20 * cars
        answer = client.get(PLAN)
        assert answer.status_code == 200
        assert ("Nothing to decide: no car is expected" in words_of(answer)) == (cars == 0)
        coming = words_of(client.get(f"/{SLUG}/plan"))
        assert ("about 20,000 cars" in coming) == (cars > 0)
        assert len(begun) == (1 if cars else 0)


# ---- files ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sent:
    """A file brought in on the Counts page.

    Attributes:
        raw: its bytes, or text.
        said: what the page must say of it.
        stored: rows that are left to store.
        kind: counts or weather.
        status: of the answer.
    """

    what: str
    raw: bytes | str
    said: tuple[str, ...]
    stored: int
    kind: str = "counts"
    status: int = 200


BAD_COUNTS = (
    "2026-07-13,8,-3\n2026-07-13,9,3.7\n2026-07-14,8,about 40\n2026-07-14,9,=SUM(A1)\n"
    "2026-07-15,8,20000\n2026-07-15,9,7\n"
)
FILES = [
    Sent(
        "counts that can't be", COUNTS + BAD_COUNTS,
        (
            "july.csv, line 2 cars_arrived “-3” is below zero. Enter 0 or more cars.",
            "july.csv, line 3 cars_arrived “3.7” is not a whole number of cars. Enter 0, 1, 2",
            "july.csv, line 4 cars_arrived “about 40” is not a number. Enter a whole number",
            "july.csv, line 5 cars_arrived “=SUM(A1)” is a formula. Save the table with its values",
            "july.csv, line 6 cars_arrived “20000” is more than 5,000 cars in one hour",
        ),
        1,
    ),
    Sent(
        "missing hour", COUNTS + "2026-07-13,8,20\n",
        ("2026-07-13 has no count at 9:00. Missing is not zero: the hours are left out.",), 1,
    ),
    Sent(
        "duplicate hour", COUNTS + "2026-07-13,8,20\n2026-07-13,8,31\n",
        ("july.csv, line 3 8:00 on 2026-07-13 is on line 2 already. Keep one of the two lines.",),
        1,
    ),
    Sent(
        "day of 23 hours", COUNTS + "2026-03-08,2,4\n2026-03-08,8,20\n",
        ("july.csv, line 2 2:00 on 2026-03-08 does not exist: clocks went forward over it.",), 1,
    ),
    Sent(
        "day of 25 hours", COUNTS + "2026-11-01,1,4\n2026-11-01,1,5\n2026-11-01,1,6\n",
        ("july.csv, line 4 1:00 on 2026-11-01 came twice when clocks went back",), 2,
    ),
    Sent(
        "decimal commas between commas", COUNTS + "2026-07-13,8,3,7\n",
        ("july.csv, line 2 This line has 4 cells", "or put semicolons between cells."), 0,
    ),
    Sent(
        "decimal commas between semicolons",
        "date;hour;temp_c;humidity_pct\n2026-07-13;8;21,5;64,5\n", ("1 hour of weather",), 1,
        "weather",
    ),
    Sent(
        "semicolons", "date;hour;cars_arrived\n2026-07-13;8;20\n",
        ("1 hour of cars arrived on 1 day can be stored.",), 1,
    ),
    Sent(
        "byte-order mark", "\ufeff" + COUNTS + "2026-07-13,8,20\n",
        ("1 hour of cars arrived on 1 day can be stored.",), 1,
    ),
    Sent(
        "Latin-1", "date,hour,cars_arrived,note\n2026-07-13,8,20,Gebäude\n".encode("latin-1"),
        ("The file is not UTF-8 and was read as Latin-1.",), 1,
    ),
    Sent("empty file", b"", ("The file is empty. Its first line must name the columns.",), 0),
    Sent(
        "picture renamed", b"\x89PNG\r\n\x1a\n\x00\x00",
        ("This is a PNG picture, not a CSV file. Save the table as CSV and bring that in.",), 0,
    ),
    Sent(
        "50 MB", b"2026-07-13,8,20\n" * 3_125_000,
        ("Nothing was stored. A file may have up to 5 MB", "split it by year"), 0, status=413,
    ),
    Sent(
        "wet bulb above dry bulb", WET_BULB + "2026-07-13,8,20,21\n",
        ("july.csv, line 2 Wet bulb 69.8 °F is above the dry bulb 68 °F", "columns swapped?"), 0,
        "weather",
    ),
    Sent(
        "humidity 104 %", MOIST + "2026-07-13,8,20,104\n",
        ("july.csv, line 2 humidity_pct “104” can't be. Enter more than 0 %, up to 100 %.",), 0,
        "weather",
    ),
    Sent(
        "frost", MOIST + "2026-07-13,8,-4,80\n",
        ("Hours with frost: 1, the coldest 24.8 °F. They are kept;", "ice is not in the model"), 1,
        "weather",
    ),
]  # fmt: skip


def send(client: TestClient, raw: bytes | str, kind: str = "counts") -> Response:
    """Sends a file as the page does and follows to its preview."""
    address = f"/{SLUG}/counts"
    form = page_of(client.get(address)).form(f"{address}/preview")
    content = raw.encode() if isinstance(raw, str) else raw
    return client.post(
        form.action, data=form.data(kind=kind), files={"file": ("july.csv", content)}
    )


def confirm(client: TestClient, preview: Response) -> Response:
    """Presses the button of a preview, in place of all that is stored."""
    form = page_of(preview).form(f"/{SLUG}/counts/confirm")
    return client.post(form.action, data=form.data(drop=None, replace_all="1"))


@pytest.mark.parametrize("case", FILES, ids=lambda case: case.what)
def test_a_bad_file_is_told_line_by_line(filer: TestClient, case: Sent) -> None:
    """File, line, value and remedy are said, what is good can be stored, nothing is unasked."""
    before = past(filer)
    answer = send(filer, case.raw, case.kind)
    assert answer.status_code == case.status
    words = words_of(answer)
    for said in case.said:
        assert said in words
    assert past(filer) == before
    if not case.stored:
        assert '<button class="first">' not in answer.text
        return
    assert confirm(filer, answer).status_code == 200
    after = past(filer)
    assert len(after.counts if case.kind == "counts" else after.weather) == case.stored


def test_an_unknown_key_of_site_toml() -> None:
    """A misspelt name in `site.toml`, which no page reads, is told with line and nearest name."""
    text = 'name = "Small Wash"\n\n[line]\nconveyor_sped_m_s = 0.25\n'
    _data, problems = read_site_text(text.encode())
    assert [str(problem) for problem in problems] == [
        "site.toml, line 4: “conveyor_sped_m_s” is not an input. Did you mean conveyor_speed_m_s?"
    ]


def test_site_toml_fails_no_safety_device() -> None:
    """A folder can't make a safety device the failed sensor either."""
    text = 'name = "Small Wash"\n\n[degraded]\nfailed_sensor = "emergency_stop"\n'
    _data, (problem,) = read_site_text(text.encode())
    assert str(problem).startswith("site.toml, line 4: “emergency_stop” names a safety device.")
    assert "stop, lock out, and call licensed service" in str(problem)
