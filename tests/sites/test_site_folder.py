"""A site as a folder: lossless both ways, and every problem told at once with its line."""

from __future__ import annotations

import dataclasses
import os
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.files.csv_table import LIMIT_BYTES, PROBLEMS_SHOWN
from app.files.site_clock import SiteClock
from app.sites.folder import look_into, read_folder, read_site_text, site_text, write_folder
from sim.errors import InputError, InputProblem
from sim.inputs import (
    CLASS_INPUTS,
    DEFAULT_CLASSES,
    INPUTS,
    LONGEST_WORDS,
    ClassNumbers,
    DayNote,
    Entry,
    History,
    HourCount,
    HourWeather,
    Site,
    SiteData,
    Value,
    VehicleClass,
)
from sim.units import FIRST_YEAR, LAST_YEAR

NEW_YORK = "America/New_York"
CLOCKS_BACK = date(2026, 11, 1)


def told(problems: tuple[InputProblem, ...]) -> list[str]:
    """Problems as a reader sees them."""
    return [str(problem).replace("\u00a0", " ") for problem in problems]


def problems_of(text: str) -> list[str]:
    """What is said of the text of a site.toml."""
    return told(read_site_text(text.encode())[1])


# ---- any site ----------------------------------------------------------------------------------


def value_in(row: Entry) -> st.SearchStrategy[Value]:
    """Any value that an input may have."""
    number = st.floats(row.low, row.high)
    if row.kind == "choice":
        return st.sampled_from([key for key, _ in row.choices])
    if row.kind == "flag":
        return st.booleans()
    if row.kind == "words":
        letters = st.characters(categories=("L", "N", "P", "S"))
        return st.text(letters, min_size=1, max_size=LONGEST_WORDS)
    if row.kind == "address":
        return st.sampled_from(["", "https://recorder.example/{date}/{time}", "http://10.0.0.9/a"])
    if row.kind == "whole":
        return st.integers(int(row.low), int(row.high))
    if row.kind == "times":
        return st.lists(number, max_size=4).map(tuple)
    if row.kind == "months":
        return st.one_of(st.just(()), st.tuples(*[number] * 12))
    if row.kind == "steps":
        moments = st.one_of(
            st.integers(1, 1440).map(lambda minutes: 60.0 * minutes),
            st.floats(0.0, 86_400.0, exclude_min=True),
        )
        starts = st.lists(moments, unique=True, max_size=3).map(lambda some: [0.0, *sorted(some)])
        return starts.flatmap(
            lambda some: st.tuples(*(st.tuples(st.just(moment), number) for moment in some))
        )
    return number


@st.composite
def sites(draw: st.DrawFn) -> SiteData:
    """A site with any inputs given, any classes and any marked days."""
    names = draw(st.frozensets(st.sampled_from(sorted(INPUTS)), max_size=12))
    values = {name: draw(value_in(INPUTS[name])) for name in sorted(names)}
    numbers = st.builds(
        ClassNumbers, **{name: st.floats(row.low, row.high) for name, row in CLASS_INPUTS.items()}
    )
    classes = st.builds(VehicleClass, st.from_regex("[a-z_0-9]{1,8}", fullmatch=True), st.text(
        max_size=12), numbers)  # fmt: skip
    vehicles = draw(
        st.one_of(st.just(DEFAULT_CLASSES), st.lists(classes, min_size=1, max_size=3).map(tuple))
    )
    site = Site(
        name=draw(st.text(max_size=20)),
        timezone=draw(st.sampled_from(["UTC", NEW_YORK, "Asia/Kolkata"])),
        vehicles=vehicles,
        reference_class=draw(st.sampled_from(["sedan", "van", "x"])),
    ).with_values(values)
    calendar = st.dates(date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31))
    kinds = st.sampled_from(["closed", "event"])
    notes = st.builds(DayNote, calendar, kinds, st.text(max_size=20))
    days = draw(st.lists(notes, max_size=4, unique_by=lambda note: (note.day, note.kind)))
    units = draw(st.sampled_from(["us", "si"]))
    return SiteData(site, units, names, History(days=tuple(sorted(days))))


@given(sites())
def test_the_text_of_a_site_gives_the_site_back(data: SiteData) -> None:
    """Whatever a site holds, its text is read back to the last bit: every value, which inputs
    were given, quotes, line breaks and any letters in names and notes."""
    assert read_site_text(site_text(data).encode())[0] == data


@st.composite
def histories(draw: st.DrawFn) -> History:
    """Any hours that a clock in New York shows, with any counts and weather."""
    clock = SiteClock(NEW_YORK)
    days = st.sampled_from([date(2026, 3, 8), date(2026, 7, 18), CLOCKS_BACK, date(2026, 11, 2)])
    hours = st.tuples(days, st.integers(0, 23), st.integers(0, 1)).filter(
        lambda hour: hour[2] < clock.times(hour[0], hour[1])
    )
    cars = st.integers(0, 5000)
    temps, rains = st.floats(-60.0, 60.0), st.floats(0.0, 400.0)
    shares = st.floats(0.0, 1.0, exclude_min=True)
    counts = draw(st.dictionaries(hours, cars, max_size=12))
    weather = draw(st.dictionaries(hours, st.tuples(temps, shares, rains), max_size=12))
    return History(
        draw(st.sampled_from(["arrived", "washed"])),
        tuple(sorted(HourCount(*hour, cars) for hour, cars in counts.items())),
        tuple(sorted(HourWeather(*hour, *air) for hour, air in weather.items())),
    )


@given(histories())
def test_a_folder_gives_its_past_back(history: History) -> None:
    """Counts and weather come back to the last bit, the two equal hours of a day told apart."""
    data = SiteData(Site("Test wash", NEW_YORK), "si", frozenset(), history)
    with tempfile.TemporaryDirectory() as folder:
        write_folder(Path(folder), data)
        assert read_folder(Path(folder)) == data


def test_the_second_of_two_equal_hours_alone(tmp_path: Path) -> None:
    """It is written with its UTC offset, for order could not tell it from the first."""
    history = History(counts=(HourCount(CLOCKS_BACK, 1, 1, 6),))
    data = SiteData(Site("Night wash", NEW_YORK), history=history)
    write_folder(tmp_path, data)
    text = (tmp_path / "counts.csv").read_text()
    assert text == "start,cars_arrived\n2026-11-01T01:00-05:00,6\n"
    assert read_folder(tmp_path) == data


def test_only_given_inputs_are_written(tmp_path: Path) -> None:
    """A default stays unwritten unless the site gave it; a changed value is written in any case
    and counts as given from then on."""
    site = Site("Test wash").with_values({"open_h": 8.0, "strip_count": 150})
    data = SiteData(site, "us", frozenset({"open_h", "close_h"}))
    write_folder(tmp_path / "new" / "folder", data)
    text = (tmp_path / "new" / "folder" / "site.toml").read_text()
    assert "[line]\nopen_h = 8\nclose_h = 20\n" in text
    assert "strip_count = 150\n" in text
    assert "car_spacing_m" not in text
    assert "[[vehicle]]" not in text
    read = read_folder(tmp_path / "new" / "folder")
    assert read == dataclasses.replace(data, given=frozenset({"open_h", "close_h", "strip_count"}))


def test_ways_to_write_a_value() -> None:
    """A timetable may be rows, words or one number; a number may have its unit; a date may stand
    in quotation marks; tables may be written inline."""
    text = """
name = "Test wash"
money = { price_per_car = 15 }
[pay]
pay_lanes = [["0:00", 2], ["11:00", 3.0], [43200, 2]]
loaders = "1; 11:00 2"
load_measured_s = [41, 38.5]
quick_pay_measured_s = "12 14.5"
[crew]
people = 3
[line]
conveyor_speed_m_s = "49.2 ft/min"
[wheel]
strip_count = 150.0
[[day]]
date = "2026-07-04"
kind = "event"
"""
    data, problems = read_site_text(text.encode())
    assert problems == ()
    site = data.site
    assert site.pay.pay_lanes == ((0.0, 2.0), (39_600.0, 3.0), (43_200.0, 2.0))
    assert site.pay.loaders == ((0.0, 1.0), (39_600.0, 2.0))
    assert site.pay.load_measured_s == (41.0, 38.5)
    assert site.pay.quick_pay_measured_s == (12.0, 14.5)
    assert site.crew.people == ((0.0, 3.0),)
    assert site.line.conveyor_speed_m_s == pytest.approx(0.25, abs=1e-3)
    assert site.wheel.strip_count == 150
    assert isinstance(site.wheel.strip_count, int)
    assert site.money.price_per_car == 15.0
    assert data.history.days == (DayNote(date(2026, 7, 4), "event"),)
    assert data.units == "us"
    assert "people" in data.given


# ---- what is wrong -----------------------------------------------------------------------------

NAMED = 'name = "Test wash"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "",
            'site.toml: The site has no name. Begin the file with one, as in name = "Harbor Road".',
        ),
        ("name = 7\n", "site.toml, line 1: name 7 is not text. Put it in quotation marks."),
        ('name = ""\n', "site.toml, line 1: Name “” can't be used. Enter 1 to 60 characters."),
        (
            NAMED + 'timezone = "America/New_Yrok"\n',
            "site.toml, line 2: Time zone “America/New_Yrok” is not known. Enter one such as "
            "America/New_York.",
        ),
        (
            NAMED + 'units = "metric"\n',
            'site.toml, line 2: units “metric” are not known. Write "us" or "si".',
        ),
        (
            NAMED + 'reference_class = "sedna"\n',
            "site.toml, line 2: Reference class “sedna” is not among the vehicle classes.",
        ),
        (
            NAMED + 'timezon = "UTC"\n',
            "site.toml, line 2: “timezon” is no part of this file. Did you mean timezone?",
        ),
        (
            NAMED + "[qqqqq]\n",
            "site.toml, line 2: “qqqqq” is no part of this file; it may have name, timezone, units",
        ),
        (
            NAMED + "[weel]\nstrip_count = 10\n",
            "site.toml, line 2: “weel” is no part of",
        ),
        (
            NAMED + "strip_count = 10\n",
            "site.toml, line 2: “strip_count” stands outside its table. Put it under [wheel].",
        ),
        (
            NAMED + "[line]\nstrip_count = 10\n",
            "site.toml, line 3: “strip_count” stands in the wrong table. Put it under [wheel].",
        ),
        (
            NAMED + "\n# belt\n[line]\nconveyor_sped_m_s = 0.2\n",
            "site.toml, line 5: “conveyor_sped_m_s” is not an input. Did you mean "
            "conveyor_speed_m_s?",
        ),
        (
            NAMED + "[line]\nqqqqq = 0.2\n",
            "site.toml, line 3: “qqqqq” is not an input; the Site page lists all of them.",
        ),
        (
            NAMED + "line = 3\n",
            "site.toml, line 2: “line” must be a table: a line [line] and its inputs below.",
        ),
        (
            NAMED + "[line]\nconveyor_speed_m_s = -0.2\n",
            "site.toml, line 3: Conveyor speed −0.2 m/s is outside what can be used. Enter "
            "0.05 m/s to 0.6 m/s.",
        ),
        (
            NAMED + "[line]\nconveyor_speed_m_s = nan\n",
            "site.toml, line 3: Conveyor speed “nan” is not a number.",
        ),
        (
            NAMED + '[line]\nconveyor_speed_m_s = "fast"\n',
            "site.toml, line 3: Conveyor speed: “fast” is not a number. Enter 0.05 m/s to 0.6 m/s.",
        ),
        (
            NAMED + "[line]\nconveyor_speed_m_s = true\n",
            "site.toml, line 3: Conveyor speed True: write a number.",
        ),
        (
            NAMED + f"[line]\nconveyor_speed_m_s = {'9' * 400}\n",
            "that is too large a number.",
        ),
        (
            NAMED + "[wheel]\nstrip_count = 10.5\n",
            "site.toml, line 3: Strips on the wheel 10.5 strips is not a whole number.",
        ),
        (
            NAMED + "[line]\ncar_spacing_m = 4.5\n",
            "site.toml, line 3: Car spacing 4.5 m is shorter than the reference car, sedan of",
        ),
        (
            NAMED + '[line]\nwheel_during_stop = "fast"\n',
            "site.toml, line 3: Wheel while the belt stands: “fast” is not a choice; use one of",
        ),
        (
            NAMED + "[line]\nwheel_during_stop = 1\n",
            "site.toml, line 3: Wheel while the belt stands 1: put the choice in quotation marks.",
        ),
        (
            NAMED + '[pay]\npay_lanes = ["11:00", 2]\n',
            'write rows of time and value, as in [["0:00", 2], ["11:00", 3]].',
        ),
        (
            NAMED + '[pay]\npay_lanes = [["0:00", "2"]]\n',
            "site.toml, line 3: Pay lanes open [['0:00', '2']]: write a number.",
        ),
        (
            NAMED + '[pay]\npay_lanes = [["0:00", 2], ["25:00", 3]]\n',
            "“25:00” is not a time of day; write it as 11:50, up to 24:00",
        ),
        (
            NAMED + '[pay]\npay_lanes = [["7:00", 2]]\n',
            "the times must begin at 0:00 and follow one another, up to 24:00.",
        ),
        (
            NAMED + "[pay]\nload_measured_s = 41\n",
            "site.toml, line 3: Loading, measured times 41: write a list of numbers, as in "
            "[41, 38.5, 52].",
        ),
        (
            NAMED + "[[vehicle]]\nlabel = 'x'\n",
            "site.toml, line 2: This [[vehicle]] has no key. Every class needs key and share.",
        ),
        (
            NAMED + '[[vehicle]]\nkey = "sedan"\n',
            "site.toml, line 2: This [[vehicle]] has no share. Every class needs key and share.",
        ),
        (
            NAMED + '[[vehicle]]\nkey = "sedan"\nshare = 1.4\n',
            "site.toml, line 4: Share of cars 140 % is outside what can be used.",
        ),
        (
            NAMED
            + '[[vehicle]]\nkey = "sedan"\nshare = 0.4\n[[vehicle]]\nkey = "v"\nshare = 0.4\n',
            "site.toml, line 7: The shares of the vehicle classes sum to 80 %.",
        ),
        (
            NAMED + '[[vehicle]]\nkey = "sedan"\nshare = 1\nlenght_m = 4\n',
            "site.toml, line 5: “lenght_m” is no part of a [[vehicle]]. Did you mean length_m?",
        ),
        (
            NAMED + '[[vehicle]]\nkey = "sedan"\nshare = 1\nqqqqq = 4\n',
            "site.toml, line 5: “qqqqq” is no part of a [[vehicle]]; it may have key, label, share",
        ),
        (
            NAMED + "[vehicle]\nshare = 1\n",
            "site.toml, line 2: “vehicle” must be written as tables, each begun by a line "
            "[[vehicle]].",
        ),
        (
            NAMED + '[[day]]\ndate = "4 July"\nkind = "closed"\n',
            "site.toml, line 3: date “4 July” is not a date. Write year-month-day, as in",
        ),
        (
            NAMED + '[[day]]\ndate = 2026-07-04T10:00:00\nkind = "closed"\n',
            "site.toml, line 3: date 2026-07-04 10:00:00 is not a date.",
        ),
        (
            NAMED + '[[day]]\ndate = 2026-07-04\nkind = "shut"\n',
            'site.toml, line 4: kind “shut” is not known. Write "closed", "event" or "total".',
        ),
        (
            NAMED + '[[day]]\ndate = 2026-07-04\nkind = "closed"\n[[day]]\ndate = 2026-07-04\n'
            'kind = "closed"\n',
            "site.toml, line 5: 2026-07-04 is marked closed on line 2 already. Mark it once.",
        ),
        (
            NAMED + "[line]\nopen_h = 7,5\n",
            "site.toml, line 3: The file can't be read: expected newline or end of document after "
            "a statement. A line is a name, an equals sign and a value; text stands in quotation "
            "marks, decimals have a point.",
        ),
        (NAMED + "name = 'x'\n", "site.toml, line 2: The file can't be read: cannot overwrite"),
        (NAMED + "a = " + "[" * 5000, "The file can't be read: "),
        (NAMED + "a = " + "9" * 5000, "The file can't be read: exceeds the limit"),
    ],
)
def test_what_is_wrong_in_site_toml_is_named_with_its_line(text: str, said: str) -> None:
    """Key, value, line and what would be right stand in one sentence."""
    found = problems_of(text)
    assert any(said in sentence for sentence in found), found


def test_site_toml_must_be_utf_8() -> None:
    """Latin-1 in a name would be stored wrongly, so it is refused; a byte-order mark is fine."""
    _, problems = read_site_text('name = "Café"\n'.encode("latin-1"))
    assert told(problems) == ["site.toml: The file is not UTF-8 text. Save it as UTF-8."]
    data, problems = read_site_text(b"\xef\xbb\xbf" + NAMED.encode())
    assert (data.site.name, problems) == ("Test wash", ())


@given(st.text(alphabet="name=\"x'[]{}.,#=0123456789-\n dayvehicline", max_size=60))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is read or refused with sentences that can be said."""
    assert all(problems_of(text))


def test_every_problem_of_a_folder_at_once(tmp_path: Path) -> None:
    """Problems of all three files come together, each with file and line."""
    (tmp_path / "site.toml").write_text(
        NAMED + 'timezone = "Mars/Base"\n[line]\nconveyor_speed_m_s = -1\nopen_hour = 7\n'
    )
    (tmp_path / "counts.csv").write_text("date,hour,cars_arrived\n2026-07-18,7,-3\n")
    (tmp_path / "weather.csv").write_text("date,hour,temp_c,humidity_pct\n2026-07-18,7,20,104\n")
    with pytest.raises(InputError) as caught:
        read_folder(tmp_path)
    found = told(caught.value.problems)
    assert [sentence.partition(": ")[0] for sentence in found] == [
        "site.toml, line 2",
        "site.toml, line 4",
        "site.toml, line 5",
        "counts.csv, line 2",
        "weather.csv, line 2",
    ]
    assert "“open_hour” is not an input. Did you mean open_h?" in found[2]


def test_missing_files(tmp_path: Path) -> None:
    """Without a folder or its site.toml there is one sentence; the two others may be missing."""
    gone = tmp_path / "gone"
    assert told(look_into(gone).problems) == [
        f"site.toml: There is no folder {gone}. A site is a folder with a site.toml."
    ]
    assert told(look_into(tmp_path).problems) == [
        f"site.toml: The folder {tmp_path} has no site.toml. A site is a folder with that file."
    ]
    (tmp_path / "site.toml").write_text(NAMED)
    assert read_folder(tmp_path) == SiteData(Site("Test wash"))


def test_files_that_cannot_be_read_or_written(tmp_path: Path) -> None:
    """A folder in place of a file, a file in place of a folder and a huge file are told, not
    raised as they come."""
    (tmp_path / "site.toml").mkdir()
    assert told(look_into(tmp_path).problems) == [
        "site.toml: The file can't be read: Is a directory."
    ]
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match=r"can't be written: .*Choose another one"):
        write_folder(tmp_path / "file", SiteData(Site("Test wash")))
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "site.toml").write_text(NAMED)
    with (tmp_path / "site" / "counts.csv").open("wb") as file:
        file.truncate(LIMIT_BYTES * 10)
    assert (
        "counts.csv: The file has 50.0 MB; at most 5 MB can be read."
        in told(look_into(tmp_path / "site").problems)[0]
    )


def test_notes_of_a_folder_are_told(tmp_path: Path) -> None:
    """Missing hours do not stand in the way of reading, and `look_into` tells them."""
    (tmp_path / "site.toml").write_text(NAMED + "[line]\nopen_h = 7\nclose_h = 9\n")
    (tmp_path / "counts.csv").write_text("date,hour,cars_washed\n2026-07-18,7,3\n")
    preview = look_into(tmp_path)
    assert preview.problems == ()
    assert preview.data.history.counted == "washed"
    assert told(preview.notes) == [
        "counts.csv: 2026-07-18 has no count at 8:00. Missing is not zero: the hours are left out."
    ]


@pytest.mark.parametrize("name", ["site.toml", "counts.csv", "people.csv"])
@pytest.mark.parametrize("kind", ["pipe", "endless"])
def test_what_has_no_end_is_not_read(tmp_path: Path, name: str, kind: str) -> None:
    """A pipe that nobody writes to and a link to an endless device are told, not waited for."""
    if name != "site.toml":
        (tmp_path / "site.toml").write_text(NAMED)
    if kind == "pipe":
        os.mkfifo(tmp_path / name)
    else:
        (tmp_path / name).symlink_to("/dev/zero")
    said = told(look_into(tmp_path).problems)
    assert said == [
        f"{name}: This is no file with an end that could be read. Put a plain file there."
    ]


def test_days_beyond_the_calendar_of_the_program_are_told(tmp_path: Path) -> None:
    """The first and the last year that a calendar knows are refused line by line."""
    (tmp_path / "site.toml").write_text(
        NAMED + "[[day]]\ndate = 0001-01-01\nkind = 'closed'\n"
        "[[day]]\ndate = '9999-12-31'\nkind = 'event'\n"
    )
    (tmp_path / "counts.csv").write_text(
        "start,cars_washed\n0001-01-01T00:00+14:00,3\n9999-12-31T23:00-12:00,3\n"
    )
    (tmp_path / "weather.csv").write_text(
        "date,hour,temp_c,humidity_pct\n0001-01-01,0,20,50\n9999-12-31,23,20,50\n"
    )
    (tmp_path / "cloth_sets.csv").write_text("set,bought\nA,0001-01-01\n")
    (tmp_path / "people.csv").write_text("name,away\nAnn,9999-12-31\n")
    where = [said.partition(":")[0] for said in told(look_into(tmp_path).problems)]
    assert where == [
        "site.toml, line 3", "site.toml, line 6", "counts.csv, line 2", "counts.csv, line 3",
        "weather.csv, line 2", "weather.csv, line 3", "cloth_sets.csv, line 2",
        "people.csv, line 2",
    ]  # fmt: skip


def test_numbers_of_thousands_of_digits_are_told(tmp_path: Path) -> None:
    """More digits than Python turns into a number are a problem of their line."""
    long = "7" * 5_000
    (tmp_path / "site.toml").write_text(NAMED)
    (tmp_path / "counts.csv").write_text(
        f"date,hour,cars_washed\n2026-07-13,8,{long}\n2026-07-13,{long},8\n{long},8,8\n"
    )
    (tmp_path / "weighings.csv").write_text(
        "kind,date,time,weight_kg,dry_kg,cars,damp_cars\n"
        f"damp,2026-07-13,9:00,0.3,0.1,{long},{long}\n"
    )
    (tmp_path / "cloth_sets.csv").write_text(f"set,cars_before\nA,{long}\n")
    said = told(look_into(tmp_path).problems)
    assert len(said) == 6
    assert all(len(sentence) < 400 for sentence in said)
    for key in ("open_h", "strip_count"):
        (tmp_path / "site.toml").write_text(NAMED + f"[x]\n{key} = {long}\n")
        assert told(look_into(tmp_path).problems)[0].startswith("site.toml, line ")


def test_a_site_toml_that_would_take_long_is_not_read() -> None:
    """A file of more than a million characters, and a name of many parts, are told as such."""
    found = problems_of(NAMED + "#" * 1_000_000)
    assert found == [
        f"site.toml: The file has {len(NAMED) + 1_000_000:,} characters; at most 1,000,000 can be "
        "read."
    ]
    (said,) = problems_of(NAMED + "line" + ".a" * 40 + " = 1\n")
    assert said.startswith("site.toml, line 2: “line.a.a")
    assert said.endswith("holds too many points. Write a name and its value on a line.")


def test_long_lists_of_problems_end_with_a_word() -> None:
    """A hundred are listed, wherever the rest stands; then it is said that there may be more."""
    wrong = "".join(f"wrong_{number} = 1\n" for number in range(150))
    for text in (NAMED + wrong, NAMED + "[line]\n" + wrong, NAMED + f"[[day]]\n{wrong}[[day]]\n"):
        found = problems_of(text)
        assert len(found) == PROBLEMS_SHOWN + 1
        assert found[-1] == "site.toml: There may be more to mend; it is told once this is."


def test_points_name_an_input_and_dates_need_no_marks() -> None:
    """What the format of the file allows (TOML 1.0: dotted keys, local dates) is read."""
    data, problems = read_site_text(
        f"{NAMED}stands_on = 2026-07-18\nwheel.strip_count = 150\n".encode()
    )
    assert problems == ()
    assert (data.stands_on, data.site.wheel.strip_count) == (date(2026, 7, 18), 150)
    (said,) = problems_of(NAMED + "wheel.strip_count = -1\n")
    assert said.startswith("site.toml, line 2:")
    (said,) = problems_of(NAMED + "stands_on = 'in July'\n")
    assert said == (
        "site.toml, line 2: stands_on “in July” is not a date. Write year-month-day, as in "
        "2026-07-18."
    )
