"""What else could be done on the peak days of a season, and what each option costs and buys.

A few peak days stand for all of them. Each option lives through the same draws at the same drawn
sites as the planned days, so what it changes is paired, and its uncertainty is that of what is
not known of the site; see `sim.decide.how_sure`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import Shape, take_apart
from sim.day.drawn import Belief
from sim.day.engine import Experiment
from sim.day.figures import FIGURES
from sim.day.replicate import matters
from sim.day.rules import parse_rule
from sim.decide.cloth.answer import Option, OptionRow
from sim.decide.cloth.season import SeasonDay
from sim.decide.how_sure import run_blocks, site_difference
from sim.inputs import Scenario, Site, Steps, Value
from sim.units import show_clock

Floats = NDArray[np.float64]
PEAKS = 4
"""Peak days that stand for all of them: the middles of so many groups, by expected cars."""
SHAPE = Shape()
SLOWER = 0.9
"""The slower belt, as share of the present one; never below what the manual allows."""
HOUR_S = 3600.0
NAMES = ("cost", "damp_cars", "damp_share", "cars_lost", "wait_p90_s")
"""Figures of an option."""
_USED = (*NAMES, "finished_cars", "rewashed_cars")


@dataclass(frozen=True, slots=True)
class OptionsQuestion:
    """Everything that the options depend on.

    Attributes:
        peaks: the days that stand for all peak days.
        count: peak days in the year.
        known, belief: see `sim.decide.compare.Question`.
    """

    site: Site
    peaks: tuple[SeasonDay, ...]
    count: int
    seed: int
    known: frozenset[str]
    belief: Belief | None = None
    shape: Shape = SHAPE


def stand_for(peaks: Sequence[SeasonDay], count: int = PEAKS) -> tuple[SeasonDay, ...]:
    """The middles of equal groups of days, by expected cars; all where there are no more."""
    ordered = sorted(peaks, key=lambda one: (one.cars, one.day))
    if len(ordered) <= count:
        return tuple(ordered)
    return tuple(ordered[int((i + 0.5) * len(ordered) / count)] for i in range(count))


def options_of(site: Site, planned: Scenario) -> list[Option]:
    """The planned days and what else could be done on them, as far as the site has room for it."""
    line, wheel, wear, money = site.line, site.wheel, site.wear, site.money
    found = [Option("planned", 0.0, planned)]
    spare = wear.sets_owned - 1
    for count in (*range(1, spare + 1), spare + 1):
        is_more = count > spare
        changed: dict[str, Value] = {**planned.changes}
        if is_more:
            changed["sets_owned"] = wear.sets_owned + 1
        found.append(
            Option(
                "one_more_set" if is_more else "dry_sets",
                float(count),
                replace(planned, cloth="; ".join(_spread(site, count)), changes=changed),
                once=money.set_price if is_more else 0.0,
                each_year=money.set_price * site.stock.holding_share if is_more else 0.0,
            )
        )
    found.append(Option("finisher", 1.0, planned, each_day=money.wage_per_h * _open_h(site)))
    slow = max(line.slowest_belt_m_s, SLOWER * line.conveyor_speed_m_s)
    if slow < line.conveyor_speed_m_s:
        found.append(Option("slower_belt", slow, _with(planned, _slowed(site, slow))))
    if planned.rule != "reduced":
        found.append(Option("reduced", 0.0, replace(planned, rule="reduced")))
    if wheel.fastest_wheel_rev_s > wheel.idle_speed_rev_s:
        fast = wheel.fastest_wheel_rev_s
        found.append(Option("faster_idle", fast, _with(planned, {"idle_speed_rev_s": fast})))
    return found


def _open_h(site: Site) -> float:
    return site.line.close_h - site.line.open_h


def _spread(site: Site, count: int) -> list[str]:
    """Times of so many dry sets, evenly through the opening hours, to the quarter of an hour."""
    step = _open_h(site) / (count + 1)
    times = [round(4.0 * (site.line.open_h + (i + 1) * step)) / 4.0 for i in range(count)]
    return [show_clock(hour * HOUR_S) for hour in times]


def _with(planned: Scenario, changes: dict[str, Value]) -> Scenario:
    return replace(planned, changes={**planned.changes, **changes})


def _slowed(site: Site, speed: float) -> dict[str, Value]:
    """The belt at a speed; a timetable is slowed in proportion, within the manual."""
    changes: dict[str, Value] = {"conveyor_speed_m_s": speed}
    share = speed / site.line.conveyor_speed_m_s
    table: Steps = site.line.speed_timetable
    if table:
        least = site.line.slowest_belt_m_s
        changes["speed_timetable"] = tuple((at, max(least, was * share)) for at, was in table)
    return changes


def weigh_options(
    asked: OptionsQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[OptionRow]:
    """What each option does on the peak days of a year, the planned days first.

    Args:
        executor: runs drawn sites side by side; the figures don't depend on it.
        progress: told how many simulated days are done, of how many, counted over peak days.
    """
    site = asked.site if asked.belief is None else asked.belief.middle(asked.site)
    totals: list[list[dict[str, Floats]]] = []
    runs = asked.shape.runs
    options: list[Option] = []
    for at, peak in enumerate(asked.peaks):
        options = options_of(site, peak.planned)
        scenarios: list[Scenario] = []
        for option in options:
            if option.scenario not in scenarios:
                scenarios.append(option.scenario)
        experiment = Experiment(
            asked.site, peak.conditions, asked.seed, peak.evening, parse_rule(scenarios[0].rule),
            asked.known, asked.belief, with_level=True, evenings=1,
        )  # fmt: skip
        told = _from(at * runs, len(asked.peaks) * runs, progress)
        crossed = run_blocks(experiment, scenarios, asked.shape, executor, told)
        places = [scenarios.index(option.scenario) for option in options]
        totals.append([{n: crossed.runs[s].day[n] for n in _USED} for s in places])
    days = [
        {n: np.mean([peak[s][n] for peak in totals], axis=0) for n in _USED}
        for s in range(len(options))
    ]
    for place, option in enumerate(options):
        if option.key == "finisher":
            days[place] = _finished(site, days[place])
    return [
        _row(asked, site, option, days[0], day) for option, day in zip(options, days, strict=True)
    ]


def _from(before: int, total: int, progress: Callable[[int, int], None]) -> Callable[[int], None]:
    return lambda done: progress(before + done, total)


def _finished(site: Site, day: dict[str, Floats]) -> dict[str, Floats]:
    """One person more who towels damp cars that would be left, as many as the hours allow."""
    able = site.crew.target_use * _open_h(site) * HOUR_S / max(1.0, site.crew.damp_work_s)
    left = np.maximum(0.0, day["damp_cars"] - day["finished_cars"] - day["rewashed_cars"])
    done = np.minimum(left, able)
    share = np.divide(done, day["damp_cars"], out=np.zeros_like(done), where=day["damp_cars"] > 0)
    return {
        **day,
        "damp_cars": day["damp_cars"] - done,
        "damp_share": day["damp_share"] * (1.0 - share),
        "cost": day["cost"] - done * (site.money.damp_cost - site.money.towel_cost),
    }


def _row(
    asked: OptionsQuestion,
    site: Site,
    option: Option,
    planned: dict[str, Floats],
    day: dict[str, Floats],
) -> OptionRow:
    figures = {name: take_apart(day[name]).mean for name in NAMES}
    figures["cost"] += option.each_day + option.each_year / max(1, asked.count)
    wishes = site.wishes
    keeps = (
        figures["damp_share"] <= wishes.allowed_damp_share
        and figures["cars_lost"] <= wishes.allowed_lost_cars
        and figures["wait_p90_s"] <= wishes.allowed_wait_p90_s
    )
    if option.key == "planned":
        return OptionRow(option, figures, None, None, None, keeps, 0.0, 0.0, 0.0)
    cost = FIGURES["cost"]
    more = (day["cost"] + option.each_day) * asked.count + option.each_year
    base = planned["cost"] * asked.count
    yearly = site_difference(cost, base, more, asked.count * matters(site, cost, 0.0))
    apart = {
        name: site_difference(
            FIGURES[name],
            planned[name],
            day[name],
            matters(site, FIGURES[name], take_apart(planned[name]).mean),
        )
        for name in ("damp_cars", "cars_lost")
    }
    range_ = yearly.site_uncertainty
    ends = (yearly.value, None, None) if range_ is None else (yearly.value, range_.low, range_.high)
    back = [math.nan if v is None else payback_years(option.once, -v) for v in ends]
    return OptionRow(option, figures, yearly, apart["damp_cars"], apart["cars_lost"], keeps, *back)


def payback_years(once: float, gain: float) -> float:
    """Years until a price has come back by a gain a year; infinite where it never does."""
    if once <= 0.0:
        return 0.0
    return once / gain if gain > 0.0 else math.inf
