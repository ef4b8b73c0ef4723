"""What the weighings of a site leave of its guesses: worked out once, and kept under its key."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.services.evenings import Look, evening_before
from app.services.libraries import answer_key
from app.services.studies import Job, Progress, Report, Runner
from sim.day.belief import Belief
from sim.day.rules import parse_rule
from sim.errors import InputError, InputProblem
from sim.inputs import SiteData, Weighing
from sim.inputs.people import Money, Wishes
from sim.learn.expected_day import Override, expected_day
from sim.learn.weigh_in import DAYS, FIRST_SIZE, WeighedDay, posterior, touched
from sim.units import show_clock

SCHEMA = "clothcast.weighings/1"
KIND = "weighings"
SEED = 20260702
"""Root seed of what weighings are judged by; plans have another."""
FAILED = "The weighings could not be worked in: {fault}"


@dataclass(frozen=True, slots=True)
class Weighed:
    """The weighings of a site that can be judged, and why others can't.

    Attributes:
        days: those that need their day, by day and rule, with what it was expected to bring.
    """

    weighings: tuple[Weighing, ...]
    days: tuple[WeighedDay, ...]
    problems: tuple[InputProblem, ...]


@dataclass(frozen=True, slots=True)
class BeliefView:
    """What weighings have told so far.

    Attributes:
        weighed: what is judged; key: names it, empty where there is nothing to judge.
        content: what came out, as plain content; None until it has been worked out.
        running, failed: how far that is, or what went wrong with it.
    """

    weighed: Weighed
    key: str
    content: dict[str, Any] | None
    running: Progress | None
    failed: str

    @property
    def belief(self) -> Belief | None:
        """What plans draw sites from; None without weighings, or where they don't fit."""
        if self.content is None or not self.content["fits"]:
            return None
        held = self.content["belief"]
        lists = {name: tuple(held[name]) for name in ("names", "kept", "weighed")}
        return Belief(**{**held, **lists})

    @property
    def is_pending(self) -> bool:
        """Whether there are weighings that no plan uses yet."""
        return bool(self.key) and self.content is None


def weighed(data: SiteData, look: Look = expected_day) -> Weighed:
    """The weighings of a site, with the days that they need as those were to be expected."""
    problems: list[InputProblem] = []
    kept: list[Weighing] = []
    together: dict[tuple[object, str], list[Weighing]] = {}
    days = []
    keys = [item.key for item in data.site.vehicles]
    for item in data.weighings:
        if not item.needs_day:
            kept.append(item)
            continue
        try:
            parse_rule(item.rule, keys)
            look(data, item.day, Override())
        except InputError as fault:
            problems += [_left_out(item, p) for p in fault.problems]
            continue
        together.setdefault((item.day, item.rule), []).append(item)
    for group in together.values():
        day = look(data, group[0].day, Override())
        if day.closed or day.expected_cars <= 0:
            sentence = "no cars are expected on that day: it is closed, or counted as empty"
            problems += [_left_out(item, InputProblem("day", sentence)) for item in group]
            continue
        evening = evening_before(data, group[0].day, look)
        days.append(WeighedDay(tuple(group), day.conditions, evening))
        kept += group
    return Weighed(tuple(kept), tuple(days), tuple(problems))


def _left_out(item: Weighing, why: InputProblem) -> InputProblem:
    sentence = "The weighing of {day}, {time}, is left out: " + why.sentence
    values = {**why.values, "day": item.day.isoformat(), "time": show_clock(item.at_s)}
    return InputProblem("weighing", sentence, values)


def belief_key(data: SiteData, found: Weighed) -> str:
    """A hash of everything that the outcome depends on; empty where nothing was weighed."""
    if not found.weighings:
        return ""
    # what a car brings and what a manager wishes changes no moisture
    site = replace(data.site, name="", timezone="", money=Money(), wishes=Wishes())
    weighings = [{**asdict(item), "day": item.day.isoformat()} for item in found.weighings]
    days = [
        [
            [w.at_s for w in day.weighings],
            asdict(day.conditions),
            day.evening and asdict(day.evening),
        ]
        for day in found.days
    ]
    asked = [asdict(site), sorted(data.given), weighings, days, SEED]
    return answer_key(SCHEMA, asked)


def open_belief(
    session: Session, data: SiteData, look: Look = expected_day, runner: Runner | None = None
) -> BeliefView:
    """What is known of a site with its past by its weighings."""
    found = weighed(data, look)
    key = belief_key(data, found)
    if not key:
        return BeliefView(found, "", None, None, "")
    return BeliefView(
        found,
        key,
        store.find_result(session, key),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def work_in(
    data: SiteData,
    found: Weighed,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> dict[str, Any]:
    """What the weighings leave of the guesses, as plain content."""
    came = posterior(data.site, data.given, found.weighings, found.days, SEED, executor, progress)
    return {
        "schema": SCHEMA,
        "fits": came.fits,
        "misfit": came.misfit,
        "belief": asdict(came.belief),
        "inputs": [asdict(row) for row in touched(data.site, came.belief)],
    }


def begin_belief(runner: Runner, site_id: int, data: SiteData, view: BeliefView) -> None:
    """Begin to work the weighings in; nothing if that is done, under way, failed or not needed."""
    job = None if view.failed else belief_job(site_id, data, view)
    if job is not None:
        runner.begin(job)


def belief_job(site_id: int, data: SiteData, view: BeliefView) -> Job | None:
    """What works the weighings in; None if there is nothing to do."""
    if not view.is_pending:
        return None
    found = view.weighed

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        return work_in(data, found, executor, report)

    days = FIRST_SIZE * (DAYS + 1) * len(found.days)
    newest = max(item.day for item in found.weighings)
    return Job(KIND, view.key, site_id, newest, FIRST_SIZE, days, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, _day: date, runner: Runner) -> Job | None:
    """The job that a site's weighings ask for as things stand, whatever the day."""
    past = runner.past
    data = past.data(session, stored)
    return belief_job(stored.id, data, open_belief(session, data, past.look, runner))


def belief_now(
    session: Session,
    data: SiteData,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Belief | None:
    """The same for the command line: from the database, else worked out on the spot."""
    view = open_belief(session, data)
    if view.is_pending:
        view = replace(view, content=work_in(data, view.weighed, None, progress))
    return view.belief
