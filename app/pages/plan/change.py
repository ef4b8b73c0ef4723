"""Try a change: a quick answer on the page of a day, whole or in parts as its script asks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.change import (
    DAY_FIELDS,
    SHOWN,
    Tried,
    day_as_changed,
    day_texts,
    problems_of,
    read_day,
)
from app.answers.planning import DayInputs, planned_day
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import Notice, of_plan
from app.pages.days import wanted
from app.pages.deps import SiteDep, Web, WebDep, get_web_for, render
from app.pages.forms import FieldView, faults_of, field_id, text_of, units_of
from app.pages.plan.form import (
    TRIED,
    PlanTyped,
    ScenarioTyped,
    ScenarioView,
    field_of,
    posted,
    read_plan,
    scenario_view,
    typed_from,
)
from app.pages.plan.table import FigureRow, Head, comparison_table
from app.sites.reading import StoredSite
from app.sites.rule_forms import words_of
from app.words.numbers import shown, whole
from app.words.phrases import Statement
from sim.decide.answer import Comparison
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, MOST_SCENARIOS, Scenario, Site, Value
from sim.units import MINUS, NBSP, UNITS, whole_number

router = APIRouter()
LONGEST_NUMBER, LONGEST_NAME = 12, 60
MOST_TOLD = 3
"""Figures that the sentence tells of."""
MOVED = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""Inputs that can be moved, in the order in which they are shown."""
SPEEDS = "speed_timetable"
STEPS = {"ft/min": 1.0, "m/s": 0.01, "ft": 0.5, "m": 0.1}
"""Step of a slider by the unit in which its reader sees it; 1 for all others."""
WIDEST_SPACING_M = 12.0
"""So far apart cars can be put by the slider; what is typed may lie beyond."""
DAY_DIALS = {
    "temp": ("Highest temperature", "temperature", (0.0, 45.0), 1.0),
    "humidity": ("Humidity at that hour", "share", (5.0, 100.0), 1.0),
    "cars": ("More or fewer cars", "share", (-50.0, 100.0), 5.0),
}
"""Of each of `DAY_FIELDS` its label, its unit, and ends and step of its slider, in °C or %."""


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
    label, kind, ends, step = DAY_DIALS[name]
    unit, text, full = UNITS[kind], typed.day[name], day_field(name)
    if kind == "temperature":
        ends = (unit.to_edge(ends[0], typed.units), unit.to_edge(ends[1], typed.units))
    field = FieldView(
        field_id(full), full, _(label), text, unit=_(unit.symbol(typed.units)),
        messages=faults.get(full, ()),
    )  # fmt: skip
    slider = _slider(text, ends, step)
    return Dial(field, slider and replace(slider, is_signed=name == "cars"))


def _slider(text: str, ends: tuple[float, float], step: float) -> Slider | None:
    """A slider whose ends are whole steps inside `ends`, wider where the text lies outside; None
    where it is no number."""
    try:
        at = float(text.replace(MINUS, "-").replace(",", ""))
    except ValueError:
        return None
    if not math.isfinite(at):
        return None
    low = min(math.ceil(ends[0] / step - 1e-9) * step, math.floor(at / step + 1e-9) * step)
    high = max(math.floor(ends[1] / step + 1e-9) * step, math.ceil(at / step - 1e-9) * step)
    return Slider(f"{low:.6g}", f"{high:.6g}", f"{step:.6g}", f"{at:.6g}")


# ---- the part of the page ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ChangeAnswer:
    """The answer to a change.

    Attributes:
        says: the answer in a sentence, and what it is made of.
        rows: a figure each, as it is and as changed; empty while nothing is changed.
        keep: name and value of the hidden fields by which the plan's form takes it over; empty
            where there is nothing to take over, for which `keep_note` has the reason.
    """

    says: Statement
    heads: tuple[Head, ...] = ()
    rows: tuple[FigureRow, ...] = ()
    charts: tuple[Chart, ...] = ()
    notices: tuple[Notice, ...] = ()
    keep: tuple[tuple[str, str], ...] = ()
    keep_note: str = ""


@dataclass(frozen=True, slots=True)
class ChangePart:
    """The part “Try a change”.

    Attributes:
        number: which of a page's questions this answers; the page drops all but its last.
        start: number of the scenario that the change starts from, `starts` the names of all.
        rule: the fields of the wiping rule.
        messages: what could not be used and why, by the id of the field.
    """

    slug: str
    day: str
    units: str
    number: str
    start: int
    starts: tuple[str, ...]
    dials: tuple[Dial, ...]
    day_dials: tuple[Dial, ...]
    rule: ScenarioView
    answer: ChangeAnswer | None
    messages: tuple[tuple[str, str], ...]

    @property
    def is_refused(self) -> bool:
        return bool(self.messages)

    @property
    def start_name(self) -> str:
        """Name of the scenario that the change starts from."""
        return self.starts[self.start - 1]


@router.get("/{slug}/plan/{day}/change/figures")
def figures_part(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """What a change does to the figures, as a part of the page."""
    return _part(request, site, web, day, "figures")


@router.get("/{slug}/plan/{day}/change/charts")
def charts_part(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """What a change does hour by hour, as a part of the page."""
    return _part(request, site, web, day, "charts")


def change_part(request: Request, site: StoredSite, plan: DayInputs) -> ChangePart | None:
    """The part of the plan's page; its button asks for the page again, with an answer in it."""
    if plan.question is None:
        return None
    form, web = _query(request), get_web_for(request)
    is_asked = text_of(form, "do") == "try" and web.runner.may_begin
    return _tried(web, site, plan, form, is_asked, True)


def _query(request: Request) -> FormData:
    """What the address asks for, read as a form is."""
    return FormData([(name, text) for name, text in request.query_params.multi_items()])


def _part(request: Request, site: StoredSite, web: Web, day: str, what: str) -> Response:
    if not web.runner.may_begin:
        raise HTTPException(403, _("Only the page of the day asks for this."))
    when = wanted(day)
    with web.database.session() as session:
        plan = planned_day(Desk(session, site, web.runner), when)
    if plan.to_compare is None:
        raise HTTPException(404, _("Nothing can be tried on this day."))
    form = _query(request)
    page = _tried(web, site, plan, form, True, what == "charts")
    return render(
        request, f"plan/change_{what}.html", page, title=_("Try a change"), current="plan",
        site=site, status=422 if page.is_refused else 200,
    )  # fmt: skip


def _tried(
    web: Web, site: StoredSite, plan: DayInputs, form: FormData, asked: bool, with_charts: bool
) -> ChangePart:
    """The part with its fields as sent and, where it was asked for, an answer."""
    units = units_of(form, site.data.units)
    drawn = unchanged(plan, site.data.site, start_of(form, plan), units)
    typed = typed_change(form, drawn) if asked else drawn
    number = text_of(form, "n")
    number = number if whole_number(number) is not None else "0"
    answer, problems = None, list[InputProblem]()
    if asked:
        answer, problems = _answer(web, site, plan, typed, drawn, with_charts)
    faults = faults_of(problems, units)
    return ChangePart(
        slug=site.slug,
        day=plan.day.isoformat(),
        units=units,
        number=number[:LONGEST_NUMBER],
        start=typed.start,
        starts=tuple(one.name for one in plan.scenarios),
        dials=tuple(dial(name, typed, site.data.site, faults) for name in MOVED),
        day_dials=tuple(day_dial(name, typed, faults) for name in DAY_FIELDS),
        rule=scenario_view(typed.scenario, TRIED, site.data.site, units, faults),
        answer=answer,
        messages=tuple((field_id(name), " ".join(texts)) for name, texts in faults.items()),
    )


def _answer(
    web: Web,
    site: StoredSite,
    plan: DayInputs,
    typed: ChangeTyped,
    drawn: ChangeTyped,
    with_charts: bool,
) -> tuple[ChangeAnswer | None, list[InputProblem]]:
    """The answer to what was typed, or every reason why there is none."""
    question, expected = plan.question, plan.expected
    if question is None or expected is None:
        return None, []
    read = read_change(typed, drawn, plan, site.data.site)
    override, of_day = read_day(read.day, plan.expect, typed.units)
    problems = [*read.problems, *placed(of_day)]
    if problems:
        return None, problems
    try:
        if read.day:
            expected = day_as_changed(web.database, site, plan, override, web.runner)
    except InputError as fault:
        return None, placed([replace(p, field="temp") for p in fault.problems])
    tried = Tried(read.first, read.changed, expected)
    if not tried.changes_something(question):
        web.tries.warm(question, read.first)
        return ChangeAnswer(Statement(_("Nothing is changed yet."), "")), []
    problems = placed(problems_of(question, tried))
    if problems:
        return None, problems
    comparison = web.tries.answer(question, tried)
    line = _day_line(read, typed) if tried.has_other_day(question) else ""
    keep, note = _keep(read, line, len(plan.scenarios))
    answer = _change_answer(comparison, line, typed.units, with_charts=with_charts)
    return replace(answer, notices=_notices(read), keep=keep, keep_note=note), []


def _day_line(read: ChangeRead, typed: ChangeTyped) -> str:
    """What was typed over the day, in the one line that the plan's own form takes."""
    symbols = {"temp": UNITS["temperature"].symbol(typed.units), "humidity": "%", "cars": "%"}
    parts = []
    for name, text in read.day.items():
        written = text.strip()
        if name == "cars" and written[:1] not in "+-\u2212":
            written = f"+{written}"
        bare = not written[-1:].isalpha() and not written.endswith("%")
        parts.append(f"{written}{NBSP}{symbols[name]}" if bare else written)
    return ", ".join(parts)


# ---- the answer ----------------------------------------------------------------------------------


def _change_answer(
    comparison: Comparison, day_line: str, system: str, *, with_charts: bool
) -> ChangeAnswer:
    """What a change does.

    Args:
        comparison: what is there and what is tried, see `WhatIfCache.answer`.
        day_line: what is expected of the changed day, as it could be typed; empty where the day
            stays as it is.
    """
    table = comparison_table(comparison, system)
    rows = {row.info.name: row for group in table.every for row in group.rows}
    moved = tuple(rows[name] for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    if day_line:
        days = _("the day as expected"), _("the day with {day}", day=day_line)
        present, changed = (
            replace(head, label="; ".join(filter(None, (head.label, day))))
            for head, day in zip((present, changed), days, strict=True)
        )
    return ChangeAnswer(
        _says(moved, comparison, bool(day_line), system),
        (present, replace(changed, name=_("As changed"))),
        moved,
        _charts(comparison) if with_charts else (),
    )


def _charts(comparison: Comparison) -> tuple[Chart, ...]:
    first, changed = comparison.columns
    scenario = replace(changed.scenario, name=_("As changed"))
    named = replace(comparison, columns=(first, replace(changed, scenario=scenario)))
    return hourly_charts(named)


_TOLD = ("left_damp_share", "margin", "cars_lost", "wait_p90_s", "cars_per_hour")
"""Figures that are told of first, as far as they move by enough to be a reason."""


def _says(
    rows: Sequence[FigureRow], comparison: Comparison, other_day: bool, system: str
) -> Statement:
    """The figures that move by enough to say so; reasons to act first."""
    apart = comparison.columns[1].apart

    def rank(row: FigureRow) -> tuple[bool, int]:
        name = row.info.name
        return not apart(name).is_strong, _TOLD.index(name) if name in _TOLD else len(SHOWN)

    telling = sorted((row for row in rows if not row.cells[1].plain), key=rank)
    said = [_moves(row, system) for row in telling[:MOST_TOLD]]
    if not said:
        is_unsure = any(apart(row.info.name).word == "can’t tell" for row in rows)
        sentence = "What it does can’t be told from so few days."
        said = [_(sentence if is_unsure else "Hardly anything changes.")]
    sentence = "A quick answer from {days} days; it isn’t stored."
    if comparison.sites:
        sentence = "A quick answer from {days} days at {sites} sites like yours; it isn’t stored."
    made = _(sentence, days=whole(comparison.days), sites=comparison.sites)
    if other_day:
        day = _(
            "The first column has the day as expected, the second the changed day with the same "
            "chances."
        )
        made = f"{made} {day}"
    return Statement(said[0], " ".join(said[1:]), made)


def _moves(row: FigureRow, system: str) -> str:
    present, changed = row.cells
    unit = "" if row.info.unit in ("cars", "people") else _(UNITS[row.info.unit].symbol(system))
    figure, new = _(row.info.label), f"{changed.value}{NBSP}{unit}" if unit else changed.value
    sentence = "{figure}: {changed} instead of {present}, {word}."
    return _(sentence, figure=figure, changed=new, present=present.value, word=changed.word)


def _notices(read: ChangeRead) -> tuple[Notice, ...]:
    """The cautions that a change calls for."""
    first, changed = read.first.changes, read.changed.changes
    belt = ("conveyor_speed_m_s", "car_spacing_m")
    return of_plan(
        belt_moves=any(changed.get(name) != first.get(name) for name in belt),
        sets_change=bool(read.changed.cloth),
        sensor_fails=changed.get("failed_sensor", "none") != "none",
        blowers_down=changed.get("blowers_down", False) is True,
    )


def _keep(
    read: ChangeRead, day_line: str, scenarios: int
) -> tuple[tuple[tuple[str, str], ...], str]:
    """Hidden fields for the plan's form, and what has to be said beside or instead of them."""
    note = ""
    if day_line:
        note = _(
            "A scenario can’t hold the day: to plan with it, type “{day}” under “What you expect "
            "instead”.",
            day=day_line,
        )
    if replace(read.changed, name=read.first.name) == read.first:
        return (), note
    if scenarios >= MOST_SCENARIOS:
        full = _("Six scenarios stand side by side already; remove one to add this.")
        return (), f"{full} {note}".strip()
    one, rule = read.form, read.form.rule
    texts = {
        "name": one.name, "kind": rule.kind, "windows": rule.windows, "upper": rule.upper,
        "lower": rule.lower, "rule": rule.text, "cloth": one.cloth, "more": one.more, **one.inputs,
    }  # fmt: skip
    ticked = [("classes", key) for key in rule.classes]
    fields = ((field_of(TRIED, name), text) for name, text in [*texts.items(), *ticked])
    return tuple(fields), note
