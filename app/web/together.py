"""Speed, spacing and rule together: begun by a button of When to reduce, and put into the plan."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.catalogue import _
from app.services import together
from app.web.days import wanted
from app.web.deps import FormDep, SiteDep, WebDep
from app.web.switching import open_parts, store_scenarios

router = APIRouter()


@router.post("/{slug}/reduce/{day}/together")
def work_out(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins the study; nothing if it is under way, done, or the day has no rule yet."""
    _view, parts = open_parts(web, site, wanted(day))
    job = together.together_job(site.id, parts)
    if job is not None:
        web.runner.begin(job)
    return RedirectResponse(f"/{site.slug}/reduce/{day}#together", 303)


@router.post("/{slug}/reduce/{day}/together/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the found setting and its rule as one more scenario of the day's plan."""
    view, parts = open_parts(web, site, wanted(day))
    if parts.result is None:
        raise HTTPException(404, _("This day’s settings have not been computed yet."))
    return store_scenarios(request, web, site, view, together.with_setting(parts), form)
