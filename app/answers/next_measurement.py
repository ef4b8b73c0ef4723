"""What to measure tomorrow, for the advice of the busiest of the coming days."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.beliefs import weighings_of
from app.answers.coming_days import busiest, coming_days
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.answers.switching import ask_switch, switch_key
from sim.decide.next_measurement import SCHEMA, SITES, WhatNext, next_measurements
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import DAYS

RULES_HELD = 12
"""About so many rules are held against one another at each drawn site."""


@dataclass(frozen=True, slots=True)
class NextAsked:
    """What is asked of the days after one.

    Attributes:
        tomorrow: the next day; busy: the busiest of those to come.
        made, asked: their questions; None where one of them is closed or can't be planned, while
            measurements are worked in, and where nothing is guessed.
    """

    tomorrow: date
    busy: date
    made: SwitchQuestion | None = None
    asked: SwitchQuestion | None = None


NextView = Answer[NextAsked, WhatNext]
"""What to measure tomorrow, as far as it is known."""


def _ask(desk: Desk, day: date) -> NextAsked:
    tomorrow = day + timedelta(days=1)
    busy = busiest(coming_days(desk.data, tomorrow, look=desk.look))
    nothing = NextAsked(tomorrow, busy)
    held = weighings_of(desk)
    if held.is_awaited:
        return nothing
    made, asked = (ask_switch(desk, one).question for one in (tomorrow, busy))
    if made is None or asked is None or not asked.drawn:
        return nothing
    return NextAsked(tomorrow, busy, made, asked)


def _key(one: NextAsked) -> str:
    if one.made is None or one.asked is None:
        return ""
    return answer_key(SCHEMA, switch_key(one.made, SCHEMA), switch_key(one.asked, SCHEMA))


def _work(one: NextAsked, executor: Executor | None, report: Report) -> WhatNext:
    if one.made is None or one.asked is None:
        raise ValueError(f"{one.tomorrow} asks for nothing")
    every = next_measurements(one.asked, one.made, executor, report)
    return WhatNext(one.tomorrow, one.busy, SITES, every)


NEXT: Kind[NextAsked, WhatNext] = Kind(
    name="next",
    label="What to measure tomorrow",
    stages=(Stage("next", "trying measurements at several hours of tomorrow"),),
    page="weighings",
    found=WhatNext,
    ask=_ask,
    key=_key,
    days=lambda _one: SITES * (DAYS * RULES_HELD + 2),
    work=_work,
    failed="What to measure tomorrow could not be worked out: {fault}",
)
