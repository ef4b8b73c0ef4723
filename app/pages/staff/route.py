"""Staff: who is needed on a day, begun in the background and read when it is there."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import staff
from app.answers.settings_map import busiest_day
from app.answers.staff import StaffView
from app.catalogue import _, long_date
from app.pages.days import ask_again, date_of, no_date_words, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.plan.view import closed_words, no_cars_words, plan_title, unknown_words
from app.pages.staff.view import staff_page
from app.sites.reading import StoredSite
from app.words.columns import Spoken

router = APIRouter()


@router.get("/{slug}/staff")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """On to a day: the one typed, else the busiest of the coming ones."""
    typed = day.strip()
    found = date_of(typed) if typed else None
    when = found or busiest_day(web.database, site, web.today(site.data.site.timezone), web.runner)
    if typed and found is None:
        return _page(request, web, site, when, typed=typed, message=no_date_words(typed))
    return RedirectResponse(f"/{site.slug}/staff/{when.isoformat()}", 303)


@router.get("/{slug}/staff/{day}")
def show_staff(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Who is needed on a day; what has not been computed is begun, and the page asks again."""
    return _page(request, web, site, wanted(day))


@router.post("/{slug}/staff/{day}")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    staff.begin_staff(web.runner, site.id, _open(web, site, wanted(day)))
    return RedirectResponse(f"/{site.slug}/staff/{day}", 303)


def _open(web: Web, site: StoredSite, day: date) -> StaffView:
    with web.database.session() as session:
        return staff.open_staff(session, site, day, web.runner)


def _page(
    request: Request, web: Web, site: StoredSite, day: date, typed: str = "", message: str = ""
) -> Response:
    view = _open(web, site, day)
    if view.asked is not None and view.result is None and not view.failed and not view.running:
        staff.begin_staff(web.runner, site.id, view)
        view = _open(web, site, day)
    page = staff_page(site.slug, view, _instead(view, site.data.units), message, typed)
    response = render(
        request, "staff/staff.html", page, title=_("Staff"), current="staff", site=site,
        when=plan_title(day), status=422 if message else 200,
    )  # fmt: skip
    if page.waiting is not None and not message:
        ask_again(request, response)
    return response


def _instead(view: StaffView, system: str) -> tuple[Spoken | None, bool]:
    """What is said where nothing is computed, and whether the day’s plan has to be mended."""
    plan = view.plan
    if plan.expected is None:
        return unknown_words(plan.problems, system)[0], True
    if plan.expected.closed:
        return closed_words(long_date(plan.day))[0], False
    if plan.expected.expected_cars <= 0:
        return no_cars_words()[0], False
    if view.asked is None:
        rest = _("The plan of this day can’t be computed as it stands.")
        return Spoken(_("No answer yet."), rest), True
    return (Spoken(view.failed, _("“Work it out” begins it.")) if view.failed else None), False
