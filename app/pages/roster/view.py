"""The page Roster: a week's grid, its faults and cost, its forms, a roster in the making."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from app.answers.roster import RosterAsked, RosterView, Standing, days_of, standing
from app.catalogue import _, long_date, short_date, weekday
from app.pages.fields import FieldView, Summary, summary
from app.pages.roster.form import PERSON_FIELDS, SHIFT_FIELDS
from app.pages.rows import RowForm
from app.pages.studies.view import Waiting, waiting
from app.sites.reading import Change, StoredSite
from app.words.numbers import hours, whole
from app.words.phrases import moment
from app.words.roster import (
    LAW,
    NOT_FOUND,
    Grid,
    anybody_words,
    breach,
    cost_words,
    grid,
    kept_words,
    ways_out,
    why_none,
)
from sim.errors import InputProblem
from sim.inputs import PEOPLE, Person
from sim.inputs.roster import WEEK
from sim.inputs.rows import Word
from sim.units import format_number


@dataclass(frozen=True, slots=True)
class CoverRow:
    """What a day's roster must cover: the day, hours of people, where from, and its page."""

    day: str
    hours: str
    source: str
    href: str


@dataclass(frozen=True, slots=True)
class RosterPage:
    """Everything the page shows.

    Attributes:
        lead, rest: the answer; `law` what to check.
        problems: rules broken.
        with_shifts: who can have a calendar file.
        cover: how many hours of people each day needs and where that is from; `unknown` days of
            it have not been worked out.
        anybody: roles that nobody can do, and what is asked for instead; empty for none.
        has_made: whether a roster was made, or is being made, of what is asked now.
        undo: version of the site whose shifts can be put back; empty for none; `undo_words` say
            who changed them when.
    """

    slug: str
    monday: str
    before: str
    after: str
    version: int
    request_key: str
    lead: str
    rest: str
    law: str
    problems: tuple[str, ...]
    cover: tuple[CoverRow, ...]
    unknown: int
    anybody: str
    has_made: bool
    grid: Grid | None
    with_shifts: tuple[str, ...]
    shift_fields: tuple[FieldView, ...]
    people: tuple[tuple[str, ...], ...]
    person_fields: tuple[FieldView, ...]
    undo: str
    undo_words: str
    summary: Summary | None
    stale: str
    done: str


def roster_page(
    site: StoredSite,
    view: RosterView,
    last: Change | None,
    request_key: str,
    *,
    with_shifts: tuple[str, ...] = (),
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    done: str = "",
) -> RosterPage:
    """The page of a week; `last` is the newest change of its shifts."""
    monday, week = view.asked.monday, view.asked.week
    shifts = site.data.staff.in_week(monday)
    stands = None if week is None else standing(week, shifts)
    form = RowForm("", site.data.units, typed or {}, problems)
    lead, rest = _answer(stands, monday)
    fields = [*SHIFT_FIELDS, *PERSON_FIELDS]
    return RosterPage(
        slug=site.slug,
        monday=monday.isoformat(),
        before=(monday - WEEK).isoformat(),
        after=(monday + WEEK).isoformat(),
        version=site.version,
        request_key=request_key,
        lead=lead,
        rest=rest,
        law=_(LAW),
        problems=tuple(map(breach, stands.breaches)) if stands and shifts else (),
        cover=_cover(site.slug, view),
        unknown=len(view.asked.unknown),
        anybody=anybody_words(view.asked.anybody),
        has_made=bool(view.result or view.running or view.failed),
        grid=None if stands is None else grid(site.data, monday, stands),
        with_shifts=with_shifts,
        shift_fields=_shift_fields(site, monday, form),
        people=tuple(_person_cells(person) for person in site.data.staff.people),
        person_fields=tuple(form.field(cell) for cell in PEOPLE.cells.values()),
        undo="" if last is None else str(last.version),
        undo_words="" if last is None else _undo_words(last, site.data.site.timezone),
        summary=summary(problems, site.data.units, {name: f"#in-{name}" for name in fields}),
        stale=stale,
        done=done,
    )


def _answer(stands: Standing | None, monday: date) -> tuple[str, str]:
    if stands is None:
        return (
            _("No roster can be made yet."),
            _("The site has no people. Enter them below, or bring them in with a folder."),
        )
    if not stands.shifts:
        sentence = _("The week from {day} has no roster yet.", day=short_date(monday))
        return sentence, _("Make one below: at least cost, then as little changed as can be.")
    names = {one.name for one in stands.shifts}
    return (
        _("{people} people work {shifts} shifts.", people=len(names), shifts=len(stands.shifts)),
        _("They cost {cost}, overtime included.", cost=whole(stands.cost)),
    )


def _cover(slug: str, view: RosterView) -> tuple[CoverRow, ...]:
    rows = []
    for one in view.asked.cover:
        if not one.hours:
            source = _("nobody is needed")
        elif not one.is_worked_out:
            source = _("as planned; not worked out yet")
        else:
            source = _("worked out, with skills") if one.with_skills else _("worked out")
        name, needed = f"{weekday(one.day)} {one.day.day}", hours(one.hours)
        href = f"/{slug}/staff/{one.day.isoformat()}"
        rows.append(CoverRow(name, _("{amount} h", amount=needed), source, href))
    return tuple(rows)


def _undo_words(change: Change, timezone: str) -> str:
    return _(
        "The last change to this week’s shifts: {who}, {at}.",
        who=change.person,
        at=moment(change.at, timezone),
    )


def _person_cells(person: Person) -> tuple[str, ...]:
    """Name, roles, wage, hours a week, when they can't work."""
    least, most = format_number(person.least_h), format_number(person.most_h)
    return (
        person.name,
        "; ".join(person.roles),
        format_number(person.wage_per_h),
        f"{least}–{most}",
        "; ".join(map(str, person.away)),
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


@dataclass(frozen=True, slots=True)
class MadePage:
    """A roster that was made, or is being made.

    Attributes:
        lead, rest: the answer; empty while it is made.
        waiting: how far it is, while it is made.
        grid: the roster proposed; None where there is none.
        ways: ways out where there is no roster.
        takes_place: whether the week has shifts already, which it would replace.
        stale: why the roster was not put in place; empty for nothing.
    """

    slug: str
    monday: str
    week_words: str
    version: int
    request_key: str
    key: str
    lead: str
    rest: str
    law: str
    waiting: Waiting | None
    grid: Grid | None
    ways: tuple[str, ...]
    takes_place: bool
    can_retry: bool
    stale: str


def made_page(site: StoredSite, view: RosterView, request_key: str, stale: str = "") -> MadePage:
    """Fills the page."""
    lead, rest = "", ""
    shown: Grid | None = None
    ways: tuple[str, ...] = ()
    found = view.result
    if found is not None:
        if found.roster is not None:
            lead, rest = cost_words(found.roster), kept_words(found.roster)
            shown = grid(site.data, view.asked.monday, found.roster)
        elif found.conflict is not None:
            lead = _("There is no roster for this week.")
            rest = why_none(found.conflict)
            ways = tuple(ways_out(found.conflict))
        else:
            lead = _(NOT_FOUND)
            rest = _("Fewer starts and lengths of shifts make it easier to find.")
    elif view.failed:
        lead = view.failed
    elif view.running is None:
        lead = _("No roster has been made of what is asked now.")
    running = view.running if found is None and not view.failed else None
    return MadePage(
        site.slug,
        view.asked.monday.isoformat(),
        _("Week from {day}", day=short_date(view.asked.monday)),
        site.version,
        request_key,
        view.key,
        lead,
        rest,
        _(LAW),
        None if running is None else waiting(running, view.key),
        shown,
        ways,
        bool(site.data.staff.in_week(view.asked.monday)),
        found is None and running is None,
        stale,
    )


@dataclass(frozen=True, slots=True)
class DayNeeds:
    """A day whose people are worked out: its name, how far that is, and its page."""

    day: str
    state: str
    waiting: Waiting | None
    href: str


@dataclass(frozen=True, slots=True)
class NeedsPage:
    """People of a week's days, while they are worked out."""

    slug: str
    monday: str
    week_words: str
    days: tuple[DayNeeds, ...]
    is_waiting: bool


def needs_page(site: StoredSite, asked: RosterAsked) -> NeedsPage:
    """Fills the page, a line a day on which somebody is needed."""
    needed = {one.day for one in asked.cover if one.hours}
    rows = []
    for one in asked.staff:
        if one.day not in needed:
            continue
        is_open = one.result is None and not one.failed
        running = one.running if is_open and one.running and one.running.done else None
        if one.result is not None:
            state = _("Worked out.")
        elif one.failed:
            state = one.failed
        elif not one.key:
            state = _("Can’t be worked out; the page of the day says why.")
        else:
            state = _("Waits for its turn.") if running is None else _("Being worked out.")
        rows.append(
            DayNeeds(
                long_date(one.day),
                state,
                None if running is None else waiting(running, one.key),
                f"/{site.slug}/staff/{one.day.isoformat()}",
            )
        )
    return NeedsPage(
        site.slug,
        asked.monday.isoformat(),
        _("Week from {day}", day=short_date(asked.monday)),
        tuple(rows),
        any(one.running is not None and one.result is None for one in asked.staff),
    )
