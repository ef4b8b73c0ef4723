"""One day car by car: its columns, its values, and that it is the very day that the plan played."""

from __future__ import annotations

import csv
import io
import math
from datetime import date
from itertools import pairwise

import pytest

from app.answers import planning
from app.answers.trace import COLUMNS, trace_csv, trace_rows
from sim.decide.compare import compare
from sim.errors import InputError
from sim.inputs import ZONES, Scenario, SiteData, Value
from tests import seeds
from tests.intervals import value_of
from tests.small_wash import CLOSED, PLANNED, small_wash

SEED = seeds.seed("trace")
CROWDED: dict[str, Value] = {"stack_limit_cars": 2, "damp_rewash_share": 0.2}


def trace(
    rule: str = "full",
    data: SiteData | None = None,
    changes: dict[str, Value] | None = None,
    expect: str = "",
    day: date = PLANNED,
    cloth: str = "",
) -> list[dict[str, str]]:
    """The rows of a trace, read from its text as any program would."""
    scenario = Scenario("trace", rule, cloth, changes or {})
    text = trace_csv(trace_rows(data or small_wash(), day, scenario, SEED, expect))
    return list(csv.DictReader(io.StringIO(text)))


def figures(
    rule: str, data: SiteData, changes: dict[str, Value], expect: str = ""
) -> dict[str, float]:
    """The figures of the plan that plays the trace's day alone."""
    scenarios = (Scenario("a", rule, changes=changes),)
    question, _expected = planning.make_question(data, PLANNED, expect, scenarios, 1, SEED)
    (column,) = compare(question).columns
    return {name: value_of(figure) for name, figure in column.figures.items()}


def test_the_file_has_a_header_and_a_row_a_car() -> None:
    """Lines end as RFC 4180 has them, every row has every column, cars are in order of arrival."""
    text = trace_csv(trace_rows(small_wash(), PLANNED, Scenario("trace", "full"), SEED))
    lines = text.split("\r\n")
    assert lines[0] == ",".join(COLUMNS)
    assert lines[-1] == ""
    assert {line.count(",") for line in lines[:-1]} == {len(COLUMNS) - 1}
    firsts = [row for row in trace() if row["turn"] == "1"]
    assert [int(row["car"]) for row in firsts] == list(range(len(firsts)))
    arrivals = [float(row["arrival_s"]) for row in firsts]
    assert arrivals == sorted(arrivals)


def test_a_car_goes_through_the_line_in_order() -> None:
    """Arrival, payment, lane left, loading, pusher, wheel, exit follow one another in time."""
    steps = (
        "arrival_s", "pay_start_s", "paid_s", "unblocked_s", "load_start_s", "loaded_s",
        "caught_s", "wheel_s", "exit_s",
    )  # fmt: skip
    keys = {item.key for item in small_wash().site.vehicles}
    for row in trace():
        times = [float(row[name]) for name in steps]
        assert times == sorted(times)
        assert row["class"] in keys
        assert int(row["lane"]) in (0, 1)
        assert row["lost"] == ""
        assert (row["rule"], row["damp"] in ("yes", "no"), row["sold_full"]) == ("full", True, "no")
        assert float(row["moisture_after_kg_kg"]) >= 0
        assert float(row["film_left_hood_kg_m2"]) < float(row["film_hood_kg_m2"])


@pytest.mark.parametrize("rule", ["full", "reduced", "clock 8:30-9:30"])
def test_its_sums_are_the_plans_figures(rule: str) -> None:
    """Counted and added up, the trace gives the figures of the plan that played the same day."""
    data = small_wash(100)
    rows, found = trace(rule, data, CROWDED), figures(rule, data, CROWDED)
    lost = [row["lost"] for row in rows if row["lost"]]
    through = [row for row in rows if row["exit_s"]]
    last = [row for row in through if row["fate"] != "re-washed"]
    assert len({row["car"] for row in rows}) == found["cars_arrived"]
    assert len(last) == found["cars_washed"]
    assert len(lost) == found["cars_lost"] > 0
    assert lost.count("stack full") == found["cars_lost_full"]
    assert sum(row["fate"] == "re-washed" for row in rows) == found["rewashed_cars"]
    assert sum(row["fate"] == "towel-finished" for row in rows) == found["finished_cars"]
    water = math.fsum(float(row[f"water_{zone}_kg"]) for row in rows for zone in ZONES)
    assert water == pytest.approx(found["water_taken_kg"], rel=1e-9)
    share = sum(row["rule"] == "full" for row in last) / len(last)
    assert share == pytest.approx(found["full_share"])
    worst = max(float(row["moisture_after_kg_kg"]) for row in through)
    holding = data.site.wheel.holding_capacity_kg_kg
    assert worst / holding <= found["saturation_max"] + 1e-12


def test_reduced_cars_keep_roof_and_rear_wet() -> None:
    """Wiped reduced, nothing is taken from roof and rear; the rule's window is met."""
    for row in trace("clock 8:30-9:30"):
        is_reduced = 8.5 * 3600 <= float(row["wheel_s"]) < 9.5 * 3600
        assert row["rule"] == ("reduced" if is_reduced else "full")
        if is_reduced:
            assert float(row["water_roof_kg"]) == float(row["water_rear_kg"]) == 0
            assert float(row["water_hood_kg"]) > 0


def test_a_lost_car_has_no_more_than_its_arrival() -> None:
    """What did not happen to a car is empty, never zero."""
    row = next(row for row in trace(data=small_wash(100), changes=CROWDED) if row["lost"])
    for name in ("lane", "pay_start_s", "pusher", "wheel_s", "exit_s", "rule", "film_hood_kg_m2"):
        assert row[name] == ""
    assert row["arrival_s"] != ""


def test_changes_and_what_is_typed_are_played() -> None:
    """More cars typed bring more rows, and a changed input is that of the day."""
    assert len(trace(expect="+100 %")) > 1.5 * len(trace())
    rides = [
        min(float(row["wheel_s"]) - float(row["caught_s"]) for row in rows)
        for rows in (trace(changes={"conveyor_speed_m_s": 0.15}), trace())
    ]
    assert rides[0] / rides[1] == pytest.approx(0.25 / 0.15, rel=1e-6)


def test_a_failed_reading_shows_in_every_car() -> None:
    """With a failed height reading cars are farther apart on a slower belt."""

    def least_apart(rows: list[dict[str, str]]) -> int:
        pushers = sorted(int(row["pusher"]) for row in rows if row["pusher"])
        return min(b - a for a, b in pairwise(pushers))

    busy = small_wash(100)
    whole, failed = trace(data=busy), trace(data=busy, changes={"failed_sensor": "height"})
    assert least_apart(failed) > least_apart(whole)


@pytest.mark.parametrize(
    ("rule", "changes", "day", "said"),
    [
        ("full", {}, CLOSED, "this is marked as a closed day"),
        ("whenever", {}, PLANNED, "“whenever” is not a rule"),
        ("full", {"car_spacing_m": 4.2}, PLANNED, "shorter than the reference car"),
        ("failed interlock", {}, PLANNED, "stop, lock out, and call licensed service"),
    ],
)
def test_a_day_that_cannot_be_traced_says_why(
    rule: str, changes: dict[str, Value], day: date, said: str
) -> None:
    """A closed day, a rule nobody knows, a bad change and a safety device are refused in words."""
    with pytest.raises(InputError, match=said):
        trace(rule, changes=changes, day=day)


def test_a_dry_set_put_on_during_the_day_is_in_the_trace() -> None:
    """Cars after the change meet another set, and drier cloth, than without it."""
    without, changed = trace(), trace(cloth="9:00")
    sets = [row["cloth_set"] for row in changed if row["wheel_s"]]
    assert {row["cloth_set"] for row in without if row["wheel_s"]} == {sets[0]}
    assert sets[-1] != sets[0]
    after = [
        (float(dry["moisture_before_kg_kg"]), float(wet["moisture_before_kg_kg"]))
        for dry, wet in zip(changed, without, strict=True)
        if dry["wheel_s"] and dry["cloth_set"] != sets[0]
    ]
    assert after[0][0] < after[0][1]
