"""Writing to the database: single steps, called by `app.services.changes` alone.

Nothing here checks, records or commits; the gate does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from app.db.codec import encode, encode_numbers, encode_values
from app.db.store import NewChange
from app.db.tables import (
    Base,
    ChangeRow,
    ClassRow,
    CountRow,
    DayRow,
    InputRow,
    PlanRow,
    RequestRow,
    ResultRow,
    ScenarioRow,
    SiteRow,
    WeatherRow,
    WeighingRow,
)
from sim.inputs import DayNote, HourCount, HourWeather, Scenario, Value, VehicleClass, Weighing

KEPT_RESULTS = 300
"""Newest results kept for a site; any older one can be computed again."""


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
    _delete(session, InputRow, site_id, InputRow.name.in_(values))
    rows = [
        {"site_id": site_id, "name": name, "value": encode(value), "given": name in given}
        for name, value in values.items()
        if value is not None
    ]
    _insert(session, InputRow, rows)


def set_vehicles(session: Session, site_id: int, vehicles: Iterable[VehicleClass]) -> None:
    """Store the vehicle classes in place of the earlier ones."""
    _delete(session, ClassRow, site_id)
    rows = [
        {
            "site_id": site_id,
            "position": position,
            "key": item.key,
            "label": item.label,
            "numbers": encode_numbers(item.numbers),
        }
        for position, item in enumerate(vehicles)
    ]
    _insert(session, ClassRow, rows)


def put_counts(session: Session, site_id: int, counts: Iterable[HourCount]) -> None:
    """Store counts, each in place of an earlier one of the same hour."""
    _put(session, CountRow, [{"site_id": site_id, **asdict(item)} for item in counts])


def put_weather(session: Session, site_id: int, weather: Iterable[HourWeather]) -> None:
    """Store weather, each hour in place of an earlier one of the same hour."""
    _put(session, WeatherRow, [{"site_id": site_id, **asdict(item)} for item in weather])


def forget_counts(session: Session, site_id: int) -> None:
    """Remove every count of a site."""
    _delete(session, CountRow, site_id)


def forget_weather(session: Session, site_id: int) -> None:
    """Remove all weather of a site."""
    _delete(session, WeatherRow, site_id)


def set_days(
    session: Session, site_id: int, notes: Iterable[DayNote], only: date | None = None
) -> None:
    """Store days that stand out in place of the earlier ones, of one day only if it is given."""
    _delete(session, DayRow, site_id, *([] if only is None else [DayRow.day == only]))
    _insert(session, DayRow, [{"site_id": site_id, **asdict(note)} for note in notes])


def set_weighings(session: Session, site_id: int, weighings: Iterable[Weighing]) -> None:
    """Store the weighings in place of the earlier ones."""
    _delete(session, WeighingRow, site_id)
    rows = [
        {"site_id": site_id, "position": position, **asdict(item)}
        for position, item in enumerate(weighings)
    ]
    _insert(session, WeighingRow, rows)


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
        {
            "plan_id": plan_id,
            "position": position,
            "name": item.name,
            "rule": item.rule,
            "cloth": item.cloth,
            "changes": encode_values(item.changes),
        }
        for position, item in enumerate(scenarios)
    ]
    _insert(session, ScenarioRow, rows)


def add_result(
    session: Session, key: str, site_id: int, day: date, at: datetime, payload: Mapping[str, Any]
) -> None:
    """Store a comparison and let go of the site's oldest beyond `KEPT_RESULTS`."""
    session.execute(
        insert(ResultRow).values(
            key=key, site_id=site_id, day=day, at=at, payload=encode(dict(payload))
        )
    )
    newest = (
        select(ResultRow.key)
        .where(ResultRow.site_id == site_id)
        .order_by(ResultRow.at.desc(), ResultRow.key)
        .limit(KEPT_RESULTS)
    )
    _delete(session, ResultRow, site_id, ResultRow.key.not_in(newest))


def add_changes(
    session: Session,
    changes: Iterable[NewChange],
    *,
    at: datetime,
    person_id: int,
    site_id: int,
    version: int,
    request_key: str,
) -> None:
    """Add rows to the history."""
    rows = [
        {
            "at": at,
            "person_id": person_id,
            "site_id": site_id,
            "what": item.what,
            "field": item.field,
            "old": None if item.old is None else encode(item.old),
            "new": None if item.new is None else encode(item.new),
            "version": version,
            "request_key": request_key,
        }
        for item in changes
    ]
    _insert(session, ChangeRow, rows)


def add_outcome(
    session: Session, key: str, digest: str, at: datetime, outcome: Mapping[str, Any]
) -> None:
    """Keep the outcome of a request."""
    session.execute(
        insert(RequestRow).values(key=key, digest=digest, at=at, outcome=encode(dict(outcome)))
    )


def _insert(session: Session, table: type[Base], rows: list[dict[str, Any]]) -> None:
    if rows:
        session.execute(insert(table), rows)


def _put(session: Session, table: type[Base], rows: list[dict[str, Any]]) -> None:
    if rows:
        session.execute(insert(table).prefix_with("OR REPLACE", dialect="sqlite"), rows)


def _delete(session: Session, table: Any, site_id: int, *more: Any) -> None:
    session.execute(delete(table).where(table.site_id == site_id, *more))
