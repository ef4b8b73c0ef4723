"""The Counts page: a file is looked at first, bad lines are named, nothing is stored unasked."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.sites.reading import history_of
from sim.inputs import History, HourCount
from tests.demo_app import app_of
from tests.pages.pages import page_of

COUNTS = "/mill-lane/counts"
GOOD = "date,hour,cars_arrived\n2026-07-13,7,20\n2026-07-13,8,31\n2026-07-14,7,22\n"


def past(client: TestClient) -> History:
    """What is stored of the past."""
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    assert site is not None
    return history_of(web.database, site.id)


def send(client: TestClient, raw: bytes | str, name: str = "july.csv", **fields: str) -> Response:
    """Sends a file as the page does and follows to the preview."""
    form = page_of(client.get(COUNTS)).form(f"{COUNTS}/preview")
    content = raw.encode() if isinstance(raw, str) else raw
    return client.post(form.action, data=form.data(**fields), files={"file": (name, content)})


def confirm(client: TestClient, preview: Response, **fields: str) -> Response:
    """Presses the button of a preview."""
    form = page_of(preview).form(f"{COUNTS}/confirm")
    return client.post(form.action, data=form.data(**{"drop": None, **fields}))


def test_empty_state(client: TestClient) -> None:
    """With nothing stored the page says what is missing, why it matters, and shows one way on."""
    text = client.get(COUNTS).text
    assert "No counts are stored yet." in text
    assert "Every plan starts from how many cars come in each hour." in text
    assert text.count('class="button first"') == 1


def test_nothing_is_stored_before_it_is_confirmed(client: TestClient) -> None:
    """A good file is shown day by day; it is stored by the button of the preview alone."""
    preview = send(client, GOOD)
    assert "3 hours of cars arrived on 2 days can be stored." in preview.text
    assert "Monday 13 July 2026" in preview.text
    assert past(client).counts == ()
    stored = confirm(client, preview)
    assert "73 cars arrived on 2 days." in stored.text
    assert past(client).counts == (
        HourCount(date(2026, 7, 13), 7, 0, 20),
        HourCount(date(2026, 7, 13), 8, 0, 31),
        HourCount(date(2026, 7, 14), 7, 0, 22),
    )


def test_a_file_can_be_let_go(client: TestClient) -> None:
    """A file that is let go leaves nothing behind, and its preview can't be confirmed later."""
    preview = send(client, GOOD)
    form = page_of(preview).form(f"{COUNTS}/confirm")
    assert "Nothing of it was stored." in client.post(form.action, data=form.data(drop="1")).text
    assert past(client).counts == ()
    assert confirm(client, preview).status_code == 404
    assert past(client).counts == ()


def test_bad_lines_are_named(client: TestClient) -> None:
    """Lines that can't be used are named with their number and a reason; the rest may be stored."""
    bad = GOOD + "2026-07-14,8,-3\n2026-07-14,9,3.7\n2026-07-14,10,about 40\n2026-07-14,11,=1+1\n"
    preview = send(client, bad)
    assert "4 problems are named below." in preview.text
    for line in range(5, 9):
        assert f"july.csv, line {line}" in preview.text
    assert "“about 40” is not a number" in preview.text
    confirm(client, preview)
    assert len(past(client).counts) == 3


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "The file is empty."),
        (b"\x89PNG\r\n\x1a\n and more", "This is a PNG picture, not a CSV file."),
        (b"name,color\nAnna,red\nBen,blue\n", "No column of this file holds dates."),
        (b"date,color\n2026-07-13,red\n", "No column of this file holds whole numbers"),
        (b"date,hour,cars_arrived,wet\n2026-02-30,7,20,0\n", "No column of this file holds dates"),
        (b"date,hour,cars_arrived\n", "Nothing in this file can be used."),
        (b"date,hour,cars_arrived\n2026-03-08,2,4\n", "clocks went forward over it"),
        (b"x" * 5_500_000, "at most 5 MB can be read"),
    ],
)
def test_files_that_hold_nothing(client: TestClient, raw: bytes, said: str) -> None:
    """A file that can't be used at all is told why and offers no button to store it."""
    preview = send(client, raw)
    assert said in preview.text
    assert 'class="first"' not in preview.text
    answer = confirm(client, preview)
    assert answer.status_code == 422
    assert "Nothing was stored." in answer.text
    assert past(client).counts == ()


def test_other_ways_to_write_a_file(client: TestClient) -> None:
    """Semicolons, a byte-order mark, and a column “cars” said on the page to be washed cars."""
    raw = "\ufeffdate;hour;cars\n2026-07-13;7;20\n".encode()
    preview = send(client, raw, counted="washed")
    assert "1 hour of cars washed on 1 day can be stored." in preview.text
    assert "such hours are a lower bound" in preview.text
    confirm(client, preview)
    history = past(client)
    assert (history.counted, len(history.counts)) == ("washed", 1)
    assert "These are cars washed." in client.get(COUNTS).text


def test_what_was_counted_may_be_put_right(client: TestClient) -> None:
    """A column that doesn't say what was counted is taken for cars washed, which is said, and can
    be changed before anything is stored."""
    preview = send(client, "date,hour,cars_arived\n2026-07-13,7,20\n")
    assert "so these are taken for cars washed" in preview.text
    form = page_of(preview).form(f"{COUNTS}/say")
    again = client.post(form.action, data=form.data(counted="arrived"))
    assert "1 hour of cars arrived on 1 day can be stored." in again.text
    confirm(client, again)
    assert past(client) == History("arrived", (HourCount(date(2026, 7, 13), 7, 0, 20),))


def test_what_stays_open_is_asked_once(client: TestClient) -> None:
    """Dates that fit both orders are asked about with the two days; the answer decides."""
    raw = "When;Cars\n05/06/2026 8:00;10\n05/06/2026 9:00;12\n06/06/2026 8:00;11\n"
    question = send(client, raw)
    assert "Which day is “05/06/2026 8:00”?" in question.text
    assert "It is 6 May 2026." in question.text
    assert past(client).counts == ()
    form = page_of(question).form(f"{COUNTS}/say")
    preview = client.post(form.action, data=form.data(order="dmy"))
    assert "Friday 5 June 2026, 9:00–10:00: 12 cars" in preview.text
    confirm(client, preview)
    assert [row.day for row in past(client).counts] == [date(2026, 6, 5)] * 2 + [date(2026, 6, 6)]


def test_a_shape_that_was_stored_is_known_until_it_is_forgotten(client: TestClient) -> None:
    """The next file with the same headings is asked about no more; forgotten, it is again."""
    head = "When;Cars\n"
    question = send(client, head + "05/06/2026 8:00;10\n06/06/2026 8:00;11\n", name="till.csv")
    form = page_of(question).form(f"{COUNTS}/say")
    confirm(client, client.post(form.action, data=form.data(order="dmy")))
    version = app_of(client).state.web.site_at("mill-lane").version
    again = send(client, head + "03/06/2026 8:00;10\n04/06/2026 8:00;11\n")
    assert "Thursday 4 June 2026, 8:00–9:00: 11 cars" in again.text
    assert "so it is read in the same way" in again.text
    confirm(client, again)
    assert app_of(client).state.web.site_at("mill-lane").version == version + 1
    other = send(client, head + "07/25/2025 8:00;10\n")
    assert "Friday 25 July 2025" in other.text  # where it can't be, the file decides
    page = client.get(COUNTS)
    assert "july.csv" in page.text
    forget = page_of(page).form(f"{COUNTS}/forget")
    assert "read afresh" in client.post(forget.action, data=forget.data()).text
    asked = send(client, head + "01/06/2026 8:00;10\n02/06/2026 8:00;11\n")
    assert "Which day is “01/06/2026 8:00”?" in asked.text


def test_a_table_may_be_pasted(client: TestClient) -> None:
    """Lines pasted in place of a file are read the same."""
    form = page_of(client.get(COUNTS)).form(f"{COUNTS}/preview")
    answer = client.post(form.action, data=form.data(pasted="Day\tHour\tCars\n2026-07-13\t7\t20"))
    assert "Monday 13 July 2026, 7:00–8:00: 20 cars" in answer.text


def test_no_file_was_chosen(client: TestClient) -> None:
    """Sending the form without a file is told beside the field."""
    form = page_of(client.get(COUNTS)).form(f"{COUNTS}/preview")
    answer = client.post(form.action, data=form.data(), files={"other": ("", b"")})
    assert answer.status_code == 422
    assert "No file was chosen." in page_of(answer).by_id["in-file-e"]


def test_arrived_and_washed_are_never_mixed(client: TestClient) -> None:
    """Washed cars on top of arrived ones are refused unless everything is replaced."""
    confirm(client, send(client, GOOD))
    washed = send(client, "date,hour,cars_washed\n2026-07-15,7,9\n")
    answer = confirm(client, washed)
    assert answer.status_code == 422
    assert "the two can&#39;t be mixed" in answer.text
    assert past(client).counted == "arrived"
    confirm(client, answer, replace_all="1")
    assert past(client).counted == "washed"
    assert len(past(client).counts) == 1


def test_a_waiting_file_grows_old(client: TestClient) -> None:
    """A file that waited for more than two hours is neither shown nor stored."""
    preview = send(client, GOOD)
    token = page_of(preview).form(f"{COUNTS}/confirm").data()["file"][0]
    waiting = app_of(client).state.web.settings.data_dir / "pending"
    head = waiting / f"{token}.file"
    sent = app_of(client).state.web.now() - timedelta(hours=3)
    text = head.read_text(encoding="utf-8")
    head.write_text(text.replace(app_of(client).state.web.now().isoformat(), sent.isoformat()))
    assert client.get(f"{COUNTS}?file={token}").status_code == 404
    assert confirm(client, preview).status_code == 404
    send(client, GOOD)
    assert not head.exists()


@pytest.mark.parametrize("token", ["../../etc/passwd", "x", "a" * 32])
def test_made_up_tokens_reach_no_file(client: TestClient, token: str) -> None:
    """A token that was not given out opens nothing, least of all a path."""
    assert client.get(COUNTS, params={"file": token}).status_code == 404


def test_a_file_of_another_site_stays_there(client: TestClient) -> None:
    """A file sent for one site can't be confirmed at another."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    client.post("/sites/new", data=form.data(name="Other", timezone="UTC"))
    preview = send(client, GOOD)
    token = page_of(preview).form(f"{COUNTS}/confirm").data()["file"][0]
    assert client.get(f"/other/counts?file={token}").status_code == 404


def test_weather_in_and_out(client: TestClient) -> None:
    """Weather comes in through the same page, humidity above 100 % is named, and goes out again."""
    raw = "date,hour,temp_f,humidity_pct\n2026-07-13,7,77,60\n2026-07-13,8,80,104\n"
    preview = send(client, raw, kind="weather")
    assert "1 hour of weather on 1 day can be stored; 1 problem is named below." in preview.text
    confirm(client, preview)
    assert past(client).weather[0].temp_c == pytest.approx(25)
    out = client.get("/mill-lane/weather.csv")
    assert out.text.splitlines()[0] == "start,temp_c,humidity_pct,rain_mm"
    before = past(client)
    assert "stored already" in confirm(client, send(client, out.text, kind="weather")).text
    assert past(client) == before


def test_counts_go_out_as_they_came_in(client: TestClient) -> None:
    """The CSV of the stored counts, doubled hour too, can be brought in and changes nothing."""
    doubled = "2026-11-01,1,4\n2026-11-01,1,5\n"
    confirm(client, send(client, GOOD + doubled))
    before = past(client)
    out = client.get("/mill-lane/counts.csv")
    assert out.headers["content-disposition"] == 'attachment; filename="mill-lane-counts.csv"'
    assert "2026-11-01T01:00-05:00,5" in out.text
    assert "stored already" in confirm(client, send(client, out.text)).text
    assert past(client) == before


def test_table_by_weekday_and_hour(client: TestClient) -> None:
    """The page shows the mean of each weekday and hour, and a dash where nothing was counted."""
    week_later = "2026-07-20,7,30\n"
    confirm(client, send(client, GOOD + week_later))
    table = client.get(COUNTS).text.partition('<table class="hours">')[2].partition("</table>")[0]
    monday = table.partition('<th scope="row">Monday</th>')[2].partition("</tr>")[0]
    assert monday.startswith('<td class="n">25</td><td class="n">31</td><td class="n">–</td>')


def test_more_cars_than_the_belt_carries_are_told_and_stored(client: TestClient) -> None:
    """162 washed cars an hour over a belt of 135 are told on the preview and on the page."""
    preview = send(client, "day,hour,cars\n2026-07-11,12:00,162\n2026-07-11,13:00,90\n")
    told = "Hours with more cars than the belt can carry: 1, the most 162 on"
    assert told in preview.text
    stored = confirm(client, preview)
    assert told in stored.text
    assert [row.cars for row in past(client).counts] == [162, 90]


def test_days_are_marked(client: TestClient) -> None:
    """A day is marked as closed with a note, and the mark can be taken away again."""
    form = page_of(client.get(COUNTS)).form(f"{COUNTS}/days")
    page = client.post(form.action, data=form.data(day="2026-12-25", day_note="holiday"))
    assert "Friday 25 December 2026" in page.text
    assert [note.kind for note in past(client).days] == ["closed"]
    form = page_of(page).form(f"{COUNTS}/days")
    client.post(form.action, data=form.data(day="2026-12-25", day_kind=""))
    assert past(client).days == ()
    bad = client.post(form.action, data=form.data(day="25.12.2026"))
    assert "“25.12.2026” is not a date." in page_of(bad).by_id["in-day-e"]
    assert page_of(bad).field("day").value == "25.12.2026"
