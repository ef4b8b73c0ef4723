"""Today: what to run now, what is expected hour by hour, what comes next."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.today import look_at_today
from app.catalogue import _
from app.pages.deps import SiteDep, WebDep, render
from app.pages.today.view import today_page

router = APIRouter()


@router.get("/{slug}/today")
def show_today(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page."""
    today = web.today(site.data.site.timezone)
    view = look_at_today(web.database, site, today, web.runner)
    return render(
        request, "today/today.html", today_page(site, view),
        title=_("Today"), current="today", site=site, kind="hand",
    )  # fmt: skip
