"""Roster: a week's grid moved by hand and undone, people entered, a roster made; its files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.roster import (
    ROSTER,
    RosterView,
    days_of,
    export_shifts,
    last_change,
    monday_of,
    roster_sheets,
    shifts_sheet,
    undone,
    with_calendar,
)
from app.catalogue import _
from app.pages.days import ask_again, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, calendar_answer, csv_answer
from app.pages.forms import text_of
from app.pages.roster.view import (
    PERSON_FIELDS,
    SHIFT_FIELDS,
    Problems,
    made_page,
    moved_shift,
    needs_page,
    roster_page,
    typed_in,
    with_person,
)
from app.pages.writing import carry_out, request_key_of, version_of
from app.sites.reading import Change, Gate, Outcome, StoredSite, shift_changes_of
from sim.errors import InputProblem
from sim.inputs import StaffBook
from sim.inputs.roster import WEEK

router = APIRouter()


@dataclass(frozen=True, slots=True)
class RosterRequest:
    """A request for a week of a site."""

    request: Request
    site: StoredSite
    web: Web
    monday: date

    @property
    def view(self) -> RosterView:
        """The week's roster, as far as it is known."""
        return self.web.open(self.site, ROSTER, self.monday)

    @property
    def last_change(self) -> tuple[Change, ...]:
        """What the newest version of the site changed of the week's shifts."""
        return last_change(shift_changes_of(self.web.database, self.site.id, days_of(self.monday)))

    def to(self, place: str = "") -> str:
        """The address of the week, or of a page of it."""
        return f"/{self.site.slug}/roster/{self.monday}{place}"

    def show(self, name: str, page: object, status: int = 200) -> Response:
        """A page of the week."""
        return render(
            self.request, f"roster/{name}.html", page,
            title=_("Roster"), current="roster", site=self.site, status=status,
        )  # fmt: skip


def visit(request: Request, site: SiteDep, web: WebDep, week: str) -> RosterRequest:
    """Any day of a week stands for it; a 404 page where it is none."""
    return RosterRequest(request, site, web, monday_of(wanted(week)))


VisitDep = Annotated[RosterRequest, Depends(visit)]


# ---- its files -----------------------------------------------------------------------------------


@router.get("/{slug}/roster/{week}/roster.csv")
def roster_csv(at: VisitDep) -> Response:
    """A row a shift."""
    return csv_answer(
        shifts_sheet(at.site.data, at.monday), f"{at.site.slug}-roster-{at.monday}.csv"
    )


@router.get("/{slug}/roster/{week}/roster.xlsx")
def roster_book(at: VisitDep) -> Response:
    """The week as a spreadsheet."""
    name = f"{at.site.slug}-roster-{at.monday}.xlsx"
    return book_answer(roster_sheets(at.site.data, at.monday), at.web.now(), name)


@router.post("/{slug}/roster/{week}/calendar.ics")
def shifts_calendar(at: VisitDep, form: FormDep) -> Response:
    """Somebody's shifts from this week on; what the file holds is kept for the next to follow."""
    site, web = at.site, at.web
    name, today = text_of(form, "person"), web.today(site.data.site.timezone)
    if name not in with_calendar(site.data, today):
        raise HTTPException(404, _("Nobody here is called {name}.", name=name))
    with web.database.session() as session:
        content = export_shifts(session, web.now(), site, name, today)
    return calendar_answer(content, f"{site.slug}-shifts.ics")


# ---- a roster in the making ----------------------------------------------------------------------


@router.post("/{slug}/roster/{week}/needs")
def work_out(at: VisitDep, form: FormDep) -> Response:
    """Begins to work out who is needed on each day of the week that has not been."""
    for view in at.view.asked.staff:
        view.begin(at.web.runner)
    return RedirectResponse(at.to("/needs"), 303)


@router.get("/{slug}/roster/{week}/needs")
def show_needs(at: VisitDep) -> Response:
    """How far that is; back to the roster when it is done."""
    asked = at.view.asked
    if not asked.unknown:
        return RedirectResponse(at.to("#make"), 303)
    page = needs_page(at.site, asked)
    response = at.show("needs", page)
    if page.is_waiting:
        ask_again(at.request, response)
    return response


@router.post("/{slug}/roster/{week}/make")
def make_roster(at: VisitDep, form: FormDep) -> Response:
    """Begins to make the week's roster; nothing is stored of it before somebody says so."""
    at.view.begin(at.web.runner)
    return RedirectResponse(at.to("/made"), 303)


@router.get("/{slug}/roster/{week}/made")
def show_made(at: VisitDep) -> Response:
    """The roster that was made, or why there is none; while it is made how far that is."""
    return _made(at, at.site)


@router.post("/{slug}/roster/{week}/place")
def place_roster(at: VisitDep, form: FormDep) -> Response:
    """Puts the roster that was shown in place of what the week had."""
    view = at.view
    made = None if view.result is None else view.result.roster
    if made is None or text_of(form, "key") != view.key:
        stale = _("People, limits or who is needed have changed since. Make the roster anew.")
        return _made(at, at.site, stale=stale, status=409)
    book = at.site.data.staff.with_week(at.monday, made.shifts)
    return _write(at, form, book, partial(_made, at), "placed")


def _made(
    at: RosterRequest, site: StoredSite, *, stale: str = "", status: int = 200, **_more: object
) -> Response:
    now = replace(at, site=site)
    page = made_page(site, now.view, stale)
    response = now.show("made", page, status)
    if page.waiting is not None and not stale:
        ask_again(at.request, response)
    return response


# ---- a week as it stands -------------------------------------------------------------------------


@router.get("/{slug}/roster")
def next_week(site: SiteDep, web: WebDep) -> Response:
    """Leads to next week."""
    monday = monday_of(web.today(site.data.site.timezone)) + WEEK
    return RedirectResponse(f"/{site.slug}/roster/{monday}", 303)


@router.get("/{slug}/roster/{week}")
def show_roster(at: VisitDep, stored: str = "") -> Response:
    """The page of a week; any of its days leads to it."""
    words = {
        "moved": _("Stored."),
        "undone": _("Undone."),
        "person": _("Stored."),
        "placed": _("The roster stands."),
    }
    return _page(at, at.site, done=words.get(stored, ""))


@router.post("/{slug}/roster/{week}/move")
def move_shift(at: VisitDep, form: FormDep) -> Response:
    """Stores a shift as typed; the page then says which rules the roster breaks."""
    typed = typed_in(form, SHIFT_FIELDS)
    return _store(at, form, moved_shift(typed, at.site.data, at.monday), typed, "moved")


@router.post("/{slug}/roster/{week}/person")
def store_person(at: VisitDep, form: FormDep) -> Response:
    """Stores somebody who can be put on a roster."""
    typed = typed_in(form, PERSON_FIELDS)
    return _store(at, form, with_person(typed, at.site.data.staff), typed, "person")


@router.post("/{slug}/roster/{week}/undo")
def undo_shift(at: VisitDep, form: FormDep) -> Response:
    """Puts back the shifts of the week that were changed last; those of other weeks stay."""
    which = text_of(form, "which")
    last = [one for one in at.last_change if str(one.version) == which]
    return _store(at, form, (undone(at.site.data.staff, last), []), {}, "undone")


@router.post("/{slug}/roster/{week}/leave")
def strike_person(at: VisitDep, form: FormDep) -> Response:
    """Takes somebody off the list; shifts that were published stay."""
    name, book = text_of(form, "leaver"), at.site.data.staff
    left = tuple(person for person in book.people if person.name != name)
    return _store(at, form, (StaffBook(left, book.shifts), []), {}, "person")


def _store(
    at: RosterRequest,
    form: FormDep,
    read: tuple[StaffBook, Problems],
    typed: Mapping[str, str],
    stored: str,
) -> Response:
    """Stores the book that a form makes; the page again where something is wrong with it."""
    book, problems = read
    again = partial(_page, at, typed=typed)
    if problems:
        return again(at.site, problems=problems, status=422)
    return _write(at, form, book, again, stored)


def _write(
    at: RosterRequest, form: FormDep, book: StaffBook, again: Callable[..., Response], stored: str
) -> Response:
    def write(gate: Gate) -> Outcome:
        return gate.set_book(at.site.id, "staff", book, version_of(form), request_key_of(form))

    address = at.to(f"?stored={stored}")
    return carry_out(at.web, at.site, write, again, address)


def _page(
    at: RosterRequest,
    site: StoredSite,
    *,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    done: str = "",
    status: int = 200,
) -> Response:
    """The page of the week, of the site as it is stored now."""
    now = replace(at, site=site)
    with_shifts = with_calendar(site.data, at.web.today(site.data.site.timezone))
    last = next(iter(now.last_change), None)
    page = roster_page(
        site, now.view, last, with_shifts, typed=typed, problems=problems, stale=stale, done=done
    )
    return now.show("roster", page, status)
