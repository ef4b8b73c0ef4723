"""The demo begun on an empty data folder, by a server that is killed amid: nobody meets a page that
waits, nothing is lost and nothing is repeated."""

from __future__ import annotations

import signal
from collections import Counter
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select

from app.db.session import open_database
from app.db.tables import ChangeRow, ResultRow
from app.settings import DATABASE_NAME
from app.sites.demo import demo_data, standing_day
from tests.browser.conftest import context_args
from tests.demo_app import main_pages
from tests.real_demo import LIST, READABLE, demo

SLUG = "harbor-road"
AMID = "The coming days, Sunday 19 July 2026"
"""Once this is under way, or has been, something is there and something is not."""
INSTEAD = "main p.answer[role=status]:has-text('Working it out.')"
"""What a page that waits has in the place of its answer; a part that waits is no page that does."""
LONG_MS = timedelta(minutes=5) / timedelta(milliseconds=1)
"""The test gives up after so long; two idle processors take some fifteen seconds."""


def stored(folder: Path) -> tuple[dict[str, str], Counter[str]]:
    """The stored answers under their keys, and how often one was stored under each."""
    database = open_database(folder / DATABASE_NAME)
    with database.session() as session:
        answers = {row.key: row.payload for row in session.scalars(select(ResultRow))}
        told = session.scalars(select(ChangeRow.request_key).where(ChangeRow.what == "result"))
        times = Counter(key.removeprefix("result ") for key in told)
    database.close()
    return answers, times


def until_it_says(page: Page, text: str) -> None:
    """Waits until the list of what is worked out says something; it follows by itself."""
    expect(page.get_by_text(text).first).to_be_attached(timeout=LONG_MS)


def test_no_page_of_an_empty_start_waits_though_it_is_killed_amid(
    browser: Browser, tmp_path: Path
) -> None:
    """Killed amid first answers, a server leaves those that it had shown; the next one has none of
    them once more, and when it says that every page of today has something to show, each page
    that the menu or another page leads to shows it, but the season."""
    with demo(tmp_path) as first, browser.new_context(**context_args(first.url)) as context:
        page = context.new_page()
        page.goto(LIST)
        until_it_says(page, AMID)
        first.process.send_signal(signal.SIGKILL)
        first.process.wait(60)
    kept, once = stored(tmp_path)
    assert len(kept) > 1
    assert set(once.values()) == {1}

    with demo(tmp_path) as second, browser.new_context(**context_args(second.url)) as context:
        page = context.new_page()
        page.goto(LIST)
        until_it_says(page, READABLE)
        there, times = stored(tmp_path)
        assert {key: there.get(key) for key in kept} == kept
        assert set(times.values()) == {1}
        for address in main_pages(SLUG, standing_day(demo_data())):
            page.goto(address)
            assert page.locator("h1").is_visible(), address
            assert page.locator(INSTEAD).count() == 0, address
