"""Work that the command line waits for: with a bar, and by worker processes where it is long."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from datetime import date

from rich.console import Console

from app.answers import coming_plans, planning, switching
from app.answers.answer import Desk
from app.answers.beliefs import belief_now
from app.answers.studies.runner import is_long
from app.catalogue import _
from app.cli import terminal
from app.cli.workspace import OpenSite
from app.settings import Settings
from sim.day.drawn import Belief
from sim.decide.answer import Plan
from sim.decide.compare import Question, compare
from sim.decide.switching.answer import ComingAnswer, WhenToReduce
from sim.learn.expected_day import ExpectedDay


def workers(settings: Settings) -> AbstractContextManager[Executor | None]:
    """Worker processes, started afresh; none for one, which is this process."""
    if settings.command_workers < 2:
        return nullcontext()
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(settings.command_workers, mp_context=context)


def belief_of(console: Console, opened: OpenSite) -> Belief | None:
    """What the site's weighings tell, worked out if that has not been done."""
    if not opened.data.weighings:
        return None
    with terminal.progress(console, _("Working the weighings in"), 1) as told:
        return belief_now(opened.session, opened.stored, told)


def planned(
    settings: Settings, console: Console, question: Question, expected: ExpectedDay
) -> Plan:
    """The plan of a question, by worker processes where that is worth their start."""
    total, words = question.replications, _("Simulating days")
    with terminal.progress(console, words, total) as told:
        if not is_long(planning.simulated_days(question)):
            found = compare(question, None, told)
        else:
            with workers(settings) as pool:
                found = compare(question, pool, told)
    return planning.plan_of(question, expected, found)


def decided(
    settings: Settings,
    console: Console,
    question: Question,
    day: date,
    origin: str,
    *,
    exhaustive: bool,
    with_settings: bool,
) -> WhenToReduce:
    """When to reduce on the day of a question, on wish with speed and spacing as well."""
    asked = switching.switch_question(question)
    depth = switching.EXHAUSTIVE if exhaustive else switching.WHOLE
    total = switching.runs_of(asked, depth)
    with workers(settings) as pool:
        with terminal.progress(console, _("Simulating days"), total) as told:
            found = switching.answer_switch(asked, day, origin, pool, told, depth)
        if with_settings:
            with terminal.progress(console, _("Trying settings"), switching.SETTING_RUNS) as told:
                both = switching.answer_together(asked, found.chosen, day, pool, told)
            return replace(found, together=both)
    return found


def ahead(
    settings: Settings, console: Console, opened: OpenSite, first: date, belief: Belief | None
) -> ComingAnswer:
    """The plans of the days from a day on, by what is stored of them."""
    asked = coming_plans.coming_asked(Desk(opened.session, opened.stored), first, belief)
    with (
        workers(settings) as pool,
        terminal.progress(console, _("Planning days"), coming_plans.STEPS) as told,
    ):
        return coming_plans.answer_coming(asked, pool, told)
