"""Staff: who is needed on a day, computed in the background and read when it is there."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from app.answers.libraries import answer_key, libraries
from app.answers.planning import PlanView
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.answers.switching import open_switch
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from sim.decide.staff.answer import EXPECTED_DAYS, SCHEMA, staff_answer
from sim.decide.staff.needs import DAYS
from sim.decide.switching.search import SwitchQuestion

KIND = "staff"
FAILED = "Who is needed could not be worked out: {fault}"


@dataclass(frozen=True, slots=True)
class StaffView:
    """Who is needed on a day, as its page shows it.

    Attributes:
        plan: the day's plan, whose first scenario is what is done now.
        asked: what is to be computed; None where the day can't be planned.
        key: names question and answer; empty with `asked`.
        result: the stored answer; None if it has not been computed.
        running: how far it is, while it is computed.
        failed: what went wrong, in a sentence.
    """

    plan: PlanView
    asked: SwitchQuestion | None
    key: str
    result: dict[str, Any] | None
    running: Progress | None
    failed: str


def answer_staff(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
) -> dict[str, Any]:
    """The answer as plain content; see `sim.decide.staff.answer`.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    return staff_answer(asked, day.isoformat(), origin, libraries(), executor, progress, days)


def staff_key(asked: SwitchQuestion) -> str:
    """A hash of everything that the answer depends on, the model's version included."""
    return answer_key(SCHEMA, asdict(asked))


def open_staff(
    session: Session, stored: StoredSite, day: date, runner: Runner | None = None
) -> StaffView:
    """Who is needed on a day and, where it has been computed, the answer."""
    view = open_switch(session, stored, day, runner)
    if view.asked is None:
        return StaffView(view.plan, None, "", None, None, "")
    asked = replace(view.asked, known=None)  # guesses stay at their middle values
    key = staff_key(asked)
    return StaffView(
        view.plan,
        asked,
        key,
        store.find_result(session, key),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def begin_staff(runner: Runner, site_id: int, view: StaffView) -> None:
    """Begin to compute a view's answer; nothing if it is stored or under way."""
    job = staff_job(site_id, view)
    if job is not None:
        runner.begin(job)


def staff_job(site_id: int, view: StaffView) -> Job | None:
    """What computes a view's answer; None if there is nothing to compute."""
    asked, expected = view.asked, view.plan.expected
    if asked is None or expected is None or view.result is not None:
        return None
    day, origin = view.plan.day, expected.origin

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        return answer_staff(asked, day, origin, executor, report)

    return Job(KIND, view.key, site_id, day, EXPECTED_DAYS, EXPECTED_DAYS, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that a day asks for as things stand; None if it asks for none."""
    return staff_job(stored.id, open_staff(session, stored, day, runner))
