"""Stops and alarms: how often each cause comes, by time, and what those of a day cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Desk
from app.answers.stops import STOPS, StopsView, planned_stops, rates_of, stops_and_alarms
from app.answers.told_by_log import stops_told
from app.catalogue import _, say
from app.pages.cautions import DEFERENCE, LOCK_OUT, SAFETY_DEVICE, Notice
from app.pages.days import plan_title, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.security import UPLOAD_LIMIT_BYTES
from app.pages.stops_file import file_page, take_file_form
from app.pages.waiting import REFRESH_S, StudyProgress, before
from app.pages.waiting import waiting as waiting_of
from app.pages.writing import new_request_key
from app.sites.reading import StoredSite
from app.words.belt_stops import (
    Rows,
    answer,
    cause_rows,
    cost_answer,
    cost_rows,
    cost_words,
    entry_words,
    planned_words,
    recorder_link,
)
from app.words.phrases import Statement
from app.words.told_by_log import Offer, offers, told_line
from sim.decide.stops.answer import StopCosts, StopRates
from sim.errors import InputProblem
from sim.inputs import LogEntry
from sim.inputs.logbook import ALARM, STOP
from sim.units import whole_number

router = APIRouter()
SPANS = (30, 90, 365)
"""Days that may be looked back on."""
USUAL_SPAN = 90
MOST_LISTED = 60
NOTICES = (DEFERENCE, LOCK_OUT, SAFETY_DEVICE)


@dataclass(frozen=True, slots=True)
class StopLine:
    """A stop or an alarm in the list.

    Attributes:
        what, lasted, vehicle: in words; is_alarm: which of the two it is.
        recorder: the recorder's page at its minute; empty for none.
    """

    day: date
    at_s: float
    what: str
    lasted: str
    vehicle: str
    is_alarm: bool
    recorder: str


@dataclass(frozen=True, slots=True)
class StopsPage:
    """The page.

    Attributes:
        span, spans: days looked back on, and those that may be.
        rates, alarms: of stops and of alarms; None where there are none, or no cars were counted.
        causes, alarm_rows: their tables. planned: what plans count on instead, in a sentence.
        told, told_line: what the log says of what plans count on.
        lines: newest first; more: how many older ones there are that are not listed.
        file: of the form that takes a file, what is wrong with it.
        classes: labels of the classes of cars by key.
        has_recorder: whether the recorder's address is entered.
    """

    slug: str
    done: str
    span: int
    spans: tuple[int, ...]
    answer: Statement
    rates: StopRates | None
    alarms: StopRates | None
    causes: Rows
    planned: str
    alarm_rows: Rows
    told: tuple[Offer, ...]
    told_line: str
    version: int
    request_key: str
    lines: tuple[StopLine, ...]
    more: int
    pasted: str
    file_faults: tuple[str, ...]
    classes: Mapping[str, str]
    has_recorder: bool
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class StopsOfDay:
    """The stops of a day and what they cost.

    Attributes:
        found: None while it is not worked out, or there is nothing to.
        rows: of its table; rests_on: what its figures rest on.
        reasons: why it can't be worked out.
    """

    slug: str
    day: date
    answer: Statement | None
    waiting: StudyProgress | None
    can_retry: bool
    reasons: tuple[str, ...]
    found: StopCosts | None
    rows: Rows
    rests_on: str
    lines: tuple[StopLine, ...]
    has_recorder: bool
    notices: tuple[Notice, ...]


@router.get("/{slug}/stops")
def show_stops(
    request: Request, site: SiteDep, web: WebDep, days: str = "", stored: str = "", file: str = ""
) -> Response:
    """Causes and rates of the last days, every stop and alarm by time, the form for a file; or,
    with `file`, what a waiting file would bring, read as the address says."""
    if file:
        return file_page(request, site, web)
    number = whole_number(days)
    span = number if number in SPANS else USUAL_SPAN
    return stops_page(request, web, site, span=span, done=_done(stored))


def _done(stored: str) -> str:
    if stored == "same":
        return _("All of it was stored already, so nothing was changed.")
    if stored == "dropped":
        return _("The file was let go. Nothing of it was stored.")
    return _("Stored.") if stored == "yes" else ""


@router.post("/{slug}/stops/preview", max_body_size=UPLOAD_LIMIT_BYTES)
def take_file(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Keeps a file apart and shows what it would bring; stores nothing."""
    token, problems, pasted = take_file_form(web, site, form)
    if problems:
        return stops_page(request, web, site, problems=problems, pasted=pasted, status=422)
    return RedirectResponse(f"/{site.slug}/stops?file={token}", 303)


def stops_page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    span: int = USUAL_SPAN,
    done: str = "",
    problems: Iterable[InputProblem] = (),
    pasted: str = "",
    status: int = 200,
) -> Response:
    """The page of the last days."""
    last = web.today(site)
    first = last - timedelta(days=span - 1)
    with web.database.session() as session:
        desk = Desk(session, site, web.runner.onlooker())
        noted, data = stops_and_alarms(desk, first, last), desk.data
        told = stops_told(desk, data, noted, first, last)
    stops = [one for one in noted if one.kind == STOP]
    alarms = [one for one in noted if one.kind == ALARM]
    rates = rates_of(data, stops, first, last) if stops else None
    of_alarms = rates_of(data, alarms, first, last) if alarms else None
    newest = sorted(noted, key=lambda one: one.place, reverse=True)
    page = StopsPage(
        slug=site.slug,
        done=done,
        span=span,
        spans=SPANS,
        answer=answer(rates, len(stops)),
        rates=rates,
        alarms=of_alarms,
        causes=() if rates is None else cause_rows(rates),
        planned="" if rates is None else planned_words(planned_stops(data, rates), rates),
        alarm_rows=() if of_alarms is None else cause_rows(of_alarms),
        told=offers(told, data.units),
        told_line=told_line(told),
        version=site.version,
        request_key=new_request_key(),
        lines=_lines(site, newest[:MOST_LISTED]),
        more=max(0, len(newest) - MOST_LISTED),
        pasted=pasted,
        file_faults=tuple(say(one, site.data.units) for one in problems),
        classes={item.key: item.label for item in site.data.site.vehicles},
        has_recorder=bool(site.data.site.line.recorder_address),
        notices=NOTICES,
    )
    return render(
        request, "stops/stops.html", page, title=_("Stops and alarms"), current="stops",
        site=site, status=status,
    )  # fmt: skip


def _lines(site: StoredSite, entries: Iterable[LogEntry]) -> tuple[StopLine, ...]:
    classes = {item.key: item.label for item in site.data.site.vehicles}
    pattern = site.data.site.line.recorder_address
    return tuple(
        StopLine(
            one.day, one.at_s, *entry_words(one, classes), one.kind == ALARM,
            recorder_link(pattern, one.day, one.at_s),
        )
        for one in entries
    )  # fmt: skip


@router.get("/{slug}/stops/{day}")
def show_day(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The stops of a day by time, and what they cost; what has not been worked out is begun."""
    return _day_page(request, web, site, web.shown(site, STOPS, wanted(day)))


@router.post("/{slug}/stops/{day}")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, STOPS, wanted(day)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/stops/{day}", 303)


def _day_page(request: Request, web: Web, site: StoredSite, view: StopsView) -> Response:
    system, found, asked = site.data.units, view.result, view.asked
    with web.database.session() as session:
        noted = stops_and_alarms(Desk(session, site), view.day, view.day)
    said, waiting = None, None
    if found is not None:
        said = cost_answer(found)
    elif not asked.stops:
        said = Statement(_("No stop is noted on this day."), "")
    elif view.failed:
        said = Statement(view.failed, _("“Work it out” begins it."))
    elif asked.problems:
        said = Statement(_("What these stops cost can’t be worked out."), "")
    else:
        waiting = waiting_of(view)
    page = StopsOfDay(
        slug=site.slug,
        day=view.day,
        answer=said,
        waiting=waiting,
        can_retry=bool(view.failed) and found is None,
        reasons=tuple(dict.fromkeys(say(one, system) for one in asked.problems)),
        found=found,
        rows=() if found is None else cost_rows(found, system),
        rests_on="" if found is None else cost_words(found),
        lines=_lines(site, noted),
        has_recorder=bool(site.data.site.line.recorder_address),
        notices=NOTICES,
    )
    return render(
        request, "stops/day.html", page, title=_("Stops of a day"), current="stops", site=site,
        when=plan_title(view.day), again=REFRESH_S if waiting is not None else 0,
        before=before(site, view, retry=f"/{site.slug}/stops/{view.day}"),
    )  # fmt: skip
