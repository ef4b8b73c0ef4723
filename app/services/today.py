"""What Today shows of a site: the plan of the day, and the next busy day."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

from app.db import store
from app.db.session import Database
from app.db.store import StoredSite
from app.services.coming_days import coming_days
from app.services.planning import PlanView, Runner, open_plan
from sim.inputs import SiteData

LOOK_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A coming day: its date, cars expected [cars] and highest temperature [°C]."""

    day: date
    cars: float
    highest_temp_c: float


@dataclass(frozen=True, slots=True)
class TodayView:
    """Today at a site.

    Attributes:
        plan: the plan of the day, its expected day and its comparison where there are any.
        has_counts: whether any count is stored.
        busiest: the busiest of the next `LOOK_AHEAD_DAYS` days; None if none is expected open.
        next_open: the next day on which cars are expected; None if there is none soon.
    """

    plan: PlanView
    has_counts: bool
    busiest: DayAhead | None
    next_open: DayAhead | None


def look_at_today(
    database: Database, stored: StoredSite, today: date, runner: Runner | None = None
) -> TodayView:
    """Reads and expects everything that Today shows; computes no comparison."""
    with database.session() as session:
        plan = open_plan(session, stored, today, runner)
    has_counts, ahead = _looked_ahead(database, stored.id, stored.version, today)
    busiest = max(ahead, key=lambda item: item.cars, default=None)
    return TodayView(plan, has_counts, busiest, ahead[0] if ahead else None)


@lru_cache(maxsize=32)
def _looked_ahead(
    database: Database, site_id: int, version: int, today: date
) -> tuple[bool, tuple[DayAhead, ...]]:
    """Whether a site has counts, and its days ahead.

    Every change to counts, weather, marks or inputs raises the version of the site, so what was
    worked out for a version holds; Today is asked for far more often than a site is changed.
    """
    with database.session() as session:
        stored = store.get_site(session, site_id)
        data = replace(stored.data, history=store.load_history(session, site_id))
    if stored.version != version:  # changed since the page began; the next one sees it whole
        return bool(data.history.counts), ()
    return bool(data.history.counts), tuple(_days_ahead(data, today))


def _days_ahead(data: SiteData, today: date) -> list[DayAhead]:
    """Coming days on which cars are expected; a day that can't be expected is no busy day."""
    return [
        DayAhead(item.day, item.cars, item.highest_temp_c)
        for item in coming_days(data, today + timedelta(days=1), LOOK_AHEAD_DAYS)
        if item.cars and item.highest_temp_c is not None
    ]
