"""Limits of tries: what failed makes the next one wait, longer each time, and never for ever."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from app.access.limits import FORGOTTEN, FREE, LONGEST_WAIT, Tries, keys_of, wait_after
from app.access.sessions import (
    FIRST,
    IDLE,
    IN_ALL,
    INVITED,
    LONGEST,
    RECOVERY,
    SEEN_EVERY,
    is_over,
)
from app.access.table import ATTENDANT, MANAGER, OWNER

NOW = datetime(2026, 7, 15, 9, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def test_waits_double_up_to_the_longest() -> None:
    """Five tries are free; then 2, 4, 8 … seconds, at most a quarter of an hour however many."""
    waits = [wait_after(failed).total_seconds() for failed in range(16)]
    assert waits == [0] * FREE + [2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900]
    assert wait_after(10**6) == LONGEST_WAIT


def test_whoever_waits_may_try_again() -> None:
    """A guesser who always tries as soon as he may has 97 tries in the first day, and each of them
    is let through in the end: nobody is locked out for good."""
    tries, at, made = Tries(), NOW, 0
    while at < NOW + timedelta(days=1):
        left = tries.begin(["to ann"], at)
        if left:
            assert left <= LONGEST_WAIT
            assert tries.begin(["to ann"], at + left - SECOND) == SECOND, (
                "asking makes it no longer"
            )
            at += left
        else:
            made += 1
    assert 90 <= made <= 110
    tries.succeeded(["to ann"])
    assert tries.wait(["to ann"], at) == timedelta(0)


def test_each_try_counts_once_and_the_longest_wait_holds() -> None:
    """Five that fail are free, the fifth makes the sixth wait 2 s, whatever else it counts for;
    whoever succeeded waits for nothing any more, though nobody else's tries are forgotten."""
    tries = Tries()
    for _number in range(FREE):
        assert not tries.begin(["from here"], NOW)
    assert tries.begin(["from here"], NOW) == tries.wait(["from here"], NOW) == 2 * SECOND
    assert tries.wait(["from elsewhere", "from here"], NOW + SECOND) == SECOND
    assert tries.begin(["from elsewhere", "from here"], NOW + SECOND) == SECOND
    assert not tries.begin(["from here", "from elsewhere"], NOW + 2 * SECOND)
    assert tries.wait(["from here"], NOW + 2 * SECOND) == 4 * SECOND
    tries.succeeded(["from elsewhere", "nobody's"])
    assert tries.wait(["from here"], NOW + 2 * SECOND) == 4 * SECOND
    tries.succeeded(["from here"])
    assert not tries.wait(["from here"], NOW + 2 * SECOND)
    assert not tries.wait([], NOW)


def test_a_day_without_a_try_begins_anew() -> None:
    """To the very day what failed before still counts; a second later the five are free again."""
    for later, wait in ((FORGOTTEN, 4 * SECOND), (FORGOTTEN + SECOND, 0 * SECOND)):
        tries = Tries()
        for _number in range(FREE):
            tries.begin(["to ann"], NOW)
        assert not tries.begin(["to ann"], NOW + later)
        assert tries.wait(["to ann"], NOW + later) == wait
    for _number in range(FREE - 2):
        assert not tries.begin(["to ann"], NOW + later)
    assert not tries.wait(["to ann"], NOW + later), "four since then"
    tries.begin(["to ann"], NOW + later)
    assert tries.wait(["to ann"], NOW + later) == 2 * SECOND
    assert timedelta(days=1) == FORGOTTEN


def test_whoever_tried_last_is_kept() -> None:
    """Not whoever was the first to try, if he tried again; ten thousand unless told otherwise."""
    tries = Tries(most_kept=2)
    for key in ("a", "b", "a", "c"):
        tries.begin([key], NOW)
    assert set(tries._held) == {"a", "c"}
    assert Tries().most_kept == 10_000


def test_tries_count_by_account_and_by_address() -> None:
    """Many names from one address wait, one name from many addresses waits, and neither keeps out
    whoever sits at the machine itself."""
    spray = Tries()
    for number in range(FREE):
        spray.begin(keys_of(f"name {number}", "10.0.0.9", is_here=False), NOW)
    assert spray.wait(keys_of("somebody", "10.0.0.9", is_here=False), NOW)
    assert not spray.wait(keys_of("somebody", "10.0.0.8", is_here=False), NOW)
    one = Tries()
    for number in range(FREE):
        one.begin(keys_of("Ann", f"10.0.0.{number}", is_here=False), NOW)
    assert one.wait(keys_of("ANN", "10.0.0.200", is_here=False), NOW)
    assert not one.wait(keys_of("Ann", "127.0.0.1", is_here=True), NOW)


def test_what_is_kept_is_bounded_and_forgotten() -> None:
    """Of more names than are kept the oldest go; after a day without a try all is forgotten; a
    clock that was set back makes no wait longer than the longest."""
    tries = Tries(most_kept=10)
    for number in range(50):
        tries.begin([f"to {number}"], NOW)
    assert len(tries._held) == 10
    for _number in range(FREE + 3):
        tries.begin(["to ann"], NOW)
    assert tries.wait(["to ann"], NOW)
    assert not tries.wait(["to ann"], NOW + FORGOTTEN + SECOND)
    assert tries.wait(["to ann"], NOW - timedelta(days=400)) <= LONGEST_WAIT


def test_how_long_ways_in_are_open() -> None:
    """An hour without a page and a day in all, as NIST SP 800-63B-4 has it for its second level
    (from memory); at a phone of the crew four hours, and a shift of twelve. Invitations for a week,
    the first code for a day, one of the command line for an hour: as the guides say."""
    hour = timedelta(hours=1)
    assert {OWNER: hour, MANAGER: hour, ATTENDANT: 4 * hour} == IDLE
    assert {OWNER: 24 * hour, MANAGER: 24 * hour, ATTENDANT: 12 * hour} == IN_ALL
    assert (24 * hour, timedelta(minutes=1)) == (LONGEST, SEEN_EVERY)
    assert (timedelta(days=7), 24 * hour, hour) == (INVITED, FIRST, RECOVERY)


def test_sessions_end_by_themselves() -> None:
    """Left alone too long, or begun too long ago, a session is over, to the minute that is kept;
    so is one that begins after now, by a clock that was set back."""
    for role in (OWNER, MANAGER, ATTENDANT):
        begun = NOW - IN_ALL[role]
        assert not is_over(role, begun, NOW - IDLE[role], NOW)
        assert is_over(role, begun - SECOND, NOW, NOW)
        assert is_over(role, begun, NOW - IDLE[role] - SEEN_EVERY - SECOND, NOW)
        assert not is_over(role, begun, NOW - IDLE[role] - SEEN_EVERY, NOW)
        assert not is_over(role, NOW, NOW, NOW)
        assert not is_over(role, NOW + SEEN_EVERY, NOW, NOW)
        assert is_over(role, NOW + SEEN_EVERY + SECOND, NOW, NOW)
