"""A crew with a phone: each measurement is entered where it is made."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pages import EMPTY
from tests.browser.served import Served

WIDE, HIGH = 390, 844
DAY = "2026-07-08"
ENTERED = {
    "soaked": ({"weight_kg": "312 g 305 g", "dry_kg": "100 g"}, "of its own weight in water"),
    "damp": (
        {"weight_kg": "190 g", "dry_kg": "100 g", "at_s": "11:40", "damp_cars": "3"},
        "3 of 20 cars damp",
    ),
    "afternoon": (
        {"weight_kg": "170 g", "dry_kg": "100 g", "at_s": "15:20", "damp_cars": "2"},
        "2 of 20 cars damp",
    ),
    "spin": (
        {"weight_kg": "312 g", "dry_kg": "100 g", "at_s": "20:30", "spun_s": "10 30",
         "after_kg": "260 g 210 g"},
        "after 30\u00a0min of idling",
    ),
    "towel": (
        {"dry_kg": "200 g", "passed": "209 g 214 g 212 g 217 g 221 g",
         "called": "230 g 241 g 226 g 255 g 238 g", "cars": "41", "damp_cars": "6"},
        "of water on a hood that would be called back",
    ),
    "hoods": ({"at_s": "16:40", "damp_cars": "5"}, "of the last 20 hoods 5 damp"),
}  # fmt: skip
"""What is typed of each kind, by the name of its field, and what then stands on the page."""


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    phone = {"viewport": {"width": WIDE, "height": HIGH}, "has_touch": True}
    return {**browser_context_args, **phone}


def test_each_measurement_is_entered_on_a_phone(own: Served, page: Page) -> None:
    """Opened, typed, stored and told, one after the other, with its steps and its work above the
    form; nothing on the page is wider than the phone."""
    for kind, (typed, said) in ENTERED.items():
        page.goto(f"{EMPTY}/weighings")
        part = page.locator(f"#{kind}")
        expect(part).to_contain_text("minutes of one person")
        page.locator("details", has=part).locator("> summary").tap()
        expect(part.locator("ol.steps")).to_be_visible()
        for name, text in {"day": DAY, **typed}.items():
            part.locator(f"#in-{kind}-{name}").fill(text)
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
        part.get_by_role("button", name="Store").tap()
        expect(page.get_by_role("status").first).to_have_text("Stored.")
        expect(page.locator("#stored")).to_contain_text(said)
    expect(page.locator(".answer")).to_contain_text("6 kinds of measurement are in.")
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE


def test_what_is_to_be_done_is_printed_though_it_is_folded(page: Page) -> None:
    """The button of the next measurement opens it alone; paper has the steps of each, no form."""
    page.goto(f"{EMPTY}/weighings")
    assert page.locator("ol.steps:visible").count() == 0
    page.get_by_role("link", name="Next: ").tap()
    expect(page.locator("ol.steps:visible")).to_have_count(1)
    expect(page.locator("#soaked ol.steps")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.locator("ol.steps:visible")).to_have_count(len(ENTERED))
    assert page.locator("main form:visible").count() == 0
