"""Speed, spacing and rule together: begun by a button of When to reduce, and put into the plan."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import together
from app.answers.together import TogetherView
from app.catalogue import _
from app.pages.days import ask_again, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.plan.view import plan_title
from app.pages.reduce.route import open_parts, store_scenarios
from app.pages.reduce.together_view import together_wait
from app.sites.reading import StoredSite

router = APIRouter()


@router.get("/{slug}/reduce/{day}/together")
def wait(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Waits for the answer, begun if it was not, and leads on to the page where it stands."""
    view, parts = open_parts(web, site, wanted(day))
    if not parts.key or parts.result is not None:
        return RedirectResponse(f"/{site.slug}/reduce/{day}#together", 303)
    if not parts.failed and not parts.running:
        _begin(web, site, parts)
        view, parts = open_parts(web, site, wanted(day))
    page = together_wait(site.slug, parts)
    response = render(
        request, "reduce/together.html", page, title=_("Speed, spacing and rule together"),
        current="reduce", site=site, when=plan_title(view.plan.day),
    )  # fmt: skip
    if page.waiting is not None:
        ask_again(request, response)
    return response


@router.post("/{slug}/reduce/{day}/together")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    _view, parts = open_parts(web, site, wanted(day))
    _begin(web, site, parts)
    return RedirectResponse(f"/{site.slug}/reduce/{day}/together", 303)


def _begin(web: Web, site: StoredSite, parts: TogetherView) -> None:
    job = together.together_job(site.id, parts)
    if job is not None:
        web.runner.begin(job)


@router.post("/{slug}/reduce/{day}/together/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the found setting and its rule as one more scenario of the day's plan."""
    view, parts = open_parts(web, site, wanted(day))
    if parts.result is None:
        raise HTTPException(404, _("This day’s settings have not been computed yet."))
    return store_scenarios(request, web, site, view, together.with_setting(parts), form)
