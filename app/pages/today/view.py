"""Today: the answer for the crew, what the line is set to, hour by hour, what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from app.answers.coming_days import ComingDay
from app.answers.planning import PlanView
from app.answers.today import TodayView
from app.catalogue import _, long_date, say
from app.pages.cautions import Notice, deference, lock_out, safety_device, shaping_sensor
from app.sites.reading import StoredSite
from app.words.answer import answer_sentences
from app.words.numbers import NOTHING, about, degrees, percent, whole
from sim.decide.answer import Column
from sim.inputs import INPUTS, Site, Steps, value_at
from sim.units import NBSP, UNITS, Unit, format_number, quantity, show_clock

RUN_INPUTS = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""What the crew sets in the morning."""


@dataclass(frozen=True, slots=True)
class HourRow:
    """An hour of the day; cells follow `TodayPage.heads`."""

    hour: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Act:
    """The one button of the page."""

    words: str
    href: str


@dataclass(frozen=True, slots=True)
class TodayPage:
    """The page.

    Attributes:
        lead, rest: the answer, the act in bold first.
        sure: how sure, or what is missing.
        reasons: why nothing can be said, a sentence each.
        run: what the line is set to, label and value.
        heads, hours: the day hour by hour; empty when closed.
        made_of: which days the expectation was made of.
        next_words, next_act: the next busy day.
        leads: ways to today's rule and sheet; empty when closed.
        ahead_title, ahead: the next open day, and ways to its plan, rule and sheet.
    """

    slug: str
    day: str
    lead: str
    rest: str
    sure: str
    reasons: tuple[str, ...]
    act: Act
    run_title: str
    run: tuple[tuple[str, str], ...]
    heads: tuple[str, ...]
    hours: tuple[HourRow, ...]
    made_of: str
    notes: tuple[str, ...]
    next_words: str
    next_act: Act | None
    leads: tuple[Act, ...]
    ahead_title: str
    ahead: tuple[Act, ...]
    notices: tuple[Notice, ...]


def today_page(stored: StoredSite, view: TodayView) -> TodayPage:
    """Fills the page from the plan of the day; see `app.answers.today`."""
    plan, system, slug = view.plan, stored.data.units, stored.slug
    site = stored.data.site
    chosen = _chosen(plan)
    if chosen is not None:
        site = site.with_values(chosen.scenario.changes)
    expected = plan.asked.expected
    lead, rest, sure, act = _answer(stored, view)
    is_open = expected is not None and not expected.closed
    return TodayPage(
        slug=slug,
        day=long_date(plan.day),
        lead=lead,
        rest=rest,
        sure=sure,
        reasons=tuple(say(p, system) for p in plan.asked.problems),
        act=act,
        run_title=_run_title(chosen),
        run=_run(site, system) if is_open else (),
        heads=_heads(chosen, system) if is_open else (),
        hours=_hours(plan, site, chosen, system) if is_open else (),
        made_of=expected.origin if expected is not None else "",
        notes=tuple(say(p, system) for p in expected.notes) if expected is not None else (),
        next_words=_next_words(view, system),
        next_act=_next_act(slug, view.busiest),
        leads=_leads(slug, plan.day)[1:] if is_open else (),
        ahead_title=_ahead_title(view),
        ahead=_leads(slug, view.next_open.day) if view.next_open else (),
        notices=_notices(site),
    )


def _chosen(plan: PlanView) -> Column | None:
    """The advised column of the comparison."""
    if plan.result is None:
        return None
    found = plan.result.comparison
    return found.columns[found.best]


def _answer(stored: StoredSite, view: TodayView) -> tuple[str, str, str, Act]:
    plan, slug, system = view.plan, stored.slug, stored.data.units
    to_plan = Act(_("Plan today"), f"/{slug}/plan/{plan.day.isoformat()}")
    expected = plan.asked.expected
    if expected is None:
        if not view.has_counts:
            return (
                _("Nothing is known of today yet."),
                "",
                _("A day is expected from hourly counts of earlier days; none are stored."),
                Act(_("Bring in counts"), f"/{slug}/counts#bring-in"),
            )
        return _("Today can’t be expected."), "", "", to_plan
    if expected.closed:
        rest = (
            _("The next open day is {day}.", day=long_date(view.next_open.day))
            if (view.next_open)
            else ""
        )
        act = to_plan
        if view.next_open:
            day = view.next_open.day
            act = Act(_("Plan {day}", day=long_date(day)), f"/{slug}/plan/{day.isoformat()}")
        return _("Closed today."), rest, expected.origin, act
    if plan.result is not None:
        said, sure = answer_sentences(plan.result.comparison, stored.data.given)
        see = Act(_("See the plan"), f"/{slug}/plan/{plan.day.isoformat()}")
        # How sure in full stands beside the ranges of the plan; the crew needs its gist.
        gist = _("{lead} The plan says why.", lead=sure.lead) if sure.lead else ""
        told = " ".join(part for part in (said.also, gist) if part)
        return said.lead, said.rest, told, see
    cars = expected.conditions.arrivals_per_h
    busiest = max(range(24), key=lambda hour: cars[hour])
    lead = _("About {cars} cars today,", cars=about(expected.expected_cars))
    rest = _(
        "{most} of them in the busiest hour, {start}:00 to {end}:00.",
        start=busiest,
        end=busiest + 1,
        most=whole(cars[busiest]),
    )
    air = _(
        "{temp} at most, air at {humidity} then, {rain}.",
        temp=degrees(expected.highest_temp_c, system),
        humidity=percent(expected.humidity_then),
        rain=_rain(expected.rain_mm, system),
    )
    waits = (
        _("The plan for today is being worked out.")
        if plan.running is not None
        else _("No plan has been worked out for today.")
    )
    return lead, rest, f"{air} {waits}", to_plan


def _rain(rain_mm: float, system: str) -> str:
    if rain_mm < 0.1:
        return _("no rain")
    if rain_mm < 2.0:
        return _("hardly any rain")
    return _("{rain} of rain", rain=quantity(rain_mm, "rain", 2).show(system))


def _run_title(chosen: Column | None) -> str:
    if chosen is None:
        return _("As the Site page has it.")
    return _("As planned: “{name}”.", name=chosen.name)


def _run(site: Site, system: str) -> tuple[tuple[str, str], ...]:
    """What the line is set to. A timetable is one line a step."""
    rows = [
        (
            _("Open"),
            f"{show_clock(3600 * site.line.open_h)}–{show_clock(3600 * site.line.close_h)}",
        )
    ]
    names = [*RUN_INPUTS, *(["speed_timetable"] if site.line.speed_timetable else [])]
    for name in names:
        row, value = INPUTS[name], site.value(name)
        if isinstance(value, tuple):
            said = _timetable(value, row.unit, system, bool(row.unit.kind == "speed"))
        else:
            said = quantity(float(value), row.unit.kind).show(system)
        rows.append((_(row.label), said))
    return tuple(rows)


def _timetable(steps: Steps | tuple[float, ...], unit: Unit, system: str, with_unit: bool) -> str:
    """A timetable as people say it: 2, from 9:00 3, from 18:00 2."""
    parts = []
    for step in steps:
        start, value = step if isinstance(step, tuple) else (0.0, step)
        shown = format_number(unit.to_edge(value, system))
        shown += f"{NBSP}{_(unit.symbol(system))}" if with_unit else ""
        parts.append(
            shown if start == 0 else _("from {time} {value}", time=show_clock(start), value=shown)
        )
    return ", ".join(parts)


def _heads(chosen: Column | None, system: str) -> tuple[str, ...]:
    heads = (_("Cars"), UNITS["temperature"].symbol(system), _("People"))
    if chosen is None:
        return heads
    return (*heads, _("Stack"), _("Damp, %"))


def _hours(plan: PlanView, site: Site, chosen: Column | None, system: str) -> tuple[HourRow, ...]:
    expected = plan.asked.expected
    if expected is None:
        return ()
    conditions = expected.conditions
    rows = []
    for hour in range(24):
        if not (hour < site.line.close_h and hour + 1 > site.line.open_h):
            continue
        temp = UNITS["temperature"].to_edge(conditions.temp_c[hour], system)
        cells = [
            whole(conditions.arrivals_per_h[hour]),
            whole(temp),
            _people(site.crew.people, hour),
        ]
        if chosen is not None:
            cells.append(_hourly(chosen, "stack_mean", hour, 1.0))
            cells.append(_hourly(chosen, "damp_share", hour, 100.0))
        rows.append(HourRow(f"{hour}:00", tuple(cells)))
    return tuple(rows)


def _people(people: Steps, hour: int) -> str:
    return format_number(value_at(people, 3600.0 * hour), 2) if people else "–"


def _hourly(chosen: Column, name: str, hour: int, factor: float) -> str:
    value = chosen.hour(name)[hour]
    return NOTHING if value is None else whole(factor * value)


def _next_words(view: TodayView, system: str) -> str:
    if view.busiest is None or view.busiest.expected is None:
        return _("No busy day is expected in the next two weeks.")
    return _(
        "{day}: about {cars} cars, {temp} at most. The busiest of the next two weeks.",
        day=long_date(view.busiest.day),
        cars=about(view.busiest.cars),
        temp=degrees(view.busiest.expected.highest_temp_c, system),
    )


def _next_act(slug: str, busiest: ComingDay | None) -> Act | None:
    if busiest is None:
        return None
    return Act(
        _("Plan {day}", day=long_date(busiest.day)),
        f"/{slug}/plan/{busiest.day.isoformat()}",
    )


def _ahead_title(view: TodayView) -> str:
    if view.next_open is None:
        return ""
    day = view.next_open.day
    words = long_date(day)
    return _("Tomorrow, {day}", day=words) if day == view.plan.day + timedelta(days=1) else words


def _leads(slug: str, day: date) -> tuple[Act, ...]:
    """Ways to a day's plan, the reason behind its rule, and its sheet."""
    return (
        Act(_("Its plan"), f"/{slug}/plan/{day.isoformat()}"),
        Act(_("When to reduce, and why"), f"/{slug}/reduce/{day.isoformat()}"),
        Act(_("Staff, hour by hour"), f"/{slug}/staff/{day.isoformat()}"),
        Act(_("Day sheet to print"), f"/{slug}/sheet/{day.isoformat()}"),
    )


def _notices(site: Site) -> tuple[Notice, ...]:
    if site.degraded.failed_sensor != "none":
        return (lock_out(), shaping_sensor(), safety_device(), deference())
    return (lock_out(), deference())
