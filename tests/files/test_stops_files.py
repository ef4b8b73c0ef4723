"""Stops and alarms of anybody's table: what columns hold, which lines make which entries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from app.files.stops_file import (
    MINUTES,
    MOST_LINES,
    NONE,
    SECONDS,
    SHAPE,
    UNNAMED,
    StopsLook,
    StopsSaid,
    length_s,
    look_at_stops,
)
from app.files.text_table import text_table
from sim.inputs.logbook import ALARM, STOP

TODAY = date(2026, 7, 18)
CLASSES = (("pickup", "pickup, open bed"), ("van", "van"))
PLAIN = """Belt log of lane 1
Date,Time,Reason,Duration (min),Vehicle
07/14/2026,13:05,car crosswise,4,Pickup
07/14/2026,13:40:20,driver braked,0.5,
07/15/2026,9:12,,2:30,spaceship
"""


def look(
    text: str, said: StopsSaid | None = None, kept: Mapping[str, StopsSaid] | None = None,
    system: str = "us",
) -> StopsLook:  # fmt: skip
    """What a text would bring."""
    table = text_table(text.encode(), "belt.csv")
    return look_at_stops(table, said, (kept or {}).get, system, TODAY, CLASSES)


def test_a_table_is_understood_by_itself() -> None:
    """Date, time, cause, length and kind of car, whatever stands above the headings."""
    found = look(PLAIN)
    assert found.said == StopsSaid(
        STOP, "mdy", "Date", "Time", "Reason", "Duration (min)", MINUTES, "Vehicle"
    )
    assert found.problems == ()
    told = [
        (one.day.day, one.at_s / 60.0, one.kind, one.name, one.lasted_s, one.vehicle)
        for one in found.entries
    ]
    assert told == [
        (14, 785.0, STOP, "car crosswise", 240.0, "pickup"),
        (14, 820.0, STOP, "driver braked", 30.0, ""),
        (15, 552.0, STOP, UNNAMED, 150.0, ""),
    ]


@pytest.mark.parametrize(
    ("text", "kind", "unit", "cause"),
    [
        ("Zeitpunkt;Meldung;Dauer (s)\n14.07.2026 13:05;E 17;80\n15.07.2026 7:01;E 9;12\n",
         ALARM, SECONDS, "E 17"),
        ("stamp\talarm text\n2026-07-14 13:05:59\tair pressure low\n2026-07-14 14:00\tE 2\n",
         ALARM, MINUTES, "air pressure low"),
        ("when|why|length\n2026-07-14T13:05|car crosswise|95\n2026-07-14T15:05|pull cord|40\n",
         STOP, SECONDS, "car crosswise"),
    ],
)  # fmt: skip
def test_other_tables(text: str, kind: str, unit: str, cause: str) -> None:
    """Semicolons, tabs and bars; date and time in one column; seconds by the heading, or because
    no stop lasts so many minutes."""
    found = look(text)
    assert (found.said.kind, found.said.unit, found.problems) == (kind, unit, ())
    first = found.entries[0]
    assert (first.day, first.at_s, first.name) == (date(2026, 7, 14), 785.0 * 60.0, cause)


def test_the_same_line_makes_the_same_entry() -> None:
    """In another file and another place; two lines alike in one file are two stops."""
    once = look(PLAIN).entries
    lines = PLAIN.splitlines()
    other = look("\n".join([lines[1], lines[4], lines[2]])).entries
    assert {one.key for one in other} < {one.key for one in once}
    twice = look("\n".join([*lines[1:3], lines[2]])).entries
    assert len({one.key for one in twice}) == 2
    assert len(twice) == 2
    assert once[0].key in {one.key for one in twice}
    as_alarm = look(PLAIN, replace(look(PLAIN).said, kind=ALARM)).entries
    assert not {one.key for one in as_alarm} & {one.key for one in once}


def test_bad_lines_are_named() -> None:
    """With their number and why; the others stay."""
    text = (
        PLAIN
        + "tomorrow,13:05,x,1,\n07/19/2026,13:05,x,1,\n07/14/2026,noon,x,1,\n"
        + ("07/14/2026,13:05,x,ages,\n07/14/2026,13:05,=1+1,1,\n")
    )
    found = look(text)
    assert len(found.entries) == 3
    assert [str(one) for one in found.problems] == [
        "belt.csv, line 6: “tomorrow” is no date. Use one as in 2026-07-18 or 7/18/2026.",
        "belt.csv, line 7: 2026-07-19 is still to come. Look at the order of month and day.",
        "belt.csv, line 8: “noon” says no time of day. Use one as in 13:05.",
        "belt.csv, line 9: “ages” is no length of time. Use 4, 4.5, 4:30 or 0:04:30.",
        "belt.csv, line 10: “=1+1” can’t be used. Enter 1 to 60 characters, the first not “=”.",
    ]


def test_a_bad_line_of_two_leaves_the_other() -> None:
    """Half of the cells are dates, so that is what the column holds."""
    found = look("Date,Time,Reason\n07/14/2026,8:10,car crosswise\nsoon,8:40,driver braked\n")
    assert [one.name for one in found.entries] == ["car crosswise"]
    assert [one.where for one in found.problems] == ["belt.csv, line 3"]


def test_month_and_day_go_by_what_can_be() -> None:
    """By a thirteenth month, by days to come, else by the country; and as somebody says."""
    head = "Date,Time,Reason\n"
    for lines, system, order in (
        ("13/07/2026,9:00,x\n", "us", "dmy"), ("07/13/2026,9:00,x\n", "si", "mdy"),
        ("08/07/2026,9:00,x\n", "us", "dmy"), ("05/06/2026,9:00,x\n", "us", "mdy"),
        ("05/06/2026,9:00,x\n", "si", "dmy"),
    ):  # fmt: skip
        assert look(head + lines, system=system).said.order == order, lines
    said = replace(look(head + "05/06/2026,9:00,x\n").said, order="dmy")
    assert look(head + "05/06/2026,9:00,x\n", said).entries[0].day == date(2026, 6, 5)


def test_columns_are_matched_once() -> None:
    """A file with the same headings is read as the last one was; one that lacks a column of that
    is looked at afresh. No table of counts has a shape of that name."""
    first = look(PLAIN)
    said = replace(first.said, cause="Vehicle", vehicle=NONE)
    again = look(PLAIN, kept={first.shape: said})
    assert (again.is_kept, again.said, again.entries[0].name) == (True, said, "Pickup")
    assert first.shape.startswith(SHAPE)
    assert len(first.shape) == 20
    gone = look(PLAIN, kept={first.shape: replace(said, cause="Gone")})
    assert (gone.is_kept, gone.said) == (False, first.said)


@pytest.mark.parametrize(
    ("text", "why"),
    [("", "The file is empty"), ("a,b\nx,y\n", "No column says when it was"),
     ("Date,Time\n" + "2026-07-14,9:00\n" * (MOST_LINES + 1), "can be brought in at a time")],
)  # fmt: skip
def test_what_is_no_table_of_stops(text: str, why: str) -> None:
    """Nothing of it is taken, and it is said why."""
    found = look(text)
    assert found.entries == ()
    assert why in " ".join(map(str, found.problems))


@pytest.mark.parametrize(
    ("cell", "unit", "seconds"),
    [("4", MINUTES, 240.0), ("4.5", MINUTES, 270.0), ("90", SECONDS, 90.0),
     ("4:30", SECONDS, 270.0), ("1:04:30", MINUTES, 3870.0), ("-1", MINUTES, None),
     ("soon", MINUTES, None)],
)  # fmt: skip
def test_a_length_of_time(cell: str, unit: str, seconds: float | None) -> None:
    """A number in the unit of its column, or a length with colons, whatever that is."""
    assert length_s(cell, unit, comma=False) == seconds
    assert length_s("4,5", MINUTES, comma=True) == 270.0
