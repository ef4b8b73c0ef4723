"""The page Cloth: its answer, kept while nothing that it rests on has changed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.services.cloth_record import cloth_record
from app.services.planning import Look
from app.services.sites import with_history
from sim.day.rules import Rule, parse_rule
from sim.decide.cloth.answer import cloth_answer
from sim.errors import InputError, InputProblem
from sim.inputs import WEIGHINGS, Conditions, SiteData
from sim.learn.cloth_wear import WearDays
from sim.learn.expected_day import Override, expected_day

SEED = 20260704
"""Root seed of the days on which damp cars are counted."""
QUARTERS, QUARTER_DAYS = 4, 91
LAST_MINUTE_S = 86_340.0


@dataclass(frozen=True, slots=True)
class ClothView:
    """What the page shows.

    Attributes:
        content: the answer, see `cloth_record`; None when `problems` say why there is none.
        notes: what a reader of the answer should know.
        day: the date at the site, the whole of which counts.
        now_s: time of day at the site [s].
    """

    content: dict[str, Any] | None
    notes: tuple[InputProblem, ...]
    problems: tuple[InputProblem, ...]
    day: date
    now_s: float


Key = tuple[int, int, date, tuple[tuple[date, str], ...]]


class Cloths:
    """Answers kept in memory by site, version, day and planned rules."""

    KEPT = 16

    def __init__(self) -> None:
        self._kept: dict[Key, ClothView] = {}
        self._lock = threading.Lock()

    def get(self, key: Key, make: Callable[[], ClothView]) -> ClothView:
        """The view of a key, made where it is not kept."""
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = make()
            with self._lock:
                while len(self._kept) >= self.KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[key] = found
        return found


def open_cloth(
    session: Session,
    stored: StoredSite,
    now: datetime,
    today: date,
    look: Look = expected_day,
    data: SiteData | None = None,
    kept: Cloths | None = None,
) -> ClothView:
    """The answer for a site; what it takes is worked out at once, under a second or two.

    Args:
        now: gives the time of day where `today` is the date of that very moment, else it is the
            last minute.
        data: the site with its past, where it was read before.
    """
    there = now.astimezone(ZoneInfo(stored.data.site.timezone))
    now_s = LAST_MINUTE_S
    if there.date() == today:
        now_s = there.hour * 3600.0 + there.minute * 60.0
    rules = planned_rules(session, stored)
    whole = data or with_history(session, stored)

    def make() -> ClothView:
        try:
            days = WearDays(whole, rules)
            typical = typical_days(whole, days, today, look)
            # what was entered for later today has happened as far as a day's answer goes
            found = cloth_answer(whole, days, today, LAST_MINUTE_S, typical, SEED)
        except InputError as fault:
            return ClothView(None, (), fault.problems, today, now_s)
        return ClothView(cloth_record(found), found.notes, (), today, now_s)

    if kept is None:
        return make()
    texts = tuple(sorted((day, rule.text()) for day, rule in rules.items()))
    return replace(kept.get((stored.id, stored.version, today, texts), make), now_s=now_s)


def view_of_site(
    session: Session, site_id: int, now: datetime, today: date
) -> tuple[ClothView, bool]:
    """The answer for a stored site, and whether its three weighings are in."""
    stored = store.get_site(session, site_id)
    view = open_cloth(session, stored, now, today)
    return view, is_weighed(stored)


def is_weighed(stored: StoredSite) -> bool:
    """Whether all three weighings are in; before that no advice is firm."""
    return {item.kind for item in stored.data.weighings}.issuperset(WEIGHINGS)


def planned_rules(session: Session, stored: StoredSite) -> dict[date, Rule]:
    """The rule of each planned day: that of its first scenario."""
    keys = [item.key for item in stored.data.site.vehicles]
    found = {}
    for day in store.list_plan_days(session, stored.id):
        plan = store.find_plan(session, stored.id, day)
        try:
            if plan is not None and plan.scenarios:
                found[day] = parse_rule(plan.scenarios[0].rule, keys)
        except InputError:  # a class that the site has no more
            continue
    return found


def typical_days(
    data: SiteData, days: WearDays, today: date, look: Look = expected_day
) -> tuple[Conditions, ...]:
    """Of each coming quarter the open day with the middle number of cars, as it is expected."""
    found = []
    for quarter in range(QUARTERS):
        ahead = [
            today + timedelta(days=1 + quarter * QUARTER_DAYS + n) for n in range(QUARTER_DAYS)
        ]
        cars = sorted((float(days.cars(day).sum()), day) for day in ahead)
        open_days = [row for row in cars if row[0] > 0.0]
        if not open_days:
            continue
        try:
            found.append(look(data, open_days[len(open_days) // 2][1], Override()).conditions)
        except InputError:  # no weather is known
            continue
    return tuple(found)
