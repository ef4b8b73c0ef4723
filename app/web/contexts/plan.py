"""What the pages of Plan a day show: choosing a day, waiting for it, and its plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Protocol

from app.catalogue import _, say
from app.services.coming_days import ComingDay
from app.services.reading import StoredSite
from app.services.rule_forms import KINDS
from app.web.answer import Spoken, answer_sentences
from app.web.cautions import Notice, belt, deference, safety_device, set_change, shaping_sensor
from app.web.charts import Chart, hourly_charts
from app.web.comparison import Figures, Table, comparison_table
from app.web.contexts.words import long_date, whole
from app.web.fields import FieldView, Summary, field_id, input_field, shown_default, summary
from app.web.forms import messages_by_field
from app.web.plan_form import MOST_SCENARIOS, SHOWN_INPUTS, PlanTyped, ScenarioTyped, field_of
from sim.errors import InputProblem
from sim.inputs import INPUTS, Site
from sim.units import NBSP, quantity


class ExpectedDay(Protocol):
    """What is shown of an expected day, see `sim.learn.expected_day`."""

    @property
    def closed(self) -> bool: ...
    @property
    def origin(self) -> str: ...
    @property
    def notes(self) -> tuple[InputProblem, ...]: ...
    @property
    def highest_temp_c(self) -> float: ...
    @property
    def humidity_then(self) -> float: ...
    @property
    def rain_mm(self) -> float: ...
    @property
    def expected_cars(self) -> float: ...


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day to choose: words, address, what it is expected to bring."""

    words: str
    href: str
    says: str


@dataclass(frozen=True, slots=True)
class ChoosePage:
    """Choosing a day.

    Attributes:
        typed, message: the date field as typed, and what is wrong with it.
        special: days that are worth a look, such as the busiest of the demo site.
    """

    slug: str
    typed: str
    message: str
    days: tuple[DayLine, ...]
    special: tuple[DayLine, ...]


@dataclass(frozen=True, slots=True)
class ScenarioView:
    """The fields of a scenario.

    Attributes:
        number: from 1; chooses colour, dash and marker.
        kinds: kinds of rule, key and words.
        classes: key, label and whether ticked, of each vehicle class.
        rule_messages: what is wrong with the rule.
        inputs: fields of the inputs that are shown.
        more_open: whether the part with rarer fields is open.
    """

    number: int
    legend: str
    name: FieldView
    kind: FieldView
    windows: FieldView
    upper: FieldView
    lower: FieldView
    rule: FieldView
    classes: tuple[tuple[str, str, bool], ...]
    classes_name: str
    rule_messages: tuple[str, ...]
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


@dataclass(frozen=True, slots=True)
class Waiting:
    """How far a computation is: days done of days wanted."""

    done: int
    total: int


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan of a day.

    Attributes:
        date_words: the day, such as "Saturday 18 July".
        weather: what it is expected to bring, in a line.
        opening: how wet the cloth is at opening and where that comes from.
        origin, notes: what the expected day was made of.
        answer, sure: the sentences on top; None while there is nothing to say.
        waiting: set while the plan is being computed.
        form_first: the form stands on top, because it has problems or was changed.
    """

    slug: str
    day: str
    date_words: str
    weather: str
    opening: str
    origin: str
    notes: tuple[str, ...]
    answer: Spoken | None
    sure: Spoken | None
    waiting: Waiting | None
    table: Table | None
    charts: tuple[Chart, ...]
    form: FormView | None
    form_first: bool
    problems: Summary | None
    stale: str
    notices: tuple[Notice, ...]


def choose_page(
    slug: str,
    days: Sequence[ComingDay],
    special: Sequence[tuple[str, ComingDay]],
    system: str,
    typed: str = "",
    message: str = "",
) -> ChoosePage:
    """The page on which a day is chosen; `special` names some days."""
    return ChoosePage(
        slug,
        typed,
        message,
        tuple(_day_line(slug, day, system) for day in days),
        tuple(
            replace(line, says=f"{name}. {line.says}", words=long_date(day.day, year=True))
            for name, day in special
            for line in [_day_line(slug, day, system)]
        ),
    )


def _day_line(slug: str, day: ComingDay, system: str) -> DayLine:
    if day.closed:
        says = _("closed")
    elif day.cars is None or day.highest_temp_c is None:
        says = _("nothing is known of such a day yet")
    else:
        step = 10 if day.cars >= 200 else 1
        says = _(
            "about {cars} cars, {temp} at most",
            cars=whole(round(day.cars / step) * step),
            temp=quantity(round(day.highest_temp_c), "temperature", 2).show(system),
        )
    if day.note:
        says = f"{says} · {day.note}"
    return DayLine(long_date(day.day), f"/{slug}/plan/{day.day.isoformat()}", says)


def weather_words(expected: ExpectedDay, system: str) -> str:
    """What a day is expected to bring, in a line."""
    rain = (
        _("no rain")
        if expected.rain_mm < 0.1
        else _("{rain} of rain", rain=quantity(expected.rain_mm, "rain", 2).show(system))
    )
    return _(
        "About {cars} cars. {temp} at most, air at {humidity} then, {rain}.",
        cars=whole(expected.expected_cars),
        temp=quantity(round(expected.highest_temp_c), "temperature", 2).show(system),
        humidity=f"{round(100 * expected.humidity_then)}{NBSP}%",
        rain=rain,
    )


def closed_words(date_words: str) -> tuple[Spoken, Spoken]:
    """Answer of a day on which no car is let in."""
    return (
        Spoken(
            _("Closed:"),
            _("no car is let in on {day}, so there is nothing to plan.", day=date_words),
        ),
        Spoken("", _("Choose another day, or change the opening hours or the day’s mark first.")),
    )


def no_cars_words() -> tuple[Spoken, Spoken]:
    """Answer of an open day on which no car is expected."""
    return (
        Spoken(_("Nothing to decide:"), _("no car is expected on this day.")),
        Spoken("", _("If cars will come all the same, the counts of like days have to say so.")),
    )


def results(
    comparison: Mapping[str, Any], figures: Figures, site: StoredSite
) -> tuple[Spoken, Spoken, Table, tuple[Chart, ...]]:
    """Answer, how sure, table and charts of a computed plan."""
    answer, sure = answer_sentences(comparison)
    table = comparison_table(comparison, figures, site.data.units)
    has_cars = any(comparison["conditions"]["arrivals_per_h"])
    return answer, sure, table, hourly_charts(comparison) if has_cars else ()


def opening_words(comparison: Mapping[str, Any]) -> str:
    """How wet the cloth is at opening, and where that comes from."""
    conditions = comparison["conditions"]
    saturation = conditions["opening_saturation"]
    if saturation is None:
        return ""
    return _(
        "At opening the cloth is at {percent} of what it can hold: {origin}.",
        percent=f"{round(100 * float(saturation))}{NBSP}%",
        origin=_(str(conditions["opening_from"])),
    )


def plan_notices(scenarios: Sequence[ScenarioTyped]) -> tuple[Notice, ...]:
    """The cautions that a plan calls for."""
    found = [deference()]
    if any(
        one.inputs.get("conveyor_speed_m_s") or one.inputs.get("car_spacing_m") for one in scenarios
    ):
        found.append(belt())
    if any(one.cloth.strip() for one in scenarios):
        found.append(set_change())
    if any((one.inputs.get("failed_sensor") or "none") != "none" for one in scenarios):
        found += [shaping_sensor(), safety_device()]
    return tuple(found)


# ---- the form ------------------------------------------------------------------------------------


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
            example="91 °F, 70 %, rain, +10 %"
            if typed.units == "us"
            else "33 °C, 70 %, rain, +10 %",
        ),
        messages=faults.get("expect", ()),
        numeric=False,
        wide=True,
    )
    views = tuple(
        _scenario(one, i, site, typed.units, faults) for i, one in enumerate(typed.scenarios, 1)
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


def _scenario(
    one: ScenarioTyped,
    number: int,
    site: Site,
    units: str,
    faults: Mapping[str, tuple[str, ...]],
) -> ScenarioView:
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
    rule_messages = faults.get(field_of(number, "rule"), ())
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
        _("One a line, as in load_mean_s = 16; the Site page has their names."),
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
        view(
            "kind",
            _("Wiping rule"),
            one.rule.kind if one.rule.kind in KINDS else "text",
            choices=tuple((key, kind_words[key]) for key in KINDS),
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
                _("As in clock 12:00-15:30 and class van, or band 60-50; joined by and, or."),
                numeric=False,
                wide=True,
            ),
            messages=(),
        ),
        tuple((c.key, c.label, c.key in one.rule.classes) for c in site.vehicles),
        field_of(number, "classes"),
        rule_messages,
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


def problem_summary(problems: Sequence[InputProblem], units: str, count: int) -> Summary | None:
    """The list on top; problems of a scenario as a whole lead to its name."""
    hrefs = {"scenarios": "#scenarios"}
    for number in range(1, count + 1):
        for name in ("rule", "kind"):
            hrefs[field_of(number, name)] = "#" + field_id(field_of(number, "kind"))
        hrefs[f"scenario-{number}"] = "#" + field_id(field_of(number, "name"))
    return summary(problems, units, hrefs)


def plan_title(day: date) -> str:
    """Words beside the site's name."""
    return _("planning for {day}", day=long_date(day))
