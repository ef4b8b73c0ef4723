"""Many days of several scenarios on the same draws, and what can be said of their figures.

Two kinds of interval come out of this and are never mixed: the *day range*, what single days do
(5th to 95th percentile), and the *run error*, the simulation's own 95 % confidence interval of
the expected value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import by_day
from sim.day.engine import Cell, Experiment, Replication, Variant, simulate
from sim.day.figures import (
    FIGURES,
    HOURLY,
    OF_CARS,
    Figure,
    FigureInfo,
    PairedDifference,
    Strength,
    Word,
    finite,
    range_of,
    worded,
)
from sim.day.rules import Rule, SetChange, parse_changes, parse_rule
from sim.errors import InputError, problems_of
from sim.inputs import Scenario, Site
from sim.special import betaincinv, stdtrit
from sim.units import FINEST, FINEST_ELSE, UNITS

Floats = NDArray[np.float64]
RARE_DAYS = 20
"""Below this many days with an event no interval of its mean is given."""


PIECE_DAYS = 4
"""Draws that a worker computes at a time: short enough to cancel, long enough to be worth it."""


def scenario_cell(site: Site, scenario: Scenario) -> Cell:
    """A scenario as an experiment runs it.

    What it changes of the site's inputs (equipment, cloth, people, settings) lasts: the evening
    before was lived with it too. What is for the day alone does not: the evening is wiped by the
    experiment's rule in all of them, no dry set is put on, and the evening's weather and demand
    are its own.
    """
    changes = tuple(scenario.changes.items())
    rule = parse_rule(
        scenario.rule, [item.key for item in site.with_values(scenario.changes).vehicles]
    )
    return Variant(changes, cloth=scenario.cloth, own_night=True), (rule,)


def all_figures(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Floats:
    """Every figure of each rule's day, and by hour, in a row; see `Days.of`."""
    rows = []
    for rule in rules:
        found = day.figures(rule, sets)
        rows.append(np.concatenate([list(found.day.values()), *found.hours.values()]))
    return np.array(rows)


@dataclass(frozen=True, slots=True)
class Days:
    """Figures of many days of one scenario: shape (days,) each, and (days, 24) by hour."""

    day: dict[str, Floats]
    hours: dict[str, Floats]

    @classmethod
    def of(cls, rows: Floats) -> Days:
        """The figures of `all_figures`; rows of shape (…, figures)."""
        day = {name: rows[..., at] for at, name in enumerate(FIGURES)}
        by_hour = rows[..., len(FIGURES) :].reshape(*rows.shape[:-1], len(HOURLY), 24)
        return cls(day, {name: by_hour[..., at, :] for at, name in enumerate(HOURLY)})


def run_days(
    experiment: Experiment,
    scenarios: Sequence[Scenario],
    replications: int,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> list[Days]:
    """Simulate every scenario on the same `replications` day draws, guesses at middle values.

    Only the figures are kept, so that memory does not grow with the days otherwise.

    Args:
        executor: runs the days side by side; the figures don't depend on it.
        progress: told now and then how many draws are done; it may raise to give up.
    """
    cells = [scenario_cell(experiment.site, scenario) for scenario in scenarios]
    table = simulate(
        experiment, cells, experiment.days(replications), all_figures, executor,
        lambda done, total: progress(done // len(cells)), days=PIECE_DAYS,
    )  # fmt: skip
    return [Days.of(rows) for rows in table]


def means_by_hour(hours: Mapping[str, Floats]) -> dict[str, Floats]:
    """Means of figures by clock hour, shape (24,) each, NaN where no run has anything to tell.

    Over cars for those of `sim.day.figures.OF_CARS`, over runs for the others.

    Args:
        hours: every figure of `HOURLY`, shape (runs, 24).
    """
    found = {}
    for name, rows in hours.items():
        cars = np.ones_like(rows)
        if name in OF_CARS:
            first, *less = OF_CARS[name]
            cars = hours[first] - sum((hours[other] for other in less), np.zeros_like(rows))
        cars = np.where(np.isnan(rows), 0.0, cars)
        total, count = np.where(cars > 0.0, cars * rows, 0.0).sum(axis=0), cars.sum(axis=0)
        found[name] = np.where(count > 0.0, total / np.where(count > 0.0, count, 1.0), np.nan)
    return found


def mean_interval(values: Floats, level: float = 0.95) -> tuple[float, float, float]:
    """Mean and Student's t interval of the mean over independent days; NaN days left out.

    Returns:
        mean, low, high; low and high are NaN with fewer than two days.
    """
    values = values[~np.isnan(values)]
    n = len(values)
    if n == 0:
        return math.nan, math.nan, math.nan
    mean = float(np.mean(values))
    if n == 1:
        return mean, math.nan, math.nan
    half = float(stdtrit(n - 1, 0.5 + 0.5 * level)) * float(np.std(values, ddof=1)) / math.sqrt(n)
    return mean, mean - half, mean + half


def day_range(values: Floats) -> tuple[float, float]:
    """5th and 95th percentile of single days, linear between order statistics (1 + p(N − 1))."""
    values = values[~np.isnan(values)]
    if len(values) == 0:
        return math.nan, math.nan
    low, high = np.percentile(values, [5, 95])
    return float(low), float(high)


def fewer_than_one_in(event_days: int, days: int, level: float = 0.95) -> int:
    """N of "fewer than 1 in N days": from the one-sided Clopper–Pearson upper limit; at least 1."""
    if event_days >= days:
        return 1
    upper = float(betaincinv(event_days + 1, days - event_days, level))
    return max(1, math.floor(1.0 / upper))


def figure(info: FigureInfo, values: Floats) -> Figure:
    """The figure of many days of one scenario."""
    mean, low, high = mean_interval(values)
    events, one_in = rare_event(info, values)
    days = range_of(*day_range(values))
    if one_in:
        return Figure(finite(mean), days, event_days=events, fewer_than_one_in_days=one_in)
    return Figure(finite(mean), days, range_of(low, high))


def rare_event(info: FigureInfo, values: Floats) -> tuple[int, int]:
    """Days with a rare event and N of "fewer than 1 in N days"; N is 0 where an interval holds.

    Runs of several drawn sites through one day, shape (blocks, points, days) as
    `sim.day.blocks` crosses them, are one day: on such a day an event comes to most sites or to
    none, and counted singly they would claim several times as much as they know.
    """
    seen = values > 0
    if not info.rare or values.size <= 1 or np.count_nonzero(seen) >= RARE_DAYS:
        return int(np.count_nonzero(seen)), 0
    days = by_day(seen).any(axis=1) if seen.ndim > 1 else seen
    events = int(np.count_nonzero(days))
    return events, fewer_than_one_in(events, days.size)


CLEARLY, PROBABLY = 19 / 20, 16 / 20


def difference(info: FigureInfo, first: Floats, other: Floats, matters: float) -> PairedDifference:
    """The paired difference of a scenario to the first, day by day, with its plain word.

    *Hardly differs*: the run error lies within what matters either way, or the mean is below
    the last digit ever printed. *Can't tell*: it spans zero and more than that. *Clearly* and
    *probably*: the mean is at least what matters and 19 (16) of 20 days have its sign; else
    *a little*.
    """
    apart = other - first
    mean, low, high = mean_interval(apart)
    kept = apart[~np.isnan(apart)]
    good = -1.0 if info.better == "less" else 1.0
    better = float(np.mean(kept * good > 0)) if len(kept) else None
    word = _word(info, kept, mean, low, high, matters)
    return PairedDifference(finite(mean), range_of(low, high), better, word)


def _word(
    info: FigureInfo, apart: Floats, mean: float, low: float, high: float, matters: float
) -> Word:
    if math.isnan(mean):
        return ""
    if not np.any(apart):
        return "the same"
    if math.isnan(low) or (low <= 0 <= high and max(-low, high) > matters):
        return "can’t tell"
    if max(abs(low), abs(high)) <= matters or abs(mean) < half_digit(info):
        return "hardly differs"
    same_sign = float(np.mean(apart * math.copysign(1.0, mean) > 0))
    return worded(strength_of(same_sign, is_enough=abs(mean) >= matters), info, mean)


def strength_of(same_sign: float, *, is_enough: bool) -> Strength:
    """How surely a difference is told, by the share of days or sites that have its sign; a
    little, where it is not enough to matter."""
    if not is_enough or same_sign < PROBABLY:
        return "a little"
    return "clearly" if same_sign >= CLEARLY else "probably"


def half_digit(info: FigureInfo) -> float:
    """Half of the last digit that is ever printed of a figure: less is shown as no difference."""
    return 0.5 * FINEST.get(info.unit, FINEST_ELSE) / UNITS[info.unit].si.factor


def matters(site: Site, info: FigureInfo, first: float | None) -> float:
    """From where on a difference of a figure matters: the manager's wish, else 3 %."""
    if info.matters:
        return float(str(site.value(info.matters)))
    return 0.0 if first is None or math.isnan(first) else 0.03 * abs(first)


def check_scenario(site: Site, scenario: Scenario) -> None:
    """Raise InputError if rule or dry sets of a scenario, or both, can't be used at the site."""
    changed = site.with_values(scenario.changes)
    problems = problems_of(
        lambda: parse_rule(scenario.rule, [item.key for item in changed.vehicles]),
        lambda: parse_changes(scenario.cloth, changed.wear.sets_owned),
    )
    if problems:
        raise InputError(problems)
