"""A hundred sites as they might be, each weighed three times, and what the weighings tell of each.

Every truth is judged by one and the same ensemble of drawn sites, whose cloth and damp cars are
simulated once: only the weights differ from truth to truth.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from sim.day.blocks import sobol_points
from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import TALLY, make_tables, tallies
from sim.day.kernel import rows as r
from sim.day.kernel.days import run
from sim.day.priors import draw_site, uncertain
from sim.day.rules import parse_rule
from sim.day.setup import prepare_day
from sim.day.spread import spread
from sim.decide.switching.search import cost_of
from sim.inputs import AFTERNOON, CARS_LOOKED_AT, DAMP, SOAKED, Conditions, Site, Weighing
from sim.learn.weigh_in import (
    WEIGHED_DAY,
    Looked,
    WeighedDay,
    log_likelihood,
    look_at,
    together,
)

Floats = NDArray[np.float64]
DAY = date(2026, 7, 18)
GRID_S = tuple(3600.0 * (7.25 + 0.25 * step) for step in range(52))
"""Times at which the cloth of every drawn site is known; between them it is interpolated."""
AFTERNOON_S = 15.5 * 3600.0
BUSIEST_S = 12.5 * 3600.0
"""When the strip at the damp limit is weighed where cars don't come out damp before."""
DAMP_CARS = 3
"""So many damp cars make a crew say that cars begin to come out damp."""
KNOWN = frozenset({"conveyor_speed_m_s"})
DAYS = 2
"""Days over which damp cars are counted, the same ones at every site."""
OPENING_KG_KG = 0.6
"""Every day opens with cloth that holds so much water."""

BUSY = Conditions(
    arrivals_per_h=tuple(
        {7: 40, 8: 60, 9: 85, 10: 105, 11: 115, 12: 120, 13: 120, 14: 115, 15: 110, 16: 105,
         17: 90, 18: 70, 19: 40}.get(hour, 0.0) * 1.0
        for hour in range(24)
    ),
    temp_c=tuple(24.0 + 5.0 * math.sin((hour - 9) / 24.0 * 2.0 * math.pi) for hour in range(24)),
    humidity=tuple(
        0.65 - 0.15 * math.sin((hour - 9) / 24.0 * 2.0 * math.pi) for hour in range(24)
    ),
    opening_moisture_kg_kg=OPENING_KG_KG,
)  # fmt: skip
"""A busy summer day."""

FULL = parse_rule("full")
RULES = tuple(
    parse_rule(text)
    for text in (
        "full", "reduced", "clock 11:00-16:00", "clock 13:00-18:00", "clock 10:00-18:00",
        "band 70-60", "band 60-50", "band 50-40", "band 40-30", "band 30-25",
    )
)  # fmt: skip
"""Rules that a manager may choose from, always full first."""


def weighing(kind: str, moisture: float, at_s: float = 0.0, damp_cars: int = 0) -> Weighing:
    """A strip of 100 g that holds so much water; one from the wheel with its cars."""
    cars = 0 if kind == SOAKED else CARS_LOOKED_AT
    return Weighing(kind, DAY, at_s, 0.1 * (1.0 + moisture), 0.1, "full", cars, damp_cars)


GRID = WeighedDay(tuple(weighing(AFTERNOON, 1.0, at) for at in GRID_S), BUSY, None)


@dataclass(frozen=True, slots=True)
class Sites:
    """Drawn sites, a row each.

    Attributes:
        looked: what they would weigh and see at the times of `GRID_S`.
        damp: share of damp cars when every car is wiped in full, shape (sites,).
        cost: of a day under each of `RULES`, shape (sites, rules).
        met: of the weighed day, for each car washed in the order of leaving: when it left [s] and
            whether it was damp; shape (2, cars) a site.
    """

    looked: Looked
    damp: Floats
    cost: Floats
    met: tuple[Floats, ...]


def _look(job: tuple[Site, Floats, int]) -> list[tuple[Looked, float, Floats, Floats]]:
    base, u, seed = job
    names = uncertain(base, KNOWN)
    found = []
    for row in u:
        site = draw_site(base, names, row)
        day = prepare_day(site, BUSY)
        priced = replace(site, money=base.money)  # prices are the manager's, no strip tells them
        tables = make_tables(site, day)
        damp, cost = 0.0, np.zeros(len(RULES))
        for number in range(DAYS):
            cars = make_cars(DayDraw(41, number), site, BUSY)
            rows = tallies(site, day, cars, RULES, tables=tables)
            named = [dict(zip(TALLY, one, strict=True)) for one in rows.tolist()]
            damp += named[0]["damp_cars"] / max(1.0, named[0]["cars_washed"]) / DAYS
            cost += np.array([cost_of(priced, day, one) for one in named]) / DAYS
        done = run(site, day, make_cars(DayDraw(seed, 0, 0, WEIGHED_DAY), site, BUSY), FULL,
                   tables=tables)  # fmt: skip
        count = int(done.flow.rows.counts[r.ROWS])
        left, is_damp = done.flow.rows.times[:count, r.EXIT], done.wiped.marks[:count, r.DAMP]
        order = np.argsort(left)[: int(np.isfinite(left).sum())]
        found.append((look_at(site, [GRID], seed), damp, cost, np.array([left, is_damp])[:, order]))
    return found


def look(base: Site, count: int, block: int, seed: int, executor: Executor | None) -> Sites:
    """`count` sites drawn from the prior, as scrambled Sobol points of a block.

    Args:
        seed: of the weighed day; truths live through another one than those who judge them.
    """
    u = sobol_points(len(uncertain(base, KNOWN)), count, 5, block)
    jobs = [(base, u[i : i + 8], seed) for i in range(0, count, 8)]
    rows = [row for part in spread(_look, jobs, executor) for row in part]
    looked, damp, cost, met = zip(*rows, strict=True)
    return Sites(together(looked), np.array(damp), np.array(cost), met)


@dataclass(frozen=True, slots=True)
class Judged:
    """What came out over all truths.

    Attributes:
        before, after: mean width of the 90 % interval of the share of damp cars.
        covered: truths inside their interval, of `truths`.
        effective: effective number of drawn sites, a truth each.
        regrets: cost of the rule chosen less that of the best one, before and after weighing;
            shape (2, truths).
    """

    before: float
    after: float
    covered: int
    truths: int
    effective: Floats
    regrets: Floats

    @property
    def narrowed(self) -> float:
        """Width after ÷ width before."""
        return self.after / self.before

    def regret_left(self, rng: np.random.Generator) -> tuple[float, float, float]:
        """Total regret after ÷ before, and its 95 % interval by resampling truths (Efron 1979,
        Annals of Statistics 7:1–26, percentiles, from memory)."""
        picks = rng.integers(self.truths, size=(2_000, self.truths))
        sums = self.regrets[:, picks].sum(axis=2)
        low, high = np.quantile(sums[1] / np.maximum(sums[0], 1e-12), [0.025, 0.975])
        total = self.regrets.sum(axis=1)
        return float(total[1] / total[0]), float(low), float(high)


def weigh(base: Site, truths: Sites, number: int, rng: np.random.Generator,
          strips: int, with_cars: bool) -> list[Weighing]:  # fmt: skip
    """The three weighings of a truth, with errors, in the order of `WEIGHINGS`.

    The crew weighs at the moment when it has seen `DAMP_CARS` damp cars, and looks at the cars
    that leave next: those of the truth's own day, not cars by the formula that judges them.
    """
    left, damp = truths.met[number]
    seen = left[damp > 0.0]
    first = seen[DAMP_CARS - 1] if len(seen) >= DAMP_CARS else BUSIEST_S
    moistures, found = truths.looked.moistures[number], []
    errors = iter(rng.standard_normal((3, strips)))
    soaked = moistures[0] * np.exp(base.wheel.weigh_in_log_sd * next(errors))
    found += [weighing(SOAKED, float(x)) for x in soaked]
    for kind, at in ((DAMP, min(max(first, GRID_S[0]), BUSIEST_S)), (AFTERNOON, AFTERNOON_S)):
        held = _between(moistures[None, 2 : 2 + len(GRID_S)], at)[0]
        after = damp[np.searchsorted(left, at, side="right") :][:CARS_LOOKED_AT]
        for x in held * np.exp(base.wheel.strip_log_sd * next(errors)):
            one = weighing(kind, float(x), at, int(after.sum()))
            found.append(one if with_cars else replace(one, cars=0, damp_cars=0))
    return found


def _between(values: Floats, at_s: float) -> Floats:
    """Columns of `GRID_S` interpolated at a time; shape (rows, times) → (rows,)."""
    place = float(np.interp(at_s, GRID_S, np.arange(len(GRID_S))))
    low = min(int(place), len(GRID_S) - 2)
    return np.asarray(values[:, low] + (place - low) * (values[:, low + 1] - values[:, low]))


def _at_times(looked: Looked, times: list[float]) -> Looked:
    """What drawn sites would weigh and see at other times than those of the grid."""
    size, count = len(GRID_S), looked.damp.shape[1] // len(GRID_S)
    moistures, damp = [looked.moistures[:, :2]], [looked.damp[:, :0]]
    for draw in range(count):
        part = slice(draw * size, (draw + 1) * size)
        for at in times:
            moistures.append(_between(looked.moistures[:, 2:][:, part], at)[:, None])
            damp.append(_between(looked.damp[:, part], at)[:, None])
    return Looked(np.concatenate(moistures, axis=1), np.concatenate(damp, axis=1))


def judge(base: Site, ensemble: Sites, truths: Sites, rng: np.random.Generator,
          strips: int = 1, with_cars: bool = True) -> Judged:  # fmt: skip
    """Weigh every truth, with errors, and see what the ensemble then says of its damp cars.

    Args:
        strips: strips weighed at each of the three occasions.
        with_cars: whether the cars after each strip from the wheel are looked at.
    """
    even = np.full(len(ensemble.damp), 1.0 / len(ensemble.damp))
    low, high = _interval(ensemble.damp, even)
    widths, effective, covered, regrets = [], [], 0, []
    unweighed = int(np.argmin(ensemble.cost.mean(axis=0)))
    for number, (damp, cost) in enumerate(zip(truths.damp, truths.cost, strict=True)):
        found = weigh(base, truths, number, rng, strips, with_cars)
        day = replace(GRID, weighings=tuple(found[strips:]))
        looked = _at_times(ensemble.looked, [item.at_s for item in day.weighings])
        log = log_likelihood(base, looked, found[:strips], [day])
        weights = np.exp(log - logsumexp(log))
        effective.append(1.0 / float((weights**2).sum()))
        one_low, one_high = _interval(ensemble.damp, weights)
        widths.append(one_high - one_low)
        covered += one_low <= damp <= one_high
        weighed = int(np.argmin(weights @ ensemble.cost))
        regrets.append(cost[[unweighed, weighed]] - cost.min())
    return Judged(
        high - low, float(np.mean(widths)), covered, len(truths.damp), np.array(effective),
        np.array(regrets).T,
    )  # fmt: skip


def _interval(values: Floats, weights: Floats) -> tuple[float, float]:
    """The middle 90 % of weighted values."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = np.interp([0.05, 0.95], sums, values[order])
    return float(low), float(high)
