"""The chain of the history: any row that was changed, put in or taken out is found."""

from __future__ import annotations

import hashlib
import json

import pytest
from sqlalchemy import (
    Column,
    ColumnElement,
    MetaData,
    Table,
    func,
    insert,
    literal,
    literal_column,
    select,
    text,
    update,
)

from app.db import store
from app.db.chain import BEGIN, last_link, link, shown, typed, verify
from app.db.session import Session, begin_write
from app.db.tables import ChangeRow
from app.sites.changes import Gate
from sim.inputs import Scenario
from sim.inputs.logbook import NOTE
from tests.log import logged
from tests.seeds import generator
from tests.world import DAY, NOW

CHANGES = Table("changes", MetaData(), *(Column(column.name) for column in ChangeRow.__table__.c))
"""The history with its cells as they lie in the file, without types."""


@pytest.fixture
def written(session: Session, gate: Gate, site_id: int) -> Session:
    """A history of a dozen rows: inputs, entries of the logbook, a correction, a plan."""
    gate.set_inputs(site_id, {"load_mean_s": 15.5}, expected_version=1, request_key="a")
    entries = logged()
    gate.enter(site_id, entries, "b")
    gate.enter(site_id, [entry for entry in entries if entry.kind == NOTE][:1], "c")
    gate.store_plan(site_id, DAY, "+10 %", [Scenario("Full")], 0, "d")
    return session


def test_a_link_is_sha_256_of_the_row_and_of_the_link_before() -> None:
    """As its description says, computed by hand: SHA-256 (FIPS 180-4) of a JSON list in UTF-8."""
    cells = {
        "at": NOW, "person_id": 1, "site_id": 2, "what": "inputs", "field": "load_mean_s",
        "old": None, "new": "15.5", "version": 2, "request_key": "“a”",
    }  # fmt: skip
    said = json.dumps(
        [BEGIN, "2026-07-18T09:30:00+00:00", 1, 2, "inputs", "load_mean_s", None, "15.5", 2, "“a”"],
        ensure_ascii=False, separators=(",", ":"),
    )  # fmt: skip
    assert link(BEGIN, cells) == hashlib.sha256(said.encode()).hexdigest()


def test_a_history_as_it_was_written_is_whole(written: Session) -> None:
    """Nothing is wrong, the end is the last link, and each value that the history once ended with
    is found by its twenty digits, typed as they are printed."""
    found = verify(written)
    assert found.is_whole, found.breaks
    rows = written.execute(text("SELECT count(*) FROM changes")).scalar_one()
    assert (found.rows, found.end) == (rows, last_link(written))
    for held in written.execute(text("SELECT chain FROM changes")).scalars().all():
        there = verify(written, typed(shown(held)))
        assert there.is_whole
        assert there.held_at == NOW


@pytest.mark.parametrize("chain", ["0" * 64, "f" * 64, "00ff" * 16, "8000000000000000" * 4])
def test_what_is_printed_is_the_beginning_of_a_link(chain: str) -> None:
    """Twenty digits for sixteen letters, one to one; a whole link is itself."""
    assert len(shown(chain).replace(" ", "")) == 20
    assert typed(shown(chain)) == chain[:16]
    assert typed(chain) == chain


def test_an_empty_history_is_whole(session: Session) -> None:
    """A new database has no row to follow and ends at the beginning."""
    assert verify(session).end in (BEGIN, last_link(session))


@pytest.mark.parametrize(
    "column", ["at", "person_id", "what", "field", "old", "new", "version", "request_key", "chain"]
)
def test_any_cell_that_was_changed_is_found(written: Session, column: str) -> None:
    """One cell of one drawn row, changed past the gate: that row is named."""
    rng = generator(f"chain {column}")
    numbers = written.execute(text("SELECT id FROM changes")).scalars().all()
    number = int(rng.choice(numbers))
    held: ColumnElement[object] = literal_column(column)
    other = {"at": literal("2026-07-18 09:31:00.000000"), "person_id": held + 1}.get(
        column, func.coalesce(held, "").op("||")("1")
    )
    begin_write(written)
    written.execute(text("PRAGMA defer_foreign_keys = ON"))
    changed = update(CHANGES).where(CHANGES.c.id == number).values({column: other})
    written.execute(changed)
    found = verify(written)
    assert any(f"Row {number} of the history" in str(one) for one in found.breaks)
    written.rollback()


def test_a_row_taken_out_or_put_in_is_found(written: Session) -> None:
    """The row behind the gap is named; so is one that was put in between."""
    numbers = written.execute(text("SELECT id FROM changes ORDER BY id")).scalars().all()
    middle = numbers[len(numbers) // 2]
    begin_write(written)
    written.execute(text("DELETE FROM changes WHERE id = :n"), {"n": middle})
    assert [f"Row {middle + 1} of" in str(one) for one in verify(written).breaks][:1] == [True]
    written.rollback()
    begin_write(written)
    written.execute(text("UPDATE changes SET id = id + 1000 WHERE id > :n"), {"n": middle})
    names = [column.name for column in CHANGES.c if column.name != "id"]
    copied = select(literal(middle + 1), *(CHANGES.c[name] for name in names))
    twice = insert(CHANGES).from_select(["id", *names], copied.where(CHANGES.c.id == middle))
    written.execute(twice)
    assert not verify(written).is_whole
    written.rollback()


def test_what_was_cut_off_is_found_by_a_printed_value_alone(written: Session) -> None:
    """Without its last rows a chain is whole in itself; the value of a sheet that was printed
    before tells that they are gone."""
    printed = last_link(written)[:16]
    begin_write(written)
    written.execute(text("DELETE FROM changes WHERE id = (SELECT max(id) FROM changes)"))
    assert [str(one) for one in verify(written, printed).breaks] == [
        f"No row of the history has the value {printed}: it was rewritten, or cut short."
    ]
    written.rollback()


def test_an_entry_changed_past_the_gate_is_found(written: Session) -> None:
    """The logbook's rows are held against what the history last said of them."""
    key = store.load_log(written, 1, DAY, DAY)[0].key
    begin_write(written)
    written.execute(text("UPDATE log SET text = 'another' WHERE key = :k"), {"k": key})
    assert [str(one) for one in verify(written).breaks] == [
        f"The logbook’s entry {key} of {DAY} is not what the history says of it."
    ]
    written.rollback()


@pytest.mark.parametrize(
    "value", ["", "abc", "g" * 64, "a" * 65, "1" * 19, "9" * 20, "DROP TABLE changes"]
)
def test_what_is_no_value_is_refused(value: str) -> None:
    """With the value, and what would be right."""
    with pytest.raises(ValueError, match="give the 20 digits of a sheet"):
        typed(value)
