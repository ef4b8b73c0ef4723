"""The pages of Plan a day: wiring, words, the form that keeps what was typed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.answers import planning
from app.answers.studies.runner import Progress
from app.sites.reading import gate
from sim.errors import InputProblem
from sim.inputs import Scenario, Site, SiteData
from tests.demo_app import app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import CLOSED, PEAK
from tests.pages.pages import asks_again
from tests.pages.plan_visitor import PLAN, SLUG, Visitor, visiting


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; nothing is simulated."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


# ---- choosing a day ------------------------------------------------------------------------------


def test_choosing_lists_the_coming_days(visitor: Visitor) -> None:
    """The page lists 14 days with what they bring; a marked day shows its mark."""
    text = visitor.page(f"/{SLUG}/plan")
    assert text.count('<dt><a href="/invented-lane/plan/') == 14
    assert f'href="/{SLUG}/plan/{PEAK.isoformat()}">Saturday 18 July' in text
    assert "about 1,040 cars, 77\u00a0°F at most" in text
    assert "closed · stocktaking" in text


def test_a_chosen_date_leads_to_its_plan(visitor: Visitor) -> None:
    """The date field leads to the plan of that day, without script."""
    answer = visitor.client.get(f"/{SLUG}/plan?day=2026-07-18", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, PLAN)


def test_a_wrong_date_is_named_and_kept(visitor: Visitor) -> None:
    """A text that is no date is told beside the field, and stays there."""
    answer = visitor.client.get(f"/{SLUG}/plan?day=next+week")
    assert answer.status_code == 422
    assert "“next week” is not a date. Write it as 2026-07-18." in answer.text
    assert 'value="next week"' in answer.text


@pytest.mark.parametrize("day", ["tomorrow", "2026-02-30", "0001-01-01"])
def test_no_such_day(visitor: Visitor, day: str) -> None:
    """An address with no day, or one outside all calendars of use, is a page that says so."""
    answer = visitor.client.get(f"/{SLUG}/plan/{day}")
    assert answer.status_code == 404
    assert "There is no such day." in answer.text


# ---- the plan ------------------------------------------------------------------------------------


def test_the_answer_comes_first(visitor: Visitor) -> None:
    """The page opens with the answer, then how sure, then table, charts, day and form."""
    text = visitor.page()
    places = [
        text.index(words)
        for words in (
            "<b>Reduce wiping from 11:50 to 16:40.</b>",
            "<b>Not firm yet.</b>",
            ">Side by side</",
            "Hour by hour</h2>",
            ">The expected day</",
            '<form class="plan"',
        )
    ]
    assert places == sorted(places)


def test_the_page_needs_no_inline_style_or_script(visitor: Visitor) -> None:
    """Nothing on the page is refused by the content policy."""
    text = visitor.page()
    assert " style=" not in text
    assert "<style" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    assert not re.search(r"\son[a-z]+=", text)


def test_site_ranges_stand_beside_figures_and_their_words_below(visitor: Visitor) -> None:
    """With drawn sites a cell has two ranges, words are those of sites, and no run error."""
    visitor.planned.result = invented.plan(invented.peak_day_over_sites())
    text = visitor.page()
    assert '<span class="r">40–100</span><span class="r days">days 0–220</span>' in text
    assert "the same way in 19 of 20 sites like yours" in text
    assert "128 sites drawn at random" in text
    assert "19 of 20 simulated days" not in text
    assert "±" not in text[: text.index('class="meanings"')]


def test_what_would_narrow_the_answer_leads_to_its_field(visitor: Visitor) -> None:
    """Under how sure stands what widens the answer, with a link to the field of a measurement."""
    assert "would narrow that range" not in visitor.page()
    visitor.planned.result = invented.plan(invented.peak_day_over_sites())
    text = visitor.page()
    label = "Allowed film on hood and windshield"
    said = f"leaving damp is wide mostly because these are not known: “{label}”\u00a0(41\u00a0%)"
    assert said in text
    link = f'href="/{SLUG}/site#in-throw_off_time_s"'
    assert text.index("<b>Firm.</b>") < text.index(link) < text.index(">Side by side</")
    assert 'id="in-throw_off_time_s"' in visitor.page(f"/{SLUG}/site")


def test_few_days_keep_the_words_of_days(visitor: Visitor) -> None:
    """Without drawn sites day ranges stand beside the figures, and words are those of days."""
    text = visitor.page()
    assert '<span class="r">days 1,620–1,970</span>' in text
    assert "19 of 20 simulated days" in text
    assert "sites like yours" not in text


def test_table_and_charts_stand_beside_each_other(visitor: Visitor) -> None:
    """Four charts, each with its figures as a table, and the key with a marker a scenario."""
    text = visitor.page()
    key = text[text.index('<ul class="key">') :]
    key = key[: key.index("</ul>")]
    assert [key.count(f'"line s{n}"') for n in range(1, 5)] == [1, 1, 1, 0]
    assert text.count('role="img"') == 4
    assert text.count('aria-label="Figures of the chart: ') == 4
    assert '<td role="cell" class="chosen">' in text
    assert "days 1,620–1,970" in text


def test_six_scenarios_can_be_told_apart(visitor: Visitor) -> None:
    """Six columns have six markers; the table scrolls; no seventh can be added."""
    visitor.planned.result = invented.plan(invented.six_scenarios())
    text = visitor.page()
    heads = text[text.index("<thead") : text.index("</thead>")]
    markers = re.findall(r"(?:dot|hollow) s(\d)", heads)
    assert markers == ["1", "2", "3", "4", "5", "6"]
    assert 'class="compare many"' in text


def test_explanations_of_figures(visitor: Visitor) -> None:
    """Each figure's origin and the run error stand in the explanation."""
    text = visitor.page()
    assert "the same in every column." in html.unescape(text)
    assert "Error of the simulation itself, over 32 days" in text


def test_while_computing_the_page_asks_again(visitor: Visitor) -> None:
    """A plan under way shows how far it is, asks again by itself, and takes no typing away."""
    visitor.planned.result = None
    visitor.planned.running = Progress(7, 32)
    answer = visitor.client.get(PLAN)
    assert asks_again(answer).startswith("2; url=/")
    assert "1 of 2: a first answer from few days." in answer.text
    assert '<progress class="wait" max="32" value="7"' in answer.text
    assert '<form class="plan"' not in answer.text


def test_a_plan_that_is_not_computed_is_begun(visitor: Visitor) -> None:
    """Opening a day without an answer begins to compute it, once it has cars."""
    visitor.planned.result = None
    visitor.page()
    assert len(visitor.planned.started) == 1


def test_a_failed_computation_is_told_and_not_begun_again(visitor: Visitor) -> None:
    """What went wrong stands on the page; only the button begins anew."""
    visitor.planned.result = None
    visitor.planned.failed = "The plan could not be worked out: no memory"
    text = visitor.page()
    assert "The plan could not be worked out: no memory" in text
    assert not visitor.planned.started
    assert not asks_again(visitor.client.get(PLAN))


def test_a_closed_day_says_so(visitor: Visitor) -> None:
    """On a closed day there is nothing to plan, and no form."""
    text = visitor.page(f"/{SLUG}/plan/{CLOSED.isoformat()}")
    assert "<b>Closed:</b> no car is let in on Monday 20 July" in text
    assert '<form class="plan"' not in text
    assert not visitor.planned.started


def test_a_day_without_cars_says_so(visitor: Visitor) -> None:
    """When no car is expected nothing is computed; the line above the columns can be changed."""
    visitor.planned.result = None
    answer = visitor.send({"expect": "-100 %"})
    assert answer.status_code == 303
    visitor.planned.started.clear()
    text = visitor.page()
    assert "<b>Nothing to decide:</b> no car is expected on this day." in text
    assert not visitor.planned.started
    assert 'name="expect" value="-100 %"' in text


def test_the_page_of_a_comparison_without_cars_stands(visitor: Visitor) -> None:
    """A comparison in which no car came shows dashes and no charts."""
    visitor.planned.result = invented.plan(invented.no_cars())
    text = visitor.page()
    assert "Nothing to decide:" in text
    assert 'role="img"' not in text


def test_a_site_without_counts_is_led_to_the_counts_page(visitor: Visitor) -> None:
    """Where nothing can be expected of a day, the page says what is missing and where it goes."""
    web = app_of(visitor.client).state.web
    with gate(web.database, web.now()) as writes:
        writes.create_site(SiteData(Site("Bare Lane")), request_key="bare")
    text = visitor.page("/bare-lane/plan/2026-07-18")
    assert "<b>No plan yet.</b>" in text
    assert 'href="/bare-lane/counts"' in text
    assert "Nothing was stored" not in text
    assert not visitor.planned.started


def test_a_stored_plan_that_no_longer_fits_says_so(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan that the changed site refuses shows its problems at their fields, and no answer."""
    problem = InputProblem("scenario-2.car_spacing_m", "Car spacing is too short.")
    monkeypatch.setattr(planning, "check_question", lambda _question: [problem])
    text = html.unescape(visitor.page())
    assert "This plan can’t be computed as it stands." in text
    assert 'href="#in-scenario-2.car_spacing_m"' in text
    assert text.count("Car spacing is too short.") == 2


# ---- the form ------------------------------------------------------------------------------------


def test_what_is_sent_unchanged_is_what_was_drawn(visitor: Visitor) -> None:
    """The form, sent as it is drawn, stores just the scenarios it was drawn from."""
    answer = visitor.send({})
    assert (answer.status_code, answer.headers["location"]) == (303, PLAN)
    plan = visitor.stored()
    assert plan is not None
    assert plan.scenarios == planning.DEFAULT_SCENARIOS


def test_storing_a_changed_plan(visitor: Visitor) -> None:
    """Rule, speed in the reader's units, dry set and other inputs by name are stored in SI."""
    visitor.planned.result = None
    answer = visitor.send(
        {
            "expect": "91 °F, 70 %",
            "scenario-2.name": "Slower belt",
            "scenario-2.kind": "band",
            "scenario-2.upper": "55 %",
            "scenario-2.lower": "45",
            "scenario-2.conveyor_speed_m_s": "55",
            "scenario-2.cloth": "13:00",
            "scenario-2.more": "load_mean_s = 16\nstack_limit_cars = 12",
        }
    )
    assert answer.status_code == 303
    plan = visitor.stored()
    assert plan is not None
    assert plan.expect == "91 °F, 70 %"
    second = plan.scenarios[1]
    assert (second.name, second.rule, second.cloth) == ("Slower belt", "band 55-45", "13:00")
    assert second.changes["conveyor_speed_m_s"] == pytest.approx(55 * 0.3048 / 60)
    assert second.changes["load_mean_s"] == 16
    assert second.changes["stack_limit_cars"] == 12
    assert visitor.planned.started
    # Drawn again, it reads the same, and sending it once more changes nothing.
    assert visitor.send({}).status_code == 303
    assert visitor.stored() == plan


def test_every_problem_stands_beside_its_field_and_on_top(visitor: Visitor) -> None:
    """Wrong entries are refused together, each told at its field, with all that was typed kept."""
    answer = visitor.send(
        {
            "expect": "hot",
            "scenario-1.conveyor_speed_m_s": "-5",
            "scenario-2.kind": "clock",
            "scenario-2.windows": "16:00-12:00",
            "scenario-3.more": "lod_mean_s = 16",
            "scenario-3.cloth": "soon",
        }
    )
    assert answer.status_code == 422
    text = html.unescape(answer.text)
    assert "Nothing was stored." in text
    summary = text[text.index('class="problems"') : text.index("</ul>")]
    for anchor in (
        "#in-expect",
        "#in-scenario-1.conveyor_speed_m_s",
        "#in-scenario-2.kind",
        "#in-scenario-3.more",
        "#in-scenario-3.cloth",
    ):
        assert f'href="{anchor}"' in summary
    assert text.count("ends before it begins") == 2
    assert text.count("Did you mean load_mean_s?") == 2
    for typed in (
        'value="hot"',
        'value="-5"',
        'value="16:00-12:00"',
        "lod_mean_s = 16",
        'value="soon"',
    ):
        assert typed in text
    assert visitor.stored() is None


def test_spacing_shorter_than_a_car_is_told_at_its_field(visitor: Visitor) -> None:
    """A rule over several inputs is told at the field of the scenario that breaks it."""
    answer = visitor.send({"scenario-3.car_spacing_m": "8"})
    assert answer.status_code == 422
    assert 'id="in-scenario-3.car_spacing_m-e"' in answer.text


def test_two_scenarios_of_one_name_are_refused(visitor: Visitor) -> None:
    """Two columns of one name can't be told apart; both names are kept."""
    answer = visitor.send({"scenario-2.name": "Always full"})
    assert answer.status_code == 422
    assert "Two scenarios are called “Always full”" in answer.text


@pytest.mark.parametrize(
    ("do", "names"),
    [
        ("add", ["Always full", "Always reduced", "Reduced 10:00–17:00", "Reduced in a window"]),
        ("copy-1", ["Always full", "Always full (2)", "Always reduced", "Reduced 10:00–17:00"]),
        ("remove-2", ["Always full", "Reduced 10:00–17:00"]),
    ],
)
def test_add_copy_remove_change_the_form_alone(visitor: Visitor, do: str, names: list[str]) -> None:
    """These buttons draw the form anew with what was typed; nothing is stored or computed."""
    answer = visitor.send({"expect": "70 %"}, do=do)
    assert answer.status_code == 200
    fields = visitor.form(answer.text)
    assert [fields[f"scenario-{i + 1}.name"] for i in range(len(names))] == names
    assert fields["count"] == str(len(names))
    assert fields["expect"] == "70 %"
    assert visitor.stored() is None
    assert not visitor.planned.started


def test_somebody_elses_change_is_told(visitor: Visitor) -> None:
    """A form drawn before somebody else stored the plan is refused and kept."""
    fields = visitor.form(visitor.page())
    assert visitor.send({"expect": "80 %"}).status_code == 303
    answer = visitor.client.post(PLAN, data={**fields, "expect": "60 %", "do": "compute"})
    assert answer.status_code == 409
    assert "Yours was not stored." in answer.text
    assert 'value="60 %"' in answer.text
    plan = visitor.stored()
    assert plan is not None
    assert plan.expect == "80 %"


def test_a_form_without_its_token_is_refused(visitor: Visitor) -> None:
    """A form that was not drawn for this browser stores nothing."""
    fields = visitor.form(visitor.page())
    answer = visitor.client.post(PLAN, data={**fields, "form_token": "", "do": "compute"})
    assert answer.status_code == 403
    assert visitor.stored() is None


def test_cautions_follow_what_a_scenario_changes(visitor: Visitor) -> None:
    """A changed belt, a dry set or a failed sensor brings its caution."""
    plain = visitor.page()
    assert "<b>Stop.</b>" not in plain
    visitor.send({"scenario-2.failed_sensor": "height", "scenario-3.car_spacing_m": "25"})
    text = visitor.page()
    assert "<b>Stop.</b>" in text
    assert text.count("<b>Caution.</b>") >= 2


def test_a_failed_safety_device_makes_no_scenario(visitor: Visitor) -> None:
    """A scenario for a failed safety device is refused with the only advice there is."""
    answer = visitor.send({"scenario-2.name": "Emergency stop failed"})
    assert answer.status_code == 422
    assert "lock" in answer.text.lower()
    assert visitor.stored() is None


# ---- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", ["figures", "hours"])
def test_csv_files(visitor: Visitor, what: str) -> None:
    """Both files come as UTF-8 with a name that says site, day and content."""
    answer = visitor.client.get(f"{PLAN}/{what}.csv")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert f'filename="{SLUG}-2026-07-18-{what}.csv"' in answer.headers["content-disposition"]
    assert answer.content.startswith(b"\xef\xbb\xbf")
    visitor.planned.result = None
    assert visitor.client.get(f"{PLAN}/{what}.csv").status_code == 404


def test_scenarios_keep_their_stored_values(visitor: Visitor) -> None:
    """A value that the page shows rounded is stored as it was when its text was left alone."""
    exact = Scenario("Odd speed", "full", "", {"conveyor_speed_m_s": 0.28765432})
    web = app_of(visitor.client).state.web
    with gate(web.database, web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", (exact,), 0, "odd")
    visitor.send({"expect": "70 %"})
    plan = visitor.stored()
    assert plan is not None
    assert plan.scenarios == (exact,)
