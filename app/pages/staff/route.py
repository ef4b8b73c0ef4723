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
from app.pages.cautions import Notice, deference, lock_out
from app.pages.days import add_day_pages, ask_again, instead_of, plan_title, wanted
from app.pages.deps import SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, csv_answer
from app.pages.studies.view import StudyProgress, waiting
from app.sites.reading import StoredSite
from app.words.phrases import Statement, TextTable
from app.words.staff import (
    answer,
    costs_table,
    effects_table,
    formula_table,
    how_sure,
    people_table,
    timetable_words,
    wiping_words,
)
from sim.decide.staff.answer import StaffAnswer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class StaffPart:
    """What was computed, in words, pictures and tables."""

    sure: str
    chart: Chart
    people: TextTable
    formula: TextTable
    effects: TextTable
    wiping: str
    timetable: str
    costs: TextTable


@dataclass(frozen=True, slots=True)
class StaffPage:
    """The page.

    Attributes:
        answer: the answer, or what is said instead.
        waiting: how far it is, while it is computed; part: None while nothing has been.
        can_retry: whether it failed; needs_plan: whether the day’s plan has to be mended first.
        message, typed: what is wrong with a typed day, and that day.
    """

    slug: str
    day: date
    answer: Statement | None
    part: StaffPart | None
    waiting: StudyProgress | None
    can_retry: bool
    needs_plan: bool
    notices: tuple[Notice, ...]
    message: str
    typed: str


def staff_page(
    site: StoredSite, view: StaffView, *, typed: str = "", message: str = ""
) -> StaffPage:
    """Fills the page."""
    said, _sure, needs_plan = instead_of(view, site.data.units)
    told, running, part = view.result, view.running, None
    if told is not None:
        said, needs_plan = answer(told), False
        part = StaffPart(
            how_sure(told),
            staff_chart(told.half_hours),
            people_table(told),
            formula_table(told),
            effects_table(told),
            wiping_words(told),
            timetable_words(told),
            costs_table(told),
        )
    is_waiting = told is None and not view.failed
    return StaffPage(
        slug=site.slug,
        day=view.day,
        answer=said,
        part=part,
        waiting=waiting(running, view.key) if running and is_waiting else None,
        can_retry=told is None and bool(view.failed),
        needs_plan=needs_plan,
        notices=(lock_out(), labour_law(), deference()),
        message=message,
        typed=typed,
    )


def labour_law() -> Notice:
    """What the program does not know of hours and breaks."""
    return Notice(
        "caution",
        _(
            "Nothing here knows your labour law. Check hours, breaks, rest, minors and the fewest "
            "people who may work alone against it before you tell anybody when to come. The people "
            "counted here have no break; add whoever stands in."
        ),
    )


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: StaffView,
    *,
    typed: str = "",
    message: str = "",
) -> Response:
    page = staff_page(site, view, typed=typed, message=message)
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
