"""The day sheet: the one page that the crew works from, printed or on a phone; no chart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from app.access.table import SCREEN
from app.answers.planning import DayInputs, ExpectedDay
from app.answers.staff import STAFF
from app.answers.switching import SWITCH
from app.catalogue import _
from app.charts.code import code_picture
from app.pages.cautions import (
    BLOWERS,
    DEFERENCE,
    LOCK_OUT,
    SAFETY_DEVICE,
    SET_CHANGE,
    SHAPING_SENSOR,
    Notice,
)
from app.pages.days import instead_of, plan_title, wanted
from app.pages.deps import SiteDep, Web, WebDep, render, visitor_of
from app.pages.security import LOCAL_HOSTS
from app.pages.waiting import REFRESH_S, StudyProgress, before
from app.pages.waiting import waiting as waiting_of
from app.sites.keeping import sheet_value
from app.sites.reading import StoredSite
from app.words.numbers import clock, whole
from app.words.phrases import Statement, TextTable, moment
from app.words.rules import act_words, weight_words
from app.words.staff import needed_words, who_comes
from app.words.switching import spells_words, switch_sure
from sim.decide.switching.answer import WhenToReduce
from sim.inputs import Site, Steps, value_at
from sim.units import UNITS, format_number, show_clock

router = APIRouter()
SCREEN_S = 300
"""How often a screen asks for the sheet [s]; a guess: often enough for a switch that was moved."""
SO_FAR = (
    "So far: chosen among a few rules on few simulated days. It may still change; print the sheet "
    "once this line is gone."
)


@dataclass(frozen=True, slots=True)
class Orders:
    """What the crew works by.

    Attributes:
        told: when to reduce; site: with the day's settings; plan: the day's.
        settings: speed and spacing by time; people: by time, of them all only where the day has no
            roster and no worked-out need.
        comes: who comes from when to when by the roster, a line each; needed: else how many are
            needed, in a sentence; both empty where neither is known.
        hours: the hours to write on, with the cars expected in each.
        damp_in: one damp car in so many is too many, 0 where the day is reduced all along; limit:
            weight of a strip that is as wet as it may be; empty where there is none.
        sure: how sure the answer is; so_far: what is said of a first form, which may still change;
            one of both is empty.
    """

    told: WhenToReduce
    site: Site
    plan: DayInputs
    settings: TextTable
    people: TextTable
    comes: tuple[str, ...]
    needed: str
    hours: tuple[tuple[str, str], ...]
    damp_in: int
    limit: str
    sure: str
    so_far: str


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The page.

    Attributes:
        lead: what to do, or why there is nothing to say.
        orders: None while there is no answer.
        code: opens the sheet on a phone; None where no phone reaches the address.
        made: when it was made, on the site's clock.
        history: last value of the history, by which a later rewriting of it is found.
    """

    slug: str
    day: date
    units: str
    lead: Statement | None
    waiting: StudyProgress | None
    orders: Orders | None
    stops: tuple[Notice, ...]
    code: Markup | None
    made: str
    history: str


@router.get("/{slug}/sheet")
def show_todays(request: Request, site: SiteDep, web: WebDep) -> Response:
    """Today's sheet, whatever day it becomes: for a screen that hangs in the crew room."""
    return _page(request, site, web, web.today(site))


@router.get("/{slug}/sheet/{day}")
def show_sheet(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The sheet of a day."""
    return _page(request, site, web, wanted(day))


def _page(request: Request, site: StoredSite, web: Web, day: date) -> Response:
    """The sheet; what has not been computed is begun, and the page asks again by itself."""
    view, units = web.by_plan(web.shown(site, SWITCH, day)), site.data.units
    shifts = site.data.staff.on_day(view.day)
    told, asked = view.result, view.asked.question
    lead, _sure, _needs = instead_of(view, units)
    waiting, orders, stops = None, None, [LOCK_OUT]
    if told is not None and asked is not None and view.asked.plan.expected is not None:
        lead = Statement(act_words(told.told, told.crew_terms, units), spells_words(told))
        share, limits = told.wish.allowed_damp_share, told.comparison.limits
        wet = limits.damp_limit_saturation
        needs = web.open(site, STAFF, view.day).result
        orders = Orders(
            told=told,
            site=asked.site,
            plan=view.asked.plan,
            settings=_settings(asked.site, units),
            people=_people(asked.site, with_all=needs is None and not shifts),
            comes=who_comes(shifts),
            needed="" if shifts or needs is None else needed_words(needs),
            hours=_hours(asked.site, view.asked.plan.expected),
            damp_in=0 if told.told.everyone or share <= 0.0 else max(2, math.floor(1.0 / share)),
            limit="" if limits.no_wiping_needed else weight_words(wet, told.crew_terms, units),
            sure="" if told.coarse else switch_sure(told, site.data.given, units).lead,
            so_far=_(SO_FAR) if told.coarse else "",
        )
        if asked.site.degraded.failed_sensor != "none":
            stops += [SHAPING_SENSOR, SAFETY_DEVICE]
        if asked.site.water.blowers_down:
            stops.append(BLOWERS)
        if asked.cloth.strip():
            stops.append(SET_CHANGE)
    if lead is None or (told is not None and told.coarse and view.earlier is None):
        waiting = waiting_of(view)
    page = SheetPage(
        site.slug, view.day, units, lead, waiting, orders, (*stops, DEFERENCE),
        _code(request), moment(web.now(), site.data.site.timezone), sheet_value(web.database),
    )  # fmt: skip
    return render(
        request, "sheet/sheet.html", page, title=_("Day sheet"), current="reduce", site=site,
        when=plan_title(view.day), kind="sheet",
        again=_again(request, is_awaited=view.running is not None and not view.is_final),
        before=before(site, view, retry=f"/{site.slug}/reduce/{view.day}"),
    )  # fmt: skip


def _again(request: Request, *, is_awaited: bool) -> int:
    """After how long the page asks again [s]; a screen always does, as nobody is there to press."""
    if is_awaited:
        return REFRESH_S
    return SCREEN_S if visitor_of(request).role == SCREEN else 0


def _code(request: Request) -> Markup | None:
    """The code by which a phone opens the sheet; None where only this computer reaches it."""
    if request.url.hostname in (*LOCAL_HOSTS, "::1"):
        return None
    address = str(request.url.replace(query="", fragment=""))
    return code_picture(address, _("A code that opens this sheet on a phone"))


# ---- settings and people by time -----------------------------------------------------------------


def _periods(site: Site, *tables: Steps) -> list[float]:
    """Times within the hours open at which any of the tables changes [s]."""
    opens, closes = 3600.0 * site.line.open_h, 3600.0 * site.line.close_h
    inner = {start for table in tables for start, _amount in table if opens < start < closes}
    return [opens, *sorted(inner)]


def _settings(site: Site, units: str) -> TextTable:
    line = site.line
    table = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    speed, length = UNITS["speed"], UNITS["length"]
    heads = (
        _("From"),
        _("Speed, {unit}", unit=speed.symbol(units)),
        _("Spacing, {unit}", unit=length.symbol(units)),
    )
    spacing = format_number(length.to_edge(line.car_spacing_m, units))
    rows = (
        (show_clock(at), format_number(speed.to_edge(value_at(table, at), units)), spacing)
        for at in _periods(site, table)
    )
    return TextTable("", heads, tuple(rows))


def _hours(site: Site, expected: ExpectedDay) -> tuple[tuple[str, str], ...]:
    """The hours open, each with the cars expected in it."""
    line, cars = site.line, expected.conditions.arrivals_per_h
    hours = range(math.floor(line.open_h), min(24, math.ceil(line.close_h)))
    return tuple((clock(hour), whole(cars[hour])) for hour in hours)


def _people(site: Site, *, with_all: bool) -> TextTable:
    crew, pay = site.crew, site.pay
    rows = (
        (_("Pay lanes open"), pay.pay_lanes),
        (_("Loaders"), pay.loaders),
        *([(_("People in all"), crew.people)] if with_all else []),
        *(
            [(_("Of them only drying cars"), crew.finishers)]
            if any(count for _at, count in crew.finishers)
            else []
        ),
    )
    starts = _periods(site, *(table for _name, table in rows))
    cells = (
        (name, *(format_number(value_at(table, at), 2) for at in starts)) for name, table in rows
    )
    return TextTable("", (_("From"), *map(show_clock, starts)), tuple(cells))
