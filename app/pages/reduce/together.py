"""Speed, spacing and rule together: begun by a button of When to reduce, and put into the plan."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.together import TOGETHER, with_setting
from app.catalogue import _
from app.pages.days import ask_again, wanted
from app.pages.deps import FormDep, SiteDep, WebDep, render
from app.pages.plan.view import plan_title
from app.pages.reduce.route import store_scenarios
from app.pages.reduce.together_view import together_wait

router = APIRouter()


@router.get("/{slug}/reduce/{day}/together")
def wait(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Waits for the answer, begun if it was not, and leads on to the page where it stands."""
    view = web.begun(site, TOGETHER, wanted(day))
    if not view.key or view.result is not None:
        return RedirectResponse(f"/{site.slug}/reduce/{day}#together", 303)
    page = together_wait(site.slug, view)
    response = render(
        request, "reduce/together.html", page, title=_("Speed, spacing and rule together"),
        current="reduce", site=site, when=plan_title(view.day),
    )  # fmt: skip
    if page.waiting is not None:
        ask_again(request, response)
    return response


@router.post("/{slug}/reduce/{day}/together")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, TOGETHER, wanted(day)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/reduce/{day}/together", 303)


@router.post("/{slug}/reduce/{day}/together/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the found setting and its rule as one more scenario of the day's plan."""
    parts = web.open(site, TOGETHER, wanted(day))
    if parts.result is None:
        raise HTTPException(404, _("This day’s settings have not been computed yet."))
    return store_scenarios(request, web, site, parts.asked, with_setting(parts), form)
