"""The demo is brought in once, with its unweighed twin, and kept as it was changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from app.answers import planning
from app.answers.demo import bring_demo
from app.answers.planning import PlanView
from app.db import store
from app.db.session import Database, Session, open_database
from app.db.store import StoredSite
from app.sites.changes import Gate
from app.sites.demo import demo_data, demo_days, twin_data
from tests.world import content


@pytest.fixture(scope="module")
def opened() -> Iterator[Database]:
    """A database in memory in which the demo was prepared; reading it takes a while."""
    made = open_database(None)
    with made.session() as session:
        prepare(session)
    yield made
    made.close()


@pytest.fixture
def session(opened: Database) -> Iterator[Session]:
    """A session on it; what one test changes is still there for the next."""
    with opened.session() as made:
        yield made


def gate(session: Session) -> Gate:
    """The gate on a day long after the one on which the demo stands."""
    return Gate(session, store.built_in_person(session), datetime(2031, 2, 3, 12, tzinfo=UTC))


def prepare(session: Session) -> tuple[StoredSite, PlanView]:
    """What `clothcast demo` does before it computes."""
    return bring_demo(gate(session))


def everything(session: Session) -> dict[str, list[Any]]:
    """All that the database holds, without keeping a transaction open."""
    found = content(session)
    session.rollback()
    return found


def test_the_demo_comes_with_its_peak_day(session: Session) -> None:
    """The first start brings the site and a plan of the day on which it stands to compute."""
    stored, view = prepare(session)
    assert stored.version == 1
    assert stored.data.stands_on == view.day == demo_days()["humid_peak"]
    assert store.load_history(session, stored.id) == demo_data().history
    assert stored.data.weighings == demo_data().weighings
    assert (view.asked.version, view.asked.scenarios) == (1, planning.DEFAULT_SCENARIOS)
    assert (view.asked.problems, view.result) == ((), None)
    assert view.asked.question is not None


def test_its_twin_comes_with_it(session: Session) -> None:
    """The same place and past, on the same day, with nothing measured."""
    twin = store.find_site(session, twin_data().site.name)
    assert twin is not None
    assert store.load_history(session, twin.id) == demo_data().history
    assert twin.data.stands_on == demo_data().stands_on
    assert twin.data.weighings == ()
    assert twin.data.given < demo_data().given


def test_a_second_start_changes_nothing(session: Session) -> None:
    """Whenever it is started again, nothing is written."""
    before = everything(session)
    prepare(session)
    assert everything(session) == before


def test_a_demo_of_an_earlier_version_stays_beside_it(session: Session) -> None:
    """One whose year moved with the clock keeps all that was entered, under another name."""
    stored, _view = prepare(session)
    old = replace(stored.data, history=demo_data().history, stands_on=None)
    gate(session).replace_site(stored.id, old, stored.version, "old")
    fresh, view = prepare(session)
    assert fresh.id != stored.id
    assert fresh.data == demo_data_without_past()
    assert view.day == demo_days()["humid_peak"]
    kept = store.get_site(session, stored.id)
    assert kept.data.site.name.startswith(f"{demo_data().site.name}, kept")
    assert replace(kept.data.site, name="") == replace(old.site, name="")
    before = everything(session)
    prepare(session)
    assert everything(session) == before


def demo_data_without_past() -> object:
    """The demo as a stored site has it, whose past and log lie elsewhere."""
    data = demo_data()
    return replace(data, history=replace(data.history, counts=(), weather=(), days=()), log=())


def test_a_renamed_demo_stays_and_another_one_comes(session: Session) -> None:
    """Somebody who made the demo their own keeps it; the demo comes again beside it, even twice,
    and a plan of its peak day with it."""
    ours = []
    for name in ("My Wash", "Mine Too"):
        stored, _view = prepare(session)
        gate(session).set_inputs(
            stored.id, {"conveyor_speed_m_s": 0.27}, name=name,
            expected_version=stored.version, request_key=name,
        )  # fmt: skip
        ours.append(stored.id)
    fresh, view = prepare(session)
    assert fresh.id not in ours
    assert fresh.data.site.name == demo_data().site.name
    assert view.asked.version == 1
    assert view.asked.question is not None
    kept = store.find_site(session, "My Wash")
    assert kept is not None
    assert kept.data.site.line.conveyor_speed_m_s == 0.27
