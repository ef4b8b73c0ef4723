"""The list of sites; a start without data asks one thing: look at the demo, or set up a site. And
the tour of the demo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.demo import bring_demo
from app.catalogue import _, _n
from app.pages.deps import FormDep, WebDep, remembered_site, render, visitor_of
from app.pages.guide import TOUR, all_guides
from app.pages.tour import TITLE as TOUR_TITLE
from app.pages.tour import Stop, stops
from app.pages.writing import new_request_key
from app.sites.demo import demo_data, standing_day
from app.sites.reading import SiteLine, gate, sites_of

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SitesPage:
    """The list of sites."""

    answer: str
    sites: Sequence[SiteLine]
    request_key: str
    has_demo: bool


@router.get("/")
def first_page(request: Request, web: WebDep) -> Response:
    """Today at the site that was looked at last; the list of sites where there is none. The logbook
    for a phone that came by its link."""
    site, visitor = remembered_site(request, web), visitor_of(request)
    page = next(one for one in ("today", "logbook", "sheet") if visitor.may(one))
    return RedirectResponse(f"/{site.slug}/{page}" if site else "/sites", 303)


@router.get("/sites")
def show_sites(request: Request, web: WebDep) -> Response:
    """Every site of the reader's, and the ways to one more."""
    visitor = visitor_of(request)
    sites = [line for line in sites_of(web.database) if visitor.has(line.slug)]
    answer = _("What do you want to do first?")
    if sites:
        answer = _n("One site is stored here.", "{count} sites are stored here.", len(sites))
    has_demo = demo_data().site.name in [line.name for line in sites]
    page = SitesPage(answer, sites, new_request_key(), has_demo)
    return render(request, "sites/sites.html", page, current="sites")


@router.post("/sites/demo")
def bring(web: WebDep, _form: FormDep) -> Response:
    """Brings the invented demo site in if it is not there, and leads to its tour."""
    with gate(web.database, web.now()) as writes:
        stored, _plan = bring_demo(writes)
    return RedirectResponse(stops(stored.slug, standing_day(stored.data))[0].href, 303)


@dataclass(frozen=True, slots=True)
class TourPage:
    """The tour of the demo, sentence by sentence; without any where the demo is not there."""

    stops: tuple[Stop, ...]
    guides: tuple[tuple[str, str], ...]


@router.get(f"/guide/{TOUR}")
def show_tour(request: Request, web: WebDep) -> Response:
    """The tour of the invented site that was looked at last, else of the demo."""
    site = remembered_site(request, web)
    if site is None or site.data.stands_on is None:
        mine = (line for line in sites_of(web.database) if visitor_of(request).has(line.slug))
        names = {line.name: line.slug for line in mine}
        site = web.site_at(names.get(demo_data().site.name, ""))
    day = site.data.stands_on if site else None
    page = TourPage(stops(site.slug, day) if site and day else (), all_guides())
    return render(request, "guide/tour.html", page, title=_(TOUR_TITLE), current="guide")
