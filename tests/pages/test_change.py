"""Try a change: its parts, its button without script, what is refused, what the plan takes over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.answers import planning
from app.answers.answer import Desk
from app.answers.planning import PLAN
from app.answers.serial import write
from app.sites.reading import gate
from sim.decide.compare import compare
from sim.inputs import Scenario
from tests.demo_app import app_of
from tests.pages.pages import Page, page_of, small_client
from tests.small_wash import CLOSED, PLANNED, small_wash

SLUG = "small-wash"
PLAN_PAGE = f"/{SLUG}/plan/{PLANNED.isoformat()}"
FIGURES, CHARTS = f"{PLAN_PAGE}/change/figures", f"{PLAN_PAGE}/change/charts"
SPEED = "scenario-tried.conveyor_speed_m_s"
FASTER = {SPEED: "58"}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on a small wash whose day has been computed, of few simulated days."""
    folder = tmp_path_factory.mktemp("change")
    with small_client(folder, small_wash()) as browser:
        compute(browser)
        yield browser


def compute(browser: TestClient) -> None:
    """Computes and stores the plan of the day as it stands."""
    web = app_of(browser).state.web
    stored = web.site_at(SLUG)
    assert stored is not None
    with web.database.session() as session:
        view = Desk(session, stored).open(PLAN, PLANNED)
    assert view.asked.question is not None
    assert view.asked.expected is not None
    question = replace(view.asked.question, replications=2)
    found = planning.plan_of(question, view.asked.expected, compare(question))
    with gate(web.database, web.now()) as writes:
        writes.store_result(view.key, stored.id, PLANNED, write(found))


def store(browser: TestClient, *scenarios: Scenario, expect: str = "") -> None:
    """Stores a plan of the day and computes it."""
    web = app_of(browser).state.web
    stored = web.site_at(SLUG)
    assert stored is not None
    with gate(web.database, web.now()) as writes:
        writes.store_plan(
            stored.id, PLANNED, expect, scenarios, expected_version=0, request_key="plan"
        )
    compute(browser)


@pytest.fixture
def own(tmp_path: Path) -> Iterator[TestClient]:
    """A wash of this test's own."""
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


def part(
    browser: TestClient, query: dict[str, Any], path: str = FIGURES, status: int = 200
) -> Page:
    """A part of the page."""
    answer = browser.get(path, params=query)
    assert answer.status_code == status, answer.text
    return page_of(answer)


def texts(browser: TestClient, query: dict[str, Any], path: str = FIGURES) -> str:
    """The text of a part."""
    answer = browser.get(path, params=query)
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_part_answers_under_the_number_of_its_question(client: TestClient) -> None:
    """Figures and charts echo the number they were asked under; anything else counts as 0."""
    for path in (FIGURES, CHARTS):
        found = texts(client, {**FASTER, "n": "17"}, path)
        assert '<div data-n="17">' in found
        assert "<html" not in found
        assert '<div data-n="0">' in texts(client, {**FASTER, "n": '"><b>'}, path)


def test_figures_say_what_changes_and_from_how_many_runs(client: TestClient) -> None:
    """The present and the changed column, the paired difference with a word, and the runs."""
    found = texts(client, FASTER)
    assert "As changed" in found
    assert "Conveyor speed 58\u00a0ft/min" in found
    assert "A quick answer from 32 days at 16 sites like yours; it isn’t stored." in found
    for label in ("Cars lost", "Leaving damp", "9 cars in 10 wait at most", "Margin of the day"):
        assert label in found
    assert "<svg" not in found.split('data-for="try-figures"')[1].split("<tbody")[1]


def test_charts_draw_both_columns(client: TestClient) -> None:
    """The charts' part has the four charts of the plan for the present and the changed column."""
    found = texts(client, FASTER, CHARTS)
    assert found.count('class="chart"') == 4
    assert "As changed: " in found
    assert "<table" not in found


def test_an_untouched_form_compares_nothing(client: TestClient) -> None:
    """As it stands there is no table, and no guess of a difference."""
    form = page_of(client.get(PLAN_PAGE)).form(f"{PLAN_PAGE}#try")
    found = texts(client, form.data())
    assert "Nothing is changed yet." in found
    assert "<table" not in found
    assert "<svg" not in texts(client, form.data(), CHARTS)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        (SPEED, "500", "Conveyor speed 500 ft/min is outside what can be used"),
        (SPEED, "quick", "“quick” is not a number"),
        (SPEED, "100", "outside"),
        ("scenario-tried.car_spacing_m", "1", "is outside what can be used"),
        ("scenario-tried.loaders", "", ""),
        ("scenario-tried.people", "-4", "is outside what can be used"),
        ("tried.temp", "hot", "was not understood"),
        ("tried.temp", "-20", "frost"),
        ("tried.humidity", "120", "is outside what can be used"),
        ("tried.cars", "lots", "was not understood"),
        ("tried.cars", "-100", "No car would come"),
    ],
)
def test_what_cannot_be_used_is_told_beside_its_field(
    client: TestClient, name: str, text: str, said: str
) -> None:
    """The part names the field and what would be right; the whole page keeps what was typed."""
    if not said:  # an empty field means as the site has it
        assert "Nothing is changed yet." in texts(client, {name: text})
        return
    query = {name: text, "n": "3"}
    answer = client.get(FIGURES, params=query)
    assert answer.status_code == 422
    told = answer.text.replace("\u00a0", " ")
    assert f'<li data-field="in-{name}">' in told
    assert said in told
    assert "<table" not in told
    whole = client.get(PLAN_PAGE, params={**query, "do": "try"})
    assert whole.status_code == 422
    page = page_of(whole)
    assert page.field(name).value == text
    assert page.field(name).attrs["aria-invalid"] == "true"
    assert said in page.by_id[f"in-{name}-e"].replace("\u00a0", " ")


def test_a_rule_that_cannot_be_used_is_told_beside_it(client: TestClient) -> None:
    """A band upside down is refused in the words of the plan's own form."""
    query = {
        "scenario-tried.kind": "band",
        "scenario-tried.upper": "40",
        "scenario-tried.lower": "60",
    }
    answer = client.get(FIGURES, params=query)
    assert answer.status_code == 422
    assert '<li data-field="in-scenario-tried.rule">' in answer.text
    refused = client.get(
        FIGURES,
        params={"scenario-tried.kind": "text", "scenario-tried.rule": "emergency stop failed"},
    )
    assert refused.status_code == 422
    assert "names a safety device" in refused.text


def test_the_button_answers_on_the_whole_page(client: TestClient) -> None:
    """Without script the form asks for the page again: same answer, charts, fields as typed."""
    form = page_of(client.get(PLAN_PAGE)).form(f"{PLAN_PAGE}#try")
    sent = {**form.data(**FASTER), "do": "try"}
    whole = client.get(PLAN_PAGE, params=sent)
    assert whole.status_code == 200
    page = page_of(whole)
    assert page.field(SPEED).value == "58"
    figures = texts(client, sent).split('data-for="try-figures">')[1].split("</table>")[0]
    assert figures in whole.text
    assert whole.text.count('class="chart"') == 8
    assert "Try it" in whole.text


def test_sliders_keep_to_the_belt_and_start_where_the_site_is(client: TestClient) -> None:
    """A slider ends inside the speeds that the manual allows; all wait for the script."""
    page = page_of(client.get(PLAN_PAGE))
    sliders = {
        attrs["data-moves"]: attrs
        for tag, attrs in page.tags
        if tag == "input" and attrs.get("type") == "range"
    }
    speed = sliders[f"in-{SPEED}"]
    assert (speed["min"], speed["max"], speed["step"]) == ("30", "68", "1")
    assert page.field(SPEED).value == "49.21"
    assert all("hidden" in attrs and "aria-labelledby" in attrs for attrs in sliders.values())
    assert sliders["in-scenario-tried.people"]["data-shift"] == "0"


def test_another_day_is_said_to_be_another(client: TestClient) -> None:
    """A changed day names both days, and that no scenario can hold it."""
    found = texts(client, {"tried.temp": "95", "tried.cars": "30"}).replace("\u00a0", " ")
    assert "the day as expected" in found
    assert "the day with 95 °F, +30 %" in found
    assert "the second the changed day with the same chances" in found
    assert "type “95 °F, +30 %” under “What you expect instead”" in found
    assert "Add as a scenario" not in found


def test_cautions_follow_what_is_changed(client: TestClient) -> None:
    """Moving the belt calls for its caution; moving people does not."""
    assert "Stay within the belt speeds" in texts(client, FASTER)
    assert "caution" not in texts(client, {"scenario-tried.people": "6"})


def test_the_plan_takes_a_change_over(client: TestClient) -> None:
    """The button adds it to what stands in the plan's form, stored or not, under a free name."""
    added = part(client, FASTER)
    fields = [attrs for tag, attrs in added.tags if attrs.get("form") == "plan-form"]
    kept = {attrs["name"]: attrs["value"] for attrs in fields}
    assert kept["do"] == "keep"
    plan = page_of(client.get(PLAN_PAGE)).form(PLAN_PAGE)
    typed = {**plan.data(), "expect": "90 °F", "scenario-2.name": "Half typed", **kept}
    answer = client.post(PLAN_PAGE, data=typed)
    assert answer.status_code == 200
    page = page_of(answer)
    assert page.field("count").value == "4"
    assert page.field("expect").value == "90 °F"
    assert page.field("scenario-2.name").value == "Half typed"
    assert page.field("scenario-4.name").value == "Always full, 58\u00a0ft/min"
    assert page.field("scenario-4.conveyor_speed_m_s").value == "58"
    again = client.post(PLAN_PAGE, data={**page.form(PLAN_PAGE).data(), **kept})
    assert page_of(again).field("scenario-5.name").value.endswith("(2)")


def test_a_seventh_scenario_is_not_offered(own: TestClient) -> None:
    """With six scenarios the answer says why it can't be added, and the plan would refuse it."""
    store(own, *(Scenario(f"Plan {i}", "full") for i in range(6)))
    found = texts(own, FASTER)
    assert "Six scenarios stand side by side already" in found
    assert "plan-form" not in found
    plan = page_of(own.get(PLAN_PAGE)).form(PLAN_PAGE)
    answer = own.post(
        PLAN_PAGE, data={**plan.data(), "scenario-tried.name": "Seventh", "do": "keep"}
    )
    assert page_of(answer).field("count").value == "6"


def test_a_change_starts_from_any_scenario_of_the_plan(own: TestClient) -> None:
    """The chosen scenario fills the fields, and its other settings hold on unseen."""
    slow = Scenario(
        "Slow",
        "clock 8:30-9:30",
        "9:00",
        {
            "car_spacing_m": 8.0,
            "load_mean_s": 20.0,
            "speed_timetable": ((0.0, 0.2), (32400.0, 0.3)),
        },
    )
    store(own, Scenario("Full", "full"), slow, expect="+10 %")
    page = page_of(own.get(PLAN_PAGE, params={"start": "2"}))
    assert page.field(SPEED).value == "39.37"
    assert page.field("scenario-tried.car_spacing_m").value == "26.25"
    assert page.field("scenario-tried.windows").value == "8:30-9:30"
    assert page.field("tried.cars").value == "+10"
    form = page.form(f"{PLAN_PAGE}#try")
    assert "Nothing is changed yet." in texts(own, form.data())
    found = texts(own, form.data(**FASTER))
    assert "Slow, 58\u00a0ft/min" in found
    kept = part(own, form.data(**FASTER))
    held = {a["name"]: a["value"] for _tag, a in kept.tags if a.get("form") == "plan-form"}
    assert held["scenario-tried.cloth"] == "9:00"
    assert held["scenario-tried.car_spacing_m"] == "26.25"
    # one speed holds all day: the timetable of the scenario must not go on
    assert held["scenario-tried.more"].splitlines() == ["load_mean_s = 20 s", "speed_timetable ="]
    assert "A set is changed with wheel and belt locked out" in found
    for start in ("0", "9", "x", "-1"):
        assert page_of(own.get(PLAN_PAGE, params={"start": start})).field("start").value == "1"


def test_nothing_is_tried_where_nothing_can_be_planned(client: TestClient) -> None:
    """A closed day, a word that is no day, and a site without counts answer as not there."""
    closed = f"/{SLUG}/plan/{CLOSED.isoformat()}"
    for path in (f"{closed}/change/figures", f"/{SLUG}/plan/soon/change/charts"):
        assert client.get(path, params=FASTER).status_code == 404
    assert 'id="try"' not in client.get(closed).text


def test_nothing_is_stored_by_trying(client: TestClient) -> None:
    """Trying reads: neither a plan nor a result is left behind."""
    web = app_of(client).state.web
    stored = web.site_at(SLUG)
    assert stored is not None
    before = stored.version
    texts(client, {SPEED: "55"})
    with web.database.session() as session:
        view = Desk(session, stored).open(PLAN, PLANNED)
    after = web.site_at(SLUG)
    assert after is not None
    assert (view.asked.version, after.version) == (0, before)
