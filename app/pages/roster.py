"""Roster: a week's grid moved by hand and undone, people entered, a roster made; its files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers.staff import (
    ROSTER,
    RosterView,
    StaffView,
    Standing,
    days_of,
    export_shifts,
    hand_shift,
    last_change,
    monday_of,
    roster_sheets,
    shifts_sheet,
    standing,
    undone,
    with_calendar,
)
from app.books import HALF_HOUR_S
from app.catalogue import _, weekday
from app.pages.days import wanted
from app.pages.deps import (
    FormDep,
    SiteDep,
    Web,
    WebDep,
    book_answer,
    calendar_answer,
    csv_answer,
    render,
)
from app.pages.forms import FieldView, RowForm, Summary, summary, text_of
from app.pages.waiting import REFRESH_S, StudyProgress, waiting
from app.pages.writing import (
    carry_out,
    new_request_key,
    read_clock,
    request_key_of,
    version_of,
)
from app.sites.reading import Change, Gate, Outcome, StoredSite, shift_changes_of
from app.words.phrases import Statement, moment
from app.words.staff import made_words
from sim.errors import InputProblem
from sim.inputs import PEOPLE, SiteData, StaffBook
from sim.inputs.roster import WEEK
from sim.inputs.rows import Amount, Word

router = APIRouter()
SHIFT_FIELDS = ("who", "weekday", "start", "end")
Problems = list[InputProblem]


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

    def show(
        self, name: str, page: object, status: int = 200, *, is_waiting: bool = False
    ) -> Response:
        """A page of the week; one that waits asks for its answer."""
        return render(
            self.request, f"roster/{name}.html", page,
            title=_("Roster"), current="roster", site=self.site, status=status,
            again=REFRESH_S if is_waiting else 0,
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
    name, today = text_of(form, "person"), web.today(site)
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


@dataclass(frozen=True, slots=True)
class NeedsPage:
    """People of the days of a week on which somebody is needed, and how far each is."""

    site: StoredSite
    monday: date
    days: tuple[tuple[StaffView, StudyProgress | None], ...]
    is_waiting: bool


@router.get("/{slug}/roster/{week}/needs")
def show_needs(at: VisitDep) -> Response:
    """How far that is; back to the roster when it is done."""
    asked = at.view.asked
    if not asked.unknown:
        return RedirectResponse(at.to("#make"), 303)
    needed = {one.day for one in asked.cover if one.hours}
    days = tuple((one, _waiting(one)) for one in asked.staff if one.day in needed)
    is_waiting = any(one.running is not None and one.is_wanting for one in asked.staff)
    page = NeedsPage(at.site, at.monday, days, is_waiting)
    return at.show("needs", page, is_waiting=is_waiting)


def _waiting(one: StaffView) -> StudyProgress | None:
    is_begun = one.is_awaited and one.running and one.running.done
    return waiting(one) if is_begun else None


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
    if made is None or text_of(form, "key") != shown_key(view):
        stale = _("People, limits or who is needed have changed since. Make the roster anew.")
        return _made(at, at.site, stale=stale, status=409)
    book = at.site.data.staff.with_week(at.monday, made.shifts)
    return _write(at, form, book, partial(_made, at), "placed")


def shown_key(view: RosterView) -> str:
    """Names the roster that a page shows, so that no other one is put in place by its button: the
    first one found is not that of the answer, though it is one to the same question."""
    return f"{view.key} so far" if view.result and view.result.coarse else view.key


@dataclass(frozen=True, slots=True)
class MadePage:
    """A roster that was made, or is being made.

    Attributes:
        key: names what is shown, see `shown_key`.
        said: the answer; None while there is none. waiting: how far it is, until it is whole.
        takes_place: whether the week has shifts already, which it would replace.
        stale: why the roster was not put in place; empty for nothing.
    """

    site: StoredSite
    view: RosterView
    key: str
    request_key: str
    said: Statement | None
    waiting: StudyProgress | None
    takes_place: bool
    stale: str


def _made(
    at: RosterRequest, site: StoredSite, *, stale: str = "", status: int = 200, **_more: object
) -> Response:
    now = replace(at, site=site)
    view, said = now.view, None
    running = None if view.failed or not view.is_wanting else view.running
    if view.result is not None:
        said = made_words(view.result)
    elif running is None:
        said = Statement(view.failed or _("No roster has been made of what is asked now."), "")
    page = MadePage(
        site=site,
        view=view,
        key=shown_key(view),
        request_key=new_request_key(),
        said=said,
        waiting=None if running is None else waiting(view),
        takes_place=bool(site.data.staff.in_week(view.asked.monday)),
        stale=stale,
    )
    is_waiting = page.waiting is not None and not stale
    return now.show("made", page, status, is_waiting=is_waiting)


# ---- a week as it stands -------------------------------------------------------------------------


@router.get("/{slug}/roster")
def next_week(site: SiteDep, web: WebDep) -> Response:
    """Leads to next week."""
    monday = monday_of(web.today(site)) + WEEK
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
    typed = typed_in(form, tuple(PEOPLE.cells))
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


@dataclass(frozen=True, slots=True)
class RosterPage:
    """The page of a week.

    Attributes:
        view: its question, with what each day must cover, and whether a roster was made of it, or
            is being made; before, after: the weeks beside it.
        stands: its shifts as they are; None for a site without people.
        with_shifts: who can have a calendar file.
        last: the newest change of its shifts, which can be put back; last_at: when it was.
    """

    site: StoredSite
    view: RosterView
    before: date
    after: date
    request_key: str
    stands: Standing | None
    with_shifts: tuple[str, ...]
    shift_fields: tuple[FieldView, ...]
    person_fields: tuple[FieldView, ...]
    last: Change | None
    last_at: str
    summary: Summary | None
    stale: str
    done: str


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
    """The page of the week, of the site as it is stored now; what was typed in a form is drawn
    again, with what is wrong beside it."""
    now, data, system = replace(at, site=site), site.data, site.data.units
    view = now.view
    week, last = view.asked.week, next(iter(now.last_change), None)
    form = RowForm("", system, typed or {}, problems)
    places = {name: f"#in-{name}" for name in (*SHIFT_FIELDS, *PEOPLE.cells)}
    page = RosterPage(
        site=site,
        view=view,
        before=at.monday - WEEK,
        after=at.monday + WEEK,
        request_key=new_request_key(),
        stands=None if week is None else standing(week, data.staff.in_week(at.monday)),
        with_shifts=with_calendar(data, at.web.today(site)),
        shift_fields=_shift_fields(site, at.monday, form),
        person_fields=tuple(form.field(cell) for cell in PEOPLE.cells.values()),
        last=last,
        last_at="" if last is None else moment(last.at, data.site.timezone),
        summary=summary(problems, system, places),
        stale=stale,
        done=done,
    )
    return now.show("roster", page, status)


def _shift_fields(site: StoredSite, monday: date, form: RowForm) -> tuple[FieldView, ...]:
    names = tuple((person.name, person.name) for person in site.data.staff.people)
    days = tuple((str(at), f"{weekday(day)} {day.day}") for at, day in enumerate(days_of(monday)))
    return (
        form.field(Word(name="who", label="Who"), choices=names),
        form.field(Word(name="weekday", label="Day"), choices=days),
        form.field(Word(name="start", label="Start", hint="As 8:00; empty for a day off.")),
        form.field(Word(name="end", label="End", hint="As 15:30; empty for a day off.")),
    )


# ---- its forms -----------------------------------------------------------------------------------


def typed_in(form: FormData, names: tuple[str, ...]) -> dict[str, str]:
    """What was typed, by field."""
    return {name: text_of(form, name).strip() for name in names}


def moved_shift(
    typed: Mapping[str, str], data: SiteData, monday: date
) -> tuple[StaffBook, Problems]:
    """The book with somebody's shift of a day as typed; a day off where both times are empty."""
    book = data.staff
    problems: Problems = []
    if typed["who"] not in [person.name for person in book.people]:
        sentence = "“{name}” is not among the people of this site. Choose somebody who is."
        problems.append(InputProblem("who", sentence, {"name": typed["who"]}))
    if typed["weekday"] not in tuple("0123456"):
        sentence = "“{typed}” is no day of this week. Choose one."
        problems.append(InputProblem("weekday", sentence, {"typed": typed["weekday"]}))
    start_s = end_s = 0.0
    if typed["start"] or typed["end"]:
        start_s = read_clock("start", typed["start"], problems)
        end_s = read_clock("end", typed["end"], problems)
        if not problems:
            _check_times(start_s, end_s, typed, problems)
    if problems:
        return book, problems
    who, day = typed["who"], days_of(monday)[int(typed["weekday"])]
    shifts = [one for one in book.in_week(monday) if (one.name, one.day) != (who, day)]
    if end_s > start_s:
        shifts.append(hand_shift(data.site.shifts, day, who, start_s, end_s))
    return book.with_week(monday, shifts), []


def _check_times(
    start_s: float, end_s: float, typed: Mapping[str, str], problems: Problems
) -> None:
    for field, at in (("start", start_s), ("end", end_s)):
        if at % HALF_HOUR_S:
            sentence = "“{typed}” is not on a full or half hour. Write it as 15:30."
            problems.append(InputProblem(field, sentence, {"typed": typed[field]}))
    if end_s <= start_s:
        sentence = "End “{typed}” is not after start {start}. Enter a later time, 24:00 at most."
        filling = {"typed": typed["end"], "start": typed["start"]}
        problems.append(InputProblem("end", sentence, filling))


def with_person(typed: Mapping[str, str], book: StaffBook) -> tuple[StaffBook, Problems]:
    """The book with somebody entered; whoever has that name is changed."""
    problems: Problems = []
    with_points = {
        name: typed[name].replace(",", ".") if isinstance(cell, Amount) else typed[name]
        for name, cell in PEOPLE.cells.items()
    }
    person = PEOPLE.read(with_points, problems)
    if person is None:
        return book, problems
    people = {one.name: one for one in (*book.people, person)}
    return replace(book, people=tuple(people.values())), problems
