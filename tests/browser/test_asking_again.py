"""A page that waits asks for itself again, also where a link to a part of it was followed."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from app.answers.studies.runner import Progress
from tests.browser.served import DEMO, Served
from tests.pages.switch_visitor import standing


@pytest.mark.parametrize("part", ["", "#day"])
def test_a_page_that_waits_asks_again(
    page: Page, own: Served, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    """Under way, the page is asked for again by itself, from its top and from any part of it."""
    runner = own.app.state.web.runner
    monkeypatch.setattr(runner, "standing", standing(Progress(1200, 52000)))
    address = f"{DEMO}/reduce/2026-07-16"
    page.goto(f"{address}{part}")
    with page.expect_request(lambda request: request.url.endswith(address)):
        page.locator("progress").wait_for()
