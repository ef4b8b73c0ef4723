"""Now, on the demo's humid peak: from an entry to new advice, through a day of entries."""

from __future__ import annotations

import time

from app.answers.now import NowCache
from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data, demo_days
from sim.day.rules import parse_rule
from sim.inputs import LogEntry, Scenario
from sim.inputs.logbook import CARS, DAMP_HOODS
from tests.bench.figures import Figure, percentile

PLAN = "clock 11:00-15:00"
HOUR_S = 3_600.0
EVERY_S = 900.0


def now_figures() -> list[Figure]:
    """How long the first answer of a day takes, and each after an entry, by the clock and by
    processor time; entries come each quarter of an hour, cars and damp hoods by turns."""
    day = demo_days()["humid_peak"]
    asked, _ = make_question(demo_data(), day, "", (Scenario("As planned", PLAN),), 1)
    question, plan, nows = switch_question(asked), parse_rule(PLAN), NowCache()
    per_h, site = question.conditions.arrivals_per_h, question.site
    opens_s, closes_s = HOUR_S * site.line.open_h, HOUR_S * site.line.close_h
    entries, cars, spent, used = list[LogEntry](), 0.0, list[float](), list[float]()
    at = opens_s + EVERY_S
    while at < closes_s:
        cars += per_h[int((at - 1.0) // HOUR_S)] * EVERY_S / HOUR_S
        if len(entries) % 2:
            one = LogEntry(f"d{at}", day, at, DAMP_HOODS, count=2, of=20)
        else:
            one = LogEntry(f"c{at}", day, at, CARS, count=round(1.1 * cars))
        entries.append(one)
        begun, before = time.perf_counter(), time.process_time()
        nows.answer("", question, plan, entries, at)
        spent.append(time.perf_counter() - begun)
        used.append(time.process_time() - before)
        at += EVERY_S
    later = spent[1:]
    return [
        Figure("Now: first answer of a day", spent[0], "s"),
        Figure("Now: entry to new advice, median", percentile(later, 50), "s"),
        Figure("Now: entry to new advice, p95", percentile(later, 95), "s", 1.0),
        Figure("Now: the same, processor time, p95", percentile(used[1:], 95), "s"),
    ]
