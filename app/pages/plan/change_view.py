"""What “Try a change” shows: its fields with their sliders, and what a change does to a day."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.answers.change import DAY_FIELDS, SHOWN
from app.answers.planning import PlannedDay
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import Notice, belt, safety_device, set_change, shaping_sensor
from app.pages.fields import FieldView, field_id
from app.pages.plan.change_form import MOVED, ChangeRead, ChangeTyped, day_field
from app.pages.plan.form import (
    TRIED,
    ScenarioTyped,
    ScenarioView,
    faults_of,
    field_of,
    scenario_view,
)
from app.pages.plan.table import Head, Row, comparison_table
from app.words.numbers import whole
from app.words.phrases import Spoken
from sim.decide.answer import Comparison
from sim.errors import InputProblem
from sim.inputs import INPUTS, MOST_SCENARIOS, Site
from sim.units import MINUS, NBSP, UNITS

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

    says: Spoken
    heads: tuple[Head, ...] = ()
    rows: tuple[Row, ...] = ()
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


def change_page(
    slug: str,
    plan: PlannedDay,
    site: Site,
    typed: ChangeTyped,
    number: str,
    answer: ChangeAnswer | None,
    problems: Sequence[InputProblem],
) -> ChangePart:
    """The part with its fields as typed and what is wrong with them."""
    units = typed.units
    faults = faults_of(problems, units)
    return ChangePart(
        slug,
        plan.day.isoformat(),
        units,
        number,
        typed.start,
        tuple(one.name for one in plan.scenarios),
        tuple(_dial(name, typed, site, faults) for name in MOVED),
        tuple(_day_dial(name, typed, faults) for name in DAY_FIELDS),
        scenario_view(typed.scenario, TRIED, site, units, faults),
        answer,
        tuple((field_id(name), " ".join(texts)) for name, texts in faults.items()),
    )


# ---- fields --------------------------------------------------------------------------------------


def _dial(name: str, typed: ChangeTyped, site: Site, faults: Mapping[str, tuple[str, ...]]) -> Dial:
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


def _day_dial(name: str, typed: ChangeTyped, faults: Mapping[str, tuple[str, ...]]) -> Dial:
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


# ---- the answer ----------------------------------------------------------------------------------


def nothing_changed() -> ChangeAnswer:
    """The answer while everything stands as in the plan."""
    return ChangeAnswer(Spoken(_("Nothing is changed yet."), ""))


def change_answer(
    comparison: Comparison,
    read: ChangeRead,
    day_line: str,
    scenarios: int,
    system: str,
    with_charts: bool,
) -> ChangeAnswer:
    """What a change does.

    Args:
        comparison: what is there and what is tried, see `app.answers.change.Tries.answer`.
        day_line: what is expected of the changed day, as it could be typed; empty where the day
            stays as it is.
        scenarios: how many the plan has.
    """
    table = comparison_table(comparison, system)
    rows = {row.info.name: row for group in table.every for row in group.rows}
    shown = tuple(rows[name] for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    if day_line:
        present = replace(present, label=_with_day(present.label, _("the day as expected")))
        day = _("the day with {day}", day=day_line)
        changed = replace(changed, label=_with_day(changed.label, day))
    keep, note = _keep(read, day_line, scenarios)
    return ChangeAnswer(
        _says(shown, comparison, bool(day_line), system),
        (present, replace(changed, name=_("As changed"))),
        shown,
        _charts(comparison) if with_charts else (),
        _notices(read),
        keep,
        note,
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


def _says(rows: Sequence[Row], comparison: Comparison, other_day: bool, system: str) -> Spoken:
    """The figures that move by enough to say so; reasons to act first."""
    apart = comparison.columns[1].apart

    def rank(row: Row) -> tuple[bool, int]:
        name = row.info.name
        return not apart(name).is_strong, _TOLD.index(name) if name in _TOLD else len(SHOWN)

    telling = sorted((row for row in rows if not row.cells[1].plain), key=rank)
    said = [_moves(row, system) for row in telling[:MOST_TOLD]]
    if not said:
        is_unsure = any(apart(row.info.name).word == "can’t tell" for row in rows)
        said = [
            _("What it does can’t be told from so few days.")
            if is_unsure
            else _("Hardly anything changes.")
        ]
    days = whole(comparison.days)
    if comparison.sites:
        made = _(
            "A quick answer from {days} days at {sites} sites like yours; it isn’t stored.",
            days=days,
            sites=comparison.sites,
        )
    else:
        made = _("A quick answer from {days} days; it isn’t stored.", days=days)
    if other_day:
        day = _(
            "The first column has the day as expected, the second the changed day with the same "
            "chances."
        )
        made = f"{made} {day}"
    return Spoken(said[0], " ".join(said[1:]), made)


def _moves(row: Row, system: str) -> str:
    present, changed = row.cells
    unit = "" if row.info.unit in ("cars", "people") else _(UNITS[row.info.unit].symbol(system))
    return _(
        "{figure}: {changed} instead of {present}, {word}.",
        figure=_(row.info.label),
        changed=f"{changed.value}{NBSP}{unit}" if unit else changed.value,
        present=present.value,
        word=changed.word,
    )


def _notices(read: ChangeRead) -> tuple[Notice, ...]:
    """The cautions that a change calls for."""
    first, changed = read.first.changes, read.changed.changes
    found: list[Notice] = []
    if any(changed.get(n) != first.get(n) for n in ("conveyor_speed_m_s", "car_spacing_m")):
        found.append(belt())
    if read.changed.cloth:
        found.append(set_change())
    if changed.get("failed_sensor", "none") != "none":
        found += [shaping_sensor(), safety_device()]
    return tuple(found)


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
