"""The coming days: a plan each, and how many days of a year need switching."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.coming_plans import COMING
from app.catalogue import _
from app.pages.coming.view import coming_page
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.sites.reading import StoredSite

router = APIRouter()


@router.get("/{slug}/coming")
def show_coming(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; what has not been computed is begun, and the page asks again by itself."""
    view = web.begun(site, COMING, _first(web, site))
    page = coming_page(site.slug, view, site.data.given, site.data.units)
    response = render(
        request, "coming/coming.html", page, title=_("The coming days"), current="reduce",
        site=site,
    )  # fmt: skip
    if page.waiting is not None:
        ask_again(request, response)
    return response


@router.post("/{slug}/coming")
def try_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, COMING, _first(web, site)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/coming", 303)


def _first(web: Web, site: StoredSite) -> date:
    return web.today(site.data.site.timezone) + timedelta(days=1)
