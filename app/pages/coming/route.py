"""The coming days: a plan each, and how many days of a year need switching."""

from __future__ import annotations

from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import coming_plans
from app.answers.coming_plans import ComingView
from app.catalogue import _
from app.pages.coming.view import coming_page
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.sites.reading import StoredSite

router = APIRouter()


@router.get("/{slug}/coming")
def show_coming(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; what has not been computed is begun, and the page asks again by itself."""
    view = _open(web, site)
    if view.asked is not None and not view.is_whole and not view.failed and not view.running:
        coming_plans.begin_coming(web.runner, site.id, view)
        view = _open(web, site)
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
    coming_plans.begin_coming(web.runner, site.id, _open(web, site))
    return RedirectResponse(f"/{site.slug}/coming", 303)


def _open(web: Web, site: StoredSite) -> ComingView:
    first = web.today(site.data.site.timezone) + timedelta(days=1)
    with web.database.session() as session:
        return coming_plans.open_coming(session, site, first, web.runner)
