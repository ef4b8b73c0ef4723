"""Studies of a site: what is being computed, how far it is, and the button that stops it."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from app.answers import kinds
from app.catalogue import _
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import text_of
from app.pages.studies.view import StudiesPage, as_content, studies_page

router = APIRouter()
REFRESH_S = 5
"""How often the list looks again while something is under way."""


@router.get("/{slug}/studies")
def show_studies(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The list; what a server left behind that is there no more is taken up."""
    page = _page(site, web)
    response = render(
        request, "studies/studies.html", page, title=_("Studies"), current="studies", site=site
    )
    if page.running:
        ask_again(request, response, REFRESH_S)
    return response


@router.get("/{slug}/studies.json")
def studies_json(site: SiteDep, web: WebDep) -> Response:
    """The same list for programs."""
    return JSONResponse(as_content(_page(site, web)))


@router.post("/{slug}/studies/stop")
def stop_all(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stops whatever waits or runs for the site."""
    kinds.cancel_all(web.database, web.runner, site.id)
    return RedirectResponse(f"/{site.slug}/studies", 303)


@router.post("/{slug}/studies/{key}/cancel")
def cancel(site: SiteDep, web: WebDep, form: FormDep, key: str) -> Response:
    """Stops a study, and goes back to the list or to the page that waited for it."""
    study = kinds.cancel(web.database, web.runner, site.id, key)
    if study is None:
        raise HTTPException(404, _("There is no such study."))
    kind = kinds.KINDS.get(study.kind)
    back = "studies"
    if kind is not None and text_of(form, "back") != "studies":
        back = kind.page_of(study.day)
    return RedirectResponse(f"/{site.slug}/{back}", 303)


def _page(site: SiteDep, web: Web) -> StudiesPage:
    lines = kinds.list_studies(web.database, web.runner, site.id)
    return studies_page(site.slug, site.data.site.timezone, lines)
