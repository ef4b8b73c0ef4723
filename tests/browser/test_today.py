"""Today in a browser: a sick call on a phone, what is printed, and where the keyboard is."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.served import DEMO, PEAK, SHEET

PHONE = {"width": 390, "height": 844}
BANNER_PX = 60
"""What of a phone the invented site's banner may take."""


@pytest.mark.browser_context_args(viewport=PHONE)
def test_a_sick_call_is_three_taps_from_what_it_does(page: Page) -> None:
    """On a phone: open, who, until when; then it stands there, in view, and nothing is stored."""
    page.goto(f"{DEMO}/today")
    banner = page.locator("p.invented").bounding_box()
    assert banner is not None
    assert banner["height"] <= BANNER_PX
    page.get_by_text("Somebody can’t come").click()
    page.get_by_text("Anybody else").click()
    page.get_by_role("button", name="14:00").click()
    said = page.locator("#short [role=status]")
    expect(said).to_contain_text("One person fewer, 7:00 to 14:00.")
    expect(said).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    expect(page.get_by_role("radio", name="Anybody else")).to_be_checked()
    expect(page.get_by_role("button", name="Plan the day like that")).to_be_visible()


@pytest.mark.parametrize("address", [f"{DEMO}/today", f"{DEMO}/weighings", f"{DEMO}/cloth", SHEET])
def test_stop_prints_black_on_white(page: Page, address: str) -> None:
    """Without the backgrounds that browsers leave out, “Stop.” is black on the paper's white with a
    border around it: 21:1 by WCAG 2.2."""
    page.goto(address)
    page.emulate_media(media="print")
    looks = page.locator(".stop").evaluate_all(
        """all => all.map(one => {
            const look = getComputedStyle(one), word = getComputedStyle(one.querySelector('b'));
            return [look.color, word.color, look.backgroundColor, parseFloat(look.borderTopWidth)];
        })"""
    )
    assert looks
    for colour, word, ground, border in looks:
        assert (colour, word) == ("rgb(0, 0, 0)", "rgb(0, 0, 0)")
        assert ground == "rgba(0, 0, 0, 0)"
        assert border >= 2


@pytest.mark.browser_context_args(viewport=PHONE)
def test_what_has_the_keyboard_is_never_under_the_bar(page: Page) -> None:
    """From field to field of a change that is tried, the one with the keyboard stands above the bar
    that stays along the lower edge of a phone."""
    page.goto(f"{PEAK}#try")
    page.locator(".tried summary, .tried select, .tried input:visible").first.focus()
    hidden, seen = [], 0
    for _ in range(16):
        page.keyboard.press("Tab")
        name, ends, bar = page.evaluate(
            """() => {
                const at = document.activeElement, form = at.closest('.tried');
                const bar = document.querySelector('.tried-says');
                return [form && !bar.contains(at) ? (at.name || at.textContent.trim()) : '',
                        at.getBoundingClientRect().bottom, bar.getBoundingClientRect().top];
            }"""
        )
        is_below = ends > PHONE["height"] or bar >= PHONE["height"]
        if name and not is_below:
            seen += 1
            if ends > bar:
                hidden.append((name, ends, bar))
    assert seen >= 5
    assert hidden == []


def test_the_button_prints_the_sheet(page: Page) -> None:
    """One press on the day sheet asks the browser to print it."""
    page.add_init_script("window.printed = 0; window.print = () => { window.printed += 1; }")
    page.goto(SHEET)
    page.get_by_role("button", name="Print").click()
    assert page.evaluate("window.printed") == 1
    expect(page.locator(".answer b")).to_have_text(re.compile("^(Reduce|Wipe|Stay)"))
