"""Scenarios side by side: the record's shape, paired days, opening moisture, degraded running."""

from __future__ import annotations

import json
import math
import multiprocessing
import re
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim.day.figures import FIGURES, HOURLY
from sim.day.night import Evening
from sim.day.priors import uncertain
from sim.day.replicate import run_days
from sim.day.setup import prepare_day
from sim.decide.compare import Question, check_scenarios, compare
from sim.decide.record import record
from sim.errors import InputError
from sim.inputs import Conditions, Scenario, Site, Value
from tests import seeds
from tests.day.sites import conditions, flat
from tests.intervals import value_of

GUIDE = Path(__file__).parents[2] / "app" / "guide" / "plan-json.md"
SITE = Site("Two Hours").with_values({"open_h": 8.0, "close_h": 10.0})
SEED = seeds.seed("compare")
FULL, REDUCED = Scenario("Always full"), Scenario("Always reduced", "reduced")
NO_OPENING = replace(conditions(), opening_moisture_kg_kg=None)


def ask(
    *scenarios: Scenario, site: Site = SITE, day: Conditions | None = None, **more: Any
) -> Question:
    """A question about a short day of some 120 cars, three simulated days unless told."""
    asked = scenarios or (FULL, REDUCED)
    return Question(site, day or conditions(), asked, **{"replications": 3, "seed": SEED, **more})


def recorded(question: Question) -> dict[str, Any]:
    """The record of the answer, through JSON text and back."""
    found = record(
        compare(question), question.site, "2026-07-18", "of like days", {"clothcast": "1"}
    )
    content: dict[str, Any] = json.loads(json.dumps(found, allow_nan=False))
    assert content == found
    return content


@pytest.fixture(scope="module")
def content() -> dict[str, Any]:
    """The record of two rules and a scenario with changes of each kind."""
    changes: dict[str, Value] = {
        "conveyor_speed_m_s": 0.3,
        "pay_lanes": ((0.0, 2.0), (32400.0, 3.0)),
        "load_measured_s": (12.0, 14.0),
    }
    return recorded(ask(FULL, REDUCED, Scenario("Changed", "band 30-24", "9:00", changes)))


@pytest.fixture(scope="module")
def over_sites() -> dict[str, Any]:
    """The record of two rules over 128 drawn sites in a wet hour, two inputs unknown."""
    known = frozenset(uncertain(SITE, frozenset())) - {"damp_limit_saturation", "uptake_max"}
    hour = SITE.with_values({"close_h": 9.0})
    wet = conditions(20.0, opening=1.2)
    return recorded(ask(site=hour, day=wet, replications=256, known=known))


# ---- the record ----------------------------------------------------------------------------------


def is_number(value: object) -> bool:
    """Whether a value is a finite number and no yes or no."""
    return type(value) in (int, float) and math.isfinite(float(str(value)))


def check_interval(interval: dict[str, Any], kinds: tuple[str, ...]) -> None:
    """An interval has its kind and two ends in order, or two empty ones."""
    assert set(interval) == {"kind", "low", "high"}
    assert interval["kind"] in kinds
    low, high = interval["low"], interval["high"]
    assert (low is None) == (high is None)
    assert low is None or low <= high


def test_the_record_has_the_shape_of_its_schema(content: dict[str, Any]) -> None:
    """Every figure has value, unit and intervals with kind, low and high; nothing else is there."""
    assert content["schema"] == "clothcast.plan/1"
    assert set(content) == {
        "schema", "site", "date", "seed", "replications", "sites", "libraries", "draw_hash",
        "conditions", "limits", "scenarios", "weighed", "days",
    }  # fmt: skip
    assert (content["site"], content["date"]) == ("Two Hours", "2026-07-18")
    assert (content["seed"], content["replications"], content["sites"]) == (SEED, 3, 0)
    for name in ("arrivals_per_h", "temp_c", "humidity"):
        assert len(content["conditions"][name]) == 24
    for scenario in content["scenarios"]:
        assert set(scenario["figures"]) == set(FIGURES)
        for figure in scenario["figures"].values():
            assert set(figure) - {"event_days", "fewer_than_one_in_days"} == {
                "value", "unit", "intervals",
            }  # fmt: skip
            assert is_number(figure["value"])
            assert figure["unit"] != ""
            kinds = [interval["kind"] for interval in figure["intervals"]]
            is_rare = "event_days" in figure
            assert kinds == (["day range"] if is_rare else ["day range", "run error"])
            for interval in figure["intervals"]:
                check_interval(interval, ("day range", "run error"))
        assert set(scenario["hours"]) == set(HOURLY)
        assert {len(row) for row in scenario["hours"].values()} == {24}


def test_differences_are_to_the_first(content: dict[str, Any]) -> None:
    """The first scenario has none; every other has one a figure, with run error and a word."""
    first, *others = content["scenarios"]
    assert first["differences"] is None
    for scenario in others:
        assert set(scenario["differences"]) == set(FIGURES)
        for name, found in scenario["differences"].items():
            assert set(found) == {"value", "unit", "intervals", "days_better", "word"}
            assert [interval["kind"] for interval in found["intervals"]] == ["run error"]
            check_interval(found["intervals"][0], ("run error",))
            assert found["unit"] == first["figures"][name]["unit"]
            apart = scenario["figures"][name]["value"] - first["figures"][name]["value"]
            assert found["value"] == pytest.approx(apart, abs=1e-9)
            assert 0 <= found["days_better"] <= 1
            assert found["word"]


def test_changes_and_labels_are_written_for_readers(content: dict[str, Any]) -> None:
    """Timetables have clock times, lists stay lists, and the label says rule and dry sets."""
    changed = content["scenarios"][2]
    assert changed["changes"] == {
        "conveyor_speed_m_s": 0.3,
        "pay_lanes": [["0:00", 2.0], ["9:00", 3.0]],
        "load_measured_s": [12.0, 14.0],
    }
    assert changed["label"] == "Reduced from 30 % saturation down to 24 %, dry set at 9:00"
    assert [s["label"] for s in content["scenarios"][:2]] == ["Always full", "Always reduced"]


def test_drawn_sites_add_their_range_and_share(over_sites: dict[str, Any]) -> None:
    """Over drawn sites every figure and difference has its site uncertainty, differences the share
    of better sites, and damp cars name the inputs that widen them, the widest first."""
    assert (over_sites["sites"], over_sites["replications"]) == (128, 256)
    first, other = over_sites["scenarios"]
    for scenario in (first, other):
        for figure in scenario["figures"].values():
            kinds = [interval["kind"] for interval in figure["intervals"]]
            assert kinds[:2] == ["day range", "site uncertainty"]
            for interval in figure["intervals"]:
                check_interval(interval, ("day range", "site uncertainty", "run error"))
        assert set(scenario["widest"]) == {"damp_share", "cars_lost", "margin"}
        for rows in scenario["widest"].values():
            assert all(set(row) == {"input", "share"} for row in rows)
            assert {row["input"] for row in rows} <= {"damp_limit_saturation", "uptake_max"}
            shares = [row["share"] for row in rows]
            assert shares == sorted(shares, reverse=True)
            assert all(0 < share <= 1 for share in shares)
    assert first["widest"]["damp_share"], "the damp limit moves damp cars"
    assert first["differences"] is None
    for found in other["differences"].values():
        assert [interval["kind"] for interval in found["intervals"]] == [
            "run error", "site uncertainty",
        ]  # fmt: skip
        assert 0 <= found["sites_better"] <= 1
    (site,) = (
        i for i in first["figures"]["cars_arrived"]["intervals"] if i["kind"] == "site uncertainty"
    )
    assert site["low"] == site["high"], "neither unknown input brings or keeps away a car"


def test_without_drawn_sites_nothing_is_said_of_them(content: dict[str, Any]) -> None:
    """Few days leave out site uncertainty, the share of better sites, and what widens."""
    text = json.dumps(content)
    assert "site uncertainty" not in text
    assert "sites_better" not in text
    assert [scenario["widest"] for scenario in content["scenarios"]] == [{}, {}, {}]


def test_what_is_not_known_is_null() -> None:
    """Without cars shares and waits are null, in the day and by hour, and so is the run error."""
    content = recorded(ask(day=replace(conditions(), arrivals_per_h=flat(0.0))))
    for scenario in content["scenarios"]:
        for name in ("damp_share", "full_share", "wait_p90_s"):
            figure = scenario["figures"][name]
            assert figure["value"] is None
            assert {(i["low"], i["high"]) for i in figure["intervals"]} == {(None, None)}
        assert scenario["figures"]["cars_washed"]["value"] == 0
        assert scenario["hours"]["damp_share"] == [None] * 24
    assert content["scenarios"][1]["differences"]["damp_share"]["word"] == ""


def test_one_simulated_day_has_no_run_error() -> None:
    """A single day tells its own range, and nothing of how far its mean may be off."""
    content = recorded(ask(replications=1))
    for figure in content["scenarios"][0]["figures"].values():
        (only,) = figure["intervals"]
        assert only == {"kind": "day range", "low": figure["value"], "high": figure["value"]}
    difference = content["scenarios"][1]["differences"]["water_taken_kg"]
    assert difference["intervals"] == [{"kind": "run error", "low": None, "high": None}]
    assert difference["word"] == "can’t tell"


def keys_of(content: object) -> set[str]:
    """Every name of an object in a record; names of libraries and inputs are not ours."""
    if isinstance(content, list):
        return set().union(*map(keys_of, content)) if content else set()
    if not isinstance(content, dict):
        return set()
    inner = (keys_of(v) for k, v in content.items() if k not in ("libraries", "changes"))
    return set(content).union(*inner)


def test_the_guide_names_every_key(content: dict[str, Any], over_sites: dict[str, Any]) -> None:
    """Every key, figure, unit, kind of interval and the version stand in the guide, and no more."""
    text = GUIDE.read_text(encoding="utf-8")
    rows = re.findall(r"^\|([^|]*)\|", text, flags=re.MULTILINE)
    named = set(re.findall(r"`([^`]+)`", "\n".join(rows)))
    kinds = {"day range", "site uncertainty", "run error"}
    keys = keys_of(content) | keys_of(over_sites)
    assert keys >= {"event_days", "fewer_than_one_in_days", "sites_better", "widest", "share"}
    # An interval's own keys stand in the sentence above its table.
    assert named - {"kind"} == (keys - {"kind", "low", "high"}) | kinds
    assert all(f"`{key}`" in text for key in ("kind", "low", "high", content["schema"]))
    for name, figure in content["scenarios"][0]["figures"].items():
        info = FIGURES[name]
        what = f"{info.label}, {info.note}" if info.note else info.label
        assert f"| `{name}` | {figure['unit']} | {what} |" in text


# ---- equal questions, equal answers --------------------------------------------------------------


def test_equal_questions_have_equal_records() -> None:
    """The same question gives the same record, another seed another one."""
    assert recorded(ask()) == recorded(ask())
    other = recorded(ask(seed=SEED + 1))
    assert other["draw_hash"] != recorded(ask())["draw_hash"]
    assert other["scenarios"] != recorded(ask())["scenarios"]


def test_processes_do_not_change_a_figure() -> None:
    """Two fresh processes give the record of a single one, bit for bit."""
    told: list[int] = []
    alone = compare(ask(), None, told.append)
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        shared = compare(ask(), pool)
    assert shared == alone
    assert told == [1, 2, 3]


def test_days_are_paired() -> None:
    """Every scenario plays the same days: equal rules differ by nothing, whatever others do."""
    alone, pair = run_days(SITE, conditions(), (FULL,), 3, SEED)[0], ask(FULL, REDUCED, FULL)
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


def opening(question: Question) -> tuple[float, str]:
    """Saturation at opening, and what is said of where it comes from."""
    found = recorded(question)["conditions"]
    return found["opening_saturation"], found["opening_from"]


def test_opening_moisture_comes_from_where_it_says() -> None:
    """A weighing is taken as it is; a dry set or no evening is a set put on dry."""
    dry = SITE.wear.dry_set_moisture_kg_kg / SITE.wheel.holding_capacity_kg_kg
    evening = Evening(conditions(), 1)
    hung = SITE.with_values({"dry_set_at_opening": True})
    given = replace(NO_OPENING, opening_moisture_kg_kg=0.33)
    one: dict[str, Any] = {"replications": 1}
    assert opening(ask(day=given, evening=evening, **one)) == (
        pytest.approx(0.33 / 2.2), "a weighing",
    )  # fmt: skip
    assert opening(ask(site=hung, day=NO_OPENING, evening=evening, **one)) == (
        pytest.approx(dry), "a dry set hung in the morning",
    )  # fmt: skip
    assert opening(ask(day=NO_OPENING, **one)) == (
        pytest.approx(dry), "a set put on dry; no day before it",
    )  # fmt: skip


def test_the_evening_before_wets_the_morning() -> None:
    """A busy evening leaves more water than a quiet one, and closed days between dry the cloth."""

    def after(cars_per_h: float, days_apart: int) -> float:
        evening = Evening(conditions(cars_per_h, humidity=0.9), days_apart)
        question = ask(day=replace(NO_OPENING, humidity=flat(0.9)), evening=evening, replications=1)
        found, words = opening(question)
        assert words == ", simulated, and the night after it"
        return found

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
    content = recorded(ask(FULL, Scenario("Reading failed", changes=changes)))
    figures = [scenario["figures"] for scenario in content["scenarios"]]
    assert figures[1]["cars_arrived"] == figures[0]["cars_arrived"]
    assert figures[1]["water_taken_kg"]["value"] < figures[0]["water_taken_kg"]["value"]
    assert figures[1]["belt_use"]["value"] > figures[0]["belt_use"]["value"]
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
