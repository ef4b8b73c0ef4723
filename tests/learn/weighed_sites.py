"""A hundred sites as they might be, each weighed three times, and what the weighings tell of each.

Every truth is judged by one and the same ensemble of drawn sites, whose moistures and damp cars
are simulated once: only the weights differ from truth to truth.
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
from sim.day.priors import draw_site, uncertain
from sim.day.rules import parse_rule
from sim.day.setup import prepare_day
from sim.day.spread import spread
from sim.decide.switching.search import cost_of
from sim.inputs import AFTERNOON, DAMP, SOAKED, Conditions, Site, Weighing
from sim.learn.weigh_in import WeighedDay, log_likelihood, model_moistures

Floats = NDArray[np.float64]
DAY = date(2026, 7, 18)
AT_S = 15.5 * 3600.0
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


RULES = tuple(
    parse_rule(text)
    for text in (
        "full", "reduced", "clock 11:00-16:00", "clock 13:00-18:00", "clock 10:00-18:00",
        "band 70-60", "band 60-50", "band 50-40", "band 40-30", "band 30-25",
    )
)  # fmt: skip
"""Rules that a manager may choose from, always full first."""


@dataclass(frozen=True, slots=True)
class Looked:
    """Drawn sites, a row each.

    Attributes:
        moistures: `model_moistures` [kg/kg].
        damp: share of damp cars when every car is wiped in full, shape (sites,).
        cost: of a day under each of `RULES`, shape (sites, rules).
    """

    moistures: Floats
    damp: Floats
    cost: Floats


def _look(job: tuple[Site, Floats, int]) -> list[tuple[Floats, float, Floats]]:
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
        found.append((model_moistures(site, [weighed_day(1.0)], seed), damp, cost))
    return found


def weighed_day(moisture: float) -> WeighedDay:
    """The afternoon of a strip that holds so much water, on a day like those planned."""
    item = Weighing(AFTERNOON, DAY, AT_S, 0.1 * (1.0 + moisture), 0.1)
    return WeighedDay((item,), BUSY, None)


def look(base: Site, count: int, block: int, seed: int, executor: Executor | None) -> Looked:
    """`count` sites drawn from the prior, as scrambled Sobol points of a block.

    Args:
        seed: of the weighed afternoons; truths live through other ones than those who judge them.
    """
    u = sobol_points(len(uncertain(base, KNOWN)), count, 5, block)
    jobs = [(base, u[i : i + 8], seed) for i in range(0, count, 8)]
    rows = [row for part in spread(_look, jobs, executor) for row in part]
    return Looked(*(np.array(column) for column in zip(*rows, strict=True)))


@dataclass(frozen=True, slots=True)
class Judged:
    """What came out over all truths.

    Attributes:
        before, after: mean width of the 90 % interval of the share of damp cars.
        covered: truths inside their interval, of `truths`.
        effective: median effective number of drawn sites.
        regrets: cost of the rule chosen less that of the best one, before and after weighing;
            shape (2, truths).
    """

    before: float
    after: float
    covered: int
    truths: int
    effective: float
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


def judge(base: Site, ensemble: Looked, truths: Looked, rng: np.random.Generator,
          strips: int = 1) -> Judged:  # fmt: skip
    """Weigh every truth, with errors, and see what the ensemble then says of its damp cars.

    Args:
        strips: strips weighed at each of the three occasions.
    """
    error, place = base.wheel.weigh_in_log_sd, base.wheel.strip_place_log_sd
    even = np.full(len(ensemble.damp), 1.0 / len(ensemble.damp))
    low, high = _interval(ensemble.damp, even)
    widths, effective, covered, regrets = [], [], 0, []
    unweighed = int(np.argmin(ensemble.cost.mean(axis=0)))
    for moistures, damp, cost in zip(truths.moistures, truths.damp, truths.cost, strict=True):
        at_once, afternoons = [], []
        for _ in range(strips):
            soaked = moistures[0] * math.exp(error * rng.standard_normal())
            off = math.hypot(error, place)
            limit = moistures[1] * math.exp(off * rng.standard_normal())
            settled = moistures[2] * math.exp(off * rng.standard_normal())
            at_once += [
                Weighing(SOAKED, DAY, 0.0, 0.1 * (1.0 + soaked), 0.1),
                Weighing(DAMP, DAY, 0.0, 0.1 * (1.0 + limit), 0.1),
            ]
            afternoons.append(Weighing(AFTERNOON, DAY, AT_S, 0.1 * (1.0 + settled), 0.1))
        day = replace(weighed_day(1.0), weighings=tuple(afternoons))
        # every strip of an afternoon has the same time, so the same moisture in the model
        model = np.concatenate(
            [ensemble.moistures[:, :2], *(np.repeat(ensemble.moistures[:, 2 + d : 3 + d], strips, 1)
                                          for d in range(DAYS))], axis=1
        )  # fmt: skip
        log = log_likelihood(base, model, at_once, [day])
        weights = np.exp(log - logsumexp(log))
        effective.append(1.0 / float((weights**2).sum()))
        one_low, one_high = _interval(ensemble.damp, weights)
        widths.append(one_high - one_low)
        covered += one_low <= damp <= one_high
        weighed = int(np.argmin(weights @ ensemble.cost))
        regrets.append(cost[[unweighed, weighed]] - cost.min())
    return Judged(
        high - low, float(np.mean(widths)), covered, len(truths.damp),
        float(np.median(effective)), np.array(regrets).T,
    )  # fmt: skip


def _interval(values: Floats, weights: Floats) -> tuple[float, float]:
    """The middle 90 % of weighted values."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = np.interp([0.05, 0.95], sums, values[order])
    return float(low), float(high)
