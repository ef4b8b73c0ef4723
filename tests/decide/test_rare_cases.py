"""What decisions are made of where there is little of it: no load, two days, one block, no car, a
set that nobody changes; and what a scenario has to have for each remedy."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from app.answers.switching import as_planned, with_remedy, with_setting
from sim.day.blocks import take_apart
from sim.day.drawn import prior_quantile
from sim.day.rules import FULL, Classes, Rule, Service
from sim.day.watched import between
from sim.decide.cloth.season import SeasonRun
from sim.decide.staff.queues import with_room
from sim.decide.staff.week import shifts_of_day
from sim.decide.switching.candidates import candidates, narrowed
from sim.decide.switching.reasons import Remedy, RemedyKind, slowed_belt, to_have
from sim.decide.switching.study import share_of
from sim.decide.switching.thresholds import least_apart
from sim.inputs import Site
from sim.inputs.roster import HoursLimits
from tests.pages import fixture_comparison as invented
from tests.pages.switch_content import clock, switch

SITE = Site("Any")


# ---- remedies ------------------------------------------------------------------------------------


def remedy(kind: RemedyKind, amount: float) -> Remedy:
    """Something that would help, by so much."""
    return Remedy(kind, amount, 20.0, FULL, True, 0.02, 8.0, 1.0, 400.0, 5.0, 3.0, 10.0, -40.0)


@pytest.mark.parametrize(
    ("kind", "amount", "changes", "cloth"),
    [
        ("slower_belt", 0.2, {"conveyor_speed_m_s": 0.2}, "11:00"),
        ("faster_idle", 1.5, {"idle_speed_rev_s": 1.5}, "11:00"),
        ("drying_agent", 0.8, {"rinse_agent_factor": 0.8}, "11:00"),
        ("second_cloth", 0.0, {"cloth_kind": "second"}, "11:00"),
        ("dry_set", 43_200.0, {}, "12:00"),
    ],
)
def test_a_remedy_is_entered_as_what_it_changes(
    kind: RemedyKind, amount: float, changes: dict[str, Any], cloth: str
) -> None:
    """Inputs for most, a time for a dry set; dry sets that are there stay with the others."""
    assert to_have(SITE, remedy(kind, amount), "11:00") == (changes, cloth)


def test_finishers_are_entered_all_day_and_cars_are_turned_away_by_nobody() -> None:
    """People behind the wheel stand in a timetable; fewer cars are nothing that a plan can have, so
    that asking for them is an error of whoever asks."""
    had = to_have(SITE, remedy("finisher", 1.0), "")
    assert had is not None
    assert set(had[0]) >= {"finishers"}
    assert to_have(SITE, remedy("fewer_cars", 0.1), "") is None
    plan = SimpleNamespace(scenarios=(SimpleNamespace(cloth="", changes={}),))
    view = SimpleNamespace(asked=SimpleNamespace(plan=plan, posed=SimpleNamespace(site=SITE)))
    with pytest.raises(ValueError, match="nothing is entered for fewer_cars"):
        with_remedy(cast(Any, view), remedy("fewer_cars", 0.1), "Fewer")
    with pytest.raises(ValueError, match="no setting"):
        with_setting(cast(Any, SimpleNamespace(result=None)))


def test_a_timetable_is_slowed_in_proportion_but_never_below_the_speed() -> None:
    """Two thirds of the usual speed: what ran at half of it before stays as it was."""
    table = ((0.0, 0.3), (43_200.0, 0.15))
    assert dict(slowed_belt(table, 0.2, 0.3)) == {
        "conveyor_speed_m_s": 0.2,
        "speed_timetable": ((0.0, pytest.approx(0.2)), (43_200.0, 0.15)),
    }
    assert dict(slowed_belt((), 0.2, 0.3)) == {"conveyor_speed_m_s": 0.2}


# ---- rules ---------------------------------------------------------------------------------------


def test_who_sells_full_wipes_may_spare_them_alone() -> None:
    """A rule by what was sold is tried where something is sold, and near any rule too; of two
    classes each may be spared."""
    sells = SITE.with_values({"full_service_share": 0.3})
    by_sale = Rule(((Service(),),))
    window = clock((12.0, 15.0))
    for site, is_tried in ((sells, True), (SITE.with_values({"full_service_share": 0.0}), False)):
        assert (by_sale in narrowed(site, window)) is is_tried
        assert (by_sale in candidates(site)) is is_tried
    two = replace(SITE, vehicles=SITE.vehicles[:2])
    keys = [one.key for one in two.vehicles]
    by_class = {Rule(((Classes((key,)),),)) for key in keys}
    assert by_class <= set(candidates(two))
    assert Rule(((Classes(tuple(keys)),),)) not in candidates(two)


def test_times_of_a_crew_lie_apart_as_switches_must() -> None:
    """A crew that must not switch twice within half an hour has no window shorter than that."""
    wishes = SITE.with_values({"least_between_switches_min": 30.0})
    assert least_apart(wishes, "clock", 43_200.0) == 1_800.0
    at_once = SITE.with_values({"least_between_switches_min": 0.0})
    assert 0.0 < least_apart(at_once, "clock", 43_200.0) < 1_800.0


def test_a_plan_that_lacks_a_rule_lends_no_figures() -> None:
    """Nor does one whose first column is another: an answer keeps its own figures then."""
    told = switch()
    plan = told.comparison
    assert as_planned(told, plan).comparison.columns == plan.columns
    lacks = invented.with_columns(plan, plan.columns[:2])
    assert as_planned(told, lacks) is told
    turned = invented.with_columns(plan, (plan.columns[1], plan.columns[0], plan.columns[2]))
    assert as_planned(told, turned) is told


def test_the_share_of_nothing_is_no_number() -> None:
    """Of a mean of 0 there is no share; of one day there is one without an error."""
    none, one = np.zeros(3), np.ones(1)
    assert all(math.isnan(value) for value in share_of(none, none))
    share, *ends = share_of(0.5 * one, one)
    assert share == 0.5
    assert all(math.isnan(value) for value in ends)


# ---- people --------------------------------------------------------------------------------------


def test_a_queue_that_nobody_joins_is_empty() -> None:
    """Without load nobody is present, surely; a negative load is none."""
    assert with_room(2, 0.0, 3) == (1.0, 0.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="no load below 0"):
        with_room(2, -1.0, 3)


def test_a_day_shorter_than_the_shortest_shift_has_that_shift() -> None:
    """Two hours of work by shifts of four at least: one shift, from the first half-hour on; at the
    end of the day it ends with it."""
    limits = HoursLimits(shortest_shift_h=4.0, longest_shift_h=6.0)
    early, late = np.zeros(48, int), np.zeros(48, int)
    early[20:24] = late[44:48] = 1
    (one,) = shifts_of_day(early, limits)
    assert (one.start, one.end) == (20, 28)
    (one,) = shifts_of_day(late, limits)
    assert (one.start, one.end) == (40, 48)
    assert shifts_of_day(np.zeros(48, int), limits) == ()


# ---- days ----------------------------------------------------------------------------------------


def test_two_days_of_one_block_have_no_run_error() -> None:
    """It needs blocks that differ. The day range is there all the same: both days lie as far from
    their mean as days of their variance do, √2 for 4 and 6."""
    one, far = take_apart(np.array([[[4.0, 6.0]]])), 0.9 * math.sqrt(2.0)
    assert one.mean == 5.0
    assert (one.day_low, one.day_high) == (pytest.approx(5.0 - far), pytest.approx(5.0 + far))
    assert math.isnan(one.error_low)
    single = take_apart(np.array([[[4.0]], [[6.0]]]))
    assert single.error_low < single.mean < single.error_high


def test_a_course_is_known_at_its_ends_too() -> None:
    """Before the first moment its value, after the last one that; in between straight."""
    knots = ((10, 1), (20, 3))
    assert [between(knots, at) for at in (5.0, 10.0, 15.0, 25.0)] == [1.0, 1.0, 2.0, 3.0]


def test_only_guesses_have_quantiles() -> None:
    """An input without a prior has none; one with a prior has its value in the middle."""
    with pytest.raises(ValueError, match="has no prior"):
        prior_quantile(SITE, "open_h", 0.5)
    name = "holding_capacity_kg_kg"
    middle, high = (prior_quantile(SITE, name, u) for u in (0.5, 0.9))
    assert middle == pytest.approx(float(str(SITE.value(name))), rel=0.05)
    assert high > middle


# ---- cloth ---------------------------------------------------------------------------------------


def test_a_season_of_one_day_each_tells_no_luck() -> None:
    """With one replication days of a kind can't differ; with two they do."""
    asked = cast(Any, SimpleNamespace())
    one = SeasonRun(asked, {"cost": np.array([[[3.0]], [[4.0]]])}, 1)
    assert one.luck("cost", 0).tolist() == [0.0, 0.0]
    two = SeasonRun(asked, {"cost": np.array([[[3.0, 5.0]], [[4.0, 4.0]]])}, 2)
    assert two.luck("cost", 0).tolist() == [pytest.approx(math.sqrt(2.0)), 0.0]
