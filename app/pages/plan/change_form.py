"""The fields of “Try a change”, as typed, and what they say: a scenario and a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from starlette.datastructures import FormData

from app.answers.change import DAY_FIELDS, day_texts
from app.answers.planning import PlannedDay
from app.catalogue import _
from app.pages.forms import text_of
from app.pages.plan.form import (
    TRIED,
    PlanTyped,
    ScenarioTyped,
    field_of,
    posted_tried,
    read_plan,
    typed_from,
)
from app.sites.rule_forms import facts_of
from app.words.numbers import shown
from sim.errors import InputProblem
from sim.inputs import INPUTS, Scenario, Site, Value
from sim.units import NBSP, whole_number

MOVED = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""Inputs that can be moved, in the order in which they are shown."""
SPEEDS = "speed_timetable"
LONGEST_NAME = 60


def day_field(name: str) -> str:
    """Name of a field of the day in the form."""
    return f"{TRIED}.{name}"


@dataclass(frozen=True, slots=True)
class ChangeTyped:
    """The fields as they stand.

    Attributes:
        start: number of the plan's scenario that the change starts from, from 1.
        scenario: its rule, and a text for each of `MOVED`.
        day: a text for each of `DAY_FIELDS`.
        units: those that they are typed in.
    """

    start: int
    scenario: ScenarioTyped
    day: Mapping[str, str]
    units: str


@dataclass(frozen=True, slots=True)
class ChangeRead:
    """What the fields say.

    Attributes:
        first: the scenario of the plan that the change starts from.
        changed: what is tried; without what could not be read.
        form: the same as the plan's form would hold it.
        day: the fields of the day that differ from what is expected.
        problems: under the names of the fields.
    """

    first: Scenario
    changed: Scenario
    form: ScenarioTyped
    day: dict[str, str]
    problems: tuple[InputProblem, ...]


def start_of(form: FormData, plan: PlannedDay) -> int:
    """Number of the scenario to start from; the first where none or no such one is asked for."""
    text = text_of(form, "start")
    number = whole_number(text) or 1
    return number if 1 <= number <= len(plan.scenarios) else 1


def unchanged(plan: PlannedDay, site: Site, start: int, units: str) -> ChangeTyped:
    """The fields before anybody moves them: a scenario of the plan on the day as expected."""
    base = plan.scenarios[start - 1]
    as_is = site.with_values(base.changes)
    texts = {name: INPUTS[name].text(as_is.value(name), units) for name in MOVED}
    if as_is.line.speed_timetable:
        at_opening = as_is.line.speed_timetable[0][1]
        texts["conveyor_speed_m_s"] = INPUTS["conveyor_speed_m_s"].text(at_opening, units)
    held = typed_from("", [base], units).scenarios[0]
    day = day_texts(plan, lambda value: shown(value, "temperature", units), units)
    return ChangeTyped(start, replace(held, inputs=texts), day, units)


def typed_change(form: FormData, drawn: ChangeTyped) -> ChangeTyped:
    """The fields as they were sent; one that was not sent stands as it was drawn."""
    sent = posted_tried(form)
    inputs = {
        name: sent.inputs[name] if field_of(TRIED, name) in form else drawn.scenario.inputs[name]
        for name in MOVED
    }
    rule = sent.rule if field_of(TRIED, "kind") in form else drawn.scenario.rule
    day = {
        name: text_of(form, day_field(name)) if day_field(name) in form else drawn.day[name]
        for name in DAY_FIELDS
    }
    return replace(drawn, scenario=replace(drawn.scenario, inputs=inputs, rule=rule), day=day)


def read_change(typed: ChangeTyped, drawn: ChangeTyped, plan: PlannedDay, site: Site) -> ChangeRead:
    """What the fields say; a text that nobody touched keeps the value it was drawn from."""
    first = plan.scenarios[typed.start - 1]
    held = typed_from("", [first], typed.units).scenarios[0]
    inputs, more = dict(held.inputs), held.more
    for name in MOVED:
        text = typed.scenario.inputs[name].strip()
        if text == drawn.scenario.inputs[name]:
            continue
        own = INPUTS[name].text(site.value(name), typed.units)
        inputs[name] = "" if text == own else text
        if name == "conveyor_speed_m_s" and site.with_values(first.changes).line.speed_timetable:
            lines = [row for row in more.splitlines() if not row.strip().startswith(SPEEDS)]
            more = "\n".join([*lines, f"{SPEEDS} ="])  # else the timetable would go on holding
    form = replace(held, rule=typed.scenario.rule, inputs=inputs, more=more)
    read = read_plan(PlanTyped("", (form,), typed.units), plan.scenarios)
    changed = read.scenarios[0]
    if form.rule == held.rule:
        changed = replace(changed, rule=first.rule)
    changed = replace(changed, name=_name(first, changed, typed.units))
    day = {name: text for name, text in typed.day.items() if text.strip() != drawn.day[name]}
    return ChangeRead(first, changed, replace(form, name=changed.name), day, renamed(read.problems))


def renamed(problems: tuple[InputProblem, ...]) -> tuple[InputProblem, ...]:
    """Problems of the only scenario of a form under the names that its fields have here."""
    found = []
    for problem in problems:
        name = problem.field.removeprefix("scenario-1.")
        known = name in (*MOVED, "kind", "rule", "windows", "upper", "lower")
        found.append(replace(problem, field=field_of(TRIED, name if known else "rule")))
    return tuple(found)


def _name(first: Scenario, changed: Scenario, units: str) -> str:
    """What the changed scenario is called: what was started from, and what is not as there."""
    start = first.name
    if changed.rule != first.rule:
        words = _(facts_of(changed.rule).words)
        start = words[:1].upper() + words[1:]
    parts = [
        _amount(name, value, units)
        for name, value in changed.changes.items()
        if first.changes.get(name) != value and name in MOVED
    ]
    name = ", ".join([start, *parts])
    if name == first.name or len(name) > LONGEST_NAME:
        name = _("{name}, changed", name=first.name[: LONGEST_NAME - 12])
    return name


def _amount(name: str, value: Value, units: str) -> str:
    row = INPUTS[name]
    text = row.text(value, units)
    words = {"pay_lanes": _("lanes"), "loaders": _("loaders"), "people": _("people")}
    return f"{text}{NBSP}{words.get(name) or _(row.unit.symbol(units))}"
