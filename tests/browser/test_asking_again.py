"""A page that waits asks for its answer by itself, also where a link to a part of it was followed,
and without being loaded again."""

from __future__ import annotations

from datetime import date

import pytest
from playwright.sync_api import Page, expect

from app.answers.answer import Desk
from app.answers.serial import write
from app.answers.studies.runner import Progress
from app.answers.switching import SWITCH
from app.sites.reading import gate
from tests.browser.served import DEMO, Served
from tests.demo_app import small_switch
from tests.pages.switch_visitor import standing

DAY = date(2026, 7, 16)


@pytest.mark.parametrize("part", ["", "#day"])
def test_a_page_that_waits_asks_again(
    page: Page, own: Served, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    """Under way, the page is asked for again by itself, from its top and from any part of it."""
    runner = own.app.state.web.runner
    monkeypatch.setattr(runner, "standing", standing(Progress(1200, 52000)))
    address = f"{DEMO}/reduce/{DAY}"
    page.goto(f"{address}{part}")
    with page.expect_request(lambda request: request.url.endswith(address)):
        page.locator("progress").wait_for()


def test_the_answer_comes_without_loading_the_page_again(
    page: Page, own: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While it waits, progress moves on, the keyboard stays on “Stop computing” and nothing typed
    goes; the answer then stands in the same page, with its picture, above what was typed."""
    web = own.app.state.web
    monkeypatch.setattr(web.runner, "standing", standing(Progress(8, 64)))
    page.goto(f"{DEMO}/reduce/{DAY}")
    page.evaluate("window.isTheSame = true")
    page.locator("summary", has_text="Another day").click()
    typed = page.locator("#day [name=day]")
    typed.fill("2026-07-20")
    stop = page.get_by_role("button", name="Stop computing")
    stop.focus()
    monkeypatch.setattr(web.runner, "standing", standing(Progress(48, 64)))
    expect(page.locator("progress")).to_have_attribute("value", "48")
    expect(stop).to_be_focused()
    _store(own)
    monkeypatch.setattr(web.runner, "standing", standing())
    expect(page.locator("progress")).to_have_count(0)
    expect(page.locator("p.answer").first).not_to_contain_text("Working it out.")
    expect(page.locator("summary", has_text="What you want")).to_be_visible()
    expect(page.locator("svg.chart").first).to_be_visible()
    expect(typed).to_have_value("2026-07-20")
    assert page.evaluate("window.isTheSame")


def _store(own: Served) -> None:
    """The day's answer is worked out."""
    web = own.app.state.web
    stored = web.site_at(DEMO.strip("/"))
    with gate(web.database, web.now()) as writes:
        view = Desk(writes.session, stored).open(SWITCH, DAY)
        writes.store_result(view.key, stored.id, DAY, write(small_switch(view.asked)))
