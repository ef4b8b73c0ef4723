"""Days on which a crew follows what is told of the rest of the day, at sites unlike any believed.

A truth is drawn from a wider prior than the advice knows: each guess lies half as far again from
its middle. Its day is lived by the compiled model, which equals the one in SimPy car by car
(`tests/day/test_kernel.py`); the crew counts cars and looks at the last twenty hoods, each hood
told wrongly once in a hundred, and switches as it is told. The morning's plan is chosen by the
product's own first form, from what is believed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from scipy.special import ndtr, ndtri

from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data
from sim.day.draw import DayDraw
from sim.day.drawn import Drawn, draw_site
from sim.day.engine import DrawnSite, Replication
from sim.day.kernel import tables as r
from sim.day.rules import HOODS_SEEN, Rule
from sim.decide.now.advice import advise, as_lived
from sim.decide.now.answer import NowAnswer
from sim.decide.now.follow import Followed
from sim.decide.now.so_far import so_far
from sim.decide.switching.choice import column
from sim.decide.switching.question import SwitchQuestion, read_outcomes
from sim.inputs import LogEntry, Scenario
from sim.inputs.logbook import (
    CARS,
    DAMP_HOODS,
    FULL,
    GO_BACK,
    REDUCE_LATER,
    REDUCE_NOW,
    REDUCED,
    WIPING,
)
from tests.seeds import generator, seed

DAY = date(2026, 7, 18)
"""Of every entry; nothing hangs on it."""
WIDER = 1.5
"""So many times as far from the middle as is believed does a truth's input lie."""
MISJUDGED = 0.01


def demo_question(day: date) -> SwitchQuestion:
    """The demo site's own day, before anything was weighed there."""
    asked, _ = make_question(demo_data(), day, "", (Scenario("Always full"),), 1)
    return switch_question(asked)


def true_day(question: SwitchQuestion, number: int) -> Replication:
    """A truth that the question does not know, and one of its days."""
    rng = generator(f"truth {number}")
    u = ndtr(WIDER * ndtri(rng.uniform(0.001, 0.999, len(question.drawn))))
    site = draw_site(question.site, question.drawn, np.clip(u, 1e-4, 1.0 - 1e-4))
    night = question.experiment.night(0)
    prepared = DrawnSite(Drawn(site), question.conditions, night).prepare()
    return prepared.replication(DayDraw(seed("truth day", number)))


@dataclass(frozen=True, slots=True)
class FollowedDay:
    """A day that was run as was told. `costs`, `damp`: by the plan, then as was told."""

    entries: tuple[LogEntry, ...]
    told: tuple[NowAnswer, ...]
    costs: tuple[float, float]
    damp: tuple[float, float]


def follow_day(
    followed: Followed, truth: Replication, times_s: list[float], rng: np.random.Generator
) -> FollowedDay:
    """A crew's day: at each time it writes down what it sees, and does what it is told until the
    next one."""
    question, plan = followed.question, followed.plan
    entries, told = list[LogEntry](), list[NowAnswer]()
    rule = plan
    for at, following in zip(times_s, [*times_s[1:], 86_400.0], strict=True):
        entries += _seen(truth, rule, at, rng)
        so = so_far(entries, at, question.site, followed.expected_per_h)
        found = advise(followed, so)
        told.append(found)
        act = found.told.act
        if act.word in (REDUCE_NOW, GO_BACK) and act.at_s is None:
            entries.append(_switch(at, act.word == REDUCE_NOW))
            act = replace(act, at_s=act.until_s, reduced=not act.reduced)
        elif act.word not in (REDUCE_LATER, GO_BACK):
            act = replace(act, at_s=None)
        if act.at_s is not None and act.at_s < following:
            entries.append(_switch(act.at_s, not act.reduced))
        elif not any(one.kind == WIPING for one in entries) and not found.by_plan:
            entries.append(_switch(at, act.reduced))
        rule = as_lived(plan, so_far(entries, 86_400.0, question.site, followed.expected_per_h))
    (as_planned, as_told) = read_outcomes(truth, (plan, rule), followed.planned_sets)
    damp = list_of("left_damp", as_planned, as_told)
    return FollowedDay(tuple(entries), tuple(told), list_of("cost", as_planned, as_told), damp)


def list_of(name: str, first: np.ndarray, second: np.ndarray) -> tuple[float, float]:
    """One outcome of two rows of them."""
    return float(column(first, name)), float(column(second, name))


def _switch(at_s: float, is_reduced: bool) -> LogEntry:
    return LogEntry(f"w{at_s}", DAY, at_s, WIPING, word=REDUCED if is_reduced else FULL)


def _seen(truth: Replication, rule: Rule, at_s: float, rng: np.random.Generator) -> list[LogEntry]:
    """Cars so far, and damp ones among the last twenty hoods."""
    done = truth.run(rule)
    rows = done.flow.rows
    exits = rows.times[: int(rows.counts[r.ROWS]), r.EXIT]
    gone = np.flatnonzero(exits <= at_s)
    last = gone[np.argsort(exits[gone])][-HOODS_SEEN:]
    entries = [LogEntry(f"c{at_s}", DAY, at_s, CARS, count=len(gone))]
    if len(last):
        damp = done.wiped.marks[last, r.HOOD_WET] > 0
        damp ^= rng.random(len(last)) < MISJUDGED
        entries.append(
            LogEntry(f"h{at_s}", DAY, at_s, DAMP_HOODS, count=int(damp.sum()), of=len(last))
        )
    return entries
