"""The rest of a day made ready before its first entry."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import pytest

from app.answers import now
from app.answers.answer import Answer
from app.answers.now import NowCache, made_ready
from app.answers.planning import PLAN, DayAsked, DayInputs, PlanView
from app.answers.switching import SWITCH, SwitchView
from app.sites.demo import demo_days
from sim.day.rules import parse_rule
from sim.decide.now.follow import Followed
from sim.inputs import LogEntry
from sim.inputs.logbook import CARS
from tests.decide.now_days import demo_question

HOUR_S = 3_600.0
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
