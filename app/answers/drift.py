"""Whether a site has changed, by the damp hoods that its crew noted in the log."""

from __future__ import annotations

from collections.abc import Callable, Collection
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.beliefs import SEED, belief_in, weighed, weighings_of
from app.answers.serial import read, write
from app.answers.studies.stages import Stage
from app.db import store
from app.db.session import Session
from app.sites.reading import Past
from sim.day.drawn import Belief, block_points, draw_site, drawn_names
from sim.inputs import SiteData, Weighing
from sim.inputs.logbook import DAMP_HOODS, WIPING
from sim.learn.drift import LEARNT, SCHEMA, Change, DriftFound, find_changes
from sim.learn.logged_hoods import believed_of, hoods_noted

LOOK_BACK = timedelta(days=366)
"""How far back the log is looked through."""
MEMBERS = 16
"""Drawn sites that stand for what is believed of the site; a power of two."""


@dataclass(frozen=True, slots=True)
class DriftAsked:
    """What a site's log asks.

    Attributes:
        hoods: looks until yesterday, as measurements; empty where there are too few.
        belief: what measurements leave of the site's guesses; None for none.
        rests_on: names inputs and past of the site.
    """

    data: SiteData
    hoods: tuple[Weighing, ...]
    belief: Belief | None
    rests_on: str


DriftView = Answer[DriftAsked, DriftFound]
"""What has changed, as far as it is known."""


def _ask(desk: Desk, day: date) -> DriftAsked:
    held, data = weighings_of(desk), desk.data
    line, rests_on = data.site.line, desk.rests_on("history")
    # while measurements are worked in, another question is soon asked in its place
    if held.is_awaited:
        return DriftAsked(data, (), None, rests_on)
    # the day itself is left out: it would be judged anew with every look
    first, last = day - LOOK_BACK, day - timedelta(days=1)
    log = store.load_log(desk.session, desk.site.id, first, last, (DAMP_HOODS, WIPING))
    hoods = hoods_noted(log, 3600.0 * line.open_h, 3600.0 * line.close_h)
    if len({item.day for item in hoods}) <= LEARNT:
        hoods = ()
    return DriftAsked(data, hoods, belief_in(held), rests_on)


def _key(asked: DriftAsked) -> str:
    if not asked.hoods:
        return ""
    return answer_key(SCHEMA, write((asked.hoods, asked.belief, asked.rests_on, SEED)))


def changes_of(
    asked: DriftAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> DriftFound:
    """What has changed at a site, by its log."""
    data = asked.data
    names = drawn_names(data.site, data.given, asked.belief)
    points = block_points(names, asked.belief, MEMBERS, SEED, 0)
    sites = [draw_site(data.site, names, row) for row in points]
    days = weighed(replace(data, weighings=asked.hoods), Past().look).days  # counts are read once
    looked = believed_of(sites, days, SEED, executor, lambda done: progress(done, len(days)))
    return find_changes(looked)


DRIFT: Kind[DriftAsked, DriftFound] = Kind(
    name="drift",
    label="What has changed",
    stages=(Stage("days", "holding the hoods of each day against what is believed of them"),),
    page="weighings",
    found=DriftFound,
    ask=_ask,
    key=_key,
    days=lambda asked: MEMBERS * len({item.day for item in asked.hoods}),
    work=changes_of,
    failed="Whether anything has changed could not be worked out: {fault}",
    schema=SCHEMA,
)


def known_changes(session: Session, site_id: int) -> DriftFound | None:
    """What was found last, whatever was noted since; None where nothing was worked out yet."""
    text = store.newest_result(session, site_id, SCHEMA)
    return None if text is None else read(DriftFound, text)


def open_change(found: DriftFound | None, weighings: Collection[Weighing]) -> Change | None:
    """The last change, as long as no cars were looked at since as a measurement, which tells plans
    of it; None for none."""
    if found is None or not found.changes:
        return None
    last = found.changes[-1]
    is_told = any(item.needs_day and item.cars and item.day >= last.since for item in weighings)
    return None if is_told else last
