"""Checks: due by the logbook, done at a press, and nothing that gets round a safety device."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.checks import READINGS, moves_one_way, readiness_of
from app.db.store import load_log
from sim.inputs import CheckItem, LogEntry
from sim.inputs.logbook import (
    CHECK,
    CHECK_DAYS,
    DEFAULT_CHECKS,
    DEVICE,
    DEVICES,
    DOWN,
    FINE,
    GUARD,
    MONTHLY,
    OPEN,
    OPENING,
    REPAIRED,
    WEEKLY,
)
from tests.demo_app import TODAY, app_of, demo_client, demo_site
from tests.pages.pages import Page, page_of

PLACE = "/harbor-road/checks"
LOGBOOK = "/harbor-road/logbook"
LATER = date(2026, 7, 25)
SHORT = CheckItem("Lenses", OPENING)
RANGED = CheckItem("Height", WEEKLY, unit="mm", low=0.0, high=4.0)
LONG = CheckItem("Fastenings", MONTHLY)
LISTS = (SHORT, RANGED, LONG)


def done(name: str, day: date, word: str = FINE, reading: float | None = None) -> LogEntry:
    """An entry of a check."""
    key = f"{name}-{day}"
    return LogEntry(key, day, 25_200.0, CHECK, word=word, name=name, reading=reading)


@pytest.mark.parametrize("item", LISTS, ids=lambda item: item.when)
@pytest.mark.parametrize(
    "last", [date(2026, 2, 27), date(2028, 2, 28), date(2026, 12, 31), date(2026, 1, 31)], ids=str
)
def test_a_check_is_due_again_by_the_calendar(item: CheckItem, last: date) -> None:
    """So many days after it was done, over the ends of months and years and in leap years: the day
    before it is not due, on the day it is."""
    later = last + timedelta(days=CHECK_DAYS[item.when])
    (before,) = readiness_of([item], [done(item.name, last)], later - timedelta(days=1)).checks
    (then,) = readiness_of([item], [done(item.name, last)], later).checks
    assert (before.stands, then.stands, then.due) == ("done", "due", later)
    assert (later - last).days == CHECK_DAYS[item.when]


def test_what_was_taken_back_or_corrected_moves_the_date() -> None:
    """An entry that was taken back counts for nothing, one of another day for that day."""
    earlier, entry = done(LONG.name, TODAY - timedelta(days=20)), done(LONG.name, TODAY)
    (now,) = readiness_of([LONG], [earlier, entry], TODAY).checks
    (back,) = readiness_of([LONG], [earlier, replace(entry, struck="yes")], TODAY).checks
    (moved,) = readiness_of([LONG], [replace(entry, day=TODAY - timedelta(days=31))], TODAY).checks
    assert (now.last, back.last) == (entry, earlier)
    assert back.due == TODAY + timedelta(days=10)
    assert moved.stands == "due"


def test_ready_needs_all_of_it() -> None:
    """Something open, due or down is told; a guard or a safety device that failed means stop."""
    fine = [done(item.name, TODAY, reading=2.0 if item.unit else None) for item in LISTS]
    assert readiness_of(LISTS, fine, TODAY).is_ready
    assert not readiness_of(LISTS, fine[1:], TODAY).is_ready
    bad = readiness_of(LISTS, [*fine[1:], done(SHORT.name, TODAY, OPEN)], TODAY)
    assert (bad.count("open"), bad.is_ready, bad.must_stop) == (1, False, False)
    guarded = replace(SHORT, caution=GUARD)
    assert readiness_of([guarded], [done(SHORT.name, TODAY, OPEN)], TODAY).must_stop


@pytest.mark.parametrize("device", DEVICES)
def test_a_device_is_down_until_it_works_again(device: str) -> None:
    """Since the first entry that says so; safety devices, and one that nobody knows, mean stop."""
    first = LogEntry("down-1", TODAY, 30_000.0, DEVICE, word=DOWN, name=device)
    again = replace(first, key="down-2", at_s=33_000.0)
    works = replace(first, key="works-1", at_s=36_000.0, word=REPAIRED)
    found = readiness_of(LISTS, [first, again], TODAY)
    assert found.down == (first,)
    assert readiness_of(LISTS, [first, again, works], TODAY).down == ()
    safe = {"entry_sensor", "height_sensor", "roller_sensor", "wheel_drive", "blower"}
    assert found.must_stop == (device not in safe)


def test_three_steps_one_way_are_told() -> None:
    """Four readings in any order go one way in 2 of 4! cases, by counting; not told of three."""
    orders = list(itertools.permutations((1.0, 2.0, 3.0, 4.0)))
    told = [moves_one_way([done("x", TODAY, reading=value) for value in order]) for order in orders]
    assert sorted(filter(None, told)) == ["down", "up"]
    assert moves_one_way([done("x", TODAY, reading=value) for value in (1.0, 2.0, 3.0)]) == ""
    many = [done("x", TODAY + timedelta(days=n), reading=float(n)) for n in range(9)]
    (state,) = readiness_of([CheckItem("x", WEEKLY, unit="mm")], many, many[-1].day).checks
    assert [entry.reading for entry in state.readings] == [float(n) for n in range(9)][-READINGS:]


# ---- the page ------------------------------------------------------------------------------------


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on the demo site, a week after its logbook ends."""
    with demo_client(tmp_path, LATER) as browser:
        yield browser


def press(demo: TestClient, name: str, word: str, **typed: str) -> str:
    """Sends the form of a check; the text of the page that comes of it."""
    page = page_of(demo.get(PLACE))
    forms = [form for form in page.forms if form.action == LOGBOOK]
    form = [form for form in forms if form.data().get("name") == [name]][-1]
    return demo.post(LOGBOOK, data=form.data(**typed, word=word)).text


def test_all_checks_done_is_ready(demo: TestClient) -> None:
    """Every press is an entry; with the last one the page says that the line is ready."""
    assert "8 checks are due before opening." in demo.get(PLACE).text
    for item in DEFAULT_CHECKS:
        text = press(demo, item.name, FINE, **({"reading": "2"} if item.unit else {}))
        assert f"Stored: {item.name}." in text
    assert "<b>Ready.</b> Nothing is due." in demo.get(PLACE).text
    site = demo_site(demo)
    with app_of(demo).state.web.database.session() as session:
        log = load_log(session, site.id, LATER, LATER)
    assert sorted(entry.name for entry in log) == sorted(item.name for item in DEFAULT_CHECKS)


def test_a_press_can_be_taken_back(demo: TestClient) -> None:
    """At once, and the check is due again; the entry stays in the logbook."""
    text = press(demo, "Fault lights", FINE)
    backs = [
        form for form in Page(text).forms if "back" in form.data() and "kind" not in form.data()
    ]
    taken = backs[0].data(struck="yes")
    assert "Taken back: Fault lights." in demo.post(LOGBOOK, data=taken).text
    assert "8 checks are due before opening." in demo.get(PLACE).text


def test_a_reading_that_is_missing_or_out_of_range_is_not_fine(demo: TestClient) -> None:
    """The message stands beside the field; said to be not fine, it is stored and stays open."""
    page = page_of(demo.get(PLACE))
    (form,) = (one for one in page.forms if one.action == f"{PLACE}/list")
    ranged = {"name": "Height reading", "when": WEEKLY, "unit": "mm", "low": "0", "high": "4"}
    assert "The lists are stored." in demo.post(f"{PLACE}/list", data=form.data(**ranged)).text
    assert "has no reading" in press(demo, "Height reading", FINE)
    refused = press(demo, "Height reading", FINE, reading="6", text="after the storm")
    assert "A reading of 6 is not in the range by the manual." in refused
    assert 'value="after the storm"' in refused
    assert "is not a number" in press(demo, "Height reading", FINE, reading="six")
    assert "Stored: Height reading." in press(demo, "Height reading", OPEN, reading="6")
    text = demo.get(PLACE).text
    assert "Not fine: Height reading." in text
    assert "The last one is outside the range." in text


def test_lists_are_the_sites_own_from_the_first_change(demo: TestClient) -> None:
    """Changed, added, taken off, and back to ours; a list is never empty."""
    page = page_of(demo.get(PLACE))
    (form,) = (one for one in page.forms if one.action == f"{PLACE}/list")
    wrong = demo.post(f"{PLACE}/list", data=form.data(name="", when=OPENING))
    assert wrong.status_code == 422
    assert "A check needs a name." in wrong.text
    demo.post(f"{PLACE}/list", data=form.data(name="Drain", when=MONTHLY))
    assert demo_site(demo).data.checks == (*DEFAULT_CHECKS, CheckItem("Drain", MONTHLY))
    for item in (*DEFAULT_CHECKS, CheckItem("Drain", MONTHLY)):
        forms = page_of(demo.get(PLACE)).forms
        (off,) = (
            one for one in forms
            if one.action == f"{PLACE}/remove" and one.data()["name"] == [item.name]
        )  # fmt: skip
        answer = demo.post(f"{PLACE}/remove", data=off.data())
    assert "is the last check" in answer.text
    assert len(demo_site(demo).data.checks) == 1
    (ours,) = (one for one in page_of(demo.get(PLACE)).forms if one.action == f"{PLACE}/ours")
    demo.post(f"{PLACE}/ours", data=ours.data())
    assert demo_site(demo).data.checks == ()
