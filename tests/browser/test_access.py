"""Every page can be read and used by everybody: WCAG 2.2 AA by axe, sizes, contrast, no script."""

from __future__ import annotations

from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.pages import PAGES, open_all
from tests.browser.served import DEMO, PEAK

WIDE, PHONE = (1280, 900), (390, 844)
LIGHT: dict[str, Any] = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},  # 24 px of WCAG 2.2, off unless asked for
    "resultTypes": ["violations"],
}
DARK: dict[str, Any] = {
    # Nothing but colours depends on the scheme.
    "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]},
    "resultTypes": ["violations"],
}
SCHEMES: dict[Literal["light", "dark"], dict[str, Any]] = {"light": LIGHT, "dark": DARK}
MAIN_CONTROLS = (
    "button, a.button, .pages a, .to-pages, .mark, .toc a, .doors a, .lines a, "
    ".field input:not([type=checkbox]), select, textarea, :not(.origin) > summary"
)
LEAST_MAIN_PX = 44


def _violations(page: Page, options: dict[str, Any]) -> list[str]:
    found = page.evaluate("options => axe.run(options).then(found => found.violations)", options)
    return [
        f"{fault['id']}: {node['target'][0]} {node['html'][:160]} {node['failureSummary']}"
        for fault in found
        for node in fault["nodes"]
    ]


@pytest.mark.parametrize("name", PAGES)
def test_page_has_no_fault_that_axe_finds(page: Page, name: str) -> None:
    """No page breaks WCAG 2.2 A or AA at 1280 or 390 px, light or dark, everything opened.

    Besides, each has exactly one first heading.
    """
    PAGES[name](page)
    assert page.locator("h1").count() == 1
    open_all(page)
    page.evaluate(Axe().axe_script)  # once a page: it runs faster the second time
    for width, height in (WIDE, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        for scheme, options in SCHEMES.items():
            page.emulate_media(color_scheme=scheme)
            assert _violations(page, options) == [], f"{name}, {width} px, {scheme}"


@pytest.mark.parametrize("name", PAGES)
def test_page_fits_a_phone(page: Page, name: str) -> None:
    """At 390 and 320 px no page scrolls sideways, and every main control is 44 px high or more."""
    PAGES[name](page)
    open_all(page)
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        needed, given = page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert needed <= given, f"{name} at {width} px is {needed} px wide"
    small = page.evaluate(
        """([selector, least]) => [...document.querySelectorAll(selector)]
            .filter(e => e.checkVisibility({visibilityProperty: true}) && !e.matches('.unseen'))
            .map(e => [e.getBoundingClientRect().height, e.outerHTML.slice(0, 120)])
            .filter(([height]) => height < least - 0.5)""",
        [MAIN_CONTROLS, LEAST_MAIN_PX],
    )
    assert small == []


_RATIOS = """([papers, inks]) => {
  const probe = document.createElement('span');
  document.body.append(probe);
  const seen = name => {
    probe.style.color = `var(--${name})`;
    return getComputedStyle(probe).color.match(/[0-9.]+/g).slice(0, 3).map(Number);
  };
  const light = name => seen(name).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  const found = Object.fromEntries(papers.flatMap(paper => inks.map(
    ink => [`${ink} on ${paper}`, ratio(light(ink), light(paper))])));
  probe.remove();
  return found;
}"""
TEXT, LINES = 4.5, 3.0
"""Least contrast of text and of what is not text, WCAG 2.2, 1.4.3 and 1.4.11."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_colours_contrast(page: Page, scheme: Literal["light", "dark"]) -> None:
    """Every ink of the stylesheet stands out from every paper it is used on, in charts as well."""
    page.emulate_media(color_scheme=scheme)
    page.goto(PEAK)
    text = page.evaluate(
        _RATIOS, [["paper", "raised", "tint"], ["ink", "soft", "link", "warn"]]
    ) | page.evaluate(_RATIOS, [["ink"], ["on-ink"]])
    lines = page.evaluate(
        _RATIOS, [["paper"], [*(f"s{i}" for i in range(1, 7)), "edge", "focus", "water"]]
    )
    assert {pair: ratio for pair, ratio in text.items() if ratio < TEXT} == {}
    assert {pair: ratio for pair, ratio in lines.items() if ratio < LINES} == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_page_for_wet_hands_has_more_contrast(page: Page, scheme: Literal["light", "dark"]) -> None:
    """On the page made for a phone in the sun every text has 7:1 or more."""
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{DEMO}/today")
    ratios = page.evaluate(_RATIOS, [["paper"], ["ink", "soft", "warn"]])
    assert min(ratios.values()) >= 7.0, ratios


def test_keyboard_reaches_the_answer_first(page: Page) -> None:
    """The first stop of the tab key leads past the masthead to the answer, and is seen."""
    page.goto(PEAK)
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="To the answer")
    assert skip.evaluate("e => e === document.activeElement")
    box = skip.bounding_box()
    assert box is not None
    assert box["y"] >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
