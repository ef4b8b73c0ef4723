"""A week's roster of a site: the question, the answer, what is stored of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from time import monotonic
from typing import Any

from app.db.store import Change
from sim.decide.staff.answer import StaffAnswer
from sim.decide.staff.assign import Breach
from sim.decide.staff.conflicts import Conflict, explain
from sim.decide.staff.faults import faults_of
from sim.decide.staff.roster import Roster, countdown, make_roster
from sim.decide.staff.shifts import PER_H, Shift, shift_with_break
from sim.decide.staff.week import (
    DAYS,
    POSTS,
    SLOT_S,
    Duty,
    Week,
    cost_of,
    people_asked,
    planned_people,
)
from sim.errors import InputError, InputProblem
from sim.inputs import Person, PlannedShift, SiteData, StaffBook

__all__ = [
    "PER_H",
    "SLOT_S",
    "WEEK",
    "Answer",
    "Duty",
    "Week",
    "answer",
    "breach_record",
    "cost_by_day",
    "cost_in_all",
    "duties_in",
    "duties_of",
    "faults_in",
    "hand_shift",
    "last_change",
    "monday_of",
    "published",
    "roster_record",
    "undone",
    "week_of",
    "without_skill",
]

SCHEMA = "clothcast.roster/3"
WEEK = timedelta(days=DAYS)


def monday_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


@dataclass(frozen=True, slots=True)
class Answer:
    """A roster, or why there is none; one of the three is given.

    Attributes:
        unknown: no roster was found in time, and it is not proved that there is none.
    """

    roster: Roster | None
    conflict: Conflict | None
    unknown: bool


def week_of(data: SiteData, monday: date, needs: Mapping[date, StaffAnswer] | None = None) -> Week:
    """The question of a week: the people worked out for a day, else those planned while open.

    Args:
        needs: what the page Staff worked out, by day; people with a skill are asked for on those
            days, as far as the site has any.

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
    shut = [day for day in range(DAYS) if monday + timedelta(days=day) in closed]
    line, crew = data.site.line, data.site.crew
    planned = planned_people(crew.people, line.open_h, line.close_h, shut)
    worked_out = {
        (day - monday).days: (found.roles, found.called)
        for day, found in (needs or {}).items()
        if monday <= day < monday + WEEK
    }
    needed, skilled = people_asked(planned, worked_out, _skills(data.staff.people))
    last = duties_of(data.staff, monday - WEEK)
    return Week(monday, data.staff.people, data.site.shifts, needed, skilled, last)


def _skills(people: Sequence[Person]) -> set[str]:
    return {role for person in people for role in person.roles}


def without_skill(people: Sequence[Person], needs: Mapping[date, StaffAnswer]) -> tuple[str, ...]:
    """Roles needed on days worked out that nobody can do, as the site calls them.

    A week asks for anybody in their place, or it could never be covered. Floaters may be anybody
    as it is.
    """
    names = {
        found.called[role] for found in needs.values() for role in POSTS if any(found.roles[role])
    }
    return tuple(sorted(names - _skills(people)))


def duties_of(book: StaffBook, monday: date) -> tuple[Duty, ...]:
    """The shifts of a week as it was published."""
    return tuple(
        sorted(
            Duty(one.name, (one.day - monday).days, one.role, _shift(one))
            for one in book.shifts
            if monday <= one.day < monday + WEEK
        )
    )


def _shift(one: PlannedShift) -> Shift:
    times = (one.start_s, one.end_s, one.break_start_s, one.break_end_s)
    start, end, pause, pause_end = (round(at / SLOT_S) for at in times)
    return Shift(start, end, pause, pause_end)


def published(book: StaffBook, monday: date, duties: Sequence[Duty]) -> StaffBook:
    """The book with a week's shifts in place of those it had."""
    others = [one for one in book.shifts if not monday <= one.day < monday + WEEK]
    fresh = [
        PlannedShift(
            monday + timedelta(days=duty.day),
            duty.name,
            duty.role,
            duty.shift.start * SLOT_S,
            duty.shift.end * SLOT_S,
            duty.shift.pause * SLOT_S,
            duty.shift.pause_end * SLOT_S,
        )
        for duty in duties
    ]
    return StaffBook(book.people, (*others, *fresh)).in_order()


def answer(week: Week, most_s: float = 10.0, clock: Callable[[], float] = monotonic) -> Answer:
    """The roster of a week within so many seconds, or the rules in conflict and ways out."""
    left_s = countdown(most_s, clock)
    found = make_roster(week, most_s, clock)
    if isinstance(found, Roster):
        return Answer(found, None, False)
    conflict = explain(week, left_s, found.nearest, True) if found.proved else None
    return Answer(None, conflict, conflict is None)


def faults_in(week: Week, duties: Sequence[Duty]) -> tuple[Breach, ...]:
    """Every rule that a roster breaks; shifts of people who have left are let be."""
    names = {person.name for person in week.people}
    return faults_of(week, [duty for duty in duties if duty.name in names])


def cost_by_day(week: Week, duties: Sequence[Duty]) -> tuple[float, ...]:
    """Wages by weekday, without what overtime adds [money]."""
    wages = {person.name: person.wage_per_h for person in week.people}
    by_day = [0.0] * DAYS
    for duty in duties:
        by_day[duty.day] += wages.get(duty.name, 0.0) * duty.shift.paid_h(week.limits)
    return tuple(by_day)


def cost_in_all(week: Week, duties: Sequence[Duty]) -> float:
    """Wages of the week with overtime [money]."""
    return cost_of(week, duties)


def hand_shift(start_s: float, end_s: float, week: Week) -> Shift:
    """A shift typed by hand, its break as near its middle as may be."""
    start, end = round(start_s / SLOT_S), round(end_s / SLOT_S)
    early = shift_with_break(start, end, week.limits)
    length = early.pause_end - early.pause
    if not length:
        return early
    middle = max(early.pause, (start + end - length) // 2)
    return Shift(start, end, middle, middle + length)


def roster_record(week: Week, found: Answer) -> dict[str, Any]:
    """Everything that was found, as plain content."""
    content: dict[str, Any] = {"schema": SCHEMA, "monday": week.monday.isoformat()}
    content["proved_impossible"] = found.conflict is not None
    if found.roster is not None:
        content |= {
            "cost": found.roster.cost,
            "lp_bound": found.roster.lp_bound,
            "bound": found.roster.bound,
            "kept": found.roster.kept,
            "last_week": len(week.last),
            "cost_by_day": list(cost_by_day(week, found.roster.duties)),
            "shifts": _shifts(week, found.roster.duties),
        }
    if found.conflict is not None:
        content["conflict"] = {
            "rules": list(found.conflict.rules),
            "days": list(found.conflict.days),
            "minimal": found.conflict.minimal,
            "ways": [
                {
                    "breaches": [breach_record(one) for one in way.breaches],
                    "least": way.least,
                    "shifts": _shifts(week, way.duties),
                }
                for way in found.conflict.ways
            ],
        }
    return content


def breach_record(one: Breach) -> dict[str, Any]:
    """A broken rule as plain content."""
    return {
        "rule": one.rule, "name": one.name, "weekday": one.day, "amount": one.amount,
        "skills": list(one.skills),
    }  # fmt: skip


def _shifts(week: Week, duties: Sequence[Duty]) -> list[dict[str, Any]]:
    return [
        {
            "date": (week.monday + timedelta(days=duty.day)).isoformat(),
            "name": duty.name,
            "role": duty.role,
            "start_h": duty.shift.start / PER_H,
            "end_h": duty.shift.end / PER_H,
            "break_start_h": duty.shift.pause / PER_H,
            "break_end_h": duty.shift.pause_end / PER_H,
        }
        for duty in duties
    ]


def duties_in(record: Mapping[str, Any]) -> tuple[Duty, ...]:
    """The shifts of a `roster_record`."""
    monday = date.fromisoformat(record["monday"])
    return tuple(
        Duty(
            one["name"],
            (date.fromisoformat(one["date"]) - monday).days,
            one["role"],
            Shift(
                *(
                    round(one[name] * PER_H)
                    for name in ("start_h", "end_h", "break_start_h", "break_end_h")
                )
            ),
        )
        for one in record["shifts"]
    )


def last_change(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Of changes of shifts, newest first, those that the newest version of the site made."""
    return tuple(one for one in changes if one.version == changes[0].version)


def undone(book: StaffBook, changes: Sequence[Change]) -> StaffBook:
    """The book with shifts put back to what they were before they were changed."""
    shifts = {(one.day, one.name): one for one in book.shifts}
    for change in changes:
        held = change.old or change.new
        day = date.fromisoformat(held["day"])
        shifts.pop((day, held["name"]), None)
        if change.old:
            shifts[day, held["name"]] = PlannedShift(**{**change.old, "day": day})
    return StaffBook(book.people, tuple(shifts.values())).in_order()
