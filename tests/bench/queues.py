"""Queue and belt alone beside the same line in a general library, and beside a recursion.

The line is one that both can express: pay lanes with exponential times and a stack before them, a
loading line that blocks the lanes, a loader with exponential times who waits for a free place on
the belt, and the ride.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable
from dataclasses import dataclass, replace

import ciw
import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.kernel import FlowResult, flow
from sim.day.kernel.tables import KEPT, LOST, ROWS, Tables, make_tables
from sim.day.setup import DayNumbers, prepare_day
from sim.inputs import Conditions, Site, Value
from tests.bench.figures import Figure, best_seconds
from tests.queue_sites import ONE_CAR, PLAIN_LINE
from tests.seeds import seed

Floats = NDArray[np.float64]
CARS_PER_H, PAY_S, LOAD_S = 120.0, 50.0, 22.0
LANES, PLACES, STACK = 2, 4, 30
DAY_S = 86_400.0
IN_A_ROW = 20
ROUNDS = 5


@dataclass(frozen=True, slots=True)
class Line:
    """A plain line ready to run."""

    site: Site
    day: DayNumbers
    cars: DayCars
    tables: Tables

    def run(self) -> FlowResult:
        """The day's queue and belt, compiled."""
        return flow(self.site, self.day, self.cars, self.tables)


def plain_line(changes: dict[str, Value]) -> Line:
    """A day of the textbook line with some inputs changed."""
    site = replace(Site("Plain"), vehicles=(ONE_CAR,), reference_class="car")
    site = site.with_values({**PLAIN_LINE, "day_factor_cv": 0.0, **changes})
    conditions = Conditions((CARS_PER_H,) * 24, (20.0,) * 24, (0.5,) * 24)
    day = prepare_day(site, conditions)
    cars = make_cars(DayDraw(seed("bench queues")), site, conditions)
    return Line(site, day, cars, make_tables(site, day))


def whole_line() -> Line:
    """Pay lanes, loading line, loader and belt."""
    return plain_line(
        {
            "quick_pay_kind": "exponential",
            "quick_pay_mean_s": PAY_S,
            "load_kind": "exponential",
            "load_mean_s": LOAD_S,
            "pay_lanes": ((0.0, float(LANES)),),
            "loading_line_cars": PLACES,
            "stack_limit_cars": STACK,
        }
    )


def ciw_day() -> int:
    """A day of that line in Ciw; how many cars left it.

    Four nodes: the lanes; the loader; the place where cars are caught, one car spacing at a time
    and with no room before it; the belt, which carries any number for the same time.
    """
    values = PLAIN_LINE
    speed, spacing, way = (
        float(str(values[name]))
        for name in ("conveyor_speed_m_s", "car_spacing_m", "wheel_position_m")
    )
    rest = [0.0] * 4
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(CARS_PER_H / 3600.0), None, None, None],
        service_distributions=[
            ciw.dists.Exponential(1.0 / PAY_S),
            ciw.dists.Exponential(1.0 / LOAD_S),
            ciw.dists.Deterministic(spacing / speed),
            ciw.dists.Deterministic(way / speed),
        ],
        routing=[[0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0], rest],
        number_of_servers=[LANES, 1, 1, float("inf")],
        queue_capacities=[STACK, PLACES, 0, float("inf")],
    )
    ciw.seed(seed("bench ciw"))
    day = ciw.Simulation(network)
    with contextlib.redirect_stdout(io.StringIO()):
        day.simulate_until_max_time(DAY_S)
    return len(day.nodes[-1].all_individuals)


def lindley(arrival_s: Floats, service_s: Floats) -> Floats:
    """Waits before a single server: max(0, W + S − A) unrolled into running sums and minima [s].

    Lindley 1952, Proc. Camb. Phil. Soc. 48:277–289 (from memory).
    """
    walk = np.concatenate([[0.0], np.cumsum(service_s[:-1] - np.diff(arrival_s))])
    return np.asarray(walk - np.minimum.accumulate(walk))


def single_server() -> Line:
    """M/M/1 at 80 % load."""
    return plain_line({"quick_pay_kind": "exponential", "quick_pay_mean_s": 24.0})


def check_alike(line: Line) -> int:
    """Cars that come; Ciw, on days of its own, must wash about as many as the line.

    Raises:
        ValueError: if the two are not the same line.
    """
    found = line.run().rows
    count = int(found.counts[ROWS])
    washed = int((found.line[:count, LOST] == KEPT).sum())
    theirs = ciw_day()
    if abs(washed - theirs) > 0.06 * washed:
        raise ValueError(f"{washed} cars washed here, {theirs} in Ciw: not the same line")
    return count


def queue_figures() -> list[Figure]:
    """The compiled line beside Ciw and beside Lindley's recursion."""
    both, one = whole_line(), single_server()
    count = check_alike(both)
    arrival, service = one.cars.arrival_s, one.cars.pay_s
    tasks: dict[str, Callable[[], object]] = {
        "ciw": ciw_day,
        "line": lambda: [both.run() for _ in range(IN_A_ROW)],
        "single": lambda: [one.run() for _ in range(IN_A_ROW)],
        "lindley": lambda: [lindley(arrival, service) for _ in range(IN_A_ROW)],
    }
    spent = best_seconds(tasks, ROUNDS)
    for name in ("line", "single", "lindley"):
        spent[name] /= IN_A_ROW
    return [
        Figure("Ciw day of lanes, loader and belt, per car", spent["ciw"] / count * 1e6, "µs"),
        Figure("the same line compiled, per car", spent["line"] / count * 1e9, "ns"),
        Figure(
            "Ciw ÷ compiled queue and belt", spent["ciw"] / spent["line"], "", 300.0, "at least"
        ),
        Figure("compiled M/M/1 line, per car", spent["single"] / len(arrival) * 1e9, "ns"),
        Figure("Lindley recursion in NumPy, per car", spent["lindley"] / len(arrival) * 1e9, "ns"),
    ]
