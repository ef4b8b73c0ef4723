"""What a row can't be though each of its cells can: the field, the value and what would be right.

Each limit is tried on its very value and beside it. The limits are the program's own; that wet
cloth weighs more than dry cloth, and counts of hoods within those looked at, is common sense.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.books import (
    BOOKS,
    check_problems,
    cloth_story,
    entry_problems,
    event_problems,
    person_problems,
    read_rows,
    shift_problems,
    weather_line,
    weighing_problems,
)
from sim.errors import InputProblem
from sim.inputs import (
    AFTERNOON,
    DAMP,
    HOODS,
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    LOG,
    PUT_ON,
    ROTATED,
    SETS,
    SOAKED,
    SPIN,
    TAKEN_OFF,
    TOWEL,
    WEIGHED,
    WORN,
    CheckItem,
    ClothBook,
    ClothEvent,
    ClothSet,
    LogEntry,
    Person,
    PlannedShift,
    Site,
    SiteData,
    Weighing,
)
from sim.inputs import logbook as kinds

DAY = date(2026, 7, 2)
SITE = Site("Wash").with_values({"open_h": 8.0, "close_h": 18.0})
SOAK = Weighing(SOAKED, DAY, 0.0, 0.32, 0.1)
NOON = Weighing(AFTERNOON, DAY, 43_200.0, 0.19, 0.1, cars=20, damp_cars=3)
SPUN = Weighing(SPIN, DAY, 43_200.0, 0.32, 0.1, after_kg=0.25, spun_s=600.0)
DRIED = Weighing(TOWEL, DAY, 0.0, 0.12, 0.1)
SEEN = Weighing(HOODS, DAY, 43_200.0, cars=20, damp_cars=3)
Told = tuple[tuple[str, str], ...]


def differs(problems: Iterable[InputProblem], wanted: Told) -> str:
    """Where problems are not those wanted, each by field and a part of its sentence; else empty."""
    found = [(one.field, one.say().replace("\N{NO-BREAK SPACE}", " ")) for one in problems]
    as_wanted = len(found) == len(wanted) and all(
        field == name and part in sentence
        for (field, sentence), (name, part) in zip(found, wanted, strict=True)
    )
    return "" if as_wanted else f"{found} instead of {wanted}"


WEIGHINGS: tuple[tuple[Weighing, Told], ...] = (
    (SOAK, ()), (NOON, ()), (SPUN, ()), (DRIED, ()), (SEEN, ()),
    (replace(SOAK, weight_kg=0.1), (("weight_kg", "Weight 100 g can't be"),)),
    (replace(SOAK, weight_kg=0.1001), ()),
    (replace(SOAK, weight_kg=0.9), ()),
    (replace(SOAK, weight_kg=0.9001), (("weight_kg", "a wet strip weighs more than 100 g"),)),
    (replace(SOAK, dry_kg=9.0), ()),  # the cell says so itself
    (replace(DRIED, weight_kg=0.1), ()),
    (replace(DRIED, weight_kg=0.0999), (("weight_kg", "no less after a hood than before it, 100 g"),)),
    (replace(DRIED, weight_kg=0.9), ()),
    (replace(DRIED, weight_kg=0.9001), (("weight_kg", "none holds 8 times its own weight"),)),
    (replace(SPUN, after_kg=0.1), (("after_kg", "Weight 100 g"),)),
    (replace(SPUN, weight_kg=2.0), (("weight_kg", "no cloth holds 8 times its own weight"),)),
    (replace(SOAK, after_kg=0.0), ()),
    (replace(SEEN, weight_kg=0.0, dry_kg=0.0), ()),
    (replace(SEEN, cars=0, damp_cars=0), (("cars", "Enter how many hoods they were, 1 to 200."),)),
    (replace(SEEN, damp_cars=21), (("damp_cars", "21 damp cars of 20 looked at can't be"),)),
    (replace(SEEN, damp_cars=20), ()),
    (replace(SEEN, damp_cars=0), ()),
    (replace(NOON, damp_cars=-1), (("damp_cars", "Enter 0 to 20."),)),
    (replace(NOON, cars=0, damp_cars=1), (("damp_cars", "1 damp cars of 0"),)),
    (replace(NOON, cars=-1), ()),  # the cell says so itself
    (replace(SOAK, cars=1, damp_cars=2), ()),  # nobody looks at cars for it
    (replace(DRIED, cars=1, damp_cars=2), (("damp_cars", "2 damp cars of 1"),)),
    (replace(NOON, weather="31 °C, 80 %"), ()),
    (replace(NOON, weather="much rain"), (("weather", "much rain"),)),
    (replace(NOON, rule="never"), (("rule", "never"),)),
    (replace(NOON, rule="band 60-50; pull cord failed"), (("rule", "safety"),)),
)  # fmt: skip


@pytest.mark.parametrize(("item", "wanted"), WEIGHINGS)
def test_what_a_weighing_can_not_be(item: Weighing, wanted: Told) -> None:
    """Weights of strips and towels, cars looked at, weather and rule, on their limits and beyond."""
    assert not differs(weighing_problems(item), wanted)


@pytest.mark.parametrize(
    ("item", "wanted"),
    [
        (replace(NOON, at_s=8 * 3600.0), ()),
        (replace(NOON, at_s=8 * 3600.0 - 60.0), (("at_s", "7:59 is outside the opening hours"),)),
        (replace(NOON, at_s=18 * 3600.0), ()),
        (replace(NOON, at_s=18 * 3600.0 + 60.0), (("at_s", "Enter 8:00 to 18:00."),)),
        (replace(SOAK, at_s=0.0), ()),
        (replace(NOON, rule="class hearse"), (("rule", "hearse"),)),
        (replace(NOON, rule="class van"), ()),
    ],
)
def test_what_a_weighing_can_not_be_at_its_site(item: Weighing, wanted: Told) -> None:
    """Its hours and its classes of cars; without a site any time and class may be."""
    assert not differs(weighing_problems(item, SITE), wanted)
    if "class" in item.rule:
        assert not differs(weighing_problems(item), ())


@pytest.mark.parametrize(
    ("text", "line", "wanted"),
    [
        ("31 °C, 80 %", "31 °C, 80 %", ()),
        ("x" * 61, "", (("weather", "Enter at most 60 characters."),)),
        ("x" * 60, "", (("weather", "x" * 40),)),
        ("rain 5 mm", "", (("weather", "“rain 5 mm” says more than can be used"),)),
        ("31 °C, event 1.2", "", (("weather", "event"),)),
    ],
)
def test_weather_of_a_weighing(text: str, line: str, wanted: Told) -> None:
    """Heat and humidity alone, in sixty characters."""
    found, problems = weather_line(text, "si")
    assert not differs(problems, wanted)
    assert found.replace("\N{NO-BREAK SPACE}", " ") == line


PUT = ClothEvent(DAY, 25_200.0, PUT_ON, "A")
LATER = DAY + timedelta(days=1)
OFF = ClothEvent(LATER, 25_200.0, TAKEN_OFF, "A", ROTATED)
LAST = DAY + timedelta(days=2)


@pytest.mark.parametrize(
    ("event", "wanted"),
    [
        (PUT, ()),
        (ClothEvent(DAY, 0.0, INSPECTED, "A"), (("length_m", "Enter length, dry weight or torn"),)),
        (ClothEvent(DAY, 0.0, INSPECTED, "A", torn=0), ()),
        (ClothEvent(DAY, 0.0, INSPECTED, "A", length_m=0.9), ()),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", hoods=20, damp_hoods=0), ()),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", hoods=20, damp_hoods=20), ()),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", hoods=20, damp_hoods=21),
         (("damp_hoods", "21 damp hoods of 20 can’t be. Enter 0 to 20."),)),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", hoods=20, damp_hoods=-1),
         (("damp_hoods", "-1 damp hoods"),)),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", hoods=20),
         (("damp_hoods", "No damp hoods of 20"),)),
        (ClothEvent(DAY, 0.0, HOODS_COUNTED, "A", damp_hoods=1), (("hoods", "Enter 1 to 1,000."),)),
    ],
)  # fmt: skip
def test_what_an_entry_of_a_set_can_not_be(event: ClothEvent, wanted: Told) -> None:
    """An inspection that saw nothing, and counts of hoods that are none."""
    assert not differs(event_problems(event), wanted)


@pytest.mark.parametrize(
    ("events", "wanted"),
    [
        ((PUT, OFF), ()),
        ((OFF, PUT), ()),
        ((replace(PUT, name="X"), replace(OFF, name="X")),
         (("name", "There is no set “X”. Enter the set first"),)),
        ((replace(PUT, day=date(2026, 6, 1)),), ()),
        ((replace(PUT, day=date(2026, 5, 31)),),
         (("day", "Set “A” was bought on 2026-06-01, after 2026-05-31 7:00."),)),
        ((replace(PUT, name="B", day=date(2026, 5, 31)),), ()),
        ((PUT, replace(PUT, name="B", day=LATER)),
         (("name", "Set “B” can’t be put on on 2026-07-03 7:00: set “A” has been on the wheel since "
           "2026-07-02 7:00."),)),
        ((PUT, replace(PUT, day=LATER)), (("name", "has been on the wheel since 2026-07-02 7:00"),)),
        ((PUT, OFF, replace(PUT, day=LAST)), ()),
        ((PUT, replace(OFF, reason=WORN), replace(PUT, day=LAST)),
         (("name", "“A” can’t be put on on 2026-07-04 7:00: it came to its end on 2026-07-03 7:00"),)),
        ((OFF,), (("day", "Set “A” can’t be taken off on 2026-07-03 7:00"),)),
        ((PUT, replace(OFF, name="B")), (("day", "Set “B” can’t be taken off on 2026-07-03 7:00"),)),
        ((PUT, replace(OFF, name="B"), replace(OFF, day=LAST)), (("day", "Set “B” can’t be taken"),)),
        ((PUT, ClothEvent(LATER, 0.0, HOODS_COUNTED, "A", hoods=2, damp_hoods=1)), ()),
        ((PUT, ClothEvent(LATER, 0.0, HOODS_COUNTED, "B", hoods=2, damp_hoods=1)),
         (("name", "under set “B” on 2026-07-03 0:00: it was not on the wheel then."),)),
        ((ClothEvent(LATER, 0.0, HOODS_COUNTED, "A", hoods=2, damp_hoods=1),),
         (("name", "Hoods can’t have been counted under set “A”"),)),
        ((PUT, ClothEvent(LATER, 0.0, LAUNDERED, "A")),
         (("day", "Set “A” can’t be laundered on 2026-07-03 0:00: it was on the wheel."),)),
        ((PUT, ClothEvent(LATER, 0.0, LAUNDERED, "B")), ()),
        ((PUT, ClothEvent(LATER, 0.0, INSPECTED, "A", torn=1)), ()),
        ((ClothEvent(LATER, 0.0, LAUNDERED, "A"),), ()),
    ],
)  # fmt: skip
def test_where_entries_do_not_fit_one_another(events: tuple[ClothEvent, ...], wanted: Told) -> None:
    """One set on the wheel at a time, from when it is put on until it is taken off; none before it
    was bought, or after its end."""
    sets = (ClothSet("A", date(2026, 6, 1)), ClothSet("B"))
    data = SiteData(Site("Wash"), cloth=ClothBook(sets, events))
    assert not differs(cloth_story(data), wanted)
    assert not differs(BOOKS["cloth"].problems(data), wanted)


SHIFT = PlannedShift(DAY, "Ada", "", 28_800.0, 57_600.0, 57_600.0, 57_600.0)
BREAK = replace(SHIFT, break_start_s=43_200.0, break_end_s=45_000.0)


@pytest.mark.parametrize(
    ("shift", "is_good"),
    [
        (SHIFT, True), (BREAK, True),
        (replace(SHIFT, start_s=0.0, end_s=86_400.0, break_start_s=86_400.0, break_end_s=86_400.0), True),
        (replace(SHIFT, start_s=-1800.0), False),
        (replace(SHIFT, end_s=88_200.0, break_start_s=88_200.0, break_end_s=88_200.0), False),
        (replace(SHIFT, start_s=57_600.0), False), (replace(SHIFT, start_s=59_400.0), False),
        (replace(BREAK, break_start_s=27_000.0), False), (replace(BREAK, break_end_s=41_400.0), False),
        (replace(BREAK, break_end_s=59_400.0), False), (replace(BREAK, break_start_s=43_201.0), False),
        (replace(SHIFT, start_s=28_801.0), False), (replace(BREAK, break_start_s=28_800.0), True),
        (replace(BREAK, break_end_s=57_600.0), True),
    ],
)  # fmt: skip
def test_what_a_shift_can_not_be(shift: PlannedShift, is_good: bool) -> None:
    """Full or half hours, the break inside, the end later than the start and by 24:00."""
    named = "The shift of “Ada” on 2026-07-02, "
    assert not differs(shift_problems(shift), () if is_good else (("start_s", named),))
    if shift.start_s == 59_400.0:
        assert "16:30 to 16:00, can’t be" in next(iter(shift_problems(shift))).say()


@pytest.mark.parametrize(
    ("person", "wanted"),
    [
        (Person("Ada", ("wheel", "exit"), least_h=20.0, most_h=20.0), ()),
        (Person("Ada", ("wheel", "wheel")), (("roles", "A role of “Ada” stands twice."),)),
        (
            Person("Ada", least_h=21.0, most_h=20.0),
            (("least_h", "at least 21.0 and at most 20.0"),),
        ),
    ],
)
def test_what_a_person_can_not_be(person: Person, wanted: Told) -> None:
    """A role twice; more hours at least than at most."""
    assert not differs(person_problems(person), wanted)


ENTRY = LogEntry("an-entry_1", DAY, 39_600.0, kinds.CARS, count=212)
NEEDED: tuple[tuple[LogEntry, Told], ...] = (
    (ENTRY, ()), (replace(ENTRY, count=0), ()),
    (replace(ENTRY, key="1234567"), (("key", "“1234567” names no entry. Use 8 to 64 letters"),)),
    (replace(ENTRY, key="12345678"), ()),
    (replace(ENTRY, key="k" * 64), ()),
    (replace(ENTRY, key="k" * 65), (("key", "names no entry"),)),
    (replace(ENTRY, key="with spaces"), (("key", "“with spaces” names no entry"),)),
    (replace(ENTRY, key="süß-süß-süß"), (("key", "names no entry"),)),
    (replace(ENTRY, text="t" * 400), ()),
    (replace(ENTRY, text="t" * 401), (("text", "Enter at most 400 characters."),)),
    (replace(ENTRY, count=None), (("count", "Enter how many, 0 for none."),)),
    (replace(ENTRY, kind=kinds.HOUR, count=None), (("count", "Nothing was counted."),)),
    (replace(ENTRY, word="full"), (("word", "“full” can’t be said of this entry. Use nothing."),)),
    (replace(ENTRY, kind=kinds.WIPING, word="full"), ()),
    (replace(ENTRY, kind=kinds.WIPING, word="half"), (("word", "“half” can’t be said of this entry. Use full, reduced."),)),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=3, of=20), ()),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=20, of=20), ()),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=0, of=20), ()),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=21, of=20), (("count", "21 damp hoods of 20 can’t be. Enter 0 to 20."),)),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=1, of=0), (("count", "1 damp hoods of 0"),)),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=0, of=0), ()),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=None, of=20), (("count", "Nothing was counted."),)),
    (replace(ENTRY, kind=kinds.DAMP_HOODS, count=3), (("of", "No hoods were looked at."),)),
    (replace(ENTRY, of=0), ()),
    (replace(ENTRY, kind=kinds.STRIP), (("weight_kg", "Enter what the strip weighs."),)),
    (replace(ENTRY, kind=kinds.STRIP, weight_kg=0.2), ()),
    (replace(ENTRY, kind=kinds.WAIT), (("lasted_s", "Enter its minutes, 0 for none."),)),
    (replace(ENTRY, kind=kinds.WAIT, lasted_s=0.0), ()),
    (replace(ENTRY, kind=kinds.STOP), (("name", "This entry names nothing and nobody."),)),
    (replace(ENTRY, kind=kinds.STOP, name="photo eye"), ()),
    (replace(ENTRY, kind=kinds.DEVICE, name="blower", word="down"), ()),
    (replace(ENTRY, kind=kinds.DEVICE, name="kettle", word="down"), (("name", "“kettle” is no device. Use emergency_stop, pull_cord,"),)),
    (replace(ENTRY, kind=kinds.DEVICE, word="down"), (("name", "This entry names nothing"),)),
    (replace(ENTRY, kind=kinds.TIMED, name="load", text="14 12 15"), ()),
    (replace(ENTRY, kind=kinds.TIMED, name="lunch", text="14 12"), (("name", "“lunch” is nothing that can be timed. Use "),)),
    (replace(ENTRY, kind=kinds.TIMED, name="load"), (("text", "No time was given."),)),
    (replace(ENTRY, kind=kinds.TIMED, name="load", text="soon"), (("text", "soon"),)),
    (replace(ENTRY, kind=kinds.TIMED, name="", text="soon"), (("name", "This entry names nothing"),)),
    (replace(ENTRY, kind=kinds.NOTE), (("text", "There is no text."),)),
    (replace(ENTRY, kind=kinds.NOTE, text="fine"), ()),
    (replace(ENTRY, kind=kinds.FELT), (("text", "There is no text."),)),
    (replace(ENTRY, kind=kinds.FELT, text="31 °C, 80 %"), ()),
    (replace(ENTRY, kind=kinds.FELT, text="rain 5 mm"), (("text", "says more than can be used"),)),
    (replace(ENTRY, text="rain 5 mm"), ()),
)  # fmt: skip


@pytest.mark.parametrize(("entry", "wanted"), NEEDED)
def test_what_an_entry_of_the_log_can_not_be(entry: LogEntry, wanted: Told) -> None:
    """Its key, what its kind needs and allows, and how long its text is."""
    assert not differs(entry_problems(entry), wanted)


CHECK = CheckItem("Belt tension", kinds.WEEKLY, unit="mm", low=3.0, high=5.0)


@pytest.mark.parametrize(
    ("check", "wanted"),
    [
        (CHECK, ()),
        (replace(CHECK, high=3.0), ()),
        (replace(CHECK, high=2.0), (("low", "“Belt tension” has a range from 3.0 to 2.0. Swap"),)),
        (replace(CHECK, low=None), ()),
        (replace(CHECK, high=None), ()),
        (replace(CHECK, unit=""), (("unit", "A range without a unit says nothing."),)),
        (replace(CHECK, unit="", low=None), (("unit", "A range without a unit"),)),
        (replace(CHECK, unit="", low=None, high=None), ()),
        (replace(CHECK, name=""), (("name", "A check needs a name."),)),
        (replace(CHECK, how="h" * 400), ()),
        (replace(CHECK, how="h" * 401), (("how", "Enter at most 400 characters."),)),
    ],
)
def test_what_a_check_can_not_be(check: CheckItem, wanted: Told) -> None:
    """A range without a unit or the wrong way round, no name, a text that is too long."""
    assert not differs(check_problems(check), wanted)


def test_a_file_is_read_line_by_line() -> None:
    """Good lines are kept, bad ones told with file and line; a column that is needed and missing is
    told by its name and what the file needs; no file is no row."""
    assert read_rows(SETS, None) == ((), (), ())
    found, problems, _ = read_rows(SETS, b"set,bought\nA,2026-06-01\nB,soon\nC,\n")
    assert [item.name for item in found] == ["A", "C"]
    assert [(p.field, p.where) for p in problems] == [("bought", "cloth_sets.csv, line 3")]
    found, problems, _ = read_rows(SETS, b"bought\n2026-06-01\n")
    assert found == ()
    assert not differs(problems, (("header", "No column gives set. The file needs set."),))
    assert problems[0].where == "cloth_sets.csv"


def test_a_check_of_rows_is_told_at_its_line() -> None:
    """What can't be of a row by itself keeps it out, with the line on which it stands; a comma is a
    point where the file is written so."""
    head = "kind;date;time;weight_kg;dry_kg\n"
    text = f"{head}soaked;2026-07-02;12:00;0,32;0,1\nsoaked;2026-07-02;12:10;0,1;0,1\n"
    found, problems, _ = read_rows(WEIGHED, text.encode(), weighing_problems)
    assert [item.weight_kg for item in found] == [0.32]
    assert [(p.field, p.where) for p in problems] == [("weight_kg", "weighings.csv, line 3")]


def test_a_book_is_told_as_a_whole() -> None:
    """Files of a book are read together: rows that don't fit one another are told under its last
    file, once each row by itself is good; notes of every file come along."""
    sets, log = b"set\nA\nA\n", b"date,time,what,set\n2026-07-02,7:00,on,A\n"
    data, problems, notes = BOOKS["cloth"].read(
        {"cloth_sets.csv": sets, "cloth_log.csv": log}, SiteData(Site("Wash"))
    )
    assert [item.name for item in data.cloth.sets] == ["A", "A"]
    assert [(p.field, p.where) for p in problems] == [("name", "cloth_log.csv")]
    log = log.replace(b"on,A", b"off,A,rotated").replace(b",set\n", b",set,reason\n")
    data, problems, notes = BOOKS["cloth"].read(
        {"cloth_sets.csv": b"set\nA\n", "cloth_log.csv": log}, SiteData(Site("Wash"))
    )
    assert not differs(problems, (("day", "Set “A” can’t be taken off"),))
    assert problems[0].where == "cloth_log.csv"
    assert notes == ()
    accents = {"cloth_sets.csv": "set\nÄ\n".encode("latin-1")}
    _, problems, notes = BOOKS["cloth"].read(accents, SiteData(Site("Wash")))
    assert problems == ()
    assert [note.where for note in notes] == ["cloth_sets.csv"]


def test_what_lies_in_the_future_is_told_of_a_book() -> None:
    """With today's date rows that are still to come are wrong; without it they may be."""
    data = replace(SiteData(Site("Wash")), log=(replace(ENTRY, day=LATER),))
    assert BOOKS["log"].problems(data) == []
    assert not differs(BOOKS["log"].problems(data, DAY), (("day", "is still to come"),))
    assert not differs(BOOKS["log"].problems(replace(data, log=(replace(ENTRY, count=None),))),
                       (("count", "Nothing was counted."),))  # fmt: skip
    assert LOG.of(data)[0].day == LATER


def test_a_book_puts_its_rows_in_order() -> None:
    """By time, and nothing else of the site changes."""
    data = SiteData(Site("Wash"), cloth=ClothBook((ClothSet("A"),), (OFF, PUT)))
    ordered = BOOKS["cloth"].in_order(data)
    assert ordered.cloth == ClothBook((ClothSet("A"),), (PUT, OFF))
    assert replace(ordered, cloth=data.cloth) == data
    assert DAMP != SOAKED
