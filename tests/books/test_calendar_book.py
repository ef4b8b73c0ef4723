"""A calendar from one export to the next: what stays, what moves, what goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest

from app.db import store
from app.db.session import Session
from app.db.store import CalendarEntry, Exported, load_calendar
from app.sites.calendar import entries_of, follow
from app.sites.changes import Gate
from sim.inputs import Site
from tests.season_found import SEASON
from tests.world import NOW

TODAY = date(2026, 7, 18)
LATER = NOW + timedelta(days=1)


def entry(key: str, ahead: int, summary: str = "Cloth") -> CalendarEntry:
    """An entry so many days from today."""
    return CalendarEntry(key, TODAY + timedelta(days=ahead), 23_100.0, 35.0, summary, "")


def numbers() -> Iterator[str]:
    """Identities one after another."""
    return (f"{n}@test" for n in count(1))


def exported(*entries: CalendarEntry) -> tuple[Exported, ...]:
    """What a first export keeps."""
    uids = numbers()
    return follow((), entries, TODAY, NOW, lambda: next(uids))


def again(
    kept: tuple[Exported, ...], *entries: CalendarEntry, today: date = TODAY
) -> tuple[Exported, ...]:
    """The next export; new entries get identities that begin with n."""
    return follow(kept, entries, today, LATER, lambda: f"n{len(entries)}@test")


def test_new_entries_begin_at_zero() -> None:
    """A first export numbers every entry 0, each with an identity of its own."""
    kept = exported(entry("a", 1), entry("b", 2))
    assert [(row.uid, row.sequence, row.is_cancelled) for row in kept] == [
        ("1@test", 0, False), ("2@test", 0, False),
    ]  # fmt: skip


def test_what_is_unchanged_stays_as_it_was() -> None:
    """The same entries give the same rows, moment of change included."""
    kept = exported(entry("a", 1), entry("b", 2))
    assert again(kept, entry("a", 1), entry("b", 2)) == kept


@pytest.mark.parametrize("moved", [entry("a", 3), entry("a", 1, "Other words")])
def test_what_moves_keeps_its_identity_and_counts_up(moved: CalendarEntry) -> None:
    """Another day, or other words: the same identity, the next number, the moment of now."""
    (row,) = again(exported(entry("a", 1)), moved)
    assert (row.uid, row.sequence, row.entry, row.at) == ("1@test", 1, moved, LATER)


def test_what_is_gone_is_cancelled_once() -> None:
    """An entry that is no longer wanted is cancelled with the next number, and then left so."""
    gone = again(exported(entry("a", 1), entry("b", 2)), entry("b", 2))
    first = next(row for row in gone if row.entry.key == "a")
    assert (first.uid, first.sequence, first.is_cancelled) == ("1@test", 1, True)
    assert again(gone, entry("b", 2)) == gone


def test_what_comes_back_is_the_same_entry() -> None:
    """A cancelled entry that is wanted again keeps its identity and counts up once more."""
    gone = again(exported(entry("a", 1)))
    (row,) = again(gone, entry("a", 1))
    assert (row.uid, row.sequence, row.is_cancelled) == ("1@test", 2, False)


def test_what_has_passed_is_left_alone() -> None:
    """A day that has passed is neither cancelled nor moved; the next thing of its key is new."""
    kept = exported(entry("a", 1))
    rows = again(kept, entry("a", 9), today=TODAY + timedelta(days=5))
    assert rows[0] == kept[0]
    assert (rows[1].uid, rows[1].sequence) == ("n1@test", 0)


def test_entries_of_a_season() -> None:
    """Laundry mornings and changes begin so long before opening as a change takes; an order that
    is late stands on today and says so."""
    change = replace(SEASON.changes[0], high=None)
    found = replace(SEASON, changes=(change,))
    site = Site("A").with_values({"open_h": 7.0, "set_change_min": 35.0})
    order, laundry, changed = entries_of(found, site, TODAY)
    assert (order.key, order.day, order.start_s) == ("order-1", TODAY, None)
    assert "It should have gone out by 10 July 2026." in order.description
    assert (laundry.key, laundry.start_s, laundry.minutes) == ("laundry-2026-07-25", 23_100.0, 35.0)
    assert changed.day == date(2026, 8, 4)
    assert "30 July 2026 and after the season" in changed.description
    assert [row.summary for row in (order, laundry, changed)] == [
        f"Cloth: order {SEASON.orders[0].quantity} new",
        "Cloth: set to the laundry, hang the next dry one", "Cloth: change a worn set, about now",
    ]  # fmt: skip
    early, *_others = entries_of(found, site, SEASON.orders[0].by)
    assert (early.day, early.description) == (SEASON.orders[0].by, "For change 1.")


def test_the_gate_keeps_what_was_exported(session: Session, gate: Gate, site_id: int) -> None:
    """What is kept comes back from the database as it was; an unchanged export writes nothing and
    adds nothing to the site's history."""
    uids = numbers()
    wanted = [entry("a", 1), CalendarEntry("b", TODAY, None, 0.0, "Ärger, „ja“", "")]
    gate.keep_calendar(site_id, wanted, TODAY, lambda: next(uids))
    kept = load_calendar(session, site_id)
    assert {row.entry for row in kept} == set(wanted)
    assert all(row.at == NOW for row in kept)
    later = Gate(session, store.built_in_person(session), LATER)
    outcome = later.keep_calendar(site_id, wanted, TODAY, lambda: next(uids))
    assert outcome.changed == ()
    assert load_calendar(session, site_id) == kept
    later.keep_calendar(site_id, wanted[:1], TODAY, lambda: next(uids))
    assert [row.is_cancelled for row in load_calendar(session, site_id)] == [True, False]
    assert "calendar" not in {change.what for change in store.input_history(session, site_id)}
