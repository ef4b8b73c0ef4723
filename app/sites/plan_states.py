"""The states of a day's plan: every version that was ever stored, by whom, and its changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import cast

from app.db import store
from app.db.session import Session
from app.db.tables import values_of
from app.sites.differences import PlanChange, plan_difference
from sim.inputs import INPUTS, Scenario


@dataclass(frozen=True, slots=True)
class PlanState:
    """A version of a day's plan.

    Attributes:
        version: from 1, as the history counts them.
        at: when it was stored.
        change, next_change: ids of the change that stored it and of the one that stored the next
            version; None for the newest.
        person: who stored it.
        expect: what was typed over the expected day.
        changes: what differs from the version before; empty for the first one.
        lacks: inputs that it changed and that the program does not have any more.
    """

    day: date
    version: int
    at: datetime
    change: int
    next_change: int | None
    person: str
    expect: str
    scenarios: tuple[Scenario, ...]
    changes: tuple[PlanChange, ...]
    lacks: tuple[str, ...] = ()


def plan_states(session: Session, site_id: int, day: date) -> tuple[PlanState, ...]:
    """Every version of a day's plan, newest first."""
    found: list[PlanState] = []
    following = None
    for change in store.plan_changes_since(session, site_id, day, 0):
        expect, scenarios, lacks = _held(change.new)
        before = _held(change.old)[:2] if change.old is not None else None
        changes = () if before is None else plan_difference(before, (expect, scenarios))
        found.append(
            PlanState(
                day, change.version, change.at, change.id, following, change.person,
                expect, scenarios, changes, lacks,
            )
        )  # fmt: skip
        following = change.id
    return tuple(found)


def _held(told: object) -> tuple[str, tuple[Scenario, ...], tuple[str, ...]]:
    """What the history tells of a plan, read again; and the inputs that are none any more."""
    held = cast("Mapping[str, object]", told)
    scenarios, lacks = [], list[str]()
    for one in cast("list[Mapping[str, object]]", held["scenarios"]):
        changes = cast("Mapping[str, object]", one["changes"])
        lacks += [name for name in changes if name not in INPUTS]
        known = values_of({name: value for name, value in changes.items() if name in INPUTS})
        scenarios.append(Scenario(str(one["name"]), str(one["rule"]), str(one["cloth"]), known))
    return str(held["expect"]), tuple(scenarios), tuple(dict.fromkeys(lacks))
