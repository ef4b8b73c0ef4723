"""What a site's counts tell of its coming days: worked out once, tried on days held back, kept."""

from __future__ import annotations

from concurrent.futures import Executor
from datetime import timedelta

from app.answers.answer import Answer, Kind, arrivals_key
from app.answers.learnt import ArrivalsAsked, arrivals_asked
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from sim.errors import InputError, InputProblem
from sim.learn.expected_day import past_of
from sim.learn.forecast.ahead import REACH_DAYS, Learning
from sim.learn.forecast.answer import SCHEMA, Arrivals
from sim.learn.forecast.calendar import public_holidays
from sim.learn.forecast.judge import LEAST_DAYS, learn
from sim.learn.forecast.terms import days_weather

ArrivalsView = Answer[ArrivalsAsked, Arrivals]
DAYS = 500
"""Simulated days that take about as long as learning two years of counts."""


def learn_arrivals(asked: ArrivalsAsked, _executor: Executor | None, report: Report) -> Arrivals:
    """What the counts tell, and whether that is used.

    Raises:
        InputError: where too few whole days lie in the last weeks.
    """
    report.stage("try")
    past = past_of(asked.data)
    days = [row.day for row in asked.data.history.counts]
    until = max(days) + timedelta(days=REACH_DAYS)
    learning = Learning(
        days_weather(asked.data.history.weather, past.hours),
        public_holidays(asked.country, min(days), until),
        asked.capacity,
        asked.guess,
    )
    found = learn(past, learning, asked.country, asked.decided)
    if found is None:
        sentence = (
            "of the days counted fewer than {days} have every open hour, or the last eight weeks "
            "have hardly any"
        )
        raise InputError([InputProblem("counts", sentence, {"days": LEAST_DAYS})])
    return found


ARRIVALS: Kind[ArrivalsAsked, Arrivals] = Kind(
    name="arrivals",
    label="Coming cars",
    stages=(Stage("try", "trying what all counts together tell on days held back"),),
    page="counts",
    found=Arrivals,
    ask=lambda desk, day: arrivals_asked(desk.past, desk.counted, day),
    key=arrivals_key,
    days=lambda _asked: DAYS,
    work=learn_arrivals,
    failed="What all counts together tell could not be worked out: {fault}",
    schema=SCHEMA,
)
