"""A plan on paper: answer and table on the first sheet, charts on the second; nothing to press."""

from __future__ import annotations

import re
from typing import Literal

import pytest
from playwright.sync_api import Page, expect

from app.pages import cautions
from tests.browser.served import DEMO, PEAK, REDUCE, SHEET, TOMORROW

MM = 96 / 25.4
"""CSS pixels of a millimetre."""
MARGINS_MM = (24.0, 22.0)
"""Left and right, top and bottom together, as the stylesheet has them."""
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
PRESSED = "button:not(.term):visible, nav.pages:visible, a.button:visible, .skip:visible"
"""What has no place on paper; a term is printed as the word that it is."""
_BOTTOM = """() => Math.max(...[...document.querySelectorAll('.part')]
    .filter(p => p.querySelector('.answer, table.compare'))
    .map(p => p.getBoundingClientRect().bottom + scrollY))"""


def _sheets(pdf: bytes) -> int:
    """Pages of a PDF file."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def _on_paper(page: Page, address: str, paper: str) -> tuple[float, float]:
    """Lays a page out as on paper; width and height of what a sheet has room for [px]."""
    width, height = (
        (side - margin) * MM for side, margin in zip(PAPERS[paper], MARGINS_MM, strict=True)
    )
    page.set_viewport_size({"width": int(width), "height": int(height)})
    page.goto(address)
    page.emulate_media(media="print")
    return width, height


@pytest.mark.parametrize("paper", PAPERS)
def test_plan_prints_on_two_sheets(page: Page, paper: str) -> None:
    """Answer and table end before the first sheet does; the charts begin the second and last."""
    _width, height = _on_paper(page, PEAK, paper)
    assert page.evaluate(_BOTTOM) <= height
    charts = page.locator(".part:has(.charts)")
    assert charts.evaluate("e => getComputedStyle(e).breakBefore") == "page"
    first = page.locator(".part").evaluate_all(
        """parts => parts.filter(p => p.getClientRects().length)
            .findIndex(p => p.querySelector('.charts'))"""
    )
    assert first == 4, "answer, how sure, table and how to read it come before the charts"
    assert _sheets(page.pdf(format=paper)) == 2


def test_what_is_stored_prints_and_a_form_alone_does_not(page: Page) -> None:
    """Measurements that are stored stand on paper, without their presses; of a part that is a form
    alone nothing is left, not even its head."""
    page.emulate_media(media="print")
    page.goto(f"{DEMO}/weighings")
    stored = page.locator("#stored form")
    expect(stored.locator("b").first).to_have_text("A soaked strip")
    expect(stored.locator("b").first).to_be_visible()
    assert stored.count() > 10
    expect(page.locator(PRESSED)).to_have_count(0)
    page.goto("/people/programs")
    expect(page.get_by_text("Programs of yours read answers")).to_be_visible()
    expect(page.get_by_text("Let a program in")).to_be_hidden()


@pytest.mark.parametrize(
    "address", [PEAK, f"{DEMO}/today", f"{DEMO}/counts", f"{DEMO}/site", REDUCE, SHEET]
)
def test_paper_has_nothing_to_press_and_loses_nothing(page: Page, address: str) -> None:
    """On paper there is no button and no list of pages; black on white, all within the sheet.

    A term is plain words there: the heads of a table are repeated on its next sheet, buttons among
    them are not.
    """
    width, _height = _on_paper(page, address, "A4")
    pressed = page.locator(PRESSED)
    assert pressed.count() == 0
    underlined = """() => [...document.querySelectorAll('button.term')].filter(
        one => getComputedStyle(one).textDecorationLine !== 'none'
            || getComputedStyle(one).display !== 'contents').length"""
    assert page.evaluate(underlined) == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= width + 1
    colours = page.evaluate(
        """() => [getComputedStyle(document.body).backgroundColor,
                  getComputedStyle(document.querySelector('.answer')).color]"""
    )
    assert colours == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]


@pytest.mark.parametrize("paper", PAPERS)
def test_day_sheet_prints_on_one_sheet(page: Page, paper: str) -> None:
    """The day sheet ends with the first sheet, without the masthead."""
    _width, height = _on_paper(page, SHEET, paper)
    assert page.locator("header.page:visible").count() == 0
    bottom = page.evaluate("document.querySelector('main').getBoundingClientRect().bottom")
    assert bottom <= height
    assert _sheets(page.pdf(format=paper)) == 1


ALL_AT_ONCE = (
    cautions.SHAPING_SENSOR,
    cautions.SAFETY_DEVICE,
    cautions.BLOWERS,
    cautions.SET_CHANGE,
)
"""What a sheet has besides its own where a reading has failed, the blowers are down and a set is
changed, all on one day."""
_MORE = """notices => {
  const last = document.querySelector('.mind > .note');
  for (const [weight, head, text] of notices) {
    const one = document.createElement('p'), lead = document.createElement('b');
    one.className = weight;
    lead.textContent = head;
    one.append(lead, ` ${text}`);
    last.before(one);
  }
}"""


@pytest.mark.parametrize("paper", PAPERS)
def test_day_sheet_with_every_caution_prints_on_one_sheet(page: Page, paper: str) -> None:
    """A day on which all goes wrong has five cautions and stops; the sheet still ends with its
    first page, and each of them is on it whole."""
    _width, height = _on_paper(page, SHEET, paper)
    heads = {"stop": "Stop.", "caution": "Caution."}
    page.evaluate(_MORE, [[one.weight, heads[one.weight], one.text] for one in ALL_AT_ONCE])
    assert page.locator(".mind > :is(.stop, .caution)").count() == 1 + len(ALL_AT_ONCE)
    bottom = page.evaluate("document.querySelector('main').getBoundingClientRect().bottom")
    assert bottom <= height
    assert _sheets(page.pdf(format=paper)) == 1


_FULL = """([cues, hours, people, points]) => {
  const fill = (selector, count) => {
    const rows = [...document.querySelectorAll(selector)];
    if (!rows.length) throw new Error(`nothing is ${selector}`);
    for (let at = rows.length; at < count; at += 1) rows.at(-1).after(rows.at(-1).cloneNode(true));
  };
  const head = '<th>Cue</th><th>Reduce</th><th>Go back to full</th><th>Note</th>';
  const cell = 'Damp hoods among the last twenty';
  const note = 'If that fails. Look at the last twenty hoods every 20 min.';
  const row = `<tr><th>${cell}</th><td class="big">11 or more</td><td class="big">1 or fewer</td>`;
  document.querySelector('.cols > .whole:has(.cue-table)')?.remove();
  document.querySelector('.cols').insertAdjacentHTML('afterbegin', `<section class="whole">
    <h2>Cues</h2><table class="cue-table"><thead><tr>${head}</tr></thead>
    <tbody>${`${row}<td>${note}</td></tr>`.repeat(cues)}</tbody></table></section>`);
  if (!document.querySelector('.comes')) {
    document.querySelector('.cols > section:nth-of-type(3)').insertAdjacentHTML(
      'beforeend', '<ul class="comes"><li>Fay 8:30–14:30</li></ul>');
  }
  document.querySelector('main').insertAdjacentHTML('afterbegin', `<div class="before">
    <p class="note">This was worked out before the program or the forecast of the day changed.
    The new one is being worked out and takes its place by itself.</p></div>`);
  fill('.comes li', people);
  fill('.write tbody tr', hours);
  fill('.list li', points);
}"""
"""A sheet with as many cues, hours, people and points as a full day has, over an older answer."""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    ("cues", "hours", "people"), [(3, 13, 11), (2, 13, 12), (3, 17, 15), (1, 17, 11)]
)
def test_day_sheet_of_a_full_day_prints_on_one_sheet(
    page: Page, paper: str, cues: int, hours: int, people: int
) -> None:
    """A day with a cue for each reading, long hours and many people still ends with its page."""
    _width, height = _on_paper(page, SHEET, paper)
    page.evaluate(_FULL, [cues, hours, people, 6])
    assert page.locator(".cue-table tbody tr").count() == cues
    assert page.locator(".write tbody tr").count() == hours
    bottom = page.evaluate("document.querySelector('main').getBoundingClientRect().bottom")
    assert bottom <= height
    assert _sheets(page.pdf(format=paper)) == 1


def test_four_clicks_to_plan_reason_and_sheet(page: Page) -> None:
    """From the bare address a new user is at tomorrow's plan, at the reason and at the day sheet
    within four clicks in all, and the sheet prints on one page."""
    clicks = 0
    page.goto("/")
    day = TOMORROW.isoformat()
    page.get_by_role("link", name="Tuesday 14 July", exact=True).click()
    clicks += 1
    expect(page).to_have_url(re.compile(f"/plan/{day}$"))
    expect(page.locator("table.compare").first).to_be_visible()
    page.locator(".doors").get_by_role("link", name="When to reduce").click()
    clicks += 1
    expect(page).to_have_url(re.compile(f"/reduce/{day}$"))
    expect(page.locator(".answer b")).to_have_text(re.compile("^(Reduce|Wipe)"))
    expect(page.locator("summary", has_text="How sure")).to_be_visible()
    page.get_by_role("link", name="Day sheet to print").click()
    clicks += 1
    expect(page).to_have_url(re.compile(f"/sheet/{day}$"))
    assert clicks <= 4
    for paper in PAPERS:
        assert _sheets(page.pdf(format=paper)) == 1


def test_dark_scheme_prints_as_the_light_one(page: Page) -> None:
    """Whoever reads in the dark prints black on white all the same, scenario colours included."""
    printed = []
    for scheme in SCHEMES:
        page.emulate_media(media="print", color_scheme=scheme)
        page.goto(PEAK)
        printed.append(
            page.evaluate(
                """names => names.map(
                    n => getComputedStyle(document.body).getPropertyValue('--' + n).trim())""",
                ["paper", "ink", "soft", "hair", "warn", "water", *(f"s{i}" for i in range(1, 7))],
            )
        )
    assert all(printed[0])
    assert printed[0] == printed[1]
