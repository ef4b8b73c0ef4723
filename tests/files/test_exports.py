"""Exports of tills and controllers come in as they are: shapes told by their contents."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.files.export import read_export
from app.files.hourly import Preview
from app.files.look import LINES, NOTHING_SAID, TOGETHER, Said
from app.files.sheets import Sheet, workbook
from sim.inputs import TOTAL, HourCount
from tests.files.exports import (
    HOURLY,
    OPEN_H,
    TODAY,
    Shape,
    ambiguous,
    day_totals,
    made_counts,
    rows_of,
)
from tests.files.hourly import NEW_YORK, told

DAY = date(2026, 7, 18)


def read(text: str | bytes, said: Said = NOTHING_SAID, timezone: str = NEW_YORK) -> Preview:
    """An export read for a site that is open from 8 to 19."""
    raw = text.encode() if isinstance(text, str) else text
    return read_export(raw, timezone, OPEN_H.start, OPEN_H.stop, TODAY, said)


def asked(preview: Preview) -> tuple[str, list[str]]:
    """The one question of a file, and the answers it may have."""
    assert preview.look is not None
    assert preview.look.ask is not None
    return str(preview.look.ask.words), [value for value, _ in preview.look.ask.choices]


def hours(preview: Preview) -> dict[tuple[int, int], int]:
    """Cars by day of the month and hour."""
    return {(row.day.day, row.hour): row.cars for row in preview.history.counts}


@pytest.mark.parametrize("shape", HOURLY, ids=lambda shape: shape.name)
def test_each_shape_comes_in_without_a_question(shape: Shape, rng: np.random.Generator) -> None:
    """Every count of a made-up export is read back; nothing is asked and no line refused."""
    counts = made_counts(rng)
    preview = read(shape.write(counts, rng))
    assert preview.look is not None
    assert preview.look.ask is None
    assert preview.problems == ()
    found, wanted = set(preview.history.counts), set(rows_of(counts))
    assert found <= wanted
    # a file of sales says nothing of hours before its first sale and after its last
    edges = {min(row.day for row in wanted), max(row.day for row in wanted)}
    assert all(row.cars == 0 and row.day in edges for row in wanted - found)
    assert len(wanted - found) <= (2 if "sale" in shape.name else 0)


def test_an_open_order_of_dates_is_the_one_question(rng: np.random.Generator) -> None:
    """Two days a month apart or one day apart: the file can't tell, and one answer settles it."""
    text = ambiguous({}, rng)
    words, values = asked(read(text))
    assert words == "Which day is “05/06/2026 8:00”?"
    assert values == ["mdy", "dmy"]
    for order, days in (("dmy", {(6, 5), (6, 6)}), ("mdy", {(5, 6), (6, 6)})):
        answered = read(text, Said(order=order))
        assert answered.look is not None
        assert answered.look.ask is None
        assert {(row.day.month, row.day.day) for row in answered.history.counts} == days


@pytest.mark.parametrize(
    ("days", "why"),
    [
        (("07/06/2026", "07/13/2026"), "Dates are month first: “07/13/2026” fits no other way."),
        (("13/07/2026", "06/07/2026"), "Dates are day first: “13/07/2026” fits no other way."),
        (("07/09/2026", "07/10/2026"), "Dates are month first; day first some would lie in the"),
        (
            ("01/06/2026", "02/06/2026", "03/06/2026"),
            "Dates are day first: only so do the days follow one another.",
        ),
    ],
)
def test_the_order_of_dates_is_told_from_them(days: tuple[str, ...], why: str) -> None:
    """A thirteenth month, a day to come, or days that follow one another tell month from day."""
    preview = read("d,h,cars\n" + "".join(f"{day},{hour},5\n" for day in days for hour in (8, 9)))
    assert preview.look is not None
    assert str(preview.look.told[0]).startswith(why)
    assert len(preview.history.counts) == 2 * len(days)


@pytest.mark.parametrize(
    "times",
    [
        ("9", "13"), ("9:00", "13:00"), ("9 AM", "1 PM"), ("09:00 a.m.", "01:00 p.m."),
        ("9h", "13h"), ("9 Uhr", "13 Uhr"), ("9:00-10:00", "13:00-14:00"), ("09–10", "13–14"),
        ("9-10 am", "1-2 pm"), ("09:00:00", "13:00:00"),
    ],
)  # fmt: skip
def test_hours_may_be_written_in_many_ways(times: tuple[str, str]) -> None:
    """24 hours or 12, with a range, a word or neither."""
    lines = [
        f"2026-07-{day},{at},{cars}"
        for day in (17, 18)
        for at, cars in zip(times, (5, 7), strict=True)
    ]
    assert hours(read("\n".join(["day,time,cars", *lines]))) == {
        (17, 9): 5, (17, 13): 7, (18, 9): 5, (18, 13): 7
    }  # fmt: skip


def test_twelve_hours_without_halves_turn_at_noon() -> None:
    """Where hours go 10, 11, 12, 1, 2 the second part of the day is its afternoon."""
    lines = [f"2026-07-{day},{h},{10 + h}" for day in (17, 18) for h in (10, 11, 12, 1, 2)]
    found = hours(read("\n".join(["day,hour,cars", *lines])))
    assert [found[18, h] for h in (10, 11, 12, 13, 14)] == [20, 21, 22, 11, 12]


def test_hours_that_are_numbered_to_24_are_named_by_their_end() -> None:
    """Where 24 is an hour and 0 is none, 9 is the hour from 8 to 9."""
    lines = [f"2026-07-18,{h},{h * h % 7}" for h in range(1, 25)]
    found = hours(read("\n".join(["day,hour,cars", *lines])))
    assert found == {(18, h - 1): h * h % 7 for h in range(1, 25)}


def test_quarters_of_an_hour_add_up() -> None:
    """Lines of 15 minutes are added up, and an hour with one of them missing is told."""
    lines = [f"2026-07-18 {h}:{m:02d},{h}" for h in (9, 10) for m in (0, 15, 30, 45)]
    preview = read("\n".join(["begin,cars", *lines[:-1]]))
    assert hours(preview) == {(18, 9): 36, (18, 10): 30}
    assert "Hours of which a part was not counted: 1." in told(preview.notes)[0]


def test_tills_add_up_and_sums_of_theirs_are_passed_over() -> None:
    """Two tills count apart; a third line that sums them up is no third till."""
    lines = [
        f"2026-07-18,{h}:00,{till},{cars}"
        for h in (9, 10)
        for till, cars in (("Lane 1", 5), ("Lane 2", 7), ("Total", 12))
    ]
    preview = read("\n".join(["day,hour,lane,cars", *lines]))
    assert hours(preview) == {(18, 9): 12, (18, 10): 12}
    assert "Lines of sums: 2, the first on line 4." in told(preview.notes)[0]


def test_several_sites_in_a_file_are_asked_about() -> None:
    """A file of two sites may be this site alone, or both together."""
    lines = [f"2026-07-18,{h}:00,{s},{n}" for h in (9, 10) for s, n in (("North", 5), ("South", 7))]
    text = "\n".join(["day,hour,location,cars", *lines])
    words, values = asked(read(text))
    assert words == "“location” holds 2 names. Which of them are this site?"
    assert values == [TOGETHER, "North", "South"]
    assert hours(read(text, Said(part="South"))) == {(18, 9): 7, (18, 10): 7}
    assert hours(read(text, Said(part=TOGETHER))) == {(18, 9): 12, (18, 10): 12}


def test_two_columns_that_may_be_cars_are_asked_about_with_examples() -> None:
    """Headings that say nothing leave a choice: either column, or both together."""
    lines = [f"2026-07-18,{h}:00,{h},{3 * h + h % 2}" for h in range(8, 12)]
    text = "\n".join(["day,hour,alpha,beta", *lines])
    preview = read(text)
    assert asked(preview) == ("Which column counts cars?", ["alpha", "beta", TOGETHER, LINES])
    assert preview.look is not None
    assert preview.look.ask is not None
    assert str(preview.look.ask.choices[1][1]) == "“beta”, as in 24, 28, 30"
    assert hours(read(text, Said(count="beta")))[18, 9] == 28
    assert hours(read(text, Said(count=TOGETHER)))[18, 9] == 37


def test_kinds_of_wash_with_their_sum_need_no_question() -> None:
    """Of columns of which one is the sum of the others, that one counts the cars."""
    lines = [f"2026-07-18,{h}:00,{h},{2 * h},{3 * h}" for h in range(8, 12)]
    assert hours(read("\n".join(["day,hour,basic,deluxe,both", *lines])))[18, 9] == 27


def test_days_across_and_hours_down() -> None:
    """The table the other way round: an hour a line, a day a column; an empty cell is no count."""
    text = "Hour,7/17/2026,7/18/2026\n9:00,5,7\n10:00,,0\nTotal,5,7\n"
    preview = read(text)
    assert hours(preview) == {(17, 9): 5, (18, 9): 7, (18, 10): 0}
    assert "Cells without a number: 1, the first on line 3." in str([str(n) for n in preview.notes])


def test_refused_lines_are_named_with_what_would_be_right() -> None:
    """File, line, heading and value of each line that is left out; the others stay."""
    text = (
        "Datum;Stunde;Autos\n18.07.2026;9;5\n31.06.2026;9;5\n18.07.2026;25;5\n18.07.2026;10;-3\n"
        "18.07.2026;11;3,5\n18.07.2026;12;about 9\n18.07.2026;13;=SUM(A1)\n18.07.2026;9;6\n"
        "18.08.2026;9;5\n18.07.2026;14;5\n18.07.2026;14;5\n18.07.2026;15;99999\n19.07.2026;8;4\n"
    )
    preview = read(text)
    assert hours(preview) == {(18, 9): 5, (18, 14): 5, (19, 8): 4}
    assert told(preview.problems) == [
        "counts.csv, line 3: Datum “31.06.2026” is not a date. Write it as the other lines do.",
        "counts.csv, line 4: Stunde “25” is not an hour of the day. Write it as the others are.",
        "counts.csv, line 5: Autos “-3” is below zero. Enter 0 or more cars.",
        "counts.csv, line 6: Autos “3,5” is not a whole number of cars. Enter 0, 1, 2 and so on.",
        "counts.csv, line 7: Autos “about 9” is not a number. Enter a whole number of cars, as in "
        "42.",
        "counts.csv, line 8: Autos “=SUM(A1)” is a formula. Save the table with its values, not "
        "its formulas.",
        "counts.csv, line 9: 9:00 on 2026-07-18 is on line 2 already, with 5 cars in place of 6. "
        "Keep one of the two lines.",
        "counts.csv, line 10: Datum “18.08.2026” lies in the future. Is the date right?",
        "counts.csv, line 13: Autos “99999” is more than 5,000 cars, which no line takes.",
    ]
    assert "Lines that say the same once more: 1, the first on line 12." in told(preview.notes)[0]


def test_clocks_that_change_have_an_answer_each() -> None:
    """The hour left out is refused; of the doubled one two lines are two hours, while sales don't
    say which they fell into."""
    spring = read("at,cars\n2026-03-08 01:00,1\n2026-03-08 02:00,2\n2026-03-08 03:00,3\n")
    assert hours(spring) == {(8, 1): 1, (8, 3): 3}
    assert "2:00 on 2026-03-08 does not exist" in told(spring.problems)[0]
    rows = (
        "at,cars\n2025-11-02 00:00,1\n2025-11-02 01:00,2\n2025-11-02 01:00,3\n2025-11-02 02:00,4\n"
    )
    autumn = read(rows).history.counts
    assert [(row.hour, row.fold, row.cars) for row in autumn] == [
        (0, 0, 1), (1, 0, 2), (1, 1, 3), (2, 0, 4)
    ]  # fmt: skip
    sales = read("at\n" + "".join(f"2025-11-02 0{h}:1{s}:07\n" for h in range(3) for s in range(4)))
    assert hours(sales) == {(2, 0): 4, (2, 2): 4}
    assert "1:00 on 2025-11-02 came twice" in " ".join(told(sales.notes))
    offset = read("at,cars\n2025-11-02T01:00-04:00,2\n2025-11-02T01:00-05:00,3\n").history.counts
    assert [(row.hour, row.fold, row.cars) for row in offset] == [(1, 0, 2), (1, 1, 3)]


def test_sales_fill_the_hours_between_them() -> None:
    """Between its sales an open hour without one is 0; closed days and hours are not counted."""
    text = "at\n" + "".join(
        f"2026-07-{d} {h}:0{s}:3{s}\n" for d in (14, 15, 17) for h in (9, 12) for s in range(1, 4)
    )
    found = hours(read(text))
    assert [found.get((15, h)) for h in range(7, 20)] == [
        None, 0, 3, 0, 0, 3, 0, 0, 0, 0, 0, 0, None
    ]  # fmt: skip
    assert [found.get((14, h)) for h in (8, 13)] == [None, 0]
    assert [found.get((17, h)) for h in (8, 13)] == [0, None]
    assert not any(day == 16 for day, _ in found)


def test_totals_of_days_are_spread_and_marked(rng: np.random.Generator) -> None:
    """Days without hours are told as such and marked, their sums stay; a week's number beside them
    is no count of cars."""
    counts = made_counts(rng)
    preview = read(day_totals(counts, rng))
    sums: dict[date, int] = {}
    for row in preview.history.counts:
        sums[row.day] = sums.get(row.day, 0) + row.cars
    assert sums == {d: sum(n for (o, _), n in counts.items() if o == d) for d, _ in counts}
    assert {(note.day, note.kind) for note in preview.history.days} == {(d, TOTAL) for d in sums}
    assert "Only totals of days were counted." in told(preview.notes)[-1]
    assert preview.look is not None
    assert preview.look.reading is not None
    assert preview.look.reading.shape == "days"
    assert preview.look.said.count == "véhicules"


UNUSABLE = (
    b"", b"\x00" * 2_000, bytes(range(256)) * 40, b"PK\x03\x04 no archive", b"\xff\xfe\xff",
    b"\xd0\xcf\x11\xe0 old", b'"' * 5_000, b"\xef\xbb\xbf", b"a,b\n" * 10, b"=cmd|' /C calc'!A0\n",
    b"x" * 5_500_000, b"\n" * 400_000, ("date" + ",cars" * 5_000 + "\n").encode(),
    b"2026-07-18", b"at,cars\n2026-07-18 9:00", "\u202e٣٤٥,日付\n".encode(), b";;;;\n;;;;\n",
)  # fmt: skip


@pytest.mark.parametrize("raw", UNUSABLE, ids=range(len(UNUSABLE)))
def test_hostile_files_are_told_and_never_raise(raw: bytes) -> None:
    """What is no table of counts gets a sentence and brings nothing."""
    preview = read(raw)
    assert preview.history.counts == ()
    assert preview.problems or (preview.look is not None and preview.look.ask is not None)


@pytest.mark.parametrize("codec", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_any_usual_encoding_is_read(codec: str) -> None:
    """With a byte-order mark, with two bytes a letter, or in an old code page."""
    text = "Día;Hora;Vehículos\n17/07/2026;9:00;5\n18/07/2026;9:00;7\n"
    assert hours(read(text.encode(codec))) == {(17, 9): 5, (18, 9): 7}


def test_a_line_of_one_hour_is_a_count() -> None:
    """The smallest export there is: one line below its headings."""
    assert read("Date,Hour,Cars\n2026-07-18,9:00,12\n").history.counts == (
        HourCount(DAY, 9, 0, 12),
    )


ORDERS = {"mdy": ("%m/%d/%Y", "%m-%d-%y"), "dmy": ("%d.%m.%Y", "%d/%m/%y"), "ymd": ("%Y-%m-%d",)}
CLOCKS = (
    lambda h: f"{h}", lambda h: f"{h:02d}:00", lambda h: f"{h:02d}:00:00", lambda h: f"{h}h",
    lambda h: f"{(h - 1) % 12 + 1} {'AM' if h < 12 else 'PM'}",
    lambda h: f"{h}:00-{h + 1}:00",
)  # fmt: skip


@st.composite
def exports(draw: st.DrawFn) -> tuple[str, frozenset[HourCount]]:
    """Counts of some days, written in a random shape; and what they were."""
    order = draw(st.sampled_from(sorted(ORDERS)))
    pattern = draw(st.sampled_from(ORDERS[order]))
    clock_of = draw(st.sampled_from(CLOCKS))
    mark, comma = draw(st.sampled_from(((",", False), (";", True), ("\t", False), ("|", False))))
    # a thirteenth month at least, so that the order is told
    first = date(2026, 6, draw(st.integers(8, 14)))
    days = [first + timedelta(days=ahead) for ahead in range(draw(st.integers(6, 12)))]
    wanted = [
        HourCount(day, hour, 0, draw(st.integers(0, 160)) if day.day % 3 else 7 * hour % 50)
        for day in days
        for hour in OPEN_H
    ]
    shape = draw(st.sampled_from(("rows", "stamp", "across", "down", "tills")))
    title = draw(st.sampled_from(([], ["Report of counts"], ["Counts", "", "Site 7"])))
    of = {(row.day, row.hour): row.cars for row in wanted}
    lines = []
    if shape == "across":
        lines.append(["Day", *map(clock_of, OPEN_H)])
        lines += [[f"{day:{pattern}}", *(str(of[day, h]) for h in OPEN_H)] for day in days]
    elif shape == "down":
        lines.append(["Hour", *(f"{day:{pattern}}" for day in days)])
        lines += [[clock_of(h), *(str(of[day, h]) for day in days)] for h in OPEN_H]
    elif shape == "stamp":
        lines.append(["Begin", "Vehicles", "Net"])
        for row in wanted:
            net = f"{row.cars * 12.5:.2f}".replace(".", "," if comma else ".")
            lines.append([f"{row.day:{pattern}} {row.hour:02d}:00", str(row.cars), net])
    else:
        lines.append(["Day", "Hour", "Till", "Cars"])
        for row in wanted:
            first_till = row.cars // 3
            tills = (row.cars,) if shape == "rows" else (first_till, row.cars - first_till)
            for number, cars in enumerate(tills, 1):
                cells = [f"{row.day:{pattern}}", clock_of(row.hour), f"Till {number}", str(cars)]
                lines.append(cells)
    body = [mark.join(cells) for cells in lines]
    return draw(st.sampled_from(("\n", "\r\n"))).join([*title, *body]), frozenset(wanted)


@given(exports())
def test_counts_in_a_random_shape_are_read_back(made: tuple[str, frozenset[HourCount]]) -> None:
    """Whatever order of dates, clock, mark, title and shape: every count comes back, none else."""
    text, wanted = made
    preview = read(text)
    assert preview.problems == ()
    assert preview.look is not None
    assert preview.look.ask is None
    assert set(preview.history.counts) == wanted


@given(st.binary(max_size=300) | st.text(alphabet='0123456789/-.:;,\t\n"=aPpM é', max_size=300).map(
    lambda text: text.encode()
))  # fmt: skip
def test_no_file_raises(raw: bytes) -> None:
    """Bytes at random, and texts at random of what dates, hours and numbers are made of."""
    preview = read(raw)
    assert preview.history.counts == () or preview.look is not None
    assert all(str(one) for one in (*preview.problems, *preview.notes))


def test_a_workbook_is_read(rng: np.random.Generator) -> None:
    """Dates and numbers of a spreadsheet's first sheet come in as they do from CSV."""
    counts = made_counts(rng)
    rows = tuple((day, f"{hour}:00", cars) for (day, hour), cars in sorted(counts.items()))
    empty, full = Sheet("Notes", ("",), ()), Sheet("Counts", ("Datum", "Stunde", "Autos"), rows)
    raw = workbook([empty, full], datetime(2026, 8, 1, tzinfo=UTC))
    assert read(raw).history.counts == rows_of(counts)


def test_what_only_says_the_day_or_numbers_the_lines_is_no_count() -> None:
    """Weeks, weekdays and running numbers beside the one column left need no question."""
    days = [date(2026, 7, 6) + timedelta(days=ahead) for ahead in range(9)]
    lines = ["day,hour,kw,wd,no,alpha"]
    for day in days:
        for hour in (8, 9, 10):
            where = f"{day},{hour}:00,{day.isocalendar().week},{day.isoweekday()}"
            lines.append(f"{where},{100 + len(lines)},{day.day * hour % 31}")
    found = hours(read("\n".join(lines)))
    assert found == {(day.day, hour): day.day * hour % 31 for day in days for hour in (8, 9, 10)}


def test_hours_across_may_be_numbered_to_24() -> None:
    """A day a line with its hours from 1 to 24: the first begins at midnight."""
    head = ",".join(map(str, range(1, 25)))
    cells = ",".join(str(h * h % 11) for h in range(1, 25))
    found = hours(read(f"day,{head}\n2026-07-17,{cells}\n2026-07-18,{cells}\n"))
    assert found == {(day, h - 1): h * h % 11 for day in (17, 18) for h in range(1, 25)}


@pytest.mark.parametrize(
    ("cells", "wanted"),
    [
        (("1.234", "987"), (1234, 987)), (("1,234", "987"), (1234, 987)),
        (("42.000", "17.000"), (42, 17)), (("42,0", "17,0"), (42, 17)),
        (("1 234", "987"), (1234, 987)),
    ],
)  # fmt: skip
def test_marks_between_thousands_are_told_from_decimals(
    cells: tuple[str, str], wanted: tuple[int, int]
) -> None:
    """A mark before three digits parts thousands, unless they are always zeros."""
    text = f"Tag;Zeit;Anzahl\n17.07.2026;9:00;{cells[0]}\n18.07.2026;9:00;{cells[1]}\n"
    assert hours(read(text)) == {(17, 9): wanted[0], (18, 9): wanted[1]}
