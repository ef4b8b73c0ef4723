"""Writing to the database: single steps, called by `app.sites.changes` alone; those of the
server processes that share the studies among them by `app.answers.studies.book` as well.

Nothing here checks, records or commits; the gate and the book do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import TypeVar

from sqlalchemy import ColumnElement, Table, and_, delete, insert, or_, select, update
from sqlalchemy.orm import Session

from app.db import chain
from app.db.store import Exported, KnownExport, NewChange, Outcome
from app.db.studies import LEASE, OPEN
from app.db.tables import (
    ROWS,
    AheadRow,
    Base,
    CalendarRow,
    ChangeRow,
    ClassRow,
    ExportRow,
    InputRow,
    PhoneRow,
    PlanRow,
    RequestRow,
    ResultRow,
    ScenarioRow,
    SiteRow,
    StudyRow,
    encode,
)
from sim.inputs import Rows, Scenario, Value, VehicleClass

T = TypeVar("T")
KEPT_RESULTS = 300
"""Newest results kept for a site; any older one can be computed again."""
KEPT_STUDIES = 100
"""Newest studies kept for a site; older ones that have come to an end are forgotten."""


def add_site(session: Session, slug: str, head: Mapping[str, str]) -> int:
    """Add a site at version 1 and return its id; `head` has the columns but slug and version."""
    row = SiteRow(slug=slug, version=1, **head)
    session.add(row)
    session.flush()
    return row.id


def set_head(session: Session, site_id: int, head: Mapping[str, str]) -> None:
    """Change columns of a site itself."""
    if head:
        session.execute(update(SiteRow).where(SiteRow.id == site_id).values(**head))


def raise_site_version(session: Session, site_id: int, expected: int) -> bool:
    """Move a site from the expected version to the next; False if it is at another one."""
    moved = session.execute(
        update(SiteRow)
        .where(SiteRow.id == site_id, SiteRow.version == expected)
        .values(version=expected + 1)
        .returning(SiteRow.id)
    )
    return moved.scalar_one_or_none() is not None


def set_inputs(
    session: Session, site_id: int, values: Mapping[str, Value | None], given: frozenset[str]
) -> None:
    """Store values of inputs; None forgets the stored one."""
    held = (InputRow.site_id == site_id, InputRow.name.in_(values))
    session.execute(delete(InputRow).where(*held))
    rows = [
        {"site_id": site_id, "name": name, "value": value, "given": name in given}
        for name, value in values.items()
        if value is not None
    ]
    _insert(session, InputRow, rows)


def set_vehicles(session: Session, site_id: int, vehicles: Iterable[VehicleClass]) -> None:
    """Store the vehicle classes in place of the earlier ones."""
    session.execute(delete(ClassRow).where(ClassRow.site_id == site_id))
    rows = [
        {"site_id": site_id, "position": position, **asdict(item)}
        for position, item in enumerate(vehicles)
    ]
    _insert(session, ClassRow, rows)


def put_rows(
    session: Session, site_id: int, rows: Rows[T], items: Iterable[T], afresh: bool = True
) -> None:
    """Store rows of a kind in place of all the earlier ones, or of those of the same key alone."""
    table = ROWS[rows]
    if afresh:
        session.execute(delete(table).where(table.c.site_id == site_id))
    held = [
        {"site_id": site_id, "position": place, **{name: getattr(one, name) for name in rows.cells}}
        for place, one in enumerate(items)
    ]
    if rows.key:
        for row in held:
            del row["position"]
    _insert(session, table, held, replacing=not afresh)


def set_calendar(session: Session, site_id: int, rows: Iterable[Exported]) -> None:
    """Store what a site has exported into calendars in place of the earlier rows."""
    session.execute(delete(CalendarRow).where(CalendarRow.site_id == site_id))
    held = [{"site_id": site_id, **asdict(row), **asdict(row.entry)} for row in rows]
    for row in held:
        del row["entry"]
    _insert(session, CalendarRow, held)


def set_export(session: Session, site_id: int, known: KnownExport) -> None:
    """Keep how files of a shape are read, in place of what was kept of it."""
    _insert(session, ExportRow, [{"site_id": site_id, **asdict(known)}], replacing=True)


def forget_export(session: Session, site_id: int, shape: str) -> bool:
    """Forget how files of a shape are read; False if nothing was kept."""
    gone = delete(ExportRow).where(ExportRow.site_id == site_id, ExportRow.shape == shape)
    return session.execute(gone.returning(ExportRow.shape)).scalar_one_or_none() is not None


def add_phone(
    session: Session, site_id: int, name: str, digest: str, at: datetime, may: str
) -> None:
    """Keep a phone or a screen that may do something at a site."""
    row = {"site_id": site_id, "name": name, "digest": digest, "made_at": at, "revoked_at": None}
    _insert(session, PhoneRow, [{**row, "may": may}])


def revoke_phone(session: Session, phone_id: int, at: datetime) -> None:
    """Let a phone write no more."""
    session.execute(update(PhoneRow).where(PhoneRow.id == phone_id).values(revoked_at=at))


def add_plan(session: Session, site_id: int, day: date) -> int:
    """Add an empty plan at version 0 and return its id."""
    row = PlanRow(site_id=site_id, day=day, version=0, expect="")
    session.add(row)
    session.flush()
    return row.id


def set_plan(
    session: Session, plan_id: int, version: int, expect: str, scenarios: Sequence[Scenario]
) -> None:
    """Store what a plan holds in place of what it held."""
    session.execute(
        update(PlanRow).where(PlanRow.id == plan_id).values(version=version, expect=expect)
    )
    session.execute(delete(ScenarioRow).where(ScenarioRow.plan_id == plan_id))
    rows = [
        {"plan_id": plan_id, "position": position, **asdict(item)}
        for position, item in enumerate(scenarios)
    ]
    _insert(session, ScenarioRow, rows)


def add_result(
    session: Session,
    key: str,
    site_id: int,
    day: date,
    at: datetime,
    text: str,
    is_final: bool = True,
) -> None:
    """Store an answer in place of a coarser one; let the site's oldest beyond `KEPT_RESULTS` go."""
    row = {"key": key, "site_id": site_id, "day": day, "at": at, "is_final": is_final}
    _insert(session, ResultRow, [{**row, "payload": text}], replacing=True)
    newest = (
        select(ResultRow.key)
        .where(ResultRow.site_id == site_id)
        .order_by(ResultRow.at.desc(), ResultRow.key)
        .limit(KEPT_RESULTS)
    )
    old = (ResultRow.site_id == site_id, ResultRow.key.not_in(newest))
    session.execute(delete(ResultRow).where(*old))


def ask_study(
    session: Session,
    key: str,
    *,
    kind: str,
    site_id: int,
    day: date,
    person_id: int,
    at: datetime,
    total: int,
    reason: str = "",
    asker: str = "",
) -> None:
    """Write a study down as waiting, anew if it has come to an end; an open one stays as it is,
    but is somebody's from then on who asks for what was begun ahead.

    The site's oldest ended ones beyond `KEPT_STUDIES` are let go.
    """
    fresh = {
        "kind": kind, "site_id": site_id, "day": day, "person_id": person_id, "asked_at": at,
        "state": "waiting", "done": 0, "total": total, "sentence": "", "holder": "",
        "began_at": None, "beat_at": None, "lease_until": None, "reason": reason,
        "asker": asker, "spent_s": 0.0,
    }  # fmt: skip
    added = session.execute(
        insert(StudyRow)
        .prefix_with("OR IGNORE", dialect="sqlite")
        .values(key=key, **fresh)
        .returning(StudyRow.key)
    )
    if added.scalar_one_or_none() is None:
        where = (StudyRow.key == key, StudyRow.state.not_in(OPEN))
        session.execute(update(StudyRow).where(*where).values(**fresh))
        if not reason:
            ahead = (StudyRow.key == key, StudyRow.reason != "")
            asked = {"reason": "", "person_id": person_id, "asked_at": at, "asker": asker}
            session.execute(update(StudyRow).where(*ahead).values(**asked))
    newest = (
        select(StudyRow.key)
        .where(StudyRow.site_id == site_id)
        .order_by(StudyRow.asked_at.desc(), StudyRow.key)
        .limit(KEPT_STUDIES)
    )
    old = (StudyRow.key.not_in(newest), StudyRow.state.not_in(OPEN))
    session.execute(delete(StudyRow).where(StudyRow.site_id == site_id, *old))


def claim_study(session: Session, key: str, holder: str, now: datetime) -> bool:
    """Take a study that waits, or whose lease has run out; False if it can't be had.

    One statement that compares and sets, so that of any number of processes one has it.
    """
    lapsed = and_(StudyRow.state == "running", _has_lapsed(now))
    where = (StudyRow.key == key, or_(StudyRow.state == "waiting", lapsed))
    taken = {
        "state": "running", "holder": holder, "done": 0, "began_at": now, "beat_at": now,
        "lease_until": now + LEASE, "spent_s": 0.0,
    }  # fmt: skip
    return _set_study(session, where, taken)


def beat_study(
    session: Session, key: str, holder: str, *, done: int, spent_s: float, now: datetime
) -> bool:
    """Say how far a study is and keep it for longer; False if it is the holder's no more."""
    news = {"done": done, "spent_s": spent_s, "beat_at": now, "lease_until": now + LEASE}
    return _set_study(session, _held(key, holder), news)


def end_held_study(session: Session, key: str, holder: str, state: str, sentence: str = "") -> bool:
    """End a study that a process holds; False if it is the holder's no more."""
    ended: dict[str, object] = {
        "state": state, "sentence": sentence, "holder": "", "lease_until": None,
    }  # fmt: skip
    if state == "done":
        ended["done"] = StudyRow.total
    return _set_study(session, _held(key, holder), ended)


def end_open_study(session: Session, key: str, state: str, lapsed_at: datetime | None) -> bool:
    """End a study whoever holds it; with a moment only one that nobody holds at that moment."""
    where = [StudyRow.key == key, StudyRow.state.in_(OPEN)]
    if lapsed_at is not None:
        where.append(or_(StudyRow.lease_until.is_(None), _has_lapsed(lapsed_at)))
    return _set_study(session, where, {"state": state, "holder": "", "lease_until": None})


def release_studies(session: Session, holder: str) -> None:
    """Let go of everything that a process holds, so that the next one takes it up at once."""
    free = {"state": "waiting", "holder": "", "done": 0, "began_at": None, "lease_until": None}
    _set_study(session, [StudyRow.holder == holder, StudyRow.state == "running"], free)


def forget_ahead(session: Session, key: str, holder: str) -> None:
    """Forget a study that was begun ahead and has not ended, unless another process has it."""
    where = (StudyRow.key == key, StudyRow.reason != "", StudyRow.state.in_(OPEN))
    session.execute(delete(StudyRow).where(*where, StudyRow.holder.in_(("", holder))))


def spend_ahead(session: Session, day: date, seconds: float) -> None:
    """Add to the processor time that work ahead took on a day [s]."""
    more = update(AheadRow).where(AheadRow.day == day)
    raised = session.execute(
        more.values(spent_s=AheadRow.spent_s + seconds).returning(AheadRow.day)
    )
    if raised.scalar_one_or_none() is None:
        _insert(session, AheadRow, [{"day": day, "spent_s": seconds}])


def _has_lapsed(now: datetime) -> ColumnElement[bool]:
    """The same as `StoredStudy.is_held` says of a lease."""
    return or_(StudyRow.lease_until <= now, StudyRow.lease_until > now + LEASE)


def _held(key: str, holder: str) -> list[ColumnElement[bool]]:
    return [StudyRow.key == key, StudyRow.holder == holder, StudyRow.state == "running"]


def _set_study(
    session: Session, where: Iterable[ColumnElement[bool]], values: Mapping[str, object]
) -> bool:
    changed = session.execute(
        update(StudyRow)
        .where(*where)
        .values(**values)
        .returning(StudyRow.key)
        .execution_options(synchronize_session=False)
    )
    return bool(changed.scalars().all())


def add_changes(session: Session, changes: Iterable[NewChange], **shared: object) -> None:
    """Add rows to the history, each linked to all before it; `shared` are the columns that a change
    itself does not have."""
    rows: list[dict[str, object]] = []
    before = chain.last_link(session)
    for item in changes:
        row = {**item._asdict(), **shared}
        texts = {name: None if row[name] is None else encode(row[name]) for name in ("old", "new")}
        before = chain.link(before, {**row, **texts})
        rows.append({**row, "chain": before})
    _insert(session, ChangeRow, rows)


def add_outcome(session: Session, key: str, digest: str, at: datetime, outcome: Outcome) -> None:
    """Keep the outcome of a request."""
    held = encode(asdict(outcome))
    session.execute(insert(RequestRow).values(key=key, digest=digest, at=at, outcome=held))


def _insert(
    session: Session,
    table: type[Base] | Table,
    rows: Sequence[Mapping[str, object]],
    replacing: bool = False,
) -> None:
    """Store rows, of which none may be there unless they take the place of those of their key."""
    if rows:
        told = insert(table)
        if replacing:
            told = told.prefix_with("OR REPLACE", dialect="sqlite")
        session.execute(told, rows)
