"""Options on peak days against comparisons of the same day, and the sums by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from sim.day.blocks import Shape
from sim.decide.answer import Column
from sim.decide.cloth.answer import OptionRow, cheapest
from sim.decide.cloth.season import (
    OptionsQuestion,
    SeasonDay,
    options_of,
    payback_years,
    stand_for,
    weigh_options,
)
from sim.decide.compare import Question, compare
from sim.inputs import INPUTS, Conditions, Scenario, Site, Value
from tests.intervals import site_range, value_of

DAY = date(2026, 7, 18)
KNOWN = frozenset({"damp_cost"})
SITE = Site("Peaks").with_values(
    {"open_h": 8.0, "close_h": 11.0, "sets_owned": 2, "second_holding_factor": 1.2}
)


def peak(cars: float = 130.0, day: date = DAY) -> SeasonDay:
    """A humid day with reduced wiping planned for an hour."""
    per_hour = tuple(cars if 8 <= hour < 11 else 0.0 for hour in range(24))
    conditions = Conditions(per_hour, (27.0,) * 24, (0.85,) * 24, 0.4)
    return SeasonDay(day, conditions, None, Scenario("planned", "clock 9:00-10:00"))


def weighed(asked: OptionsQuestion) -> dict[str, OptionRow]:
    """What each option does, by key and amount."""
    return {f"{row.option.key} {row.option.amount:g}": row for row in weigh_options(asked)}


@pytest.fixture(scope="module")
def rows() -> dict[str, OptionRow]:
    """What each option does on one peak day that stands for ten, from a few runs."""
    few = Shape(2, 2, 2)
    return weighed(OptionsQuestion(SITE, (peak(),), 10, 20260701, KNOWN, shape=few))


def test_an_option_has_the_figures_and_differences_of_a_comparison() -> None:
    """Of the planned day, one finisher more, a slower belt, always reduced and a faster wheel the
    figures, and the differences in cost with their site uncertainty, are those of `compare`, ten
    days together."""
    rows = weighed(OptionsQuestion(SITE, (peak(),), 10, 20260701, KNOWN))
    named = (
        "finisher 1", "slower_belt 0.225", "reduced 0", "faster_idle 2", "drying_agent 0.8",
        "second_cloth 0",
    )  # fmt: skip
    columns: dict[str, Column] = {}
    for keys in (("planned 0", *named[:3]), ("planned 0", *named[3:])):
        scenarios = tuple(replace(rows[key].option.scenario, name=key) for key in keys)
        asked = Question(SITE, peak().conditions, scenarios, 256, 20260701, None, KNOWN)
        columns |= {column.scenario.name: column for column in compare(asked).columns}
    assert len(columns) == 7
    for key in columns:
        row, column = rows[key], columns[key]
        for name, value in row.figures.items():
            assert value == pytest.approx(column.figures[name].value, rel=1e-9), (key, name)
        if row.yearly is not None and column.differences is not None:
            cost = column.differences["cost"]
            assert row.yearly.value == pytest.approx(10 * value_of(cost), rel=1e-9)
            year, day = site_range(row.yearly), site_range(cost)
            assert year.low == pytest.approx(10 * day.low, rel=1e-9)
            assert year.high == pytest.approx(10 * day.high, rel=1e-9)


def test_one_set_more_costs_its_price_once_and_its_keeping_every_year(
    rows: dict[str, OptionRow],
) -> None:
    """Beside what the days say, a set more costs 900 once and a fifth of that a year; launderings
    of the dry sets are in the days themselves."""
    more, owned = rows["one_more_set 2"], rows["dry_sets 1"]
    assert (more.option.once, more.option.each_year) == (900.0, 180.0)
    assert (owned.option.once, owned.option.each_year) == (0.0, 0.0)
    assert more.option.scenario.changes["sets_owned"] == 3
    assert more.option.scenario.cloth == "9:00; 10:00"
    assert more.yearly is not None
    planned = rows["planned 0"].figures["cost"]
    assert more.yearly.value == pytest.approx(10 * (more.figures["cost"] - planned), rel=1e-9)


def test_a_finisher_spares_cars_and_costs_the_wage() -> None:
    """One person more dries cars for three hours at 20 $ and, after closing, until the last car has
    left; the goodwill of those spared comes off the cost and their towels go on it, cars lost stay
    as they are. Half of them are members, who leave for a damp car at a chance of 0.5 % and earn
    250 $ a year; the others' goodwill is 2 $ each."""
    every = frozenset(name for name, entry in INPUTS.items() if entry.prior is not None)
    few = Shape(2, 1, 4)
    rows = weighed(OptionsQuestion(SITE, (peak(),), 10, 20260701, every, shape=few))
    row, planned = rows["finisher 1"], rows["planned 0"]
    spared = planned.figures["left_damp"] - row.figures["left_damp"]
    assert spared > 30.0
    assert row.figures["cars_lost"] == planned.figures["cars_lost"]
    goodwill = 0.5 * 2.0 + 0.5 * 0.005 * 250.0
    wages = row.figures["cost"] - planned.figures["cost"] + (goodwill - 0.2) * spared
    assert 60.0 < wages < 60.0 + 20.0 * 0.5


def test_payback_is_price_over_gain(rows: dict[str, OptionRow]) -> None:
    """What is spent once comes back in price over yearly gain, at the expected gain and at both
    ends of it; what gains nothing never pays back, what costs nothing at once."""
    spent = [row for row in rows.values() if row.option.once > 0.0]
    assert spent
    for row in spent:
        assert row.yearly is not None
        for years, more in (
            (row.payback_years, value_of(row.yearly)),
            (row.payback_low, site_range(row.yearly).low),
            (row.payback_high, site_range(row.yearly).high),
        ):
            assert years == pytest.approx(900.0 / -more if more < 0.0 else math.inf)
    assert payback_years(900.0, 300.0) == 3.0
    assert payback_years(900.0, -1.0) == math.inf
    assert payback_years(0.0, -1.0) == 0.0


def test_the_cheapest_is_held_against_every_other() -> None:
    """Where every car is allowed to leave damp the cheapest is held against each other option at
    the drawn sites; it loses money there where its mean over the days is dearer by what matters."""
    site = SITE.with_values(
        {"allowed_damp_share": 1.0, "allowed_lost_cars": 5_000.0, "allowed_wait_p90_s": 14_400.0}
    )
    rows = weigh_options(OptionsQuestion(site, (peak(),), 10, 20260701, KNOWN))
    best = cheapest(rows)
    assert best is not None
    assert [row for row in rows if row.against is None] == [best]
    for row in rows:
        if row.against is not None:
            assert row.against.sites == 128
            assert row.against.bettered == row.against.loses <= 0.5


def test_the_cheapest_keeps_to_what_is_allowed(rows: dict[str, OptionRow]) -> None:
    """Of the rows that meet everything the one of least cost is named; none where none does."""
    held = [replace(row, keeps=True) for row in rows.values()]
    found = cheapest(held)
    assert found is not None
    assert found.figures["cost"] == min(row.figures["cost"] for row in held)
    others = [replace(row, keeps=row is not found) for row in held]
    second = cheapest(others)
    assert second is not None
    assert second.figures["cost"] == sorted(row.figures["cost"] for row in held)[1]
    assert cheapest([replace(row, keeps=False) for row in held]) is None


def test_what_has_no_room_is_not_offered() -> None:
    """A belt at its slowest is not slowed, a wheel at its fastest not turned faster, a day that is
    reduced all day not reduced; with one set there is no dry one; where an agent is in the rinse
    there is none to add, and a second cloth needs numbers of its own or is already hung."""
    used: dict[str, Value] = {
        "slowest_belt_m_s": 0.25, "fastest_wheel_rev_s": 1.5, "sets_owned": 1,
        "rinse_agent_factor": 0.8, "cloth_kind": "second",
    }  # fmt: skip
    full = SITE.with_values(used)
    keys = [option.key for option in options_of(full, Scenario("planned", "reduced"))]
    assert keys == ["planned", "one_more_set", "finisher"]
    one_kind = full.with_values({"cloth_kind": "first", "second_holding_factor": 1.0})
    assert "second_cloth" not in [one.key for one in options_of(one_kind, peak().planned)]


def test_a_timetable_of_speeds_is_slowed_in_proportion() -> None:
    """Each speed of a timetable is nine tenths of itself, none below what the manual allows."""
    table = ((0.0, 0.25), (36_000.0, 0.2))
    site = SITE.with_values({"speed_timetable": table, "slowest_belt_m_s": 0.19})
    slow = next(o for o in options_of(site, peak().planned) if o.key == "slower_belt")
    speeds = slow.scenario.changes["speed_timetable"]
    assert isinstance(speeds, tuple)
    assert np.allclose([row[1] for row in speeds if isinstance(row, tuple)], [0.225, 0.19])


def test_a_few_days_stand_for_all_peaks() -> None:
    """Of eight peak days four stand for the rest, the middles of pairs by cars; of three, all."""
    days = [peak(100.0 + 10 * n, date(2026, 7, 1 + n)) for n in range(8)]
    assert [one.day.day for one in stand_for(days)] == [2, 4, 6, 8]
    assert len(stand_for(days[:3])) == 3
