"""Staff: who is needed on a day, and a week's roster: its question, made by a solver apart, what is
stored, their files.

A roster asks for the people whom the page Staff has worked out for a day, else for those planned.
"""

from __future__ import annotations

import hashlib
import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from multiprocessing.connection import Connection
from time import monotonic

from app.answers.answer import Answer, Desk, Kind, answer_key, libraries
from app.answers.planning import DayAsked
from app.answers.serial import write
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.answers.switching import ask_switch, switch_key, with_one_more
from app.catalogue import _
from app.db import store
from app.db.session import Session
from app.db.store import CalendarEntry, Change, StoredSite, load_calendar
from app.files.sheets import Sheet
from app.sites.calendar import calendar_file, new_uid, of_calendar
from app.sites.changes import Gate
from sim.decide.compare import LEAST_RUNS, Question, stands
from sim.decide.firm import Standing as Held
from sim.decide.how_sure import BOUNDS
from sim.decide.staff.answer import (
    ROSTER_SCHEMA,
    STAFF_SCHEMA,
    Breach,
    RosterAnswer,
    StaffAnswer,
)
from sim.decide.staff.needs import DAYS as STAFF_DAYS
from sim.decide.staff.needs import EXPECTED_DAYS, staff_answer
from sim.decide.staff.roster import countdown, faults_of, roster_answer
from sim.decide.staff.week import (
    DAYS,
    PER_H,
    POSTS,
    SLOT_S,
    Duty,
    Shift,
    Week,
    cost_by_day,
    cost_of,
    duties_of,
    people_asked,
    planned_people,
    planned_shifts,
    shift_with_break,
)
from sim.decide.switching.question import SwitchQuestion
from sim.errors import InputError, InputProblem
from sim.inputs import (
    SHIFTS,
    HoursLimits,
    Person,
    PlannedShift,
    Scenario,
    SiteData,
    StaffBook,
    Value,
)
from sim.inputs.roster import WEEK
from sim.units import show_clock

FIRST_DAYS = 16
"""Days of a first form: upper ends lie further out on few, so that it rather asks for too many."""
MOST_S = 30.0
"""Time that the solver may take [s]; it ends earlier where nothing is left to gain."""
POLL_S = 0.25
"""How often whoever waits for the solver looks whether to go on waiting [s]."""

StaffView = Answer[DayAsked[SwitchQuestion], StaffAnswer]
"""Who is needed on a day, as far as it is known."""


def answer_staff(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = STAFF_DAYS,
    early: Callable[[StaffAnswer], None] | None = None,
    stage: Callable[[str], None] = lambda name: None,
) -> StaffAnswer:
    """The answer; what the site knows of itself counts where it is held against who is planned.

    Args:
        early: handed a first form within seconds, settled on few days; stage: told of each stage
            as it begins.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    if early is not None:
        stage("first")
        early(
            staff_answer(
                asked, day, origin, libraries(), executor=executor, progress=progress,
                days=FIRST_DAYS, rough=True,
            )
        )  # fmt: skip
        stage("people")
    found = staff_answer(
        asked, day, origin, libraries(), executor=executor, progress=progress, days=days
    )
    weighed = () if asked.belief is None else tuple(asked.belief.weighed)
    return replace(found, standing=_stands(asked, found, executor), weighed=weighed)


def _stands(asked: SwitchQuestion, found: StaffAnswer, executor: Executor | None) -> Held | None:
    """How the day with the people needed stands against that with those planned, held to the same
    limits as any setting."""
    if asked.known is None:
        return None
    planned = Scenario("planned", asked.present, asked.cloth)
    needed = replace(planned, name="needed", changes=_entered(found))
    question = Question(
        asked.site, asked.conditions, (needed, planned),
        LEAST_RUNS, asked.seed, asked.evening, asked.known, asked.belief,
    )  # fmt: skip
    return stands(question, tuple(BOUNDS), executor)


def _entered(found: StaffAnswer) -> dict[str, Value]:
    """What is entered to have the people needed."""
    tables = found.timetables
    return {"people": tables.people, "loaders": tables.loaders, "finishers": tables.finishers}


def with_needed(view: StaffView) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the people needed as one more, by the rule and the sets of the
    first; None where the plan is full."""
    if view.result is None:
        raise ValueError("nobody is known to be needed yet")
    scenarios = view.asked.plan.scenarios
    first = scenarios[0]
    changes = {**first.changes, **_entered(view.result)}
    return with_one_more(scenarios, replace(first, name=_("People needed"), changes=changes))


def _staff_key(one: DayAsked[SwitchQuestion]) -> str:
    return "" if one.question is None else switch_key(one.question, STAFF_SCHEMA)


STAFF: Kind[DayAsked[SwitchQuestion], StaffAnswer] = Kind(
    name="staff",
    label="Staff",
    stages=(
        Stage("first", "a first form on few days", 0.25),
        Stage("people", "trying numbers of people", 0.75),
    ),
    page="staff/{day}",
    found=StaffAnswer,
    ask=ask_switch,
    key=_staff_key,
    days=lambda _one: EXPECTED_DAYS,
    work=lambda one, executor, report: answer_staff(
        one.posed,
        one.plan.day,
        one.origin,
        executor,
        report,
        early=report.early,
        stage=report.stage,
    ),
    failed="Who is needed could not be worked out: {fault}",
    schema=STAFF_SCHEMA,
)


def staff_sheets(told: StaffAnswer) -> tuple[Sheet, ...]:
    """Every table of the answer: people by half-hour, and one person more or fewer by hour."""
    return people_sheet(told), _effects(told)


def people_sheet(told: StaffAnswer) -> Sheet:
    """A row a half-hour: people needed, planned, by role, and what came and waited."""
    heads = (
        _("From"), _("Needed"), _("Planned"), *told.called.values(), _("Cars that come"),
        _("Late share"), _("Cars lost"), _("Time with a full stack"), _("Use of people"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=row.start_h),
            row.people,
            row.planned,
            *(row.roles[role] for role in told.called),
            row.arrived,
            row.late_share,
            row.lost,
            row.full_share,
            row.use,
        )
        for row in told.half_hours
    )
    return Sheet(_("People by half-hour"), heads, rows)


def _effects(told: StaffAnswer) -> Sheet:
    heads = (
        _("Hour"), _("People"), _("9 cars in 10 wait at most, s"), _("± half its 95 % interval"),
        _("Cars lost"), _("±"), _("Margin"), _("±"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=one.hour),
            one.change,
            one.wait_p90_s.mean,
            one.wait_p90_s.half,
            one.cars_lost.mean,
            one.cars_lost.half,
            one.margin.mean,
            one.margin.half,
        )
        for one in told.effects
    )
    return Sheet(_("One more or fewer"), heads, rows)


# ---- a week's roster: its question ---------------------------------------------------------------

Needs = Mapping[date, StaffAnswer]
"""What the page Staff worked out, by day."""


def monday_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def days_of(monday: date) -> tuple[date, ...]:
    """The days of a week."""
    return tuple(monday + timedelta(days=day) for day in range(DAYS))


def week_of(data: SiteData, monday: date, needs: Needs | None = None) -> Week:
    """The question of a week: the people worked out for a day, else those planned while open.

    Args:
        needs: by day; people with a skill are asked for on those days, as far as the site has any.

    Raises:
        InputError: if the site has no people.
    """
    if not data.staff.people:
        sentence = (
            "The site has no people yet, so no roster can be made. Enter them on the page Roster, "
            "or in people.csv of a folder."
        )
        raise InputError([InputProblem("people", sentence)])
    closed = {note.day for note in data.history.days if note.kind == "closed"}
    days = days_of(monday)
    shut = [at for at, day in enumerate(days) if day in closed]
    line, crew = data.site.line, data.site.crew
    planned = planned_people(crew.people, line.open_h, line.close_h, shut)
    worked_out = {
        days.index(day): (told.roles, told.called)
        for day, told in (needs or {}).items()
        if day in days
    }
    needed, skilled = people_asked(planned, worked_out, _skills(data.staff.people))
    last = duties_of(data.staff.in_week(monday - WEEK))
    return Week(monday, data.staff.people, data.site.shifts, needed, skilled, last)


def _skills(people: Sequence[Person]) -> set[str]:
    return {role for person in people for role in person.roles}


def without_skill(people: Sequence[Person], needs: Needs) -> tuple[str, ...]:
    """Roles needed on days worked out that nobody can do, as the site calls them.

    A week asks for anybody in their place, or it could never be covered. Floaters may be anybody
    as it is.
    """
    names = {
        told.called[role] for told in needs.values() for role in POSTS if any(told.roles[role])
    }
    return tuple(sorted(names - _skills(people)))


# ---- a week as it stands -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Standing:
    """A week's shifts as they are.

    Attributes:
        cost: wages with overtime [money]; cost_by_day: without it, Monday first.
        breaches: every rule that they break.
    """

    shifts: tuple[PlannedShift, ...]
    cost: float
    cost_by_day: tuple[float, ...]
    breaches: tuple[Breach, ...]


def standing(week: Week, shifts: Sequence[PlannedShift]) -> Standing:
    """What a week's shifts cost, and the rules that they break."""
    duties = duties_of(shifts)
    return Standing(
        tuple(shifts), cost_of(week, duties), cost_by_day(week, duties), faults_of(week, duties)
    )


def hand_shift(
    limits: HoursLimits, day: date, name: str, start_s: float, end_s: float
) -> PlannedShift:
    """A shift typed by hand, its break as near its middle as may be."""
    start, end = round(start_s / SLOT_S), round(end_s / SLOT_S)
    shift = shift_with_break(start, end, limits)
    length = shift.pause_end - shift.pause
    if length:
        middle = max(shift.pause, (start + end - length) // 2)
        shift = Shift(start, end, middle, middle + length)
    (found,) = planned_shifts(monday_of(day), (Duty(name, day.weekday(), "", shift),))
    return found


def last_change(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Of changes of shifts, newest first, those that the newest version of the site made."""
    return tuple(one for one in changes if one.version == changes[0].version)


def undone(book: StaffBook, changes: Sequence[Change]) -> StaffBook:
    """The book with shifts put back to what they were before they were changed."""
    shifts = {(one.day, one.name): one for one in book.shifts}
    for change in changes:
        held = SHIFTS.of_plain(change.old or change.new)
        shifts.pop((held.day, held.name), None)
        if change.old:
            shifts[held.day, held.name] = held
    return StaffBook(book.people, tuple(shifts.values())).in_order()


# ---- a roster in the making ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DayCover:
    """What a day's roster must cover.

    Attributes:
        hours: of people; 0 where nobody is needed.
        is_worked_out: whether by the page Staff, else as planned; with_skills: by skill, too.
    """

    day: date
    hours: float
    is_worked_out: bool
    with_skills: bool


@dataclass(frozen=True, slots=True)
class RosterAsked:
    """A week's roster as it can be asked for now.

    Attributes:
        monday: first day of the week.
        staff: the page Staff of each of its days.
        week: the question; None for a site without people.
        cover: by day; empty without `week`.
        anybody: roles needed that nobody can do, see `without_skill`.
    """

    monday: date
    staff: tuple[StaffView, ...]
    week: Week | None
    cover: tuple[DayCover, ...]
    anybody: tuple[str, ...]

    @property
    def unknown(self) -> tuple[date, ...]:
        """Days on which people are needed, but have not been worked out."""
        return tuple(one.day for one in self.cover if one.hours and not one.is_worked_out)


RosterView = Answer[RosterAsked, RosterAnswer]
"""A week's roster as far as it is known."""


def _ask_roster(desk: Desk, day: date) -> RosterAsked:
    """A week's question, by what was worked out of its days."""
    monday, people = monday_of(day), desk.site.data.staff.people
    views = desk.open_all(STAFF, days_of(monday))
    # a first form asks for too many people; a roster waits for the whole answer
    needs = {view.day: view.result for view in views if view.result and not view.result.rough}
    week, cover = None, list[DayCover]()
    if people:
        week = week_of(desk.data, monday, needs)
        for at, day in enumerate(days_of(monday)):
            is_skilled = any(rows[at].any() for rows in week.skilled.values())
            hours = float(week.needed[at].sum()) / PER_H
            cover.append(DayCover(day, hours, day in needs, is_skilled))
    return RosterAsked(monday, views, week, tuple(cover), without_skill(people, needs))


def roster_key(week: Week) -> str:
    """A hash of everything that a roster depends on."""
    skilled = {name: rows.tolist() for name, rows in sorted(week.skilled.items())}
    needed = week.needed.tolist()
    asked = write((week.monday, week.people, week.limits, needed, skilled, week.last))
    return answer_key(ROSTER_SCHEMA, asked, MOST_S)


def _make(asked: RosterAsked, _executor: Executor | None, report: Report) -> RosterAnswer:
    if asked.week is None:
        raise ValueError("the site has no people")
    return answer_apart(asked.week, report, report.early)


ROSTER: Kind[RosterAsked, RosterAnswer] = Kind(
    name="roster",
    label="Roster",
    stages=(Stage("roster", "trying rosters"),),
    page="roster/{day}/made",
    found=RosterAnswer,
    ask=_ask_roster,
    key=lambda asked: "" if asked.week is None else roster_key(asked.week),
    days=lambda _asked: 0,
    work=_make,
    failed="The roster could not be made: {fault}",
)


def answer_apart(
    week: Week,
    report: Callable[[int, int], None],
    early: Callable[[RosterAnswer], None] = lambda found: None,
) -> RosterAnswer:
    """The roster, made in a process of its own: a solver can't be stopped, a process can be.

    Args:
        early: handed the first roster that breaks no rule, where a better one is looked for.

    Raises:
        Stopped: where `report` does; the process is ended then.
        RuntimeError: if the process ended without an answer.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    solver = context.Process(target=_solve, args=(theirs, week), daemon=True)
    solver.start()
    theirs.close()
    steps, done = round(MOST_S / POLL_S), 0
    try:
        found: RosterAnswer | None = None
        while found is None or found.coarse:
            while not ours.poll(POLL_S):
                done = min(done + 1, steps - 1)
                report(done, steps)
            found = ours.recv()
            if found.coarse:
                early(found)
    except EOFError:
        raise RuntimeError("the solver ended without an answer") from None
    finally:
        solver.kill()
        solver.join()
        ours.close()
    return found


def _solve(connection: Connection, week: Week) -> None:
    connection.send(roster_answer(week, countdown(MOST_S, monotonic), connection.send))


# ---- its files -----------------------------------------------------------------------------------


def roster_sheets(data: SiteData, monday: date) -> tuple[Sheet, ...]:
    """A week as it is published: its shifts, the week as a person reads it, cost by day."""
    return shifts_sheet(data, monday), _week(data, monday), _costs(data, monday)


def shifts_sheet(data: SiteData, monday: date) -> Sheet:
    """A row a shift, in order of day and name."""
    heads = (
        _("date"), _("name"), _("role"), _("start"), _("end"), _("break_start"), _("break_end"),
        _("paid_hours"), _("wage"),
    )  # fmt: skip
    rows = tuple(
        (
            one.day,
            one.name,
            one.role,
            timedelta(seconds=one.start_s),
            timedelta(seconds=one.end_s),
            timedelta(seconds=one.break_start_s) if one.has_break else None,
            timedelta(seconds=one.break_end_s) if one.has_break else None,
            one.paid_h(data.site.shifts),
            _wage(data, one),
        )
        for one in data.staff.in_week(monday)
    )
    return Sheet(_("Shifts"), heads, rows)


def _wage(data: SiteData, one: PlannedShift) -> float | None:
    """Wage of a shift without what overtime adds [money]; None for somebody who has left."""
    wages = {person.name: person.wage_per_h for person in data.staff.people}
    return wages[one.name] * one.paid_h(data.site.shifts) if one.name in wages else None


def everybody(data: SiteData, shifts: Sequence[PlannedShift]) -> list[str]:
    """Everybody on the list, and whoever has left but has some of these shifts."""
    listed = [person.name for person in data.staff.people]
    return [*listed, *sorted({one.name for one in shifts} - set(listed))]


def _week(data: SiteData, monday: date) -> Sheet:
    shifts, rows = data.staff.in_week(monday), []
    for name in everybody(data, shifts):
        mine = [one for one in shifts if one.name == name]
        spans = {one.day: f"{show_clock(one.start_s)}–{show_clock(one.end_s)}" for one in mine}
        hours = sum(one.paid_h(data.site.shifts) for one in mine)
        rows.append((name, *(spans.get(day, "") for day in days_of(monday)), hours))
    heads = (_("Who"), *(day.isoformat() for day in days_of(monday)), _("Hours"))
    return Sheet(_("Week"), heads, tuple(rows))


def _costs(data: SiteData, monday: date) -> Sheet:
    shifts, rows = data.staff.in_week(monday), []
    for day in days_of(monday):
        mine = [one for one in shifts if one.day == day]
        hours = sum(one.paid_h(data.site.shifts) for one in mine)
        rows.append((day, len(mine), hours, sum(_wage(data, one) or 0.0 for one in mine)))
    heads = (_("Day"), _("Shifts"), _("Hours paid"), _("Wages without overtime"))
    return Sheet(_("Cost by day"), heads, tuple(rows))


def shift_entries(
    shifts: Sequence[PlannedShift], name: str, site: str
) -> tuple[CalendarEntry, ...]:
    """One person's shifts as entries of a calendar, in order of time."""
    return tuple(
        CalendarEntry(
            f"{about_person(name)}{one.day.isoformat()}",
            one.day,
            one.start_s,
            (one.end_s - one.start_s) / 60.0,
            _("Work at {site}", site=site),
            _about_shift(one),
        )
        for one in sorted(shifts)
        if one.name == name
    )


def about_person(name: str) -> str:
    """How keys of somebody's entries begin; from a hash, since a name may be long."""
    return f"shift-{hashlib.sha256(name.encode()).hexdigest()[:12]}-"


def _about_shift(one: PlannedShift) -> str:
    parts = [one.role] if one.role else []
    if one.has_break:
        start, end = show_clock(one.break_start_s), show_clock(one.break_end_s)
        parts.append(_("Break {start}–{end}.", start=start, end=end))
    return " ".join(parts)


def export_shifts(
    session: Session, now: datetime, stored: StoredSite, name: str, today: date
) -> bytes:
    """Somebody's calendar from this week on; what it holds is kept for the next to follow."""
    site, first = stored.data.site, monday_of(today)
    about = (about_person(name),)
    shifts = [one for one in stored.data.staff.shifts if first <= one.day]
    entries = shift_entries(shifts, name, site.name)
    gate = Gate(session, store.built_in_person(session), now)
    gate.keep_calendar(stored.id, entries, first, new_uid, about)
    rows = of_calendar(load_calendar(session, stored.id), about)
    return calendar_file(rows, f"{site.name}: {name}", site.timezone, first, is_busy=True)


def with_calendar(data: SiteData, today: date) -> tuple[str, ...]:
    """Whose calendar can be had: everybody on the list, whose shifts may have been taken away,
    and whoever has left but has shifts from this week on."""
    first = monday_of(today)
    return tuple(everybody(data, [one for one in data.staff.shifts if one.day >= first]))
