"""Try a change in a browser: figures follow a moved control, and late answers come to nothing."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, Request, Route, expect

from tests.browser.pages import unfold
from tests.browser.served import PEAK

FIGURES = re.compile(r"/change/figures\?")
CHARTS = re.compile(r"/change/charts\?")
SPEED = "Conveyor speed"


def speed_in(address: str) -> str:
    """The speed that an address asks about."""
    found = re.search(r"conveyor_speed_m_s=([^&]*)", address)
    return found.group(1) if found else ""


def open_plan(page: Page) -> tuple[Locator, Locator]:
    """The field and the slider of the belt's speed on the demo's peak day."""
    page.goto(PEAK)
    unfold(page, "Try a change")
    part = page.locator("#try")
    field, slider = (
        part.get_by_role("textbox", name=SPEED),
        part.get_by_role("slider", name=SPEED),
    )
    expect(slider).to_be_visible()
    return field, slider


def test_figures_and_charts_follow_a_moved_slider(page: Page) -> None:
    """Slider and number move together by keyboard, and the answer is of what they say."""
    field, slider = open_plan(page)
    slider.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(field).to_have_value(slider.input_value())
    speed = field.input_value()
    figures, charts = page.locator("#try-figures"), page.locator("#try-charts")
    expect(figures).to_contain_text(f"Conveyor speed {speed}\u00a0ft/min")
    expect(charts.locator("svg.chart")).to_have_count(4)
    expect(figures).not_to_have_attribute("aria-busy", "true")
    expect(page.locator("#try-says")).to_contain_text("A quick answer from 32 days")
    expect(slider).to_be_focused()
    expect(slider).to_have_attribute("aria-valuetext", f"{speed} ft/min")
    field.fill("55")
    expect(slider).to_have_value("55")
    expect(figures).to_contain_text("Conveyor speed 55\u00a0ft/min")
    expect(field).to_be_focused()
    # charts put in place later say their hours as all others do
    expect(charts).not_to_have_attribute("aria-busy", "true")
    charts.locator("svg.chart").first.focus()
    page.keyboard.press("ArrowRight")
    expect(charts.get_by_role("status")).to_contain_text("As changed: ")


def test_old_figures_are_dim_while_new_ones_are_on_the_way(page: Page) -> None:
    """From the move until the answer, figures and charts are marked busy and drawn dim."""
    field, _slider = open_plan(page)
    field.fill("55")
    figures, charts = page.locator("#try-figures"), page.locator("#try-charts")
    expect(charts.locator("svg.chart")).to_have_count(4)
    held: list[Route] = []
    page.route(FIGURES, lambda route: held.append(route))
    with page.expect_request(FIGURES):
        field.fill("57")
    for region in (figures, charts):
        expect(region).to_have_attribute("aria-busy", "true")
        expect(region).to_have_css("opacity", "0.4")
    expect(figures).to_contain_text("Conveyor speed 55")
    held[0].continue_()
    expect(figures).to_contain_text("Conveyor speed 57")
    for region in (figures, charts):
        expect(region).not_to_have_attribute("aria-busy", "true")
        expect(region).to_have_css("opacity", "1")


def test_a_late_answer_never_overwrites_a_newer_one(page: Page) -> None:
    """The first of two questions is answered last; what stands is the answer to the second."""
    field, _slider = open_plan(page)
    held: list[Route] = []

    def hold_first(route: Route) -> None:
        if speed_in(route.request.url) == "53":
            held.append(route)
        else:
            route.continue_()

    page.route(FIGURES, hold_first)
    with page.expect_request(lambda request: speed_in(request.url) == "53"):
        field.fill("53")
    figures = page.locator("#try-figures")
    field.fill("58")
    expect(figures).to_contain_text("Conveyor speed 58")
    expect(page.locator("#try-charts svg.chart")).to_have_count(4)
    assert len(held) == 1
    held[0].continue_()
    with page.expect_response(lambda answer: speed_in(answer.url) == "59" and answer.ok):
        field.fill("59")  # whatever came late has come by now
    expect(figures).to_contain_text("Conveyor speed 59")
    expect(figures).not_to_contain_text("Conveyor speed 53")


def test_an_answer_under_another_number_is_thrown_away(page: Page) -> None:
    """Even an answer that arrives in time is not drawn when it is that of another question."""
    field, _slider = open_plan(page)

    def renumber(route: Route) -> None:
        if speed_in(route.request.url) != "54":
            route.continue_()
            return
        answer = route.fetch()
        text = re.sub(r'data-n="\d+"', 'data-n="999"', answer.text())
        route.fulfill(response=answer, body=text)

    page.route(FIGURES, renumber)
    with page.expect_response(lambda answer: speed_in(answer.url) == "54"):
        field.fill("54")
    expect(page.locator("#try-figures table")).to_have_count(0)
    field.fill("56")
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 56")


def test_what_cannot_be_used_is_told_beside_the_field(page: Page) -> None:
    """The words stand beside the field that was typed in, which keeps text and focus."""
    field, _slider = open_plan(page)
    field.fill("500")
    says = page.locator('[id="in-scenario-tried.conveyor_speed_m_s-e"]')
    expect(says).to_contain_text("is outside what can be used")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_be_focused()
    expect(field).to_have_value("500")
    expect(page.locator("#try-says")).to_contain_text("can’t be tried as it stands")
    field.fill("55")
    expect(says).to_be_hidden()
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 55")


def test_a_timetable_moves_as_a_whole(page: Page) -> None:
    """The slider of a timetable takes from or adds to each of its rows, none below the least."""
    open_plan(page)
    part = page.locator("#try")
    field = part.get_by_role("textbox", name="Loaders")
    assert field.input_value() == "1; 10:00 2; 17:00 1"
    part.get_by_role("slider", name="Loaders").press("ArrowLeft")
    expect(field).to_have_value("1; 10:00 1; 17:00 1")
    part.get_by_role("slider", name="Loaders").press("ArrowRight")
    expect(field).to_have_value("1; 10:00 2; 17:00 1")
    expect(page.locator("#try-says")).to_contain_text("Nothing is changed yet.")


def test_a_change_is_added_to_what_stands_in_the_plan(page: Page) -> None:
    """Add as a scenario keeps what was typed in the plan's form and not stored yet."""
    field, _slider = open_plan(page)
    unfold(page, "The plan")
    page.locator("#plan-form").get_by_label("What you expect instead").fill("90 °F")
    field.fill("55")
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 55")
    page.get_by_role("button", name="Add as a scenario").click()
    expect(page.locator("fieldset.scenario")).to_have_count(4)
    added = page.locator("#scenario-4")
    expect(added.get_by_label("Name", exact=True)).to_have_value("Always full, 55\u00a0ft/min")
    expect(page.get_by_label("What you expect instead")).to_have_value("90 °F")


def test_a_lost_connection_is_said(page: Page) -> None:
    """Where no answer comes, the sentence says so and the next move asks anew."""
    field, _slider = open_plan(page)

    def lose_one(route: Route) -> None:
        if speed_in(route.request.url) == "55":
            route.fulfill(status=404, body="")
        else:
            route.continue_()

    page.route(FIGURES, lose_one)
    field.fill("55")
    expect(page.locator("#try-says")).to_contain_text("No answer came.")
    field.fill("56")
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 56")


def test_the_first_scenario_is_computed_before_anything_is_moved(page: Page) -> None:
    """What every change is compared with is asked for once the part comes into view."""
    page.goto(PEAK)
    with page.expect_request(FIGURES) as asked:
        unfold(page, "Try a change")
    request: Request = asked.value
    assert "n=0" in request.url
    expect(page.locator("#try-says")).to_contain_text("Nothing is changed yet.")


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_without_script_the_button_brings_the_whole_answer(page: Page) -> None:
    """No slider is offered that would do nothing; the button answers on the page itself."""
    page.goto(PEAK)
    unfold(page, "Try a change")
    part = page.locator("#try")
    expect(part.get_by_role("slider")).to_have_count(0)
    part.get_by_role("textbox", name=SPEED).fill("55")
    part.get_by_role("button", name="Try it").click()
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 55")
    expect(page.locator("#try-charts svg.chart")).to_have_count(4)
    expect(page.locator("#try").get_by_role("textbox", name=SPEED)).to_have_value("55")


@pytest.mark.browser_context_args(
    has_touch=True, is_mobile=True, viewport={"width": 390, "height": 844}
)
def test_on_a_phone_the_sentence_stays_in_sight(page: Page) -> None:
    """While fields are moved the answer's sentence is on the screen, and nothing runs off it."""
    field, _slider = open_plan(page)
    field.fill("55")
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 55")
    field.scroll_into_view_if_needed()
    expect(page.locator("#try-says")).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_printed_plan_has_no_change_in_it(page: Page) -> None:
    """Try a change is for the screen."""
    field, _slider = open_plan(page)
    field.fill("55")
    expect(page.locator("#try-figures")).to_contain_text("Conveyor speed 55")
    page.emulate_media(media="print")
    expect(page.locator("#try")).to_be_hidden()
