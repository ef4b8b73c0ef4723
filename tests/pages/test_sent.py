"""What a phone kept and sends later: stored once, refused with its reason, times the server's."""

from __future__ import annotations

import html
import json
import struct
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.pages.advice import opened_gate
from app.pages.deps import STATIC, Web
from app.settings import Settings
from app.sites.reading import CannotOpen, Gate, StoredSite, gate, whole_log_of
from sim.inputs import LogEntry, Site, SiteData
from tests.demo_app import app_of
from tests.icons import SIZES
from tests.pages.pages import TODAY, page_of, small_client
from tests.pages.test_disk import limit_pages

LOGBOOK = "/mill-lane/logbook"
SEND = f"{LOGBOOK}/send"
MINUTE_MS = 60_000
LONG_S = 60.0
"""Whoever waits longer is given up."""
LONG = "x" * 400
"""A text that needs room."""
AUCKLAND = "Pacific/Auckland"
"""Where it is midnight when the programs of these tests, held at noon UTC, say now: 12 hours ahead
of UTC in July (tz database)."""


@pytest.fixture
def midnight(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on a site at which a day has just begun."""
    with small_client(tmp_path, SiteData(Site("Mill Lane", AUCKLAND), "si")) as browser:
        yield browser


def entry(key: str, at_ms: int, **fields: str) -> dict[str, Any]:
    """A form as a phone kept it: a note of today, unless told otherwise."""
    cells = {
        "key": key,
        "request_key": f"r-{key}",
        "kind": "note",
        "day": "",
        "text": "x",
        **fields,
    }
    return {"id": key, "at_ms": at_ms, "pairs": list(cells.items())}


def clock_ms(client: TestClient) -> int:
    """The server's own clock."""
    settings = app_of(client).state.web.settings
    assert isinstance(settings, Settings)
    return round(settings.clock().timestamp() * 1000)


def send(
    client: TestClient, entries: list[dict[str, Any]], sent_ms: int, status: int = 200
) -> dict[str, Any]:
    """Sends entries as the page's script does, and reads the answer."""
    token = client.get(f"{LOGBOOK}/token").json()["token"]
    answer = client.post(
        SEND,
        json={"sent_ms": sent_ms, "entries": entries},
        headers={"X-Form-Token": token, "Accept": "application/json"},
    )
    assert answer.status_code == status, answer.text
    found = answer.json()
    assert isinstance(found, dict)
    return found


def log(client: TestClient) -> dict[str, LogEntry]:
    """What is stored, by key."""
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    return {one.key: one for one in whole_log_of(web.database, site.id)}


# ---- once ----------------------------------------------------------------------------------------


def test_each_entry_is_stored_once(client: TestClient) -> None:
    """Sent, sent again, and sent among others once more: each stands there once and has arrived,
    with the address that leads to it."""
    now = clock_ms(client)
    first = [entry(f"entry-{n:02d}", now, text=str(n)) for n in range(30)]
    for sent in (first, first, [*first, entry("entry-30", now)]):
        found = send(client, sent, now)
        assert [one["id"] for one in found["entries"]] == [one["id"] for one in sent]
        assert {one["state"] for one in found["entries"]} == {"arrived"}
        assert found["entries"][0]["address"] == f"{LOGBOOK}?done=entry-00"
        assert found["clock"] == ""
    assert sorted(log(client)) == [f"entry-{n:02d}" for n in range(31)]


def test_phones_that_send_together_wait_for_nobody(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Thirty phones find the network again at the same moment: each is about to store something
    before the first one has, and all have arrived."""
    phones = 30
    there = Barrier(phones)

    @contextmanager
    def together(web: Web, site: StoredSite) -> Iterator[Gate]:
        with opened_gate(web, site) as writes:
            there.wait(LONG_S)
            yield writes

    monkeypatch.setattr("app.pages.logbook.sent.opened_gate", together)
    client.get(f"{LOGBOOK}/token")  # one browser, so one cookie for all of them
    now = clock_ms(client)
    alone = [[entry(f"phone-{n:02d}", now)] for n in range(phones)]
    with ThreadPoolExecutor(phones) as pool:
        found = list(pool.map(lambda kept: send(client, kept, now), alone))
    assert {one["state"] for said in found for one in said["entries"]} == {"arrived"}
    assert sorted(log(client)) == [f"phone-{n:02d}" for n in range(phones)]


def test_what_comes_again_later_overtakes_nobody(client: TestClient) -> None:
    """An entry whose arrival the phone did not hear of is corrected at the desk and comes again, a
    minute later by the clock: it has arrived, and the correction stays."""
    now = clock_ms(client)
    sent = entry("entry-01", now, text="first")
    send(client, [sent], now)
    page = client.get(f"{LOGBOOK}?correct=entry-01")
    form = next(f for f in page_of(page).forms if "correct" in f.data())
    assert client.post(LOGBOOK, data=form.data(text="corrected")).status_code == 200
    (outcome,) = send(client, [sent], now + MINUTE_MS)["entries"]
    assert outcome["state"] == "arrived"
    assert log(client)["entry-01"].text == "corrected"


def test_several_checks_of_one_press_are_stored_once(client: TestClient) -> None:
    """A press that says of three checks that they are fine is three entries, however often it
    comes; where one is on no list any more the others are stored and the press comes back."""
    now = clock_ms(client)
    one = entry("checked-1", now, kind="check", text="", word="fine", back="checks")
    names = ("Fault lights", "Guards", "Scale")
    one["pairs"] += [("name", name) for name in names]
    for _time in range(2):
        (found,) = send(client, [one], now)["entries"]
        assert (found["state"], found["problem"]) == ("arrived", "")
        assert found["address"] == "/mill-lane/checks?done=checked-1-0&count=3#opening"
        held = log(client)
        assert [held[f"checked-1-{n}"].name for n in range(3)] == list(names)
        assert len(held) == 3
    other = entry("checked-2", now, kind="check", text="", word="fine")
    other["pairs"] += [("name", "Guards"), ("name", "Old check")]
    (found,) = send(client, [other], now)["entries"]
    assert found["state"] == "refused"
    assert "“Old check” is on no list any more." in found["problem"]
    assert len(log(client)) == 4


def test_another_entry_under_a_known_key_is_told(client: TestClient) -> None:
    """The same key with other content is refused, with what is stored, and changes nothing."""
    now = clock_ms(client)
    send(client, [entry("entry-01", now, text="first")], now)
    (outcome,) = send(client, [entry("entry-01", now, text="other")], now)["entries"]
    assert outcome["state"] == "refused"
    assert "This form was stored before, as “first”" in outcome["problem"]
    assert log(client)["entry-01"].text == "first"


def test_presses_arrive_in_their_order(client: TestClient) -> None:
    """An entry, taken back, put back and taken back again without network ends as taken back; a
    correction of it arrives too, and once."""
    now = clock_ms(client)
    presses = [
        {"id": f"p{n}", "at_ms": now + n, "pairs": [("key", "entry-01"), ("struck", struck),
                                                    ("request_key", f"p{n}")]}
        for n, struck in enumerate(("yes", "", "yes"))
    ]  # fmt: skip
    sent = [entry("entry-01", now - 5), *presses]
    for _time in range(2):
        found = send(client, sent, now)
        assert {one["state"] for one in found["entries"]} == {"arrived"}
        assert not log(client)["entry-01"].counts
    corrected = entry("entry-01", now, text="new", at_s="07:10", day=str(TODAY), correct="yes")
    assert send(client, [corrected], now)["entries"][0]["state"] == "arrived"
    assert (log(client)["entry-01"].text, len(log(client))) == ("new", 1)


def test_one_that_is_refused_leaves_the_others(client: TestClient) -> None:
    """Of three, the one in the middle can't be: it comes back with its reason, the others are
    stored; a day to come and a press on what is not there are refused too."""
    now = clock_ms(client)
    tomorrow = str(TODAY + timedelta(days=1))
    found = send(
        client,
        [
            entry("entry-01", now),
            entry("entry-02", now, kind="damp", count="25", of="20", text=""),
            entry("entry-03", now),
            entry("entry-04", now, day=tomorrow, at_s="10:00"),
            {"id": "p", "at_ms": now, "pairs": [("key", "nothing-there"), ("struck", "yes")]},
        ],
        now,
    )
    states = [one["state"] for one in found["entries"]]
    assert states == ["arrived", "refused", "arrived", "refused", "refused"]
    told = [one["problem"] for one in found["entries"]]
    assert told[1] == "25 damp hoods of 20 can’t be. Enter 0 to 20."
    assert "is still to come" in told[3]
    assert "no such entry" in told[4]
    assert sorted(log(client)) == ["entry-01", "entry-03"]


# ---- times ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fast_min", "said"),
    [
        (0, ""),
        (1, ""),
        (60, "This phone’s clock is 60 minutes fast: times left open are the server’s."),
        (-60, "This phone’s clock is 60 minutes slow: times left open are the server’s."),
    ],
)
def test_a_wrong_clock_is_told_and_goes_for_nothing(
    client: TestClient, fast_min: int, said: str
) -> None:
    """What was pressed 90 minutes before it was sent has the server's time less 90 minutes,
    whatever the phone's clock says; a time that was typed stays. Both days are the site's."""
    now = clock_ms(client) + fast_min * MINUTE_MS
    found = send(
        client,
        [
            entry("entry-01", now - 90 * MINUTE_MS),
            entry("entry-02", now - 90 * MINUTE_MS, at_s="06:00"),
        ],
        now,
    )
    assert found["clock"] == said
    held = log(client)
    # The program is held at noon UTC, which is 8:00 in New York in July (tz database).
    assert held["entry-01"].at_s == 6.5 * 3600
    assert held["entry-02"].at_s == 6 * 3600
    assert {one.day for one in held.values()} == {TODAY}


def test_a_clock_that_was_set_back_is_told(client: TestClient) -> None:
    """An entry of the future, by the phone's own clock, is taken as made now, and said to be
    unsure."""
    now = clock_ms(client)
    found = send(client, [entry("entry-01", now + 50 * MINUTE_MS)], now)
    assert found["clock"].startswith("This phone’s clock was set back")
    assert log(client)["entry-01"].at_s == 8 * 3600
    assert send(client, [entry("entry-02", now + 50 * MINUTE_MS, at_s="07:00")], now)["clock"] == ""


def test_after_two_days_entries_have_their_days(client: TestClient) -> None:
    """A phone that comes back after two days has entries of the day before yesterday, of yesterday,
    and of today, each on its own day."""
    now, day_ms = clock_ms(client), 24 * 60 * MINUTE_MS
    send(client, [entry(f"entry-{n:02d}", now - n * day_ms) for n in range(3)], now)
    held = log(client)
    assert [held[f"entry-{n:02d}"].day for n in range(3)] == [
        TODAY - timedelta(days=n) for n in range(3)
    ]


def test_after_midnight_an_entry_is_of_the_day_of_its_press(midnight: TestClient) -> None:
    """Pressed five minutes before it was sent, at midnight, an entry is of yesterday, at 23:55; one
    for yesterday by its date keeps its time, and without a time is refused."""
    now = clock_ms(midnight)
    yesterday = TODAY - timedelta(days=1)
    found = send(
        midnight,
        [
            entry("entry-01", now - 5 * MINUTE_MS),
            entry("entry-02", now, day=str(yesterday), at_s="22:10"),
            entry("entry-03", now, day=str(yesterday)),
            entry("entry-04", now),
        ],
        now,
    )
    assert [one["state"] for one in found["entries"]] == [
        "arrived", "arrived", "refused", "arrived",
    ]  # fmt: skip
    assert found["entries"][2]["problem"] == "No time was given. Enter when it happened, as 15:20."
    assert found["entries"][0]["address"] == f"{LOGBOOK}/{yesterday}?done=entry-01"
    held = {key: (one.day, one.at_s / 3600) for key, one in log(midnight).items()}
    assert held == {
        "entry-01": (yesterday, 23 + 55 / 60),
        "entry-02": (yesterday, pytest.approx(22 + 10 / 60)),
        "entry-04": (TODAY, 0.0),
    }


# ---- disks, tokens, nonsense ---------------------------------------------------------------------


def fill(client: TestClient) -> set[str]:
    """Fills the disk by entries as long as those of the tests; returns the keys that it took."""
    limit_pages(client, 1)
    web = app_of(client).state.web
    for number in range(200):
        key = f"filling-{number}"
        try:
            with gate(web.database, web.now()) as writes:
                writes.enter(1, [LogEntry(key, TODAY, 0.0, "note", text=LONG)], key, TODAY)
        except CannotOpen:
            return {f"filling-{taken}" for taken in range(number)}
    raise AssertionError("the disk is never full")


def test_a_full_disk_loses_and_doubles_nothing(client: TestClient) -> None:
    """While the disk takes nothing the answer says so and the phone keeps all; with room again each
    is stored once."""
    now = clock_ms(client)
    sent = [entry(f"entry-{n:02d}", now, text=LONG) for n in range(20)]
    send(client, sent[:3], now)
    filling = fill(client)
    found = send(client, sent, now, status=507)
    assert "The disk is full, so nothing was stored in" in found["problem"]
    limit_pages(client, 1_000_000)
    assert sorted(log(client).keys() - filling) == [f"entry-{n:02d}" for n in range(3)]
    assert {one["state"] for one in send(client, sent, now)["entries"]} == {"arrived"}
    assert sorted(log(client).keys() - filling) == [f"entry-{n:02d}" for n in range(20)]


def test_a_disk_that_fills_midway_loses_and_doubles_nothing(client: TestClient) -> None:
    """Of many that are sent at once a disk with little room takes the first ones, if any, and none
    behind one that it did not take; with room again each is stored once, as it was entered."""
    now = clock_ms(client)
    sent = [entry(f"entry-{n:02d}", now, text=f"{n:02d}{LONG[2:]}") for n in range(60)]
    limit_pages(client, 1)
    send(client, sent, now, status=507)
    limit_pages(client, 1_000_000)
    took = sorted(log(client))
    assert took == [f"entry-{n:02d}" for n in range(len(took))]
    assert len(took) < len(sent)
    assert {one["state"] for one in send(client, sent, now)["entries"]} == {"arrived"}
    assert {key: held.text for key, held in log(client).items()} == {
        one["id"]: dict(one["pairs"])["text"] for one in sent
    }


def test_only_a_page_of_ours_can_send(client: TestClient) -> None:
    """Without the header's token, with one of another browser, or as a form with it as a field of
    JSON: refused, nothing stored."""
    now = clock_ms(client)
    body = {"sent_ms": now, "entries": [entry("entry-01", now)]}
    token = client.get(f"{LOGBOOK}/token").json()["token"]
    client.cookies.clear()
    for headers in ({}, {"X-Form-Token": "made up"}, {"X-Form-Token": token}):
        assert client.post(SEND, json=body, headers=headers).status_code == 403
    answer = client.post(SEND, json={**body, "form_token": token})
    assert answer.status_code in (403, 422)
    assert log(client) == {}


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"[]", b"null", b'{"sent_ms": 1}', b'{"sent_ms": "now", "entries": []}',
        b'{"sent_ms": -1, "entries": []}', b'{"sent_ms": 1e300, "entries": []}',
        b'{"sent_ms": 1, "entries": [{"id": "a", "at_ms": 1, "pairs": [["kind"]]}]}',
        b'{"sent_ms": 1, "entries": [], "more": 1}',
        json.dumps(
            {"sent_ms": 1, "entries": [{"id": "a", "at_ms": 1, "pairs": []}] * 101}
        ).encode(),
    ],
)  # fmt: skip
def test_nonsense_is_refused_as_a_whole(client: TestClient, body: bytes) -> None:
    """What is no list of entries is refused with a sentence, and nothing of it is stored."""
    token = client.get(f"{LOGBOOK}/token").json()["token"]
    headers = {
        "X-Form-Token": token, "Accept": "application/json", "Content-Type": "application/json",
    }  # fmt: skip
    answer = client.post(SEND, content=body, headers=headers)
    assert answer.status_code == 422
    assert "can’t be read" in answer.json()["problem"]
    assert log(client) == {}


def test_any_form_can_be_sent_and_none_breaks_it(client: TestClient) -> None:
    """Fields that are unknown, missing, doubled or strange are refused or left out, one by one;
    what comes with them in good order is stored."""
    now = clock_ms(client)
    strange: list[list[tuple[str, str]]] = [
        [], [("kind", "nonsense")], [("kind", "note")], [("kind", "note"), ("kind", "stop")],
        [("key", "\x00"), ("kind", "note"), ("text", "x")], [("a" * 999, "b" * 999)],
        [("kind", "note"), ("text", "x"), ("day", "31 June"), ("at_s", "25:99")],
    ]  # fmt: skip
    sent = [{"id": str(n), "at_ms": 0, "pairs": pairs} for n, pairs in enumerate(strange)]
    found = send(client, [*sent, entry("entry-01", now)], now)
    assert [one["state"] for one in found["entries"]] == ["refused"] * len(strange) + ["arrived"]
    assert all(one["problem"] for one in found["entries"][:-1])
    assert list(log(client)) == ["entry-01"]


# ---- on the first screen of a phone --------------------------------------------------------------


def test_the_page_can_be_put_on_a_phone(client: TestClient) -> None:
    """The page names its manifest; that has a name, the logbook's address as start, the site's as
    scope, as the checks belong to it, and icons that are there in the sizes that it says; the
    worker may have that scope."""
    text = client.get(LOGBOOK).text
    assert f'<link rel="manifest" href="{LOGBOOK}/app.webmanifest"' in text
    answer = client.get(f"{LOGBOOK}/app.webmanifest")
    assert answer.headers["content-type"] == "application/manifest+json"
    told = answer.json()
    assert told["name"] == "Logbook · Mill Lane"
    assert told["start_url"] == LOGBOOK
    assert told["scope"] == "/mill-lane/"
    assert {icon["sizes"] for icon in told["icons"]} == {"192x192", "512x512"}
    for icon in told["icons"]:
        picture = client.get(icon["src"]).content
        # A PNG says its width and height at byte 16 (W3C PNG, section 11.2.1).
        width, height = struct.unpack(">II", picture[16:24])
        assert f"{width}x{height}" == icon["sizes"]
    assert sorted(SIZES) == [192, 512]
    worker = client.get(f"{LOGBOOK}/worker.js")
    assert worker.headers["service-worker-allowed"] == "/mill-lane/"
    assert worker.content == (STATIC / "worker.js").read_bytes()
    policy = worker.headers["content-security-policy"]
    assert "worker-src 'self'" in policy
    assert "manifest-src 'self'" in policy


def test_the_page_says_when_a_phone_can_keep_nothing(tmp_path: Path) -> None:
    """Open to the network without HTTPS, the page says what is missing; at home it does not."""
    with small_client(tmp_path) as browser:
        said = "a phone writes only while it reaches the server"
        assert said not in html.unescape(browser.get(LOGBOOK).text)
        web = app_of(browser).state.web
        object.__setattr__(web, "outside", "wash.example")
        assert said in html.unescape(browser.get(LOGBOOK).text)
        assert isinstance(web.today(web.site_at("mill-lane")), date)
