"""Hourly counts as CSV files: what is read, and what is said of single lines."""

from __future__ import annotations

from datetime import date

import pytest

from app.files.hourly import Preview
from sim.inputs import History, HourCount
from tests.files.hourly import cars, counts, told

DAY = date(2026, 7, 18)


def test_a_plain_file_is_read() -> None:
    """Date, hour and count come out as they went in, in order of time, without a problem."""
    preview = counts("date,hour,cars_arrived\n2026-07-18,8,61\n2026-07-18,7,40\n")
    found = History("arrived", (HourCount(DAY, 7, 0, 40), HourCount(DAY, 8, 0, 61)))
    assert preview == Preview(found, (), ())


@pytest.mark.parametrize(
    "text",
    [
        "date;hour;cars_arrived\n2026-07-18;7;40\n2026-07-18;8;61\n",
        "date\thour\tcars_arrived\n2026-07-18\t7\t40\n2026-07-18\t8\t61\n",
        "\ufeffdate,hour,cars_arrived\r\n2026-07-18,7,40\r\n\r\n2026-07-18,8,61\r\n",
        '"date","hour","cars_arrived"\n"2026-07-18","7","40"\n2026-07-18,"8",61',
        " Date , HOUR , Cars_Arrived \n 2026-07-18 , 07:00 , 40 \n2026-07-18,8:00,61,,\n",
        "hour,cars_arrived,date\n7,+40,2026-07-18\n8,61.0,2026-07-18\n",
        "start,cars_arrived\n2026-07-18T07:00,40\n2026-07-18 08:00:00,61\n",
        "start,cars_arrived\n2026-07-18T07:00-04:00,40\n2026-07-18T12:00Z,61\n",
        "start,cars_arrived\n2026-07-18T13:00+0200,40\n2026-07-18t12:00z,61\n",
    ],
)
def test_other_ways_to_write_the_same_are_accepted(text: str) -> None:
    """Separators, quotation marks, a byte-order mark, order of columns and times do not matter."""
    preview = counts(text)
    assert told(preview.problems + preview.notes) == []
    assert preview.history.counts == (HourCount(DAY, 7, 0, 40), HourCount(DAY, 8, 0, 61))


def test_utf_16_with_its_mark_is_read() -> None:
    """The "Unicode text" of spreadsheets goes in as it is."""
    preview = counts("date\thour\tcars_arrived\n2026-07-18\t7\t40\n".encode("utf-16"))
    assert cars(preview) == [40]


def test_latin_1_is_read_with_a_note() -> None:
    """Letters of Latin-1 spoil no number; that it was read as such is said."""
    preview = counts("date,hour,cars_arrived,note\n2026-07-18,7,40,Fête\n".encode("latin-1"))
    assert cars(preview) == [40]
    assert told(preview.notes)[0] == (
        "counts.csv: The file is not UTF-8 and was read as Latin-1. Numbers and dates are the same "
        "in both; look at letters with accents."
    )
    assert "counts.csv: The column “note” is not stored" in told(preview.notes)[1]


def test_the_name_of_the_column_says_what_was_counted() -> None:
    """cars_washed and cars_arrived speak for themselves; cars needs to be told."""
    line = "2026-07-18,7,40\n2026-07-18,8,61\n"
    assert counts("date,hour,cars_washed\n" + line).history.counted == "washed"
    assert counts("date,hour,cars_washed\n" + line, "arrived").history.counted == "washed"
    assert counts("date,hour,cars\n" + line, "washed").history.counted == "washed"
    bare = counts("date,hour,cars\n" + line)
    assert bare.history.counts == ()
    assert told(bare.problems) == [
        "counts.csv: The column “cars” does not say what was counted. Name it cars_arrived or "
        "cars_washed; cars washed are fewer when the line is full."
    ]


def test_twenty_thousand_cars_in_a_day_are_accepted() -> None:
    """A day of 20,000 cars goes in; 20,000 in one hour is refused with the limit."""
    rows = "".join(f"2026-07-18,{hour},2000\n" for hour in range(7, 17))
    day = counts("date,hour,cars_arrived\n" + rows, hours=(7, 17))
    assert sum(cars(day)) == 20_000
    hour = counts("date,hour,cars_arrived\n2026-07-18,7,20000\n2026-07-18,8,5000\n")
    assert cars(hour) == [5000]
    assert told(hour.problems) == [
        "counts.csv, line 2: cars_arrived “20000” is more than 5,000 cars in one hour, which no "
        "line takes. Is it the count of a day? Enter 0 to 5,000."
    ]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("2026-07-18,7,-3", "cars_arrived “-3” is below zero. Enter 0 or more cars."),
        (
            "2026-07-18,7,3.7",
            "cars_arrived “3.7” is not a whole number of cars. Enter 0, 1, 2 and so on.",
        ),
        (
            "2026-07-18,7,about 40",
            "cars_arrived “about 40” is not a number. Enter a whole number of cars, as in 42.",
        ),
        ("2026-07-18,7,nan", "cars_arrived “nan” is not a number. Enter a whole number of cars"),
        ("2026-07-18,7,1e999", "cars_arrived “1e999” is more than 5,000 cars in one hour"),
        (
            "2026-07-18,7,",
            "cars_arrived is empty. Leave the line out if nobody counted; write 0 if none came.",
        ),
        (
            "2026-07-18,7,=SUM(A1:A9)",
            "cars_arrived “=SUM(A1:A9)” is a formula. Save the table with its values, not its "
            "formulas.",
        ),
        ("=A1,7,40", "date “=A1” is a formula."),
        (
            "18.07.2026,7,40",
            "date “18.07.2026” is not a date. Write year-month-day, as in 2026-07-18.",
        ),
        ("7/18/2026,7,40", "date “7/18/2026” is not a date. Write year-month-day"),
        ("2026-02-30,7,40", "date “2026-02-30” is not a date. Write year-month-day"),
        ("20260718,7,40", "date “20260718” is not a date. Write year-month-day"),
        (
            "2026-07-18,24,40",
            "hour “24” is not an hour of the day. Write 0 to 23 for the hour in which counting "
            "began; 7 means 7:00 to 8:00.",
        ),
        ("2026-07-18,7:30,40", "hour “7:30” is not an hour of the day."),
        ("2026-07-18,noon,40", "hour “noon” is not an hour of the day."),
        ("2026-07-18,7", "This line has 2 cells, the first line names 3 columns."),
        (
            "2026-07-18,7,40,5",
            "This line has 4 cells, the first line names 3 columns. With commas between cells "
            "write decimals with a point, as in 21.5; or put semicolons between cells.",
        ),
        ("2026-07-18,7," + "9" * 60, f"cars_arrived “{'9' * 39}…” is more than 5,000 cars"),
    ],
)
def test_a_bad_line_is_named_and_the_good_are_kept(line: str, said: str) -> None:
    """File, line, field, value and what would be right are said; the lines around stay."""
    preview = counts(f"date,hour,cars_arrived\n2026-07-17,7,38\n{line}\n2026-07-18,8,61\n")
    assert cars(preview) == [38, 61]
    assert len(preview.problems) == 1
    assert told(preview.problems)[0].startswith(f"counts.csv, line 3: {said}")


@pytest.mark.parametrize(
    ("start", "said"),
    [
        (
            "18.07.2026 7:00",
            "start “18.07.2026 7:00” is not a time. Write it as 2026-07-18T07:00 on the site’s "
            "clock, or with its UTC offset as in 2026-07-18T07:00-04:00.",
        ),
        ("2026-07-18T25:00", "start “2026-07-18T25:00” is not a time."),
        ("0001-01-01T00:00+14:00", "start “0001-01-01T00:00+14:00” is not a time."),
        (
            "2026-07-18T07:15",
            "start “2026-07-18T07:15” is not a full hour of the site’s clock. Add up to whole "
            "hours first.",
        ),
        ("2026-07-18T07:00+05:30", "start “2026-07-18T07:00+05:30” is not a full hour"),
    ],
)
def test_a_bad_start_is_named(start: str, said: str) -> None:
    """A start that is no full hour of the site is refused with how to write it."""
    preview = counts(f"start,cars_arrived\n{start},40\n2026-07-18T08:00,61\n")
    assert cars(preview) == [61]
    assert told(preview.problems)[0].startswith(f"counts.csv, line 2: {said}")


def test_duplicate_hours_keep_the_first() -> None:
    """The second line of an hour is refused and names the first."""
    preview = counts("date,hour,cars_arrived\n2026-07-18,7,40\n2026-07-18,8,61\n2026-07-18,7,41\n")
    assert cars(preview) == [40, 61]
    assert told(preview.problems) == [
        "counts.csv, line 4: 7:00 on 2026-07-18 is on line 2 already. Keep one of the two lines."
    ]


def test_a_bad_line_does_not_take_the_place_of_a_good_one() -> None:
    """After a refused count the same hour may come again, and is not missing either way."""
    preview = counts("date,hour,cars_arrived\n2026-07-18,7,x\n2026-07-18,7,40\n2026-07-18,8,-1\n")
    assert cars(preview) == [40]
    assert len(preview.problems) == 2
    assert preview.notes == ()


def test_missing_hours_are_noted_and_not_zero() -> None:
    """Open hours without a line are named day by day and nothing is put in their place."""
    preview = counts(
        "date,hour,cars_arrived\n2026-07-15,7,40\n2026-07-16,8,61\n2026-07-18,7,1\n2026-07-18,8,2\n",
        hours=(7.0, 9.5),
    )
    assert cars(preview) == [40, 61, 1, 2]
    assert told(preview.notes) == [
        "counts.csv: 2026-07-15 has no count at 8:00, 9:00. Missing is not zero: the hours are "
        "left out.",
        "counts.csv: 2026-07-16 has no count at 7:00, 9:00. Missing is not zero: the hours are "
        "left out.",
        "counts.csv: 2026-07-18 has no count at 9:00. Missing is not zero: the hours are left out.",
        "counts.csv: Whole days between 2026-07-15 and 2026-07-18 that are not in the file: 1. If "
        "the site was closed then, nothing is amiss.",
    ]


def test_many_days_with_holes_are_summed_up() -> None:
    """Days with the same hole are told together; past twenty holes only days are counted."""
    head = "date,hour,cars_arrived\n"
    rows = "".join(f"2026-07-{day:02},7,40\n" for day in range(1, 31))
    assert told(counts(head + rows).notes) == [
        "counts.csv: 30 days from 2026-07-01 to 2026-07-30 have no count at 8:00. Missing is not "
        "zero: the hours are left out."
    ]
    few = [
        f"2026-07-{day:02},{hour},40\n"
        for day in range(1, 31)
        for hour in range(5)
        if day >> hour & 1
    ]
    notes = told(counts(head + "".join(few), hours=(0.0, 5.0)).notes)
    assert len(notes) == 21
    assert notes[-1] == "counts.csv: Further days with hours without count: 10."


def test_counts_outside_opening_hours_are_kept_and_noted() -> None:
    """Cars at 22:00 are stored, and the opening hours called into question."""
    preview = counts(
        "date,hour,cars_arrived\n2026-07-18,7,4\n2026-07-18,8,6\n2026-07-18,22,5\n2026-07-18,23,0\n"
    )
    assert cars(preview) == [4, 6, 5, 0]
    assert told(preview.notes) == [
        "counts.csv: Lines with cars outside the opening hours: 1. They are kept, but no day is "
        "expected from them; look at the opening hours on the Site page."
    ]


def test_the_day_of_23_hours_lacks_nothing() -> None:
    """On 8 March 2026 New York has no 2:00: a line of it is refused, its absence is not noted."""
    rows = "".join(f"2026-03-08,{hour},5\n" for hour in range(24) if hour != 2)
    whole = counts("date,hour,cars_arrived\n" + rows, hours=(0, 24))
    assert (len(whole.history.counts), whole.problems, whole.notes) == (23, (), ())
    extra = counts("date,hour,cars_arrived\n" + rows + "2026-03-08,2,7\n", hours=(0, 24))
    assert len(extra.history.counts) == 23
    assert told(extra.problems) == [
        "counts.csv, line 25: 2:00 on 2026-03-08 does not exist: clocks went forward over it. "
        "Leave this line out."
    ]


def test_the_day_of_25_hours_takes_one_hour_twice() -> None:
    """On 1 November 2026 New York has 1:00 twice: two lines are the first and the second of them,
    a third is a duplicate, and one alone is fine."""
    two = counts("date,hour,cars_arrived\n2026-11-01,1,5\n2026-11-01,1,6\n", hours=(1, 2))
    assert two.history.counts == (
        HourCount(date(2026, 11, 1), 1, 0, 5),
        HourCount(date(2026, 11, 1), 1, 1, 6),
    )
    assert two.problems + two.notes == ()
    three = counts("date,hour,cars_arrived\n" + "2026-11-01,1,5\n" * 3, hours=(1, 2))
    assert len(three.history.counts) == 2
    assert told(three.problems) == [
        "counts.csv, line 4: 1:00 on 2026-11-01 came twice when clocks went back, and both are on "
        "earlier lines, the first on 2. Leave one out."
    ]
    one = counts("date,hour,cars_arrived\n2026-11-01,1,5\n", hours=(1, 2))
    assert [row.fold for row in one.history.counts] == [0]


def test_a_utc_offset_tells_the_two_hours_apart() -> None:
    """With offsets the order of lines does not matter, and the second hour may stand alone."""
    preview = counts(
        "start,cars_arrived\n2026-11-01T01:00-05:00,6\n2026-11-01T01:00-04:00,5\n", hours=(1, 2)
    )
    assert [(row.fold, row.cars) for row in preview.history.counts] == [(0, 5), (1, 6)]
    twice = counts("start,cars_arrived\n2026-11-01T06:00Z,6\n2026-11-01T01:00-05:00,7\n")
    assert [(row.fold, row.cars) for row in twice.history.counts] == [(1, 6)]
    assert "1:00 on 2026-11-01 is on line 2 already." in told(twice.problems)[0]


@pytest.mark.parametrize(
    ("timezone", "day", "hours"),
    [
        ("Europe/Berlin", "2026-03-29", 23),
        ("Europe/Berlin", "2026-10-25", 25),
        ("America/New_York", "2026-07-18", 24),
        ("UTC", "2026-03-29", 24),
        ("Asia/Kolkata", "2026-03-29", 24),
    ],
)
def test_a_day_has_the_hours_of_its_time_zone(timezone: str, day: str, hours: int) -> None:
    """Writing every clock hour twice leaves exactly the hours that the day had."""
    rows = "".join(f"{day},{hour},5\n" * 2 for hour in range(24))
    preview = counts("date,hour,cars_arrived\n" + rows, timezone=timezone, hours=(0, 24))
    assert len(preview.history.counts) == hours
    assert len(preview.problems) == 48 - hours
    assert preview.notes == ()
