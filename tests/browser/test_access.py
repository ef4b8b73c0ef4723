"""Every page can be read and used by everybody: WCAG 2.2 AA by axe, sizes, contrast, no script."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import Watched
from tests.browser.pages import PAGES, open_all
from tests.browser.served import DEMO, PEAK, Served

WIDE, PHONE = (1280, 900), (390, 844)
COLOURS = ["color-contrast", "link-in-text-block"]
"""Rules of axe that ask what colour something has; nothing but these depends on the scheme."""
ALL_ELSE: dict[str, Any] = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {
        "target-size": {"enabled": True},  # 24 px of WCAG 2.2, off unless asked for
        **{name: {"enabled": False} for name in COLOURS},
    },
    "resultTypes": ["violations"],
}
OF_COLOURS: dict[str, Any] = {
    "runOnly": {"type": "rule", "values": COLOURS},
}
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
MAIN_CONTROLS = (
    "button, a.button, .pages a, .to-pages, .mark, .toc a, .doors a, .lines a, "
    ".field input:not([type=checkbox]), select, textarea, :not(.origin) > summary"
)
LEAST_MAIN_PX = 44
_LOOKS = """ofUnjudged => {
  const grounds = new Map([[null, '']]);
  const ground = e => {
    if (!grounds.has(e)) {
      const s = getComputedStyle(e);
      const own = [s.backgroundColor, s.backgroundImage, s.opacity, s.filter, s.mixBlendMode];
      const place = s.position === 'static' ? '' : e.localName + e.className + s.zIndex;
      grounds.set(e, `${ground(e.parentElement)}|${own}${place}`);
    }
    return grounds.get(e);
  };
  const look = e => {
    const s = getComputedStyle(e);
    const ink = [s.color, s.fill, s.fontSize, s.fontWeight, s.textShadow, s.textDecorationLine];
    return `${e.localName} ${ink} in ${getComputedStyle(e.parentElement).color} ${ground(e)}`;
  };
  const says = e => e.matches('input, select, textarea')
    || [...e.childNodes].some(n => n.nodeType === Node.TEXT_NODE && n.data.trim().length > 1);
  const unjudged = e => e.closest('svg, .unseen, .skip')
    || e.matches('[type=checkbox], [type=radio], [type=range]');
  const seen = [...document.body.querySelectorAll('*')].filter(
    e => e.checkVisibility() && says(e) && Boolean(unjudged(e)) === ofUnjudged);
  window.oneOfEachLook = new Map(seen.map(e => [look(e), e]));
  return [...window.oneOfEachLook.keys()];
}"""
"""The looks on a page: of elements with the same ink, size and weight, in the same text on the same
grounds, axe says the same of all, and a table has a thousand of them. Asked for apart are those of
which it can never say anything: text in drawings, whose inks `test_colours_contrast` holds against
their papers, text for listeners alone, and controls without any."""
_COLOURS_OF_LOOKS = """([looks, options]) => {
  const one = looks.map(look => window.oneOfEachLook.get(look));
  const elements = results => results.flatMap(rule => rule.nodes.map(node => node.element));
  const plain = ({id, nodes}) => ({id, nodes: nodes.map(
    ({target, html, failureSummary}) => ({target, html, failureSummary}))});
  return axe.run({include: one}, {...options, elementRef: true}).then(found => {
    const open = new Set(elements(found.incomplete));
    const told = new Set(elements(
      [...found.violations, ...found.passes.filter(rule => rule.id === 'color-contrast')]));
    const judged = looks.filter((_look, at) => told.has(one[at]) && !open.has(one[at]));
    return [found.violations.map(plain), judged];
  });
}"""
"""Faults of colour of some looks, and the looks of which axe could say whether they have one."""
_ALL_ELSE = "options => axe.run(options).then(found => found.violations)"


def _sentences(violations: list[dict[str, Any]]) -> list[str]:
    return [
        f"{fault['id']}: {node['target'][0]} {node['html'][:160]} {node['failureSummary']}"
        for fault in violations
        for node in fault["nodes"]
    ]


def faults_of(page: Page, judged: set[str]) -> list[str]:
    """What axe finds on a page at both widths, and of its colours in both schemes.

    Args:
        judged: looks whose colours have been judged, so that none is judged twice: most pages share
            theirs, and most are the same at both widths. Those of this page are added.
    """
    page.evaluate(Axe().axe_script)  # once a page: it runs faster the second time
    found = []
    for width, height in (WIDE, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            faults = []
            if looks := [look for look in page.evaluate(_LOOKS, False) if look not in judged]:
                violations, told = page.evaluate(_COLOURS_OF_LOOKS, [looks, OF_COLOURS])
                faults += _sentences(violations)
                judged.update(told)
            if scheme == "light":
                faults += _sentences(page.evaluate(_ALL_ELSE, ALL_ELSE))
            found += [f"{width} px, {scheme}: {fault}" for fault in faults]
    return found


@pytest.fixture(scope="module")
def judged() -> set[str]:
    """Looks whose colours axe has judged on the pages so far; a faulty one failed its page."""
    return set()


@pytest.fixture(scope="module", params=PAGES)
def opened(tab: Page, shared: Served, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A page of the product, everything on it opened; what it must not do fails its last test."""
    watched = Watched(shared.url)
    stop = watched.watch(tab.context)
    width, height = WIDE
    tab.set_viewport_size({"width": width, "height": height})
    tab.emulate_media(color_scheme="light")
    PAGES[request.param](tab)
    open_all(tab)
    yield tab
    stop()
    assert watched.faults == []


def test_page_has_no_fault_that_axe_finds(opened: Page, judged: set[str]) -> None:
    """No page breaks WCAG 2.2 A or AA at 1280 or 390 px, light or dark, everything opened.

    Besides, each has exactly one first heading.
    """
    assert opened.locator("h1").count() == 1
    assert faults_of(opened, judged) == []


def test_page_fits_a_phone(opened: Page) -> None:
    """At 390 and 320 px no page scrolls sideways, and every main control is 44 px high or more."""
    for width in (390, 320):
        opened.set_viewport_size({"width": width, "height": 844})
        needed, given = opened.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert needed <= given, f"at {width} px it is {needed} px wide"
    small = opened.evaluate(
        """([selector, least]) => [...document.querySelectorAll(selector)]
            .filter(e => e.checkVisibility({visibilityProperty: true}) && !e.matches('.unseen'))
            .map(e => [e.getBoundingClientRect().height, e.outerHTML.slice(0, 120)])
            .filter(([height]) => height < least - 0.5)""",
        [MAIN_CONTROLS, LEAST_MAIN_PX],
    )
    assert small == []


ZOOMED = (320, 256)
"""A window of 1280 by 1024 pixels at 400 %: reflow of WCAG 2.2, 1.4.10."""
_CUT = """() => {
  const seen = e => e.checkVisibility({visibilityProperty: true}) && !e.closest('.unseen, .skip');
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange(), cut = [];
  while (walk.nextNode()) {
    const text = walk.currentNode;
    let on = text.parentElement;
    if (!text.data.trim() || on.closest('script, noscript, option') || !seen(on)) continue;
    range.selectNodeContents(text);
    const boxes = [...range.getClientRects()].filter(box => box.width > 1);
    let [left, right] = [0, innerWidth], scrolls = false;
    for (; on && on !== document.body; on = on.parentElement) {
      const kind = getComputedStyle(on).overflowX;
      if (kind === 'auto' || kind === 'scroll') scrolls = true;
      if (kind === 'visible' || scrolls) continue;
      const box = on.getBoundingClientRect();
      [left, right] = [Math.max(left, box.left), Math.min(right, box.right)];
    }
    if (!scrolls && boxes.some(box => box.left < left - 1 || box.right > right + 1))
      cut.push(text.data.trim().slice(0, 80));
  }
  return cut;
}"""
"""Texts that reach beyond the window, or what clips them, and cannot be scrolled to."""
_COVERS = """() => [...document.querySelectorAll('body *')].flatMap(e => {
  const s = getComputedStyle(e), box = e.getBoundingClientRect();
  if (!['sticky', 'fixed'].includes(s.position) || !e.checkVisibility()) return [];
  const isSide = s.top === 'auto' && s.bottom === 'auto', frame = isSide && e.closest('.wide');
  if (frame && frame.scrollWidth <= frame.clientWidth) return [];
  const share = frame ? box.width / frame.clientWidth : box.height / innerHeight;
  return share > 0.5 ? [`${e.localName}.${e.className}: ${share.toFixed(2)}`] : [];
})"""
"""What stays in place while the page scrolls, and takes more than half of the window."""


def test_page_can_be_read_at_four_times_its_size(opened: Page) -> None:
    """At 400 % in a window of 1280 by 1024 pixels no page scrolls sideways, no text is cut off but
    in a table's own box, where it can be scrolled to, and nothing that stays in place covers more
    than half of the window."""
    width, height = ZOOMED
    opened.set_viewport_size({"width": width, "height": height})
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.evaluate(_CUT) == []
    assert opened.evaluate(_COVERS) == []


def test_text_that_is_cut_off_is_found(page: Page) -> None:
    """A word that runs out of the window, one that is clipped, and a bar that stays over the text
    are named; a word in a box that scrolls is not."""
    width, height = ZOOMED
    page.set_viewport_size({"width": width, "height": height})
    page.goto(f"{DEMO}/counts")
    page.evaluate(
        """() => {
          const long = 'word'.repeat(40), add = (html, style, inner) => {
            const box = document.createElement('div');
            box.innerHTML = html;
            box.style.cssText = style;
            if (inner) box.firstElementChild.style.cssText = inner;
            document.querySelector('main').append(box);
          };
          add(`<b>out${long}</b>`, '');
          add(`<b>clip${long}</b>`, 'overflow: hidden');
          add(`<b>scroll${long}</b>`, 'overflow-x: auto');
          add('<b>bar</b>', 'position: sticky; bottom: 0; height: 140px');
        }"""
    )
    assert [text[:4] for text in page.evaluate(_CUT)] == ["outw", "clip"]
    (bar,) = page.evaluate(_COVERS)
    assert bar.startswith("div.: 0.5")


def test_one_faint_element_of_many_is_found(page: Page) -> None:
    """Among hundreds of cells that look the same and were judged before, one whose ink, whose
    ground or whose row is faint is named, or whose ink is so on a phone or in the dark alone, and
    so is a control that lost its name."""
    page.goto(PEAK)
    open_all(page)
    judged = set[str]()
    assert faults_of(page, judged) == []
    page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    planted = page.evaluate(
        """() => {
          const cells = [...document.querySelectorAll('table.compare td, table.compare td *')]
            .filter(e => e.checkVisibility() && e.textContent.trim() && !e.childElementCount);
          const [ink, ground, row] = [0.5, 0.7, 0.9].map(
            at => cells[Math.floor(at * cells.length)]);
          const plant = (e, id, style) => { e.id = id; e.style.cssText += style; };
          plant(ink, 'faint-ink', ';color: #b0b0b0');
          plant(ground, 'faint-ground', ';background: #505050');
          plant(row, 'faint-row', '');
          plant(document.querySelector('h1'), 'faint-phone', '');
          plant(document.querySelector('p.answer'), 'faint-dark', '');
          for (const rule of [
            '@media (max-width: 42rem) { #faint-phone { color: #b0b0b0 !important; } }',
            '@media (prefers-color-scheme: dark) { #faint-dark { color: #505050 !important; } }',
          ]) document.styleSheets[0].insertRule(rule, document.styleSheets[0].cssRules.length);
          row.closest('tr').style.opacity = '0.3';
          [...document.querySelectorAll('.field label[for]')]
            .find(e => e.checkVisibility()).remove();
          return cells.length;
        }"""
    )
    assert planted > 20
    found = faults_of(page, judged)
    for name in ("#faint-ink", "#faint-ground", "#faint-row", "label: "):
        assert any(name in fault for fault in found), found
    for name, where in (
        ("#faint-phone", {"390 px, light"}),
        ("#faint-dark", {"1280 px, dark", "390 px, dark"}),
    ):
        assert {fault.partition(":")[0] for fault in found if name in fault} == where, found


def test_of_what_is_left_out_nothing_can_be_said(page: Page) -> None:
    """On a page with charts and controls: axe neither faults nor passes any look that is not asked
    for, at either width."""
    page.goto(PEAK)
    open_all(page)
    page.evaluate(Axe().axe_script)
    for width, height in (WIDE, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        looks = page.evaluate(_LOOKS, True)
        assert {look.partition(" ")[0] for look in looks} >= {"text", "span", "input", "a"}
        assert page.evaluate(_COLOURS_OF_LOOKS, [looks, OF_COLOURS]) == [[], []]


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
