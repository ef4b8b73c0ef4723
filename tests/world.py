"""What tests of the gate share: a moment, a day, a site's name, all that a database holds."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select

from app.answers.studies.runner import Progress, Runner
from app.db import store
from app.db.session import Session
from app.db.tables import Base
from sim.inputs import (
    HourCount,
)

ROOT = Path(__file__).resolve().parents[1]


NOW = datetime(2026, 7, 18, 9, 30, tzinfo=UTC)


DAY = date(2026, 7, 18)


NAME = "Invented Wash"


def content(session: Session) -> dict[str, list[tuple[object, ...]]]:
    """Everything that the database holds."""
    return {
        table.name: [tuple(row) for row in session.execute(select(table))]
        for table in Base.metadata.sorted_tables
    }


def hours(first: date, cars: list[int]) -> tuple[HourCount, ...]:
    """Counts of the hours from seven o'clock on."""
    return tuple(HourCount(first, 7 + i, 0, count) for i, count in enumerate(cars))


def answer_under(session: Session, key: str) -> dict[str, Any] | None:
    """The stored answer under a key, as plain content; None if there is none."""
    found = store.find_results(session, [key]).get(key)
    if found is None:
        return None
    answer: dict[str, Any] = json.loads(found.text)
    return answer


def standing(runner: Runner, key: str) -> tuple[Progress | None, str]:
    """How far a question is, and why it has no answer and is not computed."""
    with runner.database.session() as session:
        return runner.standing(session, {key: store.is_final(session, key)})[key]


def progress(runner: Runner, key: str) -> Progress | None:
    """How far a question is."""
    return standing(runner, key)[0]


def failure(runner: Runner, key: str) -> str:
    """Why a question has no answer and is not computed."""
    return standing(runner, key)[1]
