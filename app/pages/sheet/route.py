"""The day sheet: the advice of a day on one page, for the printer and for a phone."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.switching import SWITCH
from app.catalogue import _
from app.pages.days import ask_again, wanted
from app.pages.deps import SiteDep, WebDep, render
from app.pages.plan.view import instead_of, plan_title
from app.pages.sheet.view import sheet_page
from app.words.switching import switch_sure

router = APIRouter()


@router.get("/{slug}/sheet/{day}")
def show_sheet(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The sheet; what has not been computed is begun, and the page asks again by itself."""
    view, system = web.begun(site, SWITCH, wanted(day)), site.data.units
    spoken, _sure, _needs = instead_of(view, system)
    sure = None
    if view.result is not None:
        sure = switch_sure(view.result, site.data.given, system)
    page = sheet_page(site.slug, site.data.site.name, view, spoken, sure, system)
    response = render(
        request, "sheet/sheet.html", page, title=_("Day sheet"), current="reduce", site=site,
        when=plan_title(view.day), kind="sheet",
    )  # fmt: skip
    if page.waiting is not None:
        ask_again(request, response)
    return response
