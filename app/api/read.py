"""What a program reads: sites, a day's answers, what to do now, checks. Reading begins nothing."""

from __future__ import annotations

from typing import Annotated, TypeVar

from fastapi import APIRouter, Path
from fastapi.responses import Response

from app.answers.answer import Answer, Desk
from app.answers.checks import Readiness, readiness
from app.answers.happened import AFTERWARDS, DayBeside, day_beside
from app.answers.now import NowFound, find_now
from app.answers.planning import PLAN, DayAsked, DayInputs
from app.answers.staff import STAFF
from app.answers.studies.runner import NOT_YET
from app.answers.switching import SWITCH
from app.api.door import AskingDep, Door, SiteDep
from app.api.problems import Refused
from app.api.shapes import (
    After,
    Answered,
    Day,
    Limit,
    Paged,
    SiteShown,
    paged,
    place_of,
    shown,
)
from app.catalogue import _, say
from app.pages.advice import day_so_far
from app.pages.deps import Web
from app.sites.reading import StoredSite, history_of, log_of, sites_of
from sim.decide.answer import Plan
from sim.decide.staff.answer import StaffAnswer
from sim.decide.switching.answer import WhenToReduce

router = APIRouter(route_class=Door)
Found = TypeVar("Found")
Asked = TypeVar("Asked")
DayOf = Annotated[Day, Path(description="A date in the site’s time zone")]


@router.get("/sites", response_model=Paged[SiteShown])
def sites(program: AskingDep, limit: Limit = 100, after: After = None) -> Response:
    """The sites that the token is for, in the order in which they were made."""
    place = place_of(after, 1)
    behind = place[0] if place else 0
    if type(behind) is not int:
        raise Refused(422, _("This is no place in this list."))
    lines = [one for one in sites_of(program.web.database) if program.visitor.has(one.slug)]
    lines = sorted((one for one in lines if one.id > behind), key=lambda one: one.id)
    held = [(one.id, program.web.site_at(one.slug)) for one in lines[: limit + 1]]
    there = [(number, site) for number, site in held if site is not None]
    page = paged(there, limit, lambda one: [one[0]])
    items = [_site(program.web, site) for _number, site in page.items]
    return shown({"items": items, "after": page.after})


@router.get("/sites/{slug}", response_model=SiteShown)
def site(program: AskingDep, site: SiteDep) -> Response:
    """A site."""
    return shown(_site(program.web, site))


def _site(web: Web, stored: StoredSite) -> SiteShown:
    site, data = stored.data.site, stored.data
    counted = history_of(web.database, stored.id).counted
    return SiteShown(
        stored.slug, site.name, data.units, stored.version, site.timezone, web.today(stored),
        site.line.open_h, site.line.close_h, counted,
    )  # fmt: skip


# ---- answers of a day ----------------------------------------------------------------------------


def _told(view: Answer[Asked, Found]) -> dict[str, object]:
    """An answer as far as it is known."""
    state = "not asked for"
    if view.result is not None:
        state = "done" if view.is_final else "first"
    elif not view.key or view.problems:
        state = "nothing"
    elif view.running is not None:
        state = "working"
    elif view.failed and view.failed != _(NOT_YET):
        state = "failed"
    says = {"nothing": why_nothing(view), "failed": view.failed}.get(state, "")
    return {"day": view.day, "state": state, "says": says, "answer": view.result}


def why_nothing(view: Answer[Asked, Found]) -> str:
    """Why a day has nothing to work out, in sentences."""
    asked: object = view.asked
    day = asked.plan if isinstance(asked, DayAsked) else asked
    problems = view.problems or (day.problems if isinstance(day, DayInputs) else ())
    if problems:
        return " ".join(say(one, "si") for one in problems)
    return _("The site is closed on this day, or no car is expected.")


@router.get("/sites/{slug}/days/{day}/plan", response_model=Answered[Plan])
def plan(program: AskingDep, site: SiteDep, day: DayOf) -> Response:
    """The comparison of a day's scenarios, as the page Plan a day has it."""
    return shown(_told(program.web.open(site, PLAN, day)))


@router.get("/sites/{slug}/days/{day}/rule", response_model=Answered[WhenToReduce])
def rule(program: AskingDep, site: SiteDep, day: DayOf) -> Response:
    """When to reduce on a day, as the page of that name has it."""
    return shown(_told(program.web.by_plan(program.web.open(site, SWITCH, day))))


@router.get("/sites/{slug}/days/{day}/staff", response_model=Answered[StaffAnswer])
def staff(program: AskingDep, site: SiteDep, day: DayOf) -> Response:
    """Who is needed on a day, by half-hours, as the page Staff has it."""
    return shown(_told(program.web.open(site, STAFF, day)))


@router.get("/sites/{slug}/days/{day}/happened", response_model=DayBeside)
def happened(program: AskingDep, site: SiteDep, day: DayOf) -> Response:
    """What was planned of a day that is over or goes on, and what happened."""
    web = program.web
    if day > web.today(site):
        raise Refused(404, _("This day is still to come."))
    view = web.open(site, AFTERWARDS, day)
    with web.database.session() as session:
        return shown(day_beside(Desk(session, site, web.runner), day, view.result))


# ---- now -----------------------------------------------------------------------------------------


@router.get("/sites/{slug}/now", response_model=NowFound | None)
def now(program: AskingDep, site: SiteDep) -> Response:
    """What to do with the rest of today, as Today and the logbook have it; null while the site is
    closed and on a day without a plan. What is not at hand is worked out for a token that may have
    something worked out, and told without an answer to any other."""
    web = program.working()
    today, now_s = web.clock_at(site)
    view, planned, checks = day_so_far(web, site, today)
    log = log_of(web.database, site.id, today)
    may_compute = web.runner.may_begin
    with program.counted():
        found = find_now(web.nows, view, planned, checks, log, now_s, may_compute=may_compute)
    return shown(found)


@router.get("/sites/{slug}/checks", response_model=Readiness)
def checks(program: AskingDep, site: SiteDep) -> Response:
    """Every check of the site's lists as it stands today, and devices that are down."""
    with program.web.database.session() as session:
        return shown(readiness(Desk(session, site, program.web.runner), program.web.today(site)))
