"""Staff: who is needed on a day, hour by hour; begun in the background, read when it is there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.staff import STAFF, StaffView, people_sheet, staff_sheets
from app.catalogue import _
from app.charts.marks import Chart
from app.charts.staff import staff_chart
from app.pages.cautions import DEFERENCE, LABOUR_LAW, LOCK_OUT, Notice
from app.pages.days import add_day_pages, instead_of, plan_title, wanted
from app.pages.deps import SiteDep, Web, WebDep, book_answer, csv_answer, render
from app.pages.waiting import REFRESH_S, StudyProgress, before, waiting
from app.sites.reading import StoredSite
from app.words import staff as words
from app.words.phrases import Statement
from sim.decide.staff.answer import StaffAnswer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class StaffPage:
    """The page.

    Attributes:
        told: what was computed; answer: in a sentence, or what is said instead;
            sure: how firm it is.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed; needs_plan: whether the day’s plan has to be mended first.
        message, typed: what is wrong with a typed day, and that day.
    """

    slug: str
    day: date
    told: StaffAnswer | None
    answer: Statement | None
    sure: Statement | None
    chart: Chart | None
    waiting: StudyProgress | None
    can_retry: bool
    needs_plan: bool
    notices: tuple[Notice, ...]
    message: str
    typed: str


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: StaffView,
    *,
    typed: str = "",
    message: str = "",
) -> Response:
    said, _sure, needs_plan = instead_of(view, site.data.units)
    told, is_waiting = view.result, view.result is None and not view.failed
    page = StaffPage(
        slug=site.slug,
        day=view.day,
        told=told,
        answer=said if told is None else words.answer(told),
        sure=None if told is None else words.how_sure(told, site.data.given),
        chart=None if told is None else staff_chart(told.half_hours),
        waiting=waiting(view) if is_waiting else None,
        can_retry=told is None and bool(view.failed),
        needs_plan=needs_plan and told is None,
        notices=(LOCK_OUT, LABOUR_LAW, DEFERENCE),
        message=message,
        typed=typed,
    )
    return render(
        request, "staff/staff.html", page, title=_("Staff"), current="staff", site=site,
        when=plan_title(view.day), status=422 if message else 200,
        again=REFRESH_S if page.waiting is not None and not message else 0,
        before=before(site, view, asks=not message, retry=f"/{site.slug}/staff/{view.day}"),
    )  # fmt: skip


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
