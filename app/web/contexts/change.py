"""What “Try a change” shows: its fields, and what a change does to the day's figures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.catalogue import _, say
from app.services.change import DAY_FIELDS, SHOWN
from app.services.planning import PlanView
from app.web.cautions import Notice, belt, safety_device, set_change, shaping_sensor
from app.web.change_form import MOVED, ChangeRead, ChangeTyped, day_field
from app.web.charts import Chart, hourly_charts
from app.web.columns import Spoken, difference_of
from app.web.comparison import Head, Row, comparison_table
from app.web.contexts.plan_fields import ScenarioView, scenario_view
from app.web.fields import FieldView, field_id
from app.web.figures import interval, plain_number, printed_step, shown, signed
from app.web.forms import messages_by_field
from app.web.plan_form import MOST_SCENARIOS, TRIED, ScenarioTyped, field_of
from sim.day.figures import FIGURES
from sim.errors import InputProblem
from sim.inputs import INPUTS, Site
from sim.units import MINUS, NBSP, UNITS

STEPS = {"ft/min": 1.0, "m/s": 0.01, "ft": 0.5, "m": 0.1}
"""Step of a slider by the unit in which its reader sees it; 1 for all others."""
WIDEST_SPACING_M = 12.0
FEWEST_OFFERED = 8.0
TEMPS_C = (0.0, 45.0)
HUMIDITIES = (5.0, 100.0)
CARS = (-50.0, 100.0)
"""Ends of the sliders; what is typed beside them may lie beyond, as far as the table allows."""
MOST_TOLD = 3
"""Figures that the sentence tells of."""


@dataclass(frozen=True, slots=True)
class Slider:
    """Ends, step and place of a slider, in the reader's units, as plain numbers."""

    low: str
    high: str
    step: str
    at: str
    is_signed: bool = False


@dataclass(frozen=True, slots=True)
class Dial:
    """A field with its slider; None where the field holds a timetable."""

    field: FieldView
    slider: Slider | None


@dataclass(frozen=True, slots=True)
class Start:
    """A scenario of the plan that a change may start from."""

    name: str
    href: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Move:
    """What a change does to a figure, all as shown text.

    Attributes:
        likely: where the difference may lie at the site; empty where no guess moves it.
        word: plain word on the difference; `plain` says that it is no reason to act.
    """

    label: str
    beside: str
    unit: str
    present: str
    changed: str
    difference: str
    likely: str
    word: str
    plain: bool


@dataclass(frozen=True, slots=True)
class ChangeAnswer:
    """The answer to a change.

    Attributes:
        says: the answer in a sentence, and what it is made of.
        moves: a row a figure; empty while nothing is changed.
        keep: name and value of the hidden fields by which the plan's form takes it over; empty
            where there is nothing to take over, for which `keep_note` has the reason.
    """

    says: Spoken
    heads: tuple[Head, ...] = ()
    moves: tuple[Move, ...] = ()
    charts: tuple[Chart, ...] = ()
    notices: tuple[Notice, ...] = ()
    keep: tuple[tuple[str, str], ...] = ()
    keep_note: str = ""


@dataclass(frozen=True, slots=True)
class ChangePart:
    """The part “Try a change”.

    Attributes:
        number: which of a page's questions this answers; the page drops all but its last.
        start: number of the scenario that the change starts from, `starts` all of them.
        rule: the fields of the wiping rule.
        messages: what is wrong, by the id of the field.
        is_refused: whether something could not be used.
    """

    slug: str
    day: str
    units: str
    number: str
    start: int
    starts: tuple[Start, ...]
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
        return self.starts[self.start - 1].name


def change_page(
    slug: str,
    view: PlanView,
    site: Site,
    typed: ChangeTyped,
    number: str,
    answer: ChangeAnswer | None,
    problems: Sequence[InputProblem],
) -> ChangePart:
    """The part with its fields as typed and what is wrong with them."""
    units = typed.units
    faults = {
        name: tuple(dict.fromkeys(say(p, units) for p in found))
        for name, found in messages_by_field(problems).items()
    }
    address = f"/{slug}/plan/{view.day.isoformat()}"
    return ChangePart(
        slug,
        view.day.isoformat(),
        units,
        number,
        typed.start,
        tuple(
            Start(one.name, f"{address}?start={i}#try", i == typed.start)
            for i, one in enumerate(view.scenarios, 1)
        ),
        tuple(_dial(name, typed, site, faults) for name in MOVED),
        tuple(_day_dial(name, typed, faults) for name in DAY_FIELDS),
        scenario_view(typed.scenario, TRIED, site, units, faults),
        answer,
        tuple((field_id(name), " ".join(texts)) for name, texts in faults.items()),
    )


# ---- fields --------------------------------------------------------------------------------------


def _dial(
    name: str, typed: ChangeTyped, site: Site, faults: Mapping[str, tuple[str, ...]]
) -> Dial:
    row, text, full = INPUTS[name], typed.scenario.inputs[name], field_of(TRIED, name)
    symbol = row.unit.symbol(typed.units)
    low, high = row.low, row.high
    if name == "conveyor_speed_m_s":
        low, high = site.line.slowest_belt_m_s, site.line.fastest_belt_m_s
    elif name == "car_spacing_m":
        high = min(high, max(WIDEST_SPACING_M, site.line.car_spacing_m))
    elif (amount := _number(text)) is not None:
        high = min(high, max(FEWEST_OFFERED, 2.0 * amount))
    ends = (row.unit.to_edge(low, typed.units), row.unit.to_edge(high, typed.units))
    field = FieldView(
        field_id(full), full, _(row.label), text, unit=_(symbol),
        messages=faults.get(full, ()), numeric=row.kind == "number",
    )  # fmt: skip
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
    return Slider(*(f"{value:.6g}" for value in (low, high, step, at)))


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
    content: Mapping[str, Any],
    read: ChangeRead,
    day_line: str,
    scenarios: int,
    system: str,
    with_charts: bool,
) -> ChangeAnswer:
    """What a change does.

    Args:
        content: the comparison, see `app.services.change.Tries.answer`.
        day_line: what is expected of the changed day, as it could be typed; empty where the day
            stays as it is.
        scenarios: how many the plan has.
    """
    table = comparison_table(content, FIGURES, system)
    rows = {row.name: row for group in table.every for row in group.rows}
    column = content["scenarios"][1]
    moves = tuple(_move(rows[name], column, system) for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    other = changed.label
    if day_line:
        present = replace(present, label=_("{label}; the day as expected", label=present.label))
        other = _("{label}; the day with {day}", label=other, day=day_line)
    changed = replace(changed, name=_("As changed"), label=other.removeprefix("; "))
    keep, note = _keep(read, day_line, scenarios)
    return ChangeAnswer(
        _says(moves, content, bool(day_line)),
        (replace(present, label=present.label.removeprefix("; ")), changed),
        moves,
        _charts(content) if with_charts else (),
        _notices(read),
        keep,
        note,
    )


def _charts(content: Mapping[str, Any]) -> tuple[Chart, ...]:
    first, changed = content["scenarios"]
    named = [first, {**changed, "name": _("As changed")}]
    return hourly_charts({**content, "scenarios": named})


def _move(row: Row, column: Mapping[str, Any], system: str) -> Move:
    present, changed = row.cells
    info, moved = FIGURES[row.name], difference_of(column, row.name)
    likely = ""
    ends = interval(moved, "site uncertainty")
    if ends is not None and moved.get("value") is not None:
        value = shown(float(moved["value"]), info.unit, system, difference=True)
        step = printed_step(moved, info.unit, system, value)
        low, high = (signed(shown(x, info.unit, system, difference=True), step) for x in ends)
        likely = "" if low == high else _("{low} to {high}", low=low, high=high)
    symbol = "" if info.unit in ("cars", "people") else _(UNITS[info.unit].symbol(system))
    return Move(
        row.label, row.beside, symbol, present.value, changed.value,
        changed.difference, likely, changed.word, changed.plain,
    )  # fmt: skip


_ORDER = ("clearly", "probably", "a little")


def _says(moves: Sequence[Move], content: Mapping[str, Any], other_day: bool) -> Spoken:
    """The figures that move by enough to say so, the surest first."""
    telling = [move for move in moves if not move.plain]
    telling.sort(key=lambda move: next(i for i, w in enumerate((*_ORDER, "")) if w in move.word))
    said = [
        _(
            "{figure}: {changed} instead of {present}, {word}.",
            figure=move.label,
            changed=move.changed + (f"{NBSP}{move.unit}" if move.unit else ""),
            present=move.present,
            word=_(move.word),
        )
        for move in telling[:MOST_TOLD]
    ]
    if not said:
        unsure = any("tell" in move.word for move in moves)
        said = [
            _("What it does can’t be told from so few runs.")
            if unsure
            else _("Hardly anything changes.")
        ]
    runs = plain_number(float(content["replications"]), 0)
    if content["sites"]:
        made = _(
            "A quick answer from {runs} runs at {sites} sites like yours; it isn’t stored.",
            runs=runs,
            sites=content["sites"],
        )
    else:
        made = _("A quick answer from {runs} runs; it isn’t stored.", runs=runs)
    if other_day:
        day = _(
            "The first column has the day as expected, the second the changed day with the same "
            "chances."
        )
        made = f"{made} {day}"
    return Spoken(said[0], " ".join(said[1:]), made)


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
