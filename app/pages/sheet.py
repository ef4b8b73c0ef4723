"""The day sheet: the one page that the crew works from, printed or on a phone; no chart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.switching import SWITCH
from app.catalogue import _
from app.pages.cautions import (
    Notice,
    deference,
    lock_out,
    safety_device,
    set_change,
    shaping_sensor,
)
from app.pages.days import ask_again, instead_of, plan_title, wanted
from app.pages.deps import SiteDep, WebDep, render
from app.pages.studies import StudyProgress
from app.pages.studies import waiting as waiting_of
from app.words.cues import SheetCue, earlier_words, expected_damp, sheet_act, sheet_cues
from app.words.phrases import Statement
from app.words.rules import weight_words
from app.words.switching import spells_words, switch_sure
from sim.decide.switching.answer import WhenToReduce
from sim.inputs import Site, Steps, value_at
from sim.units import UNITS, format_number, show_clock

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A small table: corner, heads, and rows of a label with its cells."""

    corner: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Orders:
    """What the crew works by.

    Attributes:
        site: with the day's settings; cars: expected.
        cues: empty where nothing is to be switched.
        settings: speed and spacing by time; people: by time.
        earlier: what tells before the clock does to reduce; damp_in: one damp car in so many is
            too many, 0 where the day is reduced all along; limit: weight of a strip that is as wet
            as it may be; all empty where there is none.
        expected: damp cars; sure: how sure that is; version: of the plan.
    """

    site: Site
    cars: float
    cues: tuple[SheetCue, ...]
    settings: SheetTable
    people: SheetTable
    earlier: str
    damp_in: int
    limit: str
    expected: str
    sure: str
    version: int


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The page.

    Attributes:
        lead: what to do, or why there is nothing to say.
        orders: None while there is no answer.
    """

    slug: str
    day: date
    units: str
    lead: Statement | None
    waiting: StudyProgress | None
    orders: Orders | None
    stops: tuple[Notice, ...]


@router.get("/{slug}/sheet/{day}")
def show_sheet(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The sheet; what has not been computed is begun, and the page asks again by itself."""
    view, units = web.begun(site, SWITCH, wanted(day)), site.data.units
    plan, answer, asked = view.asked.plan, view.result, view.asked.question
    lead, _sure, _needs = instead_of(view, units)
    waiting, orders, stops = None, None, [lock_out()]
    if answer is not None and asked is not None and plan.expected is not None:
        lead = Statement(sheet_act(answer, units), "" if answer.stay else spells_words(answer))
        sure = switch_sure(answer, site.data.given, units)
        allowed, limit = answer.wish.allowed_damp_share, answer.comparison.limits
        orders = Orders(
            site=asked.site,
            cars=plan.expected.expected_cars,
            cues=sheet_cues(answer, asked.site, units),
            settings=_settings(asked.site, units),
            people=_people(asked.site),
            earlier=earlier_words(answer, units),
            damp_in=0 if answer.advised.everyone else _one_in(allowed),
            limit="" if limit.no_wiping_needed else _limit(answer, units),
            expected=expected_damp(answer),
            sure=sure.lead,
            version=plan.version,
        )
        if asked.site.degraded.failed_sensor != "none":
            stops += [shaping_sensor(), safety_device()]
        if asked.cloth.strip():
            stops.append(set_change())
    elif view.running is not None and lead is None:
        waiting = waiting_of(view.running, view.key)
    page = SheetPage(site.slug, view.day, units, lead, waiting, orders, (*stops, deference()))
    response = render(
        request, "sheet/sheet.html", page, title=_("Day sheet"), current="reduce", site=site,
        when=plan_title(view.day), kind="sheet",
    )  # fmt: skip
    if waiting is not None:
        ask_again(request, response)
    return response


def _one_in(share: float) -> int:
    return max(2, math.floor(1.0 / share)) if share > 0 else 0


def _limit(answer: WhenToReduce, units: str) -> str:
    limit = answer.comparison.limits.damp_limit_saturation
    return weight_words(limit, answer.crew_terms, units)


# ---- settings and people by time -----------------------------------------------------------------


def _periods(site: Site, *tables: Steps) -> list[float]:
    """Times within the hours open at which any of the tables changes [s]."""
    opens, closes = 3600.0 * site.line.open_h, 3600.0 * site.line.close_h
    inner = {start for table in tables for start, _amount in table if opens < start < closes}
    return [opens, *sorted(inner)]


def _settings(site: Site, units: str) -> SheetTable:
    line = site.line
    table = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    speed, length = UNITS["speed"], UNITS["length"]
    heads = (
        _("Speed, {unit}", unit=speed.symbol(units)),
        _("Spacing, {unit}", unit=length.symbol(units)),
    )
    spacing = format_number(length.to_edge(line.car_spacing_m, units))
    rows = (
        (show_clock(at), (format_number(speed.to_edge(value_at(table, at), units)), spacing))
        for at in _periods(site, table)
    )
    return SheetTable(_("From"), heads, tuple(rows))


def _people(site: Site) -> SheetTable:
    crew, pay = site.crew, site.pay
    rows = (
        (_("Pay lanes open"), pay.pay_lanes),
        (_("Loaders"), pay.loaders),
        (_("People in all"), crew.people),
    )
    starts = _periods(site, *(table for _name, table in rows))
    cells = (
        (name, tuple(format_number(value_at(table, at), 2) for at in starts))
        for name, table in rows
    )
    return SheetTable(_("From"), tuple(map(show_clock, starts)), tuple(cells))
