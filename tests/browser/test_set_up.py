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
    page.get_by_text("Draw or type the hours instead").click()
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
    expect(part).to_have_count(1)
    look()
    page.get_by_role("link", name="Next: ").click()
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


def test_hours_are_drawn_by_finger_and_follow_what_is_typed(own: Served, page: Page) -> None:
    """A stroke over the hours writes them into the field, whose other numbers stay, and the day's
    cars above follow; a quick one leaves no hour out. What is typed is drawn again, and what is no
    list of numbers shows no drawing."""
    page.goto("/sites/new")
    page.get_by_text("Draw or type the hours instead").click()
    field = page.get_by_label("Usual day, cars by the hour")
    drawn = page.locator("[data-draws=in-usual_hours]")
    expect(drawn).to_be_hidden()
    field.fill(" ".join(["20"] * 12))
    expect(drawn).to_contain_text("240 cars in all.")
    bars = drawn.locator(".bar")
    expect(bars).to_have_count(12)
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    picture = drawn.locator("svg")
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    assert box is not None

    def over(hour: int) -> float:
        """The middle of an hour's bar across the page."""
        return box["x"] + box["width"] * (hour + 0.5) / 12

    floor = box["y"] + 120.0
    page.mouse.move(over(3), floor - 60.0)
    page.mouse.down()
    page.mouse.move(over(7), floor, steps=1)
    page.mouse.up()
    cells = [int(cell) for cell in field.input_value().split()]
    assert cells[:3] == [20] * 3
    assert cells[8:] == [20] * 4
    stroke = cells[3:8]
    assert stroke[-1] == 0
    assert all(abs(count - line) <= 1 for count, line in zip(stroke, (12, 9, 6, 3, 0), strict=True))
    expect(page.get_by_label("Cars on a usual day")).to_have_value(str(sum(cells)))
    field.fill("many cars")
    expect(drawn).to_be_hidden()
