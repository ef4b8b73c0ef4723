"""The page Roster: a week's grid, its faults and cost, its forms, a roster in the making."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from starlette.datastructures import FormData

from app.answers.roster import (
    RosterAsked,
    RosterView,
    Standing,
    days_of,
    hand_shift,
    standing,
)
from app.answers.staff import StaffView
from app.books.checks import HALF_HOUR_S
from app.catalogue import _, weekday
from app.pages.forms import FieldView, RowForm, Summary, summary, text_of
from app.pages.studies.view import StudyProgress, waiting
from app.pages.writing import new_request_key, read_clock
from app.sites.reading import Change, StoredSite
from app.words.phrases import moment
from app.words.roster import (
    LAW,
    NOT_FOUND,
    RosterWeek,
    anybody_words,
    breach,
    cost_words,
    grid,
    kept_words,
    ways_out,
    why_none,
)
from sim.errors import InputProblem
from sim.inputs import PEOPLE, SiteData, StaffBook
from sim.inputs.roster import WEEK
from sim.inputs.rows import Amount, Word

SHIFT_FIELDS = ("who", "weekday", "start", "end")
PERSON_FIELDS = tuple(PEOPLE.cells)
Problems = list[InputProblem]


# ---- a week as it stands -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RosterPage:
    """The page of a week.

    Attributes:
        asked: its question, with what each day must cover; before, after: the weeks beside it.
        stands: its shifts as they are; None for a site without people.
        breaches: rules that they break, a sentence each; law: what to check.
        anybody: roles that nobody can do, and what is asked for instead; empty for none.
        has_made: whether a roster was made, or is being made, of what is asked now.
        with_shifts: who can have a calendar file.
        last: the newest change of its shifts, which can be put back; last_at: when it was.
    """

    site: StoredSite
    asked: RosterAsked
    before: date
    after: date
    request_key: str
    stands: Standing | None
    grid: RosterWeek | None
    breaches: tuple[str, ...]
    law: str
    anybody: str
    has_made: bool
    with_shifts: tuple[str, ...]
    shift_fields: tuple[FieldView, ...]
    person_fields: tuple[FieldView, ...]
    last: Change | None
    last_at: str
    summary: Summary | None
    stale: str
    done: str


def roster_page(
    site: StoredSite,
    view: RosterView,
    last: Change | None,
    with_shifts: tuple[str, ...],
    *,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    done: str = "",
) -> RosterPage:
    """Fills the page; what was typed in a form is drawn again, with what is wrong beside it."""
    asked, system = view.asked, site.data.units
    shifts = site.data.staff.in_week(asked.monday)
    stands = None if asked.week is None else standing(asked.week, shifts)
    form = RowForm("", system, typed or {}, problems)
    places = {name: f"#in-{name}" for name in (*SHIFT_FIELDS, *PERSON_FIELDS)}
    return RosterPage(
        site=site,
        asked=asked,
        before=asked.monday - WEEK,
        after=asked.monday + WEEK,
        request_key=new_request_key(),
        stands=stands,
        grid=None if stands is None else grid(site.data, asked.monday, stands),
        breaches=tuple(map(breach, stands.breaches)) if stands and shifts else (),
        law=_(LAW),
        anybody=anybody_words(asked.anybody),
        has_made=bool(view.result or view.running or view.failed),
        with_shifts=with_shifts,
        shift_fields=_shift_fields(site, asked.monday, form),
        person_fields=tuple(form.field(cell) for cell in PEOPLE.cells.values()),
        last=last,
        last_at="" if last is None else moment(last.at, site.data.site.timezone),
        summary=summary(problems, system, places),
        stale=stale,
        done=done,
    )


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


# ---- a roster in the making ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MadePage:
    """A roster that was made, or is being made.

    Attributes:
        lead, rest: the answer; empty while it is made. law: what to check.
        waiting: how far it is, while it is made.
        grid: the roster proposed; None where there is none.
        ways: ways out where there is no roster.
        takes_place: whether the week has shifts already, which it would replace.
        stale: why the roster was not put in place; empty for nothing.
    """

    site: StoredSite
    view: RosterView
    request_key: str
    lead: str
    rest: str
    law: str
    waiting: StudyProgress | None
    grid: RosterWeek | None
    ways: tuple[str, ...]
    takes_place: bool
    stale: str


def made_page(site: StoredSite, view: RosterView, stale: str = "") -> MadePage:
    """Fills the page."""
    found, monday = view.result, view.asked.monday
    made, conflict = (found.roster, found.conflict) if found else (None, None)
    running = view.running if found is None and not view.failed else None
    lead, rest = "", ""
    if made is not None:
        lead, rest = cost_words(made), kept_words(made)
    elif conflict is not None:
        lead, rest = _("There is no roster for this week."), why_none(conflict)
    elif found is not None:
        lead, rest = _(NOT_FOUND), _("Fewer starts and lengths of shifts make it easier to find.")
    elif running is None:
        lead = view.failed or _("No roster has been made of what is asked now.")
    return MadePage(
        site=site,
        view=view,
        request_key=new_request_key(),
        lead=lead,
        rest=rest,
        law=_(LAW),
        waiting=None if running is None else waiting(running, view.key),
        grid=None if made is None else grid(site.data, monday, made),
        ways=tuple(ways_out(conflict)) if conflict else (),
        takes_place=bool(site.data.staff.in_week(monday)),
        stale=stale,
    )


@dataclass(frozen=True, slots=True)
class NeedsPage:
    """People of the days of a week on which somebody is needed, and how far each is."""

    site: StoredSite
    monday: date
    days: tuple[tuple[StaffView, StudyProgress | None], ...]
    is_waiting: bool


def needs_page(site: StoredSite, asked: RosterAsked) -> NeedsPage:
    """Fills the page."""
    needed = {one.day for one in asked.cover if one.hours}
    return NeedsPage(
        site,
        asked.monday,
        tuple((one, _waiting(one)) for one in asked.staff if one.day in needed),
        any(one.running is not None and one.result is None for one in asked.staff),
    )


def _waiting(one: StaffView) -> StudyProgress | None:
    is_begun = one.result is None and not one.failed and one.running and one.running.done
    return waiting(one.running, one.key) if is_begun and one.running else None
