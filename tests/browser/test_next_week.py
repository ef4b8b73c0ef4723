"""Next week's roster on a phone: asked, made and put in place within six clicks."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from app.answers import staff
from sim.decide.switching.question import SwitchQuestion
from tests.browser.served import DEMO, Served
from tests.demo_app import not_held

WIDE, HIGH = 390, 844
MOST_CLICKS = 6
STAFF_DAYS = 2
"""Simulated days of who is needed; what the pages do with it needs no more."""
LONG_MS = 600_000


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    phone = {"viewport": {"width": WIDE, "height": HIGH}, "has_touch": True}
    return {**browser_context_args, **phone}


@pytest.fixture(autouse=True)
def few_days_of_staff(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who is needed on each day of the week is worked out from few simulated days, at once, and
    not held against who is planned."""
    few = not_held(staff.answer_staff)

    def at_once(asked: SwitchQuestion, day: date, origin: str, *_how: Any, **_told: Any) -> Any:
        return few(asked, day, origin, days=STAFF_DAYS)

    monkeypatch.setattr(staff, "answer_staff", at_once)


def test_next_week_has_its_roster_within_six_clicks(own: Served, page: Page) -> None:
    """From the first page to people worked out, a roster made of them and put in place; nothing
    on the way is wider than the phone."""
    clicks = 0

    def tap(what: Any) -> None:
        nonlocal clicks
        what.tap()
        clicks += 1

    page.goto(f"{DEMO}/today")
    tap(page.get_by_role("link", name="All pages"))
    tap(page.get_by_role("link", name="Roster", exact=True))
    tap(page.get_by_role("link", name="The week after"))
    tap(page.get_by_role("button", name="Work out who is needed each day"))
    expect(page.get_by_role("button", name="Make this week’s roster")).to_be_visible(
        timeout=LONG_MS
    )
    expect(page.locator("#make")).to_contain_text("worked out, with skills")
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    tap(page.get_by_role("button", name="Make this week’s roster"))
    expect(page.get_by_text(re.compile("^It costs"))).to_be_visible(timeout=LONG_MS)
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    tap(page.get_by_role("button", name="Put it in place"))
    expect(page.get_by_role("status")).to_have_text("The roster stands.")
    expect(page.get_by_text("Rules that this roster breaks")).to_have_count(0)
    assert clicks <= MOST_CLICKS
