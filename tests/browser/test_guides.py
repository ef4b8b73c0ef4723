"""Guides under a thumb and on paper: no table is squeezed, and reading matter takes few sheets."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page

PHONE = (390, 844)
LEAST_EM = 10.0
"""Width of a cell of words below which a line holds a word or two [em]."""
_NARROWEST = """() => {
  const cells = [...document.querySelectorAll('.cells td:not(:empty)')];
  return Math.min(...cells.map(cell => {
    const look = getComputedStyle(cell), em = parseFloat(look.fontSize);
    return (cell.clientWidth - parseFloat(look.paddingInlineStart)) / em;
  }));
}"""
_SIDEWAYS = """() => [...document.querySelectorAll('.wide:has(.cells)')]
    .filter(box => box.scrollWidth > box.clientWidth).length"""


@pytest.mark.parametrize("name", ["inputs", "sensitivity"])
def test_wide_table_is_blocks_on_a_phone(page: Page, name: str) -> None:
    """On a phone each row is a block, its cells under each other with their heads, wide enough to
    read and without scrolling sideways; at a desk it is the table that it was."""
    page.goto(f"/guide/{name}")
    cell = page.locator(".cells tbody tr").first.locator("td").nth(1)
    assert cell.evaluate("e => getComputedStyle(e).display") == "table-cell"
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert page.evaluate(_SIDEWAYS) == 0
    assert page.evaluate(_NARROWEST) >= LEAST_EM
    said = cell.evaluate("e => getComputedStyle(e, '::before').content")
    assert said == f'"{cell.get_attribute("data-head")}"'


MOST_SHEETS = {"/about": 5, "/guide/terms": 8, "/guide/inputs": 17, "/guide": 1}
"""A4 sheets of the longest reading matter; in one column at two thirds of the width they took
7, 14, 29 and 2."""


@pytest.mark.parametrize("address", MOST_SHEETS)
def test_reading_matter_is_printed_in_two_columns(page: Page, address: str) -> None:
    """Guides take half the paper of one narrow column, and no head stays behind alone."""
    page.goto(address)
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4")))
    assert sheets <= MOST_SHEETS[address]
    page.emulate_media(media="print")
    breaks = page.locator("h2, h3").evaluate_all(
        "heads => heads.map(head => getComputedStyle(head).breakAfter)"
    )
    assert set(breaks) <= {"avoid"}
