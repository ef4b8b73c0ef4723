"""The chain of the history: every row holds a hash of itself and of all before it.

Each link is SHA-256 (FIPS 180-4) of a JSON list, in UTF-8: the link before it, then the row's own
cells in the order of `CELLS`. A row that is changed, moved, put in or taken out between two others
breaks the chain there. Rows cut off at the end break nothing, and whoever has the file can make a
whole new chain: only a link that was written down elsewhere, such as on a printed sheet, tells.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

from sqlalchemy import Text, func, select, text, type_coerce
from sqlalchemy.orm import Session

from app.db.tables import ROWS, ChangeRow, encode
from sim.errors import quoted
from sim.inputs import LOG, LogEntry

CELLS = ("at", "person_id", "site_id", "what", "field", "old", "new", "version", "request_key")
"""Columns of the history that a link is made of."""
BEGIN = "0" * 64
"""What stands before the first link."""
SHOWN, DIGITS = 16, 20
"""Letters of a link that are printed, as a number of so many digits: 64 bits, which nobody finds
another history for by chance, and which can be read out."""
WHOLE, PRINTED = re.compile(r"[0-9a-f]{64}"), re.compile(r"[0-9]{20}")
AT_ONCE = 2_000
"""Rows that are read at once while a chain is followed."""


@dataclass(frozen=True, slots=True)
class Break:
    """Where a database is not as it was written.

    Attributes:
        sentence: what is wrong, with gaps in braces; values: what fills them.
    """

    sentence: str
    values: Mapping[str, object]

    def __str__(self) -> str:
        return self.sentence.format(**self.values)


@dataclass(frozen=True, slots=True)
class Verified:
    """What following a chain found.

    Attributes:
        rows: rows of the history that were followed.
        end: the last link; `BEGIN` where there is none.
        held_at: when the row was written whose link was asked for; None where none has it.
        breaks: everything that is wrong.
    """

    rows: int
    end: str
    held_at: datetime | None
    breaks: tuple[Break, ...]

    @property
    def is_whole(self) -> bool:
        """Whether nothing is wrong."""
        return not self.breaks


def link(before: str, cells: Mapping[str, object]) -> str:
    """The link of a row.

    Args:
        before: link of the row before it; `BEGIN` for the first.
        cells: the row by `CELLS`; ``at`` as a moment, ``old`` and ``new`` as the JSON text that is
            stored, or None.
    """
    told: list[object] = [before]
    for name in CELLS:
        cell = cells[name]
        told.append(cell.astimezone(UTC).isoformat() if isinstance(cell, datetime) else cell)
    return hashlib.sha256(encode(told).encode()).hexdigest()


def last_link(session: Session) -> str:
    """The link of the newest row of the history."""
    found = session.scalar(select(ChangeRow.chain).order_by(ChangeRow.id.desc()).limit(1))
    return found or BEGIN


def shown(chain: str) -> str:
    """A link as it is printed: twenty digits in fours."""
    number = f"{int(chain[:SHOWN], 16):0{DIGITS}d}"
    return " ".join(number[at : at + 4] for at in range(0, DIGITS, 4))


def typed(value: str) -> str:
    """A link, or its beginning, as somebody typed it off a sheet or took it from a command.

    Raises:
        ValueError: with what is wrong, if it can't be one.
    """
    letters = "".join(value.split()).lower()
    if WHOLE.fullmatch(letters):
        return letters
    if PRINTED.fullmatch(letters) and int(letters) < 16**SHOWN:
        return f"{int(letters):0{SHOWN}x}"
    raise ValueError(
        f"“{quoted(value)}” is no value of the history: give the 20 digits of a sheet, or all 64 "
        "letters and digits that a command told."
    )


def verify(session: Session, against: str = "") -> Verified:
    """Follow the chain from its first row to its last, and look at the file itself.

    Args:
        against: a link, or its first `SHOWN` letters, that the history once ended with.
    """
    breaks: list[Break] = []
    for (said,) in session.execute(text("PRAGMA integrity_check")):
        if said != "ok":
            breaks.append(Break("The file is damaged: {said}.", {"said": said}))
    for table, *_rest in session.execute(text("PRAGMA foreign_key_check")):
        breaks.append(Break("A row of {table} belongs to nothing.", {"table": table}))
    before, rows, held_at = BEGIN, 0, None
    for number, written, cells in _rows(session):
        rows += 1
        at = cast("datetime", cells["at"])
        right = link(before, cells)
        if written != right:
            breaks.append(
                Break(
                    "Row {number} of the history, of {at} UTC ({what} {field}), is not as it was "
                    "written, or a row before it was put in or taken out.",
                    {"number": number, "at": f"{at:%Y-%m-%d %H:%M}", "what": cells["what"],
                     "field": cells["field"]},
                )
            )  # fmt: skip
        if against and right.startswith(against):
            held_at = at
        before = written
    if against and held_at is None:
        sentence = "No row of the history has the value {value}: it was rewritten, or cut short."
        breaks.append(Break(sentence, {"value": against}))
    breaks += _entries_apart(session)
    return Verified(rows, before, held_at, tuple(breaks))


def _rows(session: Session) -> Iterator[tuple[int, str, dict[str, object]]]:
    """Number, link and cells of every row of the history, in order, as `link` takes them."""
    raw = [
        type_coerce(ChangeRow.__table__.c[name], Text) if name in ("old", "new")
        else ChangeRow.__table__.c[name]
        for name in CELLS
    ]  # fmt: skip
    asked = select(ChangeRow.id, ChangeRow.chain, *raw).order_by(ChangeRow.id)
    for row in session.execute(asked.execution_options(yield_per=AT_ONCE)):
        yield row[0], row[1], dict(zip(CELLS, row[2:], strict=True))


def _entries_apart(session: Session) -> list[Break]:
    """Entries of logbooks that are not what the history last said of them."""
    table, said = ROWS[LOG], ChangeRow
    newest = (
        select(func.max(said.id).label("id"))
        .where(said.what == LOG.what)
        .group_by(said.site_id, said.field)
        .subquery()
    )
    asked = (
        select(table, said.new)
        .join(said, (said.site_id == table.c.site_id) & (said.field == table.c.key))
        .join(newest, newest.c.id == said.id)
    )
    found = []
    for row in session.execute(asked).mappings():
        entry = LogEntry(*(row[name] for name in LOG.cells))
        if encode(LOG.plain(entry)) != encode(row["new"]):
            sentence = "The logbook’s entry {key} of {day} is not what the history says of it."
            found.append(Break(sentence, {"key": entry.key, "day": entry.day}))
    return found
