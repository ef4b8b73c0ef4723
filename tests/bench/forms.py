"""First forms and whole answers of pages that wait, on the demo's humid peak and the days after."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from datetime import timedelta
from multiprocessing import get_context

from app.answers.coming_plans import ComingAsked, answer_coming
from app.answers.planning import DEFAULT_SCENARIOS, make_question
from app.answers.season import answer_season, rotation_of, season_asked
from app.answers.staff import answer_apart, answer_staff, monday_of, week_of
from app.answers.switching import switch_question
from app.sites.demo import demo_data, demo_days
from app.sites.reading import Past
from sim.decide.switching.first import first_choice
from sim.inputs.roster import WEEK
from tests.bench.figures import Figure, used_seconds

WORKERS = 2
Mark = Callable[[str], None]
"""Told that a form of the answer is there, by name."""
Work = Callable[[Executor, Mark], None]


def on_workers(work: Work) -> tuple[dict[str, float], float]:
    """When each form was there, by the clock on workers that have started [s], the first of a name,
    and processor time of all of it, the workers' start included."""
    before, there = used_seconds(), dict[str, float]()
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        list(pool.map(abs, range(4 * WORKERS)))
        start = time.perf_counter()

        def mark(name: str) -> None:
            there.setdefault(name, time.perf_counter() - start)

        work(pool, mark)
    return there, used_seconds() - before


def form_figures() -> list[Figure]:
    """When each form of When to reduce, Staff, the coming days, the season and a week's roster is
    there, and what it takes."""
    data, day = demo_data(), demo_days()["humid_peak"]
    question = switch_question(make_question(data, day, "", DEFAULT_SCENARIOS, 1)[0])
    coming = ComingAsked(data, day + timedelta(days=1), {}, None, Past().look)

    def reduce(pool: Executor, mark: Mark) -> None:
        first_choice(question, pool)
        mark("first form")

    def staff(pool: Executor, mark: Mark) -> None:
        answer_staff(question, day, "", pool, early=lambda _first: mark("first form"))
        mark("whole")

    def days_ahead(pool: Executor, mark: Mark) -> None:
        def told(name: str) -> None:
            if name == "year":
                mark("all plans")

        answer_coming(coming, pool, early=lambda _some: mark("first form"), stage=told)
        mark("whole")

    def season(pool: Executor, mark: Mark) -> None:
        names = iter(("first form", "all days"))
        look = Past().look
        rotation = rotation_of(data, day, {}, look)
        asked = season_asked(data, day, rotation, {}, look)
        answer_season(asked, pool, early=lambda _some: mark(next(names)))
        mark("whole")

    def roster(_pool: Executor, mark: Mark) -> None:
        week = week_of(data, monday_of(day) + WEEK)
        answer_apart(week, lambda done, total: None, lambda _first: mark("first form"))
        mark("whole")

    rows: list[tuple[str, Work, dict[str, float | None]]] = [
        ("When to reduce", reduce, {"first form": 3.0}),
        ("Staff", staff, {"first form": 3.0, "whole": 5.0}),
        ("The coming days", days_ahead, {"first form": 3.0, "all plans": None, "whole": 30.0}),
        ("The season", season, {"first form": 3.0, "all days": None, "whole": 60.0}),
        ("A roster for people planned", roster, {"first form": 3.0, "whole": 10.0}),
    ]
    figures = []
    for page, work, bounds in rows:
        there, used = on_workers(work)
        figures += [
            Figure(f"{page}: {form}, two workers", there[form], "s", bound)
            for form, bound in bounds.items()
        ]
        figures.append(Figure(f"{page}: processor time of these", used, "s"))
    return figures
