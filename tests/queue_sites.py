"""Sites that reduce to a textbook queue by their folder alone, and how theory is held to them.

A pay lane is the server (or the first station), the stack its waiting room. Loading takes no
time, the belt is fast and its spacing short, nobody loses patience, nothing stops and the day
lasts 24 hours, so that the rest of the line never holds a car back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.integrate import solve_ivp

from app.answers.planning import make_question
from app.sites.folder import read_folder, write_folder
from sim.day.engine import Experiment
from sim.day.replicate import Days, run_days
from sim.inputs import (
    ClassNumbers,
    History,
    HourCount,
    HourWeather,
    Scenario,
    Site,
    SiteData,
    Value,
    VehicleClass,
)

Floats = NDArray[np.float64]
DAY = date(2026, 7, 15)
LEVEL = 0.999
WIDEST = 0.05
"""An interval wider than this share of the theoretical value, either way, proves nothing."""

PLAIN_LINE: dict[str, Value] = {
    "open_h": 0.0,
    "close_h": 24.0,
    "conveyor_speed_m_s": 0.6,
    "fastest_belt_m_s": 0.6,
    "pusher_pitch_m": 0.2,
    "car_spacing_m": 4.0,
    "wheel_position_m": 5.0,
    "stops_per_h": 0.0,
    "stops_per_car": 0.0,
    "pay_lanes": ((0.0, 1.0),),
    "quick_payer_share": 1.0,
    "loading_line_cars": 60,
    "load_kind": "measured",
    "load_measured_s": (0.0,),
    "stack_limit_cars": 300,
    "patience_median_s": 14400.0,
    "patience_log_sd": 0.0,
    "day_factor_cv": 0.0,
    "hour_factor_cv": 0.0,
    "damp_rewash_share": 0.0,
}
"""Chosen so that nothing but payment holds a car back: a textbook queue."""

ONE_CAR = VehicleClass(
    "car", "car", ClassNumbers(1.0, 2.7, 0.0, 0.5, 0.1, 1.0, 0.8, 0.0, 0.0, 0.6, 0.5, 0.0, 0.0)
)


def queue_days(
    folder: Path, cars_per_h: int, changes: dict[str, Value], days: int, seed: int
) -> Days:
    """Simulated days of a queue: its site written as a folder, read back, and planned."""
    site = replace(Site("Queue"), vehicles=(ONE_CAR,), reference_class="car")
    values = {**PLAIN_LINE, **changes}
    counts, weather = [], []
    for back in range(1, 29):
        day = DAY - timedelta(days=back)
        counts += [HourCount(day, hour, 0, cars_per_h) for hour in range(24)]
        weather += [HourWeather(day, hour, 0, 20.0, 0.5, 0.0) for hour in range(24)]
    history = History("arrived", tuple(sorted(counts)), tuple(sorted(weather)))
    data = SiteData(site.with_values(values), "si", frozenset(values), history)
    write_folder(folder, data)
    question, _ = make_question(read_folder(folder), DAY, "", (Scenario("full"),), days, seed)
    assert question.conditions.arrivals_per_h == (float(cars_per_h),) * 24
    # of four like days the level of demand is unsure; a textbook's rate is not
    sure = replace(question.conditions, spread=replace(question.conditions.spread, level_cv=0.0))
    found = run_days(Experiment(question.site, sure, question.seed), question.scenarios, days)
    return found[0]


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a theoretical value stands to independent days.

    Attributes:
        low, high: 99.9 % interval of the mean.
        tight: the half-width is at most 5 % of theory.
        inside: theory lies in the interval.
    """

    theory: float
    low: float
    high: float

    @property
    def tight(self) -> bool:
        """Whether the interval is narrow enough to prove something."""
        return (self.high - self.low) / 2 <= WIDEST * abs(self.theory)

    @property
    def inside(self) -> bool:
        """Whether theory lies in the interval."""
        return self.low <= self.theory <= self.high


def hold(theory: float, per_day: Sequence[float] | Floats) -> Verdict:
    """Theory against at least 30 independent days, by Student's t (SciPy)."""
    values = np.asarray(per_day, dtype=float)
    assert len(values) >= 30, "a statistical check needs at least 30 independent days"
    spread = stats.sem(values)
    half = float(stats.t.ppf(0.5 + LEVEL / 2, len(values) - 1)) * spread
    return Verdict(theory, float(values.mean()) - half, float(values.mean()) + half)


def after(days: Days, name: str, warm_up_h: int) -> Floats:
    """Mean of an hourly figure over each day's hours after the warm-up; shape (days,)."""
    return np.asarray(days.hours[name][:, warm_up_h:23].mean(axis=1))


def chain_by_hour(
    arrive_per_h: float, serve_per_h: float, servers: int, places: int, hours: int
) -> tuple[Floats, Floats]:
    """M/M/c/K from empty by its differential equations (SciPy): exact hourly means.

    Returns:
        Mean number waiting and expected losses in each hour, shape (hours,) each.
    """
    number = np.arange(places + 1)
    up = np.where(number < places, arrive_per_h, 0.0)
    down = serve_per_h * np.minimum(number, servers)
    waiting = np.maximum(number - servers, 0)

    def change(_: float, state: Floats) -> Floats:
        p = state[: places + 1]
        flow = -(up + down) * p
        flow[1:] += up[:-1] * p[:-1]
        flow[:-1] += down[1:] * p[1:]
        return np.concatenate([flow, [waiting @ p, arrive_per_h * p[-1]]])

    start = np.zeros(places + 3)
    start[0] = 1.0
    edges = np.arange(hours + 1.0)
    solved = solve_ivp(change, (0.0, hours), start, "LSODA", edges, rtol=1e-9, atol=1e-12)
    return np.diff(solved.y[-2]), np.diff(solved.y[-1])
