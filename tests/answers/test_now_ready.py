"""The rest of a day made ready before its first entry, and asked for by many at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier, Event, Lock
from typing import cast

import pytest

from app.answers import now
from app.answers.answer import Answer
from app.answers.now import NowCache, made_ready
from app.answers.planning import PLAN, DayAsked, DayInputs, PlanView
from app.answers.switching import SWITCH, SwitchView
from app.sites.demo import demo_days
from sim.day.rules import parse_rule
from sim.decide.now.advice import Ahead, look_ahead
from sim.decide.now.follow import Followed
from sim.decide.now.so_far import TELLING, SoFar, so_far
from sim.inputs import LogEntry
from sim.inputs.logbook import ADVICE, CARS, NOTE
from tests.decide.now_days import demo_question
from tests.log import logged

HOUR_S = 3_600.0
LONG_S = 600.0
"""Whoever waits longer is given up."""
PEAK = demo_days()["humid_peak"]
QUESTION = demo_question(PEAK)
NOTHING = cast("DayInputs", None)
"""Of a day's inputs nothing is looked at here."""
PLANNED: PlanView = Answer(PLAN, 1, PEAK, NOTHING)
VIEW: SwitchView = Answer(SWITCH, 1, PEAK, DayAsked(NOTHING, QUESTION), "of the day", is_final=True)
COUNTED = [LogEntry("c", PEAK, 13.0 * HOUR_S, CARS, count=620)]


@pytest.fixture(autouse=True)
def few_sites(monkeypatch: pytest.MonkeyPatch) -> list[Followed]:
    """Few sites are followed; the list has each time that some are made."""
    made = list[Followed]()

    def follow(*asked: object) -> Followed:
        made.append(Followed(QUESTION, parse_rule(QUESTION.present), 8, 8, 8))
        return made[-1]

    monkeypatch.setattr(now, "Followed", follow)
    return made


def test_the_first_entry_finds_what_was_made_ready(few_sites: list[Followed]) -> None:
    """Made ready once, the sites are there for the first entry, whose answer is that of a day that
    was not made ready."""
    nows, rule = NowCache(), parse_rule(QUESTION.present)
    ready = made_ready(nows, VIEW, PLANNED, 7.0 * HOUR_S)
    assert ready is not None
    ready()
    ready()
    assert len(few_sites) == 1
    assert made_ready(nows, VIEW, PLANNED, 7.0 * HOUR_S) is None
    told = nows.answer(VIEW.key, QUESTION, rule, COUNTED, 13.0 * HOUR_S)
    assert len(few_sites) == 1
    assert told == NowCache().answer(VIEW.key, QUESTION, rule, COUNTED, 13.0 * HOUR_S)


def test_nothing_is_made_ready_in_vain(few_sites: list[Followed]) -> None:
    """After closing, on a day that is not planned, and while its answer may still change."""
    closed_s = HOUR_S * QUESTION.site.line.close_h
    assert made_ready(NowCache(), VIEW, PLANNED, closed_s) is None
    nothing = replace(VIEW, asked=DayAsked(NOTHING, None))
    assert made_ready(NowCache(), nothing, PLANNED, 7.0 * HOUR_S) is None
    assert made_ready(NowCache(), replace(VIEW, is_final=False), PLANNED, 7.0 * HOUR_S) is None
    assert few_sites == []


def test_what_tells_nothing_of_the_day_is_no_new_question(
    few_sites: list[Followed], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One entry of each kind there is: with those of telling kinds alone is anything else known
    than without. So after a note, a wait or a check whoever asks is told what was worked out
    before, and an entry more of a kind that tells is worked out anew."""
    at_s, worked = 13.0 * HOUR_S, list[SoFar]()
    every = [replace(one, day=PEAK, at_s=at_s, struck="") for one in logged()]
    expected = QUESTION.conditions.arrivals_per_h
    nothing = so_far([], at_s, QUESTION.site, expected)
    for one in every:
        known = so_far([one], at_s, QUESTION.site, expected)
        assert (replace(known, said="") != nothing) == (one.kind in TELLING)

    def look(followed: Followed, far: SoFar) -> Ahead:
        worked.append(far)
        return look_ahead(followed, far)

    monkeypatch.setattr(now, "look_ahead", look)
    nows, rule = NowCache(), parse_rule(QUESTION.present)
    told = nows.answer(VIEW.key, QUESTION, rule, COUNTED, at_s)
    others = [one for one in every if one.kind not in TELLING and one.kind != ADVICE]
    assert NOTE in {one.kind for one in others}
    assert nows.answer(VIEW.key, QUESTION, rule, [*COUNTED, *others], at_s) == told
    assert len(worked) == 1
    more = replace(COUNTED[0], key="more", at_s=at_s - 60.0, count=610)
    nows.answer(VIEW.key, QUESTION, rule, [*COUNTED, more], at_s)
    assert len(worked) == 2


def test_of_many_who_ask_at_once_nobody_waits_for_more_than_two(
    few_sites: list[Followed], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twelve people note something within a minute while an answer is worked out: one more is
    worked out for all of them, of the newest log that any of them has seen, and whoever knew less
    is told that. Somebody who asks for another hour, or in whose log an
    entry was corrected, has their own."""
    nows, rule, people = NowCache(), parse_rule(QUESTION.present), 12
    counts = [
        LogEntry(f"c{one}", PEAK, 12.5 * HOUR_S + 60.0 * one, CARS, count=500 + 9 * one)
        for one in range(people)
    ]
    logs = [counts[: 1 + many] for many in range(people)]
    begun, go_on, worked = Event(), Event(), list[SoFar]()

    def look(followed: Followed, far: SoFar) -> Ahead:
        worked.append(far)
        begun.set()
        assert go_on.wait(LONG_S)
        return look_ahead(followed, far)

    def ask(log: list[LogEntry], at_h: float = 13.0) -> object:
        return nows.answer(VIEW.key, QUESTION, rule, log, at_h * HOUR_S)

    class Watched:
        """The lock of the answers: all who ask meanwhile have come to it before it is free."""

        def __enter__(self) -> None:
            if begun.is_set() and not go_on.is_set():
                there.wait(LONG_S)
            lock.acquire()

        def __exit__(self, *_: object) -> None:
            lock.release()

    there, lock = Barrier(people), Lock()
    monkeypatch.setattr(nows, "_lock", Watched())
    monkeypatch.setattr(now, "look_ahead", look)
    with ThreadPoolExecutor(people) as pool:
        first = pool.submit(ask, logs[0])
        assert begun.wait(LONG_S)
        others = [pool.submit(ask, log) for log in logs[1:]]
        there.wait(LONG_S)
        go_on.set()
        told = [one.result(LONG_S) for one in (first, *others)]
    assert len(worked) == 2
    assert told[0] != told[-1]
    assert all(one == told[-1] for one in told[1:])
    assert worked[1].washed[-1] == (counts[-1].at_s, counts[-1].count)
    ask([replace(counts[0], count=505), *counts[1:]])
    ask(logs[-1], 13.25)
    ask(logs[-1])
    assert len(worked) == 4
    assert nows._waiting == []
