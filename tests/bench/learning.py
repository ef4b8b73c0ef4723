"""What a site learns in a night, by two years of counts and log: the demo site with a year more."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from app.answers.arrivals import learn_arrivals
from app.answers.beliefs import weighed, work_in
from app.answers.drift import LOOK_BACK, DriftAsked, changes_of
from app.answers.learnt import arrivals_asked
from app.answers.planning import DEFAULT_SCENARIOS, make_question
from app.answers.scored import ScoreAsked, score_of, told_days
from app.answers.switching import switch_question
from app.sites.demo import YEAR_DAYS, demo_data, standing_day
from app.sites.reading import Past
from sim.day.drawn import Belief
from sim.decide.next_measurement import next_measurements
from sim.inputs import SiteData
from sim.learn.logged_hoods import hoods_noted
from sim.learn.scored import WINDOWS
from tests.bench.figures import Figure
from tests.demo_app import NOT_TOLD
from tests.seeds import generator

LONGEST_S = 60.0


def two_years() -> SiteData:
    """The demo site with a year before its own: the same cars by the hour but for their luck, the
    same weather, the same log."""
    data, rng, back = demo_data(), generator("a year before"), timedelta(days=YEAR_DAYS)
    past = data.history
    counts = [
        replace(row, day=row.day - back, cars=int(rng.poisson(row.cars))) for row in past.counts
    ]
    weather = [replace(row, day=row.day - back) for row in past.weather]
    log = [replace(one, key=f"before-{one.key}", day=one.day - back) for one in data.log]
    begins, air_begins = past.counts[0].day, past.weather[0].day
    return replace(
        data,
        history=replace(
            past,
            counts=(*(row for row in counts if row.day < begins), *past.counts),
            weather=(*(row for row in weather if row.day < air_begins), *past.weather),
        ),
        log=(*log, *data.log),
    )


def _learn(data: SiteData) -> None:
    asked = arrivals_asked(Past(), data, standing_day(data))
    if learn_arrivals(asked, None, NOT_TOLD).forecast is None:
        raise ValueError("two years of counts told no forecast")


def _drift(data: SiteData, belief: Belief) -> None:
    line, today = data.site.line, standing_day(data)
    log = [one for one in data.log if today - LOOK_BACK <= one.day < today]
    hoods = hoods_noted(log, 3600.0 * line.open_h, 3600.0 * line.close_h)
    changes_of(DriftAsked(data, hoods, belief, ""))


def _score(data: SiteData, belief: Belief) -> None:
    today = standing_day(data)
    log = [one for one in data.log if today - timedelta(days=max(WINDOWS)) <= one.day < today]
    days = told_days(data, log, lambda _day: None)
    score_of(ScoreAsked(data, today - timedelta(days=1), days, belief, ""))


def _next(data: SiteData, belief: Belief) -> None:
    made, asked = (
        switch_question(
            make_question(
                data, standing_day(data) + timedelta(days=ahead), "", DEFAULT_SCENARIOS,
                belief=belief,
            )[0]
        )
        for ahead in (1, 7)
    )  # fmt: skip
    next_measurements(asked, made)


def learning_figures() -> list[Figure]:
    """Processor time of each thing that is learnt, and of all of them [s]."""
    data = two_years()
    start = time.process_time()
    belief = work_in(weighed(data)).belief
    parts = [Figure("learning: measurements", time.process_time() - start, "s")]
    tasks: dict[str, Callable[[], None]] = {
        "counts of two years": lambda: _learn(data),
        "whether anything changed, a year of hoods": lambda: _drift(data, belief),
        "how good the advice of 90 days was, no plan stored": lambda: _score(data, belief),
        "what to measure tomorrow": lambda: _next(data, belief),
    }
    for name, task in tasks.items():
        start = time.process_time()
        task()
        parts.append(Figure(f"learning: {name}", time.process_time() - start, "s"))
    total = sum(one.value for one in parts)
    return [*parts, Figure("a night's learning, two years of log", total, "s", LONGEST_S)]
