"""The fields of the form of a plan, with what was typed and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.catalogue import _, say
from app.pages.fields import FieldView, Summary, field_id, input_field, shown_default, summary
from app.pages.forms import messages_by_field
from app.pages.plan.form import MOST_SCENARIOS, SHOWN_INPUTS, PlanTyped, ScenarioTyped, field_of
from app.sites.rule_forms import KINDS
from sim.errors import InputProblem
from sim.inputs import INPUTS, Site
from sim.units import NBSP

EXAMPLES = {
    "us": f"91{NBSP}°F, 70{NBSP}%, rain, +10{NBSP}%",
    "si": f"33{NBSP}°C, 70{NBSP}%, rain, +10{NBSP}%",
}
"""What may be typed over the expected day, by the reader's units."""


@dataclass(frozen=True, slots=True)
class ScenarioView:
    """The fields of a scenario.

    Attributes:
        number: from 1; chooses colour, dash and marker; or `plan_form.TRIED`.
        kind: kind of wiping rule; what is wrong with the rule as a whole stands here.
        classes: key, label and whether ticked, of each vehicle class.
        inputs: fields of the inputs that are shown.
        more_open: whether the part with rarer fields is open.
    """

    number: int | str
    legend: str
    name: FieldView
    kind: FieldView
    windows: FieldView
    upper: FieldView
    lower: FieldView
    rule: FieldView
    classes: tuple[tuple[str, str, bool], ...]
    classes_name: str
    cloth: FieldView
    inputs: tuple[FieldView, ...]
    more: FieldView
    more_open: bool


@dataclass(frozen=True, slots=True)
class FormView:
    """The form of a plan."""

    version: int
    request_key: str
    units: str
    expect: FieldView
    scenarios: tuple[ScenarioView, ...]
    has_room: bool
    note: str


def form_view(
    typed: PlanTyped,
    site: Site,
    version: int,
    request_key: str,
    problems: Sequence[InputProblem],
) -> FormView:
    """The form of a plan with what was typed and what is wrong with it."""
    faults = {
        name: tuple(dict.fromkeys(say(p, typed.units) for p in found))
        for name, found in messages_by_field(problems).items()
    }
    expect = FieldView(
        field_id("expect"),
        "expect",
        _("What you expect instead"),
        typed.expect,
        hint=_(
            "Any of: highest temperature, humidity at that hour, rain or dry, more or fewer cars. "
            "As in {example}. Empty: as expected.",
            example=EXAMPLES[typed.units],
        ),
        messages=faults.get("expect", ()),
        numeric=False,
        wide=True,
    )
    views = tuple(
        scenario_view(one, i, site, typed.units, faults) for i, one in enumerate(typed.scenarios, 1)
    )
    return FormView(
        version,
        request_key,
        typed.units,
        expect,
        views,
        len(views) < MOST_SCENARIOS,
        "",
    )


def scenario_view(
    one: ScenarioTyped,
    number: int | str,
    site: Site,
    units: str,
    faults: Mapping[str, tuple[str, ...]],
) -> ScenarioView:
    """The fields of a scenario; `faults` holds what is wrong by the name of the field."""

    def view(name: str, label: str, value: str, hint: str = "", **more: Any) -> FieldView:
        full = field_of(number, name)
        messages = faults.get(full, ())
        return FieldView(field_id(full), full, label, value, hint=hint, messages=messages, **more)

    kind_words = {
        "full": _("always full"),
        "reduced": _("always reduced"),
        "clock": _("reduced by clock"),
        "band": _("reduced by saturation"),
        "class": _("reduced for some vehicles"),
        "service": _("reduced, but for cars sold the full wipe"),
        "text": _("as written"),
    }
    inputs = []
    for name in SHOWN_INPUTS:
        row = INPUTS[name]
        plain = input_field(row, site.value(name), units, name=field_of(number, name))
        now = shown_default(replace(row, default=site.value(name)), units)
        choices = plain.choices and (("", _("as the site: {value}", value=now)), *plain.choices)
        inputs.append(
            replace(
                plain,
                value=one.inputs.get(name, ""),
                was="",
                hint="" if choices else _("Empty: as the site, {value}.", value=now),
                choices=choices,
                messages=faults.get(field_of(number, name), ()),
                wide=False,
            )
        )
    more = view(
        "more",
        _("Other inputs by name"),
        one.more,
        _(
            "One a line, as in load_mean_s = 16 or patience_median_s = 10 min: a bare number has "
            "the unit that the name ends with, a share is 0.3 or 30 %. The Site page has the names."
        ),
        numeric=False,
        wide=True,
    )
    is_open = bool(one.more.strip() or more.messages) or any(
        row.value.strip() or row.messages for row in inputs
    )
    return ScenarioView(
        number,
        one.name or _("Scenario {number}", number=number),
        view("name", _("Name"), one.name, numeric=False, wide=True),
        replace(
            view(
                "kind",
                _("Wiping rule"),
                one.rule.kind if one.rule.kind in KINDS else "text",
                choices=tuple((key, kind_words[key]) for key in KINDS),
            ),
            # A rule is told as a whole, whichever of its fields is wrong.
            messages=faults.get(field_of(number, "rule"), ()),
        ),
        view(
            "windows",
            _("Reduced within"),
            one.rule.windows,
            _("As in 12:00-15:30; several with a comma between."),
            numeric=False,
        ),
        view("upper", _("Reduce at"), one.rule.upper, unit="%"),
        view("lower", _("Back to full at"), one.rule.lower, unit="%"),
        replace(
            view(
                "rule",
                _("Rule in writing"),
                one.rule.text,
                _("As in clock 12:00-15:30 and class van, band 60-50 or crew cars 118-95."),
                numeric=False,
                wide=True,
            ),
            messages=(),
        ),
        tuple((c.key, c.label, c.key in one.rule.classes) for c in site.vehicles),
        field_of(number, "classes"),
        view(
            "cloth",
            _("Dry set put on"),
            one.cloth,
            _(
                "A time or a saturation, as in 13:00 or 45 %; several with a semicolon. "
                "Empty: none."
            ),
            numeric=False,
        ),
        tuple(inputs),
        more,
        is_open,
    )


def problem_summary(
    problems: Sequence[InputProblem], units: str, slug: str, count: int, was_sent: bool
) -> Summary | None:
    """The list on top. Problems of a scenario as a whole lead to its name, those of the site to it.

    Args:
        count: scenarios of the form.
        was_sent: whether the form was sent; else the stored plan can't be computed any more.
    """
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
