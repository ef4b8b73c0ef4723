"""The logbook, as a browser without script meets it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, time, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app import settings
from app.answers.planning import DayAsked
from app.answers.switching import SWITCH
from app.books import csv_of
from app.pages.logbook import route
from app.pages.logbook.entries import ENTERED
from app.sites.reading import gate, log_of, whole_log_of
from app.words.logbook import entry_words, is_off_plan, planned_switches
from sim.day.rules import parse_rule
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import LOG, LogEntry, Site
from sim.inputs.logbook import ADVICE, CARS, COMMON, FULL, REDUCED, STOP, WIPING
from sim.units import show_clock
from tests.demo_app import app_of, demo_client, keep, small_switch
from tests.log import logged
from tests.pages.pages import TODAY, Form, Page, page_of, small_client
from tests.world import DAY

PATH = "/mill-lane/logbook"
BUSY = date(2026, 7, 18)
"""The demo’s peak."""
YESTERDAY = TODAY - timedelta(days=1)
NOW_S = 8 * 3600.0
"""What the site's clock shows where the day is fixed: noon UTC in New York in summer."""


def stored(client: TestClient, day: date = TODAY) -> tuple[LogEntry, ...]:
    """The entries of a day."""
    return log_of(app_of(client).state.web.database, 1, day)


def forms_for(page: Page, kind: str) -> list[Form]:
    """The forms of a kind, the quickest first."""
    return [
        form
        for form in page.forms
        if any(f.name == "kind" and f.value == kind for f in form.fields) and not is_switch(form)
    ]


def form_for(client: TestClient, kind: str, address: str = PATH) -> Form:
    """The form of a kind with its fields, fresh."""
    return forms_for(page_of(client.get(address)), kind)[-1]


def enter(client: TestClient, kind: str, **typed: str) -> Response:
    """Fills in a form of a kind and sends it."""
    return client.post(PATH, data=form_for(client, kind).data(**typed))


def main_of(answer: Response) -> str:
    """What a page says between its head and its foot, in a line."""
    text = answer.text
    return " ".join(text[text.index("<main") : text.index("</main>")].split())


def press(client: TestClient, name: str, key: str, **more: str) -> Response:
    """The press on the list that says something of a stored entry."""
    for form in page_of(client.get(PATH)).forms:
        sent = form.data()
        if sent.get("key") == [key] and "kind" not in sent:
            return client.post(PATH, data={**sent, name: [more.get("value", "yes")]})
    raise AssertionError(f"no press for {key}")


TYPED: dict[str, dict[str, str]] = {
    "cars": {"count": "212"},
    "damp": {"count": "4", "of": "20"},
    "wiping": {"word": "reduced"},
    "stop": {"name": "car crosswise", "lasted_s": "4", "vehicle": "pickup"},
    "turned": {"count": "3"},
    "hour": {"count": "31"},
    "wait": {"lasted_s": "10"},
    "strip": {"weight_kg": "212.5 g"},
    "set": {"name": "B"},
    "alarm": {"name": "E 17"},
    "device": {"name": "blower", "word": "down"},
    "claim": {"word": "damage", "text": "antenna"},
    "weather": {"text": "91 °F, 70 %"},
    "timed": {"name": "pay", "text": "14 12 slow 52"},
    "somebody": {"name": "Ben", "word": "left"},
    "check": {"name": "Height reading", "word": "fine", "reading": "2.5"},
    "note": {"text": "New soap"},
}
"""What is typed or pressed of each kind."""


@pytest.mark.parametrize("kind", ENTERED)
def test_each_kind_is_stored_corrected_and_taken_back(client: TestClient, kind: str) -> None:
    """Of now, with who noted it; the list has its sentence; a correction and what was taken back
    leave the old value in the entry's own history."""
    answer = enter(client, kind, by="Ada", **TYPED[kind])
    assert answer.status_code == 200
    (entry,) = stored(client)
    assert (entry.kind, entry.day, entry.at_s, entry.by) == (kind, TODAY, NOW_S, "Ada")
    said = " ".join(entry_words(entry, "us", Site("").vehicles).split())
    assert f"Stored: {said}" in main_of(answer)
    whole = page_of(client.get(f"{PATH}?correct={entry.key}"))
    form = next(f for f in whole.forms if "correct" in f.data())
    assert form.data()["at_s"] == ["08:00"]
    text = "14 13 slow 52" if kind == "timed" else "91 °F, 60 %"
    answer = client.post(PATH, data=form.data(at_s="07:15", text=text))
    (changed,) = stored(client)
    assert (changed.key, changed.at_s, changed.text) == (entry.key, 26_100.0, text)
    same = replace(changed, at_s=entry.at_s, text=entry.text)
    assert same == entry
    assert "Corrected." in main_of(answer)
    assert f"corrected: {TODAY} 7:15" in main_of(answer)
    assert f"In place of: {TODAY} 8:00 {said}" in main_of(answer)
    answer = press(client, "struck", entry.key)
    assert "Taken back:" in main_of(answer)
    assert [one.struck for one in stored(client)] == ["yes"]
    assert "Nothing is noted yet." in main_of(answer)
    press(client, "struck", entry.key, value="")
    assert stored(client) == (changed,)


def test_every_kind_has_its_form_at_an_address(client: TestClient) -> None:
    """Five stand in view, the others under one head; an address opens a kind."""
    page = page_of(client.get(PATH))
    shown = [f.value for form in page.forms for f in form.fields if f.name == "kind"]
    assert list(dict.fromkeys(shown)) == [*COMMON, *(k for k in ENTERED if k not in COMMON)]
    for kind in ENTERED:
        tags = page_of(client.get(f"{PATH}?kind={kind}")).tags
        (part,) = [given for tag, given in tags if given.get("id") == f"kind-{kind}"]
        assert "open" in part


BAD: list[tuple[str, dict[str, str], str, str]] = [
    ("cars", {"count": ""}, "count", "Nothing was counted. Enter how many, 0 for none."),
    ("wait", {"lasted_s": ""}, "lasted_s", "No wait was given. Enter its minutes, 0 for none."),
    (
        "cars",
        {"count": "many"},
        "count",
        "is not a number of cars. Enter a whole number, as in 212.",
    ),
    ("cars", {"count": "5001"}, "count", "5,001 cars can’t be. Enter 0 to 5,000."),
    ("damp", {"count": "24"}, "count", "24 damp hoods of 20 can’t be. Enter 0 to 20."),
    ("damp", {"count": "4", "of": ""}, "of", "No hoods were looked at. Enter how many, as in 20."),
    ("strip", {"weight_kg": "900 lb"}, "weight_kg", "A strip of 14,400 oz can’t be."),
    ("timed", {"name": "pay", "text": ""}, "text", "No time was given. Enter seconds, a car each"),
    ("timed", {"name": "pay", "text": "9 slow"}, "text", "A time is missing. Enter seconds"),
    ("timed", {"name": "load", "text": "14 slow 12"}, "text", "“slow” can’t be a time."),
    ("timed", {"name": "lunch", "text": "14"}, "name", "is nothing that can be timed."),
    ("stop", {"name": ""}, "name", "Enter the name."),
    ("stop", {"name": "jam", "lasted_s": "2000"}, "lasted_s", "or nothing while it lasts."),
    ("stop", {"name": "jam", "vehicle": "bus"}, "vehicle", "is no kind of car of this site."),
    ("weather", {"text": "lovely"}, "text", "lovely"),
    ("note", {"text": ""}, "text", "There is no text. Write it, or leave the entry out."),
    ("note", {"text": "x" * 401}, "text", "Enter at most 400 characters."),
    ("cars", {"count": "5", "at_s": "25:00"}, "at_s", "is not a time of day. Write it as 15:20."),
    ("cars", {"count": "5", "at_s": "noon"}, "at_s", "is not a time of day. Write it as 15:20."),
    ("cars", {"count": "5", "day": "2026-07-16"}, "day", "is still to come."),
    ("cars", {"count": "5", "day": "soon"}, "day", "is not a date."),
    ("cars", {"count": "5", "day": "2026-07-14"}, "at_s", "No time was given."),
    ("cars", {"count": "5", "by": "=1+1"}, "by", "can’t be used."),
]


@pytest.mark.parametrize(("kind", "typed", "field", "says"), BAD)
def test_what_cannot_be_is_told_beside_its_field(
    client: TestClient, kind: str, typed: dict[str, str], field: str, says: str
) -> None:
    """What is wrong and what would be right, beside the field and on top; what was typed stays,
    and nothing is stored."""
    answer = enter(client, kind, **typed)
    assert answer.status_code == 422
    page = page_of(answer)
    anchor = f"in-whole-{field}"
    assert says in " ".join(page.by_id[f"{anchor}-e"].split())
    assert f"#{anchor}" in page.links
    form = next(f for f in page.forms if any(x.attrs.get("id") == anchor for x in f.fields))
    sent = form.data()
    assert {name: sent[name] for name in typed} == {name: [text] for name, text in typed.items()}
    assert stored(client) == ()


@pytest.mark.parametrize("kind", ["", "lunch", ADVICE])
def test_what_is_no_kind_is_refused(client: TestClient, kind: str) -> None:
    """An advice is written by the program alone."""
    answer = client.post(PATH, data=form_for(client, CARS).data(kind=kind, count="5"))
    assert answer.status_code == 422
    assert "is no kind of entry. Use cars, damp," in answer.text
    assert stored(client) == ()


def test_an_advice_stays_as_it_was_given(client: TestClient) -> None:
    """It stands in the list without a way to change it, and a form of its key is refused."""
    advice = LogEntry("advice-one", TODAY, 0.0, ADVICE, word="stay", text="Stay on full.")
    web = app_of(client).state.web
    with gate(web.database, web.now()) as opened:
        opened.enter(1, [advice], "a")
    text = main_of(client.get(PATH))
    assert "Clothcast advised: Stay on full." in text
    assert "advice-one#" not in text
    sent = form_for(client, CARS).data(count="5", key=advice.key)
    assert client.post(PATH, data=sent).status_code == 422
    taken = {**sent, "struck": ["yes"]}
    del taken["kind"]
    assert client.post(PATH, data=taken).status_code == 422
    assert stored(client) == (advice,)


def test_a_form_sent_twice_is_stored_once(client: TestClient) -> None:
    """By a thumb that pressed twice, and by a phone that did not hear the answer though somebody
    corrected the entry meanwhile; the same form with something else in it is asked about."""
    sent = form_for(client, CARS).data(count="212")
    client.post(PATH, data=sent)
    client.post(PATH, data={**sent, "request_key": "another"})
    (entry,) = stored(client)
    whole = page_of(client.get(f"{PATH}?correct={entry.key}"))
    form = next(f for f in whole.forms if "correct" in f.data())
    client.post(PATH, data=form.data(count="221"))
    answer = client.post(PATH, data={**sent, "request_key": "a third"})
    assert answer.status_code == 200
    assert [one.count for one in stored(client)] == [221]
    other = client.post(PATH, data={**sent, "count": ["230"]})
    assert other.status_code == 409
    assert "This form was stored before, as “221 cars so far.”" in other.text
    assert [one.count for one in stored(client)] == [221]
    fresh = forms_for(page_of(other), CARS)[0]
    assert fresh.data()["count"] == ["230"]
    client.post(PATH, data=fresh.data())
    assert sorted(one.count or 0 for one in stored(client)) == [221, 230]


def test_yesterday_is_entered_after_midnight(client: TestClient) -> None:
    """Its page leads back and forth, asks for a time, and its entries are of that day."""
    page = page_of(client.get(PATH))
    address = f"{PATH}/{YESTERDAY}"
    assert address in page.links
    assert f"{PATH}/{TODAY + timedelta(days=1)}" not in page.links
    form = form_for(client, CARS, address)
    assert "No time was given" in client.post(PATH, data=form.data(count="480")).text
    answer = client.post(PATH, data=form.data(count="480", at_s="20:05"))
    assert str(answer.url).startswith(f"http://127.0.0.1{address}?done=")
    assert [(e.at_s, e.count) for e in stored(client, YESTERDAY)] == [(72_300.0, 480)]
    assert stored(client) == ()
    tomorrow = client.get(f"{PATH}/{TODAY + timedelta(days=1)}")
    assert tomorrow.status_code == 200
    assert forms_for(page_of(tomorrow), CARS) == []
    assert client.get(f"{PATH}/soon").status_code == 404


def test_a_time_still_to_come_is_stored_and_told(client: TestClient) -> None:
    """A phone's clock may be wrong; nothing is lost, and whoever typed it hears of it."""
    answer = enter(client, CARS, count="212", at_s="15:20")
    assert "15:20 is still to come at the site." in answer.text
    assert [one.at_s for one in stored(client)] == [55_200.0]


def test_undo_is_there_for_a_minute(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """On top of the page; afterwards the list takes an entry back."""
    answer = enter(client, CARS, count="212")
    assert ">Undo<" in answer.text
    monkeypatch.setattr(route, "UNDO_S", -1.0)
    late = client.get(str(answer.url))
    assert ">Undo<" not in late.text
    assert ">Take back<" in late.text


def test_undo_puts_back_what_stood_there(client: TestClient) -> None:
    """After a correction the value before, after taking back the entry; pressed twice it is done
    once, and it does nothing to what somebody changed since."""
    enter(client, CARS, count="212")
    (entry,) = stored(client)
    whole = page_of(client.get(f"{PATH}?correct={entry.key}"))
    form = next(f for f in whole.forms if "correct" in f.data())
    undo = undo_of(client.post(PATH, data=form.data(count="221")))
    assert [one.count for one in stored(client)] == [221]
    client.post(PATH, data=undo)
    assert stored(client) == (entry,)
    client.post(PATH, data={**undo, "request_key": ["twice"]})
    assert stored(client) == (entry,)
    back = undo_of(press(client, "struck", entry.key))
    client.post(PATH, data=back)
    assert stored(client) == (entry,)
    client.post(PATH, data=form.data(count="230", request_key="other"))
    late = client.post(PATH, data={**back, "undo": undo["undo"], "request_key": ["late"]})
    assert late.status_code == 422
    assert "Look at the list as it is now." in late.text
    assert [one.count for one in stored(client)] == [230]


def undo_of(answer: Response) -> dict[str, list[str]]:
    """What the press that undoes sends."""
    (number,) = re.findall(r'name="undo" value="(\d+)"', answer.text)
    for form in page_of(answer).forms:
        sent = form.data()
        if "kind" not in sent and "key" in sent:
            return {**sent, "undo": [number]}
    raise AssertionError("no press that undoes")


def test_before_opening_the_day_before_is_offered(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Past midnight somebody may mean yesterday; after opening nobody does."""
    asked = "Something of Tuesday 14 July?"
    assert asked not in client.get(PATH).text
    monkeypatch.setattr(settings, "FIXED_TIME", time(4, 30, tzinfo=UTC))
    assert asked in client.get(PATH).text


def test_a_long_day_shows_its_newest_and_the_rest_when_asked(client: TestClient) -> None:
    """Of 130 entries the page has a hundred, the newest first, and leads to one with all of them;
    an entry that it does not list can be corrected, and is told of once it was stored."""
    web = app_of(client).state.web
    many = [
        LogEntry(f"many-{number:03}", YESTERDAY, 60.0 * number, CARS, count=number)
        for number in range(130)
    ]
    with gate(web.database, web.now()) as opened:
        opened.enter(1, many, "many-entries")
    address = f"{PATH}/{YESTERDAY}"

    def listed(path: str) -> list[str]:
        return [key for key in page_of(client.get(path)).by_id if key.startswith("e-many")]

    newest_first = [f"e-{one.key}" for one in reversed(many)]
    assert listed(address) == newest_first[:100]
    more = next(one for one in page_of(client.get(address)).links if "entries=all" in one)
    assert "30 more are further back" in main_of(client.get(address))
    assert listed(more) == newest_first
    assert "further back" not in main_of(client.get(more))
    corrected = client.get(f"{address}?correct=many-003#whole").text
    assert "Correct: " in corrected
    assert 'value="many-003"' in corrected
    assert "Stored: " in main_of(client.get(f"{address}?done=many-003"))


def test_names_of_late_come_newest_first(client: TestClient) -> None:
    """A name that was used again comes before one that was not, one that was taken back with its
    only entry is not offered, nor one of long ago."""
    web, day = app_of(client).state.web, YESTERDAY
    ago = TODAY - route.LATELY - timedelta(days=1)
    named = [("long-ago", "Gate", ago, 60.0), ("chain-day-before", "Chain", day, 60.0),
             ("eye-day-before", "Photo eye", day, 120.0), ("chain-again", "Chain", TODAY, 0.0),
             ("struck-brush", "Brush", TODAY, 0.0)]  # fmt: skip
    entries = [
        LogEntry(key, on, at_s, STOP, name=name, struck="yes" if name == "Brush" else "")
        for key, name, on, at_s in named
    ]
    with gate(web.database, web.now()) as opened:
        opened.enter(1, entries, "named-entries")
    site = web.site_at("mill-lane")
    assert site is not None
    assert route._lately(web, site, TODAY)[STOP] == ("Chain", "Photo eye")


def test_who_noted_it_stays_for_the_next_entry(client: TestClient) -> None:
    """On that browser, in view beside the form; a cookie that holds no name is passed over."""
    enter(client, CARS, count="212", by="Zoë")
    form = form_for(client, CARS)
    assert "Time, words, who: Zoë" in client.get(PATH).text
    client.post(PATH, data=form.data(count="213"))
    assert [one.by for one in stored(client)] == ["Zoë", "Zoë"]
    client.cookies.clear()
    client.cookies.set("clothcast_by", "%00=1", domain="127.0.0.1")
    assert form_for(client, CARS).data()["by"] == [""]


def test_a_switch_is_one_press(client: TestClient) -> None:
    """The button says what the crew does next: to reduced after full, and back."""
    form = next(f for f in page_of(client.get(PATH)).forms if is_switch(f))
    client.post(PATH, data={**form.data(), "word": ["reduced"]})
    assert [(one.kind, one.word) for one in stored(client)] == [(WIPING, REDUCED)]
    assert "We have switched to full" in client.get(PATH).text


def is_switch(form: Form) -> bool:
    """Whether a form is the one press of a switch."""
    sent = form.data()
    return sent.get("kind") == ["wiping"] and "at_s" not in sent


def test_a_stop_ends_at_a_press(client: TestClient) -> None:
    """The belt runs again: how long it stood is counted from then, and causes have a button."""
    enter(client, STOP, name="car crosswise", at_s="7:56")
    (entry,) = stored(client)
    press(client, "ended", entry.key, value="now")
    assert [one.lasted_s for one in stored(client)] == [240.0]
    quick = forms_for(page_of(client.get(PATH)), STOP)
    assert len(quick) == 2
    assert 'name="name" value="car crosswise"' in client.get(PATH).text
    client.post(PATH, data={**quick[0].data(), "name": ["car crosswise"]})
    assert [one.name for one in stored(client)] == ["car crosswise"] * 2


def test_an_entry_leads_back_to_the_page_it_was_made_on(client: TestClient) -> None:
    """Only to one that the program knows."""
    sent = form_for(client, CARS).data(count="1")
    answer = client.post(PATH, data={**sent, "back": ["today"]}, follow_redirects=False)
    assert answer.headers["location"] == "/mill-lane/today"
    sent = form_for(client, CARS).data(count="2")
    answer = client.post(PATH, data={**sent, "back": ["//evil.example"]}, follow_redirects=False)
    assert answer.headers["location"].startswith(f"{PATH}?done=")


# ---- files ---------------------------------------------------------------------------------------


def bring(client: TestClient, raw: bytes) -> Response:
    """Sends a file to be looked at."""
    form = page_of(client.get(PATH)).form(f"{PATH}/preview")
    return client.post(f"{PATH}/preview", data=form.data(), files={"file": ("log.csv", raw)})


def confirm(client: TestClient, preview: Response) -> Response:
    """Confirms a file that was looked at."""
    form = page_of(preview).form(f"{PATH}/confirm")
    return client.post(f"{PATH}/confirm", data=form.data())


def test_the_logbook_goes_out_and_comes_in_whole(client: TestClient, tmp_path: Path) -> None:
    """An entry of each kind, one of them taken back: what another site brings in is the same, to
    the last bit, and its own file is the same text; again it changes nothing."""
    entries = tuple(replace(entry, day=YESTERDAY) for entry in logged())
    web = app_of(client).state.web
    with gate(web.database, web.now()) as opened:
        today = [replace(entry, key=f"x-{entry.key}", day=TODAY) for entry in logged()]
        opened.enter(1, [*entries, *today], "a")
        opened.enter(1, [replace(entries[0], reading=1 / 3)], "b")
    raw = client.get("/mill-lane/logbook.csv").content
    held = whole_log_of(web.database, 1)
    with small_client(tmp_path / "other") as other:
        preview = bring(other, raw)
        assert f"{2 * len(entries)} new entries." in preview.text
        assert "Check “Height reading”: fine, reading" in preview.text
        assert whole_log_of(app_of(other).state.web.database, 1) == ()
        stored_words = f"{2 * len(entries)} entries of the file were stored."
        assert stored_words in confirm(other, preview).text
        assert whole_log_of(app_of(other).state.web.database, 1) == held
        assert other.get("/mill-lane/logbook.csv").content == raw
        again = bring(other, raw)
        assert "Nothing of it would be stored that is not stored already." in again.text
    day = client.get(f"/mill-lane/logbook.csv?day={YESTERDAY}")
    assert day.text.removeprefix("\ufeff") == csv_of(LOG, log_of(web.database, 1, YESTERDAY))
    assert f"mill-lane-logbook-{YESTERDAY}.csv" in day.headers["content-disposition"]


def test_a_file_names_its_bad_lines(client: TestClient) -> None:
    """The others can be stored; a day to come is told too; a correction takes its entry's place."""
    enter(client, CARS, count="212")
    (entry,) = stored(client)
    lines = [
        "date,time,kind,entry,count,of,name",
        f"{TODAY},8:00,cars,{entry.key},221,,",
        f"{TODAY},9:00,damp,line-three,4,,",
        f"{TODAY},25:00,cars,line-four-x,4,,",
        f"{TODAY},9:00,lunch,line-five-x,,,",
        "2026-07-16,9:00,cars,tomorrow-x,5,,",
        f"{TODAY},7:30,hour,line-seven,12,,",
    ]
    preview = bring(client, "\n".join(lines).encode())
    text = main_of(preview)
    assert "1 new entry. 1 takes the place of a stored one." in text
    assert "logbook.csv, line 3" in text
    assert "No hoods were looked at." in text
    assert "logbook.csv, line 4" in text
    assert "is no kind of entry" in text
    assert "is still to come" in text
    assert "2 entries of the file were stored." in confirm(client, preview).text
    assert [(e.kind, e.count) for e in stored(client)] == [("hour", 12), ("cars", 221)]


def test_nothing_sent_is_told(client: TestClient) -> None:
    """And a file that was let go waits no longer; a file of counts is none of the logbook."""
    form = page_of(client.get(PATH)).form(f"{PATH}/preview")
    answer = client.post(f"{PATH}/preview", data=form.data(pasted=" "))
    assert "No file was chosen." in answer.text
    preview = bring(client, b"date,time,kind,entry\n")
    form = page_of(preview).form(f"{PATH}/confirm")
    client.post(f"{PATH}/confirm", data={**form.data(), "drop": ["1"]})
    assert client.get(str(preview.url)).status_code == 404
    counts = page_of(client.get("/mill-lane/counts")).form("/mill-lane/counts/preview")
    sent = counts.data(kind="counts", pasted="date,hour,cars_arrived\n2026-07-01,9,31\n")
    address = str(client.post("/mill-lane/counts/preview", data=sent).url)
    assert client.get(address.replace("/counts", "/logbook")).status_code == 404


# ---- beside the plan -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "planned"),
    [
        ("full", {}),
        ("reduced", {}),
        ("clock 12:00-15:30", {43_200.0: REDUCED, 55_800.0: FULL}),
        ("crew clock 7:00-10:00,12:00-20:00", {36_000.0: FULL, 43_200.0: REDUCED}),
        ("band 60-50", None),
        ("clock 12:00-15:30 or band 60-50", None),
    ],
)
def test_switches_of_a_plan(rule: str, planned: dict[float, str] | None) -> None:
    """By the clock only, and none at opening or closing."""
    assert planned_switches(parse_rule(rule), 7 * 3600.0, 20 * 3600.0) == planned


@pytest.mark.parametrize(
    ("at", "word", "is_off"),
    [(12.0, REDUCED, False), (12.25, REDUCED, False), (12.3, REDUCED, True), (12.0, FULL, True)],
)
def test_a_switch_near_a_planned_one_was_planned(at: float, word: str, is_off: bool) -> None:
    """Up to a quarter of an hour, in the same direction."""
    entry = LogEntry("switched-one", DAY, 3600.0 * at, WIPING, word=word)
    assert is_off_plan(entry, {43_200.0: REDUCED, 55_800.0: FULL}) is is_off


def test_words_of_each_kind() -> None:
    """A sentence an entry, in the reader's units."""
    said = [entry_words(entry, "si", Site("").vehicles) for entry in logged()]
    assert said == [
        "Check “Height reading”: fine, reading 2.5.",
        'New soap, "blue"; see the drum, left',
        "31 cars in the hour before.",
        "The weather as felt: 33 °C, 70 %.",
        "212 cars so far.",
        "Nobody drove away.",
        "The last car waited 10\u00a0min.",
        "4 of the last 20 hoods damp.",
        "Clothcast advised: Stay on full.",
        "Switched to reduced: cars left damp",
        "A strip weighed 212.5\u00a0g.",
        "Belt stopped, car crosswise: 4\u00a0min; pickup, open bed",
        "Alarm E 17: 1\u00a0min",
        "Down: height sensor.",
        "Ben left.",
        "Set “B” put on.",
        "Timed, paying: 14 12 slow 52",
        "Claim of damage: antenna",
    ]


def noon_alone(one: DayAsked[SwitchQuestion]) -> WhenToReduce:
    """An answer whose rule is reduced from noon to half past three, whatever else it found."""
    return replace(small_switch(one), chosen=parse_rule("clock 12:00-15:30"), cues=None)


def test_a_switch_that_the_plan_has_not_asks_why(tmp_path: Path) -> None:
    """In two presses: the switch and a reason, which then stands in the entry; a planned switch
    asks nothing."""
    with demo_client(tmp_path, BUSY) as client:
        keep(client, SWITCH, BUSY, noon_alone)
        web = app_of(client).state.web
        site, at_s, word = web.site_at("harbor-road"), 43_200.0, REDUCED
        address = "/harbor-road/logbook"
        form = forms_for(page_of(client.get(address)), WIPING)[-1].data()
        as_planned = {**form, "at_s": [show_clock(at_s)], "word": [word]}
        assert "The plan has no switch then." not in client.post(address, data=as_planned).text
        form = forms_for(page_of(client.get(address)), WIPING)[-1].data()
        off = {**form, "at_s": [show_clock(at_s + 1800.0)], "word": [word]}
        answer = client.post(address, data=off)
        assert "The plan has no switch then. Why now?" in answer.text
        forms = [form.data() for form in page_of(answer).forms]
        why = next(sent for sent in forms if sent.get("request_key", [""])[0][-4:] == "-why")
        answer = client.post(address, data={**why, "reason": ["Cars left damp"]})
        assert "The plan has no switch then." not in answer.text
        texts = {e.at_s: e.text for e in log_of(web.database, site.id, BUSY)}
        assert texts[at_s + 1800.0] == "Cars left damp"
        assert texts[at_s] == ""
