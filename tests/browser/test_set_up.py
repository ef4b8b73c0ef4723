"""A manager with a phone: from an empty installation to a plan of one's own, without a file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from app.answers import planning
from sim.decide.compare import compare_in_stages
from tests.browser.served import Served, serve
from tests.demo_app import plan_few_days

WIDE, HIGH = 390, 844
MOST_FIELDS, MOST_PAGES, MOST_SCREENS = 25, 4, 4
DRAWN_DAYS = 256
"""Simulated days of a plan that says how firm it is: the fewest at drawn sites."""
WORKED_OUT_MS = 400_000
"""How long the strip and the plan with it may take to be worked out on a busy machine."""
USUAL = "8 10 14 18 22 24 26 26 24 20 16 12 6"
BUSY = "14 22 34 48 58 62 64 60 54 44 34 22 12"
ACTS = "main a.button:visible, main button:visible"


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """An empty installation."""
    with serve(tmp_path) as served:
        yield served


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone."""
    return {**browser_context_args, "viewport": {"width": WIDE, "height": HIGH}}


def test_from_nothing_to_a_plan_and_to_how_sure_it_is(
    own: Served, page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Typed hours become a day's plan in few fields and pages; wheel and a weighed strip follow,
    and the plan says whether it is firm. No page on the way is without a next act, none is wider
    than the phone, and the Site page then finds any input by two words of it."""
    monkeypatch.setattr(planning, "compare_in_stages", compare_in_stages)
    plan_few_days(monkeypatch, DRAWN_DAYS)
    fields, seen = 0, list[str]()

    def look() -> None:
        """Counts the page, and what can be typed or chosen on it."""
        nonlocal fields
        seen.append(page.url)
        fields += page.locator(
            "main input:visible:not([type=hidden]):not([type=checkbox]), main select:visible"
        ).count()
        assert page.locator(ACTS).count() > 0
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDE

    page.goto("/")
    expect(page.get_by_role("button", name="Look at the demo")).to_be_visible()
    look()
    page.get_by_role("link", name="Set up my site").click()
    page.get_by_label("Name of the site").fill("Elm Street")
    page.get_by_text("Type the hours instead").click()
    page.get_by_label("Usual day, cars by the hour").fill(USUAL)
    page.get_by_label("Busy day, cars by the hour").fill(BUSY)
    look()
    page.get_by_role("button", name="Store, and plan a busy day").click()
    step = page.get_by_role("link", name="Step 2 of 3: wheel, cloth and exit")
    expect(step).to_be_visible()
    assert fields <= MOST_FIELDS
    look()
    expect(page.get_by_role("region", name="Scenarios side by side")).to_be_visible()
    assert len(set(seen)) <= MOST_PAGES
    day = page.url
    expect(page.locator("main")).to_contain_text("About 530 cars")

    step.click()
    page.get_by_label("Strips on the wheel").fill("180")
    look()
    page.get_by_role("button", name="Store, then the measurements").click()
    part = page.locator("#soaked")
    expect(part).to_be_visible()
    look()
    if not part.locator("details").evaluate("e => e.open"):
        part.locator("summary").click()
    for name, text in {"day": "2026-07-01", "weight_kg": "312 g", "dry_kg": "100 g"}.items():
        part.locator(f"#in-soaked-{name}").fill(text)
    part.get_by_role("button", name="Store").click()
    expect(page.get_by_role("status").first).to_have_text("Stored.")
    expect(page.get_by_role("link", name=re.compile("^When to reduce on"))).to_be_visible()
    look()
    page.goto(day)
    firm = re.compile(r"(Firm|Not firm)\b.* of 20 sites")
    expect(page.locator("main")).to_contain_text(firm, timeout=WORKED_OUT_MS)

    page.goto("/elm-street/site")
    find = page.get_by_label("Find an input")
    find.wait_for()
    folded = page.evaluate("document.documentElement.scrollHeight")
    assert folded <= MOST_SCREENS * HIGH
    mass = page.get_by_label("Dry mass of one strip")
    expect(mass).to_be_hidden()
    find.fill("strip mass")
    expect(mass).to_be_visible()
    expect(page.locator("#found")).to_have_text(re.compile(r"Found: \d\."))
    find.press("Enter")
    expect(page.locator(".field input:focus")).to_be_visible()
    find.fill("no such words")
    expect(page.locator("#found")).to_have_text("No input has these words.")
    find.press("Escape")
    expect(mass).to_be_hidden()
    page.goto("/elm-street/site#in-strip_count")
    expect(page.get_by_label("Strips on the wheel")).to_be_in_viewport()
