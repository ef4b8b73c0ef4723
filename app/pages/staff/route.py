"""Staff: who is needed on a day, begun in the background and read when it is there."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.staff import STAFF, StaffView, people_sheet, staff_sheets
from app.catalogue import _
from app.pages.days import add_day_pages, ask_again, wanted
from app.pages.deps import SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, csv_answer
from app.pages.plan.view import instead_of, plan_title
from app.pages.staff.view import staff_page
from app.sites.reading import StoredSite
from sim.decide.staff.answer import StaffAnswer

router = APIRouter()


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: StaffView,
    *,
    typed: str = "",
    message: str = "",
) -> Response:
    lead, _sure, needs_plan = instead_of(view, site.data.units)
    page = staff_page(site.slug, view, (lead, needs_plan), message, typed)
    response = render(
        request, "staff/staff.html", page, title=_("Staff"), current="staff", site=site,
        when=plan_title(view.day), status=422 if message else 200,
    )  # fmt: skip
    if page.waiting is not None and not message:
        ask_again(request, response)
    return response


add_day_pages(router, STAFF, _page)


@router.get("/{slug}/staff/{day}/people.csv")
def people_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """A row a half-hour."""
    return csv_answer(people_sheet(_found(web, site, day)), f"{site.slug}-people-{day}.csv")


@router.get("/{slug}/staff/{day}/people.xlsx")
def people_book(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every table of the day as a spreadsheet."""
    sheets = staff_sheets(_found(web, site, day))
    return book_answer(sheets, web.now(), f"{site.slug}-people-{day}.xlsx")


def _found(web: Web, site: StoredSite, day: str) -> StaffAnswer:
    view = web.open(site, STAFF, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been worked out yet."))
    return view.result
