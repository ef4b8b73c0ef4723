"""Roster: a week's grid, made, moved by hand and undone; people entered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.catalogue import _
from app.services import roster
from app.services.reading import Gate, Outcome, StoredSite, changes_of
from app.services.roster import Answer, Week, monday_of, published, undone, week_of
from app.services.sheets import Sheet, sheet_csv
from app.web.contexts.roster import roster_page
from app.web.days import wanted
from app.web.deps import FormDep, SiteDep, Web, WebDep, render
from app.web.forms import text_of
from app.web.roster_form import PERSON_FIELDS, SHIFT_FIELDS, moved_shift, typed_in, with_person
from app.web.roster_words import how_near
from app.web.writing import carry_out, new_request_key, request_key_of, version_of
from sim.errors import InputProblem
from sim.inputs import StaffBook
from sim.units import show_clock

router = APIRouter()
NEWEST = 400
"""Newest changes of a site among which one is looked for that is to be undone."""


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
    undo: str = "",
    stored: str = "",
    gap: str = "",
) -> Response:
    """The page of a week; any of its days leads to it."""
    words = {
        "moved": _("Stored."),
        "undone": _("Undone."),
        "person": _("Stored."),
        "made": how_near(gap),
    }
    done = words.get(stored, "")
    undo = undo if undo.isascii() and undo.isdigit() and int(undo) == site.version else ""
    return _page(request, web, site, _monday(week), undo=undo, done=done)


@router.get("/{slug}/roster/{week}/roster.csv")
def roster_csv(week: str, site: SiteDep) -> Response:
    """A row a shift."""
    monday = _monday(week)
    shown = [one for one in site.data.staff.shifts if monday <= one.day < monday + roster.WEEK]
    rows = tuple(
        (
            one.day, one.name, one.role, show_clock(one.start_s), show_clock(one.end_s),
            show_clock(one.break_start_s), show_clock(one.break_end_s),
        )
        for one in shown
    )  # fmt: skip
    heads = ("date", "name", "role", "start", "end", "break_start", "break_end")
    # The mark at the front tells spreadsheets that the file is UTF-8.
    text = "\ufeff" + sheet_csv(Sheet("roster", heads, rows))
    name = f"{site.slug}-roster-{monday.isoformat()}.csv"
    told = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(text.encode(), media_type="text/csv; charset=utf-8", headers=told)


@router.post("/{slug}/roster/{week}/make")
def make_roster(request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Makes the week's roster in place of what there was, or says why there is none."""
    monday = _monday(week)
    asked = _week(web, site, monday)
    if asked is None:
        return _page(request, web, site, monday)
    found = roster.answer_apart(asked)
    if found.roster is None:
        return _page(request, web, site, monday, answer=found)
    book = published(site.data.staff, monday, found.roster.duties)
    return _store(request, web, site, monday, form, book, stored="made", gap=found.roster.gap)


@router.post("/{slug}/roster/{week}/move")
def move_shift(request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores a shift as typed; the page then says which rules the roster breaks."""
    monday = _monday(week)
    asked = _week(web, site, monday)
    typed = typed_in(form, SHIFT_FIELDS)
    if asked is None:
        return _page(request, web, site, monday)
    book, problems = moved_shift(typed, site.data.staff, asked)
    if problems:
        return _page(request, web, site, monday, typed=typed, problems=problems, status=422)
    return _store(request, web, site, monday, form, book, typed)


@router.post("/{slug}/roster/{week}/undo")
def undo_shift(request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Puts back the shifts that the last version of the site changed."""
    monday = _monday(week)
    newest = changes_of(web.database, site.id, NEWEST)
    which = text_of(form, "which")
    book = undone(site.data.staff, [one for one in newest if str(one.version) == which])
    return _store(request, web, site, monday, form, book, stored="undone")


@router.post("/{slug}/roster/{week}/person")
def store_person(
    request: Request, week: str, site: SiteDep, web: WebDep, form: FormDep
) -> Response:
    """Stores somebody who can be put on a roster."""
    monday = _monday(week)
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
    monday = _monday(week)
    name = text_of(form, "leaver")
    book = site.data.staff
    left = tuple(person for person in book.people if person.name != name)
    fewer = StaffBook(left, book.shifts)
    return _store(request, web, site, monday, form, fewer, stored="person")


def _monday(text: str) -> date:
    return monday_of(wanted(text))


def _week(web: Web, site: StoredSite, monday: date) -> Week | None:
    """The question of a week; None where the site has no people."""
    if not site.data.staff.people:
        return None
    with web.database.session() as session:
        return week_of(web.runner.past.data(session, site), monday)


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    monday: date,
    form: FormDep,
    book: StaffBook,
    typed: Mapping[str, str] | None = None,
    stored: str = "moved",
    gap: float | None = None,
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

    undo = f"&undo={version_of(form) + 1}" if stored in ("moved", "made") else ""
    undo += "" if gap is None else f"&gap={100.0 * gap:.2f}"
    address = f"/{site.slug}/roster/{monday.isoformat()}?stored={stored}{undo}"
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
    answer: Answer | None = None,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    undo: str = "",
    stale: str = "",
    done: str = "",
    status: int = 200,
) -> Response:
    page = roster_page(
        site, monday, _week(web, site, monday), new_request_key(),
        answer=answer, typed=typed, problems=problems, undo=undo, stale=stale, done=done,
    )  # fmt: skip
    return render(
        request, "roster/roster.html", page,
        title=_("Roster"), current="roster", site=site, status=status,
    )  # fmt: skip
