"""The page Roster: made, moved by hand, undone; people entered; what is wrong told."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path

import openpyxl
import pytest
from fastapi.testclient import TestClient

from app.answers import staff
from app.answers.answer import Desk
from app.answers.serial import write
from app.answers.staff import MOST_S, ROSTER, monday_of
from app.answers.studies.runner import Progress
from app.sites.reading import find, gate
from sim.decide.staff.answer import RosterAnswer
from sim.decide.staff.roster import roster_answer
from sim.inputs import Away, Person, PlannedShift, Site, SiteData, StaffBook
from tests.demo_app import app_of, not_held
from tests.pages.pages import Page, page_of, small_client, stored_site
from tests.published.test_rfc5545 import strictly
from tests.remembering import remember
from tests.small_wash import CLOSED, PLANNED, small_wash

SITE = Site("Mill Lane", "America/New_York").with_values(
    {"open_h": 8.0, "close_h": 16.0, "people": ((0.0, 1.0),)}
)
PEOPLE = tuple(Person(f"Person {letter}", (), 20.0) for letter in "ABCD")
WEEK = "/mill-lane/roster/2026-07-20"
FEW_DAYS = 4
"""Simulated days of who is needed; what the page does with it needs no more."""


@pytest.fixture(autouse=True)
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same week and the same day are worked out once."""
    remember(monkeypatch, staff, "answer_apart", but=("report", "early"))
    remember(monkeypatch, staff, "answer_staff", but=("executor", "progress", "early", "stage"))
    few = not_held(partial(staff.answer_staff, days=FEW_DAYS))
    monkeypatch.setattr(staff, "answer_staff", few)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on a site with four people."""
    with small_client(tmp_path, SiteData(SITE, "us", staff=StaffBook(PEOPLE))) as browser:
        yield browser


def send(client: TestClient, act: str, **fields: str) -> str:
    """Sends a form of the page as it stands, some fields changed; the page that follows."""
    form = page_of(client.get(WEEK)).form(f"{WEEK}/{act}")
    return client.post(form.action, data=form.data(**fields)).text


def settled(client: TestClient, kind: str) -> None:
    """Waits until no study of a kind is under way."""
    runner = app_of(client).state.web.runner
    for run in list(runner._line._runs.values()):
        if run.kind == kind:
            run.future.result()


def make(client: TestClient) -> str:
    """Makes a roster and waits for it; the page that proposes it."""
    waiting = send(client, "make")
    assert "Making the roster." in waiting or "The roster proposed" in waiting
    settled(client, "roster")
    return client.get(f"{WEEK}/made").text


def place(client: TestClient) -> str:
    """Makes a roster and puts it in place; the page of the week."""
    form = Page(make(client)).form(f"{WEEK}/place")
    return client.post(form.action, data=form.data()).text


def test_a_roster_is_made_moved_and_undone(client: TestClient) -> None:
    """Proposed, then put in place by a press; a moved shift is stored and its problems told;
    undone it is as before."""
    proposed = make(client)
    assert "It costs" in proposed
    assert "none of this week costs less" in proposed
    assert stored_site(client).staff.shifts == ()
    made = place(client)
    assert "The roster stands." in made
    assert "Rules that this roster breaks" not in made
    before = stored_site(client).staff
    assert before.shifts
    one = before.shifts[0]
    form = page_of(client.get(WEEK)).form(f"{WEEK}/move")
    fields = {"who": one.name, "weekday": "0", "start": "", "end": ""}
    moved = client.post(form.action, data=form.data(**fields))
    assert "of work without a person." in moved.text
    assert len(stored_site(client).staff.shifts) == len(before.shifts) - 1
    back = page_of(moved).form(f"{WEEK}/undo")
    undone = client.post(back.action, data=back.data()).text
    assert "Undone." in undone
    assert "Rules that this roster breaks" not in undone
    assert stored_site(client).staff == before


def test_making_can_be_undone_too(client: TestClient) -> None:
    """Undo leaves the week without a roster, as it was; it waits for whoever comes back later,
    and what was undone can be had again."""
    made = place(client)
    back = page_of(client.get(WEEK)).form(f"{WEEK}/undo")
    assert "The last change to this week’s shifts: site manager" in made
    before = stored_site(client).staff
    client.post(back.action, data=back.data())
    assert stored_site(client).staff.shifts == ()
    again = page_of(client.get(WEEK)).form(f"{WEEK}/undo")
    client.post(again.action, data=again.data())
    assert stored_site(client).staff == before
    other = client.get("/mill-lane/roster/2026-07-27").text
    assert "The last change to this week’s shifts" not in other


def test_a_roster_of_another_question_is_not_put_in_place(client: TestClient) -> None:
    """Somebody leaves between the proposal and the press: nothing is stored, and it is told."""
    form = Page(make(client)).form(f"{WEEK}/place")
    send(client, "leave", leaver="Person A")
    answer = client.post(form.action, data=form.data())
    assert answer.status_code == 409
    assert "have changed since" in answer.text
    assert "No roster has been made of what is asked now." in answer.text
    assert stored_site(client).staff.shifts == ()


def test_a_first_roster_is_told_so_far_and_put_in_place_alone(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Shown while a better one is looked for, without a button; stopped then, it can be put in
    place; a button of the first one does not put the last one there."""
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    view = web.open(site, ROSTER, date(2026, 7, 20))
    assert view.asked.week is not None
    whole = roster_answer(view.asked.week, lambda: MOST_S)
    first = replace(whole, coarse=True)

    def store(found: RosterAnswer, is_final: bool) -> None:
        with gate(web.database, web.now()) as writes:
            writes.store_result(view.key, site.id, view.day, write(found), is_final=is_final)

    store(first, is_final=False)
    stopped = Page(client.get(f"{WEEK}/made").text).form(f"{WEEK}/place")
    stands = Progress(250, 1_000), ""
    with monkeypatch.context() as patched:
        patched.setattr(web.runner, "standing", lambda _, finals: dict.fromkeys(finals, stands))
        text = client.get(f"{WEEK}/made").text
    assert "So far a roster that costs" in text
    assert "none of this week costs less" in text
    assert "The roster proposed" in text
    assert "Stop computing" in text
    assert f'action="{WEEK}/place"' not in text
    store(whole, is_final=True)
    assert client.post(stopped.action, data=stopped.data()).status_code == 409
    assert stored_site(client).staff.shifts == ()
    last = Page(client.get(f"{WEEK}/made").text).form(f"{WEEK}/place")
    assert client.post(last.action, data=last.data()).status_code == 200
    assert stored_site(client).staff.shifts


def test_no_roster_says_why_and_the_ways_out(tmp_path: Path) -> None:
    """Everybody away on Saturday: nothing is stored, rules and ways out are told."""
    people = tuple(replace(person, away=(Away(5),)) for person in PEOPLE)
    with small_client(tmp_path, SiteData(SITE, "us", staff=StaffBook(people))) as client:
        said = make(client)
        assert "There is no roster for this week." in said
        assert "It is about Saturday." in said
        assert "works on Saturday, though away then." in said
        assert stored_site(client).staff.shifts == ()


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("start", "eight", "“eight” is not a time of day. Write it as 15:20."),
        ("start", "8:10", "“8:10” is not on a full or half hour. Write it as 15:30."),
        ("end", "7:00", "End “7:00” is not after start 8:00."),
        ("who", "Nobody", "“Nobody” is not among the people of this site."),
        ("weekday", "9", "“9” is no day of this week."),
    ],
)
def test_a_bad_shift_is_told_beside_its_field(
    client: TestClient, field: str, typed: str, said: str
) -> None:
    """Field, value and what would be right; what was typed stays; nothing is stored."""
    good = {"who": "Person A", "weekday": "0", "start": "8:00", "end": "16:00"}
    text = send(client, "move", **{**good, field: typed})
    page = Page(text)
    assert said in page.by_id[f"in-{field}-e"]
    if field in ("start", "end"):
        assert page.field(field).value == typed
    assert stored_site(client).staff.shifts == ()


def test_people_are_entered_and_changed(client: TestClient) -> None:
    """A new name is added, a name there is, is changed; a bad number is told and nothing stored."""
    fields = {"name": "Zoë", "roles": "loader; finisher", "wage_per_h": "21.5", "away": "sat"}
    send(client, "person", **fields)
    assert stored_site(client).staff.people[-1] == Person(
        "Zoë", ("loader", "finisher"), 21.5, away=(Away(5),)
    )
    send(client, "person", name="Zoë", most_h="24")
    assert stored_site(client).staff.people[-1] == Person("Zoë", most_h=24.0)
    assert "“many” is not a number" in send(client, "person", name="Zoë", most_h="many")
    assert "most_h of “Zoë” is 200. Enter 0 to 80." in send(
        client, "person", name="Zoë", most_h="200"
    )
    assert "“someday” can’t be read" in send(client, "person", name="Zoë", away="someday")
    assert len(stored_site(client).staff.people) == len(PEOPLE) + 1
    send(client, "leave", leaver="Zoë")
    assert stored_site(client).staff.people == PEOPLE


def test_a_site_without_people_is_told_what_to_do(tmp_path: Path) -> None:
    """The page says what is missing and has the form for it; next week is where it leads."""
    with small_client(tmp_path, SiteData(SITE, "us")) as client:
        text = client.get("/mill-lane/roster").text
        assert "The site has no people." in text
        assert "local labour law" in text
        assert "Store this person" in text


def test_any_day_leads_to_its_week_and_to_a_file(client: TestClient) -> None:
    """A Thursday shows the week from Monday; the file has a row a shift."""
    send(client, "move", who="Person B", weekday="3", start="8:00", end="16:00")
    assert f'action="{WEEK}/move"' in client.get("/mill-lane/roster/2026-07-23").text
    rows = client.get(f"{WEEK}/roster.csv").text.splitlines()
    assert rows[1] == "2026-07-23,Person B,,8:00,16:00,11:30,12:00,7.5,150"
    assert client.get("/mill-lane/roster/someday").status_code == 404
    assert monday_of(stored_site(client).staff.shifts[0].day).isoformat() == WEEK[-10:]


def test_people_worked_out_take_the_place_of_those_planned(tmp_path: Path) -> None:
    """Each open day of the week is worked out by one press; the page waits and leads back, the
    table says where the people are from, and the roster then asks for loaders by skill."""
    people = tuple(Person(f"Person {at}", ("loader",) if at % 2 else ()) for at in range(8))
    data = replace(small_wash(), staff=StaffBook(people))
    week = f"/small-wash/roster/{monday_of(PLANNED).isoformat()}"
    with small_client(tmp_path, data) as client:
        page = page_of(client.get(week))
        assert "as planned; not worked out yet" in client.get(week).text
        form = page.form(f"{week}/needs")
        waiting = client.post(form.action, data=form.data())
        assert (
            "Who is needed each day." in waiting.text or "worked out, with skills" in waiting.text
        )
        settled(client, "staff")
        done = client.get(f"{week}/needs")
        assert done.url.path == week
        assert "not worked out yet" not in done.text
        assert "worked out, with skills" in done.text
        web = app_of(client).state.web
        with web.database.session() as session:
            site = find(session, small_wash().site.name)
            view = Desk(session, site, web.runner).open(ROSTER, monday_of(PLANNED))
        assert view.asked.week is not None
        assert set(view.asked.week.skilled) == {"loader"}
        closed = (CLOSED - view.asked.monday).days
        if 0 <= closed < 7:
            assert not view.asked.week.needed[closed].any()


def test_a_role_that_nobody_can_do_is_named(tmp_path: Path) -> None:
    """Days worked out with nobody who can do any role: the page names the role, says that anybody
    is asked for, and no longer says so once somebody can."""
    week = f"/small-wash/roster/{monday_of(PLANNED).isoformat()}"
    nobody = replace(small_wash(), staff=StaffBook(PEOPLE))
    with small_client(tmp_path, nobody) as client:
        assert "Nobody here can be" not in client.get(week).text
        form = page_of(client.get(week)).form(f"{week}/needs")
        client.post(form.action, data=form.data())
        settled(client, "staff")
        said = client.get(week).text
        assert "Nobody here can be" in said
        assert "loader yet, so the roster asks for anybody" in said
        assert "with skills" not in said
        entered = page_of(client.get(week)).form(f"{week}/person")
        skills = {"name": "Zoë", "roles": "loader; greeter; finisher"}
        client.post(entered.action, data=entered.data(**skills))
        now = client.get(week).text
        assert "Nobody here can be" not in now
        assert "worked out, with skills" in now


def test_files_of_a_week(client: TestClient) -> None:
    """A spreadsheet of the week, and a calendar file for anybody of the site, but nobody else."""
    send(client, "move", who="Person B", weekday="3", start="8:00", end="16:00")
    page = page_of(client.get(WEEK))
    assert f"{WEEK}/roster.xlsx" in page.links
    book = openpyxl.load_workbook(io.BytesIO(client.get(f"{WEEK}/roster.xlsx").content))
    assert book.sheetnames == ["Shifts", "Week", "Cost by day"]
    assert book["Shifts"]["B2"].value == "Person B"
    form = page.form(f"{WEEK}/calendar.ics")
    answer = client.post(form.action, data=form.data(person="Person B"))
    assert answer.headers["content-type"].startswith("text/calendar")
    (event,) = strictly(answer.content).walk("VEVENT")
    assert event.decoded("dtstart").date() == date(2026, 7, 23)
    assert client.post(form.action, data=form.data(person="Nobody")).status_code == 404


def put(client: TestClient, book: StaffBook) -> None:
    """Stores people and shifts at once, as a folder that is brought in does."""
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    assert site is not None
    with gate(web.database, web.now()) as opened:
        opened.set_book(site.id, "staff", book, site.version, f"put {site.version}")


def shift(day: date, name: str, start_h: float = 8.0) -> PlannedShift:
    """A shift until 16:00 with half an hour of break."""
    return PlannedShift(day, name, "", 3600.0 * start_h, 57_600.0, 43_200.0, 45_000.0)


def undo(client: TestClient) -> StaffBook:
    """Presses Undo on the page of the week; what is stored then."""
    form = page_of(client.get(WEEK)).form(f"{WEEK}/undo")
    client.post(form.action, data=form.data())
    return stored_site(client).staff


def test_undo_lets_other_weeks_be(client: TestClient) -> None:
    """Two weeks came in at once and the second was changed since: undoing the first keeps it."""
    first, second = date(2026, 7, 20), date(2026, 7, 27)
    put(client, StaffBook(PEOPLE, (shift(first, "Person A"), shift(second, "Person B"))))
    changed = shift(second, "Person B", 10.0)
    put(client, StaffBook(PEOPLE, (shift(first, "Person A"), changed)))
    assert undo(client) == StaffBook(PEOPLE, (changed,))


def test_a_shift_longer_than_the_longest_is_named(client: TestClient) -> None:
    """Eighteen hours go in when a hand moves them, and the page says by how much they are too long
    and of whom."""
    typed = {"who": "Person A", "weekday": "0", "start": "5:00", "end": "23:00"}
    text = send(client, "move", **typed).replace("\xa0", " ")
    over = 18.0 - stored_site(client).site.shifts.longest_shift_h
    said = f"Person A works {over:g} h longer on Monday than the longest shift allowed."
    assert said in text
    assert "longer on Monday" not in send(client, "move", **{**typed, "end": "11:00"})


def test_there_is_no_grid_before_there_is_a_roster(client: TestClient) -> None:
    """A week without shifts shows no rows of nothing; money has its sign where there are some."""
    assert 'class="weekly"' not in client.get(WEEK).text
    text = send(client, "move", who="Person A", weekday="0", start="8:00", end="14:00")
    assert 'class="weekly"' in text
    assert re.search(r"They cost \$\d+, overtime included\.", text)


def test_a_large_week_is_undone_whole_and_late(client: TestClient) -> None:
    """500 shifts that were put in place, and everybody's wage changed after that: Undo is still
    offered, takes away all shifts and leaves the wages."""
    crew = tuple(Person(f"Person {at:03}") for at in range(100))
    days = [date(2026, 7, 20) + timedelta(days=at) for at in range(5)]
    shifts = tuple(shift(day, person.name) for day in days for person in crew)
    put(client, StaffBook(crew, shifts))
    assert len(stored_site(client).staff.shifts) == 500
    dearer = tuple(replace(person, wage_per_h=25.0) for person in crew)
    put(client, StaffBook(dearer, shifts))
    assert undo(client) == StaffBook(dearer)


def test_somebody_named_like_a_date_is_no_shift(client: TestClient) -> None:
    """A person whose name ends as a shift's entry of the week does, leaves nothing to undo."""
    put(client, StaffBook((*PEOPLE, Person("Bo 2026-07-20"))))
    assert "The last change to this week’s shifts" not in client.get(WEEK).text
