"""The season: a year of expected days, when sets are changed and ordered, and what else helps."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from app.db import store
from app.db.calendars import load_calendar
from app.db.codec import encode
from app.db.session import Session
from app.db.store import StoredPlan, StoredSite
from app.services.beliefs import BeliefView, begin_belief, open_belief
from app.services.calendar_book import entries_of
from app.services.calendar_file import calendar_file
from app.services.changes import Gate
from app.services.cloth import SEED as CLOTH_SEED
from app.services.cloth import planned_rules, typical_days
from app.services.evenings import Look, evening_before
from app.services.libraries import MODEL, libraries
from app.services.planning import SEED
from app.services.sites import with_history
from app.services.studies import Job, Progress, Report, Runner
from sim.checks import check_conditions, check_site
from sim.day.belief import Belief
from sim.day.rules import Rule
from sim.decide.cloth.answer import cloth_answer
from sim.decide.cloth.options import PEAKS, SHAPE, OptionsQuestion, stand_for, weigh_options
from sim.decide.cloth.outlook import Rotation, look_ahead, peak_days
from sim.decide.cloth.season import SeasonDay, SeasonQuestion, run_season
from sim.decide.cloth.season_record import SCHEMA, season_record
from sim.errors import InputError, InputProblem
from sim.inputs import WEIGHINGS, Scenario, Site, SiteData
from sim.learn.cloth_wear import ENDED, NEW, OFF, ON, WearDays
from sim.learn.expected_day import ExpectedDay, Override, expected_day, parse_override
from sim.units import show_clock

KIND = "season"
END_OF_DAY_S = 86_340.0
SEASON_DAYS = 365
LOOKED_AT = 7
"""Days of which one has to be expected, before a season is begun."""
REPLICATIONS = 50
"""Simulated days of each day of a season and each rule."""
FAILED = "The season could not be worked out: {fault}"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A day of the season without figures: closed, without cars, or one that can't be planned.

    Attributes:
        problem: why it can't be planned; None for a day that is closed or expects no car.
    """

    day: date
    problem: InputProblem | None


@dataclass(frozen=True, slots=True)
class SeasonAsked:
    """Everything that a season depends on.

    Attributes:
        question: its open days; options: its peak days and what is known of the site.
        rotation: the sets in use and what is believed of their lives.
        left_out: days without figures, in order.
    """

    question: SeasonQuestion
    options: OptionsQuestion
    rotation: Rotation
    left_out: tuple[LeftOut, ...]

    @property
    def steps(self) -> int:
        """Days of the season, and simulated days of the options' drawn sites."""
        return len(self.question.days) + len(self.options.peaks) * self.options.shape.runs


@dataclass(frozen=True, slots=True)
class SeasonBasis:
    """What a season's question is made from; that takes seconds, so no page waits for it.

    Attributes:
        plans, rules: stored plans, and wiping rules of planned days, by day.
        look: gives the expected days.
        belief: what weighings leave of the guesses.
    """

    data: SiteData
    first: date
    plans: dict[date, StoredPlan]
    rules: dict[date, Rule]
    look: Look
    belief: Belief | None
    replications: int

    def problems(self) -> tuple[InputProblem, ...]:
        """Every problem of the site; else why nothing can be expected of any of the first days."""
        found = check_site(self.data.site)
        if found:
            return tuple(found)
        faults: tuple[InputProblem, ...] = ()
        for ahead in range(LOOKED_AT):
            try:
                self.look(self.data, self.first + timedelta(days=ahead), Override())
            except InputError as fault:
                faults = faults or fault.problems
            else:
                return ()
        return faults

    def ask(self) -> SeasonAsked:
        """The question; raises InputError as `ask_season` and `rotation_of` do."""
        rotation = rotation_of(self.data, self.first, self.rules, self.look)
        return ask_season(
            self.data,
            self.first,
            rotation,
            self.plans,
            self.look,
            self.belief,
            self.replications,
        )


@dataclass(frozen=True, slots=True)
class SeasonView:
    """A season as its page shows it.

    Attributes:
        first: its first day.
        basis: of what is still to be computed; None where it is stored or under way, or
            `problems` say why there is nothing.
        key: names question and answer.
        result: the stored answer; None if it has not been computed.
        running, failed: how far it is, or what went wrong.
        held: what the site's weighings have told so far.
    """

    first: date
    basis: SeasonBasis | None
    problems: tuple[InputProblem, ...]
    key: str
    result: dict[str, Any] | None
    running: Progress | None
    failed: str
    held: BeliefView | None = None


def counted_on(site: Site, is_peak: bool) -> Scenario:
    """What a day without a plan of its own counts on."""
    wishes = site.wishes
    hours = f"{show_clock(wishes.season_from_h * 3600.0)}-{show_clock(wishes.season_to_h * 3600.0)}"
    rule = {
        "full": "full",
        "reduced": "reduced",
        "clock": f"clock {hours}",
        "peak": f"clock {hours}" if is_peak else "full",
    }[wishes.season_wiping]
    return Scenario("planned", rule)


def ask_season(
    data: SiteData,
    first: date,
    rotation: Rotation,
    plans: dict[date, StoredPlan],
    look: Look = expected_day,
    belief: Belief | None = None,
    replications: int = REPLICATIONS,
    seed: int = SEED,
    length: int = SEASON_DAYS,
) -> SeasonAsked:
    """The question of a season.

    Args:
        plans: stored plans by day; the first scenario of each is what is planned.
        look: gives the expected days.
        belief: what weighings leave of the guesses.

    Raises:
        InputError: with every problem of the site; of its first day where nothing can be expected
            of any; or if no day of the season can be planned.
    """
    problems = check_site(data.site)
    if problems:
        raise InputError(problems)
    middle = data.site if belief is None else belief.middle(data.site)
    days, left_out = _sorted_out(data, middle, first, plans, look, length)
    if not days:
        found = [row.problem for row in left_out if row.problem is not None]
        sentence = "No day of the season from {first} to {last} expects any car."
        filling = {"first": first, "last": first + timedelta(days=length - 1)}
        raise InputError(found[:1] or [InputProblem("day", sentence, filling)])
    marks = peak_days(days, middle.wishes.peak_days_share)
    planned = tuple(
        one if one.day in plans else replace(one, planned=counted_on(middle, bool(is_peak)))
        for one, is_peak in zip(days, marks, strict=True)
    )
    peaks = [one for one, is_peak in zip(planned, marks, strict=True) if is_peak]
    question = SeasonQuestion(middle, planned, replications, seed)
    options = OptionsQuestion(data.site, stand_for(peaks), len(peaks), seed, data.given, belief)
    return SeasonAsked(question, options, rotation, tuple(left_out))


def _sorted_out(
    data: SiteData,
    middle: Site,
    first: date,
    plans: dict[date, StoredPlan],
    look: Look,
    length: int,
) -> tuple[list[SeasonDay], list[LeftOut]]:
    days: list[SeasonDay] = []
    left_out: list[LeftOut] = []
    for ahead in range(length):
        day = first + timedelta(days=ahead)
        plan = plans.get(day)
        try:
            expected = _expected(data, day, plan, look)
        except InputError as fault:
            left_out.append(LeftOut(day, fault.problems[0]))
            continue
        if expected.closed or expected.expected_cars <= 0.0:
            left_out.append(LeftOut(day, None))
            continue
        faults = check_conditions(middle, expected.conditions)
        if faults:
            left_out.append(LeftOut(day, faults[0]))
            continue
        scenario = plan.scenarios[0] if plan else Scenario("planned")
        evening = evening_before(data, day, look)
        days.append(SeasonDay(day, expected.conditions, evening, replace(scenario, name="planned")))
    return days, left_out


def _expected(data: SiteData, day: date, plan: StoredPlan | None, look: Look) -> ExpectedDay:
    return look(data, day, parse_override(plan.expect if plan else "", data.units))


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
    content = encode([SCHEMA, MODEL, libraries(), REPLICATIONS, SEED, asked])
    return hashlib.sha256(content.encode()).hexdigest()[:32]


def answer_season(
    asked: SeasonAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> dict[str, Any]:
    """The season as plain content; see `sim.decide.cloth.season_record.season_record`."""
    total, days = asked.steps, len(asked.question.days)
    run = run_season(asked.question, executor, lambda done, _: progress(done, total))
    outlook = look_ahead(run, asked.rotation)
    rows = weigh_options(asked.options, executor, lambda done, _: progress(days + done, total))
    peaks = [one.day.isoformat() for one in asked.options.peaks]
    found = season_record(outlook, asked.rotation, rows, peaks, libraries())
    found["peak_days"] = asked.options.count
    belief = asked.options.belief
    found["weighed"] = belief is not None and len(belief.weighed) >= len(WEIGHINGS)
    found["left_out"] = [
        {"day": row.day.isoformat(), "why": "" if row.problem is None else str(row.problem)}
        for row in asked.left_out
    ]
    return found


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
    view = SeasonView(
        first,
        None,
        (),
        key,
        store.find_result(session, key),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
        held,
    )
    if view.result is not None or view.running is not None:
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
        return answer_season(basis.ask(), executor, report)

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


def rotation_of(
    data: SiteData, today: date, rules: dict[date, Rule], look: Look = expected_day
) -> Rotation:
    """The sets in use, and when one is changed, as the page of the cloth has it.

    Sets in rotation that have no record count as worn as the one on the wheel: sets that take
    turns wear alike.

    Args:
        rules: wiping rules of planned days.

    Raises:
        InputError: if there are no counts to expect anything from.
    """
    site, days = data.site, WearDays(data, rules)
    typical = typical_days(data, days, today, look)
    found = cloth_answer(data, days, today, END_OF_DAY_S, typical, CLOTH_SEED)
    ages = [one.age_cars for one in found.states if one.state == ON]
    ages = ages or [site.wear.cloth_wear_cars]
    ages += [one.age_cars for one in found.states if one.state == OFF]
    ages += [ages[0]] * (site.wear.sets_owned - len(ages))
    new = sum(one.state == NEW for one in found.states)
    ended = sum(one.state == ENDED for one in found.states)
    return Rotation(tuple(ages), found.posterior, found.change.age, new, ended)


def export_calendar(
    session: Session, now: datetime, stored: StoredSite, found: dict[str, Any], today: date
) -> bytes:
    """A season's calendar file; what it holds is kept for the next one to follow."""
    site = stored.data.site
    entries = entries_of(found, site, today)
    gate = Gate(session, store.built_in_person(session), now)
    gate.keep_calendar(stored.id, entries, today, lambda: f"{uuid.uuid4().hex}@clothcast")
    rows = load_calendar(session, stored.id)
    return calendar_file(rows, f"{site.name}: cloth", site.timezone, today)
