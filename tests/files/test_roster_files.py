"""Files of a roster: tables with the types that went in, a person's calendar that follows it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import openpyxl
import pytest
from icalendar import Calendar

from app.answers.staff import (
    about_person,
    export_shifts,
    roster_sheets,
    shift_entries,
    with_calendar,
)
from app.db import store
from app.db.session import Session
from app.db.store import load_calendar
from app.files.sheets import sheet_csv, workbook
from app.sites.changes import Gate
from sim.inputs import HoursLimits, Person, PlannedShift, Site, SiteData, StaffBook
from tests.published.test_rfc5545 import strictly
from tests.world import NOW

MONDAY = date(2026, 10, 26)
"""Clocks go back in New York on the Sunday of this week."""
PEOPLE = (Person("Ada; “first”, north", ("loader",), 20.0), Person("Ben", (), 18.0))


def shift(name: str, day: int, start_h: float, end_h: float, pause_h: float = 0.0) -> PlannedShift:
    """A shift with half an hour of break, or none."""
    pause = (pause_h * 3600.0, (pause_h + 0.5) * 3600.0) if pause_h else (end_h * 3600.0,) * 2
    return PlannedShift(
        MONDAY + timedelta(days=day), name, "loader" if day == 0 else "",
        start_h * 3600.0, end_h * 3600.0, *pause,
    )  # fmt: skip


SHIFTS = (
    shift(PEOPLE[0].name, 0, 8.0, 16.0, 12.0),
    shift(PEOPLE[0].name, 5, 8.0, 12.0),
    shift(PEOPLE[0].name, 6, 8.0, 12.0),
    shift("Ben", 0, 16.0, 24.0, 20.0),
    shift("Gone", 2, 9.0, 13.0),
)
DATA = SiteData(
    replace(Site("Wash", "America/New_York"), shifts=HoursLimits()),
    staff=StaffBook(PEOPLE, SHIFTS),
)


def test_the_spreadsheet_has_dates_times_and_numbers() -> None:
    """Seven and a half hours paid at 20 are 150; whoever left has no wage; a name like a formula
    is text; the week reads as a grid, and days add up to the shifts."""
    odd = {"Ben": "=Ben"}
    named = StaffBook(
        tuple(replace(one, name=odd.get(one.name, one.name)) for one in PEOPLE),
        tuple(replace(one, name=odd.get(one.name, one.name)) for one in SHIFTS),
    )
    sheets = roster_sheets(replace(DATA, staff=named), MONDAY)
    book = openpyxl.load_workbook(io.BytesIO(workbook(sheets, NOW)))
    rows = [[cell.value for cell in row] for row in book["Shifts"].iter_rows(min_row=2)]
    first = next(row for row in rows if row[1] == PEOPLE[0].name)
    assert first[0].date() == MONDAY
    assert first[2] == "loader"
    assert first[3:7] == [timedelta(hours=h) for h in (8, 16, 12, 12.5)]
    assert first[7:] == [7.5, 150.0]
    ben = next(row for row in rows if row[1] == "=Ben")
    assert ben[4] == timedelta(hours=24)
    assert next(row for row in rows if row[1] == "Gone")[8] is None
    assert {cell.data_type for cell in book["Shifts"]["B"]} == {"s"}
    week = [[cell.value for cell in row] for row in book["Week"].iter_rows(min_row=2)]
    assert [row[0] for row in week] == [PEOPLE[0].name, "=Ben", "Gone"]
    assert week[0][1] == "8:00–16:00"
    assert week[0][8] == 7.5 + 4.0 + 4.0
    costs = [[cell.value for cell in row] for row in book["Cost by day"].iter_rows(min_row=2)]
    assert sum(row[1] for row in costs) == len(SHIFTS)
    assert costs[0][3] == pytest.approx(150.0 + 7.5 * 18.0)
    assert sheet_csv(sheets[0]).splitlines()[1].startswith("2026-10-26,'=Ben,loader,16:00,24:00")


def calendar(session: Session, book: StaffBook, now: datetime = NOW) -> Calendar:
    """What Ada's file holds after the roster has become that book."""
    stored = store.get_site(session, 1)
    Gate(session, store.built_in_person(session), now).set_book(
        1, "staff", book, stored.version, f"{now.isoformat()} {len(book.shifts)}"
    )
    stored = store.get_site(session, 1)
    return strictly(export_shifts(session, now, stored, PEOPLE[0].name, MONDAY))


def told(found: Calendar) -> dict[date, tuple[str, int, str]]:
    """UID, number and status by day."""
    return {
        event.decoded("dtstart").date(): (
            str(event["uid"]), int(str(event["sequence"])), str(event["status"]),
        )
        for event in found.walk("VEVENT")
    }  # fmt: skip


def test_a_calendar_follows_its_person(session: Session) -> None:
    """A shift that moves keeps its identity and counts up, one taken away is cancelled, one that
    comes back goes on with its number; nobody else's entries are touched."""
    gate = Gate(session, store.built_in_person(session), NOW)
    gate.create_site(DATA, "make")
    first = told(calendar(session, DATA.staff))
    days = [MONDAY, MONDAY + timedelta(days=5), MONDAY + timedelta(days=6)]
    assert sorted(first) == days
    assert {one[1:] for one in first.values()} == {(0, "CONFIRMED")}
    stored = store.get_site(session, 1)
    other = strictly(export_shifts(session, NOW, stored, "Ben", MONDAY))
    moved = StaffBook(PEOPLE, (shift(PEOPLE[0].name, 0, 9.0, 16.0, 12.0), *SHIFTS[2:]))
    second = told(calendar(session, moved, NOW + timedelta(hours=1)))
    assert second[days[0]] == (first[days[0]][0], 1, "CONFIRMED")
    assert second[days[1]] == (first[days[1]][0], 1, "CANCELLED")
    assert second[days[2]] == first[days[2]]
    third = told(calendar(session, DATA.staff, NOW + timedelta(hours=2)))
    assert third[days[0]] == (first[days[0]][0], 2, "CONFIRMED")
    assert third[days[1]] == (first[days[1]][0], 2, "CONFIRMED")
    again = strictly(export_shifts(session, NOW, store.get_site(session, 1), "Ben", MONDAY))
    assert told(again) == told(other)
    assert len(load_calendar(session, 1)) == 4


def test_shifts_keep_their_clock_across_a_change(session: Session) -> None:
    """8:00 in New York is 12:00 by universal time on Saturday 31 October 2026 and 13:00 on the
    Sunday after clocks went back (Energy Policy Act of 2005: first Sunday of November)."""
    Gate(session, store.built_in_person(session), NOW).create_site(DATA, "make")
    found = calendar(session, DATA.staff)
    hours = {
        event.decoded("dtstart").date(): event.decoded("dtstart").astimezone(UTC).hour
        for event in found.walk("VEVENT")
    }
    assert hours[MONDAY + timedelta(days=5)] == 12
    assert hours[MONDAY + timedelta(days=6)] == 13
    event = next(e for e in found.walk("VEVENT") if e.decoded("dtstart").date() == MONDAY)
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(hours=8)
    assert str(event["description"]) == "loader Break 12:00–12:30."
    assert str(event["summary"]) == "Work at Wash"
    assert str(event["transp"]) == "OPAQUE"


def test_entries_of_people_with_long_names_stay_apart() -> None:
    """Keys fit their column and never meet."""
    names = ("a" * 40, "a" * 39 + "b")
    keys = [
        shift_entries((shift(name, 0, 8.0, 12.0),), name, "Wash")[0].key for name in names
    ]  # fmt: skip
    assert len(set(keys)) == 2
    assert max(map(len, keys)) <= 40
    assert not about_person(names[0]).startswith(about_person(names[1]))


def test_who_can_have_a_calendar() -> None:
    """Everybody on the list, so that a calendar can lose its last shift; whoever left while they
    have shifts."""
    assert with_calendar(DATA, MONDAY + timedelta(days=3)) == (PEOPLE[0].name, "Ben", "Gone")
    assert with_calendar(DATA, MONDAY + timedelta(days=7)) == (PEOPLE[0].name, "Ben")


def test_an_end_keeps_its_hour_when_clocks_change(session: Session) -> None:
    """From 0:00 to 4:00 on the night of 1 November 2026 clocks show four hours and five pass."""
    night = shift(PEOPLE[0].name, 6, 0.0, 4.0)
    Gate(session, store.built_in_person(session), NOW).create_site(DATA, "make")
    (event,) = calendar(session, StaffBook(PEOPLE, (night,))).walk("VEVENT")
    assert event.decoded("dtend").hour == 4
    passed = event.decoded("dtend").astimezone(UTC) - event.decoded("dtstart").astimezone(UTC)
    assert passed == timedelta(hours=5)
