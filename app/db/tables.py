"""The tables. Values of inputs are JSON text, so that every float comes back bit for bit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import ClassVar, cast

from sqlalchemy import (
    Column,
    ColumnElement,
    Date,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeEngine

from sim.inputs import COUNTS, INPUTS, KEPT, LOG, NOTED, PAST, WEATHER, AnyRows, Entry, Value
from sim.inputs.rows import Cell, Day, Several, Whole, Word

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}
"""Names of constraints, so that a later migration can speak of each."""


def encode(content: object) -> str:
    """Plain content as JSON text; a float is written with as many digits as it needs, a date by
    ISO 8601.

    Raises:
        ValueError: for what JSON has no word for, such as infinity.
    """
    return json.dumps(
        content, ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_iso
    )


def _iso(content: object) -> str:
    if isinstance(content, date):
        return content.isoformat()
    raise TypeError(f"JSON has no word for {content!r}")


def shaped(entry: Entry, content: object) -> Value:
    """A value as the table of inputs holds it: lists of JSON become tuples again.

    Raises:
        TypeError: if the content is no value of any input.
    """
    if isinstance(content, list | tuple):
        if entry.kind == "steps":
            return tuple((row[0], row[1]) for row in content)
        return tuple(content)
    if isinstance(content, bool | int | float | str):
        return content
    raise TypeError(f"{entry.name} cannot be {content!r}")


def values_of(held: Mapping[str, object]) -> dict[str, Value]:
    """Values by the name of their input; raises KeyError for a name that is no input."""
    return {name: shaped(INPUTS[name], content) for name, content in held.items()}


class Moment(TypeDecorator[datetime]):
    """A moment kept in UTC; goes in and comes out with its time zone."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without a time zone: nobody could tell when it was."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the moment {value} has no time zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the time zone back."""
        return None if value is None else value.replace(tzinfo=UTC)


class Plain(TypeDecorator[object]):
    """Plain content as JSON text, see `encode`; None is no text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: object, dialect: Dialect) -> str | None:
        """To text."""
        return None if value is None else encode(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> object:
        """From text."""
        return None if value is None else json.loads(value)


class Listed(TypeDecorator[tuple[object, ...]]):
    """Several parts of a cell as a JSON list of texts."""

    impl = Text
    cache_ok = True

    def __init__(self, cell: Several) -> None:
        super().__init__()
        self.cell = cell

    def process_bind_param(self, value: tuple[object, ...] | None, dialect: Dialect) -> str | None:
        """To text."""
        return None if value is None else encode(self.cell.plain(value))

    def process_result_value(self, value: str | None, dialect: Dialect) -> tuple[object, ...]:
        """From text."""
        return self.cell.of_plain(json.loads(value or "[]"))


class Base(DeclarativeBase):
    """All tables but those of rows."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar[dict[type, type[object]]] = {
        datetime: Moment,
        float: Double,
        date: Date,
        str: Text,
    }


class PersonRow(Base):
    """Somebody who changes things; the first one is built in."""

    __tablename__ = "persons"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(60), unique=True)


class SiteRow(Base):
    """A site; `version` grows by one with every change to anything of it but plans.

    `stands_on` is a date, or empty where the clock tells the day.
    """

    __tablename__ = "sites"
    id: Mapped[int] = mapped_column(primary_key=True)
    slug: Mapped[str] = mapped_column(String(80), unique=True)
    name: Mapped[str] = mapped_column(String(60), unique=True)
    timezone: Mapped[str] = mapped_column(String(60))
    units: Mapped[str] = mapped_column(String(2))
    reference_class: Mapped[str] = mapped_column(String(60))
    counted: Mapped[str] = mapped_column(String(10))
    stands_on: Mapped[str] = mapped_column(String(10))
    version: Mapped[int]


class InputRow(Base):
    """An input that a site entered itself (`given`), or that is not at its default."""

    __tablename__ = "input_values"
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True)
    name: Mapped[str] = mapped_column(String(60), primary_key=True)
    value: Mapped[object] = mapped_column(Plain)
    given: Mapped[bool]


class ClassRow(Base):
    """A vehicle class; `numbers` by name, as `ClassNumbers` has them."""

    __tablename__ = "vehicle_classes"
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(String(60))
    label: Mapped[str] = mapped_column(String(60))
    numbers: Mapped[dict[str, float]] = mapped_column(Plain)


LONG = (COUNTS, WEATHER)
"""Rows of long tables, only ever read by their primary key: one tree instead of two."""


def _table(rows: AnyRows) -> Table:
    """The table of a kind of row, a column a cell, in the order of its key or of its places."""
    places = [] if rows.key else [Column("position", Integer, primary_key=True)]
    return Table(
        rows.table,
        Base.metadata,
        Column("site_id", ForeignKey("sites.id"), primary_key=True),
        *places,
        *(
            Column(
                name,
                _type(cell),
                primary_key=name in rows.key,
                nullable=cell.empty is None,
            )
            for name, cell in rows.cells.items()
        ),
        sqlite_with_rowid=rows not in LONG,
    )


def _type(cell: Cell) -> TypeEngine[object]:
    if isinstance(cell, Several):
        return cast("TypeEngine[object]", Listed(cell))
    if isinstance(cell, Word):
        return cast("TypeEngine[object]", String(cell.longest) if cell.longest else Text())
    plain = {Day: Date(), Whole: Integer()}.get(type(cell), Double())
    return cast("TypeEngine[object]", plain)


ROWS: dict[AnyRows, Table] = {rows: _table(rows) for rows in (*PAST, *KEPT, *NOTED)}
"""The tables of a site's rows."""
Index(None, ROWS[LOG].c.site_id, ROWS[LOG].c.day)


class PlanRow(Base):
    """A planned day; `expect` is what was typed over the expected day."""

    __tablename__ = "plans"
    __table_args__ = (UniqueConstraint("site_id", "day"),)
    id: Mapped[int] = mapped_column(primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    day: Mapped[date]
    version: Mapped[int]
    expect: Mapped[str]


class ScenarioRow(Base):
    """One column of a planned day; `changes` are values by name of the input."""

    __tablename__ = "scenarios"
    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(60))
    rule: Mapped[str]
    cloth: Mapped[str]
    changes: Mapped[dict[str, object]] = mapped_column(Plain)


class ResultRow(Base):
    """A computed answer under the key of everything that went into it.

    `is_final` is False for a first answer, which a finer one will replace.
    """

    __tablename__ = "results"
    __table_args__ = (Index(None, "site_id", "at"),)
    key: Mapped[str] = mapped_column(String(80), primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    day: Mapped[date]
    at: Mapped[datetime]
    payload: Mapped[str]
    is_final: Mapped[bool] = mapped_column(server_default=text("1"))

    @classmethod
    def of_kind(cls, schema: str) -> ColumnElement[bool]:
        """Whether it is an answer of a kind."""
        return cls.payload.startswith(f'{{"schema":"{schema}"')


class StudyRow(Base):
    """A long computation: the question by its key, who asked, how far it is and who has it.

    `holder` is the id of the server process that computes it, which must write before
    `lease_until`, or another may take the study up; one that is known to be gone holds nothing.
    `reason` says why it was begun before anybody asked; empty for what a person asked for. `asker`
    is who of those that the person's name stands for, `spent_s` processor time so far.
    """

    __tablename__ = "studies"
    __table_args__ = (Index(None, "site_id", "asked_at"),)
    key: Mapped[str] = mapped_column(String(80), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    day: Mapped[date]
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"))
    asked_at: Mapped[datetime]
    state: Mapped[str] = mapped_column(String(20))
    done: Mapped[int]
    total: Mapped[int]
    sentence: Mapped[str]
    holder: Mapped[str] = mapped_column(String(40))
    began_at: Mapped[datetime | None]
    beat_at: Mapped[datetime | None]
    lease_until: Mapped[datetime | None]
    reason: Mapped[str] = mapped_column(server_default=text("''"))
    asker: Mapped[str] = mapped_column(String(40), server_default=text("''"))
    spent_s: Mapped[float] = mapped_column(server_default=text("0"))


class AheadRow(Base):
    """Processor time that work before anybody asked took on a day of the server's clock [s]."""

    __tablename__ = "days_ahead"
    day: Mapped[date] = mapped_column(primary_key=True)
    spent_s: Mapped[float]


class CalendarRow(Base):
    """What was exported into a calendar [s after midnight on the site's clock, min].

    `start_s` is None for a whole day; `sequence` counts its changes since it was new.
    """

    __tablename__ = "calendar_entries"
    __table_args__ = (Index(None, "site_id", "day"),)
    uid: Mapped[str] = mapped_column(String(80), primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    key: Mapped[str] = mapped_column(String(40))
    day: Mapped[date]
    start_s: Mapped[float | None]
    minutes: Mapped[float]
    summary: Mapped[str]
    description: Mapped[str]
    sequence: Mapped[int]
    is_cancelled: Mapped[bool]
    at: Mapped[datetime]


class ExportRow(Base):
    """How files of counts of a shape are read; `said` is what was decided, `name` the last one."""

    __tablename__ = "exports"
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True)
    shape: Mapped[str] = mapped_column(String(20), primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    said: Mapped[dict[str, str]] = mapped_column(Plain)
    at: Mapped[datetime]


class PhoneRow(Base):
    """A phone's or a screen's way in at a site: a link with a secret of its own, of which a digest
    is kept; it may be used until it is `revoked_at`. `may` is ``log`` for a phone's and ``see`` for
    a screen's."""

    __tablename__ = "phones"
    id: Mapped[int] = mapped_column(primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    name: Mapped[str] = mapped_column(String(40))
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    may: Mapped[str] = mapped_column(String(10), server_default="log")


class AccountRow(Base):
    """Somebody who may sign in: an owner, a manager or an attendant, until he is gone.

    `password` is an argon2id hash, of an attendant's short code as well; empty until one is chosen.
    `one_time` is the secret of one-time passwords, empty for none, and `one_time_step` the newest
    step of time whose password was taken.
    """

    __tablename__ = "accounts"
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"), primary_key=True)
    role: Mapped[str] = mapped_column(String(10))
    password: Mapped[str]
    one_time: Mapped[str]
    one_time_step: Mapped[int]
    made_at: Mapped[datetime]
    gone_at: Mapped[datetime | None]


class AccountSiteRow(Base):
    """A site at which a manager or an attendant was let in."""

    __tablename__ = "account_sites"
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"), primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True)


class PasskeyRow(Base):
    """A passkey of somebody: its id and public key, both as URL-safe text, and how often its device
    says that it was used."""

    __tablename__ = "passkeys"
    key: Mapped[str] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"))
    public: Mapped[str]
    count: Mapped[int]
    name: Mapped[str] = mapped_column(String(40))
    made_at: Mapped[datetime]


class SessionRow(Base):
    """A browser in which somebody is signed in, by the digest of its cookie's secret.

    `phone_id` is the phone by whose link it came; `where` is what the browser calls itself.
    """

    __tablename__ = "sessions"
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"))
    phone_id: Mapped[int | None] = mapped_column(ForeignKey("phones.id"))
    made_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    where: Mapped[str] = mapped_column(String(80))


class InvitationRow(Base):
    """A code by which somebody chooses a password, by its digest, until it is used or too old;
    without a person it makes the first owner."""

    __tablename__ = "invitations"
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("persons.id"))
    until: Mapped[datetime]


class TokenRow(Base):
    """A program's way in, by the digest of its token: as whom it changes things, what it may do
    (words with spaces between), until when, and on which day it was used last."""

    __tablename__ = "tokens"
    id: Mapped[int] = mapped_column(primary_key=True)
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    name: Mapped[str] = mapped_column(String(40))
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"))
    scopes: Mapped[str] = mapped_column(String(80))
    made_at: Mapped[datetime]
    until: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    seen_on: Mapped[date | None]


class TokenSiteRow(Base):
    """A site that a program's token is for."""

    __tablename__ = "token_sites"
    token_id: Mapped[int] = mapped_column(ForeignKey("tokens.id"), primary_key=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True)


class TokenAnswerRow(Base):
    """What a request of a program was answered that may come again, by its key and a digest of what
    it asked."""

    __tablename__ = "token_answers"
    token_id: Mapped[int] = mapped_column(ForeignKey("tokens.id"), primary_key=True)
    key: Mapped[str] = mapped_column(String(80), primary_key=True)
    digest: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    body: Mapped[str]
    at: Mapped[datetime]


class TokenDayRow(Base):
    """Processor time that what a program asked for took on a day of the server's clock [s]."""

    __tablename__ = "token_days"
    token_id: Mapped[int] = mapped_column(ForeignKey("tokens.id"), primary_key=True)
    day: Mapped[date] = mapped_column(primary_key=True)
    spent_s: Mapped[float]


class ChangeRow(Base):
    """One thing that somebody changed; `old` and `new` are None for a default.

    `version` is the version of the site (of the plan, for a plan) that the change made; what
    changes of people has no site, and version 0. `chain` is the hash of the row and of all before
    it (`app.db.chain`).
    """

    __tablename__ = "changes"
    __table_args__ = (Index(None, "site_id", "id"),)
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    person_id: Mapped[int] = mapped_column(ForeignKey("persons.id"))
    site_id: Mapped[int | None] = mapped_column(ForeignKey("sites.id"))
    what: Mapped[str] = mapped_column(String(20))
    field: Mapped[str] = mapped_column(String(80))
    old: Mapped[object | None] = mapped_column(Plain)
    new: Mapped[object | None] = mapped_column(Plain)
    version: Mapped[int]
    request_key: Mapped[str] = mapped_column(String(120))
    chain: Mapped[str] = mapped_column(String(64), server_default=text("''"))


class RequestRow(Base):
    """A request that was carried out: its key, a digest of what it asked, and its outcome."""

    __tablename__ = "requests"
    key: Mapped[str] = mapped_column(String(120), primary_key=True)
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    at: Mapped[datetime]
    outcome: Mapped[str]
