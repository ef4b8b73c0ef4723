"""Files of a week's roster and of who is needed on a day."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from app.answers.roster_files import export_shifts, roster_sheets, shifts_sheet, with_calendar
from app.answers.staff import open_staff
from app.answers.staff_tables import people_sheet, staff_sheets
from app.catalogue import _
from app.pages.days import wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep
from app.pages.downloads import book_answer, calendar_answer, csv_answer
from app.pages.forms import text_of
from app.pages.roster.route import monday_in

router = APIRouter()


@router.get("/{slug}/roster/{week}/roster.csv")
def roster_csv(week: str, site: SiteDep) -> Response:
    """A row a shift."""
    monday = monday_in(week)
    name = f"{site.slug}-roster-{monday.isoformat()}.csv"
    return csv_answer(shifts_sheet(site.data, monday), name)


@router.get("/{slug}/roster/{week}/roster.xlsx")
def roster_book(week: str, site: SiteDep, web: WebDep) -> Response:
    """The week as a spreadsheet."""
    monday = monday_in(week)
    name = f"{site.slug}-roster-{monday.isoformat()}.xlsx"
    return book_answer(roster_sheets(site.data, monday), web.now(), name)


@router.post("/{slug}/roster/{week}/calendar.ics")
def shifts_calendar(week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Somebody's shifts from this week on; what the file holds is kept for the next to follow."""
    monday_in(week)
    name, today = text_of(form, "person"), web.today(site.data.site.timezone)
    if name not in with_calendar(site.data, today):
        raise HTTPException(404, _("Nobody here is called {name}.", name=name))
    with web.database.session() as session:
        content = export_shifts(session, web.now(), site, name, today)
    return calendar_answer(content, f"{site.slug}-shifts.ics")


@router.get("/{slug}/staff/{day}/people.csv")
def people_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """A row a half-hour."""
    found = _found(web, site, day)
    return csv_answer(people_sheet(found), f"{site.slug}-people-{day}.csv")


@router.get("/{slug}/staff/{day}/people.xlsx")
def people_book(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every table of the day as a spreadsheet."""
    sheets = staff_sheets(_found(web, site, day))
    return book_answer(sheets, web.now(), f"{site.slug}-people-{day}.xlsx")


def _found(web: Web, site: SiteDep, day: str) -> dict[str, Any]:
    with web.database.session() as session:
        view = open_staff(session, site, wanted(day), web.runner)
    if view.result is None:
        raise HTTPException(404, _("This day has not been worked out yet."))
    return view.result
