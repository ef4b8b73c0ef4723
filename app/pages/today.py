"""Today: the answer for the crew, what the line is set to, hour by hour, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.answer import Desk
from app.answers.cloth import CLOTH
from app.answers.coming_days import ComingDay, coming_days
from app.answers.planning import PLAN, EarlierPlan, ExpectedDay, PlanView, earlier_plan
from app.catalogue import _, long_date
from app.pages.cautions import BLOWERS, DEFERENCE, LOCK_OUT, SAFETY_DEVICE, SHAPING_SENSOR, Notice
from app.pages.days import origin_words
from app.pages.deps import SiteDep, WebDep, render
from app.pages.history import history_row
from app.sites.reading import StoredSite
from app.words import cloth as cloth_words
from app.words.answer import answer_sentences
from app.words.numbers import NOTHING, about, clock, whole
from app.words.phrases import Statement, air_words
from sim.decide.answer import Column
from sim.decide.cloth.answer import ClothAnswer
from sim.inputs import INPUTS, Site, Steps, value_at
from sim.units import NBSP, UNITS, Unit, format_number, quantity, show_clock

router = APIRouter()
LOOK_AHEAD_DAYS = 14
HOURLY = {"stack_mean": 1.0, "damp_share": 100.0}
"""Figures by hour of the advised column, and what they are multiplied by to be shown."""
RUN_INPUTS = ("conveyor_speed_m_s", "car_spacing_m", "pay_lanes", "loaders", "people")
"""What the crew sets in the morning."""


@dataclass(frozen=True, slots=True)
class Act:
    """The one button of the page: words and address within the site."""

    words: str
    place: str


@dataclass(frozen=True, slots=True)
class TodayPage:
    """The page.

    Attributes:
        before: that all of it was worked out before something changed; empty where it was not.
        answer: the act in bold first; also how sure, or what is missing.
        column: the advised column of the plan; None while there is no plan.
        run: what the line is set to, label and value; empty when closed.
        heads, hours: the day hour by hour, the hour first; empty when closed.
        busiest: the busiest of the next `LOOK_AHEAD_DAYS` days; None if none is expected open.
        next_open: the next day on which cars are expected; None if there is none soon.
        cloth: what is due of the set on the wheel, in sentences; empty until it is worked out.
    """

    slug: str
    units: str
    plan: PlanView
    before: str
    answer: Statement
    act: Act
    column: Column | None
    run: tuple[tuple[str, str], ...]
    heads: tuple[str, ...]
    hours: tuple[tuple[str, ...], ...]
    busiest: ComingDay | None
    next_open: ComingDay | None
    cloth: tuple[str, ...]
    notices: tuple[Notice, ...]

    @property
    def is_next_tomorrow(self) -> bool:
        """Whether the next open day is tomorrow."""
        tomorrow = self.plan.day + timedelta(days=1)
        return self.next_open is not None and self.next_open.day == tomorrow


@router.get("/{slug}/today")
def show_today(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page."""
    today = web.today(site)
    with web.database.session() as session:
        desk = Desk(session, site, web.runner)
        plan, cloth, data = desk.open(PLAN, today), desk.open(CLOTH, today), desk.data
        earlier = earlier_plan(session, plan)
    found = None if cloth.result is None else cloth.result.answer
    days = coming_days(data, today + timedelta(days=1), LOOK_AHEAD_DAYS, desk.look)
    before = "" if earlier is None else _before_words(site, plan, earlier)
    if earlier is not None:
        plan = replace(plan, result=earlier.result)
    page = _page(site, plan, [day for day in days if day.state == "open"], found, before)
    return render(
        request, "today/today.html", page, title=_("Today"), current="today", site=site,
        kind="hand",
    )  # fmt: skip


def _page(
    stored: StoredSite,
    plan: PlanView,
    ahead: Sequence[ComingDay],
    cloth: ClothAnswer | None,
    before: str,
) -> TodayPage:
    site, system, expected = stored.data.site, stored.data.units, plan.asked.expected
    column = None
    if plan.result is not None:
        column = plan.result.comparison.columns[plan.result.comparison.best]
        site = site.with_values(column.scenario.changes)
    next_open = ahead[0] if ahead else None
    answer, act = _answer(stored, plan, next_open)
    is_open = expected is not None and not expected.closed
    return TodayPage(
        slug=stored.slug,
        units=system,
        plan=plan,
        before=before,
        answer=answer,
        act=act,
        column=column,
        run=_run(site, system) if is_open else (),
        heads=_heads(column, system),
        hours=_hours(expected, site, column, system) if expected and is_open else (),
        busiest=max(ahead, key=lambda day: day.cars, default=None),
        next_open=next_open,
        cloth=() if cloth is None else _cloth(cloth),
        notices=_notices(site),
    )


def _before_words(stored: StoredSite, plan: PlanView, earlier: EarlierPlan) -> str:
    """What is said over an answer that was worked out before something changed."""
    data, changes = stored.data, earlier.changes
    lead = _("This was worked out before the program or the forecast of the day changed.")
    if changes:
        row = history_row(changes[0], data.site.timezone, data.units)
        is_plan = changes[0].what == "plan"
        what = _("the plan of the day") if is_plan else row.what
        lead = _("This was worked out before a change: {what}, {at}.", what=what, at=row.when)
    if plan.running is not None:
        return _("{lead} The answer with it is being worked out.", lead=lead)
    return _("{lead} The plan has the answer with it worked out once it is opened.", lead=lead)


def _answer(
    stored: StoredSite, plan: PlanView, next_open: ComingDay | None
) -> tuple[Statement, Act]:
    expected, to_plan = plan.asked.expected, Act(_("Plan today"), f"plan/{plan.day}")
    if expected is None:
        if stored.data.history.counts:
            return Statement(_("Today can’t be expected."), ""), to_plan
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
    if plan.result is not None:
        said, sure = answer_sentences(plan.result.comparison, stored.data.given)
        # How sure in full stands beside the ranges of the plan; the crew needs its gist.
        gist = _("{lead} The plan says why.", lead=sure.lead) if sure.lead else ""
        told = " ".join(filter(None, [said.also, gist]))
        return Statement(said.lead, said.rest, told), Act(_("See the plan"), f"plan/{plan.day}")
    return _expectation(expected, plan.running is not None, stored.data.units), to_plan


def _expectation(expected: ExpectedDay, is_running: bool, system: str) -> Statement:
    """What is said of an open day without a plan."""
    cars = expected.conditions.arrivals_per_h
    most = max(cars)
    start, end = (clock(cars.index(most) + later) for later in (0, 1))
    air = air_words(expected.highest_temp_c, expected.humidity_then, expected.rain_mm, system)
    waits = _("No plan has been worked out for today.")
    if is_running:
        waits = _("The plan for today is being worked out.")
    sentence = "{most} of them in the busiest hour, {start} to {end}."
    busiest = _(sentence, start=start, end=end, most=whole(most))
    lead = _("About {cars} cars today,", cars=about(expected.expected_cars))
    return Statement(lead, busiest, f"{air} {waits}")


def _cloth(found: ClothAnswer) -> tuple[str, ...]:
    """When the set on the wheel is changed, and when it goes to the laundry."""
    told = cloth_words.answer(found)
    laundry = cloth_words.launder_due(found)
    return tuple(filter(None, (told.lead, laundry)))


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
