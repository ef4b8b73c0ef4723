"""Roster: people of its days worked out, a roster made, and put in place by a press."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.roster import duties_in, published
from app.answers.roster_study import (
    RosterView,
    needs_jobs,
    open_roster,
    roster_job,
    staff_views,
)
from app.catalogue import _
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import text_of
from app.pages.roster.made_view import made_page, needs_page
from app.pages.roster.route import monday_in
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite

router = APIRouter()


@router.post("/{slug}/roster/{week}/needs")
def work_out(week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins to work out who is needed on each day of the week that has not been."""
    monday = monday_in(week)
    with web.database.session() as session:
        jobs = needs_jobs(session, site, monday, web.runner)
    for job in jobs:
        web.runner.begin(job)
    return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}/needs", 303)


@router.get("/{slug}/roster/{week}/needs")
def show_needs(request: Request, week: str, site: SiteDep, web: WebDep) -> Response:
    """How far that is; back to the roster when it is done."""
    monday = monday_in(week)
    with web.database.session() as session:
        view = open_roster(session, site, monday, web.runner)
        days = staff_views(session, site, monday, web.runner)
    if not view.unknown:
        return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}#make", 303)
    page = needs_page(site, view, days)
    response = render(
        request, "roster/needs.html", page, title=_("Roster"), current="roster", site=site
    )
    if page.is_waiting:
        ask_again(request, response)
    return response


@router.post("/{slug}/roster/{week}/make")
def make_roster(week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins to make the week's roster; nothing is stored of it before somebody says so."""
    monday = monday_in(week)
    job = roster_job(site.id, _open(web, site, monday))
    if job is not None:
        web.runner.begin(job)
    return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}/made", 303)


@router.get("/{slug}/roster/{week}/made")
def show_made(request: Request, week: str, site: SiteDep, web: WebDep) -> Response:
    """The roster that was made, or why there is none; while it is made how far that is."""
    return _made(request, web, site, monday_in(week))


@router.post("/{slug}/roster/{week}/place")
def place_roster(
    request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep
) -> Response:
    """Puts the roster that was shown in place of what the week had."""
    monday = monday_in(week)
    view = _open(web, site, monday)
    found = view.result
    if found is None or "shifts" not in found or text_of(form, "key") != view.key:
        stale = _("People, limits or who is needed have changed since. Make the roster anew.")
        return _made(request, web, site, monday, stale, 409)
    book = published(site.data.staff, monday, duties_in(found))

    def write(gate: Gate) -> Outcome:
        return gate.set_staff(site.id, book, version_of(form), request_key_of(form))

    def again(fresh: StoredSite, stale: str = "", status: int = 200, **_more: object) -> Response:
        return _made(request, web, fresh, monday, stale, status)

    address = f"/{site.slug}/roster/{monday.isoformat()}?stored=placed"
    return carry_out(web.database, web.now(), site, write, again, address)


def _open(web: Web, site: StoredSite, monday: date) -> RosterView:
    with web.database.session() as session:
        return open_roster(session, site, monday, web.runner)


def _made(
    request: Request, web: Web, site: StoredSite, monday: date, stale: str = "", status: int = 200
) -> Response:
    view = _open(web, site, monday)
    page = made_page(site, view, new_request_key(), stale)
    response = render(
        request, "roster/made.html", page,
        title=_("Roster"), current="roster", site=site, status=status,
    )  # fmt: skip
    if page.waiting is not None and not stale:
        ask_again(request, response)
    return response
