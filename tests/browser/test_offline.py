"""The logbook on a phone whose network comes and goes, by HTTPS under a name that is not the
machine's: nothing lost, nothing doubled, everybody told."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Playwright, Route, expect
from sqlalchemy import event

from app.pages.links import digest_of
from app.sites.reading import CannotOpen, gate, phone_with
from sim.inputs import LogEntry, Site, SiteData
from sim.inputs.logbook import DEFAULT_CHECKS, OPENING
from tests.browser.phones import (
    CHECKS,
    LOGBOOK,
    SLUG,
    WIDE,
    Phone,
    Wash,
    enter_cars,
    keep_page,
    network_is_back,
    ready,
    unfold,
    waiting,
    wash,
)
from tests.browser.served import TODAY

NOON_S = 8 * 3600.0
"""What the site's clock shows: the program is held at noon UTC, which is 8:00 in New York in July
(tz database)."""
LONG = "x" * 390
"""A text that needs room."""
SLOW_S = 1200.0
"""What a test may take at most on a busy machine, by which entries are older than noon."""
LOOK = "window.dispatchEvent(new Event('online'))"
"""What a browser says as its network comes back; else the page looks every quarter of a minute."""
AXE = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa"]
"""With AAA, whose contrast is 7:1 (WCAG 2.2, success criterion 1.4.6)."""
LEAST_PX = 48
Get = Callable[[str], Phone]


@pytest.fixture
def site() -> SiteData:
    """The site of a test."""
    return SiteData(Site("Mill Lane", "America/New_York"), "us")


@pytest.fixture
def here(tmp_path: Path, site: SiteData) -> Iterator[Wash]:
    """The wash of a test, with network."""
    with wash(tmp_path / "data", site) as made:
        yield made


@pytest.fixture
def phone(
    here: Wash, tmp_path: Path, playwright: Playwright, browser_type_launch_args: dict[str, Any]
) -> Iterator[Get]:
    """Phones of this test by their names; none of their scripts may fail."""
    with ExitStack() as stack:
        known: dict[str, Phone] = {}

        def get(name: str) -> Phone:
            if name not in known:
                made = Phone(playwright, browser_type_launch_args, here, tmp_path / name)
                known[name] = made
                stack.callback(made.close)
            return known[name]

        yield get
        assert [fault for one in known.values() for fault in one.faults] == []


def opened_twice(phone: Phone, fast: timedelta = timedelta()) -> Page:
    """The logbook on a phone, opened twice with network as the guide asks, so that it can be opened
    without from now on: within a second of being installed Chromium did not ask the worker for the
    page in about half of some runs."""
    page = phone.on(fast)
    keep_page(page)
    page.reload()
    ready(page)
    return page


def all_arrive(page: Page, here: Wash, count: int) -> None:
    """With network again the page sends what it kept, and says of none that it waits."""
    page.evaluate(LOOK)
    page.wait_for_function(
        """() => document.querySelector('#kept')?.dataset.ready === 'yes'
          && !document.querySelector('#kept li[data-state=waiting]')"""
    )
    assert len(here.log()) == count


# ---- off, killed, on -----------------------------------------------------------------------------


def test_fifty_entries_without_network_arrive_once(here: Wash, phone: Get) -> None:
    """Network off; the page opened without it, killed in the middle and opened again; the phone
    switched off; network on: 50 of 50 entries, each once, and the page says so at each step."""
    page = opened_twice(phone("exit"))
    here.network_off()
    page.reload()
    ready(page)
    expect(page.locator("#kept [data-away]")).to_contain_text("No network.")
    for count in range(1, 26):
        enter_cars(page, count)
        expect(page.locator("#kept li[data-state=waiting]")).to_have_count(count)
    expect(page.locator("#kept [role=status]")).to_be_in_viewport()
    phone("exit").kill(page)
    page = page.context.new_page()
    page.goto(LOGBOOK)
    ready(page)
    assert waiting(page) == 25
    for count in range(26, 51):
        enter_cars(page, count)
        expect(page.locator("#kept li[data-state=waiting]")).to_have_count(count)
    expect(page.locator("#kept")).to_contain_text("Kept on this phone: not sent yet.")
    phone("exit").off()
    here.network_on()
    assert here.log() == ()
    page = phone("exit").on()
    all_arrive(page, here, 50)
    assert sorted(entry.count or 0 for entry in here.log()) == list(range(1, 51))
    expect(page.locator(".log")).to_contain_text("50 cars so far.")
    phone("exit").off()
    page = phone("exit").on()
    all_arrive(page, here, 50)
    expect(page.locator("#kept")).to_be_hidden()


def test_what_is_kept_is_sent_with_no_page_open(here: Wash, phone: Get) -> None:
    """Where the browser can: network off, an entry, the page closed, network on: the worker sends
    it, once, and the page that is opened later says nothing of it any more."""
    page = opened_twice(phone("exit"))
    here.network_off()
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    page.close()
    here.network_on()
    assert here.log() == ()
    page = network_is_back(phone("exit"))
    for _attempt in range(100):
        if here.log():
            break
        page.wait_for_timeout(200)
    assert [entry.count for entry in here.log()] == [7]
    page.goto(LOGBOOK)
    ready(page)
    expect(page.locator("#kept li")).to_have_count(0)
    assert [entry.count for entry in here.log()] == [7]


def test_the_opening_check_is_done_without_network(here: Wash, phone: Get) -> None:
    """Only the logbook was opened with network, twice. The checks open without it; one is not
    fine, with words, one is fine at a press, the rest at one press: what is kept stands there no
    longer, and all eight are entries once there is network."""
    page = opened_twice(phone("exit"))
    keep_page(page, CHECKS)
    page.reload()  # right after it was installed Chromium does not always ask the other worker
    ready(page)
    here.network_off()
    page.goto(CHECKS)
    ready(page)
    expect(page.locator("#kept [data-away]")).to_contain_text("No network.")
    scale = page.locator("[data-check=Scale]")
    scale.locator("details > summary").first.tap()
    scale.get_by_label("In your words").fill("shows 0.2")
    scale.get_by_role("button", name="Not fine").tap()
    expect(scale).to_be_hidden()
    page.locator("[data-check=Guards]").get_by_role("button", name="Fine", exact=False).first.tap()
    expect(page.locator("[data-check=Guards]")).to_be_hidden()
    page.get_by_role("button", name="The rest is fine").tap()
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(3)
    expect(page.locator("#opening [data-check]:visible")).to_have_count(0)
    here.network_on()
    page.evaluate(LOOK)
    expect(page.locator("main")).to_contain_text("Not fine: Scale.")
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(0)
    checked = [(entry.name, entry.word, entry.text) for entry in here.log()]
    opening = [item.name for item in DEFAULT_CHECKS if item.when == OPENING]
    assert sorted(name for name, _word, _text in checked) == sorted(opening)
    assert [one for one in checked if one[1] != "fine"] == [("Scale", "open", "shows 0.2")]


def test_an_entry_whose_answer_is_lost_is_stored_once(here: Wash, phone: Get) -> None:
    """The server stores it and the phone does not hear: the entry waits, is sent again, and stands
    there once; with network it leads on to the page that says so."""
    page = opened_twice(phone("exit"))
    here.deaf.lose = 2
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    page.evaluate(LOOK)
    expect(page.locator("#kept")).to_be_hidden()
    assert here.deaf.lose == 0
    assert [entry.count for entry in here.log()] == [7]
    enter_cars(page, 8)
    expect(page.get_by_role("status").filter(has_text="Stored:")).to_contain_text("8 cars so far.")
    assert sorted(entry.count or 0 for entry in here.log()) == [7, 8]


def test_two_phones_at_once(here: Wash, phone: Get) -> None:
    """Two phones without network, then both at once with it: every entry of both, once."""
    pages = [opened_twice(phone(name)) for name in ("entry", "exit")]
    here.network_off()
    for offset, page in zip((10, 20), pages, strict=True):
        for count in range(offset, offset + 5):
            enter_cars(page, count)
            expect(page.locator("#kept li[data-state=waiting]")).to_have_count(count - offset + 1)
    here.network_on()
    for page in pages:
        page.evaluate(f"setTimeout(() => {LOOK})")
    for page in pages:
        expect(page.locator("#kept li[data-state=waiting]")).to_have_count(0)
    assert sorted(entry.count or 0 for entry in here.log()) == [*range(10, 15), *range(20, 25)]


# ---- clocks --------------------------------------------------------------------------------------


def test_a_clock_wrong_by_an_hour_is_told(here: Wash, phone: Get) -> None:
    """A phone an hour fast: its entry has the server's time, and the page says so until somebody
    has seen it."""
    page = opened_twice(phone("exit"), timedelta(hours=1))
    here.network_off()
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    here.network_on()
    all_arrive(page, here, 1)
    (entry,) = here.log()
    assert entry.day == TODAY
    assert NOON_S - SLOW_S <= entry.at_s <= NOON_S
    told = page.locator("#kept li[data-state=told]")
    expect(told).to_contain_text("This phone’s clock is 60 minutes fast")
    page.reload()
    ready(page)
    told.get_by_role("button", name="Seen").tap()
    expect(told).to_have_count(0)


def test_a_phone_that_comes_back_after_two_days(here: Wash, phone: Get) -> None:
    """What was entered without network two days ago is of that day, and what is entered now of
    today."""
    two = timedelta(days=2)
    page = opened_twice(phone("exit"), -two)
    here.network_off()
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    phone("exit").off()
    page = phone("exit").on()
    assert waiting(page) == 1
    enter_cars(page, 8)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(2)
    here.network_on()
    all_arrive(page, here, 2)
    days = [(entry.count, entry.day) for entry in here.log()]
    assert days == [(7, TODAY - two), (8, TODAY)]


@pytest.mark.parametrize("site", [SiteData(Site("Mill Lane", "Pacific/Auckland"), "si")])
def test_an_entry_for_yesterday_after_midnight(here: Wash, phone: Get) -> None:
    """Just after midnight and without network, an entry for yesterday needs its time, which the
    page asks for before it keeps it; then it is of yesterday, at that time."""
    yesterday = TODAY - timedelta(days=1)
    page = opened_twice(phone("exit"))
    here.network_off()
    page.reload()
    ready(page)
    page.get_by_label("Day of what you enter").fill(str(yesterday))
    enter_cars(page, 250)
    expect(page.locator("#kept")).to_contain_text("Enter the time too")
    assert waiting(page) == 0
    page.locator("#kind-cars").get_by_label("Time", exact=True).fill("22:10")
    page.locator("#kind-cars").get_by_role("button", name="Store").tap()
    expect(page.locator("#kept li[data-state=waiting]")).to_contain_text("22:10")
    here.network_on()
    all_arrive(page, here, 1)
    (entry,) = here.log()
    assert (entry.day, entry.at_s, entry.count) == (yesterday, 22 * 3600 + 600, 250)


# ---- refusals ------------------------------------------------------------------------------------


def limit(here: Wash, most: int) -> None:
    """No more pages for the database on any of its connections, or many again."""
    engine = here.app.state.web.database._engine
    engine.dispose()

    @event.listens_for(engine, "connect")
    def _limit(connection: sqlite3.Connection, _entry: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {most}")


def enter_note(page: Page, text: str) -> None:
    """Enters something in one's own words."""
    page.evaluate(
        """text => {
          const form = document.querySelector('#kind-note form');
          form.elements.text.value = text;
          form.requestSubmit();
        }""",
        text,
    )


def fill(here: Wash) -> int:
    """Fills the disk by long entries; returns how many it took."""
    limit(here, 1)
    web = here.app.state.web
    for number in range(200):
        key = f"filling-{number}"
        entry = LogEntry(key, TODAY, 0.0, "note", text=LONG)
        try:
            with gate(web.database, web.now()) as writes:
                writes.enter(1, [entry], key, TODAY)
        except CannotOpen:
            return number
    raise AssertionError("the disk is never full")


def test_a_full_disk_keeps_entries_on_the_phone(here: Wash, phone: Get) -> None:
    """While the server's disk takes nothing, entries stay on the phone and the page says why; with
    room again they arrive, each once."""
    page = opened_twice(phone("exit"))
    took = fill(here)
    texts = [f"{number} {LONG}" for number in range(3)]
    for count, text in enumerate(texts, 1):
        enter_note(page, text)
        expect(page.locator("#kept [role=status]")).to_contain_text("The disk is full")
        expect(page.locator("#kept li[data-state=waiting]")).to_have_count(count)
    limit(here, 1_000_000)
    all_arrive(page, here, took + len(texts))
    assert sorted(entry.text for entry in here.log() if entry.text != LONG) == texts


def test_what_is_refused_comes_back_and_is_corrected(here: Wash, phone: Get) -> None:
    """Twenty-five damp hoods of twenty, kept without network: with it they come back with the
    reason; corrected, they are stored, and nothing waits any more."""
    page = opened_twice(phone("exit"))
    here.network_off()
    page.reload()
    ready(page)
    part = page.locator("#kind-damp .asked form").first
    unfold(part)
    part.locator("input[name=count]").fill("25")
    part.get_by_role("button", name="Store").tap()
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    here.network_on()
    page.evaluate(LOOK)
    refused = page.locator("#kept li[data-state=refused]")
    expect(refused).to_contain_text("Damp hoods, 25, 20")
    expect(refused).to_contain_text("25 damp hoods of 20 can’t be. Enter 0 to 20.")
    assert here.log() == ()
    page.reload()
    ready(page)
    refused.get_by_role("button", name="Correct").tap()
    whole = page.locator("#whole")
    expect(whole).to_contain_text("25 damp hoods of 20 can’t be. Enter 0 to 20.")
    whole.locator("input[name=count]").fill("5")
    whole.get_by_role("button", name="Store").tap()
    expect(page.get_by_role("status").filter(has_text="Stored:")).to_be_visible()
    ready(page)
    expect(refused).to_have_count(0)
    assert [(entry.count, entry.of) for entry in here.log()] == [(5, 20)]


def test_what_a_look_sends_is_told_by_whoever_stored_it(here: Wash, phone: Get) -> None:
    """An entry stored while the page just looks for what waits goes with that look; the page
    says that it is stored all the same, and lists it."""
    page = opened_twice(phone("exit"))
    held: list[Route] = []

    def hold_the_first(route: Route) -> None:
        if held:
            route.continue_()
        held.append(route)

    page.route("**/logbook/token", hold_the_first)
    with page.expect_request("**/logbook/token"):
        page.evaluate(LOOK)
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    held[0].continue_()
    expect(page.get_by_role("status").filter(has_text="Stored:")).to_be_visible()
    assert [entry.count for entry in here.log()] == [7]


def test_a_link_that_is_taken_back_leaves_what_is_kept(here: Wash, phone: Get) -> None:
    """A phone that came by its link has the logbook and no other page; taken back, it is told so,
    and what it kept stays on it until it is thrown away by two presses."""
    web = here.app.state.web
    with gate(web.database, web.now()) as writes:
        writes.add_phone(1, "Belt", digest_of("s" * 43))
    made = phone_with(web.database, digest_of("s" * 43))
    assert made is not None
    page = phone("exit").on()
    page.goto(f"{SLUG}/phone/{'s' * 43}")
    expect(page).to_have_url(f"{here.url}{LOGBOOK}")
    ready(page)
    keep_page(page)
    links = page.locator("nav.pages a:not(.shut)")
    assert links.all_inner_texts() == ["Logbook", "Checks", "Guide"]
    answer = page.goto(f"{SLUG}/site")
    assert answer is not None
    assert answer.status == 403
    page.goto(LOGBOOK)
    ready(page)
    here.network_off()
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    with gate(web.database, web.now()) as writes:
        writes.revoke_phone(1, made.id)
    here.network_on()  # from here on the page or its worker may send at any moment
    page.evaluate(LOOK)
    expect(page.locator("#kept [role=status]")).to_contain_text("This phone’s link was taken back.")
    assert waiting(page) == 1
    assert here.log() == ()
    page.locator("#kept").get_by_role("button", name="Leave it out").tap()
    page.locator("#kept").get_by_role("button", name="Throw it away?").tap()
    expect(page.locator("#kept li")).to_have_count(0)


def test_what_is_kept_can_be_read_and_pressed_by_everybody(here: Wash, phone: Get) -> None:
    """Kept and refused entries on a phone: no fault by axe's rules, no button under 48 px, nothing
    wider than the phone."""
    page = opened_twice(phone("exit"))
    here.network_off()
    page.reload()
    ready(page)
    enter_cars(page, 7)
    expect(page.locator("#kept li[data-state=waiting]")).to_have_count(1)
    found = Axe().run(page, context="#kept", options={"runOnly": AXE})
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    for control in page.locator("#kept").locator("button, input").all():
        box = control.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= LEAST_PX


# ---- on the first screen -------------------------------------------------------------------------


def test_the_browser_would_install_it(here: Wash, phone: Get) -> None:
    """Chromium's own judgement: nothing stands against the page on a phone's first screen."""
    page = opened_twice(phone("exit"))
    session = page.context.new_cdp_session(page)
    found = session.send("Page.getInstallabilityErrors")
    assert [e for e in found["installabilityErrors"] if e["errorId"] != "in-incognito"] == []
    told = session.send("Page.getAppManifest")
    assert told["errors"] == []
    assert told["url"] == f"{here.url}{LOGBOOK}/app.webmanifest"
