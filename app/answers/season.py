"""The season: a year of expected days, when sets are changed and ordered, and what else helps."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from app.answers.beliefs import BeliefView, begin_belief, open_belief
from app.answers.cloth import planned_rules
from app.answers.evenings import Look
from app.answers.libraries import answer_key, libraries
from app.answers.planning import SEED
from app.answers.season_basis import REPLICATIONS, SEASON_DAYS, SeasonBasis
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.db import store
from app.db.calendars import load_calendar
from app.db.session import Session
from app.db.store import StoredPlan, StoredSite
from app.files.calendar_file import calendar_file, new_uid
from app.sites.calendar_book import ABOUT, entries_of, of_calendar
from app.sites.changes import Gate
from app.sites.sites import with_history
from sim.day.belief import Belief
from sim.decide.cloth.answer import SeasonAnswer
from sim.decide.cloth.options import PEAKS, SHAPE
from sim.decide.cloth.outlook import SeasonAsked, season_answer
from sim.errors import InputProblem
from sim.inputs import SiteData
from sim.learn.expected_day import expected_day

__all__ = ["REPLICATIONS", "SEASON_DAYS"]

KIND = "season"
SCHEMA = "clothcast.season/2"
FAILED = "The season could not be worked out: {fault}"


@dataclass(frozen=True, slots=True)
class SeasonView:
    """A season as its page shows it.

    Attributes:
        first: its first day.
        basis: of what is still to be computed; None where it is stored or under way, or
            `problems` say why there is nothing.
        key: names question and answer.
        found: the stored answer; None if it has not been computed.
        running, failed: how far it is, or what went wrong.
        held: what the site's weighings have told so far.
    """

    first: date
    basis: SeasonBasis | None
    problems: tuple[InputProblem, ...]
    key: str
    found: SeasonAnswer | None
    running: Progress | None
    failed: str
    held: BeliefView | None = None


def season_key(
    stored: StoredSite, first: date, plans: dict[date, StoredPlan], held: BeliefView
) -> str:
    """A hash of everything that a season depends on, the model's version included.

    A version of a site is never changed, so it stands for inputs, past and sets; a year of days
    need not be gone through to find an answer that is stored.
    """
    versions = [(day.isoformat(), plan.version) for day, plan in sorted(plans.items())]
    belief = held.key if held.belief is not None else ""
    asked = [stored.id, stored.version, first.isoformat(), versions, belief]
    return answer_key(SCHEMA, REPLICATIONS, SEED, asked)


def answer_season(
    asked: SeasonAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SeasonAnswer:
    """The answer, with the versions of the libraries that it is computed with."""
    return season_answer(asked, libraries(), executor, progress)


def plans_from(session: Session, site_id: int, first: date) -> dict[date, StoredPlan]:
    """Stored plans of a season's days."""
    last = first + timedelta(days=SEASON_DAYS)
    found = {}
    for day in store.list_plan_days(session, site_id):
        plan = store.find_plan(session, site_id, day) if first <= day < last else None
        if plan is not None:
            found[day] = plan
    return found


def open_season(
    session: Session, stored: StoredSite, first: date, runner: Runner | None = None
) -> SeasonView:
    """The season from a day on and, where it has been computed, what it shows.

    Only where it is neither stored nor under way are its days gone through.
    """
    data = runner.past.data(session, stored) if runner else with_history(session, stored)
    look = runner.past.look if runner else expected_day
    held = open_belief(session, data, look, runner)
    if runner:
        begin_belief(runner, stored.id, data, held)
    basis = basis_of(session, stored, data, first, look, held.belief)
    key = season_key(stored, first, basis.plans, held)
    result = store.find_result(session, key)
    view = SeasonView(
        first,
        None,
        (),
        key,
        None if result is None else read(SeasonAnswer, json.dumps(result)),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
        held,
    )
    if view.found is not None or view.running is not None:
        return view
    problems = basis.problems()
    return replace(view, problems=problems) if problems else replace(view, basis=basis)


def basis_of(
    session: Session,
    stored: StoredSite,
    data: SiteData,
    first: date,
    look: Look,
    belief: Belief | None,
    replications: int = REPLICATIONS,
) -> SeasonBasis:
    """What a stored site's season rests on, as it is now; `data` is the site with its past."""
    plans = plans_from(session, stored.id, first)
    rules = planned_rules(session, stored)
    return SeasonBasis(data, first, plans, rules, look, belief, replications)


def stored_site(session: Session, site_id: int) -> StoredSite:
    """A site as it is stored."""
    return store.get_site(session, site_id)


def season_job(site_id: int, view: SeasonView) -> Job | None:
    """What computes a view's season; None if there is nothing to compute."""
    basis = view.basis
    if basis is None:
        return None
    steps = SEASON_DAYS + PEAKS * SHAPE.runs

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        report(0, steps)
        found: dict[str, Any] = json.loads(write(answer_season(basis.ask(), executor, report)))
        return found

    days = 2 * SEASON_DAYS * basis.replications
    return Job(KIND, view.key, site_id, view.first, steps, days, work, FAILED)


def begin_season(runner: Runner, site_id: int, view: SeasonView) -> None:
    """Begin to compute a view's season; nothing if it is stored or under way."""
    job = season_job(site_id, view)
    if job is not None:
        runner.begin(job)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that the season from a day on asks for as things stand; None if for none."""
    return season_job(stored.id, open_season(session, stored, day, runner))


def export_calendar(
    session: Session, now: datetime, stored: StoredSite, found: SeasonAnswer, today: date
) -> bytes:
    """A season's calendar file; what it holds is kept for the next one to follow."""
    site = stored.data.site
    entries = entries_of(found, site, today)
    gate = Gate(session, store.built_in_person(session), now)
    gate.keep_calendar(stored.id, entries, today, new_uid, ABOUT)
    rows = of_calendar(load_calendar(session, stored.id), ABOUT)
    return calendar_file(rows, f"{site.name}: cloth", site.timezone, today)
