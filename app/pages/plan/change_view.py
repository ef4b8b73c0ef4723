"""What “Try a change” shows: its fields with their sliders, and the answer to a change."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.answers.change import DAY_FIELDS
from app.answers.planning import PlannedDay
from app.catalogue import _, say
from app.pages.fields import FieldView, field_id
from app.pages.forms import messages_by_field
from app.pages.plan.change_answer import ChangeAnswer
from app.pages.plan.change_form import MOVED, ChangeTyped, day_field
from app.pages.plan.form import TRIED, ScenarioView, field_of, scenario_view
from sim.errors import InputProblem
from sim.inputs import INPUTS, Site
from sim.units import MINUS, UNITS

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


@dataclass(frozen=True, slots=True)
class Start:
    """A scenario of the plan that a change may start from."""

    name: str
    href: str
    is_chosen: bool


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
    plan: PlannedDay,
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
    address = f"/{slug}/plan/{plan.day.isoformat()}"
    return ChangePart(
        slug,
        plan.day.isoformat(),
        units,
        number,
        typed.start,
        tuple(
            Start(one.name, f"{address}?start={i}#try", i == typed.start)
            for i, one in enumerate(plan.scenarios, 1)
        ),
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
