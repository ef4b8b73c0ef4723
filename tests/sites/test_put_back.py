"""Rows that were taken away come back for thirty days."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from app.db import store
from app.db.session import Session
from app.sites.changes import Gate
from sim.errors import InputError
from sim.inputs import Person, StaffBook
from sim.inputs.logbook import NOTE
from tests.log import logged
from tests.world import NOW

PEOPLE = (Person("Ann", ("loader",)), Person("Bea", ("finisher",)), Person("Cem", ("loader",)))


@pytest.fixture
def taken(session: Session, gate: Gate, site_id: int) -> int:
    """The number of the change that took Bea away."""
    gate.set_book(site_id, "staff", StaffBook(PEOPLE), 1, "a")
    gate.set_book(site_id, "staff", StaffBook((PEOPLE[0], PEOPLE[2])), 2, "b")
    newest = store.input_history(session, site_id)[0]
    assert (newest.field, newest.new) == ("Bea", None)
    return newest.id


def test_a_row_comes_back_as_it_was(session: Session, gate: Gate, site_id: int, taken: int) -> None:
    """With every cell, as a change of its own; sent twice it is done once."""
    outcome = gate.put_back(site_id, taken, 3, "c")
    assert outcome.version == 4
    people = store.get_site(session, site_id).data.staff.people
    assert set(people) == set(PEOPLE)
    assert store.input_history(session, site_id)[0].old is None
    assert gate.put_back(site_id, taken, 3, "c").version == 4


def test_a_row_that_is_there_again_is_refused(
    session: Session, gate: Gate, site_id: int, taken: int
) -> None:
    """Somebody entered another Bea meanwhile: said with the book's own words, nothing written."""
    other = replace(PEOPLE[1], roles=("loader",))
    gate.set_book(site_id, "staff", StaffBook((*PEOPLE[:1], other)), 3, "c")
    with pytest.raises(InputError, match="Bea"):
        gate.put_back(site_id, taken, 4, "d")
    assert store.get_site(session, site_id).data.staff.people[-1] == other


def test_thirty_days_are_thirty_days(session: Session, site_id: int, taken: int) -> None:
    """On the thirtieth day it comes back, a minute later it is told what to do instead."""
    person = store.built_in_person(session)
    late = Gate(session, person, NOW + timedelta(days=30, minutes=1))
    with pytest.raises(InputError, match=r"2026-07-18, more than 30 days ago\. Enter it anew"):
        late.put_back(site_id, taken, 3, "c")
    in_time = Gate(session, person, NOW + timedelta(days=30))
    assert in_time.put_back(site_id, taken, 3, "d").version == 4


def test_only_what_was_taken_away_comes_back(
    session: Session, gate: Gate, site_id: int, taken: int
) -> None:
    """Not a row that was added or altered, not an input, not an entry of the logbook, which is
    never gone; a number of no change is a LookupError."""
    gate.set_inputs(site_id, {"load_mean_s": 15.5}, expected_version=3, request_key="c")
    gate.enter(site_id, [entry for entry in logged() if entry.kind == NOTE], "d")
    dearer = replace(PEOPLE[0], wage_per_h=25.0)
    gate.set_book(site_id, "staff", StaffBook((dearer, PEOPLE[2])), 4, "altered")
    for change in store.input_history(session, site_id):
        if change.id != taken:
            with pytest.raises(InputError, match="took no row away"):
                gate.put_back(site_id, change.id, 5, f"e {change.id}")
    with pytest.raises(LookupError):
        gate.put_back(site_id, 10_000, 5, "f")
