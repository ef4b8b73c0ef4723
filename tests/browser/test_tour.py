"""The tour of the demo: six sentences, each at its page, left at any point."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.served import DEMO

WIDE = 390
PLACES = (
    "today",
    "plan/2026-07-18",
    "reduce/2026-07-18",
    "weighings",
    "roster/2026-07-13",
    "sheet/2026-07-18",
)


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    return {**browser_context_args, "viewport": {"width": WIDE, "height": 844}}


def test_tour_is_walked_by_one_key_on_a_phone(page: Page) -> None:
    """From the banner Enter alone leads through the six pages, each with its sentence in view; the
    comparison is shown to whoever asks where it is, and the last page leads to a site of one's own.
    """
    page.goto(f"{DEMO}/today")
    page.get_by_role("link", name="A tour in six sentences").click()
    tour = page.get_by_role("navigation", name="Tour")
    for at, place in enumerate(PLACES, 1):
        expect(page).to_have_url(re.compile(f"{DEMO}/{place}\\?tour={at}$"))
        expect(tour).to_contain_text(f"Tour, {at} of {len(PLACES)}.")
        expect(tour).to_be_in_viewport(ratio=1.0)
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
        expect(tour.locator(":focus")).to_be_visible()
        page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/sites/new$"))
    page.goto(f"{DEMO}/plan/2026-07-18?tour=2")
    tour.get_by_role("link", name="Go there").click()
    expect(page.locator("#side-by-side h2")).to_be_in_viewport()


def test_tour_is_left_where_one_likes_and_found_again_in_the_guide(page: Page) -> None:
    """Leaving stays on the page; the guide has the sentences, and leads to any of them. Paper has
    none of it."""
    page.goto(f"{DEMO}/weighings?tour=4")
    tour = page.get_by_role("navigation", name="Tour")
    said = tour.locator("p").first.inner_text().removeprefix("Tour, 4 of 6. ")
    page.emulate_media(media="print")
    expect(tour).to_be_hidden()
    page.emulate_media(media="screen")
    tour.get_by_role("link", name="Leave the tour").click()
    expect(page).to_have_url(re.compile(f"{DEMO}/weighings$"))
    expect(tour).to_have_count(0)
    page.goto("/guide")
    page.get_by_role("link", name="A tour in six sentences").click()
    line = page.locator("main li", has_text=said)
    line.get_by_role("link").click()
    expect(page).to_have_url(re.compile(f"{DEMO}/weighings\\?tour=4$"))
    expect(tour).to_contain_text(said)
