"""Making a week's roster as a study: who is needed each day, the solver apart, the proposal."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from multiprocessing.connection import Connection
from typing import Any

from app.answers import staff
from app.answers.libraries import answer_key
from app.answers.roster import SCHEMA, Answer, Week, answer, monday_of, roster_record, week_of
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from sim.decide.staff.answer import StaffAnswer
from sim.decide.staff.week import DAYS

KIND = "roster"
FAILED = "The roster could not be made: {fault}"
MOST_S = 30.0
"""Time that the solver may take [s]; it ends earlier where nothing is left to gain."""
POLL_S = 0.25
"""How often whoever waits for the solver looks whether to go on waiting [s]."""
Needs = Mapping[date, StaffAnswer]
"""What the page Staff worked out, by day."""


@dataclass(frozen=True, slots=True)
class RosterView:
    """A week's roster as it can be made now.

    Attributes:
        monday: first day of the week.
        needs: days of it whose people have been worked out.
        open_days: days on which people are needed, worked out or as planned.
        week: the question; None for a site without people.
        key: names question and answer; empty without `week`.
        result: what was found for it, as plain content; None if nothing has been yet.
        running, failed: how far it is, or what went wrong with it.
    """

    monday: date
    needs: Needs
    open_days: tuple[date, ...]
    week: Week | None
    key: str
    result: dict[str, Any] | None
    running: Progress | None
    failed: str

    @property
    def unknown(self) -> tuple[date, ...]:
        """Days on which people are needed, but have not been worked out."""
        return tuple(day for day in self.open_days if day not in self.needs)


def days_of(monday: date) -> tuple[date, ...]:
    """The days of a week."""
    return tuple(monday + timedelta(days=day) for day in range(DAYS))


def staff_views(
    session: Session, stored: StoredSite, monday: date, runner: Runner
) -> tuple[staff.StaffView, ...]:
    """The page Staff of each day of a week."""
    return tuple(staff.open_staff(session, stored, day, runner) for day in days_of(monday))


def open_roster(session: Session, stored: StoredSite, monday: date, runner: Runner) -> RosterView:
    """A week's question, by what was worked out of its days, and its answer if there is one."""
    views = staff_views(session, stored, monday, runner)
    needs = {view.plan.day: view.result for view in views if view.result is not None}
    data = runner.past.data(session, stored)
    if not data.staff.people:
        return RosterView(monday, needs, (), None, "", None, None, "")
    week = week_of(data, monday, needs)
    open_days = tuple(day for at, day in enumerate(days_of(monday)) if week.needed[at].any())
    key = roster_key(week)
    return RosterView(
        monday,
        needs,
        open_days,
        week,
        key,
        store.find_result(session, key),
        runner.progress(key, session),
        runner.failure(key, session),
    )


def roster_key(week: Week) -> str:
    """A hash of everything that a roster depends on."""
    asked = {
        **asdict(week),
        "monday": week.monday.isoformat(),
        "people": [
            {**asdict(one), "away": [[str(a.when), a.from_s, a.to_s] for a in one.away]}
            for one in week.people
        ],
        "needed": week.needed.tolist(),
        "skilled": {name: rows.tolist() for name, rows in sorted(week.skilled.items())},
    }
    return answer_key(SCHEMA, asked, MOST_S)


def needs_jobs(
    session: Session, stored: StoredSite, monday: date, runner: Runner
) -> tuple[Job, ...]:
    """The jobs that work out the people of a week's days that have not been."""
    views = staff_views(session, stored, monday, runner)
    jobs = (staff.staff_job(stored.id, view) for view in views)
    return tuple(job for job in jobs if job is not None)


def roster_job(site_id: int, view: RosterView) -> Job | None:
    """What makes a view's roster; None if there is nothing to do."""
    week = view.week
    if week is None or view.result is not None:
        return None

    def work(_executor: object, report: Report) -> dict[str, Any]:
        return roster_record(week, answer_apart(week, report))

    steps = round(MOST_S / POLL_S)
    return Job(KIND, view.key, site_id, view.monday, steps, 0, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that the week of a day asks for as things stand; None if it asks for none."""
    return roster_job(stored.id, open_roster(session, stored, monday_of(day), runner))


def answer_apart(week: Week, report: Callable[[int, int], None], most_s: float = MOST_S) -> Answer:
    """The roster, made in a process of its own: a solver can't be stopped, a process can be.

    Raises:
        Stopped: where `report` does; the process is ended then.
        RuntimeError: if the process ended without an answer.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    solver = context.Process(target=_solve, args=(theirs, week, most_s), daemon=True)
    solver.start()
    theirs.close()
    steps, done = round(most_s / POLL_S), 0
    try:
        while not ours.poll(POLL_S):
            done = min(done + 1, steps - 1)
            report(done, steps)
        found: Answer = ours.recv()
    except EOFError:
        raise RuntimeError("the solver ended without an answer") from None
    finally:
        solver.kill()
        solver.join()
        ours.close()
    return found


def _solve(connection: Connection, week: Week, most_s: float) -> None:
    connection.send(answer(week, most_s))


__all__ = [
    "KIND",
    "RosterView",
    "answer_apart",
    "needs_jobs",
    "days_of",
    "job_of_day",
    "open_roster",
    "roster_job",
    "roster_key",
    "staff_views",
]
