"""The page of the season: its sentences, tables and files, waiting, and what is missing."""

from __future__ import annotations

import csv
import html
import io
import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from fastapi.testclient import TestClient
from icalendar import Calendar

from app.answers import season
from app.answers.answer import Desk
from app.answers.serial import write
from app.answers.studies.runner import Job, Progress
from app.charts.cloth import year_chart
from app.sites import reading
from app.sites.demo import demo_data
from app.sites.reading import gate
from app.words.answer import TURNS_ON
from app.words.numbers import about_dollars, percent
from app.words.season import (
    change_lines,
    option_lines,
    season_answer,
    season_sure,
    stock_facts,
)
from sim.decide.cloth.answer import OrderBy, SeasonAnswer
from sim.decide.firm import Standing
from sim.errors import InputProblem
from sim.inputs import INPUTS, History
from tests.charts.drawn import drawn, faults, number
from tests.demo_app import TODAY, app_of, demo_client, store_season
from tests.pages.pages import page_of
from tests.season_found import MORE, PLANNED, SEASON

NBSP = "\u00a0"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """A browser without script on the demo site, whose season of sixty days is stored."""
    with demo_client(tmp_path_factory.mktemp("season")) as client:
        yield client, store_season(client)


@pytest.fixture
def found(told: tuple[TestClient, str]) -> SeasonAnswer:
    """The stored season."""
    client, _page = told
    web = app_of(client).state.web
    with web.database.session() as session:
        stored = reading.find(session, demo_data().site.name)
        view = Desk(session, stored).open(season.SEASON, web.today(stored))
    assert view.result is not None
    return view.result


def test_the_page_answers_first(told: tuple[TestClient, str], found: SeasonAnswer) -> None:
    """The answer is the first sentence, the act in bold; every table and the picture are there."""
    client, address = told
    answer = client.get(address)
    assert answer.status_code == 200
    said = season_answer(found, TODAY)
    assert f"<b>{said.lead}</b>" in answer.text
    for head in ("The year", "Changes of sets", "Orders and stock", "What else on peak days",
                 "How many sets", "By month", "The busiest days"):  # fmt: skip
        assert re.search(f">{re.escape(head)}(</button>)?</h2>", answer.text)
    picture = str(year_chart(found).svg)
    assert picture in answer.text
    assert list(faults(picture)) == []


def test_the_cloth_page_and_today_lead_here(told: tuple[TestClient, str]) -> None:
    """Today and the page of the cloth have a link to the season."""
    client, address = told
    slug = address.split("/")[1]
    for page in ("today", "cloth"):
        assert f'href="{address}"' in client.get(f"/{slug}/{page}").text


def test_the_days_as_csv(told: tuple[TestClient, str], found: SeasonAnswer) -> None:
    """A row an open day, dates first; the figures are those of the record in the reader's units."""
    client, address = told
    answer = client.get(f"{address}/days.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    lines = list(csv.reader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert len(lines) == 1 + len(found.days)
    at = lines[0].index("Leaving damp (%), planned rule")
    share = found.days[0].figures["left_damp_share"].planned[0]
    assert lines[1][0] == found.days[0].day.isoformat()
    assert float(lines[1][at]) == pytest.approx(100 * share, rel=1e-9)


def test_the_spreadsheet(told: tuple[TestClient, str], found: SeasonAnswer) -> None:
    """Every table is a sheet; dates are dates and figures numbers."""
    client, address = told
    answer = client.get(f"{address}/season.xlsx")
    book = openpyxl.load_workbook(io.BytesIO(answer.content))
    assert book.sheetnames == [
        "Days", "Months", "Changes of sets", "Orders", "Laundry days", "Sets in rotation",
        "Options", "Days left out", "What it rests on",
    ]  # fmt: skip
    days = book["Days"]
    assert days.max_row == 1 + len(found.days)
    assert days["A2"].is_date
    assert days["B2"].data_type == "n"
    assert book["Options"].max_row == 1 + len(found.options)


def test_the_calendar_file_follows_the_one_before(
    told: tuple[TestClient, str], found: SeasonAnswer
) -> None:
    """Exported twice, the file is the same to the byte; it has a laundry for every laundry day. A
    link alone, without the page's form, gets none."""
    client, address = told
    form = next(
        form for form in page_of(client.get(address)).forms if form.action.endswith("calendar.ics")
    )
    first = client.post(form.action, data=form.data())
    assert first.headers["content-type"].startswith("text/calendar")
    assert first.content == client.post(form.action, data=form.data()).content
    events = Calendar.from_ical(first.content).walk("VEVENT")
    laundry = [event for event in events if "laundry" in str(event["summary"])]
    assert len(laundry) == len(found.laundry_days)
    assert client.get(form.action).status_code == 405


def test_a_season_that_is_not_there_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page begins what has not been computed; files say that there is none yet."""
    with demo_client(tmp_path) as client:
        begun: list[Job] = []
        monkeypatch.setattr(app_of(client).state.web.runner, "begin", begun.append)
        slug = "harbor-road"
        assert client.get(f"/{slug}/cloth/season").status_code == 200
        assert [(job.kind, job.day) for job in begun] == [("season", TODAY)]
        for name in ("days.csv", "season.xlsx"):
            assert client.get(f"/{slug}/cloth/season/{name}").status_code == 404


def test_a_first_form_is_told_so_far(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, found: SeasonAnswer
) -> None:
    """The dates are there, said to be so far, without what single days and options tell; files
    are not there yet, and the page asks again. A year without options says what it has."""
    with demo_client(tmp_path) as client:
        web, begun = app_of(client).state.web, list[Job]()
        monkeypatch.setattr(web.runner, "begin", begun.append)
        page = "/harbor-road/cloth/season"
        client.get(page)
        job = begun[-1]

        def shown(one: SeasonAnswer) -> str:
            with gate(web.database, web.now()) as writes:
                writes.store_result(job.key, job.site_id, job.day, write(one), is_final=False)
            text = html.unescape(client.get(page).text)
            assert season_answer(one, TODAY).lead in text
            assert "Stop computing" in text
            assert client.get(f"{page}/days.csv").status_code == 404
            return text

        stands = Progress(100, 1_000), ""
        monkeypatch.setattr(web.runner, "standing", lambda _, some: dict.fromkeys(some, stands))
        year = replace(found, options=())
        first = replace(year, lived=20, replications=4)
        text = shown(first)
        assert f"<b>{season_answer(first, TODAY).lead}</b> So far; dates may still move" in text
        assert "So far:" in text
        assert "20 of 59 open days were simulated, 4 times each" in text
        assert "The busiest days" not in text
        assert "What else on peak days" not in text
        text = shown(year)
        assert "So far" not in text
        assert "The busiest days" in text
        assert "What else on peak days" not in text


def test_a_site_without_counts_is_told_what_to_bring(tmp_path: Path) -> None:
    """Without counts there is no season, and the page says what is missing."""
    with demo_client(tmp_path) as client:
        web = app_of(client).state.web
        bare = demo_data()
        bare = replace(bare, site=replace(bare.site, name="Bare Lane"), history=History())
        with gate(web.database, web.now()) as opened:
            opened.create_site(replace(bare, cloth=type(bare.cloth)()), "bare")
        answer = client.get("/bare-lane/cloth/season")
        assert answer.status_code == 200
        assert "No season yet." in answer.text
        assert "There are no counts of open hours to expect a day from." in answer.text


def test_a_site_without_a_delivery_time_keeps_its_days() -> None:
    """Where orders can't be planned the page says so and why; nothing else is lost."""
    why = InputProblem("order_lead_days", "Delivery time of a new set 0 days: without one …")
    bare = replace(SEASON, stock=None, orders=(), stock_problems=(why.noted(),))
    assert season_answer(bare, TODAY).lead == "Nothing can be said of orders yet."
    assert stock_facts(bare, TODAY) == ()
    assert change_lines(bare).rows


# ---- words


def test_what_to_order_and_by_when() -> None:
    """Today, this month by a day, or later; the bold words say which."""
    for by, words in (
        (date(2026, 7, 1), "Order 2 new sets today."),
        (date(2026, 7, 20), "Order 2 new sets this month, by Monday 20 July."),
        (date(2026, 9, 2), "Nothing to order this month; 2 new sets by 2 September 2026."),
    ):
        due = replace(SEASON, orders=(OrderBy(by, 1, 2),))
        assert season_answer(due, date(2026, 7, 15)).lead == words
    one = replace(SEASON, orders=(OrderBy(date(2026, 7, 1), 1, 1),))
    assert season_answer(one, TODAY).lead == "Order 1 new set today."
    none = replace(SEASON, orders=())
    assert season_answer(none, TODAY).lead == "Nothing to order this season."


def test_a_window_that_ends_after_the_season() -> None:
    """A change of which one in ten futures is not had within the season is told as such."""
    late = replace(SEASON, changes=(replace(SEASON.changes[0], high=None),))
    assert "maybe after the season" in season_answer(late, TODAY).rest
    assert change_lines(late).rows[0][2] == "30 July 2026 to after the season"


def test_a_window_of_one_day() -> None:
    """A change that 8 of 10 futures have on one day is told on that day, not from it to itself."""
    day = date(2026, 7, 15)
    sure = replace(SEASON, changes=(replace(SEASON.changes[0], day=day, low=day, high=day),))
    said = season_answer(sure, TODAY).rest
    assert "comes off for good on 15 July 2026, in 8 of 10 futures at least." in said
    assert "between" not in said
    assert change_lines(sure).rows[0][2] == "on 15 July 2026"


def test_nothing_is_firm_on_guesses() -> None:
    """Firm only where the age of change is, and with three weighings; an age that is not says what
    it is held against. Guesses that move dates and money are named until they are entered."""
    weighed, doubted = ("soaked", "damp", "afternoon"), Standing(64, 0.3, 0.3)
    firm = replace(SEASON, weighed=weighed)
    for found, lead in ((firm, "Firm."), (SEASON, "Not firm:"),
                        (replace(firm, standing=doubted), "Not firm:"),
                        (replace(firm, standing=None), "Not firm:")):  # fmt: skip
        assert season_sure(found, ()).lead == lead
    said = season_sure(replace(firm, standing=doubted), ()).rest
    assert "“a change at 30,000 full wipes” is better by enough to matter" in said
    own = TURNS_ON["season"][1]
    assert f"“{INPUTS[own[0]].label}”" in said
    assert "turn on guesses" not in season_sure(firm, own).rest


def test_laundry_days_say_where_they_are_from() -> None:
    """By the interval that the page Cloth advises, else by the site's own."""
    assert "as the Site page has it" in season_answer(SEASON, TODAY).rest
    advised = replace(SEASON, launder_every=3, launder_advised=True)
    assert (
        ", then after every 3 open days, as the page Cloth advises."
        in season_answer(advised, TODAY).rest
    )


def test_options_say_how_firm_the_cheapest_is() -> None:
    """Held against the others at the same drawn sites, by the words of a plan."""
    kept = replace(MORE, keeps=True)
    doubted = replace(PLANNED, against=Standing(128, 0.5, 0.5))
    words = option_lines(replace(SEASON, options=(doubted, kept)), "us").says
    assert "Not firm: at 10 of 20 sites like yours (128 were drawn) “As planned” is better" in words
    sure = replace(PLANNED, against=Standing(128, 0.0, 0.0))
    assert "Firm." in option_lines(replace(SEASON, options=(sure, kept)), "us").says


def test_options_say_what_they_miss_and_when_they_pay() -> None:
    """Each option is named with its amount, its range over sites, and what it does not meet;
    the cheapest that meets all is named, else the nearest."""
    lines = option_lines(SEASON, "us")
    assert lines.rows[1] == (
        "One more set: hung at 11:00 and 15:00", f"90 (8{NBSP}%)", "90",
        f"−500 (−900{NBSP}to{NBSP}100)", "2.0 years (1.0 to never)", "no: damp and lost",
    )  # fmt: skip
    assert "Nearest, by the limit that is missed most: One more set" in lines.says
    kept = replace(SEASON, options=(PLANNED, replace(MORE, keeps=True)))
    assert "Cheapest that meets what you allow" in option_lines(kept, "us").says


def test_money_and_shares_have_no_false_digits() -> None:
    """Two digits that count, three from ten thousand on; shares to the per cent."""
    assert [about_dollars(v) for v in (0.2, 14.6, 987.0, 3_862.0, 51_973.0)] == [
        "$0", "$15", "$990", "$3,900", "$52,000",
    ]  # fmt: skip
    assert [percent(v, fine=True) for v in (None, 0.0, 0.0001, 0.034, 0.5)] == [
        "–", f"0{NBSP}%", f"under 0.1{NBSP}%", f"3.4{NBSP}%", f"50{NBSP}%",
    ]  # fmt: skip


def test_the_picture_stays_in_its_frame(found: SeasonAnswer) -> None:
    """Bars, windows, orders and months lie between the frame's edges."""
    seen = drawn(str(year_chart(found).svg))
    places = [
        *(x for box in seen.boxes["wet"] for x in box[:2]),
        *(x for line in seen.lines["window"] for x, _y in line),
        *(x for kind in ("day", "order") for x, _y in seen.points.get(kind, ())),
        *(one.at[0] for one in seen.words),
    ]
    assert len(places) > 25
    assert min(places) >= 0.0
    assert max(places) <= 100.0


def test_the_picture_shows_weeks_and_changes_in_their_place(found: SeasonAnswer) -> None:
    """A bar a week, as high as its wear is of the highest; windows from their first to their last
    day, the day between them; months in order, the first of each where it begins."""
    chart = year_chart(found)
    seen = drawn(str(chart.svg))
    days = (found.last - found.first).days + 1
    wear = [number(row[1]) for row in chart.rows]
    heights = [foot - top for _left, _right, top, foot in seen.boxes["wet"]]
    assert len(heights) == len(wear) == math.ceil(days / 7)
    shares = [cars / max(wear) for cars in wear]
    assert [high / max(heights) for high in heights] == pytest.approx(shares, abs=0.01)
    for week, (left, right, _top, foot) in enumerate(seen.boxes["wet"]):
        assert 7 * week < left * days / 100.0 < right * days / 100.0 < 7 * week + 7
        assert foot == seen.floor
    for change, line, day in zip(
        found.changes, seen.lines["window"], seen.points["day"], strict=False
    ):
        ends = [round(x * days / 100.0) for x, _y in line]
        assert ends[0] == (change.low - found.first).days
        assert ends[1] == ((change.high or found.last) - found.first).days
        assert round(day[0] * days / 100.0) == (change.day - found.first).days
    months = [one for one in seen.words if one.at[1] > seen.floor]
    for one, later in itertools.pairwise(months):
        assert 27.5 < (later.at[0] - one.at[0]) * days / 100.0 < 31.5
