"""A crew with a phone in one hand: a day's log, tap by tap; sizes and contrast as the browser has
them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

import pytest
from playwright.sync_api import Locator, Page, expect

from app.sites.reading import log_of
from sim.inputs import LogEntry
from tests.browser.pages import EMPTY, open_all
from tests.browser.served import DEMO, TODAY, Served

WIDE, HIGH = 390, 844
LOGBOOK = f"{EMPTY}/logbook"
MOST_TAPS, MOST_S = 3, 9.0
LEAST_PX, LEAST_CONTRAST = 48.0, 7.0
THINK_S, POINT_S, KEY_S = 1.35, 1.2, 0.28
"""Times of the keystroke-level model: to make up one's mind, to point and press, and to type a
letter (Card, Moran and Newell 1980, Communications of the ACM 23(7), 396–410; from memory)."""


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    phone = {"viewport": {"width": WIDE, "height": HIGH}, "has_touch": True}
    return {**browser_context_args, **phone}


@dataclass
class Thumb:
    """One thumb on a page: what it taps and types, and the size of what it taps."""

    page: Page
    taps: int = 0
    letters: int = 0
    small: list[str] = field(default_factory=list)

    def tap(self, target: Locator) -> None:
        """Taps something that is there."""
        box = target.bounding_box()
        assert box is not None
        if min(box["width"], box["height"]) < LEAST_PX - 0.5:
            self.small.append(f"{target}: {box['width']} by {box['height']} px")
        target.tap()
        self.taps += 1

    def type(self, text: str) -> None:
        """Types where the keyboard is, which no tap of its own has put there."""
        expect(self.page.locator(":focus")).to_have_count(1)
        focused = self.page.locator(":focus")
        self.page.keyboard.type(text)
        expect(focused).to_have_value(text)
        self.letters += len(text)

    def enter(self) -> None:
        """Presses the Enter key of the keyboard, which sends the form by its first button."""
        self.page.keyboard.press("Enter")
        self.letters += 1

    def opens(self, kind: str, rarer: bool = False) -> Locator:
        """Opens a kind of entry."""
        if rarer:
            self.tap(self.page.locator("details.more > summary"))
        self.tap(self.page.locator(f"#kind-{kind} > summary"))
        return self.page.locator(f"#kind-{kind}")

    @property
    def seconds(self) -> float:
        """How long it takes by the keystroke-level model, the answer of the program left out."""
        return self.taps * (THINK_S + POINT_S) + self.letters * KEY_S


Act = Callable[[Thumb], None]


def number(kind: str, text: str, rarer: bool = False) -> Act:
    """A number or a text, typed and stored."""

    def act(thumb: Thumb) -> None:
        part = thumb.opens(kind, rarer)
        thumb.type(text)
        thumb.tap(part.get_by_role("button", name="Store").first)

    return act


def typed(kind: str, text: str, rarer: bool = False) -> Act:
    """A text, typed and sent by the keyboard's own key."""

    def act(thumb: Thumb) -> None:
        thumb.opens(kind, rarer)
        thumb.type(text)
        thumb.enter()

    return act


def button(kind: str, words: str, rarer: bool = False, typed: str = "") -> Act:
    """A button of a kind, after what is typed, if anything."""

    def act(thumb: Thumb) -> None:
        part = thumb.opens(kind, rarer)
        if typed:
            thumb.type(typed)
        thumb.tap(part.get_by_role("button", name=words).first)

    return act


def switch(words: str) -> Act:
    """The one press of a switch."""

    def act(thumb: Thumb) -> None:
        thumb.tap(thumb.page.get_by_role("button", name=f"We have switched to {words}"))

    return act


CHECKED = ("Lenses of the sensors", "Fault lights", "Self-test", "Wheel runs free", "Guards")
DAY_OF_SIXTY: list[tuple[str, Act]] = [
    *(("check", button("check", name, rarer=True)) for name in CHECKED),
    ("somebody", button("somebody", "Came", rarer=True, typed="Ben")),
    ("weather", typed("weather", "88, 70%", rarer=True)),
    *(("cars", number("cars", str(31 * n))) for n in range(1, 13)),
    *(("hour", number("hour", str(60 + n), rarer=True)) for n in range(7)),
    ("wait", button("wait", "10", rarer=True)),
    *(("damp", button("damp", str(n % 6))) for n in range(10)),
    ("wiping", switch("reduced")),
    ("wiping", switch("full")),
    ("wiping", switch("reduced")),
    ("wiping", switch("full")),
    ("stop", typed("stop", "crosswise")),
    *(("stop", button("stop", "crosswise")) for _ in range(4)),
    *(("turned", button("turned", str(1 + n % 5))) for n in range(6)),
    ("strip", number("strip", "7.5", rarer=True)),
    ("strip", number("strip", "8.1", rarer=True)),
    ("alarm", number("alarm", "E17", rarer=True)),
    ("device", button("device", "blower", rarer=True)),
    ("claim", typed("claim", "antenna", rarer=True)),
    ("set", number("set", "B", rarer=True)),
    ("note", typed("note", "new soap", rarer=True)),
    ("somebody", button("somebody", "Left", rarer=True, typed="Ben")),
]


def stored(served: Served) -> tuple[LogEntry, ...]:
    """The entries of today, in order."""
    web = served.app.state.web
    return log_of(web.database, web.site_at(EMPTY[1:]).id, TODAY)


def test_a_day_of_sixty_entries_with_one_thumb(
    own: Served, page: Page, record_figure: Callable[..., None]
) -> None:
    """Each entry takes three taps at most, of targets of 48 px or more, and nine seconds at most by
    the keystroke-level model, before the program answers, which hangs on the machine and is only
    recorded; nothing scrolls sideways, and all sixty are stored."""
    assert len(DAY_OF_SIXTY) == 60
    thumbs, answers = list[Thumb](), list[float]()
    page.goto(LOGBOOK)
    for kind, act in DAY_OF_SIXTY:
        thumb = Thumb(page)
        with page.expect_navigation():
            act(thumb)
        expect(page.get_by_role("status").first).to_contain_text("Stored:")
        answer_s = page.evaluate("performance.getEntriesByType('navigation')[0].duration") / 1000
        assert thumb.taps <= MOST_TAPS, kind
        assert thumb.small == [], kind
        assert thumb.seconds <= MOST_S, kind
        thumbs.append(thumb)
        answers.append(answer_s)
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    kinds = sorted(kind for kind, _act in DAY_OF_SIXTY)
    assert sorted(entry.kind for entry in stored(own)) == kinds
    record_figure("taps of 60 entries", sum(one.taps for one in thumbs))
    record_figure("seconds of 60 entries", sum(one.seconds for one in thumbs), "s")
    record_figure("longest entry", max(one.seconds for one in thumbs), "s")
    record_figure("median answer", sorted(answers)[30], "s")


_FAINT = """least => {
  const parts = text => text.match(/[0-9.]+/g).map(Number);
  const light = rgb => rgb.slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = e => {
    for (; e; e = e.parentElement) {
      const seen = parts(getComputedStyle(e).backgroundColor);
      if (seen.length < 4 || seen[3] > 0) return seen;
    }
    return [255, 255, 255];
  };
  const walk = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
  const found = [];
  let count = 0;
  while (walk.nextNode()) {
    const on = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !on.checkVisibility() || on.closest('.unseen')) continue;
    count += 1;
    const [a, b] = [light(parts(getComputedStyle(on).color)), light(ground(on))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < least) found.push(`${walk.currentNode.data.trim()}: ${ratio.toFixed(2)}`);
  }
  return [count, found];
}"""
_SMALL = """least => [...document.querySelectorAll(
    'main :is(a, button, summary, input, select, textarea)')]
  .filter(e => e.type !== 'hidden' && e.checkVisibility() && !e.matches('.unseen'))
  .map(e => [e.getBoundingClientRect(), e.outerHTML.slice(0, 120)])
  .filter(([box]) => Math.min(box.width, box.height) < least - 0.5)
  .map(([box, text]) => `${box.width} by ${box.height}: ${text}`)"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    "address", ["logbook", "logbook/2026-07-11", "logbook?kind=device", "checks", "down"]
)
def test_it_is_read_in_the_sun_and_hit_with_wet_hands(
    page: Page, address: str, scheme: Literal["light", "dark"]
) -> None:
    """With everything on it opened, every text of the page has 7:1 or more against what it stands
    on (WCAG 2.2, 1.4.6 without its exception for large text), and every control is 48 px or more
    both ways."""
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{DEMO}/{address}")
    page.evaluate("document.querySelectorAll('details').forEach(d => d.removeAttribute('name'))")
    open_all(page)
    count, faint = page.evaluate(_FAINT, LEAST_CONTRAST)
    assert count > 20
    assert faint == []
    assert page.evaluate(_SMALL, LEAST_PX) == []
    page.evaluate("document.querySelector('.answer').style.color = '#777'")
    assert len(page.evaluate(_FAINT, LEAST_CONTRAST)[1]) >= 1


def test_the_opening_check_is_three_screens_of_a_phone(own: Served, page: Page) -> None:
    """All eight due: each fine at one tap, or the rest at one after looking, on a page of three
    screens of a phone at most; what is not fine opens in place."""
    page.goto(f"{EMPTY}/checks")
    rows = page.locator("#opening > [data-check]")
    expect(rows).to_have_count(8)
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * HIGH
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    thumb = Thumb(page)
    for _check in range(3):
        with page.expect_navigation():
            thumb.tap(rows.first.get_by_role("button", name="Fine").first)
        expect(page.locator("#opening .done")).to_be_in_viewport()
    thumb.tap(rows.last.locator("summary").first)
    thumb.type("shows 0.2")
    with page.expect_navigation():
        thumb.tap(rows.last.get_by_role("button", name="Not fine"))
    with page.expect_navigation():
        thumb.tap(page.get_by_role("button", name="The rest is fine"))
    assert thumb.taps == 6
    assert thumb.small == []
    expect(page.locator(".answer")).to_contain_text("Not fine: Scale.")
    words = [(entry.name, entry.word) for entry in stored(own) if entry.kind == "check"]
    assert len(words) == 8
    assert [name for name, word in words if word != "fine"] == ["Scale"]


def test_undo_goes_after_its_minute(own: Served, page: Page) -> None:
    """Till then a press takes the entry back; the clock of the browser is moved on."""
    page.clock.install()
    page.goto(LOGBOOK)
    thumb = Thumb(page)
    number("cars", "212")(thumb)
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_be_visible()
    page.clock.run_for(61_000)
    expect(undo).to_be_hidden()
    page.reload()
    page.get_by_role("button", name="Undo").tap()
    expect(page.get_by_role("status").first).to_contain_text("Taken back: 212 cars so far.")
    assert [e.struck for e in stored(own)] == ["yes"]


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_it_works_without_script(own: Served, page: Page) -> None:
    """A kind opens, a number is typed, an entry is stored, corrected and taken back."""
    page.goto(LOGBOOK)
    page.locator("#kind-cars > summary").tap()
    page.locator("#in-cars-count").fill("212")
    page.locator("#kind-cars").get_by_role("button", name="Store").tap()
    expect(page.get_by_role("status").first).to_contain_text("Stored: 212 cars so far.")
    page.locator(".logged > summary").first.tap()
    page.get_by_role("link", name="Correct").tap()
    page.locator("#in-whole-count").fill("221")
    page.locator("#whole").get_by_role("button", name="Store").tap()
    expect(page.locator(".logged").first).to_contain_text("221 cars so far. Corrected.")
    assert [e.count for e in stored(own)] == [221]
