"""A term opens what it means: by tap and key, whole on any phone, and not on paper."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.served import DEMO, PEAK

OPEN = ":popover-open"


def test_a_key_opens_and_closes_what_a_figure_means(page: Page) -> None:
    """Enter on a figure's name shows its three sentences and its error, Escape takes them away, and
    the key stays where it was."""
    page.goto(PEAK)
    term = page.locator("table.compare").first.get_by_role("button", name="Leaving damp")
    term.focus()
    page.keyboard.press("Enter")
    expect(page.locator(OPEN)).to_contain_text("Cars that were damp at the wheel")
    expect(page.locator(OPEN)).to_contain_text("How sure:")
    expect(page.locator(OPEN)).to_contain_text("What moves it:")
    page.keyboard.press("Escape")
    expect(page.locator(OPEN)).to_have_count(0)
    assert term.evaluate("e => e === document.activeElement")


@pytest.mark.parametrize("width", [1280, 390, 320])
def test_no_text_of_a_term_is_cut(page: Page, width: int) -> None:
    """Each text that is opened lies within the window, wide or narrow, from the first term of a
    page to the last."""
    page.set_viewport_size({"width": width, "height": 844})
    for address in (f"{DEMO}/today", PEAK):
        page.goto(address)
        cut = page.evaluate(
            """() => [...document.querySelectorAll('button.term')]
              .filter(e => e.checkVisibility()).map(e => {
                e.scrollIntoView({block: 'center'});
                e.click();
                const box = document.querySelector(':popover-open').getBoundingClientRect();
                document.querySelector(':popover-open').hidePopover();
                const whole = box.left >= 0 && box.top >= 0 && box.height > 60
                  && box.right <= innerWidth && box.bottom <= innerHeight;
                return [whole, e.textContent];
              })"""
        )
        assert len(cut) > 8
        assert [said for whole, said in cut if not whole] == []


def test_on_paper_a_term_is_a_plain_word(page: Page) -> None:
    """Printed, a term stands in its place without dots, and no text of one is printed."""
    page.goto(PEAK)
    page.emulate_media(media="print")
    term = page.locator("table.compare").first.get_by_role("button", name="Leaving damp")
    expect(term).to_be_visible()
    assert term.evaluate("e => getComputedStyle(e).textDecorationLine") == "none"
    expect(page.locator(".meanings")).to_be_hidden()
