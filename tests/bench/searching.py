"""Figures of when to reduce, search and whole answer, on the demo's humid peak, its longest day."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date
from itertools import pairwise
from multiprocessing import get_context

from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data, demo_days
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SwitchAnswer, search
from sim.decide.switching.study import study
from sim.inputs import Scenario
from tests.bench.figures import Figure

WORKERS = 2
PARTS = (
    "a first form", "search, cues, comparison and half-hours", "people at the exit", "reasons",
    "what else would help", "days a little different", "foresight", "where it tips",
)  # fmt: skip
"""Of a whole answer, in the order in which they are told."""
FEWEST_RULES, FEWEST_DRAWS, SURVIVORS_DRAWS = 2_000, 16, 256


def search_figures() -> list[Figure]:
    """How long search and whole answer take by two warm workers, how many runs the search spares,
    and what each part of the answer takes of one processor."""
    day = demo_days()["humid_peak"]
    asked, _ = make_question(demo_data(), day, "", (Scenario("Always full"),), 1)
    question = switch_question(asked)
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        search(replace(question, among=()), pool)  # started and warm
        start = time.perf_counter()
        found = search(question, pool)
        spent = time.perf_counter() - start
        begun, shown = time.perf_counter(), list[float]()
        study(question, day, "", {}, pool, early=lambda _found: shown.append(time.perf_counter()))
        whole = time.perf_counter() - begun
    _check(found)
    runs, draws = found.selection.runs, found.selection.draws
    parts = _seconds_by_part(question, day)
    return [
        Figure("search among rules on a humid peak, two workers", spent, "s", 30.0),
        Figure("runs of it beside equal allocation", runs / (draws.max() * len(draws)), "", 0.2),
        Figure("runs of it a second", runs / spent, "runs/s"),
        Figure("when to reduce until its choice is shown, two workers", shown[1] - begun, "s", 15),
        Figure("when to reduce, whole, two workers", whole, "s", 15.0),
        *(Figure(f"of it on one processor: {name}", one, "s") for name, one in parts.items()),
    ]


def _seconds_by_part(question: SwitchQuestion, day: date) -> dict[str, float]:
    """Processor seconds of each part of a whole answer, in this process alone."""
    told = [time.process_time()]
    study(question, day, "", {}, early=lambda _found: told.append(time.process_time()))
    told.append(time.process_time())
    spent = (after - before for before, after in pairwise(told))
    return dict(zip(PARTS, spent, strict=True))


def _check(found: SwitchAnswer) -> None:
    draws = found.selection.draws
    if len(draws) < FEWEST_RULES or draws.min() < FEWEST_DRAWS or draws.max() < SURVIVORS_DRAWS:
        raise RuntimeError("the search looked at fewer rules or draws than its figure is about")
