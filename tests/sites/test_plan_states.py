"""The states of a plan: each version as it was, and what it changed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import update

from app.answers.planning import answer_then
from app.answers.serial import write
from app.db.session import Session
from app.db.tables import ChangeRow
from app.sites.changes import Gate
from app.sites.differences import PlanChange, plan_difference
from app.sites.plan_states import plan_states
from sim.inputs import Scenario
from tests.pages import fixture_comparison as invented
from tests.world import DAY, NOW

FULL = Scenario("Full")
NOON = Scenario("Noon", "clock 12:00-15:30", "13:00", {"conveyor_speed_m_s": 0.1 + 0.13})
LANES = Scenario("Lanes", changes={"pay_lanes": ((0.0, 2.0), (39600.0, 3.0))})


def test_every_version_comes_back_as_it_was(session: Session, gate: Gate, site_id: int) -> None:
    """Each version that was stored is there, newest first, exactly as it was stored, with who
    stored it and which change put the next in its place; other days' are not among them."""
    held = (("", (FULL, NOON, LANES)), ("91 °F", (FULL, NOON)), ("", (NOON,)))
    for version, (expect, scenarios) in enumerate(held):
        gate.store_plan(site_id, DAY, expect, scenarios, version, f"{version}")
    gate.store_plan(site_id, DAY.replace(day=19), "", (FULL,), 0, "other")
    states = plan_states(session, site_id, DAY)
    assert [(one.expect, one.scenarios) for one in reversed(states)] == list(held)
    assert [one.version for one in states] == [3, 2, 1]
    assert {one.person for one in states} == {"site manager"}
    assert [one.next_change for one in states] == [None, states[0].change, states[1].change]
    assert {one.lacks for one in states} == {()}
    assert states[0].changes == (
        PlanChange("", "expect", "91 °F", ""), PlanChange("Full", "scenario", FULL, None)
    )  # fmt: skip
    assert states[2].changes == ()


def test_an_input_that_is_none_any_more_is_named(
    session: Session, gate: Gate, site_id: int
) -> None:
    """A version that changed an input which the program has no more can be read, and says so."""
    gate.store_plan(site_id, DAY, "", (FULL,), 0, "a")
    scenario = {"name": "Old", "rule": "full", "cloth": "", "changes": {"gone_s": 1.0}}
    session.execute(
        update(ChangeRow)
        .where(ChangeRow.what == "plan")
        .values(new={"expect": "", "scenarios": [scenario]})
    )
    (state,) = plan_states(session, site_id, DAY)
    assert (state.scenarios, state.lacks) == ((Scenario("Old"),), ("gone_s",))


@pytest.mark.parametrize(
    ("old", "new", "changes"),
    [
        ((FULL, NOON), (FULL, NOON), ()),
        (
            (FULL, NOON),
            (NOON, FULL),
            (PlanChange("", "order", ["Full", "Noon"], ["Noon", "Full"]),),
        ),
        ((FULL,), (FULL, NOON), (PlanChange("Noon", "scenario", None, NOON),)),
        (
            (FULL, NOON),
            (FULL, Scenario("Midday", NOON.rule, NOON.cloth, NOON.changes)),
            (PlanChange("Midday", "name", "Noon", "Midday"),),
        ),
        (
            (NOON,),
            (Scenario("Noon", "full", "", {"loaders": ((0.0, 2.0),)}),),
            (
                PlanChange("Noon", "rule", "clock 12:00-15:30", "full"),
                PlanChange("Noon", "cloth", "13:00", ""),
                PlanChange("Noon", "conveyor_speed_m_s", 0.1 + 0.13, None),
                PlanChange("Noon", "loaders", None, ((0.0, 2.0),)),
            ),
        ),
        # A name that somebody else took: it is known again by its name, not by what it says.
        (
            (FULL, NOON),
            (Scenario("Noon", "full"), FULL),
            (
                PlanChange("Noon", "rule", "clock 12:00-15:30", "full"),
                PlanChange("Noon", "cloth", "13:00", ""),
                PlanChange("Noon", "conveyor_speed_m_s", 0.1 + 0.13, None),
                PlanChange("", "order", ["Full", "Noon"], ["Noon", "Full"]),
            ),
        ),
        # Renamed and moved at once: all the rest of it tells.
        (
            (FULL, NOON),
            (Scenario("Midday", NOON.rule, NOON.cloth, NOON.changes), FULL),
            (
                PlanChange("Midday", "name", "Noon", "Midday"),
                PlanChange("", "order", ["Full", "Noon"], ["Midday", "Full"]),
            ),
        ),
        # Neither name nor content is there any more: its place is all that tells.
        (
            (FULL, NOON),
            (FULL, Scenario("Evening", "clock 17:00-18:00", "13:00", NOON.changes)),
            (
                PlanChange("Evening", "name", "Noon", "Evening"),
                PlanChange("Evening", "rule", "clock 12:00-15:30", "clock 17:00-18:00"),
            ),
        ),
    ],
)
def test_what_a_version_changed(
    old: tuple[Scenario, ...], new: tuple[Scenario, ...], changes: tuple[PlanChange, ...]
) -> None:
    """A difference says what is new, gone, renamed, moved or otherwise, and nothing else."""
    assert plan_difference(("", old), ("", new)) == changes


def test_a_version_has_the_answer_of_its_time(session: Session, gate: Gate, site_id: int) -> None:
    """The answer that was stored while a version held, for its very scenarios, is its answer; one
    of another version, another day or another time is not."""
    found = invented.plan(invented.peak_day())
    scenarios = tuple(column.scenario for column in found.comparison.columns)
    gate.store_plan(site_id, DAY, "", scenarios, 0, "a")
    (state,) = plan_states(session, site_id, DAY)
    gate.store_result("other day", site_id, DAY.replace(day=19), write(found))
    assert answer_then(session, site_id, state) is None
    gate.store_result("own", site_id, DAY, write(found))
    assert answer_then(session, site_id, state) == (NOW, found)
    gate.store_plan(site_id, DAY, "dry", scenarios, 1, "b")
    newest, first = plan_states(session, site_id, DAY)
    assert answer_then(session, site_id, newest) is None
    gate.store_plan(site_id, DAY, "", scenarios[:1], 2, "c")
    gate.store_result("late", site_id, DAY, write(replace(found, origin="late")))
    newest, _second, first = plan_states(session, site_id, DAY)
    assert answer_then(session, site_id, first) == (NOW, found)
    assert answer_then(session, site_id, newest) is None
