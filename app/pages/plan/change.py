"""Try a change: a quick answer on the page of a day, whole or in parts as its script asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.change import DAY_FIELDS, SHOWN, Tried, day_as_changed, problems_of, read_day
from app.answers.planning import DayInputs, planned_day
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import Notice, of_plan
from app.pages.days import wanted
from app.pages.deps import SiteDep, Web, WebDep, get_web_for, render
from app.pages.forms import faults_of, field_id, text_of, units_of
from app.pages.plan.change_form import (
    MOVED,
    ChangeRead,
    ChangeTyped,
    Dial,
    day_dial,
    dial,
    placed,
    read_change,
    start_of,
    typed_change,
    unchanged,
)
from app.pages.plan.form import (
    TRIED,
    ScenarioTyped,
    ScenarioView,
    field_of,
    scenario_view,
)
from app.pages.plan.table import FigureRow, Head, comparison_table
from app.sites.reading import StoredSite
from app.words.numbers import whole
from app.words.phrases import Statement
from sim.decide.answer import Comparison
from sim.errors import InputError, InputProblem
from sim.inputs import MOST_SCENARIOS
from sim.units import NBSP, UNITS, whole_number

router = APIRouter()
LONGEST_NUMBER = 12
MOST_TOLD = 3
"""Figures that the sentence tells of."""


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
        messages: what is wrong, by the id of the field.
        is_refused: whether something could not be used.
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
        site.slug,
        plan.day.isoformat(),
        units,
        number[:LONGEST_NUMBER],
        typed.start,
        tuple(one.name for one in plan.scenarios),
        tuple(dial(name, typed, site.data.site, faults) for name in MOVED),
        tuple(day_dial(name, typed, faults) for name in DAY_FIELDS),
        scenario_view(typed.scenario, TRIED, site.data.site, units, faults),
        answer,
        tuple((field_id(name), " ".join(texts)) for name, texts in faults.items()),
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
    shown = tuple(rows[name] for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    if day_line:
        present = replace(present, label=_with_day(present.label, _("the day as expected")))
        day = _("the day with {day}", day=day_line)
        changed = replace(changed, label=_with_day(changed.label, day))
    return ChangeAnswer(
        _says(shown, comparison, bool(day_line), system),
        (present, replace(changed, name=_("As changed"))),
        shown,
        _charts(comparison) if with_charts else (),
    )


def _with_day(label: str, day: str) -> str:
    return "; ".join(filter(None, [label, day]))


def _charts(comparison: Comparison) -> tuple[Chart, ...]:
    first, changed = comparison.columns
    scenario = replace(changed.scenario, name=_("As changed"))
    named = replace(comparison, columns=(first, replace(changed, scenario=scenario)))
    return hourly_charts(named)


_TOLD = ("damp_share", "margin", "cars_lost", "wait_p90_s", "cars_per_hour")
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
    return _hidden(read.form), note


def _hidden(one: ScenarioTyped) -> tuple[tuple[str, str], ...]:
    rule = one.rule
    texts = {
        "name": one.name, "kind": rule.kind, "windows": rule.windows, "upper": rule.upper,
        "lower": rule.lower, "rule": rule.text, "cloth": one.cloth, "more": one.more, **one.inputs,
    }  # fmt: skip
    found = [(field_of(TRIED, name), text) for name, text in texts.items()]
    return (*found, *((field_of(TRIED, "classes"), key) for key in rule.classes))
