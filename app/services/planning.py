"""Planning a day: what is expected, the scenarios, and their comparison, stored or under way."""

from __future__ import annotations

import hashlib
import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, timedelta
from importlib.metadata import version
from typing import Any

from app.catalogue import _
from app.db import store
from app.db.codec import encode
from app.db.session import Database, Session
from app.db.store import StoredSite
from app.services.changes import Gate
from app.services.sites import with_history
from sim.day.night import Evening
from sim.decide.compare import Question, check_question, check_scenarios, compare
from sim.decide.record import SCHEMA, record
from sim.errors import InputError, InputProblem
from sim.inputs import Scenario, SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day, parse_override

__all__ = ["check_scenarios"]

REPLICATIONS = 32
"""Simulated days of a plan unless told otherwise."""
SEED = 20260701
"""Root seed of plans unless told otherwise."""
LOOK_BACK_DAYS = 7
"""How far back the last open day is looked for; after more the cloth counts as dry."""

DEFAULT_SCENARIOS = (  # what a day without a stored plan compares
    Scenario("Always full", "full"),
    Scenario("Always reduced", "reduced"),
    Scenario("Reduced 10:00–17:00", "clock 10:00-17:00"),
)
LEAST_FOR_WORKERS = 2_000
"""From so many simulated days, counted over scenarios, starting worker processes is worth it."""

Look = Callable[[SiteData, date, Override], ExpectedDay]
"""Gives the expected day of a site, a date and what was typed over it; may raise InputError."""

LIBRARIES = ("simpy", "numpy", "scipy", "psychrolib")
MODEL = "1"
"""Raised whenever the model gives other figures for the same question."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a computation is: draws done, of all."""

    done: int
    total: int


@dataclass(frozen=True, slots=True)
class PlanView:
    """A day as its page shows it.

    Attributes:
        version: version of the stored plan; 0 when none is stored and the defaults are shown.
        expect: what was typed over the expected day.
        expected: the expected day; None when `problems` say why there is none.
        problems: why the day can't be planned; empty when it can.
        result: the stored comparison; None if it has not been computed.
        running: how far it is, while it is computed.
        failed: what went wrong when it was computed, in a sentence.
        key: names question and answer; empty when the day can't be planned.
    """

    day: date
    version: int
    expect: str
    scenarios: tuple[Scenario, ...]
    expected: ExpectedDay | None
    problems: tuple[InputProblem, ...]
    result: dict[str, Any] | None
    running: Progress | None
    failed: str
    key: str
    question: Question | None


def libraries() -> dict[str, str]:
    """Versions of what computes a comparison."""
    return {"clothcast": version("clothcast"), **{name: version(name) for name in LIBRARIES}}


def make_question(
    data: SiteData,
    day: date,
    expect: str,
    scenarios: tuple[Scenario, ...],
    replications: int = REPLICATIONS,
    seed: int = SEED,
    look: Look = expected_day,
) -> tuple[Question, ExpectedDay]:
    """The question that a plan asks, and the expected day it rests on.

    Args:
        look: gives the expected days; `Past.look` remembers them.

    Raises:
        InputError: if nothing can be expected of the day, or `expect` can't be read.
    """
    expected = look(data, day, parse_override(expect, data.units))
    evening = _evening(data, day, look)
    question = Question(
        data.site, expected.conditions, scenarios, replications, seed, evening, data.given
    )
    return question, expected


def _evening(data: SiteData, day: date, look: Look) -> Evening | None:
    """The last open day before, by what is expected of it."""
    for back in range(1, LOOK_BACK_DAYS + 1):
        before = day - timedelta(days=back)
        try:
            expected = look(data, before, Override())
        except InputError:
            return None
        if not expected.closed and expected.expected_cars > 0:
            return Evening(expected.conditions, back, long_date(before))
    return None


def long_date(day: date) -> str:
    """A date as pages say it, such as Saturday 18 July."""
    return f"{day:%A} {day.day} {day:%B}"


def is_long(question: Question) -> bool:
    """Whether a question is worth the seconds that worker processes take to start."""
    return question.replications * len(question.scenarios) >= LEAST_FOR_WORKERS


def question_key(question: Question) -> str:
    """A hash of everything that a comparison depends on, the model's version included."""
    known = None if question.known is None else sorted(question.known)
    content = encode([SCHEMA, MODEL, libraries(), {**asdict(question), "known": known}])
    return hashlib.sha256(content.encode()).hexdigest()[:32]


def answer(
    question: Question,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> dict[str, Any]:
    """The comparison of a question as plain content; see `sim.decide.compare.record`."""
    found = compare(question, executor, progress)
    return record(found, day.isoformat(), origin, libraries())


def open_plan(
    session: Session, stored: StoredSite, day: date, runner: Runner | None = None
) -> PlanView:
    """A day's plan with its expected day and, where it has been computed, its comparison."""
    plan = store.find_plan(session, stored.id, day)
    data = runner.past.data(session, stored) if runner else with_history(session, stored)
    expect = plan.expect if plan else ""
    scenarios = plan.scenarios if plan else DEFAULT_SCENARIOS
    version_ = plan.version if plan else 0
    blank = PlanView(day, version_, expect, scenarios, None, (), None, None, "", "", None)
    try:
        look = runner.past.look if runner else expected_day
        question, expected = make_question(data, day, expect, scenarios, look=look)
    except InputError as fault:
        return replace(blank, problems=fault.problems)
    view = replace(blank, expected=expected)
    if expected.closed:
        return view
    problems = check_question(question)
    if problems:
        return replace(view, problems=tuple(problems))
    key = question_key(question)
    return replace(
        view,
        result=store.find_result(session, key),
        running=runner.progress(key) if runner else None,
        failed=runner.failure(key) if runner else "",
        key=key,
        question=question,
    )


class Past:
    """Sites with their past and the days expected from it, kept while their version stays.

    Reading a year and going through it for one expected day takes longer than drawing a page.
    """

    KEPT = 8
    KEPT_DAYS = 400

    def __init__(self) -> None:
        self._kept: dict[tuple[int, int], SiteData] = {}
        self._days: dict[tuple[int, date, Override], tuple[SiteData, ExpectedDay]] = {}
        self._lock = threading.Lock()

    def data(self, session: Session, stored: StoredSite) -> SiteData:
        """The site with its past, from memory if this version of it was read before."""
        key = (stored.id, stored.version)
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = with_history(session, stored)
            with self._lock:
                while len(self._kept) >= self.KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[key] = found
        return found

    def look(self, data: SiteData, day: date, override: Override) -> ExpectedDay:
        """`expected_day`, from memory if it was asked of this very data before."""
        key = (id(data), day, override)
        with self._lock:
            kept = self._days.get(key)
        if kept is not None and kept[0] is data:  # an id may come back after its data has gone
            return kept[1]
        found = expected_day(data, day, override)
        with self._lock:
            while len(self._days) >= self.KEPT_DAYS:
                self._days.pop(next(iter(self._days)))
            self._days[key] = (data, found)
        return found


class Runner:
    """Computes comparisons in the background, each question once, and stores the answers.

    One thread waits for the days that worker processes simulate; processes are started afresh
    (spawn), so that they share nothing with the pages.
    """

    def __init__(self, database: Database, workers: int, now: Callable[[], datetime]) -> None:
        self._database = database
        self._now = now
        self._workers = workers
        self.past = Past()
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="plans")
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()
        self._progress: dict[str, Progress] = {}
        self._failures: dict[str, str] = {}

    def start(self, site_id: int, view: PlanView) -> Future[None] | None:
        """Begin to compute a view's question; nothing if it is stored or under way."""
        if view.question is None or view.expected is None or view.result is not None:
            return None
        with self._lock:
            if view.key in self._progress:
                return None
            self._progress[view.key] = Progress(0, view.question.replications)
            self._failures.pop(view.key, None)
        return self._thread.submit(self._work, site_id, view)

    def progress(self, key: str) -> Progress | None:
        """How far a question is; None when it is not being computed."""
        with self._lock:
            return self._progress.get(key)

    def failure(self, key: str) -> str:
        """What went wrong with a question, in a sentence; empty when nothing did."""
        with self._lock:
            return self._failures.get(key, "")

    def close(self) -> None:
        """Stop the workers; what is not finished is not stored."""
        self._thread.shutdown(wait=False, cancel_futures=True)
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _work(self, site_id: int, view: PlanView) -> None:
        question, expected = view.question, view.expected
        if question is None or expected is None:
            return
        try:
            with self._database.session() as session:
                if store.find_result(session, view.key) is not None:
                    return  # a page drawn before the answer was stored asked once more

            def told(done: int) -> None:
                with self._lock:
                    self._progress[view.key] = Progress(done, question.replications)

            payload = answer(question, view.day, expected.origin, self._executor(question), told)
            with self._database.session() as session:
                gate = Gate(session, store.built_in_person(session), self._now())
                gate.store_result(view.key, site_id, view.day, payload)
        except Exception as fault:
            # Whatever happens in a worker must reach the page as a sentence, not die in a thread.
            with self._lock:
                self._failures[view.key] = _(
                    "The plan could not be worked out: {fault}", fault=fault
                )
            if self._pool is not None:
                self._pool.shutdown(wait=False, cancel_futures=True)
                self._pool = None
        finally:
            with self._lock:
                self._progress.pop(view.key, None)

    def _executor(self, question: Question) -> Executor | None:
        if self._workers < 2 or not is_long(question):
            return None
        if self._pool is None:
            self._pool = ProcessPoolExecutor(
                self._workers, mp_context=multiprocessing.get_context("spawn")
            )
        return self._pool
