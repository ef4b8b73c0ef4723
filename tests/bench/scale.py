"""How cost and memory grow with days and cars, and what a second worker brings."""

from __future__ import annotations

import resource
import time
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context

from sim.day.engine import Experiment
from sim.day.replicate import Days, run_days
from sim.inputs import Conditions, Scenario
from tests.bench.figures import Figure
from tests.bench.model import CARS_PER_H, roomy_site
from tests.seeds import seed

CARS_A_DAY = 2_000
FEW, MANY = 500, 5_000
"""Days: one million cars, and ten."""
SHARED_DAYS, ROUNDS = 400, 3
SCENARIO = (Scenario("band", "band 60-50"),)
WORKERS = 2


def days_of(cars_a_day: int, count: int, executor: Executor | None = None) -> Days:
    """So many days of so many cars each."""
    site = roomy_site(cars_a_day / CARS_PER_H)
    conditions = Conditions((CARS_PER_H,) * 24, (25.0,) * 24, (0.55,) * 24, 0.2)
    return run_days(Experiment(site, conditions, seed("bench scale")), SCENARIO, count, executor)[0]


def cost_per_car(cars_a_day: int, count: int) -> tuple[float, float]:
    """Processor time a car [s], and most memory so far beside what the figures take [B]."""
    start = time.process_time()
    found = days_of(cars_a_day, count)
    spent = time.process_time() - start
    kept = sum(values.nbytes for values in (*found.day.values(), *found.hours.values()))
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024.0
    return spent / float(found.day["cars_arrived"].sum()), most - kept


def two_workers() -> float:
    """How much sooner days are there by two workers than by the process itself; best of each."""
    alone: list[float] = []
    shared: list[float] = []
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        days_of(CARS_A_DAY, 4 * WORKERS, pool)  # started and warm
        for _ in range(ROUNDS):
            for spent, executor in ((alone, None), (shared, pool)):
                start = time.perf_counter()
                days_of(CARS_A_DAY, SHARED_DAYS, executor)
                spent.append(time.perf_counter() - start)
    return min(alone) / min(shared)


def scale_figures() -> list[Figure]:
    """Growth in days and cars; two workers beside one."""
    # in a process of its own, whose memory nothing else has stretched
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        small = min(pool.submit(cost_per_car, CARS_A_DAY // 4, FEW).result()[0] for _ in range(2))
        few, before = min(pool.submit(cost_per_car, CARS_A_DAY, FEW).result() for _ in range(2))
        many, after = pool.submit(cost_per_car, CARS_A_DAY, MANY).result()
    return [
        Figure("days in a row with draw, 10⁶ cars, per car", few * 1e6, "µs"),
        Figure("the same, 10⁷ cars", many * 1e6, "µs"),
        Figure("cost per car, 5,000 days ÷ 500", many / few, "", 1.1),
        Figure("cost per car, 2,000 cars a day ÷ 500", few / small, "", 1.1),
        Figure("memory beside figures, 4,500 days more", (after - before) / 1e6, "MB", 5.0),
        Figure("two workers, times as fast as one", two_workers(), "", 1.6, "at least"),
    ]
