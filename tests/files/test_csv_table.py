"""Files that are no table, broken tables, and whatever else may be brought in."""

from __future__ import annotations

import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.files.csv_table import LIMIT_BYTES, PROBLEMS_SHOWN
from app.files.hourly import read_counts
from tests.files.hourly import cars, counts, told, weather

PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "The file is empty. Its first line must name the columns."),
        (b" \r\n\t\n", "The file is empty. Its first line must name the columns."),
        (
            PNG,
            "This is a PNG picture, not a CSV file. Save the table as CSV and bring that in.",
        ),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "This is a JPEG picture, not a CSV file."),
        (b"PK\x03\x04\x14\x00", "This is a spreadsheet or archive, not a CSV file."),
        (b"%PDF-1.7", "This is a PDF document, not a CSV file."),
        (
            b"date,hour\x00,cars_arrived\n",
            "The file holds bytes that no text has; it looks like a picture or a program’s own "
            "file under another name. Save the table as CSV and bring that in.",
        ),
        (b"\xff\xfed\x00a", "The file holds bytes that no text has"),
        (
            b"2026-07-18,7,40\n2026-07-18,8,61\n",
            "The first line holds a date, so it names no columns. Put a line of names above it: "
            "date, hour, start, cars_arrived, cars_washed, cars_typed, cars.",
        ),
        (
            b"date,hour,cars_arived\n2026-07-18,7,40\n",
            "“cars_arived” is not a column of this file. Did you mean cars_arrived?",
        ),
        (
            b"date,hour,cars_arrived,zzz\n2026-07-18,7,40,1\n",
            "“zzz” is not a column of this file; it may have date, hour, start, cars_arrived, "
            "cars_washed, cars_typed, cars.",
        ),
        (
            b"date,hour,cars_arrived,hour\n",
            "The column “hour” is there twice. Leave one out.",
        ),
        (b"date,hour,cars_arrived,,x\n", "Column 4 has no name. Name it or leave it out."),
        (b"x," * 60, "The first line names 61 columns; at most 50 can be. Keep those needed."),
        (b"x\n" * 300_001, "The file has more than 300,000 lines. Bring it in by pieces."),
        (b"date,cars_arrived\n", "No column gives the hour. Name two of them date and hour, or"),
        (
            b"date,start,cars_arrived\n",
            "The hour is given by start and by date. Keep one way.",
        ),
        (
            b"date,hour\n",
            "No column gives the count. Name one cars_arrived or cars_washed or cars_t",
        ),
        (
            b"date,hour,cars_arrived,cars_washed\n",
            "The columns cars_arrived and cars_washed both give the count. Keep one of them.",
        ),
    ],
)
def test_a_file_that_is_no_table_is_refused(raw: bytes, said: str) -> None:
    """Nothing is read of such a file, and one sentence says what it is and what to do."""
    preview = counts(raw)
    assert preview.history.counts == ()
    assert any(said in sentence for sentence in told(preview.problems)), told(preview.problems)


def test_a_file_of_50_megabytes_is_refused_unread() -> None:
    """The limit and the size stand in the message; a file of just 5 MB is read."""
    for read in (counts, weather):
        preview = read(b"x" * 50_000_000)
        assert told(preview.problems)[0].endswith(
            ".csv: The file has 50.0 MB; at most 5 MB can be read. Ten years of hours take about "
            "2 MB: leave out other columns or bring in a few years at a time."
        )
    header, row = b"date,hour,cars_arrived,note\n", b"2026-07-18,7,4," + b"x" * 84 + b"\n"
    at_limit = (header + row * 50_000)[: LIMIT_BYTES - 1] + b"\n"
    assert cars(counts(at_limit)) == [4]


def test_quotation_marks_that_do_not_pair_are_named() -> None:
    """Lines before the broken one are kept."""
    preview = counts('date,hour,cars_arrived\n2026-07-18,7,40\n2026-07-18,8,"61\n2026-07-18,9,1\n')
    assert cars(preview) == [40]
    assert told(preview.problems) == [
        "counts.csv, line 3: The quotation marks of this line do not pair up, so nothing after it "
        "could be read. A quotation mark inside a quoted cell is written twice."
    ]
    endless = counts('date,hour,cars_arrived\n2026-07-18,7,"' + "4" * 200_000)
    assert "A cell of this line is longer than any number or date" in told(endless.problems)[0]


def test_lines_are_counted_as_an_editor_does() -> None:
    """Blank lines and line breaks inside quoted cells count."""
    preview = counts('date,hour,cars_arrived,note\n\n2026-07-18,7,40,"a\nb"\n2026-07-18,8,x,\n')
    assert told(preview.problems)[0].startswith("counts.csv, line 5: cars_arrived “x”")


def test_a_long_list_of_problems_is_cut() -> None:
    """A hundred problems are listed by line, the rest is counted."""
    preview = counts("date,hour,cars_arrived\n" + "2026-07-18,7,x\n2026-07-18\n" * 100)
    assert len(preview.problems) == PROBLEMS_SHOWN + 1
    assert told(preview.problems)[0].startswith("counts.csv, line 2: ")
    assert told(preview.problems)[1].startswith("counts.csv, line 3: ")
    assert told(preview.problems)[-1] == (
        "counts.csv: Further lines with problems: 100. Mend those named first, then bring the file "
        "in again."
    )


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reader(raw: bytes) -> None:
    """Any bytes give a preview, with at least one problem or note or nothing to say of a header."""
    for preview in (counts(raw), weather(raw)):
        assert all(told(preview.problems))
        assert all(told(preview.notes))


@given(
    st.lists(
        st.lists(
            st.sampled_from(
                ["2026-07-18", "2026-03-08", "2026-11-01", "9999-12-31", "0001-01-01", "1", "2",
                 "7", "=1", "-3", "3.7", "", "about 40", '"', "1e400", "५", "\u2212", "2026-W01-1"]
            ),
            min_size=1,
            max_size=4,
        ),
        max_size=8,
    ),
    st.sampled_from([",", ";", "\t"]),
)  # fmt: skip
def test_no_cells_break_the_reader(rows: list[list[str]], mark: str) -> None:
    """Under a right header any cells are read or refused; lines in are lines out and problems."""
    body = "\n".join(mark.join(row) for row in rows)
    preview = counts(mark.join(("date", "hour", "cars_arrived")) + "\n" + body)
    assert all(told(preview.problems))
    assert len(preview.history.counts) <= len(rows)
    second = weather(mark.join(("date", "hour", "temp_c", "humidity_pct")) + "\n" + body)
    assert all(told(second.problems))


@pytest.mark.parametrize("line", ["2026-07-18,8,x\n", "2026-07-18,8,3\n", "1,2\n", "=1,8,3\n"])
def test_what_a_file_takes_does_not_grow_with_its_bad_lines(line: str) -> None:
    """Lines are read one by one: beside the text itself a line leaves next to nothing behind."""

    def peak_bytes(lines: int) -> int:
        raw = ("date,hour,cars_arrived\n" + line * lines).encode()
        tracemalloc.start()
        read_counts(raw, "America/New_York", 7.0, 20.0)
        _now, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    # A letter takes a byte in the text and four where it is read by lines.
    assert peak_bytes(12_000) - peak_bytes(6_000) <= 6_000 * (8 * len(line) + 16)


def test_problems_beyond_those_that_are_listed_are_counted() -> None:
    """However many lines are bad, a hundred are named and the rest is a number."""
    raw = "date,hour,cars_arrived\n" + "2026-07-18,8,x\n" * 3_000
    problems = read_counts(raw.encode(), "America/New_York", 7.0, 20.0).problems
    assert len(problems) == 101
    assert str(problems[0]).startswith("counts.csv, line 2:")
    assert "Further lines with problems: 2,900." in str(problems[-1])
