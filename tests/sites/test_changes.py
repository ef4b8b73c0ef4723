"""The gate: who changed what, when, from what to what, knowing which version."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from app.db import store
from app.db.session import Session
from app.sites.changes import Gate, Outcome, Stale
from sim.errors import InputError
from sim.inputs import (
    DEFAULT_CLASSES,
    Site,
    SiteData,
    Value,
)
from tests.world import DAY, NAME, NOW, content


def test_a_changed_input_is_told_in_full(session: Session, gate: Gate, site_id: int) -> None:
    """The history says who, when, which input, from what to what, and which version it made."""
    outcome = gate.set_inputs(site_id, {"load_mean_s": 15.5}, expected_version=1, request_key="a")
    assert outcome == Outcome(site_id, 2, ("load_mean_s",))
    newest = store.input_history(session, site_id)[0]
    assert replace(newest, id=0) == store.Change(
        0, NOW, "site manager", "inputs", "load_mean_s", None, 15.5, 2
    )
    stored = store.get_site(session, site_id)
    assert stored.data.site.pay.load_mean_s == 15.5
    assert stored.data.given == {"load_mean_s"}


def test_a_second_change_tells_the_first_value(session: Session, gate: Gate, site_id: int) -> None:
    """Old and new of a later change are the values before and after it."""
    gate.set_inputs(site_id, {"load_mean_s": 15.5}, expected_version=1, request_key="a")
    gate.set_inputs(site_id, {"load_mean_s": 16.5}, expected_version=2, request_key="b")
    newest = store.input_history(session, site_id, limit=1)
    assert [(change.old, change.new) for change in newest] == [(15.5, 16.5)]


def test_an_input_can_be_forgotten(session: Session, gate: Gate, site_id: int) -> None:
    """The value None brings the default back, and the input is no longer the site's own."""
    gate.set_inputs(site_id, {"load_mean_s": 15.5}, expected_version=1, request_key="a")
    gate.set_inputs(site_id, {"load_mean_s": None}, expected_version=2, request_key="b")
    data = store.get_site(session, site_id).data
    assert (data.site.pay.load_mean_s, data.given) == (14, frozenset())
    newest = store.input_history(session, site_id, limit=1)[0]
    assert (newest.old, newest.new) == (15.5, None)


def test_what_is_entered_as_it_is_changes_nothing(
    session: Session, gate: Gate, site_id: int
) -> None:
    """Sending a form of defaults back makes no history, no version and nothing one's own."""
    before = content(session)
    outcome = gate.set_inputs(
        site_id, Site(NAME).values(), DEFAULT_CLASSES, "us", expected_version=1, request_key="a"
    )
    after = content(session)
    assert outcome == Outcome(site_id, 1)
    assert {name: rows for name, rows in after.items() if name != "requests"} == {
        name: rows for name, rows in before.items() if name != "requests"
    }


def test_name_zone_units_and_classes_change_together(
    session: Session, gate: Gate, site_id: int
) -> None:
    """What belongs to the site itself goes through the same gate, in one version."""
    classes = tuple(item for item in DEFAULT_CLASSES if item.key != "van")
    shares = {"small": 0.1, "sedan": 0.3, "utility": 0.4, "pickup": 0.2}
    classes = tuple(
        replace(item, numbers=replace(item.numbers, share=shares[item.key])) for item in classes
    )
    outcome = gate.set_inputs(
        site_id,
        {},
        classes,
        "si",
        name="Renamed",
        timezone="America/Chicago",
        reference_class="utility",
        expected_version=1,
        request_key="a",
    )
    assert outcome.version == 2
    assert set(outcome.changed) == {"name", "timezone", "units", "reference_class", "vehicles"}
    stored = store.get_site(session, site_id)
    expected = Site("Renamed", "America/Chicago", vehicles=classes, reference_class="utility")
    assert stored.data == SiteData(expected, "si")
    assert stored.slug == "invented-wash", "addresses stay"


def test_every_bad_input_is_named_and_nothing_stored(
    session: Session, gate: Gate, site_id: int
) -> None:
    """An unknown name, a value out of range and a bad zone come back together."""
    before = content(session)
    values: dict[str, Value | None] = {"load_mean_s": -3.0, "conveyor_sped_m_s": 0.2}
    with pytest.raises(InputError) as caught:
        gate.set_inputs(site_id, values, timezone="Mars/Base", expected_version=1, request_key="a")
    fields = [problem.field for problem in caught.value.problems]
    assert sorted(fields) == ["conveyor_sped_m_s", "load_mean_s", "timezone"]
    assert content(session) == before


def test_inputs_that_do_not_go_together_are_refused(gate: Gate, site_id: int) -> None:
    """A rule that joins two inputs is kept even if only one of them is sent."""
    with pytest.raises(InputError, match="Last car accepted"):
        gate.set_inputs(site_id, {"close_h": 6.0}, expected_version=1, request_key="a")


def test_the_same_request_twice_is_carried_out_once(
    session: Session, gate: Gate, site_id: int
) -> None:
    """A form that arrives twice changes once, and the second answer is the first one."""
    first = gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    gate.set_inputs(site_id, {"load_mean_s": 18.0}, expected_version=2, request_key="b")
    before = content(session)
    again = gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    assert again == replace(first, repeated=True)
    assert content(session) == before


def test_a_key_with_other_content_is_no_repetition(gate: Gate, site_id: int) -> None:
    """A form sent, gone back to and sent again with another value is not swallowed."""
    gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    with pytest.raises(Stale):
        gate.set_inputs(site_id, {"load_mean_s": 16.0}, expected_version=1, request_key="a")


def test_a_site_made_twice_by_one_request_is_one_site(session: Session, gate: Gate) -> None:
    """Creating is repeated without harm."""
    data = SiteData(Site(NAME), given=frozenset({"load_mean_s", "open_h", "close_h"}))
    first = gate.create_site(data, "create")
    assert gate.create_site(data, "create") == replace(first, repeated=True)
    assert len(store.list_sites(session)) == 1


def test_a_request_needs_a_key(gate: Gate, site_id: int) -> None:
    """Without a key nobody could tell a repetition."""
    with pytest.raises(ValueError, match="needs a request key"):
        gate.set_inputs(site_id, {}, expected_version=1, request_key="")


def test_a_moment_needs_a_time_zone(session: Session) -> None:
    """A moment without a zone is refused before anything is written."""
    with pytest.raises(ValueError, match="needs a time zone"):
        Gate(session, store.built_in_person(session), NOW.replace(tzinfo=None))


def test_a_stale_version_says_who_when_and_what(session: Session, gate: Gate, site_id: int) -> None:
    """The loser learns who was first, at what time, and which fields changed since."""
    later = Gate(session, store.built_in_person(session), NOW + timedelta(hours=1))
    gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    later.mark_day(site_id, DAY, "closed", expected_version=2, request_key="b")
    before = content(session)
    with pytest.raises(Stale) as caught:
        gate.set_inputs(site_id, {"open_h": 8.0}, expected_version=1, request_key="c")
    stale = caught.value
    assert (stale.expected, stale.version) == (1, 3)
    assert (stale.person, stale.at) == ("site manager", NOW + timedelta(hours=1))
    assert stale.fields == ("2026-07-18", "load_mean_s")
    assert str(stale).startswith(
        "site manager changed this at 2026-07-18 10:30 UTC: 2026-07-18, Loading time with one "
    )
    assert content(session) == before


def test_a_stale_version_is_told_even_if_nothing_would_change(gate: Gate, site_id: int) -> None:
    """Whoever sends what happens to be stored meanwhile still learns that somebody was there."""
    gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    with pytest.raises(Stale, match="Loading time with one loader"):
        gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="b")


def test_a_version_that_never_was_is_stale(gate: Gate, site_id: int) -> None:
    """A page of a database that was since put back to an earlier state is refused."""
    with pytest.raises(Stale, match="What you saw is not what is stored"):
        gate.set_inputs(site_id, {"open_h": 8.0}, expected_version=9, request_key="a")


def test_an_unknown_site_is_told(gate: Gate) -> None:
    """Nothing is made up for a site that is not there."""
    with pytest.raises(LookupError, match="there is no site 7"):
        gate.set_inputs(7, {}, expected_version=1, request_key="a")


def test_a_name_is_taken_once(session: Session, gate: Gate, site_id: int) -> None:
    """Names that differ in capitals only would be mistaken for one another."""
    with pytest.raises(InputError, match="A site called “Invented Wash” is there already"):
        gate.create_site(SiteData(Site("INVENTED wash")), "b")
    other = gate.create_site(SiteData(Site("Other")), "c").site_id
    with pytest.raises(InputError, match="is there already"):
        gate.set_inputs(other, {}, name=NAME, expected_version=1, request_key="d")
    assert [line.name for line in store.list_sites(session)] == [NAME, "Other"]
