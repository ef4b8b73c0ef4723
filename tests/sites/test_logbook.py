"""The logbook through the gate: an entry is stored once, whatever is sent how often."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from app.books import entry_problems
from app.db import store
from app.db.session import Session
from app.sites.changes import Gate
from app.sites.folder import read_folder, write_folder
from app.sites.reading import whole_site
from sim.errors import InputError
from sim.inputs import LOG, LogEntry
from sim.inputs.logbook import CARS, DAMP_HOODS, LOGGED, NAMED, STATES
from tests.log import logged
from tests.world import DAY, NOW

ENTRY = LogEntry("first-one", DAY, 39_600.0, CARS, count=212, by="Ada")


def test_an_entry_is_stored_and_told(session: Session, gate: Gate, site_id: int) -> None:
    """The history has it whole; the site has no new version, so nobody was overtaken."""
    outcome = gate.enter(site_id, [ENTRY], "a", DAY)
    assert (outcome.version, outcome.changed) == (1, (ENTRY.key,))
    assert store.load_log(session, site_id, DAY, DAY) == (ENTRY,)
    (newest,) = store.log_changes(session, site_id, [ENTRY.key])
    assert (newest.at, newest.what, newest.old, newest.new) == (NOW, "log", None, LOG.plain(ENTRY))


def test_what_is_sent_again_is_stored_once(session: Session, gate: Gate, site_id: int) -> None:
    """Under the same request key, under another one, and after somebody has corrected it."""
    corrected = replace(ENTRY, count=221)
    gate.enter(site_id, [ENTRY], "a")
    gate.enter(site_id, [ENTRY], "b")
    gate.enter(site_id, [corrected], "c")
    gate.enter(site_id, [ENTRY], "a")
    assert store.load_log(session, site_id) == (corrected,)
    told = [(c.old, c.new) for c in store.log_changes(session, site_id)]
    assert told == [(LOG.plain(ENTRY), LOG.plain(corrected)), (None, LOG.plain(ENTRY))]


def test_an_entry_that_was_taken_back_stays(session: Session, gate: Gate, site_id: int) -> None:
    """It counts for nothing, and can be taken up again."""
    gate.enter(site_id, [ENTRY], "a")
    gate.enter(site_id, [replace(ENTRY, struck="yes")], "b")
    (held,) = store.load_log(session, site_id)
    assert (held.counts, held.count) == (False, 212)
    gate.enter(site_id, [ENTRY], "c")
    assert store.load_log(session, site_id) == (ENTRY,)


def test_days_are_read_apart(session: Session, gate: Gate, site_id: int) -> None:
    """Each in the order of its time, however it came in."""
    before = replace(ENTRY, key="yesterday", day=DAY - timedelta(days=1))
    early = replace(ENTRY, key="early-one", at_s=32_400.0)
    gate.enter(site_id, [ENTRY, before, early], "a")
    assert store.load_log(session, site_id, DAY, DAY) == (early, ENTRY)
    assert store.load_log(session, site_id) == (before, early, ENTRY)
    assert store.find_entries(session, site_id, [before.key, "no-such-one"]) == {before.key: before}


def test_one_bad_entry_keeps_out_all_of_a_request(
    session: Session, gate: Gate, site_id: int
) -> None:
    """With the field, the value and what would be right; nothing is stored."""
    bad = replace(ENTRY, key="bad-entry", count=None)
    with pytest.raises(InputError, match="Enter how many, 0 for none"):
        gate.enter(site_id, [ENTRY, bad], "a")
    with pytest.raises(InputError, match="is still to come"):
        gate.enter(site_id, [replace(ENTRY, day=DAY + timedelta(days=1))], "b", DAY)
    assert store.load_log(session, site_id) == ()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"key": "short"}, "key"),
        ({"key": "with a space"}, "key"),
        ({"kind": DAMP_HOODS, "count": 4}, "of"),
        ({"kind": DAMP_HOODS, "count": 24, "of": 20}, "count"),
        ({"kind": "strip", "count": None}, "weight_kg"),
        ({"kind": "wiping", "count": None}, "word"),
        ({"kind": "wiping", "count": None, "word": "half"}, "word"),
        ({"word": "full"}, "word"),
        ({"kind": "stop", "count": None}, "name"),
        ({"kind": "device", "count": None, "word": "down", "name": "clock"}, "name"),
        ({"kind": "weather", "count": None}, "text"),
        ({"kind": "weather", "count": None, "text": "lovely"}, "text"),
        ({"kind": "timed", "count": None, "name": "pay", "text": "slow"}, "text"),
        ({"kind": "timed", "count": None, "name": "load", "text": "12 4000"}, "text"),
        ({"kind": "timed", "count": None, "name": "tea", "text": "12"}, "name"),
        ({"kind": "note", "count": None}, "text"),
        ({"text": "x" * 401}, "text"),
    ],
)
def test_what_an_entry_lacks_is_told_by_its_field(change: dict[str, object], field: str) -> None:
    """Whatever its kind."""
    changes: dict[str, object] = change
    entry = LOG.of_plain({**LOG.plain(ENTRY), **changes})
    assert [p.field for p in entry_problems(entry)] == [field]


def test_every_kind_of_entry_can_be_made() -> None:
    """One of each kind is fine, and is of no other kind: its own fields belong to it alone."""
    entries = logged()
    assert sorted({entry.kind for entry in entries}) == sorted(LOGGED)
    assert [p for e in entries for p in (*LOG.problems_of(e), *entry_problems(e))] == []
    for entry in entries:
        assert (entry.kind in STATES) == bool(entry.word)
        assert (entry.kind in NAMED) == bool(entry.name)


def test_a_folder_gives_the_logbook_back_and_adds_to_it(
    session: Session, gate: Gate, site_id: int, tmp_path: Path
) -> None:
    """To the last bit; a folder that comes in again takes nothing out that was entered since."""
    gate.enter(site_id, logged(), "a")
    stored = store.get_site(session, site_id)
    data = whole_site(session, stored)
    write_folder(tmp_path, data)
    assert read_folder(tmp_path) == data
    gate.enter(site_id, [ENTRY, replace(logged()[0], reading=3.5)], "b")
    outcome = gate.replace_site(site_id, read_folder(tmp_path), stored.version, "c")
    assert outcome.changed == (logged()[0].key,)
    assert set(store.load_log(session, site_id)) == {*logged(), ENTRY}


def test_a_phone_may_write_until_it_is_revoked(session: Session, gate: Gate, site_id: int) -> None:
    """It is known by the digest of its secret alone."""
    gate.add_phone(site_id, "Exit", "d" * 64)
    phone = store.find_phone(session, "d" * 64)
    assert phone is not None
    assert (phone.site_id, phone.name, phone.made_at, phone.revoked_at) == (
        site_id, "Exit", NOW, None,
    )  # fmt: skip
    assert store.find_phone(session, "e" * 64) is None
    gate.revoke_phone(site_id, phone.id)
    assert store.find_phone(session, "d" * 64) is None
    assert [one.revoked_at for one in store.load_phones(session, site_id)] == [NOW]
    with pytest.raises(LookupError, match="no phone"):
        gate.revoke_phone(site_id, phone.id + 1)
