"""Speed, spacing and rule together: a study of a day's own, asked for when its rule is known."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.answers.libraries import answer_key, libraries
from app.answers.serial import read, write
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.answers.switching import SwitchView, open_switch, with_one_more
from app.catalogue import _
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from sim.decide.switching.answer import TOGETHER_SCHEMA, Rule, Together
from sim.decide.switching.search import SwitchQuestion
from sim.decide.switching.selection import Effort
from sim.decide.switching.with_settings import EFFORT, choose_together
from sim.decide.switching.with_settings import EXPECTED as RUNS
from sim.inputs import Scenario, Value

__all__ = ["RUNS"]

KIND = "together"
FAILED = "Speed, spacing and rule could not be worked out: {fault}"


@dataclass(frozen=True, slots=True)
class TogetherView:
    """Speed, spacing and rule of a day, as far as they are known.

    Attributes:
        switch: when to reduce on that day, from whose rule this starts.
        key: names question and answer; empty while the day's rule isn't known.
        result: the stored answer; None if it has not been computed.
        running: how far it is, while it is computed.
        failed: what went wrong, in a sentence.
    """

    switch: SwitchView
    key: str
    result: Together | None
    running: Progress | None
    failed: str


def answer_together(
    asked: SwitchQuestion,
    rule: Rule,
    day: date,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    effort: Effort = EFFORT,
) -> Together:
    """The answer.

    Args:
        rule: what was chosen at the present setting.
    """
    return choose_together(asked, rule, day, libraries(), executor, progress, effort=effort)


def open_together(session: Session, view: SwitchView, runner: Runner | None = None) -> TogetherView:
    """Speed, spacing and rule of a day that has been decided, and how far they are."""
    if view.result is None:
        return TogetherView(view, "", None, None, "")
    key = answer_key(TOGETHER_SCHEMA, view.key, view.result.chosen.text)
    stored = store.find_result(session, key)
    return TogetherView(
        view,
        key,
        None if stored is None else read(Together, json.dumps(stored)),
        runner.progress(key, session) if runner else None,
        runner.failure(key, session) if runner else "",
    )


def together_job(site_id: int, view: TogetherView) -> Job | None:
    """What computes a view's answer; None if there is nothing to compute."""
    asked, decided = view.switch.asked, view.switch.result
    if asked is None or decided is None or view.result is not None:
        return None
    day, rule = view.switch.plan.day, decided.chosen

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(
            write(answer_together(asked, rule, day, executor, report))
        )
        return found

    return Job(KIND, view.key, site_id, day, RUNS, RUNS, work, FAILED)


def job_of_day(session: Session, stored: StoredSite, day: date, runner: Runner) -> Job | None:
    """The job that a day asks for as things stand; None if it asks for none."""
    view = open_switch(session, stored, day, runner)
    return together_job(stored.id, open_together(session, view, runner))


def with_setting(view: TogetherView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the found setting and its rule as one more; None where full."""
    if view.result is None:
        raise ValueError("no setting has been found yet")
    chosen, scenarios = view.result.chosen, view.switch.plan.scenarios
    first = scenarios[0]
    setting: dict[str, Value] = {
        "conveyor_speed_m_s": chosen.speeds[0][1],
        "speed_timetable": chosen.speeds if len(chosen.speeds) > 1 else (),
        "car_spacing_m": chosen.spacing_m,
    }
    one = Scenario(
        _("Advised setting"), chosen.rule.text, first.cloth, {**first.changes, **setting}
    )
    return with_one_more(scenarios, one)
