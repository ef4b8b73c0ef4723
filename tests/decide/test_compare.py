"""Scenarios side by side: the answer's shape, paired days, opening moisture, degraded running."""

from __future__ import annotations

import json
import re
from concurrent.futures import Executor
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.answers.serial import read, write
from sim.day.drawn import uncertain
from sim.day.engine import Experiment
from sim.day.figures import FIGURES, HOURLY, Figure, Range
from sim.day.night import PreviousDay
from sim.day.replicate import run_days
from sim.day.setup import prepare_day
from sim.decide.answer import SCHEMA, Opening, Plan
from sim.decide.compare import Question, check_scenarios, compare
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site, Value
from sim.units import UNITS
from tests import seeds
from tests.day.sites import conditions, flat
from tests.intervals import day_range, run_error, site_range, value_of

GUIDE = Path(__file__).parents[2] / "app" / "guide" / "plan-json.md"
SITE = Site("Two Hours").with_values({"open_h": 8.0, "close_h": 10.0})
SEED = seeds.seed("compare")
FULL, REDUCED = Scenario("Always full"), Scenario("Always reduced", "reduced")
FRIDAY = date(2026, 7, 17)
NO_OPENING = replace(conditions(), opening_moisture_kg_kg=None)


def ask(
    *scenarios: Scenario, site: Site = SITE, day: Conditions | None = None, **more: Any
) -> Question:
    """A question about a short day of some 120 cars, three simulated days unless told."""
    asked = scenarios or (FULL, REDUCED)
    return Question(site, day or conditions(), asked, **{"replications": 3, "seed": SEED, **more})


def planned(question: Question) -> Plan:
    """The answer as a plan of a day, written as JSON and read back."""
    found = Plan(
        question.site.name, date(2026, 7, 18), "of like days", {"clothcast": "1"}, compare(question)
    )
    text = write(found)
    assert "NaN" not in text
    assert read(Plan, text) == found
    return found


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Two rules and a scenario with changes of each kind."""
    changes: dict[str, Value] = {
        "conveyor_speed_m_s": 0.3,
        "pay_lanes": ((0.0, 2.0), (32400.0, 3.0)),
        "load_measured_s": (12.0, 14.0),
    }
    return planned(ask(FULL, REDUCED, Scenario("Changed", "band 30-24", "9:00", changes)))


@pytest.fixture(scope="module")
def over_sites() -> Plan:
    """Two rules over 128 drawn sites in a wet hour, two inputs unknown."""
    known = frozenset(uncertain(SITE, frozenset())) - {"allowed_film_kg_m2", "uptake_max"}
    hour = SITE.with_values({"close_h": 9.0})
    wet = conditions(20.0, opening=1.2)
    return planned(ask(site=hour, day=wet, replications=256, known=known))


# ---- the answer ----------------------------------------------------------------------------------


def test_an_answer_has_every_figure_with_its_intervals(plan: Plan) -> None:
    """Every figure has a value and its intervals in order, every hour a place; the answer tells
    what it was asked for."""
    assert (plan.schema, plan.site) == (SCHEMA, "Two Hours")
    found = plan.comparison
    assert (found.seed, found.replications, found.sites) == (SEED, 3, 0)
    for hours in (found.conditions.arrivals_per_h, found.conditions.temp_c):
        assert len(hours) == 24
    for column in found.columns:
        assert set(column.figures) == set(FIGURES)
        for figure in column.figures.values():
            assert day_range(figure).low <= day_range(figure).high
            is_rare = figure.fewer_than_one_in_days > 0
            assert (figure.run_error is None) is is_rare
            assert figure.site_uncertainty is None
        assert set(column.hours) == set(HOURLY)
        assert {len(row) for row in column.hours.values()} == {24}


def test_differences_are_to_the_first(plan: Plan) -> None:
    """The first scenario has none; every other has one a figure, with run error and a word."""
    first, *others = plan.comparison.columns
    assert first.differences is None
    for column in others:
        assert column.differences is not None
        assert set(column.differences) == set(FIGURES)
        for name, found in column.differences.items():
            assert run_error(found).low <= run_error(found).high
            apart = value_of(column.figures[name]) - value_of(first.figures[name])
            assert found.value == pytest.approx(apart, abs=1e-9)
            assert found.days_better is not None
            assert 0 <= found.days_better <= 1
            assert found.word


def test_labels_are_written_for_readers(plan: Plan) -> None:
    """The label says rule and dry sets; what a scenario changes is kept as it was asked."""
    changed = plan.comparison.columns[2]
    assert changed.scenario.changes["pay_lanes"] == ((0.0, 2.0), (32400.0, 3.0))
    assert changed.label == "Reduced from 30 % saturation down to 24 %, dry set at 9:00"
    labels = [column.label for column in plan.comparison.columns[:2]]
    assert labels == ["Always full", "Always reduced"]


def test_drawn_sites_add_their_range_and_share(over_sites: Plan) -> None:
    """Over drawn sites every figure and difference has its site uncertainty, differences the share
    of better sites, and damp cars name the inputs that widen them, the widest first."""
    found = over_sites.comparison
    assert (found.sites, found.replications) == (128, 256)
    first, other = found.columns
    for column in (first, other):
        for figure in column.figures.values():
            assert site_range(figure).low <= site_range(figure).high
        assert set(column.widest) == {"left_damp_share", "cars_lost", "margin"}
        for rows in column.widest.values():
            assert {row.input for row in rows} <= {"allowed_film_kg_m2", "uptake_max"}
            shares = [row.share for row in rows]
            assert shares == sorted(shares, reverse=True)
            assert all(0 < share <= 1 for share in shares)
    assert first.widest["left_damp_share"], "the allowed film moves damp cars"
    assert first.differences is None
    assert other.differences is not None
    for apart in other.differences.values():
        assert run_error(apart).low <= run_error(apart).high
        assert site_range(apart).low <= site_range(apart).high
        assert apart.sites_better is not None
        assert 0 <= apart.sites_better <= 1
    site = site_range(first.figures["cars_arrived"])
    assert site.low == site.high, "neither unknown input brings or keeps away a car"


def test_without_drawn_sites_nothing_is_said_of_them(plan: Plan) -> None:
    """Few days leave out site uncertainty, the share of better sites, and what widens."""
    for column in plan.comparison.columns:
        assert column.widest == {}
        for apart in (column.differences or {}).values():
            assert (apart.site_uncertainty, apart.sites_better) == (None, None)


def test_what_is_not_known_is_none() -> None:
    """Without cars shares and waits are not known, in the day and by hour, nor is a run error."""
    found = planned(ask(day=replace(conditions(), arrivals_per_h=flat(0.0)))).comparison
    for column in found.columns:
        for name in ("left_damp_share", "full_share", "wait_p90_s"):
            assert column.figures[name] == Figure(None, None)
        assert column.value("cars_washed") == 0
        assert column.hour("damp_share") == (None,) * 24
    assert found.columns[1].apart("left_damp_share").word == ""


def test_one_simulated_day_has_no_run_error() -> None:
    """A single day tells its own range, and nothing of how far its mean may be off."""
    first, other = planned(ask(replications=1)).comparison.columns
    for figure in first.figures.values():
        value = value_of(figure)
        assert figure == Figure(value, Range(value, value))
    difference = other.apart("water_taken_kg")
    assert (difference.run_error, difference.word) == (None, "can’t tell")


def keys_of(content: object) -> set[str]:
    """Every name of an object in JSON; names of libraries, inputs and figures are not ours."""
    if isinstance(content, list):
        return set().union(*map(keys_of, content)) if content else set()
    if not isinstance(content, dict):
        return set()
    inner = (keys_of(v) for k, v in content.items() if k not in ("libraries", "changes"))
    return set(content).union(*inner)


def test_the_guide_names_every_key(plan: Plan, over_sites: Plan) -> None:
    """Every key, figure, unit and the version stand in the guide, and no more."""
    text = GUIDE.read_text(encoding="utf-8")
    rows = re.findall(r"^\|.*\|$", text, flags=re.MULTILINE)
    named = set(re.findall(r"`([^`]+)`", "\n".join(rows)))
    keys = keys_of(json.loads(write(plan))) | keys_of(json.loads(write(over_sites)))
    assert keys >= {"event_days", "fewer_than_one_in_days", "sites_better", "widest", "share"}
    # An interval's own keys stand in the sentence above its table.
    assert named - {"null", "site.toml"} == keys - {"low", "high"}
    assert all(f"`{key}`" in text for key in ("low", "high", SCHEMA))
    for name, info in FIGURES.items():
        what = f"{info.label}, {info.note}" if info.note else info.label
        unit = {"share": "1", "minutes_from_s": "s", "number": "1"}.get(
            info.unit, UNITS[info.unit].si.symbol
        )
        assert f"| `{name}` | {unit} | {what} |" in text


# ---- equal questions, equal answers --------------------------------------------------------------


def test_equal_questions_have_equal_answers() -> None:
    """The same question gives the same answer, another seed another one."""
    assert compare(ask()) == compare(ask())
    other = compare(ask(seed=SEED + 1))
    assert other.draw_hash != compare(ask()).draw_hash
    assert other.columns != compare(ask()).columns


def test_processes_do_not_change_a_figure(two_processes: Executor) -> None:
    """Two other processes give the answer of a single one, bit for bit."""
    told: list[int] = []
    alone = compare(ask(), None, told.append)
    shared = compare(ask(), two_processes)
    assert shared == alone
    assert told == sorted(told)
    assert told[-1] == 3


def test_days_are_paired() -> None:
    """Every scenario plays the same days: equal rules differ by nothing, whatever others do."""
    alone, pair = (
        run_days(Experiment(SITE, conditions(), SEED), (FULL,), 3)[0],
        ask(FULL, REDUCED, FULL),
    )
    found = compare(pair)
    for name in FIGURES:
        assert found.columns[2].figures[name] == found.columns[0].figures[name]
        assert found.columns[0].figures[name].value == pytest.approx(
            float(np.mean(alone.day[name])), rel=1e-12
        )
    apart = found.columns[2].differences
    assert apart is not None
    assert {(d.value, d.word) for d in apart.values()} == {(0.0, "the same")}
    reduced = found.columns[1].differences
    assert reduced is not None
    assert reduced["cars_arrived"].word == "the same"
    assert value_of(reduced["water_taken_kg"]) < 0


# ---- opening moisture ----------------------------------------------------------------------------


def opening(question: Question) -> Opening:
    """How wet the cloth opens, and where that comes from."""
    found = planned(question).comparison.opening
    assert found is not None
    return found


def test_opening_moisture_comes_from_where_it_says() -> None:
    """A weighing is taken as it is; a dry set or no evening is a set put on dry."""
    dry = SITE.wear.dry_set_moisture_kg_kg / SITE.wheel.holding_capacity_kg_kg
    evening = PreviousDay(conditions(), 1, FRIDAY)
    hung = SITE.with_values({"dry_set_at_opening": True})
    given = replace(NO_OPENING, opening_moisture_kg_kg=0.33)
    one: dict[str, Any] = {"replications": 1}
    for asked, saturation, source in (
        (ask(day=given, evening=evening, **one), 0.33 / 2.2, "weighing"),
        (ask(site=hung, day=NO_OPENING, evening=evening, **one), dry, "hung_dry"),
        (ask(day=NO_OPENING, **one), dry, "put_on_dry"),
    ):
        found = opening(asked)
        assert (found.source, found.evening) == (source, None)
        assert found.saturation == pytest.approx(saturation)


def test_the_evening_before_wets_the_morning() -> None:
    """A busy evening leaves more water than a quiet one, and closed days between dry the cloth."""

    def after(cars_per_h: float, days_apart: int) -> float:
        evening = PreviousDay(conditions(cars_per_h, humidity=0.9), days_apart, FRIDAY)
        question = ask(day=replace(NO_OPENING, humidity=flat(0.9)), evening=evening, replications=1)
        found = opening(question)
        assert (found.source, found.evening) == ("evening", FRIDAY)
        return found.saturation

    assert after(90.0, 1) > after(20.0, 1) > 0
    assert after(90.0, 3) < after(90.0, 1)


# ---- running on with a failed shaping sensor -----------------------------------------------------


@pytest.mark.parametrize("sensor", ["height", "presence"])
def test_a_failed_reading_slows_and_widens_and_wipes_less(sensor: str) -> None:
    """With a failed reading belt speed, spacing and wiped lengths take their factors, the belt's
    capacity falls with them, and less water is taken from the same cars."""
    changes: dict[str, Value] = {"failed_sensor": sensor}
    whole = prepare_day(SITE, conditions())
    failed = prepare_day(SITE.with_values(changes), conditions())
    rules = SITE.degraded
    assert failed.speeds[0][1] == pytest.approx(whole.speeds[0][1] * rules.failed_speed_factor)
    assert failed.spacing_m == pytest.approx(whole.spacing_m * rules.failed_spacing_factor)
    for before, after in zip(whole.zones, failed.zones, strict=True):
        for one, other in zip(before, after, strict=True):
            assert other.wiped_m == pytest.approx(one.wiped_m * rules.failed_wiped_share)
    assert failed.mean_pushers > whole.mean_pushers
    assert failed.capacity_per_s < whole.capacity_per_s
    content = compare(ask(FULL, Scenario("Reading failed", changes=changes)))
    usual, slowed = (column.figures for column in content.columns)
    assert slowed["cars_arrived"] == usual["cars_arrived"]
    assert value_of(slowed["water_taken_kg"]) < value_of(usual["water_taken_kg"])
    assert value_of(slowed["belt_use"]) > value_of(usual["belt_use"])
    limits = compare(ask(Scenario("Reading failed", changes=changes))).limits
    assert limits.belt_capacity_per_h == failed.capacity_per_s * 3600.0


# ---- what is refused -----------------------------------------------------------------------------


def test_every_problem_is_named_by_its_scenario() -> None:
    """Problems of all scenarios come at once, each under the scenario's number and input."""
    scenarios = (
        FULL,
        Scenario("Wrong rule", "reduce", "soon"),
        Scenario("Wrong input", changes={"conveyor_speed": 0.2}),
        Scenario(
            "Wrong value", "whenever", changes={"car_spacing_m": 4.2, "loaders": ((0.0, 9.0),)}
        ),
        Scenario("Class", "class tram"),
    )
    found = {p.field: str(p) for p in check_scenarios(SITE, scenarios)}
    assert list(found) == [
        "scenario-2.rule", "scenario-2.cloth", "scenario-3.conveyor_speed", "scenario-4.loaders",
        "scenario-4.rule", "scenario-5.rule",
    ]  # fmt: skip
    assert "“reduce” is not a rule" in found["scenario-2.rule"]
    assert "Dry set “soon” is neither a time nor a saturation" in found["scenario-2.cloth"]
    assert "Did you mean conveyor_speed_m_s?" in found["scenario-3.conveyor_speed"]
    assert "“tram” is not a vehicle class here; use small, sedan" in found["scenario-5.rule"]
    with pytest.raises(InputError, match="“reduce” is not a rule"):
        compare(ask(*scenarios))


def test_a_problem_of_the_site_is_not_told_again_for_each_scenario() -> None:
    """What is wrong with the site itself is told once, without a scenario's number."""
    with pytest.raises(InputError) as caught:
        compare(ask(FULL, REDUCED, site=SITE.with_values({"close_h": 8.0})))
    assert [p.field for p in caught.value.problems] == ["close_h"]


@pytest.mark.parametrize(
    ("question", "said"),
    [
        (ask(*[FULL] * 7), "7 scenarios can't be compared. Give 1 to 6."),
        (replace(ask(), scenarios=()), "0 scenarios can't be compared. Give 1 to 6."),
        (ask(replications=0), "0 simulated days can't be used. Give 1 to 100,000."),
        (ask(day=replace(conditions(), temp_c=flat(-3.0))), "below is frost"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused(question: Question, said: str) -> None:
    """Too many or no scenarios, no days, and frost are refused in words."""
    with pytest.raises(InputError, match=re.escape(said)):
        compare(question)


@pytest.mark.parametrize(
    "scenario",
    [
        Scenario("failed interlock"),
        Scenario("Emergency stop out", "reduced"),
        Scenario("a", "failed interlock"),
        Scenario("a", "full", "guard off at 13:00"),
    ],
)
def test_no_scenario_is_made_for_a_failed_safety_device(scenario: Scenario) -> None:
    """A name, rule or dry set that names a safety device is refused: stop, lock out, call."""
    (problem,) = check_scenarios(SITE, (FULL, scenario))
    assert problem.field.startswith("scenario-2.")
    assert "stop, lock out, and call licensed service" in str(problem)
    with pytest.raises(InputError, match="names a safety device"):
        compare(ask(FULL, scenario))


@pytest.mark.parametrize("sensor", ["emergency_stop", "interlock", "guard", "light curtain"])
def test_only_shaping_sensors_can_fail(sensor: str) -> None:
    """A safety device set as the failed sensor by a program is no choice either."""
    (problem,) = check_scenarios(SITE, (Scenario("a", changes={"failed_sensor": sensor}),))
    assert problem.field == "scenario-1.failed_sensor"
    assert f"“{sensor}” is not a choice. Use one of none, height, presence." in str(problem)
