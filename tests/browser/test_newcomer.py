"""A newcomer's way through the demo: to a finished plan, its change, bad input, no script."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from app.answers import planning
from app.answers.studies.stages import PARTS, starts_of
from sim.decide.answer import Comparison
from tests.browser.pages import EMPTY, open_all, unfold, upload
from tests.browser.served import DEMO, PEAK, Served

TABLE = "table.compare >> nth=0"


def _heads(page: Page) -> list[str]:
    """Names of the columns of the comparison."""
    heads = page.locator(TABLE).locator("thead th").all_inner_texts()
    return [head.strip().splitlines()[0] for head in heads[1:]]


def _compute(page: Page) -> None:
    """Computes the plan; the page that waits for it asks again by itself."""
    page.get_by_role("button", name="Compute").last.click()
    expect(page.locator("h1")).to_have_text("Plan a day")
    expect(page.get_by_role("progressbar")).to_have_count(0)
    expect(page.locator(TABLE)).to_be_visible()


def test_one_click_from_the_address_to_the_answer(page: Page) -> None:
    """From the bare address one click shows the next busy day's finished plan, with everything.

    The sentence comes first, then a table of three columns, four charts with what is seen in
    them, and a figure is explained where it stands.
    """
    page.goto("/")
    expect(page).to_have_url(re.compile(f"{DEMO}/today$"))
    expect(page.locator(".answer")).to_contain_text(re.compile(r"About \d+ cars today"))
    page.get_by_role("link", name="Saturday 18 July", exact=True).first.click()
    expect(page).to_have_url(re.compile(f"{PEAK}$"))
    answer = page.locator(".answer").inner_text()
    assert re.search(r"^(Reduce|Stay|Wipe)", answer), answer
    assert "1 car in" in answer.replace("\u00a0", " ")
    assert _heads(page) == ["Always full", "Always reduced", "Reduced 10:00–17:00"]
    table, charts = page.locator(TABLE), page.locator("svg.chart")
    labels = table.locator("tbody th[scope=row]").all_inner_texts()
    for label in ("Cars washed", "Cars lost", "Leaving damp", "Highest saturation", "Margin"):
        assert any(text.startswith(label) for text in labels), label
    words = table.locator("tbody tr", has_text="Leaving damp").locator(".w").all_inner_texts()
    assert words == ["clearly better", "clearly better"]
    expect(charts).to_have_count(4)
    unfold(page, "Hour by hour")
    for says in page.locator("figcaption span:visible").all_inner_texts():
        assert says.endswith(".")
    order = page.evaluate(
        """[...document.querySelectorAll('.answer, table.compare, svg.chart')]
           .map(e => e.getBoundingClientRect().top)"""
    )
    assert order[0] < order[1] < order[-1]
    table.get_by_role("button", name="Leaving damp").click()
    expect(page.locator(":popover-open")).to_contain_text("What moves it:")


def test_scenario_is_added_renamed_changed_and_removed(page: Page, own: Served) -> None:
    """Add, rename, another rule, Compute: the new column is there; Remove takes it away again."""
    page.goto(PEAK)
    page.get_by_role("link", name="Change the plan").click()
    page.get_by_role("button", name="Remove Always reduced").click()
    expect(page.locator("fieldset.scenario")).to_have_count(2)
    expect(page.locator(".answer")).to_have_text("Not computed yet.")
    page.get_by_role("button", name="Add a scenario").click()
    third = page.locator("#scenario-3")
    third.get_by_label("Name", exact=True).fill("By saturation")
    third.get_by_label("Wiping rule").select_option("band")
    expect(third.get_by_label("Reduced within")).to_be_hidden()
    third.get_by_label("Reduce at").fill("45")
    third.get_by_label("Back to full at").fill("35")
    page.get_by_label("What you expect instead").fill("95 °F, 75 %, -40 %")
    _compute(page)
    assert _heads(page) == ["Always full", "Reduced 10:00–17:00", "By saturation"]
    expect(page.locator(".part.open header")).to_contain_text("95\u00a0°F at most")
    expect(page.locator("main")).to_contain_text("75\u00a0%")
    expect(page.locator("main")).to_contain_text("−40 % cars")

    page.reload()
    unfold(page, "The plan")
    third = page.locator("#scenario-3")
    expect(third.get_by_label("Reduce at")).to_have_value("45")
    expect(page.get_by_label("What you expect instead")).to_have_value("95 °F, 75 %, -40 %")
    page.get_by_role("button", name="Remove By saturation").click()
    page.get_by_role("button", name="Remove Reduced 10:00–17:00").click()
    expect(page.get_by_role("button", name="Remove")).to_have_count(0)
    _compute(page)
    assert _heads(page) == ["Always full"]


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_all_of_it_works_without_script(page: Page, own: Served) -> None:
    """Without script a day is chosen, planned, waited for, read as a table, and data are stored."""
    page.goto("/")
    page.get_by_role("link", name="Any other day").click()
    unfold(page, "Worth a look")
    page.get_by_role("link", name="Tuesday 19 January 2027").click()
    expect(page.locator(TABLE)).to_be_visible()
    assert len(_heads(page)) == 3
    unfold(page, "Hour by hour")
    page.get_by_text("The same figures as tables").click()
    expect(page.get_by_role("region", name=re.compile("^Figures of the chart"))).to_have_count(4)
    titles = page.locator("svg.chart").first.locator(".hour title").all_text_contents()
    assert titles[0].startswith("7:00–8:00\n")

    unfold(page, "The plan")
    page.get_by_role("button", name="Add a scenario").click()
    page.get_by_role("button", name="Remove Always reduced").click()
    _compute(page)
    assert _heads(page) == ["Always full", "Reduced 10:00–17:00", "Reduced in a window"]

    page.goto(f"{EMPTY}/counts")
    upload(page, "counts.csv", "date,hour,cars_arrived\n2026-06-01,7,23\n2026-06-01,8,41\n")
    page.get_by_role("button", name="Store 2 hours of cars arrived").click()
    expect(page.locator(".answer")).to_have_text("64 cars arrived on 1 day.")
    page.goto(f"{EMPTY}/site")
    page.get_by_label("Conveyor speed", exact=True).fill("55 ft/min")
    page.get_by_role("button", name="Store Hours and belt").click()
    expect(page.locator(".done")).to_be_visible()
    expect(page.get_by_label("Conveyor speed", exact=True)).to_have_value("55")


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_waiting_page_shows_the_answer_by_itself(
    page: Page, own: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a plan is worked out its page says how far it is, and then turns into the answer."""
    may_go_on = threading.Event()
    quick = planning.compare_in_stages

    def held_up(question: Any, *given: Any) -> Iterator[Comparison]:
        given[-1](3, 256)
        assert may_go_on.wait(60)
        yield from quick(replace(question, replications=32), *given)

    monkeypatch.setattr(planning, "compare_in_stages", held_up)
    try:
        page.goto(f"{DEMO}/plan/2027-01-19")
        expect(page.get_by_role("status")).to_have_text(
            "Working it out. 1 of 2: a first answer from few days."
        )
        done = int(3 / 256 * starts_of(planning.PLAN.stages)[1] * PARTS)
        expect(page.get_by_role("progressbar")).to_have_attribute("value", f"{done}")
        expect(page.get_by_role("button", name="Compute")).to_have_count(0)
    finally:
        may_go_on.set()
    expect(page.locator(TABLE)).to_be_visible()


# ---- bad input ----------------------------------------------------------------------------------


def _refused(page: Page, label: str, typed: str, says: str) -> None:
    """The field keeps what was typed, is marked, and its own message is in the list on top too."""
    field = page.get_by_label(label, exact=True).first
    expect(field).to_have_value(typed)
    expect(field).to_have_attribute("aria-invalid", "true")
    described = (field.get_attribute("aria-describedby") or "").split()
    message = page.locator(f"[id='{described[-1]}']")
    expect(message).to_contain_text(says)
    expect(message).to_be_visible()
    words = message.inner_text()
    link = page.get_by_role("alert").get_by_role("link", name=words, exact=True)
    link.click()
    expect(field).to_be_in_viewport()
    expect(message).to_be_in_viewport()


def test_bad_plan_is_told_beside_its_fields(page: Page) -> None:
    """Five faults of a plan are told at once, each beside its field; nothing typed is lost."""
    page.goto(PEAK)
    open_all(page)
    page.get_by_label("What you expect instead").fill("warmish")
    first, third = page.locator("#scenario-1"), page.locator("#scenario-3")
    first.get_by_label("Car spacing").fill("1 ft")
    first.get_by_label("Dry set put on").fill("noon")
    third.get_by_label("Reduced within").fill("17:00-10:00")
    third.get_by_label("Other inputs by name").fill("wheel_colour = 3")
    page.get_by_role("button", name="Compute").last.click()
    _refused(page, "What you expect instead", "warmish", "warmish")
    _refused(page, "Car spacing, nose to nose", "1 ft", "13.1")
    _refused(page, "Dry set put on", "noon", "noon")
    expect(third.get_by_label("Reduced within")).to_have_value("17:00-10:00")
    expect(third.locator(".says").first).to_contain_text("17:00")
    expect(third.get_by_label("Other inputs by name")).to_have_value("wheel_colour = 3")
    expect(page.get_by_role("alert").get_by_role("listitem")).to_have_count(5)


def test_bad_site_entries_are_told_beside_their_fields(page: Page, own: Served) -> None:
    """A negative speed and a spacing shorter than a car are refused and kept as typed."""
    page.goto(f"{DEMO}/site")
    open_all(page)
    page.get_by_label("Conveyor speed", exact=True).fill("-5")
    page.get_by_label("Car spacing, nose to nose").fill("6")
    page.get_by_role("button", name="Store Hours and belt").click()
    _refused(page, "Conveyor speed", "-5", "9.84")
    _refused(page, "Car spacing, nose to nose", "6", "13.1")
    page.reload()
    page.goto(f"{DEMO}/site")
    open_all(page)
    expect(page.get_by_label("Conveyor speed", exact=True)).to_have_value("49.21")


def test_bad_date_and_bad_files_are_told(page: Page) -> None:
    """No file, a picture named .csv, a day that is no date: each is told where it stands."""
    page.goto(f"{EMPTY}/counts")
    page.get_by_role("button", name="Look at the file").click()
    expect(page.locator("#in-file-e")).to_contain_text("No file was chosen.")
    upload(page, "counts.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    expect(page.locator(".answer")).to_have_text("Nothing in this file can be used.")
    expect(page.locator("table.reasons")).to_contain_text("picture")
    page.goto(f"{EMPTY}/counts")
    unfold(page, "Days that stand out")
    page.get_by_label("Date").fill("Christmas")
    page.get_by_role("button", name="Store the day").click()
    _refused(page, "Date", "Christmas", "is not a date")
