"""Staff: who is needed on a day, hour by hour; begun in the background, read when it is there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.staff import STAFF, StaffView, people_sheet, staff_sheets, with_needed
from app.catalogue import _
from app.charts.marks import Chart
from app.charts.staff import staff_chart
from app.pages.cautions import DEFERENCE, LABOUR_LAW, LOCK_OUT, Notice
from app.pages.days import add_day_pages, instead_of, plan_title, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, book_answer, csv_answer, render
from app.pages.waiting import REFRESH_S, StudyProgress, before, waiting
from app.pages.writing import new_request_key, store_scenarios, told_again
from app.sites.reading import StoredSite
from app.words import staff as words
from app.words.phrases import Statement
from sim.decide.answer import Comparison
from sim.decide.staff.answer import StaffAnswer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class StaffPage:
    """The page.

    Attributes:
        told: what was computed; answer: in a sentence, or what is said instead;
            sure: how firm it is.
        planned: the comparison of the day's plan, where that is worked out.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed; needs_plan: whether the day’s plan has to be mended first.
        message, typed: what is wrong with a typed day, and that day.
        version, plan_key: of the plan, and for the button that puts these people into it; no key
            where it has them already. stale, no_room: why it did not.
    """

    slug: str
    day: date
    told: StaffAnswer | None
    planned: Comparison | None
    answer: Statement | None
    sure: Statement | None
    chart: Chart | None
    waiting: StudyProgress | None
    can_retry: bool
    needs_plan: bool
    notices: tuple[Notice, ...]
    message: str
    typed: str
    version: int
    plan_key: str
    stale: str
    no_room: str


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: StaffView,
    *,
    typed: str = "",
    message: str = "",
    stale: str = "",
    no_room: str = "",
    status: int = 200,
) -> Response:
    said, _sure, needs_plan = instead_of(view, site.data.units)
    told, is_waiting = view.result, view.is_awaited and not view.earlier
    is_new = told is not None and not told.rough and with_needed(view) != view.asked.plan.scenarios
    page = StaffPage(
        slug=site.slug,
        day=view.day,
        told=told,
        planned=None if view.earlier is not None else web.compared(site, view.asked.plan),
        answer=said if told is None else words.answer(told),
        sure=None if told is None else words.how_sure(told, site.data.given),
        chart=None if told is None else staff_chart(told.half_hours),
        waiting=waiting(view) if is_waiting else None,
        can_retry=view.is_wanting and bool(view.failed) and not view.earlier,
        needs_plan=needs_plan and told is None,
        notices=(LOCK_OUT, LABOUR_LAW, DEFERENCE),
        message=message,
        typed=typed,
        version=view.asked.plan.version,
        plan_key=new_request_key() if is_new else "",
        stale=stale,
        no_room=no_room,
    )
    return render(
        request, "staff/staff.html", page, title=_("Staff"), current="staff", site=site,
        when=plan_title(view.day), status=422 if message else status,
        again=REFRESH_S if page.waiting is not None and not message else 0,
        before=before(site, view, asks=not message, retry=f"/{site.slug}/staff/{view.day}"),
    )  # fmt: skip


add_day_pages(router, STAFF, _page)


@router.post("/{slug}/staff/{day}/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the people needed as one more scenario of the day's plan."""
    view = web.open(site, STAFF, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been worked out yet."))

    def draw(fresh: StoredSite, stale: str, no_room: str, status: int) -> Response:
        now = web.shown(fresh, STAFF, view.day)
        return _page(request, web, fresh, now, stale=stale, no_room=no_room, status=status)

    scenarios = with_needed(view)
    return store_scenarios(web, site, view.asked.plan, scenarios, form, told_again(draw))


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
    if view.result is None or view.result.rough:
        raise HTTPException(404, _("This day has not been worked out yet."))
    return view.result
