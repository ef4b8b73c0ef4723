"""Today: the one screen of the day. What to do, a line for each page behind it, the next days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Desk
from app.answers.coming_days import ComingDay
from app.answers.planning import ExpectedDay, PlanView
from app.answers.short_handed import (
    Missing,
    jobs_of,
    short_handed,
    with_short_handed,
    without_one,
)
from app.answers.today import TodayFound, find_today
from app.catalogue import _, long_date
from app.pages.cautions import BLOWERS, DEFERENCE, LOCK_OUT, SAFETY_DEVICE, SHAPING_SENSOR, Notice
from app.pages.days import origin_words
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import text_of
from app.pages.now import NowPart, now_part
from app.pages.waiting import REFRESH_S, before
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import StoredSite
from app.words.numbers import NOTHING, about, clock, whole
from app.words.phrases import Statement, air_words
from app.words.short_handed import JOBS, effect, name_of
from app.words.today import Line, StripLine, day_lines, decision, strip
from app.words.weighings import weighed_words
from sim.decide.answer import Column
from sim.errors import InputProblem
from sim.inputs import INPUTS, Site, Steps, value_at
from sim.units import NBSP, UNITS, Unit, format_number, parse_clock, quantity, show_clock

router = APIRouter()
HOURLY = {"stack_mean": 1.0, "damp_share": 100.0}
"""Figures by hour of the advised column, and what they are multiplied by to be shown."""
RUN_INPUTS = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""What the crew sets in the morning."""
RENEWED_S = 60
"""How often the page, which may hang on a screen in the crew room, asks for what is new."""


@dataclass(frozen=True, slots=True)
class Act:
    """The one button of the page: words and address within the site."""

    words: str
    place: str


@dataclass(frozen=True, slots=True)
class TodayPage:
    """The page.

    Attributes:
        answer: the act in bold first; also how sure, or what is missing.
        lines, later: a line for each page behind it, the first three apart. strip: the next days.
        column: the advised column of the plan; None while there is no plan.
        run: what the line is set to, label and value; empty when closed.
        heads, hours: the day hour by hour, the hour first; empty when closed.
        busiest: the busiest of the days ahead, next_open: the first of them; None if none is
            expected open.
        now: what to do with the rest of the day; None before opening and after closing.
    """

    slug: str
    units: str
    plan: PlanView
    answer: Statement
    act: Act
    lines: tuple[Line, ...]
    later: tuple[Line, ...]
    strip: tuple[StripLine, ...]
    column: Column | None
    run: tuple[tuple[str, str], ...]
    heads: tuple[str, ...]
    hours: tuple[tuple[str, ...], ...]
    busiest: ComingDay | None
    next_open: date | None
    notices: tuple[Notice, ...]
    short: ShortPart | None
    now: NowPart | None


@dataclass(frozen=True, slots=True)
class ShortPart:
    """The part for when somebody can't come.

    Attributes:
        jobs: of which one may be missing, key and name; job: the one chosen.
        hours: until when, to choose from.
        says: what one fewer does; None until that is asked. problems: why it can't be told.
        until: asked for; can_store: whether the plan can be led by it.
        version, request_key: for the button that puts it into the plan.
        message: why it was not stored, in a sentence.
    """

    jobs: tuple[tuple[str, str], ...]
    job: str
    hours: tuple[str, ...]
    says: Statement | None
    problems: tuple[InputProblem, ...]
    until: str
    version: int
    request_key: str
    message: str


@router.get("/{slug}/today")
def show_today(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; it asks again by itself, so that on a wall it is always of now."""
    return _page(request, web, site)


@router.post("/{slug}/today/short")
def store_short(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Puts the day with one fewer into the plan, as what leads it: all else then goes by it."""
    today = web.today(site)
    with web.database.session() as session:
        found = find_today(Desk(session, site, web.runner), today)
    missing = _missing(site, web, text_of(form, "fewer"), text_of(form, "until"))
    if missing is None or found.plan.asked.to_compare is None:
        return RedirectResponse(f"/{site.slug}/today", 303)
    plan = found.plan.asked
    one = without_one(found.base, site.data.site, missing, name_of(missing))
    scenarios = with_short_handed(plan, one)
    again = partial(_page, request, web)
    if scenarios is None:
        words = _("The plan of this day has six scenarios already. Take one away there first.")
        return again(site, stale=words, status=409)
    version, key = version_of(form), request_key_of(form)
    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, today, plan.expect, scenarios, expected_version=version, request_key=key
        ),
        again, f"/{site.slug}/today",
    )  # fmt: skip


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    with web.database.session() as session:
        found = find_today(Desk(session, site, web.runner), web.today(site))
    plan = found.plan
    is_moving = plan.running is not None or plan.asked.held.running is not None
    short = _short(request, web, site, found, problems, stale)
    now = now_part(request, web, site, found.log, found.switch, found.plan, found.checks, "today")
    return render(
        request, "today/today.html", _shown(site, found, short, now), title=_("Today"),
        current="today", site=site, kind="hand board", status=status,
        again=REFRESH_S if is_moving else RENEWED_S, before=before(site, plan),
    )  # fmt: skip


def _shown(
    stored: StoredSite, found: TodayFound, short: ShortPart | None, now: NowPart | None
) -> TodayPage:
    site, system, expected = stored.data.site, stored.data.units, found.plan.asked.expected
    column = found.column
    if column is not None:
        site = site.with_values(column.scenario.changes)
    answer, act = _answer(stored, found)
    lines, later = day_lines(found, system)
    is_open = expected is not None and not expected.closed
    return TodayPage(
        slug=stored.slug,
        units=system,
        plan=found.plan,
        answer=answer,
        act=act,
        lines=lines,
        later=later,
        strip=strip(found, system),
        column=column,
        run=_run(site, system) if is_open else (),
        heads=_heads(column, system),
        hours=_hours(expected, site, column, system) if expected and is_open else (),
        busiest=max(found.ahead, key=lambda day: day.cars, default=None),
        next_open=found.ahead[0].day if found.ahead else None,
        notices=_notices(site),
        short=short,
        now=now,
    )


# ---- somebody can't come -------------------------------------------------------------------------


def _short(
    request: Request,
    web: Web,
    stored: StoredSite,
    found: TodayFound,
    problems: Sequence[InputProblem],
    message: str,
) -> ShortPart | None:
    plan, site, query = found.plan.asked, stored.data.site, request.query_params
    if plan.to_compare is None:
        return None
    jobs = jobs_of(site)
    job, until = query.get("fewer", ""), query.get("until", "")
    missing = _missing(stored, web, job, until)
    one = None
    if missing is not None and web.runner.may_begin:
        name = name_of(missing)
        one = short_handed(plan, found.base, site, missing, name, web.tries)
    return ShortPart(
        jobs=tuple((key, _(JOBS[key])) for key in jobs),
        job=job if job in jobs else jobs[0],
        hours=_ends(site, _begins_s(stored, web)),
        says=None if one is None or one.found is None else effect(one, stored.data.units),
        problems=(*problems, *(one.problems if one else ())),
        until="" if missing is None else show_clock(missing.until_s),
        version=plan.version,
        request_key=new_request_key(),
        message=message,
    )


def _missing(stored: StoredSite, web: Web, job: str, until: str) -> Missing | None:
    """What an address or a form says is missing; None where it says nothing that can be."""
    begins_s = _begins_s(stored, web)
    if job not in jobs_of(stored.data.site) or until not in _ends(stored.data.site, begins_s):
        return None
    return Missing(job, begins_s, parse_clock(until))


def _begins_s(stored: StoredSite, web: Web) -> float:
    """From when somebody is missing: from opening, else from this half-hour [s after midnight]."""
    opens_s = 3600.0 * stored.data.site.line.open_h
    if stored.data.stands_on is not None or web.settings.today is not None:
        return opens_s
    now = web.now().astimezone(ZoneInfo(stored.data.site.timezone))
    return max(opens_s, 1800.0 * (2 * now.hour + now.minute // 30))


def _ends(site: Site, begins_s: float) -> tuple[str, ...]:
    """Until when somebody may be missing: even hours to closing."""
    closes_s = 3600.0 * site.line.close_h
    hours = (3600.0 * hour for hour in range(10, 24, 2))
    ends = [*(at for at in hours if begins_s < at < closes_s), closes_s]
    return tuple(show_clock(at) for at in ends if at > begins_s)


# ---- what to do ----------------------------------------------------------------------------------


def _answer(stored: StoredSite, found: TodayFound) -> tuple[Statement, Act]:
    plan, next_open = found.plan, found.ahead[0] if found.ahead else None
    expected, to_plan = plan.asked.expected, Act(_("Plan today"), f"plan/{plan.day}")
    if expected is None:
        if stored.data.history.counts:
            return Statement(_("Nothing is known of today yet."), ""), to_plan
        missing = _("A day is expected from hourly counts of earlier days; none are stored.")
        bring_in = Act(_("Bring in counts"), "counts#bring-in")
        return Statement(_("Nothing is known of today yet."), "", missing), bring_in
    if expected.closed:
        rest, act = "", to_plan
        if next_open is not None:
            day = long_date(next_open.day)
            rest = _("The next open day is {day}.", day=day)
            act = Act(_("Plan {day}", day=day), f"plan/{next_open.day}")
        return Statement(_("Closed today."), rest, origin_words(expected, stored.data.units)), act
    said = decision(found, stored.data.given, stored.data.units)
    if said is not None:
        if plan.earlier is None and plan.asked.held.is_wanting:
            said = replace(said, also=f"{weighed_words(plan.asked.held)} {said.also}".strip())
        return said, Act(_("Day sheet"), f"sheet/{plan.day}")
    return _expectation(expected, plan.running is not None, stored.data.units), to_plan


def _expectation(expected: ExpectedDay, is_running: bool, system: str) -> Statement:
    """What is said of an open day without a plan."""
    air = air_words(expected.highest_temp_c, expected.humidity_then, expected.rain_mm, system)
    waits = _("No plan has been worked out for today.")
    if is_running:
        waits = _("The plan for today is being worked out.")
    return Statement(_("About {cars} cars today.", cars=about(expected.expected_cars)), air, waits)


def _run(site: Site, system: str) -> tuple[tuple[str, str], ...]:
    """What the line is set to. A timetable is one line a step."""
    rows = [(_("Open"), f"{clock(site.line.open_h)}–{clock(site.line.close_h)}")]
    names = [*RUN_INPUTS, *(["speed_timetable"] if site.line.speed_timetable else [])]
    for name in names:
        row, value = INPUTS[name], site.value(name)
        if isinstance(value, tuple):
            said = _timetable(value, row.unit, system)
        else:
            said = quantity(float(value), row.unit.kind).show(system)
        rows.append((_(row.label), said))
    return tuple(rows)


def _timetable(steps: Steps | tuple[float, ...], unit: Unit, system: str) -> str:
    """A timetable as people say it: 2, from 9:00 3, from 18:00 2."""
    parts = []
    for step in steps:
        start, value = step if isinstance(step, tuple) else (0.0, step)
        said = format_number(unit.to_edge(value, system))
        if unit.kind == "speed":
            said += f"{NBSP}{_(unit.symbol(system))}"
        later = "from {time} {value}"
        parts.append(_(later, time=show_clock(start), value=said) if start else said)
    return ", ".join(parts)


def _heads(column: Column | None, system: str) -> tuple[str, ...]:
    heads = (_("Cars"), UNITS["temperature"].symbol(system), _("People"))
    return heads if column is None else (*heads, _("Stack"), _("Damp at the wheel, %"))


def _hours(
    expected: ExpectedDay, site: Site, column: Column | None, system: str
) -> tuple[tuple[str, ...], ...]:
    conditions, people, rows = expected.conditions, site.crew.people, []
    for hour in range(24):
        if not (hour < site.line.close_h and hour + 1 > site.line.open_h):
            continue
        cells = [
            clock(hour),
            whole(conditions.arrivals_per_h[hour]),
            whole(UNITS["temperature"].to_edge(conditions.temp_c[hour], system)),
            format_number(value_at(people, 3600.0 * hour), 2) if people else NOTHING,
        ]
        if column is not None:
            values = ((column.hour(name)[hour], factor) for name, factor in HOURLY.items())
            cells += [NOTHING if v is None else whole(factor * v) for v, factor in values]
        rows.append(tuple(cells))
    return tuple(rows)


def _notices(site: Site) -> tuple[Notice, ...]:
    down = (BLOWERS,) if site.water.blowers_down else ()
    if site.degraded.failed_sensor != "none":
        return (LOCK_OUT, *down, SHAPING_SENSOR, SAFETY_DEVICE, DEFERENCE)
    return (LOCK_OUT, *down, DEFERENCE)
