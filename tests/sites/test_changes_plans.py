"""The gate for plans and results."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from app.answers.serial import write
from app.db import store, writes
from app.db.session import Session
from app.db.tables import ChangeRow, ResultRow
from app.sites.changes import Gate, Outcome, Stale
from sim.errors import InputError
from sim.inputs import (
    Scenario,
    Site,
    SiteData,
)
from tests.world import DAY, NOW, answer_under, content

PLAN = (
    Scenario("full"),
    Scenario("noon", "clock 12:00-15:30", "13:00", {"conveyor_speed_m_s": 0.1 + 0.13}),
    Scenario("lanes", changes={"pay_lanes": ((0.0, 2.0), (39600.0, 3.0)), "sets_owned": 4}),
)


def test_a_plan_comes_back_as_it_was(session: Session, gate: Gate, site_id: int) -> None:
    """Scenarios with their rules, dry sets and changed inputs survive, in order."""
    outcome = gate.store_plan(site_id, DAY, "91 °F, 70 %", PLAN, 0, "a")
    assert outcome == Outcome(site_id, 1, ("2026-07-18",))
    plan = store.find_plan(session, site_id, DAY)
    assert plan is not None
    assert (plan.version, plan.expect, plan.scenarios) == (1, "91 °F, 70 %", PLAN)
    gate.store_plan(site_id, DAY, "", PLAN[:1], 1, "b")
    changed = store.find_plan(session, site_id, DAY)
    assert changed == store.StoredPlan(plan.id, DAY, 2, "", PLAN[:1])
    assert store.load_plans(session, site_id) == {DAY: changed}
    assert store.find_plan(session, site_id, DAY + timedelta(days=1)) is None


def test_a_stale_plan_is_told(session: Session, gate: Gate, site_id: int) -> None:
    """A plan has versions of its own; the site's stays, and a new plan is no second one."""
    gate.store_plan(site_id, DAY, "", PLAN, 0, "a")
    with pytest.raises(Stale, match="2026-07-18") as caught:
        gate.store_plan(site_id, DAY, "", PLAN[:2], 0, "b")
    assert caught.value.fields == ("2026-07-18",)
    assert store.get_site(session, site_id).version == 1
    assert store.input_history(session, site_id, 1)[0].version == 1


def test_bad_scenarios_are_all_named(session: Session, gate: Gate, site_id: int) -> None:
    """A bad rule, dry set, input, name and line typed over the day come back together."""
    bad = (
        Scenario("one", "sometimes", "noon", {"car_spacing_m": 2.0}),
        Scenario("one", changes={"car_spacin_m": 6.0}),
    )
    with pytest.raises(InputError) as caught:
        gate.store_plan(site_id, DAY, "soaking", bad, 0, "a")
    said = [str(problem) for problem in caught.value.problems]
    assert len(said) == 6
    assert "Two scenarios are called “one”. Give each its own name." in said
    assert any(text.startswith("one: Wiping rule “sometimes”") for text in said)
    assert any(text.startswith("one: Dry set “noon”") for text in said)
    assert any("Did you mean car_spacing_m?" in text for text in said)
    assert store.find_plan(session, site_id, DAY) is None


@pytest.mark.parametrize("count", [0, 7])
def test_too_few_or_many_scenarios_are_refused(gate: Gate, site_id: int, count: int) -> None:
    """A comparison has one to six columns."""
    some = [Scenario(f"number {n}") for n in range(count)]
    with pytest.raises(InputError, match=f"{count} scenarios can't be compared. Keep 1 to 6."):
        gate.store_plan(site_id, DAY, "", some, 0, "a")


def test_no_plan_is_stored_for_a_failed_safety_device(gate: Gate, site_id: int) -> None:
    """A scenario that names a safety device as failed is refused with what to do instead."""
    with pytest.raises(InputError, match="stop, lock out, and call licensed service"):
        gate.store_plan(site_id, DAY, "", [Scenario("emergency stop bridged")], 0, "a")


def test_a_result_is_kept_once(session: Session, gate: Gate, site_id: int) -> None:
    """A comparison comes back to the last bit and is not stored a second time."""
    payload = {"schema": "clothcast.plan/1", "figures": [0.1 + 0.2, None, "–"]}
    gate.store_result("key", site_id, DAY, write(payload))
    before = content(session)
    gate.store_result("key", site_id, DAY, write(payload))
    assert answer_under(session, "key") == payload
    assert answer_under(session, "other") is None
    assert content(session) == before
    told = session.scalars(select(ChangeRow.what).order_by(ChangeRow.id.desc())).first()
    assert told == "result"
    assert "result" not in {change.what for change in store.input_history(session, site_id)}


def test_old_results_make_room(
    session: Session, gate: Gate, site_id: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only the newest results of a site are kept, so that the database does not grow for ever."""
    monkeypatch.setattr(writes, "KEPT_RESULTS", 3)
    person = store.built_in_person(session)
    other = gate.create_site(SiteData(Site("Other")), "other").site_id
    gate.store_result("kept", other, DAY, write({}))
    for minute in range(5):
        later = Gate(session, person, NOW + timedelta(minutes=minute))
        later.store_result(f"key {minute}", site_id, DAY, write({"minute": minute}))
    assert session.scalar(select(func.count()).select_from(ResultRow)) == 4
    assert answer_under(session, "key 1") is None
    assert answer_under(session, "key 2") == {"minute": 2}
    assert answer_under(session, "kept") == {}
