"""Staff: who is needed on a day, begun in the background and read when it is there."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.staff import STAFF, StaffView
from app.catalogue import _
from app.pages.days import add_day_pages, ask_again
from app.pages.deps import Web, render
from app.pages.plan.view import instead_of, plan_title
from app.pages.staff.view import staff_page
from app.sites.reading import StoredSite

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
