"""Wiping rules and scenarios as the fields of a form, and the days to choose from."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.answers.coming_days import coming_days, days_with_notes, demo_highlights
from app.pages.plan.form import PlanTyped, ScenarioTyped, changed, placed, read_plan, typed_from
from app.sites.demo import demo_data, demo_days
from app.sites.rule_forms import RuleParts, parts_of, words_of, written
from sim.day.rules import parse_rule
from sim.errors import InputProblem
from sim.inputs import Scenario
from tests.pages.fixture_comparison import CLOSED, PEAK, small_site


@pytest.mark.parametrize(
    ("rule", "kind"),
    [
        ("full", "full"),
        ("reduced", "reduced"),
        ("service", "service"),
        ("clock 11:00-12:30,14:00-16:00", "clock"),
        ("band 60-50", "band"),
        ("band 62.5-50", "band"),
        ("class van,pickup", "class"),
        ("clock 12:00-16:00 and class van or band 60-50", "text"),
    ],
)
def test_a_rule_survives_its_form(rule: str, kind: str) -> None:
    """Any rule taken apart into fields and written again states the same."""
    parts = parts_of(rule)
    assert parts.kind == kind
    assert parse_rule(written(parts)) == parse_rule(rule)


def test_a_text_that_is_no_rule_is_kept() -> None:
    """What can't be read as a rule stays in the field for written rules, as it was typed."""
    assert parts_of("whenever it rains") == RuleParts("text", text="whenever it rains")
    assert words_of("whenever it rains") == "whenever it rains"


def test_typed_forms_of_a_band_and_windows() -> None:
    """A percent sign and spaces in the fields do no harm."""
    assert written(RuleParts("band", upper=" 60 %", lower="50%")) == "band 60-50"
    assert written(RuleParts("clock", windows="11:00-12:00 , 14:00-15:00")) == (
        "clock 11:00-12:00,14:00-15:00"
    )


def test_scenarios_survive_their_form() -> None:
    """Scenarios drawn as a form and read again are the same, other inputs by name included."""
    scenarios = (
        Scenario("Plain"),
        Scenario(
            "Much changed",
            "band 60-50",
            "13:00; 45 %",
            {"conveyor_speed_m_s": 0.2871, "load_mean_s": 16.5, "pay_lanes": ((0.0, 3.0),)},
        ),
    )
    for units in ("us", "si"):
        assert read_plan(typed_from("", scenarios, units), scenarios) == (scenarios, [])


def test_six_scenarios_are_enough() -> None:
    """Neither Add nor Copy makes a seventh scenario, and the last one can't be removed."""
    one = ScenarioTyped("Only", RuleParts("full"))
    six = PlanTyped("", (one,) * 6, "us")
    for wish in ("add", "copy-1"):
        again = changed(six, wish)
        assert again is not None
        assert len(again.scenarios) == 6
    alone = changed(PlanTyped("", (one,), "us"), "remove-1")
    assert alone is not None
    assert len(alone.scenarios) == 1
    assert changed(six, "compute") is None
    assert changed(six, "remove-9") is None


def test_problems_find_their_fields() -> None:
    """Problems by place or by scenario's name land on fields that the form has."""
    typed = PlanTyped(
        "", (ScenarioTyped("A", RuleParts("full")), ScenarioTyped("B", RuleParts("full"))), "us"
    )
    fields = [
        problem.field
        for problem in placed(
            [
                InputProblem("scenario-2.car_spacing_m", "x"),
                InputProblem("scenario-2.load_mean_s", "x"),
                InputProblem("rule", "x", {"scenario": "B"}),
                InputProblem("scenario", "x", {"name": "A"}),
                InputProblem("scenarios", "x"),
            ],
            typed,
        )
    ]
    assert fields == [
        "scenario-2.car_spacing_m",
        "scenario-2.more",
        "scenario-2.rule",
        "scenario-1.name",
        "scenarios",
    ]


def test_coming_days_say_what_they_bring() -> None:
    """Coming days hold cars and weather; a marked closed day is closed, with its note."""
    data = small_site()
    days = coming_days(data, PEAK, 3)
    assert [day.day for day in days] == [PEAK + timedelta(days=i) for i in range(3)]
    assert days[0].cars == pytest.approx(13 * 80)
    assert days[0].expected is not None
    assert days[0].expected.highest_temp_c == pytest.approx(25.0)
    assert (days[2].state, days[2].note) == ("closed", "stocktaking")
    assert [day.day for day in days_with_notes(data, PEAK)] == [CLOSED]
    assert demo_highlights(data) == ()


def test_a_site_without_counts_can_still_list_its_days() -> None:
    """Where nothing can be expected of a day, the list says that nothing is known."""
    data = small_site()
    empty = type(data)(data.site, data.units)
    assert [(day.state, day.cars) for day in coming_days(empty, PEAK, 2)] == [("unknown", 0.0)] * 2


def test_the_demo_names_days_worth_a_look() -> None:
    """The demo's own days stand there with what makes them worth a look."""
    found = {name: (special, one) for name, special, one in demo_highlights(demo_data())}
    assert {one.day for _special, one in found.values()} == set(demo_days().values())
    assert all(special.endswith((".", "?")) for special, _one in found.values())
    assert found["Closed"][1].state == "closed"
    fair = found["Hands"][1]
    assert fair.note.startswith("street fair")
    usual = coming_days(demo_data(), fair.day, 1)[0]
    assert fair.cars == pytest.approx(1.3 * usual.cars)
