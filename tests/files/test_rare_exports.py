"""Exports that are seldom met come in as well: notations, spreadsheets' own cells, double lines."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import openpyxl
import pytest

from app.files import sheets
from app.files.csv_table import LIMIT_BYTES, table_csv
from app.files.look import LINES, Said
from app.files.sheets import sheet_rows
from app.files.stamps import clock, number, stamp
from tests.files.hourly import told
from tests.files.test_exports import asked, hours, read

NOON = 12 * 60


@pytest.mark.parametrize(
    ("cell", "day", "minute", "offset"),
    [
        # RFC 3339, section 5.8: universal time is named by a Z, other times by their offset
        ("2026-07-18T09:30:00Z", date(2026, 7, 18), 570, 0),
        ("2026-07-18T09:30:00-04:00", date(2026, 7, 18), 570, -240),
        ("July 18, 2026 9:30 pm", date(2026, 7, 18), 1290, None),
        ("18 July 2026 9:30", date(2026, 7, 18), 570, None),
    ],
)
def test_stamps_with_offsets_and_months_by_name(
    cell: str, day: date, minute: int, offset: int | None
) -> None:
    """A stamp says its day, its minute and how far it is ahead of universal time."""
    found = stamp(cell)
    assert found is not None
    assert found.clock is not None
    assert (found.on("mdy"), found.clock.minute, found.offset) == (day, minute, offset)


@pytest.mark.parametrize(
    "cell",
    ["2026-07-18 24:30", "2026-07-18 9:00–10:00", "July 38, 2026", "38 July 2026", "7/8/26 x"],
)
def test_what_is_no_moment_is_none(cell: str) -> None:
    """No 38th of July, nothing after 24:00, and no range is a moment."""
    assert stamp(cell) is None


@pytest.mark.parametrize("cell", ["13 pm", "0 am", "9:00-25:00", "9:00-10:00-11:00"])
def test_what_is_no_hour_is_none(cell: str) -> None:
    """Halves of a day have hours from 1 to 12, days 24, and a range two ends."""
    assert clock(cell) is None


@pytest.mark.parametrize(
    ("cell", "value"),
    [("(12.50)", "-12.50"), ("12.50-", "-12.50"), ("$ 1,234.5", "1234.5"), ("7" * 41, None)],
)
def test_amounts_as_accountants_write_them(cell: str, value: str | None) -> None:
    """Brackets and a minus behind make an amount negative; forty digits are no amount."""
    assert number(cell, comma=False) == (None if value is None else Decimal(value))


def test_a_column_of_halves_says_morning_or_afternoon() -> None:
    """AM and PM may have a column of their own, beside an hour or beside a stamp."""
    lines = ["day,hour,half,cars"]
    lines += [f"2026-07-{d},{h},{half},{n}" for d in (17, 18) for h, half, n in NOONS]
    beside_hour = hours(read("\n".join(lines)))
    lines = ["at,half,cars"]
    lines += [f"2026-07-{d} {h}:00,{half},{n}" for d in (17, 18) for h, half, n in NOONS]
    beside_stamp = hours(read("\n".join(lines)))
    wanted = {(d, h): n for d in (17, 18) for h, n in ((11, 5), (12, 7), (13, 9), (14, 4))}
    assert beside_hour == beside_stamp == wanted


NOONS = ((11, "AM", 5), (12, "PM", 7), (1, "PM", 9), (2, "PM", 4))


def test_hours_across_may_turn_at_noon() -> None:
    """Headings 10, 11, 12, 1, 2, 3 are six hours in a row."""
    text = "day,10:00,11:00,12:00,1:00,2:00,3:00\n2026-07-17,1,2,3,4,5,6\n2026-07-18,6,5,4,3,2,1\n"
    found = hours(read(text))
    assert [found[17, h] for h in range(10, 16)] == [1, 2, 3, 4, 5, 6]


def test_a_day_stands_for_the_lines_below_it() -> None:
    """Reports name a day once; a moment that is empty is told."""
    text = "day,hour,cars\n2026-07-18,9:00,5\n,10:00,7\n2026-07-19,9:00,4\n2026-07-20,9:00,4\n"
    assert hours(read(text)) == {(18, 9): 5, (18, 10): 7, (19, 9): 4, (20, 9): 4}
    lines = [f"2026-07-18 {h}:00,{3 * h}" for h in range(8, 19)]
    preview = read("\n".join(["at,cars", *lines[:5], ",7", *lines[5:]]))
    assert len(preview.history.counts) == 11
    assert told(preview.problems) == [
        "counts.csv, line 7: at is empty. Write the day on which cars were counted."
    ]


@pytest.mark.parametrize(("order", "bad"), [("mdy", "13/07/2026"), ("dmy", "07/13/2026")])
def test_a_date_in_the_other_order_is_named(order: str, bad: str) -> None:
    """Among many dates one that only the other order reads is refused, not turned round."""
    pattern = {"mdy": "07/{:02d}/2026", "dmy": "{:02d}/07/2026"}[order]
    days = [pattern.format(day) for day in range(1, 29)]
    lines = [f"{day},9:00,{len(day)}" for day in [*days, *days, bad]]
    preview = read("\n".join(["day,hour,cars", *lines]))
    which = {"mdy": "month", "dmy": "day"}[order]
    assert told(preview.problems) == [
        f"counts.csv, line 58: day “{bad}” is not a date with the {which} first."
    ]
    assert len(preview.history.counts) == 28


def test_days_that_would_lie_in_the_future_are_day_first() -> None:
    """The ninth and tenth of July are past; the seventh of September and October are to come."""
    preview = read(
        "d,h,cars\n" + "".join(f"{d}/07/2026,{h},5\n" for d in ("09", "10") for h in (8, 9))
    )
    assert preview.look is not None
    said = "Dates are day first; month first some would lie in the future."
    assert str(preview.look.told[0]) == said


def test_headings_that_come_again_are_passed_over() -> None:
    """Pages of a printed report repeat their headings; no line is refused for it."""
    pages = [[f"2026-07-{d},{h}:00,{d * h % 7}" for h in range(8, 19)] for d in (17, 18)]
    preview = read("\n".join(["day,hour,cars", *pages[0], "day,hour,cars", *pages[1]]))
    assert hours(preview) == {(d, h): d * h % 7 for d in (17, 18) for h in range(8, 19)}
    assert preview.problems == ()


def test_two_totals_of_a_day_are_told() -> None:
    """A day's total that stands twice with different cars keeps the first."""
    days = "".join(f"2026-07-{d:02d},{100 + d}\n" for d in range(1, 15))
    preview = read("day,cars\n" + days + "2026-07-14,90\n")
    assert told(preview.problems) == [
        "counts.csv, line 16: 2026-07-14 is on line 15 already, with 114 cars in place of 90. Keep "
        "one of the two lines."
    ]


def test_more_cars_in_an_hour_than_any_line_takes_are_left_out() -> None:
    """Lanes of an hour that are each possible may be impossible together."""
    lines = [f"2026-07-18,{h}:00,{lane},{n}" for h, n in ((9, 7), (10, 4_900)) for lane in "AB"]
    preview = read("\n".join(["day,hour,lane,cars", *lines]))
    assert hours(preview) == {(18, 9): 14}
    assert told(preview.problems) == [
        "counts.csv: 10:00 on 2026-07-18 has 9,800 cars in all, more than any line takes. Its "
        "lines are left out."
    ]


def test_refunds_of_cars_are_passed_over() -> None:
    """A till that takes a car back writes −1; it was washed all the same."""
    lines = [f"2026-07-18 9:{m:02d}:{m:02d},{1 + m % 2}" for m in range(1, 20)]
    text = "\n".join(["sold,cars", *lines, "2026-07-18 9:30:00,-1"])
    preview = read(text, Said(count="cars"))
    assert hours(preview) == {(18, 9): sum(1 + m % 2 for m in range(1, 20))}
    assert any("refund" in one.lower() for one in told(preview.notes))
    assert asked(read(text)) == ("Which column counts cars?", ["cars", LINES])
    assert hours(read(text, Said(count=LINES))) == {(18, 9): 20}


def test_several_columns_of_stamps_are_asked_about() -> None:
    """Cars have a time at which they came and one at which they left."""
    lines = [f"{n},2026-07-18 9:{n:02d}:11,2026-07-18 9:{n + 5:02d}:17" for n in range(1, 20)]
    text = "\n".join(["ticket,began,ended", *lines, "20,2026-07-18 9:58:01,2026-07-18 10:03:01"])
    words, names = asked(read(text))
    assert (words, names) == ("Which column says when the car came?", ["began", "ended"])
    assert hours(read(text, Said(date="began"))) == {(18, 9): 20}
    assert hours(read(text, Said(date="ended"))) == {(18, 9): 19, (18, 10): 1}


def test_from_and_to_are_one_hour() -> None:
    """Of two columns of times the first says when the hour begins."""
    lines = [f"2026-07-{d},{h}:00,{h + 1}:00,{d + h}" for d in (17, 18) for h in (9, 10)]
    found = hours(read("\n".join(["day,from,to,cars", *lines])))
    assert found == {(d, h): d + h for d in (17, 18) for h in (9, 10)}


def test_cars_that_came_are_told_by_their_heading() -> None:
    """A heading of arrivals says that cars were counted as they came, not as they were washed."""
    preview = read("day,hour,arrivals\n2026-07-17,9:00,5\n2026-07-18,9:00,7\n")
    assert preview.history.counted == "arrived"


def test_a_table_of_days_across_needs_its_hours() -> None:
    """Days in the heading and no hour on any line is no table of counts by the hour."""
    preview = read("name,7/17/2026,7/18/2026,7/19/2026\nnorth,5,7,8\nsouth,6,9,8\n")
    assert told(preview.problems) == [
        "counts.csv: No column of this file holds the hours of the days across."
    ]


def test_cells_of_a_spreadsheet_are_written_by_the_standard() -> None:
    """Days, times and lengths of time by ISO 8601, numbers without noise; what is empty is told."""
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.append([date(2026, 7, 18), time(9, 30), timedelta(hours=26, minutes=5), 0.1 + 0.2, None])
    kept = io.BytesIO()
    book.save(kept)
    rows = sheet_rows(kept.getvalue())
    assert rows == [(1, ["2026-07-18 00:00:00", "09:30:00", "26:05", "0.3", ""])]
    empty = io.BytesIO()
    openpyxl.Workbook().save(empty)
    assert sheet_rows(empty.getvalue()) == "The spreadsheet is empty."
    assert "too large" in str(sheet_rows(b"PK\x03\x04" + b"x" * LIMIT_BYTES))


def test_a_spreadsheet_of_too_many_lines_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many lines as are read come in; one more and the sheet is to come in pieces."""
    monkeypatch.setattr(sheets, "MOST_LINES", 3)
    for lines, is_read in ((3, True), (4, False)):
        sheet = sheets.Sheet("Counts", ("cars",), tuple((n,) for n in range(lines - 1)))
        rows = sheet_rows(sheets.workbook([sheet], datetime(2026, 7, 18, tzinfo=UTC)))
        assert isinstance(rows, list) == is_read
        assert is_read or "too many lines" in str(rows)


def test_yes_and_no_are_words_in_a_table() -> None:
    """What holds or does not is written as a word that people and spreadsheets read."""
    assert table_csv(("what", "holds"), (("a", True), ("b", False))) == (
        "what,holds\r\na,yes\r\nb,no\r\n"
    )


def test_cells_that_spreadsheets_are_kept_from_are_read() -> None:
    """Some exports write every cell as a formula of its text."""
    text = '="day",="hour",="cars"\n="2026-07-17",="9:00",="5"\n="2026-07-18",="9:00",="7"\n'
    assert hours(read(text)) == {(17, 9): 5, (18, 9): 7}
