"""Staff: who is needed on a day, computed in the background and read when it is there."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from typing import Any

from app.answers.libraries import answer_key, libraries
from app.answers.planning import PlanView
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.answers.switching import open_switch
from app.catalogue import _
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.files.sheets import Sheet
from sim.decide.staff.answer import STAFF_SCHEMA, StaffAnswer
from sim.decide.staff.day import EXPECTED_DAYS, staff_answer
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
    result: StaffAnswer | None
    running: Progress | None
    failed: str


def answer_staff(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
) -> StaffAnswer:
    """The answer.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    return staff_answer(asked, day, origin, libraries(), executor, progress, days)


def staff_key(asked: SwitchQuestion) -> str:
    """A hash of everything that the answer depends on, the model's version included."""
    return answer_key(STAFF_SCHEMA, asdict(asked))


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
        _read(store.find_result(session, key)),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def _read(held: dict[str, Any] | None) -> StaffAnswer | None:
    return None if held is None else read(StaffAnswer, json.dumps(held))


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
        found: dict[str, Any] = json.loads(
            write(answer_staff(asked, day, origin, executor, report))
        )
        return found

    return Job(KIND, view.key, site_id, day, EXPECTED_DAYS, EXPECTED_DAYS, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that a day asks for as things stand; None if it asks for none."""
    return staff_job(stored.id, open_staff(session, stored, day, runner))


def staff_sheets(told: StaffAnswer) -> tuple[Sheet, ...]:
    """Every table of the answer: people by half-hour, and one person more or fewer by hour."""
    return people_sheet(told), _effects(told)


def people_sheet(told: StaffAnswer) -> Sheet:
    """A row a half-hour: people needed, planned, by role, and what came and waited."""
    heads = (
        _("From"), _("Needed"), _("Planned"), *told.called.values(), _("Cars that come"),
        _("Late share"), _("Cars lost"), _("Time with a full stack"), _("Use of people"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=row.start_h),
            row.people,
            row.planned,
            *(row.roles[role] for role in told.called),
            row.arrived,
            row.late_share,
            row.lost,
            row.full_share,
            row.use,
        )
        for row in told.half_hours
    )
    return Sheet(_("People by half-hour"), heads, rows)


def _effects(told: StaffAnswer) -> Sheet:
    heads = (
        _("Hour"), _("People"), _("Wait of 9 cars in 10, s"), _("± half its 95 % interval"),
        _("Cars lost"), _("±"), _("Margin"), _("±"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=one.hour),
            one.change,
            one.wait_p90_s.mean,
            one.wait_p90_s.half,
            one.cars_lost.mean,
            one.cars_lost.half,
            one.margin.mean,
            one.margin.half,
        )
        for one in told.effects
    )
    return Sheet(_("One more or fewer"), heads, rows)
