"""The coming days: a plan each, and how many days of a year need switching."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.coming_plans import COMING, ComingView
from app.catalogue import _
from app.pages.cautions import Notice, deference, wheel
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.studies import StudyProgress, waiting
from app.sites.reading import StoredSite
from app.words.coming import coming_answer, coming_sure
from app.words.phrases import Statement
from sim.decide.switching.answer import ComingAnswer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ComingPage:
    """The page.

    Attributes:
        found: the answer; None while nothing has been computed.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed or was stopped before it was whole.
        is_empty: whether nothing can be planned.
    """

    site: StoredSite
    answer: Statement | None
    sure: Statement | None
    waiting: StudyProgress | None
    found: ComingAnswer | None
    can_retry: bool
    is_empty: bool
    notices: tuple[Notice, ...]


def coming_page(site: StoredSite, view: ComingView) -> ComingPage:
    """Fills the page from what is stored."""
    found, running = view.result, None if view.failed else view.running
    answer: Statement | None = None
    sure: Statement | None = None
    if not view.key:
        answer = Statement(
            _("No plan yet."), _("Nothing can be planned of any of the coming days.")
        )
        sure = Statement(
            "",
            _("Either nothing is known of such days, or no car is let in. A day is expected from "
              "hourly counts and weather of earlier days."),
        )  # fmt: skip
    elif found is not None:
        answer, sure = coming_answer(found), coming_sure(found, site.data.given)
        if view.failed:
            sure = Statement(sure.lead, f"{sure.rest} {view.failed}")
    elif view.failed:
        answer = Statement(view.failed, _("“Work it out” begins it."))
    return ComingPage(
        site=site,
        answer=answer,
        sure=sure,
        waiting=None if running is None else waiting(running, view.key),
        found=found,
        can_retry=bool(view.failed),
        is_empty=not view.key,
        notices=(deference(), wheel()),
    )


@router.get("/{slug}/coming")
def show_coming(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; what has not been computed is begun, and the page asks again by itself."""
    page = coming_page(site, web.begun(site, COMING, _first(web, site)))
    response = render(
        request, "reduce/coming.html", page, title=_("The coming days"), current="reduce",
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
