"""What Today shows of a site: the plan of the day, and the next busy day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from app.answers.answer import Desk
from app.answers.coming_days import ComingDay, coming_days
from app.answers.planning import PLAN, PlanView
from app.answers.studies.runner import Runner
from app.db.session import Database
from app.db.store import StoredSite
from app.sites.past import Past

LOOK_AHEAD_DAYS = 14


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
    busiest: ComingDay | None
    next_open: ComingDay | None


def look_at_today(
    database: Database, stored: StoredSite, today: date, runner: Runner | None = None
) -> TodayView:
    """Reads and expects everything that Today shows; computes no comparison."""
    past = runner.past if runner else Past()
    with database.session() as session:
        desk = Desk(session, stored, runner)
        plan, data = desk.open(PLAN, today), desk.data
    ahead = [
        one
        for one in coming_days(data, today + timedelta(days=1), LOOK_AHEAD_DAYS, past.look)
        # a day that can't be expected is no busy day
        if one.state == "open"
    ]
    busiest = max(ahead, key=lambda one: one.cars, default=None)
    return TodayView(plan, bool(data.history.counts), busiest, ahead[0] if ahead else None)
