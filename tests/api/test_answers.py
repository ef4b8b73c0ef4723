"""What programs read is what the pages show; what they write goes through the same gate, once;
lists are complete; what a token costs has an end; refusals are problems."""

from __future__ import annotations

import datetime
import errno
import json
import re
import threading
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from fastapi.testclient import TestClient

from app.access.table import API
from app.answers.kinds import LISTED
from app.answers.serial import read
from app.api import door, log
from app.api.problems import SORTS
from app.db.session import CannotOpen, begin_write
from app.db.writes import ask_study, end_open_study
from app.sites.programs import programs_gate, spent_today, tokens_of
from app.sites.reading import entries_of, gate, whole_log_of
from sim.decide.answer import Plan
from sim.inputs import LogEntry
from tests.api.programs import Program, is_problem, let_in
from tests.demo_app import TODAY, app_of, begin_nothing, demo_client, demo_site, store_comparison

SITE = "/sites/harbor-road"
BUSY = datetime.date(2026, 7, 18)
YESTERDAY = (TODAY - datetime.timedelta(days=1)).isoformat()
CARS = {"kind": "cars", "count": 12, "day": YESTERDAY, "at_s": 36_000}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The demo with a plan of its busy day; what is asked for waits and is not worked out."""
    folder = tmp_path_factory.mktemp("api")
    with pytest.MonkeyPatch.context() as patch, demo_client(folder) as client:
        begin_nothing(patch)
        store_comparison(client, BUSY)
        yield client


@pytest.fixture
def program(demo: TestClient, request: pytest.FixtureRequest) -> Program:
    """A program of its own that may do everything at the demo site."""
    return Program(demo, let_in(app_of(demo), request.node.name[:40]))


# ---- one truth -----------------------------------------------------------------------------------


def test_a_plan_has_the_numbers_of_its_page(demo: TestClient, program: Program) -> None:
    """The margin of each scenario that the page prints is the one that programs read, rounded; and
    what they read is the stored answer, to the last bit."""
    told = program.get(f"{SITE}/days/{BUSY}/plan")
    assert told["state"] == "done"
    plan = read(Plan, json.dumps(told["answer"]))
    page = re.sub(r"<[^>]+>", " ", demo.get(f"/harbor-road/plan/{BUSY}").text)
    step = 100.0
    for column in plan.comparison.columns:
        margin = column.value("margin")
        assert margin is not None
        printed = [float(one.replace(",", "")) for one in re.findall(r"\$([\d,]+)", page)]
        assert any(abs(one - margin) <= step / 2 for one in printed), (margin, printed[:20])


def test_checks_and_what_happened_are_those_of_the_pages(
    demo: TestClient, program: Program
) -> None:
    """Checks that are due stand on the page too, and a day that is over has the cars of its page,
    which prints them in tens."""
    due = [one for one in program.get(f"{SITE}/checks")["checks"] if one["stands"] != "done"]
    page = demo.get("/harbor-road/checks").text
    assert all(one["item"]["name"] in page for one in due)
    held = program.get(f"{SITE}/days/{YESTERDAY}/happened")["found"]["held"]
    cars = next(one for one in held if one["figure"].startswith("cars"))["was"]
    assert f"{round(cars + 0.1, -1):,.0f}" in demo.get(f"/harbor-road/happened/{YESTERDAY}").text


def test_now_is_what_today_says(demo: TestClient, program: Program) -> None:
    """The act that programs are told is that of Today at the same moment."""
    told = program.get(f"{SITE}/now")
    assert told["answer"]["told"]["act"]["word"] == "stay"
    assert "Stay on full." in demo.get("/harbor-road/today").text


def test_every_answer_is_as_described(demo: TestClient, program: Program) -> None:
    """What comes back fits the schema that the description (OpenAPI 3.1) gives of it, held to that
    by an independent validator of JSON Schema (`jsonschema_rs`)."""
    document = demo.get(f"{API}/openapi.json").json()
    for path, way in document["paths"].items():
        if "get" not in way or "{key}" in path:
            continue
        filled = path.format(slug="harbor-road", day=YESTERDAY if "happened" in path else BUSY)
        schema = way["get"]["responses"]["200"]["content"]["application/json"]["schema"]
        whole = {**schema, "components": document["components"]}
        jsonschema_rs.Draft202012Validator(whole).validate(program.get(filled))


# ---- writing -------------------------------------------------------------------------------------


def test_an_entry_is_stored_once(demo: TestClient, program: Program) -> None:
    """The same request twice gets the same answer and makes one entry, also where that was
    corrected meanwhile; with another body its key is refused, and without one the request."""
    first = program.ask("POST", f"{SITE}/log", "first-entry", json=CARS)
    assert first.status_code == 201
    entry = first.json()
    assert first.headers["location"] == f"{API}{SITE}/log/{entry['key']}"
    better = program.ask("PUT", f"{SITE}/log/{entry['key']}", json=CARS | {"count": 14})
    assert better.json()["count"] == 14
    again = program.ask("POST", f"{SITE}/log", "first-entry", json=CARS)
    assert (again.status_code, again.json()) == (201, entry)
    assert program.get(f"{SITE}/log/{entry['key']}")["count"] == 14
    other = program.ask("POST", f"{SITE}/log", "first-entry", json=CARS | {"count": 13})
    is_problem(other, 422, "values")
    is_problem(program.ask("POST", f"{SITE}/log", json=CARS), 400, "request")
    bare = {"Idempotency-Key": "first-entry"}
    is_problem(program.ask("POST", f"{SITE}/log", json=CARS, headers=bare), 400, "request")


def test_a_key_is_kept_by_entry_where_the_answer_was_lost(
    demo: TestClient, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed between storing the entry and keeping its answer, the same request finds its entry."""
    with monkeypatch.context() as patch:
        patch.setattr("app.sites.programs.ProgramsGate.keep", lambda *_given: None)
        first = program.ask("POST", f"{SITE}/log", "lost-answer", json=CARS)
    again = program.ask("POST", f"{SITE}/log", "lost-answer", json=CARS)
    assert (again.status_code, again.json()) == (first.status_code, first.json())
    is_problem(
        program.ask("POST", f"{SITE}/log", "lost-answer", json=CARS | {"count": 1}), 422, "values"
    )


def test_the_same_request_at_once_is_told_to_wait(
    demo: TestClient, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the first is being carried out the second gets 409, and afterwards its answer."""
    inside, go_on, enter = threading.Event(), threading.Event(), log._enter

    def slowly(*given: Any) -> None:
        inside.set()
        go_on.wait(30)
        enter(*given)

    monkeypatch.setattr(log, "_enter", slowly)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(program.ask, "POST", f"{SITE}/log", "at-once-1", json=CARS)
        assert inside.wait(30)
        is_problem(program.ask("POST", f"{SITE}/log", "at-once-1", json=CARS), 409, "changed")
        go_on.set()
        assert first.result().status_code == 201
    again = program.ask("POST", f"{SITE}/log", "at-once-1", json=CARS)
    assert again.json() == first.result().json()


def test_entries_are_taken_back_and_an_advice_stays(demo: TestClient, program: Program) -> None:
    """Taken back and put back by PUT; another kind can't be made of an entry, and what Clothcast
    advised can't be changed."""
    entry = program.ask("POST", f"{SITE}/log", "to-strike", json=CARS).json()
    place = f"{SITE}/log/{entry['key']}"
    assert program.ask("PUT", f"{place}/struck", json={"struck": True}).json()["struck"] == "yes"
    assert program.ask("PUT", f"{place}/struck", json={"struck": False}).json() == entry
    note = {"kind": "note", "text": "wet"}
    is_problem(program.ask("PUT", place, json=note), 422, "values")
    web, site = app_of(demo).state.web, demo_site(demo)
    advice = LogEntry("advice-of-test", TODAY, 36_000.0, "advice", word="stay", text="Stay.")
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, [advice], "advice-of-test")
    place = f"{SITE}/log/{advice.key}"
    is_problem(program.ask("PUT", f"{place}/struck", json={"struck": True}), 409, "changed")
    is_problem(program.ask("GET", f"{SITE}/log/not-there"), 404, "not-here")


@pytest.mark.parametrize(
    ("sent", "pointer", "says"),
    [
        (CARS | {"count": "12"}, "#/count", "valid integer"),
        (CARS | {"count": 9_000}, "#/count", "5000"),
        (CARS | {"of": 3}, "#/of", "not permitted"),
        (CARS | {"day": "2026-02-31"}, "#/day", "2026-07-18"),
        (CARS | {"day": 20_000}, "#/day", "2026-07-18"),
        (CARS | {"day": "2026-12-31"}, "#/day", "still to come"),
        (CARS | {"at_s": 36_001}, "#/at_s", "multiple of 60"),
        ({"kind": "claim", "word": "damage", "vehicle": "tank"}, "#/vehicle", "kind of car"),
        ({"kind": "advice", "word": "stay"}, "#/", "tag"),
        ({"kind": "damp", "count": 9, "of": 3}, "#/count", "9 damp hoods of 3"),
        ({"kind": "check", "name": "Nothing", "word": "fine"}, "#/name", "on no list"),
        ({"kind": "note", "text": "\ud800"}, "#/text", "valid string"),
        ({"kind": "note", "text": " "}, "#/text", "no text"),
        ({"kind": "weather", "text": "hot"}, "#/text", "hot"),
    ],
)
def test_what_can_not_be_is_named(
    demo: TestClient, program: Program, sent: dict[str, Any], pointer: str, says: str
) -> None:
    """A value of a wrong type or out of range, a field of another kind, and what the gate refuses:
    the problem points to the field, and nothing is stored."""
    count = len(whole_log_of(app_of(demo).state.web.database, 1))
    headers = {"Content-Type": "application/json"}
    content = json.dumps(sent).encode()
    answer = program.ask("POST", f"{SITE}/log", "bad-entry", content=content, headers=headers)
    is_problem(answer, 422, "values")
    told = answer.json()["errors"]
    assert any(one["pointer"] == pointer and says in one["detail"] for one in told), told
    assert len(whole_log_of(app_of(demo).state.web.database, 1)) == count


def test_counts_and_weighings_by_version(tmp_path: Path) -> None:
    """Entered by the version that was read, and told; by another one nothing is stored; weighings
    sent twice are added once."""
    with demo_client(tmp_path) as demo:
        program = Program(demo, let_in(app_of(demo), "till"))
        site = program.get(SITE)
        rows = [{"day": YESTERDAY, "hour": hour, "fold": 0, "cars": 60 + hour} for hour in (9, 10)]
        sent = {"version": site["version"], "counted": site["counted"], "counts": rows}
        put = program.ask("PUT", f"{SITE}/counts", json=sent)
        assert put.status_code == 200, put.text
        assert put.json()["version"] == site["version"] + 1
        is_problem(
            program.ask("PUT", f"{SITE}/counts", json=sent | {"counts": rows[:1]}), 409, "changed"
        )
        told = program.get(f"{SITE}/counts?first={YESTERDAY}&last={YESTERDAY}")["items"]
        assert [one for one in told if one["hour"] in (9, 10)] == rows
        page = demo.get("/harbor-road/counts.csv").text
        assert f"{YESTERDAY}T09:00-04:00,69\n" in page
        strip = {
            "kind": "soaked",
            "day": YESTERDAY,
            "at_s": 36_000,
            "weight_kg": 0.9,
            "dry_kg": 0.3,
        }
        added = {"version": site["version"] + 1, "weighings": [strip]}
        for _time in range(2):
            answer = program.ask("POST", f"{SITE}/weighings", "weighing-1", json=added)
            assert (answer.status_code, answer.json()["version"]) == (201, site["version"] + 2)
        held = program.get(f"{SITE}/weighings")["items"]
        assert [one["weight_kg"] for one in held] == [0.9]
        dry = added | {"version": site["version"] + 2, "weighings": [strip | {"weight_kg": 0.2}]}
        answer = program.ask("POST", f"{SITE}/weighings", "weighing-2", json=dry)
        is_problem(answer, 422, "values")
        assert "a wet strip weighs more" in answer.json()["errors"][0]["detail"]
        walk_weighings_while_others_add(program, strip)


def walk_weighings_while_others_add(program: Program, strip: dict[str, Any]) -> None:
    """Page by page, while one more is added before and one behind each page: those of one minute,
    some of which say the same, are told exactly once each."""
    many = [strip | {"weight_kg": 0.80 + 0.01 * (number // 3)} for number in range(20)]

    def add(weighings: list[dict[str, Any]], key: str) -> None:
        sent = {"version": program.get(SITE)["version"], "weighings": weighings}
        assert program.ask("POST", f"{SITE}/weighings", key, json=sent).status_code == 201

    add(many, "weighings-of-a-minute")
    there = Counter(one["weight_kg"] for one in program.get(f"{SITE}/weighings")["items"])
    seen, mark = Counter[float](), ""
    for turn in range(len(many)):
        page = program.get(f"{SITE}/weighings?limit=4{mark}")
        seen.update(one["weight_kg"] for one in page["items"])
        if page["after"] is None:
            break
        mark = f"&after={page['after']}"
        more = [
            strip | {"weight_kg": 2.0 + 0.01 * turn, "at_s": at_s} for at_s in (60 * turn, 72_000)
        ]
        add(more, f"weighings-meanwhile-{turn}")
    assert turn > 3
    assert {weight: times for weight, times in seen.items() if weight < 2.0} == there
    assert all(times == 1 for weight, times in seen.items() if weight >= 2.0)


# ---- lists ---------------------------------------------------------------------------------------


def test_lists_are_complete_while_others_write(demo: TestClient, program: Program) -> None:
    """Walked page by page while entries are added, corrected to other times and taken back: each
    entry that was there from beginning to end is told exactly once."""
    day = "2026-05-02"
    held = whole_log_of(app_of(demo).state.web.database, 1)
    there = {one.key for one in held if one.day.isoformat() == day}
    assert len(there) > 10
    seen, after, turn = list[str](), "", 0
    while True:
        page = program.get(f"{SITE}/log?first={day}&last={day}&limit=3{after}")
        seen += [one["key"] for one in page["items"]]
        if page["after"] is None:
            break
        after, turn = f"&after={page['after']}", turn + 1
        new = program.ask("POST", f"{SITE}/log", f"while-{turn:03}", json=CARS | {"day": day})
        moved = {"kind": "cars", "count": turn, "day": day, "at_s": 60 * turn}
        program.ask("PUT", f"{SITE}/log/{new.json()['key']}", json=moved)
        last = program.get(f"{SITE}/log/{seen[-1]}")
        if last["kind"] != "advice":
            program.ask("PUT", f"{SITE}/log/{seen[-1]}/struck", json={"struck": True})
            program.ask("PUT", f"{SITE}/log/{seen[-1]}/struck", json={"struck": False})
    assert len(seen) == len(set(seen))
    assert there <= set(seen)
    counts = program.get(f"{SITE}/counts?first={day}&last={day}&limit=500")["items"]
    walked, mark = list[object](), ""
    for _page in range(len(counts)):
        page = program.get(f"{SITE}/counts?first={day}&last={day}&limit=4{mark}")
        walked += page["items"]
        if page["after"] is None:
            break
        mark = f"&after={page['after']}"
    assert walked == counts


def test_work_is_told_page_by_page(demo: TestClient, program: Program) -> None:
    """Each piece once, as the whole list and its own address have it; more than the page *Work in
    hand* shows, and when each was asked for."""
    database, now = app_of(demo).state.web.database, app_of(demo).state.web.settings.clock()
    with database.session() as session:
        begin_write(session)
        for number in range(LISTED + 3):
            ask_study(
                session, f"piece-{number:02}", kind="plan", site_id=1, day=BUSY, person_id=1,
                at=now - datetime.timedelta(hours=number), total=4,
            )  # fmt: skip
            end_open_study(session, f"piece-{number:02}", "cancelled", None)
        session.commit()
    work = f"{SITE}/work"
    whole, walked, mark = program.get(f"{work}?limit=500"), list[Any](), ""
    for _page in range(len(whole["items"])):
        page = program.get(f"{work}?limit=9{mark}")
        walked += page["items"]
        if page["after"] is None:
            break
        mark = f"&after={page['after']}"
    assert whole["after"] is None
    assert walked == whole["items"]
    oldest = program.get(f"{work}/piece-{LISTED + 2}")
    assert oldest in walked
    asked_at = datetime.datetime.fromisoformat(oldest["asked_at"])
    assert asked_at == now - datetime.timedelta(hours=LISTED + 2)


@pytest.mark.parametrize("mark", ["x", "W10=", "WzFd", "bnVsbA==", "WyJhIiwxLDJd", "é"])
def test_a_mark_that_is_none_is_refused(demo: TestClient, program: Program, mark: str) -> None:
    """What no page before told is no place in a list; a place in another list may be one."""
    for of in ("counts", "weighings"):
        answer = program.ask("GET", f"{SITE}/{of}", params={"after": mark})
        is_problem(answer, 422, "values")


# ---- what it costs -------------------------------------------------------------------------------


def test_reading_begins_nothing(demo: TestClient, program: Program) -> None:
    """An answer that is not there is told to be so, and no work is begun by looking."""
    before = program.get(f"{SITE}/work")["items"]
    assert program.get(f"{SITE}/days/2026-07-25/plan")["state"] == "not asked for"
    assert program.get(f"{SITE}/days/2026-07-25/staff")["answer"] is None
    assert program.get(f"{SITE}/work")["items"] == before


def test_a_token_has_so_much_work_and_no_more(
    demo: TestClient, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three pieces may wait, a fourth is refused with when to ask again, what is asked twice counts
    once, another token has its own three; and once its processor seconds are used up it is told
    to come back tomorrow, though its entries are still stored."""
    days = [f"2026-08-{day:02}" for day in range(3, 8)]
    sent = [{"kind": "plan", "day": day} for day in days]
    for one in (sent[0], *sent[:3]):
        answer = program.ask("POST", f"{SITE}/work", json=one)
        assert answer.status_code == 202, (answer.text, program.get(f"{SITE}/work"))
        place = answer.headers["location"].removeprefix(API)
        assert program.get(place)["state"] == "waiting"
    refused = program.ask("POST", f"{SITE}/work", json=sent[3])
    is_problem(refused, 429, "cost")
    assert refused.headers["retry-after"] == "30"
    other = Program(demo, let_in(app_of(demo), "another"))
    assert other.ask("POST", f"{SITE}/work", json=sent[3]).status_code == 202
    done = program.ask("POST", f"{SITE}/work", json={"kind": "plan", "day": BUSY.isoformat()})
    assert (done.status_code, done.json()["state"]) == (200, "done")
    web = app_of(demo).state.web
    spent = Program(demo, let_in(app_of(demo), "spent"))
    token = tokens_of(web.database)[-1]
    with programs_gate(web.database, web.settings.clock()) as opened:
        opened.spend(token.id, door.MOST_S)
    refused = spent.ask("POST", f"{SITE}/work", json=sent[4])
    is_problem(refused, 429, "cost")
    assert 0 < int(refused.headers["retry-after"]) <= 86_400
    entered = spent.ask("POST", f"{SITE}/log", "after-all", json=CARS)
    assert entered.status_code == 201
    key = entered.json()["key"]
    assert entries_of(web.database, 1, [key])


def test_what_is_worked_out_counts_for_the_token_that_asked(demo: TestClient) -> None:
    """Processor time of a program's work is added up by its token and day; others' is not."""
    web = app_of(demo).state.web
    let_in(app_of(demo), "counted")
    token = tokens_of(web.database)[-1]
    book, now = web.runner.book, web.settings.clock()
    for asker in (f"program {token.id}", f"program {token.id}", "program", "browser", ""):
        book.spend(1.25, asker)
    assert spent_today(web.database, token.id, now) == pytest.approx(2.5)
    tomorrow = now + datetime.timedelta(days=1)
    assert spent_today(web.database, token.id, tomorrow) == 0.0


# ---- problems ------------------------------------------------------------------------------------


def test_every_refusal_is_a_problem(demo: TestClient, program: Program) -> None:
    """Addresses that are none, methods that an address lacks, bodies too large, no JSON, a name of
    another host: all are told as problems, with what HTTP asks for beside them."""
    is_problem(program.ask("GET", "/nothing/here"), 404, "not-here")
    is_problem(program.ask("GET", "/"), 404, "not-here")
    is_problem(program.ask("GET", f"{SITE}/log/a%0Ab"), 404, "not-here")
    is_problem(program.ask("GET", "/%0A"), 404, "not-here")
    wrong = program.ask("DELETE", SITE)
    is_problem(wrong, 405, "method")
    assert wrong.headers["allow"] == "GET"
    json_type = {"Content-Type": "application/json"}
    large = program.ask(
        "POST", f"{SITE}/log", "large-one", content=b"x" * 300_000, headers=json_type
    )
    is_problem(large, 413, "too-large")
    for content in (b"", b"{", b"[" * 100_000, b"1" * 5_000, b"\xff", b"NaN", b"{}"):
        answer = program.ask("POST", f"{SITE}/log", "no-json-1", content=content, headers=json_type)
        assert answer.status_code in (400, 422)
        is_problem(answer, answer.status_code, "request" if answer.status_code == 400 else "values")
    is_problem(program.ask("GET", "/sites", headers={"Host": "evil.example"}), 400, "request")
    is_problem(program.ask("GET", f"{SITE}/days/tomorrow/plan"), 422, "values")
    to_come = TODAY + datetime.timedelta(days=1)
    is_problem(program.ask("GET", f"{SITE}/days/{to_come}/happened"), 404, "not-here")


@pytest.mark.parametrize(
    "fault",
    [
        OSError(errno.ENOSPC, "No space left on device"),
        CannotOpen("The disk of {path} is full.", path="x"),
    ],
)
def test_a_full_disk_is_a_problem(
    demo: TestClient, program: Program, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    """Told with the status for storage that has no room (507, RFC 4918, section 11.5); the same
    request is carried out once there is room."""

    def full(*_given: object) -> None:
        raise fault

    with monkeypatch.context() as patch:
        patch.setattr(log, "_enter", full)
        is_problem(program.ask("POST", f"{SITE}/log", "no-room-1", json=CARS), 507, "broken")
    assert program.ask("POST", f"{SITE}/log", "no-room-1", json=CARS).status_code == 201


def test_each_sort_of_problem_has_its_part_in_the_guide(demo: TestClient) -> None:
    """The type of a problem leads to where the guide tells of it."""
    page = demo.get("/guide/api").text
    for anchor, _title in SORTS.values():
        assert f'id="{anchor}"' in page, anchor
