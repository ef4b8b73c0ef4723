"""What a site's log tells of what its plans count on: stops, and times that were taken."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from app.answers.answer import Desk
from app.answers.stops import day_cars
from app.db import store
from app.db.kept_days import kept_days
from sim.inputs import LogEntry, SiteData
from sim.inputs.logbook import ADVICE, ALARM, STOP, TIMED
from sim.learn.answer import LogFinding
from sim.learn.belt_stops import lengths, rates, stop_days
from sim.learn.timed import findings

TIMES_DAYS = 365
"""Times count for so many days: people and pay lanes change; a guess."""


def stops_told(
    desk: Desk, data: SiteData, entries: Sequence[LogEntry], first: date, last: date
) -> tuple[LogFinding, ...]:
    """How often and how long, by some entries that count; the last day, which is still going on, is
    left out.

    Args:
        entries: from `first` to `last`, stops among them.
    """
    until = last - timedelta(days=1)
    stops = [one for one in entries if one.kind == STOP and one.day <= until]
    if not stops:
        return ()
    kept = kept_days(desk.session, desk.site.id, first, until, (STOP, ALARM, ADVICE, TIMED))
    cars = {day: n for day, n in day_cars(data).items() if first <= day <= until}
    found = (rates(data.site, *stop_days(data.site, stops, kept, cars)), lengths(data.site, stops))
    return tuple(one for one in found if one is not None)


def times_told(desk: Desk, last: date) -> tuple[LogFinding, ...]:
    """How long paying, loading and hand work take, by the times of the year until a day."""
    first = last - timedelta(days=TIMES_DAYS)
    entries = store.load_log(desk.session, desk.site.id, first, last, (TIMED,))
    return findings(desk.site.data.site, entries) if entries else ()
