"""Short sentences that stand where little is to be told, each by what it is told of."""

from __future__ import annotations

from datetime import date

import pytest

from app.answers.checks import CheckState, Readiness
from app.answers.down import REPAIR, RUN_ON, WayOut
from app.catalogue import long_date
from app.words.checks import done_words, list_words, range_words, ready_words, state_words
from app.words.down import cheaper_words, cost_of, way_words
from app.words.drift import calm_words, change_words
from app.words.phrases import either
from app.words.scored import counted_words
from sim.inputs import CheckItem, LogEntry, Scenario
from sim.inputs.logbook import CHECK, FINE, OPEN, OPENING, WEEKLY
from sim.learn.drift import Change, DriftFound
from sim.learn.scored import Window
from tests.plain import plain

DAY = date(2026, 7, 18)
BEFORE = date(2026, 7, 10)
BELT, HOSE = CheckItem("Belt", OPENING), CheckItem("Hose", WEEKLY)


def seen(word: str, by: str = "", text: str = "") -> LogEntry:
    """A check that was done."""
    return LogEntry("one", BEFORE, 0.0, CHECK, word=word, name="Belt", by=by, text=text)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (None, 9.5, "By the manual at most 9.5 mm."),
        (1.5, None, "By the manual at least 1.5 mm."),
        (1.5, 9.5, "By the manual 1.5 to 9.5 mm."),
    ],
)
def test_a_range_may_have_one_end(low: float | None, high: float | None, said: str) -> None:
    """Manuals give a lower end, an upper one or both."""
    assert range_words(CheckItem("Play", WEEKLY, unit="mm", low=low, high=high)) == said


def test_a_range_that_nobody_entered_is_missing() -> None:
    """Nothing is said of a check without a reading; of one with a reading that its range lacks."""
    assert range_words(BELT) == ""
    assert "is missing" in range_words(CheckItem("Play", WEEKLY, unit="mm"))


@pytest.mark.parametrize(("late", "said"), [(0, "Nothing is due."), (1, "1 weekly"), (2, "2 week")])
def test_weekly_checks_keep_no_morning_waiting(late: int, said: str) -> None:
    """The line is ready; what is due of other lists is counted beside."""
    checks = tuple(CheckState(HOSE, None, DAY, "due", ()) for _one in range(late))
    found = ready_words(Readiness(DAY, checks, ()))
    assert plain(found.lead) == "Ready."
    assert plain(found.rest).startswith(said)
    assert list_words(Readiness(DAY, checks, ()), OPENING) == "No check."


def test_a_check_says_when_and_by_whom_it_was_done() -> None:
    """Done, not fine, or never; the note that somebody left, and when it is due again."""
    due = f"Due on {long_date(DAY)}."
    never = CheckState(BELT, None, DAY, "due", ())
    fine = CheckState(BELT, seen(FINE, by="Ann"), DAY, "done", ())
    bad = CheckState(BELT, seen(OPEN, text="frayed"), DAY, "open", ())
    assert state_words(never) == "Not done in 100 days."
    assert state_words(fine) == f"Done on {long_date(BEFORE)} by Ann. {due}"
    assert state_words(bad) == f"Not fine on {long_date(BEFORE)}. “frayed”"
    assert done_words(seen(FINE), 1) == "Stored: Belt."
    assert done_words(seen(FINE), 3) == "Stored: 3 checks, fine."


@pytest.mark.parametrize(
    ("now", "on", "said"),
    [
        (400.0, 400.0, "By these numbers both cost the same."),
        (100.0, 400.0, "By these numbers a repair now costs $300 less than running on."),
        (400.0, 100.0, "By these numbers running on costs $300 less than a repair now."),
    ],
)
def test_the_cheaper_way_is_told_with_the_difference(now: float, on: float, said: str) -> None:
    """By what stands of the two; the difference is the plain one of both."""
    assert plain(cheaper_words(now, on)) == said


@pytest.mark.parametrize(("way", "lead"), [(REPAIR, "Repair now."), (RUN_ON, "Run on until")])
def test_a_way_that_was_not_tried_says_its_name_alone(way: str, lead: str) -> None:
    """No cost is made up where nothing was compared."""
    one = WayOut(REPAIR if way == REPAIR else RUN_ON, Scenario("x"), None)
    said = way_words(one, "us", 300.0)
    assert said.lead.startswith(lead)
    assert said.rest == ""
    assert cost_of(one, "us", 300.0) is None


def test_few_hoods_tell_of_no_change() -> None:
    """Too few, none changed, or what changed and when."""
    few = DriftFound(BEFORE, BEFORE, 1, 20, 0, ())
    calm = DriftFound(BEFORE, DAY, 9, 180, 9, ())
    change = Change(BEFORE, DAY, "wetter", 0.1, 0.3)
    assert calm_words(few).endswith("whether anything changed: 20 so far.")
    assert calm_words(calm) == f"Nothing has changed that damp hoods tell, until {long_date(DAY)}."
    closed, shown = change_words(change, is_open=False), change_words(change, is_open=True)
    assert f"about {long_date(BEFORE)}: cars leave wetter" in shown.lead
    assert "30 % were damp; as it was before it would have been 10 %" in plain(shown.rest)
    assert (closed.lead, closed.rest) == (shown.lead, shown.rest)


@pytest.mark.parametrize(
    ("stored", "afterwards", "unlogged", "untold", "said"),
    [
        (1, 0, 0, 0, "1 day had its plan stored before it opened."),
        (0, 2, 0, 1, "Of 2 days none was stored: what it would have told is worked out now. "
                     "Of 1 day nothing could be told."),
        (0, 0, 1, 3, "1 of the 90 days has no entry in the log and is not counted. "
                     "Of 3 days nothing could be told."),
    ],
)  # fmt: skip
def test_days_that_do_not_count_are_told(
    stored: int, afterwards: int, unlogged: int, untold: int, said: str
) -> None:
    """One is told as one; what there is none of is not told."""
    found = Window(90, unlogged, untold, stored, afterwards, None, None, None, 0, 0)
    assert plain(counted_words(found)) == said


def test_clauses_in_a_row_end_with_or() -> None:
    """One stands alone, none is nothing."""
    assert [either(parts) for parts in ((), ("a",), ("a", "b"), ("a", "b", "c"))] == [
        "", "a", "a, or b", "a, b, or c"
    ]  # fmt: skip
