"""The list of sites; a start without data asks one thing: look at the demo, or set up a site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.demo import bring_demo
from app.catalogue import _, _n
from app.pages.deps import FormDep, WebDep, remembered_site, render
from app.pages.writing import new_request_key
from app.sites.demo import demo_data
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
    """Today at the site that was looked at last; the list of sites where there is none."""
    site = remembered_site(request, web)
    return RedirectResponse(f"/{site.slug}/today" if site else "/sites", 303)


@router.get("/sites")
def show_sites(request: Request, web: WebDep) -> Response:
    """Every site, and the ways to one more."""
    sites = sites_of(web.database)
    answer = _("What do you want to do first?")
    if sites:
        answer = _n("One site is stored here.", "{count} sites are stored here.", len(sites))
    has_demo = demo_data().site.name in [line.name for line in sites]
    page = SitesPage(answer, sites, new_request_key(), has_demo)
    return render(request, "sites/sites.html", page, current="sites")


@router.post("/sites/demo")
def bring(web: WebDep, _form: FormDep) -> Response:
    """Brings the invented demo site in if it is not there, and leads to it."""
    with gate(web.database, web.now()) as writes:
        stored, _plan = bring_demo(writes)
    return RedirectResponse(f"/{stored.slug}/today", 303)
