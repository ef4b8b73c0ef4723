"""Answers that are there before anybody asks: what is worth having of a site, in which order and
why; something to read on every page first, then one after another, behind whatever somebody asked
for, within a day's budget.
"""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, with_earlier
from app.answers.coming_days import busiest, coming_days
from app.answers.kinds import KINDS, drop_stale, take_up
from app.answers.planning import followed_evening
from app.answers.staff import days_of, monday_of
from app.answers.studies.runner import Runner
from app.db import store, studies
from app.db.session import Database, Session
from app.db.store import SiteLine
from sim.inputs.roster import WEEK

TODAY = "Today, so that the crew reads it when it opens."
TOMORROW = "Tomorrow, so that the evening can plan it."
BUSY = "The busiest of the coming 14 days."
COMING = "The coming 14 days."
CLOTH = "The cloth on the wheel, as of today."
THIS_WEEK, NEXT_WEEK = "The people of this week.", "The people of next week."
MEASURED = "What was measured, which every other answer rests on."
COUNTS = "What all counts together tell of the coming days, which plans may rest on."
MEASURES = "What measurements tell and what they are worth on the busiest of the coming days."
SEASON = "The season, which takes longest."
CHANGED = "What has changed, by the hoods of the log."
NEXT = "What to measure tomorrow."
SCORED = "How good the advice of the last days was."
SOMETHING = 0
"""The turn of what is wanted only where nothing can be read, not even an answer of before."""
AT_ONCE = 2
"""So many are under way before anything can be read of them: one alone leaves much of two processes
idle."""
ALONE = "weighings"
"""The kind beside which nothing is begun, because all others rest on it."""
OF_A_DAY = ("plan", "switch", "staff")
"""Kinds of a day that is prepared: plan, rule, people."""
LOOK_S = 60.0
"""How often is looked whether the date or another program has changed anything [s]."""
STOPPED = ("failed", "cancelled")
"""States of a study that is not begun ahead once more: what somebody stopped stays stopped."""
TodayAt = Callable[[str, date | None], date]
"""The date in a time zone, unless it always is one day at the place; see `Settings.today_at`."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """An answer worth having before anybody asks.

    Attributes:
        kind: its name, see `KINDS`.
        reason: a sentence of the catalogue.
        turn: its place among those of all sites: each site's plan of today comes before any one's
            rule, and its today before any one's season; before all that, see `SOMETHING`.
    """

    kind: str
    day: date
    reason: str
    turn: int


@dataclass(frozen=True, slots=True)
class _Row:
    """Something wanted of a site, its answer as far as it is known, and what of the site needs no
    look any more."""

    one: Wanted
    answer: Answer[object, object]
    settled: set[Wanted]


def is_first(row: _Row) -> bool:
    """Whether it is wanted only where nothing can be read."""
    return row.one.turn == SOMETHING


def wanted(desk: Desk, today: date) -> Iterator[Wanted]:
    """What is worth having of a site, in order: something to read on each page as of today; what
    was measured and what its counts tell, on which all else rests; these pages by them; tomorrow;
    the busiest of the coming days; people of this and next week and their rosters; what
    measurements tell; what to measure tomorrow; what has changed; how good the advice was; the
    season."""
    tomorrow = today + timedelta(days=1)
    pages = (
        *(Wanted(kind, today, TODAY, turn) for kind, turn in zip(OF_A_DAY, (1, 2, 2), strict=True)),
        Wanted("cloth", today, CLOTH, 3),
        Wanted("coming", tomorrow, COMING, 3),
        Wanted("maps", today, TODAY, 4),
    )
    yield from (replace(page, turn=SOMETHING) for page in pages)
    if desk.site.data.weighings:
        yield Wanted(ALONE, max(one.day for one in desk.site.data.weighings), MEASURED, 1)
    yield Wanted("arrivals", today, COUNTS, 1)
    yield from pages
    yield from (Wanted(kind, tomorrow, TOMORROW, 5) for kind in OF_A_DAY)
    busy = busiest(coming_days(desk.data, tomorrow, look=desk.look))
    yield from (Wanted(kind, busy, BUSY, 6) for kind in (*OF_A_DAY, "maps"))
    for turn, monday, reason in (
        (7, monday_of(today), THIS_WEEK),
        (8, monday_of(today) + WEEK, NEXT_WEEK),
    ):
        for day in days_of(monday):
            if day >= today:
                yield Wanted("staff", day, reason, turn)
        if desk.site.data.staff.people:
            yield Wanted("roster", monday, reason, turn)
    yield from (Wanted(kind, busy, MEASURES, 9) for kind in ("effect", "worth"))
    yield Wanted("next", today, NEXT, 9)
    yield Wanted("drift", today, CHANGED, 9)
    yield Wanted("scored", today, SCORED, 9)
    yield Wanted("season", today, SEASON, 10)


class Ahead:
    """Works answers out before anybody asks.

    Args:
        runner: computes them, behind everything that somebody asked for.
        today_at: tells a site's date.
        budget_s: processor time a day that it may take [s]; 0 works nothing out.

    Attributes:
        on_found: told what follows what is under way, and the sites that are readable, each time
            that something was begun.
    """

    def __init__(
        self, database: Database, runner: Runner, today_at: TodayAt, budget_s: float
    ) -> None:
        self.budget_s = budget_s
        self._database = database
        self._runner = runner
        self._today_at = today_at
        self._lock = threading.Lock()
        self._is_to_look = False
        self._settled: dict[int, tuple[object, set[Wanted]]] = {}
        self._begun: dict[str, tuple[int, Wanted]] = {}
        self._ended = threading.Event()
        self.on_found: Callable[[tuple[SiteLine, Wanted] | None, tuple[int, ...]], None] | None = (
            None
        )

    def start(self) -> None:
        """Begin, and go on whenever something changes: here, in another program, or the date."""
        if self.budget_s <= 0.0:
            return
        self._database.on_written = self._runner.on_shown = self.look
        self.look()
        threading.Thread(target=self._watch, daemon=True, name="ahead-watch").start()

    def close(self) -> None:
        """Begin nothing more; what is under way ends with the runner."""
        self._ended.set()

    def look(self) -> None:
        """Look for what comes next, beside the pages; once for all that happened meanwhile."""
        with self._lock:
            if self._is_to_look or self._ended.is_set() or self._runner.is_closing:
                return
            self._is_to_look = True
        self._runner.aside(self._look)

    def spent_s(self) -> float:
        """Processor time taken today [s]."""
        return self._runner.book.spent()

    def next(self) -> tuple[SiteLine, Wanted] | None:
        """What is worked out next, and for which site; None where everything is there."""
        with self._database.session() as session:
            found = self._first(session)
        return None if found is None else found[:2]

    def readable(self) -> tuple[int, ...]:
        """Sites of which something can be read on every page of today, but what has failed or was
        stopped."""
        with self._database.session() as session:
            return tuple(
                line.id
                for line in store.list_sites(session)
                if all(
                    self._is_settled(session, row)
                    for row in itertools.takewhile(is_first, self._rows(session, line))
                )
            )

    def go_on(self) -> Future[None] | None:
        """Begin what comes next, unless nothing can be read yet of so many that were begun; None
        if all is there or under way, or the budget is used up."""
        unseen = self._unseen()
        if len(unseen) >= AT_ONCE or any(one.kind == ALONE for one in unseen):
            return None
        if self.budget_s <= 0.0 or self.spent_s() >= self.budget_s:
            return None
        with self._database.session() as session:
            found = self._first(session)
        if found is None:
            return None
        _line, one, answer = found
        job = answer.job
        if job is None or (unseen and one.kind == ALONE):
            return None
        self._begun = {key: begun for key, begun in self._begun.items() if self._runner.has(key)}
        self._begun[job.key] = job.site_id, one
        return self._runner.begin(job, one.reason)

    # ---- parts -----------------------------------------------------------------------------------

    def _look(self) -> None:
        with self._lock:
            self._is_to_look = False
        take_up(self._database, self._runner)
        for site_id in {at for key, (at, _) in self._begun.items() if self._runner.has(key)}:
            drop_stale(self._database, self._runner, site_id)
        while (begun := self.go_on()) is not None:
            begun.add_done_callback(lambda _done: self.look())
        if self.on_found is not None:
            self.on_found(self.next(), self.readable())

    def _unseen(self) -> list[Wanted]:
        """What is under way of which nothing can be read yet."""
        return [one for key, (_at, one) in self._begun.items() if self._runner.is_unseen(key)]

    def _watch(self) -> None:
        while not self._ended.wait(LOOK_S):
            self.look()

    def _first(self, session: Session) -> tuple[SiteLine, Wanted, Answer[object, object]] | None:
        """The first answer that is neither stored nor under way, over all sites by turns."""
        waiting = [
            (line, *found)
            for line in store.list_sites(session)
            if (found := self._first_of(session, line)) is not None
        ]
        return min(waiting, key=lambda row: row[1].turn, default=None)

    def _first_of(
        self, session: Session, line: SiteLine
    ) -> tuple[Wanted, Answer[object, object]] | None:
        for row in self._rows(session, line):
            if not self._is_settled(session, row):
                study = studies.find_study(session, row.answer.key)
                if study is None or not study.is_open:
                    return row.one, row.answer
        return None

    def _rows(self, session: Session, line: SiteLine) -> Iterator[_Row]:
        """What is wanted of a site and may not be there yet, in order."""
        site = self._runner.past.site(session, line.slug)
        if site is None:
            return
        today = self._today_at(site.data.site.timezone, site.data.stands_on)
        desk = Desk(session, site, self._runner.blind())
        settled = self._settled_of(desk, today)
        for one in wanted(desk, today):
            if one not in settled:
                yield _Row(one, desk.open(KINDS[one.kind], one.day), settled)

    @staticmethod
    def _is_settled(session: Session, row: _Row) -> bool:
        """Whether an answer is there, or is not begun once more; then it is looked at no more."""
        answer = row.answer
        is_settled = not answer.is_wanting
        if not is_settled and is_first(row):
            is_settled = with_earlier(session, answer).result is not None
        if not is_settled:
            study = studies.find_study(session, answer.key)
            is_settled = study is not None and study.state in STOPPED
        if is_settled:
            row.settled.add(row.one)
        return is_settled

    def _settled_of(self, desk: Desk, today: date) -> set[Wanted]:
        """What needs no look any more while nothing changes at the site, and in the evenings from
        which today and tomorrow start."""
        site, data = desk.site, desk.data
        evenings = [
            followed_evening(data, day, desk.look, desk.log)
            for day in (today, today + timedelta(days=1))
        ]
        state = site.version, today, store.plan_versions(desk.session, site.id), evenings
        held = self._settled.get(site.id)
        if held is None or held[0] != state:
            held = self._settled[site.id] = state, set()
        return held[1]
