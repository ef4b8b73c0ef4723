"""How long people are willing to wait, by the waits and the cars driven away of a site's log."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.serial import write
from app.answers.studies.stages import Stage
from app.answers.told_by_log import TIMES_DAYS
from app.db import store
from sim.inputs import COUNTS_OF, TYPED, SiteData
from sim.inputs.logbook import TURNED_AWAY, WAIT
from sim.learn.answer import LogFinding
from sim.learn.patience import SITES, WaitDay, is_enough, patience_told, wait_days

SCHEMA = "clothcast.patience/1"


@dataclass(frozen=True, slots=True)
class PatienceAsked:
    """What a site's log asks.

    Attributes:
        days: that tell of patience; empty where there are too few.
        rests_on: names the inputs of the site.
    """

    data: SiteData
    days: tuple[WaitDay, ...]
    rests_on: str


@dataclass(frozen=True, slots=True)
class PatienceFound:
    """What the log tells; None where no site that is believed in notes anything like it."""

    schema: str = field(default=SCHEMA, kw_only=True)
    finding: LogFinding | None


PatienceView = Answer[PatienceAsked, PatienceFound]
"""How long people are willing to wait, as far as it is known."""


def _ask(desk: Desk, day: date) -> PatienceAsked:
    # the day itself is left out: it would be worked out anew with every entry
    first, last = day - timedelta(days=TIMES_DAYS), day - timedelta(days=1)
    log = store.load_log(desk.session, desk.site.id, first, last, (WAIT, TURNED_AWAY))
    if not any(one.kind == WAIT for one in log):
        return PatienceAsked(desk.site.data, (), "")
    data = desk.data
    days = wait_days(log, _hours(data), data.history.counted == COUNTS_OF[1])
    return PatienceAsked(data, days if is_enough(days) else (), desk.rests_on())


def _hours(data: SiteData) -> dict[date, list[float]]:
    """Cars counted by hour, of each day; empty where days were typed."""
    found: dict[date, list[float]] = {}
    for row in data.history.counts if data.history.counted != TYPED else ():
        found.setdefault(row.day, [0.0] * 24)[row.hour] += row.cars
    return found


def _key(asked: PatienceAsked) -> str:
    return answer_key(SCHEMA, write((asked.days, asked.rests_on))) if asked.days else ""


def patience_of(
    asked: PatienceAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PatienceFound:
    """What a site's log tells of how long people are willing to wait."""

    def told(done: int) -> None:
        progress(done, SITES)

    site, given = asked.data.site, asked.data.given
    return PatienceFound(patience_told(site, given, asked.days, executor, told, SITES))


PATIENCE: Kind[PatienceAsked, PatienceFound] = Kind(
    name="patience",
    label="How long people are willing to wait",
    stages=(Stage("sites", "letting sites as yours might be live the days that were noted"),),
    page="weighings",
    found=PatienceFound,
    ask=_ask,
    key=_key,
    days=lambda asked: SITES * len(asked.days),
    work=patience_of,
    failed="How long people are willing to wait could not be worked out: {fault}",
)
