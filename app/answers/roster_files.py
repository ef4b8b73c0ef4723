"""A week's roster as tables, and one person's shifts as a calendar."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from app.answers.roster import days_of, monday_of
from app.catalogue import _
from app.db import store
from app.db.session import Session
from app.db.store import CalendarEntry, StoredSite, load_calendar
from app.files.sheets import Sheet
from app.sites.calendar import calendar_file, new_uid, of_calendar
from app.sites.changes import Gate
from sim.inputs import PlannedShift, SiteData
from sim.units import show_clock


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


def _names(data: SiteData, shifts: Sequence[PlannedShift]) -> list[str]:
    """Everybody on the list, and whoever has left but has some of these shifts."""
    listed = [person.name for person in data.staff.people]
    return [*listed, *sorted({one.name for one in shifts} - set(listed))]


def _week(data: SiteData, monday: date) -> Sheet:
    shifts = data.staff.in_week(monday)
    rows = []
    for name in _names(data, shifts):
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
    return tuple(_names(data, [one for one in data.staff.shifts if one.day >= first]))
