"""Figures of the search for when to reduce, on the demo's humid peak, its longest day."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data, demo_days
from sim.decide.switching.search import SwitchAnswer, search
from sim.inputs import Scenario
from tests.bench.figures import Figure

WORKERS = 2
FEWEST_RULES, FEWEST_DRAWS, SURVIVORS_DRAWS = 2_000, 16, 256


def search_figures() -> list[Figure]:
    """How long a search takes by two warm workers, and how many runs it spares."""
    asked, _ = make_question(
        demo_data(), demo_days()["humid_peak"], "", (Scenario("Always full"),), 1
    )
    question = switch_question(asked)
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        search(replace(question, among=()), pool)  # started and warm
        start = time.perf_counter()
        found = search(question, pool)
        spent = time.perf_counter() - start
    _check(found)
    runs, draws = found.selection.runs, found.selection.draws
    return [
        Figure("search among rules on a humid peak, two workers", spent, "s", 30.0),
        Figure("runs of it beside equal allocation", runs / (draws.max() * len(draws)), "", 0.2),
        Figure("runs of it a second", runs / spent, "runs/s"),
    ]


def _check(found: SwitchAnswer) -> None:
    draws = found.selection.draws
    if len(draws) < FEWEST_RULES or draws.min() < FEWEST_DRAWS or draws.max() < SURVIVORS_DRAWS:
        raise RuntimeError("the search looked at fewer rules or draws than its figure is about")
