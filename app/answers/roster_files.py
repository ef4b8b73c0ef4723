"""A week's roster as tables, and one person's shifts as a calendar."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from app.answers.roster import PER_H, Duty, duties_of, monday_of
from app.catalogue import _
from app.db import store
from app.db.calendars import Entry, load_calendar
from app.db.session import Session
from app.db.store import StoredSite
from app.files.calendar_file import calendar_file, new_uid
from app.files.sheets import Cell, Sheet
from app.sites.calendar_book import of_calendar
from app.sites.changes import Gate
from sim.decide.staff.week import DAYS
from sim.inputs import HoursLimits, Person, PlannedShift, SiteData
from sim.units import show_clock


def roster_sheets(data: SiteData, monday: date) -> tuple[Sheet, ...]:
    """A week as it is published: its shifts, the week as a person reads it, cost by day."""
    duties = duties_of(data.staff, monday)
    return shifts_sheet(data, monday), _week(data, monday, duties), _costs(data, monday, duties)


def shifts_sheet(data: SiteData, monday: date) -> Sheet:
    """A row a shift, in order of day and name."""
    heads = (
        _("date"), _("name"), _("role"), _("start"), _("end"), _("break_start"), _("break_end"),
        _("paid_hours"), _("wage"),
    )  # fmt: skip
    people = {person.name: person for person in data.staff.people}
    rows = tuple(
        (
            monday + timedelta(days=duty.day),
            duty.name,
            duty.role,
            _time(duty.shift.start),
            _time(duty.shift.end),
            *((_time(duty.shift.pause), _time(duty.shift.pause_end)) if _pauses(duty) else NONE),
            duty.shift.paid_h(data.site.shifts),
            _wage(duty, people, data.site.shifts),
        )
        for duty in sorted(duties_of(data.staff, monday), key=lambda duty: (duty.day, duty.name))
    )
    return Sheet(_("Shifts"), heads, rows)


NONE: tuple[Cell, Cell] = (None, None)


def _pauses(duty: Duty) -> bool:
    return duty.shift.pause_end > duty.shift.pause


def _time(half_hour: int) -> timedelta:
    """A half-hour's time of day, from midnight on."""
    return timedelta(hours=half_hour / PER_H)


def _wage(duty: Duty, people: dict[str, Person], limits: HoursLimits) -> Cell:
    """Wage of a shift without what overtime adds [money]; nothing for somebody who has left."""
    person = people.get(duty.name)
    return None if person is None else person.wage_per_h * duty.shift.paid_h(limits)


def _names(data: SiteData, duties: Sequence[Duty]) -> list[str]:
    listed = [person.name for person in data.staff.people]
    return [*listed, *sorted({duty.name for duty in duties} - set(listed))]


def _week(data: SiteData, monday: date, duties: Sequence[Duty]) -> Sheet:
    days = [monday + timedelta(days=day) for day in range(DAYS)]
    cells = {(duty.name, duty.day): duty for duty in duties}
    rows = []
    for name in _names(data, duties):
        mine = [cells.get((name, day)) for day in range(DAYS)]
        hours = sum(duty.shift.paid_h(data.site.shifts) for duty in mine if duty is not None)
        rows.append((name, *("" if duty is None else _span(duty) for duty in mine), hours))
    heads = (_("Who"), *(f"{day:%Y-%m-%d}" for day in days), _("Hours"))
    return Sheet(_("Week"), heads, tuple(rows))


def _span(duty: Duty) -> str:
    start, end = (show_clock(3600.0 * at / PER_H) for at in (duty.shift.start, duty.shift.end))
    return f"{start}–{end}"


def _costs(data: SiteData, monday: date, duties: Sequence[Duty]) -> Sheet:
    people = {person.name: person for person in data.staff.people}
    rows = []
    for day in range(DAYS):
        mine = [duty for duty in duties if duty.day == day]
        hours = sum(duty.shift.paid_h(data.site.shifts) for duty in mine)
        wages = [_wage(duty, people, data.site.shifts) for duty in mine]
        cost = sum(wage for wage in wages if isinstance(wage, float))
        rows.append((monday + timedelta(days=day), len(mine), hours, cost))
    heads = (_("Day"), _("Shifts"), _("Hours paid"), _("Wages without overtime"))
    return Sheet(_("Cost by day"), heads, tuple(rows))


def shift_entries(shifts: Sequence[PlannedShift], name: str, site: str) -> tuple[Entry, ...]:
    """One person's shifts as entries of a calendar, in order of time."""
    about = about_person(name)
    return tuple(
        Entry(
            f"{about}{one.day.isoformat()}",
            one.day,
            one.start_s,
            (one.end_s - one.start_s) / 60.0,
            _("Work at {site}", site=site),
            _about_shift(one),
        )
        for one in sorted(shifts, key=lambda one: one.day)
        if one.name == name
    )


def about_person(name: str) -> str:
    """How keys of somebody's entries begin; from a hash, since a name may be long."""
    return f"shift-{hashlib.sha256(name.encode()).hexdigest()[:12]}-"


def _about_shift(one: PlannedShift) -> str:
    parts = [one.role] if one.role else []
    if one.break_end_s > one.break_start_s:
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
    listed = _names(data, ())
    held = {one.name for one in data.staff.shifts if one.day >= first}
    return (*listed, *sorted(held - set(listed)))


__all__ = [
    "about_person",
    "export_shifts",
    "with_calendar",
    "roster_sheets",
    "shift_entries",
    "shifts_sheet",
]
