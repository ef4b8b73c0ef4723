"""The season: begun in the background and read when it is there; its files."""

from __future__ import annotations

from datetime import timedelta

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import season
from app.answers.season import SEASON, SEASON_DAYS, SeasonView
from app.answers.season_tables import days_sheet, season_sheets
from app.catalogue import _, say
from app.pages.days import REFRESH_S
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, calendar_answer, csv_answer
from app.pages.season.view import SeasonPage, cautions, span_words, told_of
from app.pages.studies.view import waiting as waiting_of
from app.sites.reading import StoredSite
from app.words.columns import Spoken
from app.words.season import season_answer, season_sure
from sim.decide.cloth.answer import SeasonAnswer

router = APIRouter()


@router.get("/{slug}/cloth/season")
def show_season(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The season from today on; what has not been computed is begun, and the page asks again."""
    return _page(request, site, web.begun(site, SEASON, web.today(site.data.site.timezone)))


@router.post("/{slug}/cloth/season")
def try_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins anew what has failed."""
    web.open(site, SEASON, web.today(site.data.site.timezone)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/cloth/season", 303)


@router.get("/{slug}/cloth/season/days.csv")
def days_csv(site: SiteDep, web: WebDep) -> Response:
    """A row an open day, unrounded."""
    sheet = days_sheet(_found(web, site), site.data.units)
    return csv_answer(sheet, f"{site.slug}-season-days.csv")


@router.get("/{slug}/cloth/season/season.xlsx")
def spreadsheet(site: SiteDep, web: WebDep) -> Response:
    """Every table as a spreadsheet."""
    sheets = season_sheets(_found(web, site), site.data.units)
    return book_answer(sheets, web.now(), f"{site.slug}-season.xlsx")


@router.post("/{slug}/cloth/season/calendar.ics")
def calendar(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """The calendar file. What it holds is kept, so that the next one can say what has changed."""
    found, today = _found(web, site), web.today(site.data.site.timezone)
    with web.database.session() as session:
        text = season.export_calendar(session, web.now(), site, found, today)
    return calendar_answer(text, f"{site.slug}-cloth.ics")


# ---- parts ---------------------------------------------------------------------------------------


def _found(web: Web, site: StoredSite) -> SeasonAnswer:
    found = web.open(site, SEASON, web.today(site.data.site.timezone)).result
    if found is None:
        raise HTTPException(404, _("The season has not been computed yet."))
    return found


def _page(request: Request, site: StoredSite, view: SeasonView) -> Response:
    found, system = view.result, site.data.units
    today = view.day
    last = today + timedelta(days=SEASON_DAYS - 1)
    answer, sure, told, waiting = None, None, None, None
    reasons: tuple[str, ...] = ()
    if found is not None:
        answer, sure = season_answer(found, today), season_sure(found)
        told = told_of(found, today, system)
    elif view.problems:
        answer = Spoken(_("No season yet."), _("Nothing can be expected of its days."))
        reasons = tuple(dict.fromkeys(say(problem, system) for problem in view.problems))
    elif view.failed:
        answer = Spoken(view.failed, _("“Work it out” begins it."))
    elif view.running is not None:
        waiting = waiting_of(view.running, view.key)
    page = SeasonPage(
        slug=site.slug,
        span=span_words(today, last),
        answer=answer,
        sure=sure,
        reasons=reasons,
        waiting=waiting,
        told=told,
        can_retry=bool(view.failed) and found is None,
        notices=cautions(),
    )
    response = render(
        request, "cloth/season.html", page, title=_("The season"), current="cloth", site=site,
    )  # fmt: skip
    if waiting is not None:
        response.headers["Refresh"] = str(REFRESH_S)
    return response
