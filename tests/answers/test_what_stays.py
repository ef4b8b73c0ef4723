"""Which answers an entry leaves alone, and which it has worked out anew."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from app.answers.answer import Desk
from app.answers.kinds import KINDS
from app.db.session import Database, open_database
from app.sites.changes import Gate, Outcome
from app.sites.reading import find, gate
from sim.inputs import ClothBook, ClothEvent, ClothSet, History, HourCount, Person, StaffBook
from sim.inputs.cloth_book import PUT_ON
from tests.small_wash import PLANNED, TODAY, small_wash
from tests.world import NOW

OF_DAYS = {"plan", "switch", "staff", "maps"}
ALL = OF_DAYS | {"coming", "cloth", "season"}
DAYS = {"coming": TODAY, "cloth": TODAY, "season": TODAY}


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    """A database with the small wash."""
    opened = open_database(tmp_path / "data.sqlite3")
    with gate(opened, NOW) as writes:
        writes.create_site(small_wash(), "site")
    yield opened
    opened.close()


def keys(database: Database) -> dict[str, str]:
    """The key of each kind's question as it is now."""
    with database.session() as session:
        desk = Desk(session, find(session, "small-wash"))
        return {name: desk.open(KINDS[name], DAYS.get(name, PLANNED)).key for name in ALL}


def publish(writes: Gate) -> Outcome:
    """Somebody can be put on a roster."""
    return writes.set_book(1, "staff", StaffBook((Person("Person 1", (), 20.0),)), 1, "staff")


def change_cloth(writes: Gate) -> Outcome:
    """A set is put on the wheel."""
    day = date(2026, 7, 15)
    book = ClothBook((ClothSet("A", day),), (ClothEvent(day, 25_200.0, PUT_ON, "A"),))
    return writes.set_book(1, "cloth", book, 1, "cloth", TODAY)


def count(writes: Gate) -> Outcome:
    """An hour was counted anew."""
    fresh = replace(History("arrived"), counts=(HourCount(date(2026, 7, 11), 8, 0, 60),))
    return writes.store_hours(1, fresh, 1, "count")


def enter(writes: Gate) -> Outcome:
    """An input became the site's own."""
    return writes.set_inputs(1, {"film_cv": 0.3}, expected_version=1, request_key="input")


@pytest.mark.parametrize(
    ("entry", "changed"),
    [
        (publish, set()),
        (change_cloth, {"cloth", "season"}),
        (count, ALL),
        (enter, ALL),
    ],
)
def test_an_entry_changes_the_questions_that_rest_on_it_alone(
    database: Database, entry: Callable[[Gate], Outcome], changed: set[str]
) -> None:
    """People leave every answer but rosters as it is, a change of cloth leaves all that is about
    days; a count or an input changes every question that is asked of such a day."""
    before = keys(database)
    assert all(before.values())
    with gate(database, NOW) as writes:
        assert entry(writes).changed
    after = keys(database)
    assert {name for name in ALL if after[name] != before[name]} == changed


def test_the_same_site_read_anew_asks_the_same_questions(database: Database) -> None:
    """Another server, which reads everything afresh, names every question alike."""
    assert keys(database) == keys(database)
