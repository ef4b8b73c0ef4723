"""Figures of the model: cost per car, the bare line beside it, the draw, a fixed loop.

What a compiled day costs is measured on days that all differ: a processor learns the branches of a
day that is computed again and again, which no plan does.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from sim.checks import check_conditions, check_site
from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.kernel import FlowResult, Run, figures, flow
from sim.day.kernel import run as run_compiled
from sim.day.kernel.tables import Tables, make_tables
from sim.day.records import DayFigures, DayResult
from sim.day.rules import parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import Conditions, Scenario, Site
from tests.bench.bare_line import BareLine
from tests.bench.figures import Figure, best_seconds, seconds_by_round
from tests.seeds import seed

SIZES = (500, 1_000, 2_000, 4_000)
CARS_PER_H = SIZES[-1] / 24.0
BESIDE = 2_000
ROUNDS = 12
RULE = parse_rule("band 60-50")
PEAKS = 24
"""Draws of the demo's humid peak day that are computed one after the other."""
LOOP = 200_000
UNIFORMS = 1_000_000


@dataclass(frozen=True, slots=True)
class Case:
    """A day ready to run, with about as many cars as its name says."""

    site: Site
    conditions: Conditions
    day: DayNumbers
    cars: DayCars
    tables: Tables

    @property
    def count(self) -> int:
        """Cars that come."""
        return len(self.cars.arrival_s)

    def run(self) -> DayResult:
        """The day as the product simulates it, with a rule that looks at the cloth."""
        return simulate_day(self.site, self.day, self.cars, RULE)

    def compiled(self) -> DayFigures:
        """The same day with every figure, compiled."""
        return figures(self.site, self.day, self.cars, RULE, tables=self.tables)

    def wiped(self) -> Run:
        """Line and cloth of the day, compiled, without its figures."""
        return run_compiled(self.site, self.day, self.cars, RULE, tables=self.tables)

    def line_alone(self) -> FlowResult:
        """Queue and belt of the day alone, compiled."""
        return flow(self.site, self.day, self.cars, self.tables)


def roomy_site(open_hours: float) -> Site:
    """A site that washes 4,000 cars in 24 hours with nobody lost.

    Fast belt, quick loading, wide stack, patient people; everything else, stops and variation
    included, has its default.
    """
    return Site("Bench").with_values(
        {
            "open_h": 0.0,
            "close_h": open_hours,
            "fastest_belt_m_s": 0.6,
            "conveyor_speed_m_s": 0.6,
            "pay_lanes": ((0.0, 10.0),),
            "load_mean_s": 4.0,
            "loading_line_cars": 60,
            "stack_limit_cars": 300,
            "patience_median_s": 14_400.0,
            "patience_log_sd": 0.0,
            "day_factor_cv": 0.0,
            "hour_factor_cv": 0.0,
        }
    )


def make_case(cars_a_day: int) -> Case:
    """A warm day of the roomy site, as long as it takes for so many cars.

    Cars come at the same rate whatever their number, so that each meets the same traffic and
    only the size of the day differs.

    Raises:
        ValueError: if the checks refuse the day, or cars are lost in it.
    """
    site = roomy_site(cars_a_day / CARS_PER_H)
    conditions = Conditions((CARS_PER_H,) * 24, (25.0,) * 24, (0.55,) * 24)
    problems = [*check_site(site), *check_conditions(site, conditions)]
    if problems:
        raise ValueError("; ".join(str(problem) for problem in problems))
    day = prepare_day(site, conditions)
    cars = make_cars(DayDraw(seed("bench"), cars_a_day), site, conditions)
    case = Case(site, conditions, day, cars, make_tables(site, day))
    lost = sum(1 for car in case.run().passes if car.lost)
    if lost:
        raise ValueError(f"{lost} of {cars_a_day} cars are lost: cost per car would mislead")
    return case


def demo_cases() -> list[Case]:
    """Draws of the demo's humid peak day, with everything that its site has."""
    question, _ = make_question(
        demo_data(),
        demo_days()["humid_peak"],
        "",
        (Scenario("only"),),
        1,
        seed("bench demo"),
    )
    site = question.site
    day = prepare_day(site, question.conditions)
    tables = make_tables(site, day)
    return [
        Case(site, question.conditions, day, drawn_again(site, question.conditions, n), tables)
        for n in range(PEAKS)
    ]


def drawn_again(site: Site, conditions: Conditions, number: int) -> DayCars:
    """The cars of one of those draws."""
    return make_cars(DayDraw(seed("bench demo"), number), site, conditions)


def fixed_loop() -> float:
    """A loop of plain arithmetic that never changes, to compare machines by."""
    total = 0.0
    for number in range(LOOP):
        total += number * 0.5
    return total


def model_figures() -> list[Figure]:
    """Every figure of the model; times of one run, taken in turns."""
    cases = {size: make_case(size) for size in SIZES}
    beside = cases[BESIDE]
    tasks: dict[str, Callable[[], object]] = {f"day {n}": case.run for n, case in cases.items()}
    tasks["bare"] = lambda: BareLine(beside.site, beside.day, beside.cars).run()
    tasks["draw"] = lambda: make_cars(DayDraw(1), beside.site, beside.conditions)
    tasks["loop"] = fixed_loop
    spent = best_seconds(tasks, ROUNDS)
    per_car = {n: spent[f"day {n}"] / case.count for n, case in cases.items()}
    figures = [Figure("fixed loop of 200,000 sums", spent["loop"] * 1e3, "ms")]
    figures += [
        Figure(f"SimPy day of {n:,} cars, per car", cost * 1e6, "µs") for n, cost in per_car.items()
    ]
    flat = max(per_car.values()) / min(per_car.values())
    figures += [
        Figure("SimPy day, dearest ÷ cheapest cost per car", flat, "", 1.15),
        Figure("bare three-stage line, per car", spent["bare"] / beside.count * 1e6, "µs"),
        Figure("SimPy day ÷ bare line", spent[f"day {BESIDE}"] / spent["bare"], "", 3.0),
        Figure("draw alone, per car", spent["draw"] / beside.count * 1e6, "µs"),
        Figure("draw ÷ SimPy day", spent["draw"] / spent[f"day {BESIDE}"], ""),
    ]
    return figures + peak_figures()


def peak_figures() -> list[Figure]:
    """What a car of the demo's humid peak costs, draws one after the other; medians of rounds."""
    cases = demo_cases()
    cars, turn = sum(case.count for case in cases), itertools.cycle(cases)
    one = cases[0]
    per: dict[str, int | list[int]] = dict.fromkeys(("line", "wiped", "figures", "draw"), cars)
    per |= {"uniform": UNIFORMS, "simpy": [case.count for case in cases]}
    tasks: dict[str, Callable[[], object]] = {
        "simpy": lambda: next(turn).run(),  # slow enough for one of the days a round
        "line": lambda: [case.line_alone() for case in cases],
        "wiped": lambda: [case.wiped() for case in cases],
        "uniform": partial(np.random.Generator(np.random.PCG64(1)).random, UNIFORMS),
        "figures": lambda: [case.compiled() for case in cases],
        "draw": lambda: [drawn_again(one.site, one.conditions, n) for n in range(PEAKS)],
    }
    spent = {
        name: np.array(each) / np.resize(per[name], PEAKS)
        for name, each in seconds_by_round(tasks, PEAKS).items()
    }

    def ratio(name: str, to: str) -> float:
        return float(np.median(spent[name] / spent[to]))

    return [
        Figure("one PCG64 uniform", float(np.median(spent["uniform"])) * 1e9, "ns"),
        Figure(
            "compiled peak day with figures, per car",
            float(np.median(spent["figures"])) * 1e9,
            "ns",
        ),
        Figure("SimPy ÷ compiled with figures", ratio("simpy", "figures"), "", 200.0, "at least"),
        Figure("SimPy ÷ compiled queue and belt", ratio("simpy", "line"), "", 500.0, "at least"),
        Figure("compiled queue and belt, car ÷ uniform", ratio("line", "uniform"), ""),
        Figure("compiled line and cloth, car ÷ uniform", ratio("wiped", "uniform"), ""),
        Figure("compiled with figures, car ÷ uniform", ratio("figures", "uniform"), "", 150.0),
        Figure("draw of a car ÷ uniform", ratio("draw", "uniform"), "", 100.0),
    ]
