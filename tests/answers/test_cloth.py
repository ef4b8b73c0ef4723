"""The record of cloth sets: what may be stored, files both ways, the answer for a site."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from app.answers.answer import Desk
from app.answers.cloth import (
    CLOTH,
    ClothFound,
    ClothView,
    answer_of_site,
    find_out,
    planned_rules,
    time_of_day,
)
from app.answers.studies.runner import Runner
from app.books import BOOKS, csv_of
from app.catalogue import say
from app.db import store
from app.db.session import Database, Session, open_database
from app.sites.changes import Gate
from app.sites.demo import demo_data
from app.sites.folder import read_folder, write_folder
from sim.errors import InputError, InputProblem
from sim.inputs import (
    ACCIDENT,
    EVENTS,
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    SETS,
    TAKEN_OFF,
    WORN,
    ClothBook,
    ClothEvent,
    ClothSet,
    Scenario,
    Site,
    SiteData,
)
from sim.learn.expected_day import expected_day
from tests.small_wash import TODAY, small_wash

DAY = date(2026, 7, 2)
A, B = ClothSet("A", date(2026, 6, 1)), ClothSet("B, “second”", None, 1234.5)
SEVEN = 7 * 3600.0
BOOK = ClothBook(
    (A, B),
    (
        ClothEvent(DAY, SEVEN, PUT_ON, A.name),
        ClothEvent(DAY + timedelta(days=4), SEVEN, TAKEN_OFF, A.name, ROTATED, 3100.25),
        ClothEvent(DAY + timedelta(days=4), SEVEN, PUT_ON, B.name),
        ClothEvent(DAY + timedelta(days=4), 57_600.0, LAUNDERED, A.name),
        ClothEvent(
            DAY + timedelta(days=4), 58_200.0, HOODS_COUNTED, B.name, hoods=20, damp_hoods=3
        ),
        ClothEvent(
            DAY + timedelta(days=5), 57_600.0, INSPECTED, A.name,
            length_m=0.87, dry_kg=1 / 11, torn=3,
        ),
    ),
)  # fmt: skip
NOW = datetime(2026, 7, 16, 18, 0, tzinfo=UTC)


def cloth_problems(book: ClothBook, today: date | None = None) -> list[InputProblem]:
    """What is wrong with a record."""
    return BOOKS["cloth"].problems(SiteData(Site("Wash"), cloth=book), today)


def read_cloth(
    sets: bytes | None, log: bytes | None
) -> tuple[ClothBook, tuple[InputProblem, ...], tuple[InputProblem, ...]]:
    """A record from its files, what is wrong with them, and notes."""
    files = {SETS.file: sets, EVENTS.file: log}
    data, problems, notes = BOOKS["cloth"].read(files, SiteData(Site("Wash")))
    return data.cloth, problems, notes


def with_(*events: ClothEvent, sets: tuple[ClothSet, ...] = BOOK.sets) -> ClothBook:
    """The record with more entries."""
    return ClothBook(sets, (*BOOK.events, *events)).in_order()


def test_a_record_that_fits_has_no_problem() -> None:
    """A set comes off at the very minute at which the next is put on."""
    assert cloth_problems(BOOK, TODAY) == []


LATER = DAY + timedelta(days=8)


@pytest.mark.parametrize(
    ("hoods", "damp", "field"),
    [(0, 0, "hoods"), (None, 2, "hoods"), (1_001, 2, "hoods"), (20, 21, "damp_hoods"),
     (20, None, "damp_hoods"), (20, -1, "damp_hoods")],
)  # fmt: skip
def test_a_count_of_hoods_that_can_not_be(hoods: int | None, damp: int | None, field: str) -> None:
    """None or too many looked at, more damp than looked at: each is told at its field."""
    event = ClothEvent(LATER, SEVEN, HOODS_COUNTED, B.name, hoods=hoods, damp_hoods=damp)
    assert [problem.field for problem in cloth_problems(with_(event))] == [field]


def test_hoods_belong_to_the_set_on_the_wheel() -> None:
    """A count names the set that the cars met, and no other entry has one."""
    off = ClothEvent(LATER, SEVEN, HOODS_COUNTED, "A", hoods=20, damp_hoods=3)
    (problem,) = cloth_problems(with_(off))
    assert problem.field == "name"
    assert "it was not on the wheel then" in str(problem)
    laundered = ClothEvent(LATER, SEVEN, LAUNDERED, "A", hoods=20)
    assert [p.field for p in cloth_problems(with_(laundered))] == ["hoods"]


@pytest.mark.parametrize(
    ("book", "field", "said"),
    [
        (
            ClothBook((A,), (ClothEvent(DAY, SEVEN, TAKEN_OFF, "A", WORN),)),
            "day",
            "Set “A” can’t be taken off on 2026-07-02 7:00: it was not on the wheel then. Enter "
            "first when it was put on, earlier than that.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, PUT_ON, "A")),
            "name",
            "Set “A” can’t be put on on 2026-07-10 7:00: set “B, “second”” has been on the wheel "
            "since 2026-07-06 7:00. Enter first when that one was taken off.",
        ),
        (
            with_(ClothEvent(TODAY + timedelta(days=1), SEVEN, INSPECTED, "A", torn=1)),
            "day",
            "2026-07-17 is still to come. Enter the day on which it happened.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, LAUNDERED, B.name)),
            "day",
            "Set “B, “second”” can’t be laundered on 2026-07-10 7:00: it was on the wheel. Enter "
            "first when it was taken off.",
        ),
        (
            with_(
                ClothEvent(LATER, SEVEN, TAKEN_OFF, B.name, ACCIDENT),
                ClothEvent(LATER, SEVEN + 60, PUT_ON, B.name),
            ),
            "name",
            "Set “B, “second”” can’t be put on on 2026-07-10 7:01: it came to its end on "
            "2026-07-10 7:00. Enter a new set, or correct why it was taken off.",
        ),
        (
            ClothBook((A,), (ClothEvent(date(2026, 5, 1), SEVEN, PUT_ON, "A"),)),
            "day",
            "Set “A” was bought on 2026-06-01, after 2026-05-01 7:00. Correct one of the two.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, INSPECTED, "Z", torn=0)),
            "name",
            "There is no set “Z”. Enter the set first, or choose one that there is.",
        ),
        (
            with_(sets=(A, B, A)),
            "name",
            "There are 2 sets “A”. Give each a name of its own.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, "washed", "A")),
            "kind",
            "“washed” is nothing that happens to a set. Use on, off, laundered, inspected, hoods.",
        ),
        (
            with_(ClothEvent(LATER, 7.5, INSPECTED, "A", torn=1)),
            "at_s",
            "Time 7.5 s is not a minute of the day. Write it as 15:20.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, TAKEN_OFF, B.name, "tired")),
            "reason",
            "“tired” is no reason to take a set off. Use rotated, worn, planned, accident, stolen.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, LAUNDERED, "A", WORN)),
            "reason",
            "reason “worn” belongs to “off” alone. Leave it empty.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, TAKEN_OFF, B.name, WORN, -1.0)),
            "cars",
            "−1 cars can’t be the wear of a set. Enter 0 to 1,000,000.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, LAUNDERED, "A", cars=5.0)),
            "cars",
            "cars “5.0” belongs to “off” alone. Leave it empty.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, INSPECTED, "A")),
            "length_m",
            "Nothing was measured. Enter length, dry weight or torn strips.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, LAUNDERED, "A", torn=2)),
            "torn",
            "torn “2” belongs to “inspected” alone. Leave it empty.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, INSPECTED, "A", length_m=9.0)),
            "length_m",
            "Length 9\u00a0m can’t be that of a strip. Enter more than 0, up to 2\u00a0m.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, INSPECTED, "A", dry_kg=-0.1)),
            "dry_kg",
            "Dry weight −100\u00a0g can’t be that of a strip. Enter more than 0, up to "
            "2,000\u00a0g.",
        ),
        (
            with_(ClothEvent(LATER, SEVEN, INSPECTED, "A", torn=9_999)),
            "torn",
            "9,999 torn strips can’t be. Enter 0 to 3,000.",
        ),
        (
            with_(sets=(A, B, ClothSet(" "))),
            "name",
            "Name “ ” can’t be used. Enter 1 to 40 characters, the first not “=”.",
        ),
        (
            with_(sets=(A, B, ClothSet("C", TODAY + timedelta(days=3)))),
            "bought",
            "2026-07-19 is still to come. Enter the day on which the set was bought.",
        ),
        (
            with_(sets=(A, B, *(ClothSet(f"C{n}") for n in range(199)))),
            "name",
            "201 sets are too many; at most 200 can be kept.",
        ),
    ],
)
def test_what_does_not_fit_is_told_beside_its_field(book: ClothBook, field: str, said: str) -> None:
    """One problem each, with the values given and what would be right."""
    (problem,) = cloth_problems(book, TODAY)
    assert (problem.field, problem.say("si")) == (field, said)


def test_files_give_the_record_back() -> None:
    """Every float to the last bit, quotes and commas in names included."""
    book, problems, notes = read_cloth(
        csv_of(SETS, BOOK.sets).encode(), csv_of(EVENTS, BOOK.events).encode()
    )
    assert (problems, notes) == ((), ())
    assert book == BOOK


@pytest.mark.parametrize(
    ("sets", "log", "said"),
    [
        (b"set,bought\nA,July\n", None, "line 2: bought “July” is not a date."),
        (b"set,cars_before\nA,many\n", None, "line 2: cars_before “many” is not a number of cars."),
        (b"name\nA\n", None, "cloth_sets.csv"),
        (b"set\nA\n", b"date,time,set,what\n2026-07-02,noon,A,on\n", "line 2: time “noon”"),
        (b"set\nA\n", b"date,time,set\n2026-07-02,9:00,A\n", "No column gives what."),
        (
            b"set\nA\n",
            b"date,time,set,what,torn\n2026-07-02,9:00,A,inspected,1.5\n",
            "line 2: torn “1.5” is not a number of strips.",
        ),
        (
            b"set\nA\n",
            b"date,time,set,what,length_m\n2026-07-02,9:00,A,inspected,long\n",
            "line 2: length_m “long” can’t be read.",
        ),
        (
            b"set\nA\n",
            b"date,time,set,what,reason\n2026-07-02,9:00,A,off,worn\n",
            "cloth_log.csv: Set “A” can’t be taken off",
        ),
    ],
)
def test_bad_lines_of_files_are_named(sets: bytes, log: bytes | None, said: str) -> None:
    """With file and line, and what would be right."""
    _, problems, _ = read_cloth(sets, log)
    assert any(said in str(problem) for problem in problems), [str(p) for p in problems]


def test_a_folder_keeps_the_record(tmp_path: Path) -> None:
    """Out and in again: the same site, and a site without sets writes no file of them."""
    data = replace(small_wash(), cloth=BOOK)
    write_folder(tmp_path / "with", data)
    assert read_folder(tmp_path / "with").cloth == BOOK
    write_folder(tmp_path / "without", small_wash())
    assert not (tmp_path / "without" / "cloth_sets.csv").exists()
    # a file that stood there does not outlive its sets
    write_folder(tmp_path / "with", small_wash())
    assert read_folder(tmp_path / "with").cloth == ClothBook()


def test_the_gate_stores_and_tells(session: Session, gate: Gate, site_id: int) -> None:
    """The record comes back as it was stored, and each entry is a row of the history."""
    gate.set_book(site_id, "cloth", BOOK, 1, "first", TODAY)
    assert store.get_site(session, site_id).data.cloth == BOOK
    history = store.input_history(session, site_id)
    told = {change.field for change in history if change.what == "cloth"}
    assert told == {
        "A", B.name, "A on 2026-07-02 7:00", "A off 2026-07-06 7:00",
        f"{B.name} on 2026-07-06 7:00", "A laundered 2026-07-06 16:00",
        f"{B.name} hoods 2026-07-06 16:10",
        "A inspected 2026-07-07 16:00",
    }  # fmt: skip
    shorter = ClothBook(BOOK.sets, BOOK.events[:-1])
    gate.set_book(site_id, "cloth", shorter, 2, "second", TODAY)
    newest = store.input_history(session, site_id)[0]
    assert (newest.field, newest.new) == ("A inspected 2026-07-07 16:00", None)
    assert EVENTS.of_plain(newest.old).length_m == 0.87


def test_the_gate_refuses_and_nothing_is_lost(session: Session, gate: Gate, site_id: int) -> None:
    """Two sets on the wheel at once, or a day to come: nothing is written."""
    gate.set_book(site_id, "cloth", BOOK, 1, "first", TODAY)
    two = with_(ClothEvent(LATER, SEVEN, PUT_ON, "A"))
    with pytest.raises(InputError, match="has been on the wheel since"):
        gate.set_book(site_id, "cloth", two, 2, "two", TODAY)
    with pytest.raises(InputError, match="is still to come"):
        gate.set_book(site_id, "cloth", BOOK, 2, "three", DAY)
    assert store.get_site(session, site_id).data.cloth == BOOK


def stored(gate: Gate, session: Session, data: SiteData) -> store.StoredSite:
    """A site in the database."""
    return store.get_site(session, gate.create_site(data, "made").site_id)


def test_the_answer_of_a_site_without_lives(session: Session, gate: Gate) -> None:
    """Zero lives: a best age by the guess alone, nothing due, and a note that says so."""
    found = answer_of_site(session, stored(gate, session, small_wash()), TODAY)
    assert found.due is None
    assert found.life.likelihood is None
    assert found.life.eta.median == pytest.approx(60_000, rel=2e-3)
    assert any("how long one lasts is a guess" in say(note, "us") for note in found.notes)
    assert found.wear_per_year == pytest.approx(365 * found.wear_per_day, rel=0.05)


def test_the_answer_where_all_lives_are_censored(session: Session, gate: Gate) -> None:
    """All censored: an answer, no fit by the sets alone, and a note."""
    data = replace(small_wash(), cloth=BOOK)
    found = answer_of_site(session, stored(gate, session, data), TODAY)
    assert found.life.worn_out == 0
    assert found.life.likelihood is None
    assert found.due is not None
    assert found.due.name == B.name
    assert any("No set has come to its end" in note.sentence for note in found.notes)


def test_without_counts_the_reason_is_told(session: Session, gate: Gate) -> None:
    """No answer, and what is missing; a page is told the same and nothing raises."""
    bare = stored(gate, session, SiteData(Site("Bare")))
    with pytest.raises(InputError, match="There are no counts of open hours"):
        answer_of_site(session, bare, TODAY)
    found = find_out(bare.data, {}, TODAY, expected_day)
    assert found.answer is None
    assert "There are no counts of open hours" in say(found.problems[0], "us")


def test_a_change_that_costs_nothing_is_told(session: Session, gate: Gate) -> None:
    """Without any price there is nothing to weigh: the field, what it holds, what would do."""
    free = {"set_price": 0.0, "wage_per_h": 0.0, "unplanned_change_cost": 0.0}
    data = replace(small_wash(), cloth=BOOK)
    data = replace(data, site=data.site.with_values(free))
    with pytest.raises(InputError, match="costs nothing here: the set is 0") as refused:
        answer_of_site(session, stored(gate, session, data), TODAY)
    assert refused.value.problems[0].field == "set_price"


@pytest.fixture
def lasting(tmp_path: Path) -> Iterator[Database]:
    """A database in a file, which the thread of a study can read while the test does."""
    opened = open_database(tmp_path / "data.sqlite3")
    yield opened
    opened.close()


def test_an_answer_is_a_study_and_kept_until_something_changes(lasting: Database) -> None:
    """Opening computes nothing; worked out once it is found again; a new version, or a planned
    rule, is another question. Its units are the reader's."""
    runner = Runner(lasting, 1, lambda: NOW)
    with lasting.session() as session:
        _study_of_cloth(runner, session, Gate(session, store.built_in_person(session), NOW))
    runner.close()


def _study_of_cloth(runner: Runner, session: Session, gate: Gate) -> None:
    site = stored(gate, session, replace(small_wash(), cloth=BOOK))

    def opened(day: date = TODAY) -> ClothView:
        return Desk(session, store.get_site(session, site.id), runner).open(CLOTH, day)

    blank = opened()
    assert (blank.result, blank.running, blank.failed) == (None, None, "")
    future = blank.begin(runner)
    assert future is not None
    future.result(60)
    session.rollback()  # what is read from here on is as of now
    first = opened()
    assert first.result == ClothFound(answer_of_site(session, site, TODAY))
    assert first.job is None
    assert opened(TODAY + timedelta(days=1)).key != first.key
    assert (
        time_of_day(site, NOW + timedelta(hours=1), TODAY) == time_of_day(site, NOW, TODAY) + 3600.0
    )
    day = DAY + timedelta(days=1)
    gate.store_plan(site.id, day, "", (Scenario("Reduced", "reduced"),), 0, "plan")
    assert [rule.text for rule in planned_rules(Desk(session, site)).values()] == ["reduced"]
    second = opened()
    assert (second.key != first.key, second.result) == (True, None)
    begun = ClothBook(BOOK.sets, BOOK.events[:1])
    gate.set_book(site.id, "cloth", begun, site.version, "off", TODAY)
    third = opened()
    assert third.key not in (first.key, second.key)
    assert third.job is not None


def test_the_demo_has_a_set_that_falls_due() -> None:
    """Its invented record moves with its days, and fits."""
    for today in (date(2026, 7, 18), date(2027, 1, 5)):
        data = demo_data()
        assert cloth_problems(data.cloth, today) == []
        assert max(event.day for event in data.cloth.events) < today
