"""Roster: a week's grid moved by hand and undone, people entered, a roster made; its files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.roster import ROSTER, days_of, last_change, monday_of, undone
from app.answers.roster_files import export_shifts, roster_sheets, shifts_sheet, with_calendar
from app.answers.staff import STAFF, people_sheet, staff_sheets
from app.catalogue import _
from app.pages.days import ask_again, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import book_answer, calendar_answer, csv_answer
from app.pages.forms import text_of
from app.pages.roster.form import PERSON_FIELDS, SHIFT_FIELDS, moved_shift, typed_in, with_person
from app.pages.roster.view import made_page, needs_page, roster_page
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Change, Gate, Outcome, StoredSite, shift_changes_of
from sim.decide.staff.answer import StaffAnswer
from sim.errors import InputProblem
from sim.inputs import StaffBook
from sim.inputs.roster import WEEK

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


def _found(web: Web, site: SiteDep, day: str) -> StaffAnswer:
    view = web.open(site, STAFF, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been worked out yet."))
    return view.result


@router.post("/{slug}/roster/{week}/needs")
def work_out(week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins to work out who is needed on each day of the week that has not been."""
    monday = monday_in(week)
    for view in web.open(site, ROSTER, monday).asked.staff:
        view.begin(web.runner)
    return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}/needs", 303)


@router.get("/{slug}/roster/{week}/needs")
def show_needs(request: Request, week: str, site: SiteDep, web: WebDep) -> Response:
    """How far that is; back to the roster when it is done."""
    monday = monday_in(week)
    asked = web.open(site, ROSTER, monday).asked
    if not asked.unknown:
        return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}#make", 303)
    page = needs_page(site, asked)
    response = render(
        request, "roster/needs.html", page, title=_("Roster"), current="roster", site=site
    )
    if page.is_waiting:
        ask_again(request, response)
    return response


@router.post("/{slug}/roster/{week}/make")
def make_roster(week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins to make the week's roster; nothing is stored of it before somebody says so."""
    monday = monday_in(week)
    web.open(site, ROSTER, monday).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}/made", 303)


@router.get("/{slug}/roster/{week}/made")
def show_made(request: Request, week: str, site: SiteDep, web: WebDep) -> Response:
    """The roster that was made, or why there is none; while it is made how far that is."""
    return _made(request, web, site, monday_in(week))


@router.post("/{slug}/roster/{week}/place")
def place_roster(
    request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep
) -> Response:
    """Puts the roster that was shown in place of what the week had."""
    monday = monday_in(week)
    view = web.open(site, ROSTER, monday)
    made = None if view.result is None else view.result.roster
    if made is None or text_of(form, "key") != view.key:
        stale = _("People, limits or who is needed have changed since. Make the roster anew.")
        return _made(request, web, site, monday, stale, 409)
    book = site.data.staff.with_week(monday, made.shifts)

    def write(gate: Gate) -> Outcome:
        return gate.set_book(site.id, "staff", book, version_of(form), request_key_of(form))

    def again(fresh: StoredSite, stale: str = "", status: int = 200, **_more: object) -> Response:
        return _made(request, web, fresh, monday, stale, status)

    address = f"/{site.slug}/roster/{monday.isoformat()}?stored=placed"
    return carry_out(web.database, web.now(), site, write, again, address)


def _made(
    request: Request, web: Web, site: StoredSite, monday: date, stale: str = "", status: int = 200
) -> Response:
    view = web.open(site, ROSTER, monday)
    page = made_page(site, view, new_request_key(), stale)
    response = render(
        request, "roster/made.html", page,
        title=_("Roster"), current="roster", site=site, status=status,
    )  # fmt: skip
    if page.waiting is not None and not stale:
        ask_again(request, response)
    return response


@router.get("/{slug}/roster")
def next_week(site: SiteDep, web: WebDep) -> Response:
    """Leads to next week."""
    monday = monday_of(web.today(site.data.site.timezone)) + WEEK
    return RedirectResponse(f"/{site.slug}/roster/{monday.isoformat()}", 303)


@router.get("/{slug}/roster/{week}")
def show_roster(
    request: Request,
    week: str,
    site: SiteDep,
    web: WebDep,
    stored: str = "",
) -> Response:
    """The page of a week; any of its days leads to it."""
    words = {
        "moved": _("Stored."),
        "undone": _("Undone."),
        "person": _("Stored."),
        "placed": _("The roster stands."),
    }
    return _page(request, web, site, monday_in(week), done=words.get(stored, ""))


@router.post("/{slug}/roster/{week}/move")
def move_shift(request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores a shift as typed; the page then says which rules the roster breaks."""
    monday = monday_in(week)
    typed = typed_in(form, SHIFT_FIELDS)
    book, problems = moved_shift(typed, site.data, monday)
    if problems:
        return _page(request, web, site, monday, typed=typed, problems=problems, status=422)
    return _store(request, web, site, monday, form, book, typed)


@router.post("/{slug}/roster/{week}/undo")
def undo_shift(request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Puts back the shifts of the week that were changed last; those of other weeks stay."""
    monday = monday_in(week)
    which = text_of(form, "which")
    last = [one for one in _last_change(web, site, monday) if str(one.version) == which]
    book = undone(site.data.staff, last)
    return _store(request, web, site, monday, form, book, stored="undone")


@router.post("/{slug}/roster/{week}/person")
def store_person(
    request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep
) -> Response:
    """Stores somebody who can be put on a roster."""
    monday = monday_in(week)
    typed = typed_in(form, PERSON_FIELDS)
    book, problems = with_person(typed, site.data.staff)
    if problems:
        return _page(request, web, site, monday, typed=typed, problems=problems, status=422)
    return _store(request, web, site, monday, form, book, typed, stored="person")


@router.post("/{slug}/roster/{week}/leave")
def strike_person(
    request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep
) -> Response:
    """Takes somebody off the list; shifts that were published stay."""
    monday = monday_in(week)
    name = text_of(form, "leaver")
    book = site.data.staff
    left = tuple(person for person in book.people if person.name != name)
    fewer = StaffBook(left, book.shifts)
    return _store(request, web, site, monday, form, fewer, stored="person")


def monday_in(text: str) -> date:
    """The Monday of the week of a day in an address; a 404 page where it is none."""
    return monday_of(wanted(text))


def _last_change(web: Web, site: StoredSite, monday: date) -> tuple[Change, ...]:
    return last_change(shift_changes_of(web.database, site.id, days_of(monday)))


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    monday: date,
    form: FormDep,
    book: StaffBook,
    typed: Mapping[str, str] | None = None,
    stored: str = "moved",
) -> Response:
    def write(gate: Gate) -> Outcome:
        return gate.set_book(site.id, "staff", book, version_of(form), request_key_of(form))

    def again(
        fresh: StoredSite,
        problems: Sequence[InputProblem] = (),
        stale: str = "",
        status: int = 200,
    ) -> Response:
        return _page(
            request, web, fresh, monday, typed=typed, problems=problems, stale=stale,
            status=status,
        )  # fmt: skip

    address = f"/{site.slug}/roster/{monday.isoformat()}?stored={stored}"
    return carry_out(web.database, web.now(), site, write, again, address)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    monday: date,
    *,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    done: str = "",
    status: int = 200,
) -> Response:
    last = next(iter(_last_change(web, site, monday)), None)
    page = roster_page(
        site, web.open(site, ROSTER, monday), last, new_request_key(),
        with_shifts=with_calendar(site.data, web.today(site.data.site.timezone)),
        typed=typed, problems=problems, stale=stale, done=done,
    )  # fmt: skip
    return render(
        request, "roster/roster.html", page,
        title=_("Roster"), current="roster", site=site, status=status,
    )  # fmt: skip
