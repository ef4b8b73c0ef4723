"""The form of a plan: the day's line and two to six scenarios, as typed, stored and drawn."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from starlette.datastructures import FormData

from app.catalogue import _
from app.pages.forms import (
    FieldView,
    Summary,
    faults_of,
    field_id,
    input_field,
    shown_default,
    summary,
    text_of,
)
from app.sites.rule_forms import KINDS, RuleParts, parts_of, written
from sim.checks import or_refusal
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, LONGEST_LIST, MOST_SCENARIOS, Scenario, Site, Value, unknown_input
from sim.units import BY_NAME, whole_number

SHOWN_INPUTS = (
    "conveyor_speed_m_s",
    "car_spacing_m",
    "pay_lanes",
    "loaders",
    "people",
    "rinse_agent_factor",
    "cloth_kind",
    "blowers_down",
    "failed_sensor",
)
"""Inputs that every scenario has a field for; all others can be changed by name."""


@dataclass(frozen=True, slots=True)
class ScenarioTyped:
    """A scenario as its form holds it; an empty text of an input means "as the site has it".

    Attributes:
        rule: the parts of its wiping rule.
        cloth: dry sets put on during the day.
        inputs: text of each of `SHOWN_INPUTS`.
        more: lines ``name = value`` for other inputs; a bare number has the unit of the name.
    """

    name: str
    rule: RuleParts
    cloth: str = ""
    inputs: Mapping[str, str] = field(default_factory=dict)
    more: str = ""


@dataclass(frozen=True, slots=True)
class PlanTyped:
    """The whole form; `units` are those that it was typed in."""

    expect: str
    scenarios: tuple[ScenarioTyped, ...]
    units: str


TRIED = "tried"
"""Stands for the number of the scenario that is being tried and is no part of the plan yet."""


def field_of(number: int | str, name: str) -> str:
    """Name of a scenario's field in the form; `number` counts from 1, or is `TRIED`."""
    return f"scenario-{number}.{name}"


def typed_from(expect: str, scenarios: Sequence[Scenario], units: str) -> PlanTyped:
    """The form of a stored plan."""
    return PlanTyped(expect, tuple(_typed(one, units) for one in scenarios), units)


def _typed(one: Scenario, units: str) -> ScenarioTyped:
    texts = {name: _text(name, value, units) for name, value in one.changes.items()}
    more = "\n".join(f"{name} = {text}" for name, text in texts.items() if name not in SHOWN_INPUTS)
    shown = {name: texts.get(name, "") for name in SHOWN_INPUTS}
    return ScenarioTyped(one.name, parts_of(one.rule), one.cloth, shown, more)


def _text(name: str, value: Value, units: str) -> str:
    """As its own field shows it, which has its unit beside it; by name with its unit."""
    if name not in INPUTS:
        return str(value)
    row = INPUTS[name]
    return row.text(value, units) if name in SHOWN_INPUTS else row.with_unit(value, units)


def posted_plan(form: FormData, units: str) -> PlanTyped:
    """The form as it was sent; at most six scenarios are looked at."""
    count = whole_number(text_of(form, "count").strip()) or 0
    scenarios = tuple(posted(form, i) for i in range(1, min(count, MOST_SCENARIOS) + 1))
    return PlanTyped(text_of(form, "expect"), scenarios, units)


def posted(form: FormData, number: int | str = TRIED) -> ScenarioTyped:
    """A scenario as it was sent; without a number the one that is being tried."""

    def text(name: str) -> str:
        return text_of(form, field_of(number, name))

    ticked = form.getlist(field_of(number, "classes"))
    classes = tuple(key for key in ticked if isinstance(key, str))
    kind, windows, upper, lower = map(text, ("kind", "windows", "upper", "lower"))
    rule = RuleParts(kind or "full", windows, upper, lower, classes, text("rule"))
    inputs = {name: text(name) for name in SHOWN_INPUTS}
    return ScenarioTyped(text("name"), rule, text("cloth"), inputs, text("more"))


def read_plan(
    typed: PlanTyped, stored: Sequence[Scenario]
) -> tuple[tuple[Scenario, ...], list[InputProblem]]:
    """The scenarios of a form, without what could not be read, and a problem for each such thing
    under a name such as ``scenario-2.car_spacing_m``.

    A number whose text is what a stored scenario was drawn with keeps the stored value, so that
    nothing changes by being rounded for a page.
    """
    problems: list[InputProblem] = []
    scenarios = []
    for number, one in enumerate(typed.scenarios, start=1):
        changes = _changes(one, number, typed.units, stored, problems)
        cloth = " ".join(one.cloth.split())
        scenarios.append(Scenario(one.name.strip(), written(one.rule), cloth, changes))
    return tuple(scenarios), problems


def _changes(
    one: ScenarioTyped,
    number: int,
    units: str,
    stored: Sequence[Scenario],
    problems: list[InputProblem],
) -> dict[str, Value]:
    """The inputs that a scenario changes; what can't be read goes to `problems`."""
    found: dict[str, Value] = {}

    def read(name: str, text: str, place: str, system: str) -> None:
        for held in stored:
            if name in held.changes and _text(name, held.changes[name], units) == text.strip():
                found[name] = held.changes[name]
                return
        try:
            found[name] = INPUTS[name].parse(text, system)
        except InputError as fault:
            told = [replace(p, field=place) for p in fault.problems]
            problems.extend(or_refusal(place, text, told))

    for name, text in one.inputs.items():
        if text.strip():
            read(name, text, field_of(number, name), units)
    more = field_of(number, "more")
    for line in _lines(one.more, more, problems):
        name, equals, text = (part.strip() for part in line.partition("="))
        if equals and name in INPUTS:
            read(name, text, more, BY_NAME)
            continue
        fault = replace(unknown_input(name), field=more)
        if not equals:
            sentence = "“{line}” is not an input with its value. Write it as load_mean_s = 16."
            fault = InputProblem(more, sentence, {"line": line})
        problems += or_refusal(more, line, [fault])
    return found


def _lines(more: str, place: str, problems: list[InputProblem]) -> list[str]:
    """The lines of other inputs that have something in them; none, with a problem, of too many."""
    if len(more) > LONGEST_LIST:
        sentence = "Other inputs: {count} characters can't be read. Enter at most {most}."
        filling = {"count": f"{len(more):,}", "most": f"{LONGEST_LIST:,}"}
        problems.append(InputProblem(place, sentence, filling))
        return []
    return [line for line in map(str.strip, more.splitlines()) if line]


# ---- add, copy, remove: the form changes, nothing is stored --------------------------------------


def changed(typed: PlanTyped, wish: str, tried: ScenarioTyped | None = None) -> PlanTyped | None:
    """The form after a button: ``add``, ``copy-2``, ``remove-2``, ``keep``, which adds what is
    `tried`; None for any other button."""
    verb, _dash, number_text = wish.partition("-")
    number = whole_number(number_text) or 0
    held = list(typed.scenarios)
    is_one, at, new = 1 <= number <= len(held), len(held), tried
    if verb == "remove" and is_one:
        if len(held) > 1:
            del held[number - 1]
        return replace(typed, scenarios=tuple(held))
    if verb == "add":
        in_window = RuleParts("clock", windows="12:00-16:00")
        new = ScenarioTyped(_("Reduced in a window"), in_window)
    elif verb == "copy" and is_one:
        at, new = number, held[number - 1]
    elif verb != "keep":
        return None
    if new is None:
        return None
    if len(held) < MOST_SCENARIOS:
        held.insert(at, replace(new, name=_free_name(new.name, held)))
    return replace(typed, scenarios=tuple(held))


def _free_name(name: str, held: Sequence[ScenarioTyped]) -> str:
    taken = {one.name for one in held}
    numbered = (_("{name} ({count})", name=name, count=count) for count in itertools.count(2))
    return next(one for one in itertools.chain([name], numbered) if one not in taken)


def wish_of(form: FormData) -> str:
    """The button that sent the form; ``compute`` when it names none."""
    return text_of(form, "do").strip() or "compute"


_OWN_FIELDS = ("name", "kind", "rule", "cloth", "more", *SHOWN_INPUTS)


def placed(problems: Sequence[InputProblem], typed: PlanTyped) -> list[InputProblem]:
    """Problems of scenarios under the names of the form's fields. They come with their place
    (``scenario-2.load_mean_s``) or with the name of their scenario among their values; an input
    without a field of its own belongs to the lines of other inputs."""
    numbers = {one.name.strip(): i for i, one in enumerate(typed.scenarios, start=1)}
    found = []
    for problem in problems:
        place, _dot, name = problem.field.partition(".")
        if not place.startswith("scenario-"):
            values = problem.values
            who = str(values.get("scenario", values.get("name", ""))).strip()
            if problem.field == "scenarios" or who not in numbers:
                found.append(problem)
                continue
            place = f"scenario-{numbers[who]}"
            name = "name" if problem.field == "scenario" else problem.field
        if name not in _OWN_FIELDS:
            name = "more"
        found.append(replace(problem, field=f"{place}.{name}"))
    return found


@dataclass(frozen=True, slots=True)
class ScenarioView:
    """The fields of a scenario.

    Attributes:
        number: from 1; chooses colour, dash and marker; or `TRIED`.
        messages: what is wrong, by the short name of a field.
        inputs: fields of the inputs that are shown.
        vehicles: key and label of each vehicle class.
    """

    number: int | str
    typed: ScenarioTyped
    messages: Mapping[str, tuple[str, ...]]
    inputs: tuple[FieldView, ...]
    vehicles: tuple[tuple[str, str], ...]

    @property
    def kind(self) -> str:
        """The kind of its wiping rule."""
        return self.typed.rule.kind if self.typed.rule.kind in KINDS else "text"

    @property
    def more_open(self) -> bool:
        """Whether the part with rarer fields is open."""
        return bool(self.typed.more.strip() or self.messages.get("more")) or any(
            row.value.strip() or row.messages for row in self.inputs
        )

    def field(self, name: str) -> str:
        """Name of a field in the form."""
        return field_of(self.number, name)


@dataclass(frozen=True, slots=True)
class FormView:
    """The form of a plan; `messages` say what is wrong with the line of the day."""

    version: int
    request_key: str
    typed: PlanTyped
    messages: tuple[str, ...]
    scenarios: tuple[ScenarioView, ...]

    @property
    def has_room(self) -> bool:
        """Whether another scenario may be added."""
        return len(self.scenarios) < MOST_SCENARIOS


def form_view(
    typed: PlanTyped, site: Site, version: int, request_key: str, problems: Sequence[InputProblem]
) -> FormView:
    """The form of a plan with what was typed and what is wrong with it."""
    faults = faults_of(problems, typed.units)
    views = tuple(
        scenario_view(one, i, site, typed.units, faults) for i, one in enumerate(typed.scenarios, 1)
    )
    return FormView(version, request_key, typed, faults.get("expect", ()), views)


def scenario_view(
    one: ScenarioTyped,
    number: int | str,
    site: Site,
    units: str,
    faults: Mapping[str, tuple[str, ...]],
) -> ScenarioView:
    """The fields of a scenario; `faults` holds what is wrong by the name of the field."""
    prefix = field_of(number, "")
    messages = {
        name.removeprefix(prefix): said for name, said in faults.items() if name.startswith(prefix)
    }
    inputs = []
    for name in SHOWN_INPUTS:
        row = INPUTS[name]
        plain = input_field(row, site.value(name), units, name=field_of(number, name))
        now = shown_default(replace(row, default=site.value(name)), units)
        choices = plain.choices and (("", _("as the site: {value}", value=now)), *plain.choices)
        hint = "" if choices else _("Empty: as the site, {value}.", value=now)
        own = replace(plain, value=one.inputs.get(name, ""), was="", hint=hint, choices=choices)
        inputs.append(replace(own, messages=messages.get(name, ()), wide=False))
    vehicles = tuple((item.key, item.label) for item in site.vehicles)
    return ScenarioView(number, one, messages, tuple(inputs), vehicles)


def problem_summary(
    problems: Sequence[InputProblem], units: str, slug: str, count: int, was_sent: bool
) -> Summary | None:
    """The list on top of a form with `count` scenarios, sent or, if not, of a stored plan that
    can't be computed any more. Problems of a scenario as a whole lead to its name, those of the
    site to it."""
    hrefs = {p.field: f"/{slug}/site#{field_id(p.field)}" for p in problems if p.field in INPUTS}
    hrefs["scenarios"] = "#scenarios"
    for number in range(1, count + 1):
        for name in ("rule", "kind"):
            hrefs[field_of(number, name)] = "#" + field_id(field_of(number, "kind"))
        hrefs[f"scenario-{number}"] = "#" + field_id(field_of(number, "name"))
    in_order = sorted(problems, key=lambda p: p.field.partition(".")[0].removeprefix("expect"))
    found = summary(in_order, units, hrefs)
    if found is None or was_sent:
        return found
    return replace(found, heading=_("This plan can’t be computed as it stands."))
