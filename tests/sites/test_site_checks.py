"""What may not be stored, each told with field, value and what would be right."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from app.sites.checks import check_data, check_history, check_storable, check_storable_scenarios
from sim.inputs import DayNote, History, HourCount, HourWeather, Scenario, Site, SiteData, Value
from tests.world import DAY

SITE = Site("Invented Wash")


def said(site: Site) -> list[str]:
    """Every problem of a site as text."""
    return [str(problem) for problem in check_storable(site)]


def test_a_site_of_defaults_is_fine() -> None:
    """Nothing is wrong with the defaults."""
    assert check_data(SiteData(SITE)) == []


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("people", 4.0, "People on the line “4.0” is not a timetable. Write rows of a time"),
        ("people", (4.0, 5.0), "is not a timetable"),
        ("people", ((3600.0, 4.0),), "People on the line: times must begin at 0:00"),
        ("people", ((0.0, 4.0), (0.0, 5.0)), "follow one another, up to 24:00"),
        ("people", ((0.0, 4.0), (90000.0, 5.0)), "follow one another, up to 24:00"),
        ("load_measured_s", 12.0, "Loading, measured times “12.0” is not a list of numbers"),
        ("load_mean_s", (12.0, 13.0), "is a list. Enter a single value"),
        ("load_mean_s", math.nan, "Loading time with one loader “nan” is not finite. Enter 3"),
        ("strip_count", math.inf, "Strips on the wheel “inf” is not finite. Enter 10"),
        ("people", ((0.0, math.nan),), "is not finite"),
        ("load_measured_s", (1.0, math.inf), "is not finite"),
    ],
)
def test_a_value_of_the_wrong_shape_is_told(name: str, value: Value, sentence: str) -> None:
    """A value that the computation could not even look at is refused with what is right."""
    found = said(SITE.with_values({name: value}))
    assert len(found) == 1
    assert sentence in found[0]


@pytest.mark.parametrize("zone", ["America/New_Yrok", "", "/etc/passwd", "..", "Europe"])
def test_a_zone_nobody_knows_is_told(zone: str) -> None:
    """A time zone that is none is quoted, with one that is."""
    found = said(replace(SITE, timezone=zone))
    assert len(found) == 1
    assert found[0].startswith(f"Time zone “{zone}” is not known. Enter one such as ")
    assert "/" in found[0].removeprefix(f"Time zone “{zone}”")


def test_the_nearest_zone_is_offered() -> None:
    """A misspelt zone is answered with the right one."""
    assert said(replace(SITE, timezone="America/New_Yrok"))[0].endswith("America/New_York.")


def test_units_and_own_inputs_are_checked() -> None:
    """Units that are not known and own inputs that are none come back together."""
    problems = check_data(SiteData(SITE, "metric", frozenset({"open_hh"})))
    assert [str(problem) for problem in problems] == [
        "“open_hh” is not an input. Did you mean open_h?",
        "Units “metric” are not known. Use us or si.",
    ]


def test_every_bad_part_of_the_past_is_told() -> None:
    """Air that cannot be, a kind of day and of count that is not known, and double marks."""
    past = History(
        "driven",
        (HourCount(DAY, 9, 2, 3),),
        (
            HourWeather(DAY, 9, 0, 20.0, 1.04, 0.0),
            HourWeather(DAY, 10, 0, math.nan, 0.5, -1.0),
        ),
        (DayNote(DAY, "event"), DayNote(DAY, "event", "fair")),
    )
    found = [str(problem).replace("\u00a0", " ") for problem in check_history(past)]
    assert found == [
        "“driven” is not what can be counted. Use arrived, washed or typed.",
        "Hour 9 of 2026-07-18 is none. Use hours 0 to 23, and fold 0 or 1.",
        "2026-07-18 9:00: humidity 104 % can't be. Enter 0 % to 100 %.",
        "2026-07-18 10:00: temp_c – °C can't be. Enter \u221260 °C to 60 °C.",
        "2026-07-18 10:00: rain_mm \u22121 mm can't be. Enter 0 mm to 400 mm.",
        "2026-07-18 is marked event 2 times. Mark it once.",
    ]


@pytest.mark.parametrize("cars", [3.7, True, 20_000, -1])
def test_cars_are_whole_and_not_too_many(cars: int) -> None:
    """Parts of cars, yes or no, and more cars than any line could bring are refused."""
    found = [str(p) for p in check_history(History(counts=(HourCount(DAY, 9, 0, cars),)))]
    shown = {20_000: "20,000", -1: "\u22121"}.get(cars, cars)
    assert found == [f"2026-07-18 9:00: {shown} cars can't be. Enter a whole number, 0 to 5,000."]


def test_a_scenario_needs_a_name() -> None:
    """A column without a name could not be told from another."""
    found = [str(problem) for problem in check_storable_scenarios(SITE, [Scenario(" ")])]
    assert found == ["Scenario name “ ” can't be used. Enter 1 to 60 characters."]


def test_a_scenario_is_judged_with_its_own_inputs() -> None:
    """Dry sets are counted against the sets that the scenario itself owns."""
    fine = Scenario("more sets", cloth="11:00; 13:00; 15:00", changes={"sets_owned": 4})
    assert check_storable_scenarios(SITE, [fine]) == []
    short = check_storable_scenarios(SITE, [replace(fine, changes={})])
    assert [problem.field for problem in short] == ["cloth"]
