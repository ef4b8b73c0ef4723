"""The demo is brought in once, kept as it was changed, and its year laid anew when it is old."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from app.answers import planning
from app.answers.planning import PlanView
from app.cli.workspace import bring_demo
from app.db import store
from app.db.session import Database, Session, open_database
from app.db.store import StoredSite
from app.sites.changes import Gate
from app.sites.demo import demo_data, demo_days
from sim.inputs import ClothBook, ClothSet
from tests.world import content

TODAY = date(2026, 7, 15)


@pytest.fixture(scope="module")
def opened() -> Iterator[Database]:
    """A database in memory in which the demo was prepared on `TODAY`; reading it takes a while."""
    made = open_database(None)
    with made.session() as session:
        prepare(session, TODAY)
    yield made
    made.close()


@pytest.fixture
def session(opened: Database) -> Iterator[Session]:
    """A session on it; what one test changes is still there for the next."""
    with opened.session() as made:
        yield made


def gate(session: Session, today: date) -> Gate:
    """The gate at noon of a day."""
    moment = datetime.combine(today, time(12), tzinfo=UTC)
    return Gate(session, store.built_in_person(session), moment)


def prepare(session: Session, today: date) -> tuple[StoredSite, PlanView]:
    """What `clothcast demo` does on a day before it computes."""
    return bring_demo(session, gate(session, today), today)


def everything(session: Session) -> dict[str, list[Any]]:
    """All that the database holds, without keeping a transaction open."""
    found = content(session)
    session.rollback()
    return found


def test_the_demo_comes_with_its_peak_day(session: Session) -> None:
    """The first start brings the site as it is laid, and a plan of its humid peak to compute."""
    stored, view = prepare(session, TODAY)
    assert stored.version == 1
    assert store.load_history(session, stored.id) == demo_data(TODAY).history
    assert view.day == demo_days(TODAY)["humid_peak"]
    assert (view.asked.version, view.asked.scenarios) == (1, planning.DEFAULT_SCENARIOS)
    assert (view.asked.problems, view.result) == ((), None)
    assert view.asked.question is not None


@pytest.mark.parametrize("later", [0, 1, 4])
def test_a_second_start_changes_nothing(session: Session, later: int) -> None:
    """Started again within its week, nothing but a plan of the peak day then is written."""
    today = TODAY + timedelta(days=later)
    before = everything(session)
    prepare(session, today)
    after = everything(session)
    if demo_days(today)["humid_peak"] == demo_days(TODAY)["humid_peak"]:
        assert after == before
    kept = [name for name in before if name in ("sites", "inputs", "counts", "weather", "days")]
    assert len(kept) >= 4
    assert {name: after[name] for name in kept} == {name: before[name] for name in kept}


def test_eight_days_later_its_year_is_laid_anew(session: Session) -> None:
    """Inputs, name of units and plans entered meanwhile stay; only the past is another one."""
    stored, view = prepare(session, TODAY)
    gate(session, TODAY).set_inputs(
        stored.id, {"conveyor_speed_m_s": 0.28}, units="si",
        expected_version=stored.version, request_key="mine",
    )  # fmt: skip
    later = TODAY + timedelta(days=8)
    renewed, then = prepare(session, later)
    assert renewed.id == stored.id
    assert renewed.data.site.line.conveyor_speed_m_s == 0.28
    assert renewed.data.units == "si"
    assert "conveyor_speed_m_s" in renewed.data.given
    assert store.load_history(session, stored.id) == demo_data(later).history
    assert renewed.data.cloth == demo_data(later).cloth != demo_data(TODAY).cloth
    assert then.day == demo_days(later)["humid_peak"] != view.day
    assert store.find_plan(session, stored.id, view.day) is not None
    before = everything(session)
    prepare(session, later)
    assert everything(session) == before


def test_a_record_of_cloth_that_somebody_kept_stays(session: Session) -> None:
    """What the crew of the demo entered is not laid anew with its year."""
    stored, _view = prepare(session, TODAY)
    held = stored.data.cloth
    mine = ClothBook((*held.sets, ClothSet("Mine")), held.events)
    gate(session, TODAY).set_book(stored.id, "cloth", mine, stored.version, "cloth")
    renewed, _view = prepare(session, TODAY + timedelta(days=16))
    assert renewed.data.cloth == mine


def test_a_renamed_demo_stays_and_another_one_comes(session: Session) -> None:
    """Somebody who made the demo their own keeps it; the demo comes again beside it, even twice
    on one day, and a plan of its peak day with it."""
    ours = []
    for name in ("My Wash", "Mine Too"):
        stored, _view = prepare(session, TODAY)
        gate(session, TODAY).set_inputs(
            stored.id, {"conveyor_speed_m_s": 0.27}, name=name,
            expected_version=stored.version, request_key=name,
        )  # fmt: skip
        ours.append(stored.id)
    fresh, view = prepare(session, TODAY)
    assert fresh.id not in ours
    assert fresh.data.site.name == demo_data(TODAY).site.name
    assert view.asked.version == 1
    assert view.asked.question is not None
    kept = store.find_site(session, "My Wash")
    assert kept is not None
    assert kept.data.site.line.conveyor_speed_m_s == 0.27
