"""Roster: a week's grid, moved by hand and undone; people entered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import roster
from app.answers.roster import last_change, monday_of, undone
from app.answers.roster_files import with_calendar
from app.answers.roster_study import RosterView, days_of, open_roster
from app.catalogue import _
from app.pages.days import wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import text_of
from app.pages.roster.form import PERSON_FIELDS, SHIFT_FIELDS, moved_shift, typed_in, with_person
from app.pages.roster.view import roster_page
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Change, Gate, Outcome, StoredSite, shift_changes_of
from sim.errors import InputProblem
from sim.inputs import StaffBook

router = APIRouter()


@router.get("/{slug}/roster")
def next_week(site: SiteDep, web: WebDep) -> Response:
    """Leads to next week."""
    monday = monday_of(web.today(site.data.site.timezone)) + roster.WEEK
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
    asked = _open(web, site, monday).week
    typed = typed_in(form, SHIFT_FIELDS)
    if asked is None:
        return _page(request, web, site, monday)
    book, problems = moved_shift(typed, site.data.staff, asked)
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


def _open(web: Web, site: StoredSite, monday: date) -> RosterView:
    with web.database.session() as session:
        return open_roster(session, site, monday, web.runner)


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
        return gate.set_staff(site.id, book, version_of(form), request_key_of(form))

    def again(
        fresh: StoredSite,
        problems: Sequence[InputProblem] = (),
        stale: str = "",
        status: int = 200,
    ) -> Response:
        return _page(
            request, web, fresh, monday, typed=typed, problems=_renamed(problems), stale=stale,
            status=status,
        )  # fmt: skip

    address = f"/{site.slug}/roster/{monday.isoformat()}?stored={stored}"
    return carry_out(web.database, web.now(), site, write, again, address)


def _renamed(problems: Sequence[InputProblem]) -> list[InputProblem]:
    """Problems of what is stored, beside the fields by which it was typed."""
    fields = {"wage_per_h": "wage", "least_h": "least", "most_h": "most"}
    return [
        InputProblem(fields.get(p.field, p.field), p.sentence, p.values, p.where) for p in problems
    ]


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
        site, _open(web, site, monday), last, new_request_key(),
        with_shifts=with_calendar(site.data, web.today(site.data.site.timezone)),
        typed=typed, problems=problems, stale=stale, done=done,
    )  # fmt: skip
    return render(
        request, "roster/roster.html", page,
        title=_("Roster"), current="roster", site=site, status=status,
    )  # fmt: skip
