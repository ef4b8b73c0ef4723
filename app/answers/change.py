"""Trying a change: a quick paired answer for one changed scenario, kept in memory, never stored.

The first scenario's runs, the drawn sites, their evenings and the draws of their days stay in
memory, so that each further change costs its own runs alone.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from functools import partial

from app.answers.answer import Desk
from app.answers.planning import DayInputs, question_key
from app.answers.studies.runner import Runner
from app.db.session import Database
from app.db.store import StoredSite
from app.db.tables import encode
from sim.checks import or_refusal
from sim.day.blocks import Shape
from sim.day.setup import as_hung, prepare_day
from sim.decide.answer import Comparison
from sim.decide.compare import Question, check_question, column, limits_of
from sim.decide.how_sure import (
    PairedRunCache,
    Runs,
    differences_of,
    figures_of,
    site_difference,
)
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, Scenario
from sim.learn.expected_day import ExpectedDay, Override, parse_override
from sim.units import MINUS

SHAPE = Shape(blocks=8, points=2, days=4)
"""64 runs, 32 days at 16 drawn sites: about 0.1 s of one thread for a busy day of the demo site."""
SHOWN = (
    "cars_per_hour",
    "wait_p90_s",
    "cars_lost",
    "left_damp_share",
    "over_damp_limit_minutes",
    "full_share",
    "staff_use",
    "margin",
)
"""Figures of an answer, in the order in which they are shown."""
DAY_FIELDS = ("temp", "humidity", "cars")
"""What may be typed over the expected day, a field each."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What is tried: a scenario, changed from the first on the day as expected, and its day."""

    first: Scenario
    changed: Scenario
    expected: ExpectedDay

    def has_other_day(self, question: Question) -> bool:
        """Whether the day itself is changed."""
        return self.expected.conditions != question.conditions

    def changes_something(self, question: Question) -> bool:
        """Whether there is anything to compare."""
        return self.has_other_day(question) or _bare(self.first) != _bare(self.changed)


def _bare(scenario: Scenario) -> Scenario:
    return replace(scenario, name="")


@dataclass
class _Kept:
    ground: PairedRunCache
    runs: OrderedDict[str, Runs]
    lock: threading.Lock


class WhatIfCache:
    """Quick answers, with what they share kept in memory: a few plans, some changes of each."""

    PLANS = 4
    CHANGES = 24

    def __init__(self, shape: Shape = SHAPE) -> None:
        self.shape = shape
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._lock = threading.Lock()

    def warm(self, question: Question, first: Scenario) -> None:
        """Compute what every change of a scenario is compared with, unless it is kept."""
        kept = self._ground(question)
        with kept.lock:
            self._runs(kept, first, question.conditions)

    def answer(self, question: Question, tried: Tried) -> Comparison:
        """The comparison of a change, of the figures `SHOWN` alone, with the conditions and limits
        of the changed day and scenario.

        Args:
            question: the plan's; checked together with what is tried by `problems_of`.
        """
        site, conditions = question.site, tried.expected.conditions
        kept = self._ground(question)
        with kept.lock:
            first = self._runs(kept, tried.first, question.conditions)
            other = self._runs(kept, tried.changed, conditions)
            figures = figures_of(first, SHOWN, kept.ground.levels(question.conditions))
            changed = figures_of(other, SHOWN, kept.ground.levels(conditions))
        judge = partial(site_difference, luck=other.luck)
        apart = differences_of(site, first.day, figures, other.day, judge)
        columns = (
            column(site, tried.first, figures, first.hours, None),
            column(site, tried.changed, changed, other.hours, apart),
        )
        day = prepare_day(as_hung(site.with_values(tried.changed.changes)), conditions)
        return Comparison(
            seed=question.seed,
            replications=self.shape.runs,
            days=self.shape.different_days,
            sites=0 if question.known is None else self.shape.sites,
            weighed=() if question.belief is None else tuple(question.belief.weighed),
            draw_hash="",
            conditions=conditions,
            opening=None,
            limits=limits_of(site, day),
            columns=columns,
        )

    def _ground(self, question: Question) -> _Kept:
        rule = question.scenarios[0].rule  # the plan's own comparison takes its evening by it too
        base = replace(question, scenarios=(Scenario("", rule),), replications=self.shape.runs)
        key = question_key(base)
        with self._lock:
            kept = self._kept.get(key)
            if kept is None:
                ground = PairedRunCache(base.over_sites, self.shape)
                kept = self._kept[key] = _Kept(ground, OrderedDict(), threading.Lock())
                while len(self._kept) > self.PLANS:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return kept

    def _runs(self, kept: _Kept, scenario: Scenario, conditions: Conditions) -> Runs:
        content = encode([asdict(_bare(scenario)), asdict(conditions)])
        key = hashlib.sha256(content.encode()).hexdigest()
        if key not in kept.runs:
            kept.runs[key] = kept.ground.runs(scenario, conditions)
            while len(kept.runs) > self.CHANGES:
                kept.runs.popitem(last=False)
        kept.runs.move_to_end(key)
        return kept.runs[key]


def try_on_day(
    plan: DayInputs, first: Scenario, changed: Scenario, tries: WhatIfCache
) -> tuple[Comparison | None, tuple[InputProblem, ...]] | None:
    """A day as another scenario would run it, beside it as it is: the quick comparison, or every
    reason why there is none; None for a day without a question."""
    question, expected = plan.to_compare, plan.expected
    if question is None or expected is None:
        return None
    tried = Tried(first, changed, expected)
    problems = tuple(problems_of(question, tried))
    return (None, problems) if problems else (tries.answer(question, tried), ())


def day_texts(plan: DayInputs, degrees: Callable[[float], float], system: str) -> dict[str, str]:
    """What the fields of the day say before anybody changes them; `degrees` gives a temperature
    [°C] as the reader sees it."""
    expected = plan.expected
    if expected is None:
        return dict.fromkeys(DAY_FIELDS, "")
    event = parse_override(plan.expect, system).event or 0.0
    sign = MINUS if event < 0 else "+"
    return {
        "temp": f"{degrees(expected.highest_temp_c):.0f}".replace("-", MINUS),
        "humidity": f"{100.0 * expected.humidity_then:.0f}",
        "cars": f"{sign}{100.0 * abs(event):.4g}",
    }


def read_day(
    texts: dict[str, str], expect: str, system: str
) -> tuple[Override, list[InputProblem]]:
    """What is expected of a changed day, and a problem under the name of each unreadable field.

    Args:
        texts: the fields that were changed; an empty one leaves what is expected.
        expect: the plan's own line over the expected day, which goes on holding for the rest.
    """
    found = parse_override(expect, system)
    problems: list[InputProblem] = []
    for name, text in texts.items():
        if not text.strip():
            continue
        attribute, sentence, written = _DAY[name]
        try:
            typed = text.strip().rstrip("%").strip() if "%" in written else text.strip()
            part = parse_override(written.format(typed), system)
            value = getattr(part, attribute)
            if value is None or part != Override(**{attribute: value}):
                raise InputError([InputProblem(name, sentence, {"typed": text.strip()})])
            found = replace(found, **{attribute: value})
        except InputError as fault:
            told = [replace(p, field=name) for p in fault.problems]
            problems += or_refusal(name, text, told)
    return found, problems


_TEMP = "“{typed}” is no temperature. Write a number, as in 91 °F."
_HUMIDITY = "“{typed}” is no humidity. Write a percentage, as in 70."
_CARS = "“{typed}” is no change of cars. Write it as +10 % or -25 %."
_DAY = {
    "temp": ("highest_temp_c", _TEMP, "{}"),
    "humidity": ("humidity", _HUMIDITY, "{} %"),
    "cars": ("event", _CARS, "cars {} %"),
}
"""Of each field of the day: what it overrides, what is said of what can't be read, and how it is
written in the plan's own line."""


def day_as_changed(
    database: Database, stored: StoredSite, plan: DayInputs, override: Override, runner: Runner
) -> ExpectedDay:
    """The day of a plan with something else expected of it; raises InputError if nothing can be."""
    with database.session() as session:
        data = Desk(session, stored, runner).data
    return runner.past.look(data, plan.day, override)


def problems_of(question: Question, tried: Tried) -> list[InputProblem]:
    """Every reason why a change can't be tried, under ``rule``, ``car_spacing_m`` and so on, and
    under the names of `DAY_FIELDS`."""
    conditions, scenarios = tried.expected.conditions, (tried.first, tried.changed)
    found = [
        replace(p, field=_OF_DAY.get(p.field, p.field.removeprefix("scenario-2.")))
        for p in check_question(replace(question, conditions=conditions, scenarios=scenarios))
    ]
    if tried.expected.expected_cars <= 0:
        sentence = "No car would come, so there is nothing to compare. Enter more than -100 %."
        found.append(InputProblem("cars", sentence))
    return found


_OF_DAY = {"temp_c": "temp", "arrivals_per_h": "cars"}
"""Fields of a changed day by what its problems are told of; others keep their names."""
