"""A manager with a phone: a shift is moved, its problems are told at once, and it is undone."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pages import unfold
from tests.browser.served import DEMO, Served

WEEK = f"{DEMO}/roster/2026-07-27"
WIDE, HIGH = 390, 844


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    phone = {"viewport": {"width": WIDE, "height": HIGH}, "has_touch": True}
    return {**browser_context_args, **phone}


def test_a_shift_is_moved_and_undone(own: Served, page: Page) -> None:
    """The moved shift stands in the week, the page says what it breaks, and Undo takes it away;
    nothing on the page is wider than the phone."""
    page.goto(WEEK)
    unfold(page, "Move a shift")
    form = page.locator("#move")
    form.get_by_label("Who").select_option("Kit")
    form.get_by_label("Day").select_option("1")
    form.get_by_label("Start").fill("08:00")
    form.get_by_label("End").fill("14:00")
    form.get_by_role("button", name="Store the shift").tap()
    expect(page.get_by_role("status")).to_have_text("Stored.")
    cells = page.locator("#week").get_by_role("row").filter(has_text="Kit")
    expect(cells).to_contain_text("8–14")
    expect(page.get_by_text("Kit works on Tuesday, though away then.")).to_be_visible()
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= WIDE
    page.get_by_role("button", name="Undo").tap()
    expect(page.get_by_role("status")).to_have_text("Undone.")
    expect(page.get_by_text("8–14")).to_have_count(0)
    expect(page.get_by_text("Kit works on Tuesday, though away then.")).to_have_count(0)
