"""The season: begun in the background and read when it is there; its tables, picture and files."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.season import SEASON, SEASON_DAYS, SeasonView, export_calendar
from app.answers.season_tables import days_sheet, season_sheets
from app.catalogue import _, say, short_date
from app.charts.cloth import year_chart
from app.charts.marks import Chart
from app.pages.cautions import Notice, deference, set_change, wheel
from app.pages.days import REFRESH_S
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, calendar_answer, csv_answer
from app.pages.studies import StudyProgress
from app.pages.studies import waiting as waiting_of
from app.sites.reading import StoredSite
from app.words.phrases import Statement
from app.words.season import season_answer, season_sure
from sim.decide.cloth.answer import SeasonAnswer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The page.

    Attributes:
        span: first and last day in words.
        reasons: why there is nothing to show, a sentence each.
        found: the answer; None while there is none. year: its picture.
        can_retry: a computation failed and may be tried again.
    """

    slug: str
    span: str
    answer: Statement | None
    sure: Statement | None
    reasons: tuple[str, ...]
    waiting: StudyProgress | None
    found: SeasonAnswer | None
    year: Chart | None
    today: date
    units: str
    can_retry: bool
    notices: tuple[Notice, ...]


def season_page(site: StoredSite, view: SeasonView) -> SeasonPage:
    """Fills the page."""
    found, system, today = view.result, site.data.units, view.day
    last = today + timedelta(days=SEASON_DAYS - 1)
    answer, sure, waiting = None, None, None
    if found is not None:
        answer, sure = season_answer(found, today), season_sure(found)
    elif view.problems:
        answer = Statement(_("No season yet."), _("Nothing can be expected of its days."))
    elif view.failed:
        answer = Statement(view.failed, _("“Work it out” begins it."))
    elif view.running is not None:
        waiting = waiting_of(view.running, view.key)
    return SeasonPage(
        slug=site.slug,
        span=_("{first} to {last}", first=short_date(today), last=short_date(last)),
        answer=answer,
        sure=sure,
        reasons=tuple(dict.fromkeys(say(problem, system) for problem in view.problems)),
        waiting=waiting,
        found=found,
        year=year_chart(found) if found else None,
        today=today,
        units=system,
        can_retry=bool(view.failed) and found is None,
        notices=(deference(), wheel(), set_change()),
    )


@router.get("/{slug}/cloth/season")
def show_season(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The season from today on; what has not been computed is begun, and the page asks again."""
    page = season_page(site, web.begun(site, SEASON, web.today(site.data.site.timezone)))
    response = render(
        request, "cloth/season.html", page, title=_("The season"), current="cloth", site=site,
    )  # fmt: skip
    if page.waiting is not None:
        response.headers["Refresh"] = str(REFRESH_S)
    return response


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
        text = export_calendar(session, web.now(), site, found, today)
    return calendar_answer(text, f"{site.slug}-cloth.ics")


def _found(web: Web, site: StoredSite) -> SeasonAnswer:
    found = web.open(site, SEASON, web.today(site.data.site.timezone)).result
    if found is None:
        raise HTTPException(404, _("The season has not been computed yet."))
    return found
