"""A plan as a file, which is whole without a network, and as a link, which opens its state."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.pages import open_all, unfold
from tests.browser.served import PEAK, Served

CUT = """() => [...document.querySelectorAll("main *")].filter((one) => {
  const box = one.getBoundingClientRect();
  const inside = one.closest(".wide, svg, .unseen");
  return box.width && !inside && (box.right > innerWidth + 1 || box.left < -1);
}).map((one) => `${one.tagName} ${one.className} ${one.textContent.slice(0, 40)}`)"""
"""What of the page lies beside the window, but for tables that scroll by themselves."""


@pytest.fixture(scope="module")
def file(browser: Browser, shared: Served, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the demo's peak day, as a browser keeps it."""
    context = browser.new_context(base_url=shared.url, accept_downloads=True)
    page = context.new_page()
    page.goto(PEAK)
    unfold(page, "Send, copy, another day")
    with page.expect_download() as kept:
        page.get_by_role("link", name="Page to send, without a server").click()
    path = tmp_path_factory.mktemp("file") / kept.value.suggested_filename
    kept.value.save_as(path)
    context.close()
    return path


@pytest.mark.parametrize("width", [390, 1280])
def test_the_file_is_whole_without_a_network(
    browser: Browser, shared: Served, file: Path, width: int
) -> None:
    """At the width of a phone and of a desk the file shows answer, table and charts; it asks for
    nothing but itself, complains of nothing, and nothing of it lies beside the window."""
    assert file.name == "harbor-road-2026-07-18-plan.html"
    context: BrowserContext = browser.new_context(viewport={"width": width, "height": 900})
    context.set_offline(True)
    asked, said = list[str](), list[str]()
    context.on("request", lambda request: asked.append(request.url))
    context.on("console", lambda message: said.append(message.text))
    page: Page = context.new_page()
    page.goto(file.as_uri())
    expect(page.locator("p.answer b")).to_be_visible()
    expect(page.get_by_role("table", name="").first).to_be_visible()
    expect(page.locator("svg.chart")).not_to_have_count(0)
    served = browser.new_context(base_url=shared.url, viewport={"width": width, "height": 900})
    online = served.new_page()
    online.goto(PEAK)
    assert page.locator("p.answer").inner_text() == online.locator("p.answer").inner_text()
    for one in (page, online):
        open_all(one)
    cells = [one.locator(".compare td").all_inner_texts() for one in (page, online)]
    assert cells[0] == cells[1]
    served.close()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate(CUT) == []
    page.get_by_role("link", name="What it was made from").click()
    expect(page.locator("#made")).to_be_in_viewport()
    assert page.locator("script, link, img, iframe, form").count() == 0
    leads = page.eval_on_selector_all("a", "all => all.map((one) => one.getAttribute('href'))")
    assert leads
    for lead in leads:
        assert lead.startswith("#")
        assert page.locator(lead).count() == 1, lead
    assert asked == [file.as_uri()]
    assert said == []
    context.close()


def test_a_link_is_copied_and_opens_its_version(context: BrowserContext, page: Page) -> None:
    """Pressed, the link is on the clipboard, which the page says; opened by somebody else it shows
    the stored version."""
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.goto(PEAK)
    unfold(page, "Send, copy, another day")
    page.get_by_role("link", name="Copy link").click()
    expect(page.get_by_text("Link copied")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.endswith(f"{PEAK}/versions/1")
    page.goto(copied)
    expect(page.get_by_role("heading", name="Version 1")).to_be_visible()
    expect(page.get_by_text("This is the plan of the day as it holds now.")).to_be_visible()
    page.locator(".compare").first.get_by_role("link").last.click()
    expect(page.locator("#scenario-3")).to_be_in_viewport()


def test_a_link_leads_there_without_script(browser: Browser, shared: Served) -> None:
    """Without script the link opens the stored version, and the button of the form an address that
    opens the form as it stands."""
    context = browser.new_context(base_url=shared.url, java_script_enabled=False)
    page = context.new_page()
    page.goto(PEAK)
    unfold(page, "Send, copy, another day")
    page.get_by_role("link", name="Copy link").click()
    expect(page).to_have_url(f"{shared.url}{PEAK}/versions/1")
    page.goto(PEAK)
    unfold(page, "The plan")
    page.get_by_label("What you expect instead").fill("95 °F")
    page.get_by_role("button", name="Make a link of it").click()
    address = page.url
    assert "expect=95+%C2%B0F" in address
    page.goto(address)
    expect(page.get_by_label("What you expect instead")).to_have_value("95 °F")
    expect(page.get_by_text("This plan came with a link and is stored nowhere.")).to_be_visible()
    context.close()
