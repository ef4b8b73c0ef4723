"""Reading the database: plain records and inputs come out, never rows. Nothing here writes."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple, TypeVar, cast

from sqlalchemy import ColumnElement, and_, func, or_, select, true
from sqlalchemy.orm import InstrumentedAttribute, Session

from app.db.pages import entry_of
from app.db.tables import (
    ROWS,
    CalendarRow,
    ChangeRow,
    ClassRow,
    ExportRow,
    InputRow,
    PersonRow,
    PhoneRow,
    PlanRow,
    RequestRow,
    ResultRow,
    ScenarioRow,
    SiteRow,
    shaped,
    values_of,
)
from sim.inputs import (
    INPUTS,
    KEPT,
    LOG,
    PAST,
    SHIFTS,
    ClassNumbers,
    History,
    LogEntry,
    Rows,
    Scenario,
    Site,
    SiteData,
    VehicleClass,
)

T = TypeVar("T")
BUILT_IN_PERSON_ID = 1
_PHONE = (
    PhoneRow.id, PhoneRow.site_id, PhoneRow.name, PhoneRow.made_at, PhoneRow.revoked_at,
    PhoneRow.may,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who changes things."""

    id: int
    name: str


@dataclass(frozen=True, slots=True)
class SiteLine:
    """A site in a list of sites."""

    id: int
    slug: str
    name: str
    version: int


@dataclass(frozen=True, slots=True)
class StoredSite:
    """A site with its inputs; `data.history` is left empty but for what was counted."""

    id: int
    slug: str
    version: int
    data: SiteData


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """A planned day; `expect` is what was typed over the expected day."""

    id: int
    day: date
    version: int
    expect: str
    scenarios: tuple[Scenario, ...]


@dataclass(frozen=True, slots=True)
class StoredResult:
    """A computed answer as text; `is_final` is False for one that a finer one will replace."""

    text: str
    is_final: bool


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that somebody changed.

    Attributes:
        what: ``site``, ``inputs``, ``vehicles``, ``counts``, ``weather``, ``day``,
            ``plan``, ``result``, ``study``, ``calendar``, ``export``, or `Rows.what` of a book's
            rows.
        field: name of the input, or of what else was changed.
        old, new: content from JSON (lists for tuples); None for an input at its default.
        version: version of the site (of the plan, for a plan) that the change made.
    """

    id: int
    at: datetime
    person: str
    what: str
    field: str
    old: object
    new: object
    version: int


class NewChange(NamedTuple):
    """A change to be written; `old` and `new` are plain content, None for a default."""

    what: str
    field: str
    old: object
    new: object


@dataclass(frozen=True, slots=True)
class KnownExport:
    """A shape of export whose files are read without a question.

    Attributes:
        shape: the key of its headings. said: what was decided, part by part.
        name, at: of the last file that was stored, and when.
    """

    shape: str
    name: str
    said: Mapping[str, str]
    at: datetime


@dataclass(frozen=True, slots=True)
class Phone:
    """A phone that may write into the logbook of a site until it is revoked, or, where `may` is
    ``see``, a screen that shows the day sheet."""

    id: int
    site_id: int
    name: str
    made_at: datetime
    revoked_at: datetime | None
    may: str


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """What is to be in a calendar.

    Attributes:
        key: what it is about, such as ``change-2`` or ``laundry-2026-07-18``.
        start_s: seconds after midnight on the site's clock; None for the whole day.
        minutes: how long it takes; 0 for the whole day.
    """

    key: str
    day: date
    start_s: float | None
    minutes: float
    summary: str
    description: str


@dataclass(frozen=True, slots=True)
class Exported:
    """An entry as it was exported last.

    Attributes:
        uid: identity for ever; sequence: how often it has changed since.
        at: when it changed last.
    """

    uid: str
    entry: CalendarEntry
    sequence: int
    is_cancelled: bool
    at: datetime


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a call came to.

    Attributes:
        version: the version now: of the plan for `Gate.store_plan`, else of the site.
        changed: names of what was changed; empty if everything was so already.
        repeated: whether the request had been carried out before.
    """

    site_id: int
    version: int
    changed: tuple[str, ...] = ()
    repeated: bool = False


def built_in_person(session: Session) -> Account:
    """The one person that every database has."""
    return get_person(session, BUILT_IN_PERSON_ID)


def get_person(session: Session, person_id: int) -> Account:
    """A person by his number."""
    row = session.get_one(PersonRow, person_id)
    return Account(row.id, row.name)


def list_sites(session: Session) -> tuple[SiteLine, ...]:
    """Every site, by name."""
    found = session.execute(select(SiteRow.id, SiteRow.slug, SiteRow.name, SiteRow.version))
    lines = (SiteLine(*row) for row in found)
    return tuple(sorted(lines, key=lambda line: (line.name.casefold(), line.id)))


def find_site(session: Session, name_or_slug: str) -> StoredSite | None:
    """The site with this name, else this slug, else this name in other capitals; None if none."""
    wanted = name_or_slug.strip()
    lines = list_sites(session)
    matches = (
        *(line for line in lines if line.name == wanted),
        *(line for line in lines if line.slug == wanted),
        *(line for line in lines if line.name.casefold() == wanted.casefold()),
    )
    return get_site(session, matches[0].id) if matches else None


def get_site(session: Session, site_id: int) -> StoredSite:
    """A site with its inputs.

    Raises:
        LookupError: if there is no such site, or it holds an input that the program lacks.
    """
    head = session.execute(select(*SiteRow.__table__.c).where(SiteRow.id == site_id)).one_or_none()
    if head is None:
        raise LookupError(f"there is no site {site_id}")
    inputs = session.execute(
        select(InputRow.name, InputRow.value, InputRow.given).where(InputRow.site_id == site_id)
    ).all()
    unknown = sorted(name for name, _, _ in inputs if name not in INPUTS)
    if unknown:
        raise LookupError(f"the database holds inputs that the program lacks: {unknown}")
    classes = session.execute(
        select(ClassRow.key, ClassRow.label, ClassRow.numbers)
        .where(ClassRow.site_id == site_id)
        .order_by(ClassRow.position)
    )
    site = Site(
        head.name,
        head.timezone,
        vehicles=tuple(VehicleClass(k, label, ClassNumbers(**n)) for k, label, n in classes),
        reference_class=head.reference_class,
    ).with_values({name: shaped(INPUTS[name], value) for name, value, _ in inputs})
    given = frozenset(name for name, _, is_given in inputs if is_given)
    stands_on = date.fromisoformat(head.stands_on) if head.stands_on else None
    data = SiteData(site, head.units, given, History(head.counted), stands_on=stands_on)
    for rows in KEPT:
        data = rows.into(data, load_rows(session, site_id, rows))
    return StoredSite(head.id, head.slug, head.version, data)


def load_rows(session: Session, site_id: int, rows: Rows[T]) -> tuple[T, ...]:
    """The rows of a kind that a site has, in their order."""
    columns = ROWS[rows].c
    found = session.execute(
        select(*(columns[name] for name in rows.cells))
        .where(columns.site_id == site_id)
        .order_by(*(columns[name] for name in rows.key or ("position",)))
    )
    return tuple(rows.make(*row) for row in found)


def load_log(
    session: Session,
    site_id: int,
    first: date | None = None,
    last: date | None = None,
    kinds: Collection[str] = (),
    always: Collection[str] = (),
) -> tuple[LogEntry, ...]:
    """The logbook of a site from one day to another, both included, in order of time; entries that
    were taken back too.

    Args:
        kinds: of entry; all if empty. always: kinds that are read from the very first day on.
    """
    columns = ROWS[LOG].c
    of_kinds = columns.kind.in_(kinds) if kinds else true()
    since = of_kinds if first is None else and_(of_kinds, columns.day >= first)
    asked = or_(since, columns.kind.in_(always)) if always else since
    until = true() if last is None else columns.day <= last
    return _entries(session, site_id, asked, until)


def find_entries(session: Session, site_id: int, keys: Collection[str]) -> dict[str, LogEntry]:
    """Entries of a site's logbook by their keys, those that there are."""
    found = _entries(session, site_id, ROWS[LOG].c.key.in_(keys))
    return {entry.key: entry for entry in found}


def _entries(session: Session, site_id: int, *where: ColumnElement[bool]) -> tuple[LogEntry, ...]:
    columns = ROWS[LOG].c
    asked = select(*(columns[name] for name in LOG.cells)).where(columns.site_id == site_id, *where)
    found = session.execute(asked.order_by(columns.day, columns.at_s, columns.key))
    return tuple(entry_of(*row) for row in found)


def load_history(session: Session, site_id: int) -> History:
    """The past of a site, each part sorted by time; raises LookupError for an unknown site."""
    counted = session.scalar(select(SiteRow.counted).where(SiteRow.id == site_id))
    if counted is None:
        raise LookupError(f"there is no site {site_id}")
    data = SiteData(Site(""), history=History(counted))
    for rows in PAST:
        data = rows.into(data, load_rows(session, site_id, rows))
    return data.history


def find_plan(session: Session, site_id: int, day: date) -> StoredPlan | None:
    """The plan of a day; None if the day has none."""
    return _plans(session, PlanRow.site_id == site_id, PlanRow.day == day).get(day)


def load_plans(session: Session, site_id: int) -> dict[date, StoredPlan]:
    """Every plan of a site, by day in order."""
    return _plans(session, PlanRow.site_id == site_id)


def plan_versions(session: Session, site_id: int) -> tuple[tuple[date, int], ...]:
    """Every planned day of a site with the version of its plan, by day in order."""
    planned = select(PlanRow.day, PlanRow.version).where(PlanRow.site_id == site_id)
    return tuple((day, version) for day, version in session.execute(planned.order_by(PlanRow.day)))


def _plans(session: Session, *where: ColumnElement[bool]) -> dict[date, StoredPlan]:
    rows = session.execute(
        select(PlanRow.id, PlanRow.day, PlanRow.version, PlanRow.expect)
        .where(*where)
        .order_by(PlanRow.day)
    ).all()
    if not rows:
        return {}
    scenarios: dict[int, list[Scenario]] = {row.id: [] for row in rows}
    found = session.execute(
        select(
            ScenarioRow.plan_id, ScenarioRow.name, ScenarioRow.rule, ScenarioRow.cloth,
            ScenarioRow.changes,
        )
        .join(PlanRow, PlanRow.id == ScenarioRow.plan_id)
        .where(*where)
        .order_by(ScenarioRow.plan_id, ScenarioRow.position)
    )  # fmt: skip
    for plan_id, name, rule, cloth, changes in found:
        scenarios[plan_id].append(Scenario(name, rule, cloth, values_of(changes)))
    return {
        row.day: StoredPlan(row.id, row.day, row.version, row.expect, tuple(scenarios[row.id]))
        for row in rows
    }


def load_phones(session: Session, site_id: int) -> tuple[Phone, ...]:
    """The phones of a site, in the order in which they were let in."""
    told = select(*_PHONE).where(PhoneRow.site_id == site_id).order_by(PhoneRow.id)
    return tuple(Phone(*row) for row in session.execute(told))


def get_phone(session: Session, site_id: int, phone_id: int) -> Phone:
    """A phone of a site; raises LookupError where it has none of that number."""
    told = select(*_PHONE).where(PhoneRow.site_id == site_id, PhoneRow.id == phone_id)
    row = session.execute(told).one_or_none()
    if row is None:
        raise LookupError(f"site {site_id} has no phone {phone_id}")
    return Phone(*row)


def find_phone(session: Session, digest: str) -> Phone | None:
    """The phone whose secret has a digest, unless it was revoked; None if there is none."""
    told = select(*_PHONE).where(PhoneRow.digest == digest, PhoneRow.revoked_at.is_(None))
    row = session.execute(told).one_or_none()
    return None if row is None else Phone(*row)


def load_exports(session: Session, site_id: int) -> tuple[KnownExport, ...]:
    """The shapes of export that a site knows, by the name of the last file of each."""
    where = select(ExportRow).where(ExportRow.site_id == site_id)
    found = session.scalars(where.order_by(ExportRow.name, ExportRow.shape))
    return tuple(KnownExport(row.shape, row.name, row.said, row.at) for row in found)


def load_calendar(session: Session, site_id: int) -> tuple[Exported, ...]:
    """Every entry that a site has exported, in order of time."""
    found = session.scalars(
        select(CalendarRow)
        .where(CalendarRow.site_id == site_id)
        .order_by(CalendarRow.day, CalendarRow.key, CalendarRow.uid)
    )
    return tuple(
        Exported(
            row.uid,
            CalendarEntry(row.key, row.day, row.start_s, row.minutes, row.summary, row.description),
            row.sequence,
            row.is_cancelled,
            row.at,
        )
        for row in found
    )


def find_results(session: Session, keys: Collection[str]) -> dict[str, StoredResult]:
    """Stored answers by key, each the finest so far."""
    if not keys:
        return {}
    rows = session.execute(
        select(ResultRow.key, ResultRow.payload, ResultRow.is_final).where(ResultRow.key.in_(keys))
    )
    return {key: StoredResult(text, is_final) for key, text, is_final in rows}


def newest_result(session: Session, site_id: int, schema: str) -> str | None:
    """The text of the answer of a kind that was stored last for a site; None if there is none."""
    found = select(ResultRow.payload).where(ResultRow.site_id == site_id, ResultRow.of_kind(schema))
    return session.scalar(found.order_by(ResultRow.at.desc()).limit(1))


def day_results(
    session: Session, site_id: int, day: date, schema: str, after: int, before: int | None
) -> tuple[tuple[datetime, str], ...]:
    """Answers of a kind to a day that were stored between two changes, by their ids, newest first:
    when, and the text."""
    where = [
        ChangeRow.site_id == site_id,
        ChangeRow.what == "result",
        ChangeRow.field == day.isoformat(),
        ChangeRow.id > after,
    ]
    if before is not None:
        where.append(ChangeRow.id < before)
    told = session.scalars(select(ChangeRow.new).where(*where).order_by(ChangeRow.id.desc()))
    keys = list(dict.fromkeys(cast("dict[str, str]", new)["key"] for new in told))
    found = session.execute(
        select(ResultRow.key, ResultRow.at, ResultRow.payload).where(
            ResultRow.key.in_(keys), ResultRow.of_kind(schema)
        )
    )
    texts = {key: (at, text) for key, at, text in found}
    return tuple(texts[key] for key in keys if key in texts)


def days_with_result(session: Session, site_id: int, *schemas: str) -> tuple[set[date], ...]:
    """Days for which a site has an answer of each of some kinds, whatever it answers."""
    kinds = [ResultRow.of_kind(schema) for schema in schemas]
    rows = session.execute(
        select(ResultRow.day, *kinds).where(ResultRow.site_id == site_id, or_(*kinds))
    ).all()
    return tuple({row[0] for row in rows if row[place]} for place in range(1, len(kinds) + 1))


def earlier_result(
    session: Session, site_id: int, day: date | None, schema: str, key: str
) -> tuple[str, date, str] | None:
    """Key, day and text of the answer of a kind that was stored last under another key than this
    one, to a day or, for None, to any; None if there is none."""
    where = ResultRow.site_id == site_id, ResultRow.key != key, _of_day(ResultRow.day, day)
    found = select(ResultRow.key, ResultRow.day, ResultRow.payload)
    found = found.where(*where, ResultRow.of_kind(schema))
    row = session.execute(found.order_by(ResultRow.at.desc(), ResultRow.key).limit(1)).first()
    return None if row is None else (row[0], row[1], row[2])


def changes_after_result(
    session: Session, site_id: int, day: date | None, key: str
) -> tuple[Change, ...]:
    """Changes to a site and to the plan of a day, or of any for None, since an answer was stored,
    newest first."""
    asked = ChangeRow.site_id == site_id, ChangeRow.request_key == f"result {key}"
    later = ChangeRow.id > select(func.max(ChangeRow.id)).where(*asked).scalar_subquery()
    iso = None if day is None else day.isoformat()
    of_plan = and_(ChangeRow.what == "plan", _of_day(ChangeRow.field, iso))
    either = or_(of_plan, ChangeRow.what.not_in(NO_SITE))
    return _changes(session, [ChangeRow.site_id == site_id, later, either])


def has_result_since(session: Session, site_id: int, schema: str, key: str) -> bool:
    """Whether an answer of a kind was stored for a site after that under a key."""
    of_site = ChangeRow.site_id == site_id
    before = select(func.max(ChangeRow.id)).where(of_site, ChangeRow.request_key == f"result {key}")
    later = ChangeRow.request_key == "result " + ResultRow.key
    found = select(ResultRow.key).join(ChangeRow, and_(of_site, later))
    found = found.where(ResultRow.site_id == site_id, ResultRow.of_kind(schema))
    return session.scalar(found.where(ChangeRow.id > before.scalar_subquery()).limit(1)) is not None


def _of_day(column: InstrumentedAttribute[T], day: T | None) -> ColumnElement[bool]:
    """That a column has a day; nothing for None."""
    return true() if day is None else column == day


def is_final(session: Session, key: str) -> bool:
    """Whether an answer is stored under the key that no finer one will replace."""
    return bool(session.scalar(select(ResultRow.is_final).where(ResultRow.key == key)))


def find_outcome(session: Session, key: str, digest: str) -> Outcome | None:
    """The outcome of a request that was carried out before; None if it was not."""
    text = session.scalar(
        select(RequestRow.outcome).where(RequestRow.key == key, RequestRow.digest == digest)
    )
    if text is None:
        return None
    held = json.loads(text)
    return Outcome(held["site_id"], held["version"], tuple(held["changed"]), repeated=True)


def input_history(session: Session, site_id: int, limit: int = 100) -> tuple[Change, ...]:
    """Changes to a site itself, newest first; plans, results and studies are left out."""
    return _changes(session, _of_site(site_id), limit)


def get_change(session: Session, site_id: int, change_id: int) -> Change:
    """A change to a site; raises LookupError where it has none of that number."""
    found = _changes(session, [ChangeRow.site_id == site_id, ChangeRow.id == change_id])
    if not found:
        raise LookupError(f"site {site_id} has no change {change_id}")
    return found[0]


def log_changes(
    session: Session, site_id: int, keys: Collection[str] | None = None
) -> tuple[Change, ...]:
    """Changes to the logbook, newest first: of some entries by their keys, or of any."""
    where = [ChangeRow.site_id == site_id, ChangeRow.what == LOG.what]
    if keys is not None:
        where.append(ChangeRow.field.in_(keys))
    return _changes(session, where)


def shift_changes(session: Session, site_id: int, days: Sequence[date]) -> tuple[Change, ...]:
    """Every change of the shifts published for some days, newest first."""
    where = [
        ChangeRow.site_id == site_id,
        ChangeRow.what == SHIFTS.what,
        or_(*(ChangeRow.field.endswith(f" {day.isoformat()}") for day in days)),
    ]
    return _changes(session, where)


def changes_since(session: Session, site_id: int, version: int) -> tuple[Change, ...]:
    """Changes to a site itself after one of its versions, newest first."""
    return _changes(session, [*_of_site(site_id), ChangeRow.version > version])


def plan_changes_since(
    session: Session, site_id: int, day: date, version: int
) -> tuple[Change, ...]:
    """Changes to the plan of a day after one of its versions, newest first."""
    where = [
        ChangeRow.site_id == site_id,
        ChangeRow.what == "plan",
        ChangeRow.field == day.isoformat(),
        ChangeRow.version > version,
    ]
    return _changes(session, where)


NO_SITE = "plan", "result", "study", "calendar", "export", "log", "phone"
"""What changes that are none of the site itself."""


def _of_site(site_id: int) -> list[ColumnElement[bool]]:
    return [ChangeRow.site_id == site_id, ChangeRow.what.not_in(NO_SITE)]


def _changes(
    session: Session, where: list[ColumnElement[bool]], limit: int | None = None
) -> tuple[Change, ...]:
    one = ChangeRow
    found = session.execute(
        select(one.id, one.at, PersonRow.name, one.what, one.field, one.old, one.new, one.version)
        .join(PersonRow, PersonRow.id == one.person_id)
        .where(*where)
        .order_by(one.id.desc())
        .limit(limit)
    )
    return tuple(Change(*row) for row in found)
