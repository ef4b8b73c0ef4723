"""Scenarios side by side: every figure with its intervals, and the paired difference to the first.

`compare` simulates, `record` writes the result down as plain content for JSON. The shape of that
record is versioned by `SCHEMA` and described in the guide.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions, check_site, safety_problem
from sim.day.draw import DayDraw
from sim.day.figures import FIGURES, HOURLY
from sim.day.night import opening_moisture
from sim.day.replicate import (
    Days,
    Difference,
    Figure,
    check_scenario,
    difference,
    figure,
    matters,
    run_days,
)
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, Scenario, Site
from sim.units import UNITS, show_clock

SCHEMA = "clothcast.plan/1"
MOST_SCENARIOS = 6
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Evening:
    """The last open day before the planned one, from which the cloth's moisture comes.

    Attributes:
        conditions: what that day was expected to bring.
        days_apart: days from it to the planned day.
        words: what a page calls it, such as "Friday 17 July".
    """

    conditions: Conditions
    days_apart: int
    words: str


@dataclass(frozen=True, slots=True)
class Question:
    """Everything that a comparison depends on; equal questions have equal answers.

    Attributes:
        site: the site as it is; each scenario changes some of it.
        conditions: what the day brings. Without an opening moisture it comes from `evening`,
            and without that the day starts with a set put on dry.
        scenarios: one to six; differences are to the first.
        replications: simulated days, at least 1.
        seed: root seed.
    """

    site: Site
    conditions: Conditions
    scenarios: tuple[Scenario, ...]
    replications: int
    seed: int
    evening: Evening | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """A scenario's answer; `differences` is None for the first."""

    scenario: Scenario
    figures: dict[str, Figure]
    hours: dict[str, Floats]
    differences: dict[str, Difference] | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """The answer to a `Question`.

    Attributes:
        day: scalars of the first scenario's day.
        opening_from: where the opening moisture comes from, in words.
        draw_hash: hash of the first day draw.
    """

    question: Question
    columns: tuple[Column, ...]
    day: DayNumbers
    opening_from: str
    draw_hash: str


def check_question(question: Question) -> list[InputProblem]:
    """Every reason why a comparison can't be made; fields read ``scenario-2.rule`` and so on."""
    problems = check_site(question.site)
    if not problems:
        problems += check_conditions(question.site, question.conditions)
    count = len(question.scenarios)
    if not 1 <= count <= MOST_SCENARIOS:
        sentence = "{count} scenarios can't be compared. Give 1 to {most}."
        filling = {"count": count, "most": MOST_SCENARIOS}
        problems.append(InputProblem("scenarios", sentence, filling))
    if not 1 <= question.replications <= 100_000:
        sentence = "{count} simulated days can't be used. Give 1 to 100,000."
        problems.append(InputProblem("replications", sentence, {"count": question.replications}))
    return problems + check_scenarios(question.site, question.scenarios)


def check_scenarios(site: Site, scenarios: Sequence[Scenario]) -> list[InputProblem]:
    """Every problem of the scenarios; a field reads ``scenario-2.rule`` for the second's rule."""
    problems: list[InputProblem] = []
    known = {str(p) for p in check_site(site)}
    for number, scenario in enumerate(scenarios, start=1):
        prefix = f"scenario-{number}."
        found = _safety(scenario)
        try:
            if not found:  # what names a safety device is refused as such, not as bad spelling
                found += check_site(site.with_values(scenario.changes))
                check_scenario(site, scenario)
        except InputError as fault:
            found += fault.problems
        problems += [
            InputProblem(prefix + p.field, p.sentence, p.values, p.where)
            for p in found
            if str(p) not in known
        ]
    return problems


def _safety(scenario: Scenario) -> list[InputProblem]:
    """The refusal of a scenario that names a safety device, whatever else is wrong with it."""
    for field in ("name", "rule", "cloth"):
        refusal = safety_problem(field, getattr(scenario, field))
        if refusal is not None:
            return [refusal]
    return []


def compare(
    question: Question,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> Comparison:
    """Simulate all scenarios of a question on the same day draws.

    Raises:
        InputError: with every problem of `check_question`.
    """
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    site, scenarios = question.site, question.scenarios
    conditions, opening_from = opened(question)
    found = run_days(
        site, conditions, scenarios, question.replications, question.seed, executor, progress
    )
    first = found[0]
    columns = []
    for number, (scenario, days) in enumerate(zip(scenarios, found, strict=True)):
        figures = {name: figure(info, days.day[name]) for name, info in FIGURES.items()}
        apart = None if number == 0 else _differences(site, first, days)
        columns.append(Column(scenario, figures, _hourly(days), apart))
    day = prepare_day(site.with_values(scenarios[0].changes), conditions)
    draw = DayDraw(question.seed, 0).digest()
    return Comparison(question, tuple(columns), day, opening_from, draw)


def opened(question: Question) -> tuple[Conditions, str]:
    """Conditions with an opening moisture, and where it came from in words.

    The site and the rule of the first scenario decide what the night before leaves.
    """
    site, conditions, evening = question.site, question.conditions, question.evening
    if conditions.opening_moisture_kg_kg is not None:
        return conditions, "a weighing"
    if site.wear.dry_set_at_opening:
        moisture, words = site.wear.dry_set_moisture_kg_kg, "a dry set hung in the morning"
    elif evening is None:
        moisture, words = site.wear.dry_set_moisture_kg_kg, "a set put on dry; no day before it"
    else:
        rule = parse_rule(question.scenarios[0].rule)
        moisture = opening_moisture(
            site,
            evening.conditions,
            conditions,
            evening.days_apart,
            rule,
            question.seed,
        )
        words = f"{evening.words}, simulated, and the night after it"
    return replace(conditions, opening_moisture_kg_kg=moisture), words


def _differences(site: Site, first: Days, other: Days) -> dict[str, Difference]:
    found = {}
    for name, info in FIGURES.items():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # mean of no days is NaN, as wanted
            level = float(np.nanmean(first.day[name]))
        threshold = matters(site, info, level)
        found[name] = difference(info, first.day[name], other.day[name], threshold)
    return found


def _hourly(days: Days) -> dict[str, Floats]:
    """Mean over days of each hour; NaN where no day had anything to tell."""
    means = {}
    for name in HOURLY:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            means[name] = np.asarray(np.nanmean(days.hours[name], axis=0))
    return means


def record(
    comparison: Comparison, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """A comparison as plain content for JSON: NaN becomes null, units are SI symbols.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    question, day = comparison.question, comparison.day
    site, conditions = question.site, question.conditions
    return {
        "schema": SCHEMA,
        "site": site.name,
        "date": date,
        "seed": question.seed,
        "replications": question.replications,
        "libraries": libraries,
        "draw_hash": comparison.draw_hash,
        "conditions": {
            "arrivals_per_h": list(conditions.arrivals_per_h),
            "temp_c": list(conditions.temp_c),
            "humidity": list(conditions.humidity),
            "opening_saturation": _number(day.opening_moisture / day.cloth.holding),
            "opening_from": comparison.opening_from,
            "origin": origin,
        },
        "limits": {
            "damp_limit_saturation": day.damp_limit,
            "no_wiping_needed": day.damp_limit >= 1.0,
            "allowed_damp_share": site.wishes.allowed_damp_share,
            "stack_limit_cars": site.pay.stack_limit_cars,
            "belt_capacity_per_h": day.capacity_per_s * 3600.0,
            "open_h": site.line.open_h,
            "close_h": site.line.close_h,
        },
        "scenarios": [_column(column, site) for column in comparison.columns],
    }


def _column(column: Column, site: Site) -> dict[str, Any]:
    scenario = column.scenario
    changed = site.with_values(scenario.changes)
    label = parse_rule(scenario.rule).words()
    sets = parse_changes(scenario.cloth, changed.wear.sets_owned)
    label = ", ".join([label, *(item.words() for item in sets)])
    return {
        "name": scenario.name,
        "rule": scenario.rule,
        "cloth": scenario.cloth,
        "changes": {
            name: [[show_clock(row[0]), row[1]] if isinstance(row, tuple) else row for row in value]
            if isinstance(value, tuple)
            else value
            for name, value in scenario.changes.items()
        },
        "label": label,
        "figures": {name: _figure(name, f) for name, f in column.figures.items()},
        "hours": {name: [_number(v) for v in row] for name, row in column.hours.items()},
        "differences": column.differences
        and {name: _difference(name, d) for name, d in column.differences.items()},
    }


def _figure(name: str, found: Figure) -> dict[str, Any]:
    content: dict[str, Any] = {
        "value": _number(found.value),
        "unit": _si_unit(name),
        "intervals": [_interval("day range", found.low, found.high)],
    }
    if not math.isnan(found.error_low):
        content["intervals"].append(_interval("run error", found.error_low, found.error_high))
    if found.fewer_than_one_in:
        content["event_days"] = found.event_days
        content["fewer_than_one_in_days"] = found.fewer_than_one_in
    return content


def _difference(name: str, found: Difference) -> dict[str, Any]:
    return {
        "value": _number(found.value),
        "unit": _si_unit(name),
        "intervals": [_interval("run error", found.error_low, found.error_high)],
        "days_better": _number(found.days_better),
        "word": found.word,
    }


def _interval(kind: str, low: float, high: float) -> dict[str, Any]:
    return {"kind": kind, "low": _number(low), "high": _number(high)}


_STORED_UNIT = {"share": "1", "minutes_from_s": "s", "number": "1"}


def _si_unit(name: str) -> str:
    """Symbol of the unit in which a figure's value is written."""
    kind = FIGURES[name].unit
    return _STORED_UNIT.get(kind, UNITS[kind].si.symbol)


def _number(value: float) -> float | None:
    return None if math.isnan(value) or math.isinf(value) else float(value)
