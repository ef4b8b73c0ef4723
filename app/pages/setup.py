"""The set-up of a site without a file: its days, its wheel and cloth, then the measurements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.coming_days import coming_days
from app.catalogue import WEEKDAYS, _
from app.charts.by_hour import typed_chart
from app.charts.marks import Chart
from app.pages.cautions import BELT, LOCK_OUT, Notice
from app.pages.deps import AFTER, FROST, FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import (
    FieldView,
    FormReading,
    RowForm,
    Summary,
    Typed,
    faults_of,
    input_field,
    input_fields,
    read_fields,
    summary,
    text_of,
    units_choices,
    units_of,
    with_water_seen,
)
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite, gate, sites_of
from app.sites.start import (
    BELT_INPUT,
    HOUR_LISTS,
    TYPED_INPUTS,
    TypedDays,
    belt_cars_per_h,
    belt_of,
    stored_days,
)
from app.words.dry import damp_words
from sim.checks import check_conditions
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, Entry, History, Site, SiteData, Value
from sim.inputs.rows import Word
from sim.profiles import STARTS, USUAL

HOUR_NAMES = ("open_h", "close_h")
PLACE_NAMES = ("climate", "southern")
MONTH_NAMES = ("usual_high_c", "usual_low_c", "usual_humidity")
DAY_INPUTS = {name: INPUTS[name] for name in (*HOUR_NAMES, *PLACE_NAMES, *MONTH_NAMES)}
WHEEL_NAMES = (
    "wheel_position_m",
    "strip_count",
    "strip_dry_mass_kg",
    "set_price",
    "finishers",
    "people",
    "loaders",
    "wage_per_h",
    "price_per_car",
    "pay_lanes",
    "stack_limit_cars",
)
BELT_NAMES = (
    "car_spacing_m",
    "pusher_pitch_m",
    "slowest_belt_m_s",
    "fastest_belt_m_s",
    "conveyor_speed_m_s",
    "loading_line_cars",
)
MINDED_NAMES = (
    "allowed_film_kg_m2",
    "damp_cost",
    "zone_minded_roof",
    "zone_minded_rear",
    "reduced_cost",
    "member_share",
    "member_margin_year",
)
WHEEL_INPUTS, BELT_INPUTS, MINDED_INPUTS = (
    {name: INPUTS[name] for name in names} for names in (WHEEL_NAMES, BELT_NAMES, MINDED_NAMES)
)
SETUP_INPUTS = WHEEL_INPUTS | BELT_INPUTS | MINDED_INPUTS
"""What the second step asks: without these no plan resembles the site."""
LIST_NAMES = HOUR_LISTS
CLOSED = "closed_days"
WEEKDAY_KEYS = tuple((str(day), name) for day, name in enumerate(WEEKDAYS))
BOTH_NAMES = ("busy_from_h", "busy_to_h", *HOUR_NAMES)
CURVE_NAMES = {
    "usual_hours": ("usual_cars", *BOTH_NAMES),
    "busy_hours": ("busy_cars", *BOTH_NAMES),
}
"""A change of these draws a day's hours anew, unless they were typed."""
WEEKS = 2

TIMEZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Toronto",
    "Europe/London",
    "Europe/Berlin",
    "Australia/Sydney",
    "UTC",
)
"""Time zones that are offered; any other name may be typed."""


NEW_INPUTS = DAY_INPUTS | TYPED_INPUTS | BELT_INPUT
router = APIRouter()


@dataclass(frozen=True, slots=True)
class DaysPage:
    """The first step.

    Attributes:
        site: None for a site to be.
        who: fields of a new site's name and place in time; empty for one that is there.
        days, hours, place, months: fields, those of the hours and months folded.
        closed: weekdays to be ticked, whose keys are what its value holds.
        first_hour: the clock hour in which the site opens.
        chart: the two days as they stand in the form; None where they can't be drawn.
    """

    site: StoredSite | None
    action: str
    stale: str
    summary: Summary | None
    request_key: str
    units: str
    who: tuple[FieldView, ...]
    zones: tuple[str, ...]
    days: tuple[FieldView, ...]
    closed: FieldView
    hours: tuple[FieldView, ...]
    place: tuple[FieldView, ...]
    months: tuple[FieldView, ...]
    first_hour: int
    chart: Chart | None
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class SetupPage:
    """The second step.

    Attributes:
        fields, belt, minded: of wheel and people, of the belt, and of what customers mind.
        dry: which car counts as damp, and how to find out.
    """

    site: StoredSite
    stale: str
    summary: Summary | None
    request_key: str
    units: str
    fields: tuple[FieldView, ...]
    belt: tuple[FieldView, ...]
    minded: tuple[FieldView, ...]
    dry: str
    notices: tuple[Notice, ...]


# ---- what the form of the first step says --------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _DaysRead:
    """The first step as it was sent: its site, the typed days, and what is wrong."""

    read: FormReading
    site: Site
    values: Mapping[str, Value]
    days: TypedDays
    problems: tuple[InputProblem, ...]

    @property
    def week(self) -> History:
        """The days as the past of the site."""
        line = self.site.line
        return self.days.week(line.open_h, line.close_h)


def _read(form: FormData, site: Site, days: TypedDays, system: str) -> _DaysRead:
    read = read_fields(_with_ticks(form), NEW_INPUTS, system)
    values = {name: value for name, value in read.values.items() if name in DAY_INPUTS}
    problems, refused = list(read.problems), {problem.field for problem in read.problems}
    typed = {name: value for name, value in read.values.items() if name in TYPED_INPUTS}
    changed: dict[str, Any] = {**typed}
    for name, drawn_by in CURVE_NAMES.items():
        is_anew = not read.values.keys().isdisjoint(drawn_by)
        if "draw" in form or (is_anew and name not in typed):
            changed[name] = ()
    days = replace(days, **changed)
    site = site.with_values(values)
    if not refused:
        problems += days.problems(site.line.open_h, site.line.close_h)
    if "belt_cars_per_h" in read.values:
        belt = belt_of(site, float(str(read.values["belt_cars_per_h"])))
        problems += belt.problems
        values["conveyor_speed_m_s"] = belt.speed_m_s
        site = site.with_values({"conveyor_speed_m_s": belt.speed_m_s})
    return _DaysRead(read, site, values, days, tuple(problems))


def _with_ticks(form: FormData) -> FormData:
    """The form with the weekdays that were ticked in one text, as the table of inputs reads it."""
    if CLOSED not in form:
        return form
    ticked = " ".join(key for key, _name in WEEKDAY_KEYS if key in form.getlist(CLOSED))
    others = [(name, held) for name, held in form.multi_items() if name != CLOSED]
    return FormData([*others, (CLOSED, ticked)])


# ---- the first step ------------------------------------------------------------------------------


@router.get("/sites/new")
def show_new(request: Request) -> Response:
    """The first step of a new site."""
    return _days_page(request, None, SiteData(Site("new"), "us"), TypedDays())


@router.post("/sites/new")
def make_site(request: Request, web: WebDep, form: FormDep) -> Response:
    """Stores a new site with its typed days, and leads to the plan of its next busy day."""
    texts = {name: text_of(form, name).strip() for name in ("name", "timezone", "units", "start")}
    start = STARTS.get(texts["start"], USUAL)
    system = units_of(form, "us")
    site = Site(texts["name"], texts["timezone"]).with_values(start.values)
    found = _read(form, site, TypedDays(), system)
    data = SiteData(found.site, system, frozenset(found.values))

    def again(problems: tuple[InputProblem, ...], status: int) -> Response:
        return _days_page(
            request, None, data, found.days,
            read=found, texts=texts, problems=problems, status=status,
        )  # fmt: skip

    if "draw" in form:
        return again(found.problems, 200)
    if found.problems:
        return again(found.problems, 422)
    try:
        with gate(web.database, web.now()) as writes:
            made = writes.create_site(replace(data, history=found.week), request_key_of(form))
    except InputError as fault:
        return again(tuple(fault.problems), 422)
    slug = next(line.slug for line in sites_of(web.database) if line.id == made.site_id)
    return RedirectResponse(_next_busy_day(web, slug), 303)


@router.get("/{slug}/days")
def show_days(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The first step of a site that is there: its typed days, to be looked at and changed; on to
    its counts where it has any."""
    days = stored_days(web.database, site)
    if days is None:
        return RedirectResponse(f"/{site.slug}/counts", 303)
    return _days_page(request, site, site.data, days)


@router.post("/{slug}/days")
def store_days(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores hours and typed days, and leads to the plan of the next busy day."""
    system, days = units_of(form, site.data.units), stored_days(web.database, site)
    if days is None:
        return RedirectResponse(f"/{site.slug}/counts", 303)
    found = _read(form, site.data.site, days, system)

    def again(
        fresh: StoredSite,
        problems: tuple[InputProblem, ...] = (),
        stale: str = "",
        status: int = 200,
    ) -> Response:
        return _days_page(
            request, fresh, replace(fresh.data, site=found.site), found.days,
            read=found, problems=problems, stale=stale, status=status,
        )  # fmt: skip

    if "draw" in form:
        return again(site, found.problems)
    if found.problems:
        return again(site, found.problems, status=422)
    key = request_key_of(form)

    def write(writes: Gate) -> Outcome:
        version = version_of(form)
        done = writes.set_inputs(
            site.id, found.values, expected_version=version, request_key=f"{key}-i"
        )
        return writes.store_hours(site.id, found.week, done.version, key, replace_all=True)

    return carry_out(web, site, write, again, lambda _done: _next_busy_day(web, site.slug))


def _next_busy_day(web: Web, slug: str) -> str:
    """Address of the plan of the busiest of the coming two weeks, or of the first two later on that
    have a day without frost, which is then said there."""
    site = web.site_at(slug)
    if site is None:
        raise LookupError(slug)
    with web.database.session() as session:
        data = Desk(session, site, web.runner).data
    tomorrow = web.today(site) + timedelta(days=1)
    for weeks in range(0, 52, WEEKS):
        days = coming_days(data, tomorrow + timedelta(weeks=weeks), 7 * WEEKS, web.runner.past.look)
        fit = [
            one for one in days
            if one.expected and one.cars
            and not check_conditions(data.site, one.expected.conditions)
        ]  # fmt: skip
        if fit:
            busiest = max(fit, key=lambda one: one.cars).day
            return f"/{slug}/plan/{busiest}" + (f"?{AFTER}={FROST}" if weeks else "")
    return f"/{slug}/plan/{tomorrow}"


def _who(texts: Mapping[str, str], problems: tuple[InputProblem, ...]) -> tuple[FieldView, ...]:
    """Fields of a new site's name, time zone, units and start."""
    form = RowForm("", "us", texts, problems)
    name = Word(
        name="name",
        label="Name of the site",
        hint="What your people call it, up to 60 characters.",
    )
    zone = Word(
        name="timezone",
        label="Time zone",
        hint="Choose one, or type its name in the time zone database.",
    )
    start = Word(
        name="start",
        label="Start from",
        hint="Guesses that come near; your own figures replace them in the next step.",
    )
    starts = tuple((one.key, _(one.label)) for one in STARTS.values())
    return (
        form.field(name),
        form.field(zone, TIMEZONES[0]),
        form.field(Word(name="units", label="Units"), "us", choices=units_choices()),
        form.field(start, USUAL.key, choices=starts),
    )


def _days_page(
    request: Request,
    site: StoredSite | None,
    data: SiteData,
    days: TypedDays,
    *,
    read: _DaysRead | None = None,
    texts: Mapping[str, str] = {},
    problems: tuple[InputProblem, ...] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `read` and what follows are of a form to be drawn again."""
    system, line = data.units, data.site.line
    typed = read.read.typed if read else None
    faults = faults_of(problems, system)
    can_draw = (read or site) and not problems and not days.problems(line.open_h, line.close_h)
    usual, busy = days.drawn(line.open_h, line.close_h) if can_draw else ((), ())
    held: dict[str, Value] = {name: getattr(days, name) for name in TYPED_INPUTS}
    if can_draw:
        held |= {"usual_hours": usual, "busy_hours": busy}
    held["belt_cars_per_h"] = belt_cars_per_h(data.site)

    def own(name: str, row: Entry) -> FieldView:
        is_list = name in LIST_NAMES
        again = None if is_list and can_draw else typed
        field = input_field(row, held[name], system, typed=again, messages=faults.get(name, ()))
        if is_list and typed and site:
            return replace(field, was="")  # drawn hours count as typed in place of those stored
        return replace(field, was=again.was.get(name, "")) if is_list and again else field

    def of_site(names: tuple[str, ...]) -> tuple[FieldView, ...]:
        rows = {name: INPUTS[name] for name in names}
        return input_fields(rows, data, system, typed, problems)

    page = DaysPage(
        site=site,
        action=f"/{site.slug}/days" if site else "/sites/new",
        stale=stale,
        summary=summary(problems, system),
        request_key=new_request_key(),
        units=system,
        who=() if site else _who(texts, problems),
        zones=TIMEZONES,
        days=(
            *of_site(HOUR_NAMES),
            *(own(name, row) for name, row in TYPED_INPUTS.items() if row.kind != "times"),
            *(own(name, row) for name, row in BELT_INPUT.items()),
        ),
        closed=replace(
            own(CLOSED, TYPED_INPUTS[CLOSED]),
            hint=_(TYPED_INPUTS[CLOSED].help),
            choices=tuple((key, _(name)) for key, name in WEEKDAY_KEYS),
        ),
        hours=tuple(own(name, TYPED_INPUTS[name]) for name in LIST_NAMES),
        place=of_site(PLACE_NAMES),
        months=of_site(MONTH_NAMES),
        first_hour=int(line.open_h),
        chart=typed_chart(line.open_h, usual, busy) if can_draw else None,
        notices=(BELT,),
    )
    return render(
        request, "sites/days.html", page,
        title=_("Set up"), current="site" if site else "sites", site=site, status=status,
    )  # fmt: skip


# ---- the second step -----------------------------------------------------------------------------


@router.get("/{slug}/setup")
def show_setup(request: Request, site: SiteDep) -> Response:
    """The second step: wheel, cloth, people and what passes as dry."""
    return _setup(request, site)


@router.post("/{slug}/setup")
def store_setup(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores them; the measurements come next."""
    system = units_of(form, site.data.units)
    read = read_fields(form, SETUP_INPUTS, system)

    def again(
        fresh: StoredSite,
        problems: tuple[InputProblem, ...] = (),
        stale: str = "",
        status: int = 200,
    ) -> Response:
        return _setup(request, fresh, read.typed, system, problems, stale, status)

    if read.problems:
        return again(site, read.problems, status=422)

    def write(gate: Gate) -> Outcome:
        return gate.set_inputs(
            site.id,
            read.values,
            expected_version=version_of(form),
            request_key=request_key_of(form),
        )

    return carry_out(web, site, write, again, f"/{site.slug}/weighings")


def _setup(
    request: Request,
    site: StoredSite,
    typed: Typed | None = None,
    units: str = "",
    problems: tuple[InputProblem, ...] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `typed` and what follows are of a form that could not be stored."""
    data, system = site.data, units or site.data.units
    fields, belt, minded = (
        input_fields(rows, data, system, typed, problems)
        for rows in (WHEEL_INPUTS, BELT_INPUTS, MINDED_INPUTS)
    )
    page = SetupPage(
        site,
        stale,
        summary(problems, system),
        new_request_key(),
        system,
        fields,
        belt,
        with_water_seen(minded, data.site),
        damp_words(data.site, data.given, data.weighings, system),
        (BELT, LOCK_OUT),
    )
    return render(
        request, "sites/setup.html", page,
        title=_("Set up"), current="site", site=site, status=status,
    )  # fmt: skip
