"""What an hour of a chart says: on hover, by arrow keys and by touch, drawn by the one script."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.pages import unfold
from tests.browser.served import PEAK


def _hours(page: Page) -> tuple[Locator, Locator, list[str]]:
    """Damp cars' chart: the bars over its hours, what is said, and its table row by row."""
    page.goto(PEAK)
    unfold(page, "Hour by hour")
    figure = page.locator("figure", has_text="Damp at the wheel")
    table = page.get_by_role(
        "region", name="Figures of the chart: Damp at the wheel", include_hidden=True
    )
    return figure.locator(".hour"), figure.get_by_role("status"), _texts(table)


def _texts(table: Locator) -> list[str]:
    """What each hour should say, put together from the table beside the charts."""
    rows = table.locator("tr")
    starts = [head.text_content() or "" for head in rows.first.locator("th").all()[1:]]
    lines: list[list[str]] = [[] for _start in starts]
    for row in rows.all()[1:]:
        name = row.locator("th").text_content()
        for hour, cell in zip(lines, row.locator("td").all_text_contents(), strict=True):
            hour.append(f"{name}: {cell}")
    return ["\n".join(line) for line in lines]


def test_hovered_hour_says_what_the_table_says(page: Page) -> None:
    """The pointer over an hour shows its figures, those of the table; away from it they go."""
    hours, says, texts = _hours(page)
    assert hours.count() == len(texts)
    expect(says).to_have_count(0)
    for index in (0, 6, len(texts) - 1):
        hours.nth(index).hover()
        expect(says).to_be_visible()
        assert (says.text_content() or "").split("\n", 1)[1] == texts[index]
        box, view = says.bounding_box(), page.viewport_size
        assert box is not None
        assert view is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= view["width"]
    page.mouse.move(0, 0)
    expect(says).to_have_count(0)


def test_arrow_keys_walk_through_the_hours(page: Page) -> None:
    """With the chart in focus, arrows go from hour to hour, stop at the ends, Escape ends it."""
    hours, says, texts = _hours(page)
    chart = page.locator("figure", has_text="Damp at the wheel").locator("svg.chart")
    chart.focus()
    page.keyboard.press("ArrowRight")
    expect(says).to_contain_text(texts[0])
    page.keyboard.press("ArrowRight")
    expect(says).to_contain_text(texts[1])
    expect(hours.nth(1)).to_have_class("hour now")
    for _press in range(3):
        page.keyboard.press("ArrowLeft")
    expect(says).to_contain_text(texts[0])
    page.keyboard.press("Escape")
    expect(says).to_have_count(0)
    page.keyboard.press("ArrowRight")
    expect(says).to_contain_text(texts[0])
    page.keyboard.press("Tab")
    expect(says).to_have_count(0)


@pytest.mark.browser_context_args(
    has_touch=True, is_mobile=True, viewport={"width": 390, "height": 844}
)
def test_touched_hour_says_its_figures(page: Page) -> None:
    """A tap on an hour shows its figures, which stay and fit the phone; the next tap moves on."""
    hours, says, texts = _hours(page)
    for index in (2, 9):
        hours.nth(index).tap()
        expect(says).to_be_visible()
        assert (says.text_content() or "").split("\n", 1)[1] == texts[index]
        box = says.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 390
