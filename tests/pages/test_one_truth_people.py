"""People, coming days and cloth are told in one way on pages, in tables, spreadsheets, JSON and
calendar files; on several days of the demo."""

from __future__ import annotations

import io
import json
import re
from collections import defaultdict
from datetime import date, datetime, timedelta

import openpyxl
import pytest
from icalendar import Calendar

from sim.inputs.roster import WEEK
from sim.units import NBSP
from tests.pages.figures_shown import Node
from tests.pages.pages import page_of
from tests.pages.quantities import is_rounded, root, rows_of, words_of
from tests.pages.told_day import SLUG, Told

Came = set[tuple[str, str]]
"""Who comes, and from when to when."""
SPAN = re.compile(r"(\d+:\d\d)–(\d+:\d\d)")


def table_with(text: str, *heads: str) -> list[list[str]]:
    """The rows of the table of a page that has some heads."""
    for table in (one for one in root(text).all() if one.tag == "table"):
        rows = [[words_of(cell) for cell in one.nodes] for one in table.all() if one.tag == "tr"]
        if rows and set(heads) <= set(rows[0]):
            return rows
    raise AssertionError(f"no table with {heads}")


def day_words(day: date) -> str:
    """A date as pages write it."""
    return f"{day:%A} {day.day} {day:%B}"


def came_by_list(text: str) -> Came:
    """Who comes by the list of a page."""
    lists = [one for one in root(text).all() if one.tag == "ul" and "comes" in one.kinds]
    lines = [words_of(item) for one in lists for item in one.nodes if isinstance(item, Node)]
    return {(line.rpartition(" ")[0], line.rpartition(" ")[2]) for line in lines}


# ---- people --------------------------------------------------------------------------------------


def test_who_comes_is_told_alike_by_page_sheet_and_files(told: Told) -> None:
    """Today, the day sheet and the week’s table name the same people and times as the roster’s
    table, spreadsheet and calendar files."""
    monday = told.day - timedelta(days=told.day.weekday())
    week = f"roster/{monday}"
    rows = [row for row in rows_of(told.text(f"{week}/roster.csv")) if row["date"] == str(told.day)]
    by_file = {(row["name"], f"{row['start']}–{row['end']}") for row in rows}
    assert came_by_list(told.pages["today"]) == by_file
    assert came_by_list(told.pages["sheet/{day}"]) == by_file
    if not by_file:
        assert "Nobody is on the roster" in words_of(root(told.pages["today"]))
        return
    grid = table_with(told.text(week), "Who", "Hours")
    at = next(i for i, head in enumerate(grid[0]) if head.endswith(f" {told.day.day}"))
    assert {(row[0], row[at]) for row in grid[1:] if SPAN.fullmatch(row[at])} == by_file
    book = openpyxl.load_workbook(io.BytesIO(told.client.get(f"{SLUG}/{week}/roster.xlsx").content))
    heads, *cells = book["Shifts"].iter_rows(values_only=True)
    named = [dict(zip(map(str, heads), one, strict=True)) for one in cells]
    there = {
        (str(one["name"]), f"{clock_of(one['start'])}–{clock_of(one['end'])}")
        for one in named
        if day_of(one["date"]) == told.day
    }
    assert there == by_file
    form = page_of(told.client.get(f"{SLUG}/{week}")).form(f"{SLUG}/{week}/calendar.ics")
    for name, span in sorted(by_file)[:2]:
        raw = told.client.post(form.action, data=form.data(person=name)).content
        spans = {
            f"{clock_of(one.decoded('dtstart'))}–{clock_of(one.decoded('dtend'))}"
            for one in Calendar.from_ical(raw).walk("VEVENT")
            if one.decoded("dtstart").date() == told.day
        }
        assert spans == {span}, name


def day_of(cell: object) -> date:
    """The date of a cell of a spreadsheet."""
    assert isinstance(cell, datetime)
    return cell.date()


def clock_of(cell: object) -> str:
    """The time of day of a cell of a spreadsheet or of a calendar's entry."""
    if isinstance(cell, timedelta):
        minutes = round(cell.total_seconds() / 60.0)
        return f"{minutes // 60}:{minutes % 60:02}"
    hour, minute = getattr(cell, "hour", None), getattr(cell, "minute", None)
    assert isinstance(hour, int)
    assert isinstance(minute, int)
    return f"{hour}:{minute:02}"


def test_a_week_costs_the_same_on_its_page_and_in_its_file(told: Told) -> None:
    """Costs by day and hours by person of the week’s table are the sums of the file’s rows."""
    monday = told.day - timedelta(days=told.day.weekday())
    rows = rows_of(told.text(f"roster/{monday}/roster.csv"))
    page = told.text(f"roster/{monday}")
    if not rows:
        assert "has no roster yet" in words_of(root(page))
        return
    wages, paid = defaultdict[str, float](float), defaultdict[str, float](float)
    for row in rows:
        wages[row["date"]] += float(row["wage"])
        paid[row["name"]] += float(row["paid_hours"])
    grid = table_with(page, "Who", "Hours")
    cost = grid[-1]
    assert cost[0] == "Cost"
    days = [str(monday + timedelta(days=at)) for at in range(WEEK.days)]
    for day, printed in zip(days, cost[1:], strict=False):
        assert is_rounded(wages[day], printed), day
    assert cost[-1] in words_of(root(page)).partition("overtime included")[0]
    for name, *_cells, hours in grid[1:-1]:
        assert is_rounded(paid[name], hours), name


def test_people_needed_are_the_same_on_staff_today_and_roster(told: Told) -> None:
    """Today names the fewest and the most that Staff needs, where nobody is on the roster, and the
    roster asks for as many hours; the spreadsheet has the table’s rows."""
    rows = rows_of(told.text(f"staff/{told.day}/people.csv"))
    needed = [int(row["Needed"]) for row in rows if int(row["Needed"])]
    said = re.findall(r"(\d+)(?: to (\d+))? people are needed", words_of(root(told.pages["today"])))
    for least, most in said:
        assert (int(least), int(most or least)) == (min(needed), max(needed))
    monday = told.day - timedelta(days=told.day.weekday())
    asked = table_with(told.text(f"roster/{monday}"), "Needed", "Where that is from")
    (hours,) = [row[1] for row in asked[1:] if row[0] == f"{told.day:%A} {told.day.day}"]
    assert is_rounded(sum(needed) / 2.0, hours.replace(NBSP, " ").split()[0])
    raw = told.client.get(f"{SLUG}/staff/{told.day}/people.xlsx").content
    heads, *cells = openpyxl.load_workbook(io.BytesIO(raw))["People by half-hour"].iter_rows(
        values_only=True
    )
    at = [heads.index(head) for head in ("From", "Needed", "Planned")]
    assert [[clock_of(row[at[0]]), row[at[1]], row[at[2]]] for row in cells] == [
        [row["From"], int(row["Needed"]), int(row["Planned"])] for row in rows
    ]


# ---- the hours -----------------------------------------------------------------------------------


def test_hours_of_today_are_those_of_the_file(told: Told) -> None:
    """Stack and damp cars by the hour on Today are the advised column’s in the plan’s file."""
    hours = table_with(told.pages["today"], "From", "Stack", "Damp at the wheel, %")
    at = [hours[0].index(head) for head in ("From", "Stack", "Damp at the wheel, %")]
    act = next(
        words_of(one)
        for one in root(told.pages["today"]).all()
        if one.tag == "p" and "small" in one.kinds and "As planned: “" in words_of(one)
    )
    name = re.findall("“(.+?)”", act)[0]
    rows = {
        int(row["hour"]): row
        for row in rows_of(told.text(f"plan/{told.day}/hours.csv"))
        if row["scenario"] == name
    }
    assert len(hours) > 8
    for row in hours[1:]:
        hour = rows[int(row[at[0]].partition(":")[0])]
        assert is_rounded(float(hour["stack_mean"]), row[at[1]])
        assert is_rounded(100.0 * float(hour["damp_share"]), row[at[2]])


# ---- the coming days -----------------------------------------------------------------------------


def test_the_next_days_are_those_of_the_coming_days(told: Told) -> None:
    """The strip of Today has the cars, the heat and the rule of the page of the coming days, and
    each day’s own page expects the same cars."""
    strip = table_with(told.pages["today"], "Day", "Wiping", "Cars", "Air")
    assert len(strip) == 1 + 7
    days = [told.day + timedelta(days=1 + at) for at in range(7)]
    for day, (name, _wiping, cars, _air) in zip(days, strip[1:], strict=True):
        assert name == day_words(day)
        if cars:
            assert f"About {cars} cars" in words_of(root(told.text(f"plan/{day}")))
    if not told.is_whole:
        assert "not worked out yet" in strip[1][1]
        return
    coming = {row[0]: row[1:] for row in table_with(told.pages["coming"], "Day", "Rule")[1:]}
    whole = table_with(told.pages["coming"], "Day", "Rule", "Always full")
    rests = {row[0].partition("About ")[0].strip(): row[0] for row in whole[1:]}
    checked = 0
    for name, wiping, cars, air in strip[1:]:
        if name not in coming:
            assert "not worked out yet" in wiping
            continue
        rule, checked = coming[name][0], checked + 1
        assert wiping.startswith("about: ") == rule.startswith("About: ")
        assert ("full all day" in wiping) == ("Wipe in full all day" in rule)
        assert ("reduced all day" in wiping) == ("Reduce all day" in rule)
        assert f"About {cars} cars. {air} at most" in rests[name]
    assert checked == 3


def test_what_is_due_stands_on_its_day_of_the_strip(told: Told) -> None:
    """The mornings of laundry and of a change of set stand in the strip on the days that Cloth, its
    JSON and the calendar file name, and on no other."""
    if not told.is_whole:
        assert "change of set" not in told.pages["today"]
        return
    due = {row[0]: row[1] for row in table_with(told.pages["today"], "Day", "Wiping", "Cars")[1:]}
    answer = json.loads(told.text("cloth.json"))
    laundry = date.fromisoformat(answer["laundry_due"]["day"])
    change = date.fromisoformat(answer["due"]["quiet"]["day"])
    assert [day for day, what in due.items() if "laundry" in what] == [day_words(laundry)]
    assert [day for day, what in due.items() if "change of set" in what] == [day_words(change)]
    cloth = words_of(root(told.pages["cloth"]))
    assert f"in the morning of {day_words(change)}" in cloth
    form = next(
        one
        for one in page_of(told.client.get(f"{SLUG}/cloth/season")).forms
        if one.action.endswith("calendar.ics")
    )
    events = Calendar.from_ical(told.client.post(form.action, data=form.data()).content)
    mornings = {
        what: sorted(
            one.decoded("dtstart").date()
            for one in events.walk("VEVENT")
            if what in str(one["summary"])
        )
        for what in ("to the laundry", "change a worn set")
    }
    assert mornings["to the laundry"][0] == laundry
    assert change in mornings["change a worn set"]


def test_sets_are_told_alike_by_page_and_json(told: Told) -> None:
    """Wear and launderings of each set on Cloth are those of its JSON."""
    if not told.is_whole:
        assert told.client.get(f"{SLUG}/cloth.json").status_code == 404
        return
    sets = {one["name"]: one for one in json.loads(told.text("cloth.json"))["sets"]}
    text = told.pages["cloth"]
    shown = [
        dict(zip(rows[0], row, strict=False))
        for rows in (
            table_with(text, "Set", "Worn out about"), table_with(text, "Set", "Where", "Laundered")
        )
        for row in rows[1:]
    ]  # fmt: skip
    assert len(shown) >= 4
    for row in shown:
        one = sets[row["Set"]]
        assert is_rounded(one["age_cars"], row["Wear, full wipes"].removeprefix("about "))
        assert row["Laundered"].partition(",")[0] == str(one["launderings"])


def test_days_of_the_season_are_those_of_its_spreadsheet(told: Told) -> None:
    """The table of days is the spreadsheet’s, to the digit."""
    if not told.is_whole:
        return
    rows = rows_of(told.text("cloth/season/days.csv"))
    raw = told.client.get(f"{SLUG}/cloth/season/season.xlsx").content
    book = openpyxl.load_workbook(io.BytesIO(raw))
    heads, *cells = book["Days"].iter_rows(values_only=True)
    assert list(rows[0]) == list(heads)
    for row, line in zip(rows, cells, strict=True):
        for head, cell in zip(heads, line, strict=True):
            if isinstance(cell, int | float) and not isinstance(cell, bool):
                assert float(row[str(head)]) == pytest.approx(cell, rel=1e-9, abs=1e-9), head
