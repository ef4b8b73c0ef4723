"""The fields of “Try a change”: as typed, with their sliders, and the scenario and day they say."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from starlette.datastructures import FormData

from app.answers.change import DAY_FIELDS, day_texts
from app.answers.planning import DayInputs
from app.catalogue import _
from app.pages.forms import FieldView, field_id, text_of
from app.pages.plan.form import (
    TRIED,
    PlanTyped,
    ScenarioTyped,
    field_of,
    posted,
    read_plan,
    typed_from,
)
from app.sites.rule_forms import words_of
from app.words.numbers import shown
from sim.errors import InputProblem
from sim.inputs import INPUTS, Scenario, Site, Value
from sim.units import MINUS, NBSP, UNITS, whole_number

MOVED = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""Inputs that can be moved, in the order in which they are shown."""
SPEEDS = "speed_timetable"
LONGEST_NAME = 60
STEPS = {"ft/min": 1.0, "m/s": 0.01, "ft": 0.5, "m": 0.1}
"""Step of a slider by the unit in which its reader sees it; 1 for all others."""
WIDEST_SPACING_M = 12.0
TEMPS_C = (0.0, 45.0)
HUMIDITIES = (5.0, 100.0)
CARS = (-50.0, 100.0)
"""Ends of the sliders; what is typed beside them may lie beyond, as far as the table allows."""


@dataclass(frozen=True, slots=True)
class Slider:
    """A slider, its numbers in the reader's units.

    Attributes:
        low, high, step, at: ends, step and place.
        is_signed: whether what it says has a plus sign.
        shift: it moves all rows of a timetable by so much, none below `least`.
    """

    low: str
    high: str
    step: str
    at: str
    is_signed: bool = False
    shift: bool = False
    least: str = ""


SHIFT = Slider("-3", "5", "1", "0", shift=True)
"""Lanes and people come and go by the clock; their slider takes some away or adds some all day."""


@dataclass(frozen=True, slots=True)
class Dial:
    """A field with its slider; None where no number stands in the field."""

    field: FieldView
    slider: Slider | None


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
    problems: list[InputProblem]


def start_of(form: FormData, plan: DayInputs) -> int:
    """Number of the scenario to start from; the first where none or no such one is asked for."""
    number = whole_number(text_of(form, "start")) or 1
    return number if 1 <= number <= len(plan.scenarios) else 1


def unchanged(plan: DayInputs, site: Site, start: int, units: str) -> ChangeTyped:
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
    sent = posted(form)
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


def read_change(typed: ChangeTyped, drawn: ChangeTyped, plan: DayInputs, site: Site) -> ChangeRead:
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
    (changed,), problems = read_plan(PlanTyped("", (form,), typed.units), plan.scenarios)
    if form.rule == held.rule:
        changed = replace(changed, rule=first.rule)
    changed = replace(changed, name=_name(first, changed, typed.units))
    day = {name: text for name, text in typed.day.items() if text.strip() != drawn.day[name]}
    return ChangeRead(first, changed, replace(form, name=changed.name), day, placed(problems))


def placed(problems: Sequence[InputProblem]) -> list[InputProblem]:
    """Problems of the day, and of the only scenario of a form, under the names that their fields
    have here."""
    found = []
    for problem in problems:
        name = problem.field.removeprefix("scenario-1.")
        if name in DAY_FIELDS:
            place = day_field(name)
        elif name in (*MOVED, "kind", "rule", "windows", "upper", "lower"):
            place = field_of(TRIED, name)
        else:
            place = field_of(TRIED, "rule")
        found.append(replace(problem, field=place))
    return found


def _name(first: Scenario, changed: Scenario, units: str) -> str:
    """What the changed scenario is called: what was started from, and what is not as there."""
    start = first.name
    if changed.rule != first.rule:
        words = _(words_of(changed.rule))
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


# ---- fields with their sliders -------------------------------------------------------------------


def dial(name: str, typed: ChangeTyped, site: Site, faults: Mapping[str, tuple[str, ...]]) -> Dial:
    """The field of one of `MOVED`; `faults` holds what is wrong by the name of the field."""
    row, text, full = INPUTS[name], typed.scenario.inputs[name], field_of(TRIED, name)
    symbol = row.unit.symbol(typed.units)
    low, high = row.low, row.high
    if name == "conveyor_speed_m_s":
        low, high = site.line.slowest_belt_m_s, site.line.fastest_belt_m_s
    elif name == "car_spacing_m":
        high = min(high, max(WIDEST_SPACING_M, site.line.car_spacing_m))
    ends = (row.unit.to_edge(low, typed.units), row.unit.to_edge(high, typed.units))
    field = FieldView(
        field_id(full), full, _(row.label), text, unit=_(symbol),
        messages=faults.get(full, ()), numeric=row.kind == "number",
    )  # fmt: skip
    if row.kind == "steps":
        return Dial(field, replace(SHIFT, least=f"{low:g}"))
    return Dial(field, _slider(text, ends, STEPS.get(symbol, 1.0)))


def day_dial(name: str, typed: ChangeTyped, faults: Mapping[str, tuple[str, ...]]) -> Dial:
    """The field of one of `DAY_FIELDS`."""
    label, kind, ends, step = {
        "temp": (_("Highest temperature"), "temperature", TEMPS_C, 1.0),
        "humidity": (_("Humidity at that hour"), "share", HUMIDITIES, 1.0),
        "cars": (_("More or fewer cars"), "share", CARS, 5.0),
    }[name]
    unit, text, full = UNITS[kind], typed.day[name], day_field(name)
    if kind == "temperature":
        ends = (unit.to_edge(ends[0], typed.units), unit.to_edge(ends[1], typed.units))
    field = FieldView(
        field_id(full), full, label, text, unit=_(unit.symbol(typed.units)),
        messages=faults.get(full, ()),
    )  # fmt: skip
    found = _slider(text, ends, step)
    return Dial(field, found and replace(found, is_signed=name == "cars"))


def _slider(text: str, ends: tuple[float, float], step: float) -> Slider | None:
    """A slider whose ends are whole steps inside `ends`; wider where the text lies outside."""
    at = _number(text)
    if at is None:
        return None
    low = min(math.ceil(ends[0] / step - 1e-9) * step, math.floor(at / step + 1e-9) * step)
    high = max(math.floor(ends[1] / step + 1e-9) * step, math.ceil(at / step - 1e-9) * step)
    return Slider(f"{low:.6g}", f"{high:.6g}", f"{step:.6g}", f"{at:.6g}")


def _number(text: str) -> float | None:
    try:
        found = float(text.replace(MINUS, "-").replace(",", ""))
    except ValueError:
        return None
    return found if math.isfinite(found) else None
