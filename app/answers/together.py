"""Speed, spacing and rule together: a study of a day's own, asked for when its rule is known."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from datetime import date

from app.answers.answer import Answer, Kind
from app.answers.libraries import answer_key, libraries
from app.answers.studies.runner import Report
from app.answers.switching import SWITCH, SwitchView, with_one_more
from app.catalogue import _
from sim.decide.switching.answer import TOGETHER_SCHEMA, Rule, Together
from sim.decide.switching.search import SwitchQuestion
from sim.decide.switching.selection import Effort
from sim.decide.switching.with_settings import EFFORT, choose_together
from sim.decide.switching.with_settings import EXPECTED as RUNS
from sim.inputs import Scenario, Value

__all__ = ["RUNS"]


TogetherView = Answer[SwitchView, Together]
"""Speed, spacing and rule of a day, as far as they are known; asks for when to reduce first, from
whose rule it starts."""


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


def _key(switch: SwitchView) -> str:
    if switch.result is None:
        return ""
    return answer_key(TOGETHER_SCHEMA, switch.key, switch.result.chosen.text)


def _work(switch: SwitchView, executor: Executor | None, report: Report) -> Together:
    if switch.result is None:
        raise ValueError("the day's rule isn't known")
    return answer_together(switch.asked.posed, switch.result.chosen, switch.day, executor, report)


TOGETHER: Kind[SwitchView, Together] = Kind(
    name="together",
    label="Speed, spacing and rule",
    steps="simulated days",
    page="reduce/{day}/together",
    found=Together,
    ask=lambda desk, day: desk.open(SWITCH, day),
    key=_key,
    size=lambda _switch: (RUNS, RUNS),
    work=_work,
    failed="Speed, spacing and rule could not be worked out: {fault}",
)


def with_setting(view: TogetherView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the found setting and its rule as one more; None where full."""
    if view.result is None:
        raise ValueError("no setting has been found yet")
    chosen, scenarios = view.result.chosen, view.asked.asked.plan.scenarios
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
