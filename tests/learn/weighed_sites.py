"""A hundred sites as they might be, each weighed three times, and what the weighings tell of each.

Every truth is judged by one and the same ensemble of drawn sites, usual and strange ones as
`sim.day.drawn` draws them. Each of them lives once through a weighed day at each of `LEVELS` of
demand; between levels its cloth is interpolated, at the level at which it has washed as many cars
as the truth had, or at a level drawn for it where nothing is known of the day.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from sim.day import wheel_cloth
from sim.day.blocks import sobol_points
from sim.day.draw import DayCars, DayDraw, demand_factors, make_cars
from sim.day.drawn import are_strange, draw_site, prior_points, prior_quantile, uncertain
from sim.day.figures import prices_of
from sim.day.kernel import run, tallies
from sim.day.kernel import tables as r
from sim.day.kernel.many import TALLY
from sim.day.kernel.tables import make_tables
from sim.day.rules import Rule, parse_rule
from sim.day.setup import ClothNumbers, damp_criterion, prepare_day
from sim.day.tunnel import simulate_day
from sim.decide.switching.question import costs_of
from sim.inputs import AFTERNOON, CARS_LOOKED_AT, DAMP, HOODS, SOAKED, Conditions, Site, Weighing
from sim.learn.weigh_in import DOUBTFUL, log_likelihood
from sim.learn.weigh_in import weigh as weights_of
from sim.learn.weighed_day import (
    WEIGHED_DAY,
    PredictedWeighings,
    WeighedDay,
    damp_share,
    guessed_cv,
    last_damp,
    moistures_at,
    until,
    washed_until,
)
from sim.physics.water_film import wipe_zone
from tests.remembering import kept
from tests.seeds import seed

Floats = NDArray[np.float64]
BASE = Site("Weighed wash")
DAY = date(2026, 7, 18)
GRID_S = tuple(3600.0 * (7.25 + 0.25 * step) for step in range(34))
"""Times at which the cloth of every drawn site is known; between them it is interpolated."""
LEVELS = (0.5, 0.75, 1.0, 1.25, 1.65)
"""Cars of a weighed day ÷ cars that were expected."""
AFTERNOON_S = 15.5 * 3600.0
BUSIEST_S = 12.5 * 3600.0
"""When the strip at the damp limit is weighed where cars don't come out damp before."""
DAMP_CARS = 3
"""So many damp cars make a crew say that cars begin to come out damp."""
LOOKS = tuple(Weighing(HOODS, DAY, at_s, 0.0, 0.0, cars=CARS_LOOKED_AT) for at_s in GRID_S)
"""Looks at the last hoods before each of these times."""
KNOWN = frozenset({"conveyor_speed_m_s"})
PRICED = 1_024
"""Drawn sites whose costs are worked out, which takes half as long as the rest."""
DAYS = 2
"""Days over which damp cars are counted, the same ones at every site."""
OPENING_KG_KG = 0.6
"""Every day opens with cloth that holds so much water."""
DRY_KG = 0.1

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
"""A busy summer day, as it is expected."""

FULL = parse_rule("full")
RULES = tuple(
    parse_rule(text)
    for text in (
        "full", "reduced", "clock 11:00-16:00", "clock 13:00-18:00", "clock 10:00-18:00",
        "band 70-60", "band 60-50", "band 50-40", "band 40-30", "band 30-25",
    )
)  # fmt: skip
"""Rules that a manager may choose from, always full first."""

Law = Literal["model", "power", "cliff", "drift"]
"""How the cloth takes water: as the model has it, or otherwise; or as it has it from films that
drift."""
DRIFT = 0.5
"""By so much of itself the film on arriving cars grows from opening to closing where it drifts."""
CLIFF = 0.5
"""Saturation above which the cloth of a cliff takes hardly anything."""


def power(moisture: float, film: float, area: float, kappa: float, holding: float,
          mass: float) -> tuple[float, float, float]:  # fmt: skip
    """Uptake falls with the square of the room left instead of in proportion to it."""
    return wipe_zone(moisture, film, area, kappa * (1.0 - min(1.0, moisture / holding)), holding,
                     mass)  # fmt: skip


def cliff(moisture: float, film: float, area: float, kappa: float, holding: float,
          mass: float) -> tuple[float, float, float]:  # fmt: skip
    """Uptake as good as that of dry cloth up to a saturation, a tenth of it above."""
    share = kappa if moisture < CLIFF * holding else 0.1 * kappa
    water = min(share * film * area, (holding - moisture) * mass)
    return moisture + water / mass, water, film - water / area


LAWS: dict[Law, Callable[..., tuple[float, float, float]]] = {"power": power, "cliff": cliff}


@dataclass(frozen=True, slots=True)
class Drawn:
    """Sites that judge.

    Attributes:
        strange: which of them are strange ones; shape (sites,).
        holding, limit: holding capacity and moisture at the damp limit [kg/kg]; (sites,).
        moistures, shares, washed: cloth [kg/kg], share of cars left damp, and cars washed until
            then, at each of `LEVELS` and times of `GRID_S`; shape (sites, levels, times).
        last: the same of the last cars before, as many as are looked at.
        allowed: water that may be left on a hood [kg]; (sites,).
        cloths: scalars of each one's cloth on the busy day.
        damp: share of damp cars of a day as expected when every car is wiped in full; (sites,).
        cost: of that day under each of `RULES`, of the first sites; (sites, rules).
    """

    strange: NDArray[np.bool_]
    holding: Floats
    limit: Floats
    moistures: Floats
    shares: Floats
    washed: Floats
    last: Floats
    allowed: Floats
    cloths: tuple[ClothNumbers, ...]
    damp: Floats
    cost: Floats

    @property
    def damp_before(self) -> Floats:
        """Cars left damp until each time, of the shape of `shares`: shares times cars washed."""
        cars = np.diff(self.washed, axis=2, prepend=0.0)
        earlier = np.concatenate([self.shares[:, :, :1], self.shares[:, :, :-1]], axis=2)
        return np.asarray(np.cumsum(cars * 0.5 * (self.shares + earlier), axis=2))


@dataclass(frozen=True, slots=True)
class Met:
    """A weighed day that a truth lived through.

    Attributes:
        left, is_damp: when each car left [s], rising, and whether it was damp; shape (cars,).
        moisture: of the cloth at times of `GRID_S` [kg/kg].
    """

    left: Floats
    is_damp: Floats
    moisture: Floats


@dataclass(frozen=True, slots=True)
class Truth:
    """A site that is weighed: with its holding capacity [kg/kg], share of damp cars, costs of
    `RULES` (none for another law than the model's), and weighed days by their name."""

    site: Site
    holding: float
    damp: float
    cost: Floats
    met: dict[str, Met]


def at_level(level: float) -> Conditions:
    """The busy day with another number of cars."""
    return replace(BUSY, arrivals_per_h=tuple(level * n for n in BUSY.arrivals_per_h))


def _without_luck(site: Site) -> Site:
    """The site on a day whose level is given."""
    return replace(site, pay=replace(site.pay, day_factor_cv=0.0))


def _planned(base: Site, site: Site, rules: tuple[Rule, ...] = RULES) -> tuple[float, Floats]:
    """Share of damp cars of the day as expected, and its cost under each rule."""
    day = prepare_day(site, BUSY)
    priced = replace(site, money=base.money)  # prices are the manager's, no strip tells them
    tables = make_tables(site, day)
    damp, cost = 0.0, np.zeros(len(rules))
    for number in range(DAYS):
        cars = make_cars(DayDraw(41, number), site, BUSY)
        rows = tallies(site, day, cars, rules, tables=tables)
        full = dict(zip(TALLY, rows[0].tolist(), strict=True))
        damp += full["damp_cars"] / max(1.0, full["cars_washed"]) / DAYS
        cost += costs_of(prices_of(priced, day), rows) / DAYS
    return damp, cost


Rows = tuple[float, float, Floats, Floats, Floats, Floats, float, ClothNumbers, float, Floats]


def _draw(base: Site, u: Floats, seed: int, known: frozenset[str], priced: int) -> list[Rows]:
    names, times = uncertain(base, known), np.array(GRID_S)
    found = []
    for number, row in enumerate(u):
        site = draw_site(base, names, row)
        day, still = prepare_day(site, BUSY), _without_luck(site)
        tables = make_tables(site, day)
        stream = DayDraw(seed, 0, number, WEIGHED_DAY)
        cloth, shares, washed, last = [], [], [], []
        for level in LEVELS:
            done = run(site, day, make_cars(stream, still, at_level(level)), FULL, tables=tables)
            cloth.append(moistures_at(done, day, GRID_S))
            washed.append(washed_until(done, GRID_S))
            shares.append(damp_share(site, tables, cloth[-1], times, washed[-1]))
            last.append(np.nan_to_num(last_damp(site, tables, done, LOOKS)))
        holding, (film, limit) = site.wheel.holding_capacity_kg_kg, damp_criterion(site)
        found.append((
            holding, limit * holding, np.array(cloth), np.array(shares), np.array(washed),
            np.array(last), film * site.reference.areas_m2[0], day.cloth,
            *_planned(base, site, RULES if number < priced else RULES[:1]),
        ))  # fmt: skip
    return found


def draw(
    base: Site, count: int, seed: int, known: frozenset[str] = KNOWN, priced: int = PRICED
) -> Drawn:
    """`count` drawn sites, a power of two, of which some are strange ones; of the first `priced`
    the costs are worked out."""
    names = len(uncertain(base, known))
    u = prior_points(names, count, seed)
    rows = _draw(base, u, seed, known, priced)
    holding, limit, cloth, shares, washed, last, allowed, cloths, damp, costs = zip(
        *rows, strict=True
    )
    return Drawn(
        are_strange(names, count, seed), np.array(holding), np.array(limit), np.array(cloth),
        np.array(shares), np.array(washed), np.array(last), np.array(allowed), cloths,
        np.array(damp), np.array(costs[:priced]),
    )  # fmt: skip


def world(count: int, priced: int = PRICED) -> Drawn:
    """Drawn sites that judge all truths, drawn once a run."""
    key = ("ensemble", count, min(count, priced))
    return kept(key, lambda: draw(BASE, count, seed("ensemble"), priced=priced))


def sites_of_world(count: int) -> list[tuple[Site, Floats]]:
    """These sites, each with the quantiles that it was drawn at."""
    names = uncertain(BASE, KNOWN)
    points = prior_points(len(names), count, seed("ensemble"))
    return [(draw_site(BASE, names, row), row) for row in points]


AS_EXPECTED, BUSIER, QUIETER = "as expected", "busier", "quieter"
CASES = {AS_EXPECTED: (1.0, 1.0), BUSIER: (1.2, 1.35), QUIETER: (0.65, 0.8)}
"""Level of a weighed day: of the day factor's own spread, or evenly within a range."""


def truths(
    base: Site, count: int, seed: int, cases: dict[str, tuple[float, float]], law: Law,
    known: frozenset[str] = KNOWN,
) -> list[Truth]:  # fmt: skip
    """`count` sites drawn from the priors, none of them strange, with their weighed days.

    Args:
        seed: of the weighed days; truths live through others than those who judge them.
        cases: levels of the weighed days, by name.
    """
    names = uncertain(base, known)
    # Sobol points come in powers of two
    u = sobol_points(len(names), 1 << (count - 1).bit_length(), 5, 1)[:count]
    found = []
    for number, row in enumerate(u):
        site = draw_site(base, names, row)
        met = {}
        for place, (name, (low, high)) in enumerate(cases.items()):
            stream = DayDraw(seed, place, number, WEIGHED_DAY)
            quantiles = stream.take("day", 1)
            quantile = float(quantiles[0])
            usual = float(demand_factors(quantiles, site.pay.day_factor_cv)[0])
            level = usual if low == high else low + (high - low) * quantile
            met[name] = _live(site, at_level(level), stream, law)
        if law == "model":
            damp, cost = _planned(base, site)
        else:
            damp, cost = _planned_by(site, law), np.empty(0)
        found.append(Truth(site, site.wheel.holding_capacity_kg_kg, damp, cost, met))
    return found


def true_sites(count: int, law: Law) -> list[Truth]:
    """Sites that are weighed; those of another law on days as expected alone."""
    cases = CASES if law == "model" else {AS_EXPECTED: CASES[AS_EXPECTED]}
    return kept(("truths", count, law), lambda: truths(BASE, count, seed("truths"), cases, law))


def _cars(stream: DayDraw, site: Site, conditions: Conditions, law: Law) -> DayCars:
    """The cars of a day whose level is given."""
    cars = make_cars(stream, _without_luck(site), conditions)
    if law != "drift":
        return cars
    opens_s, closes_s = 3600.0 * site.line.open_h, 3600.0 * site.line.close_h
    grown = 1.0 + DRIFT * (cars.arrival_s - opens_s) / (closes_s - opens_s)
    first, again = (
        replace(one, film_noise=one.film_noise * grown) for one in (cars.first, cars.again)
    )
    return replace(cars, first=first, again=again)


def _live(site: Site, conditions: Conditions, stream: DayDraw, law: Law) -> Met:
    """A weighed day at a true site: compiled, or, under another law, car by car."""
    day = prepare_day(site, conditions)
    cars = _cars(stream, site, conditions, law)
    if law not in LAWS:
        done = run(site, day, cars, FULL, tables=make_tables(site, day))
        count = int(done.flow.rows.counts[r.ROWS])
        left, damp = done.flow.rows.times[:count, r.EXIT], done.wiped.marks[:count, r.DAMP]
        order = np.argsort(left)[: int(np.isfinite(left).sum())]
        return Met(left[order], damp[order].astype(float), moistures_at(done, day, GRID_S))
    passes = _passes(site, until(conditions, GRID_S[-1]), stream, law)
    left = np.array([one[0] for one in passes])
    held = np.array([OPENING_KG_KG, *(one[2] for one in passes)])
    # cars follow closely on a busy day: the cloth hardly changes between two of them
    moisture = held[np.searchsorted(left, GRID_S, side="right")]
    return Met(left, np.array([float(one[1]) for one in passes]), moisture)


def _passes(
    site: Site, conditions: Conditions, stream: DayDraw, law: Law
) -> list[tuple[float, bool, float]]:
    """Exit [s], damp or not and the cloth afterwards of each car of a day under another law."""
    cars = _cars(stream, site, conditions, law)
    with patch.object(wheel_cloth, "wipe_zone", LAWS.get(law, wipe_zone)):
        done = simulate_day(site, prepare_day(site, conditions), cars, FULL)
    washed = [(one.exit_s, one.damp, one.moisture_after) for one in done.passes if not one.lost]
    return sorted(washed)


def _planned_by(site: Site, law: Law) -> float:
    """Share of damp cars of the day as expected, under another law."""
    damp = 0.0
    for number in range(DAYS):
        stream = DayDraw(41, number)
        factor = float(demand_factors(stream.take("day", 1), site.pay.day_factor_cv)[0])
        passes = _passes(site, at_level(factor), stream, law)
        damp += sum(one[1] for one in passes) / max(1, len(passes)) / DAYS
    return damp


def weighing(kind: str, moisture: float, at_s: float = 0.0, damp_cars: int = 0,
             so_far: int = 0) -> Weighing:  # fmt: skip
    """A strip that holds so much water; one from the wheel with its cars."""
    cars = 0 if kind == SOAKED else CARS_LOOKED_AT
    weight = DRY_KG * (1.0 + moisture)
    return Weighing(kind, DAY, at_s, weight, DRY_KG, "full", cars, damp_cars, so_far)


Scale = Callable[[float], float]
"""What a scale shows of a weight [kg]."""


def as_believed(rng: np.random.Generator) -> Scale:
    """A scale with as much of a bias as is believed of one."""
    bias = prior_quantile(BASE, "scale_bias", rng.random())
    return lambda kg: (1.0 + bias) * kg


def weigh(base: Site, truth: Truth, met: Met, rng: np.random.Generator, strips: int,
          with_cars: bool, scale: Scale | None) -> list[Weighing]:  # fmt: skip
    """The three weighings of a truth, with errors, in the order of `WEIGHINGS`.

    The crew weighs at the moment when it has seen `DAMP_CARS` damp cars, and looks at the cars
    that leave next: those of the truth's own day, not cars by the formula that judges them. Without
    a scale given it is one as it is believed to be.
    """
    seen = met.left[met.is_damp > 0.0]
    first = seen[DAMP_CARS - 1] if len(seen) >= DAMP_CARS else BUSIEST_S
    found = []
    errors = iter(rng.standard_normal((3, strips)))
    soaked = truth.holding * np.exp(base.wheel.weigh_in_log_sd * next(errors))
    found += [weighing(SOAKED, float(x)) for x in soaked]
    for kind, at in ((DAMP, min(max(first, GRID_S[0]), BUSIEST_S)), (AFTERNOON, AFTERNOON_S)):
        held = float(np.interp(at, GRID_S, met.moisture))
        done = int(np.searchsorted(met.left, at, side="right"))
        after = met.is_damp[done:][:CARS_LOOKED_AT]
        for x in held * np.exp(base.wheel.strip_log_sd * next(errors)):
            one = weighing(kind, float(x), at, int(after.sum()), done)
            found.append(one if with_cars else replace(one, cars=0, damp_cars=0))
    shows = as_believed(rng) if scale is None else scale
    return [replace(one, weight_kg=shows(one.weight_kg)) for one in found]


def look(drawn: Drawn, items: list[Weighing], levels: Floats | None) -> PredictedWeighings:
    """What drawn sites would weigh and see at the times of some weighings.

    Args:
        levels: of the day, a drawn site each; None where the cars so far tell them.
    """
    moistures: list[Floats] = [drawn.holding, drawn.limit]
    damp: list[Floats] = []
    sum_before: list[Floats] = []
    size, rows = len(LEVELS), np.arange(len(drawn.holding))
    for item in items:
        place = float(np.interp(item.at_s, GRID_S, np.arange(len(GRID_S))))
        low = min(int(place), len(GRID_S) - 2)
        part = place - low

        def then(values: Floats, low: int = low, part: float = part) -> Floats:
            return np.asarray((1.0 - part) * values[:, :, low] + part * values[:, :, low + 1])

        if levels is None:
            steps = then(drawn.washed)
            wanted = np.full(len(rows), float(item.cars_so_far))
        else:
            steps, wanted = np.tile(LEVELS, (len(rows), 1)), levels
        above = np.clip((steps < wanted[:, None]).sum(axis=1), 1, size - 1)
        before, after = steps[rows, above - 1], steps[rows, above]
        share = np.clip((wanted - before) / np.maximum(after - before, 1e-9), 0.0, 1.0)
        for values, into in (
            (drawn.moistures, moistures),
            (drawn.last if item.kind == HOODS else drawn.shares, damp),
            (drawn.damp_before, sum_before),
        ):
            of_time = then(values)
            into.append((1.0 - share) * of_time[rows, above - 1] + share * of_time[rows, above])
    return PredictedWeighings(
        np.column_stack(moistures), np.column_stack(damp), np.column_stack(sum_before)
    )


@dataclass(frozen=True, slots=True)
class Judged:
    """What came out, a row a truth.

    Attributes:
        before: width of the 90 % interval of the share of damp cars before weighing.
        low, high, middle: 5th and 95th percentile and mean of it after.
        damp: the truth's.
        effective: effective number of drawn sites.
        strange: probability of a strange site.
        counted, expected, now: share of damp cars among those looked at, as they were counted, and
            as usual sites and those weighted by the weighings would have it.
        planned: mean share of damp cars of a plan before weighing.
        regrets: cost of the rule chosen less that of the best one, before and after weighing;
            shape (2, truths); none for a law that is not the model's.
    """

    before: float
    low: Floats
    high: Floats
    middle: Floats
    damp: Floats
    effective: Floats
    strange: Floats
    counted: Floats
    expected: Floats
    now: Floats
    planned: float
    regrets: Floats

    def covered_to(self, slack: float) -> NDArray[np.bool_]:
        """Truths inside their interval, or off it by no more than a share of cars."""
        return (self.low - slack <= self.damp) & (self.damp <= self.high + slack)

    @property
    def covered(self) -> NDArray[np.bool_]:
        """Truths inside their interval."""
        return self.covered_to(0.0)

    @property
    def warned(self) -> NDArray[np.bool_]:
        """Truths whose weighings are said not to fit the model."""
        return self.strange > DOUBTFUL

    @property
    def bias(self) -> float:
        """Mean of what is believed less the truth [share of cars]."""
        return float((self.middle - self.damp).mean())

    @property
    def narrowed(self) -> float:
        """Mean width after ÷ width before."""
        return float((self.high - self.low).mean()) / self.before

    def regret_left(self, rng: np.random.Generator) -> tuple[float, float, float]:
        """Total regret after ÷ before, and its 95 % interval by resampling truths (Efron 1979,
        Annals of Statistics 7:1–26, percentiles, from memory)."""
        count = len(self.damp)
        picks = rng.integers(count, size=(2_000, count))
        sums = self.regrets[:, picks].sum(axis=2)
        low, high = np.quantile(sums[1] / np.maximum(sums[0], 1e-12), [0.025, 0.975])
        total = self.regrets.sum(axis=1)
        return float(total[1] / total[0]), float(low), float(high)


def judge(
    base: Site, drawn: Drawn, some: list[Truth], rng: np.random.Generator, case: str = AS_EXPECTED,
    strips: int = 1, with_cars: bool = True, so_far: bool = True, scale: Scale | None = None,
) -> Judged:  # fmt: skip
    """Weigh every truth, with errors, and see what drawn sites then say of its damp cars.

    Args:
        case: the name of the weighed day.
        strips: strips weighed at each of the three occasions.
        with_cars: whether the cars after each strip from the wheel are looked at.
        so_far: whether the cars washed so far are noted with each strip from the wheel.
        scale: what the scale shows; None for one as it is believed to be.
    """
    usual = np.flatnonzero(~drawn.strange)
    even = np.where(drawn.strange, 0.0, 1.0 / len(usual))
    low, high = interval(drawn.damp, even)
    priced = len(drawn.cost)
    unweighed = int(np.argmin(even[:priced] @ drawn.cost))
    cv = guessed_cv(base.pay.day_factor_cv)
    rows, regrets = [], []
    for truth in some:
        found = weigh(base, truth, truth.met[case], rng, strips, with_cars, scale)
        items = found[strips:]
        levels = None
        if not so_far:
            levels = demand_factors(rng.random(len(even)), cv)
        looked = look(drawn, items, levels)
        day = WeighedDay(tuple(items), BUSY, None)
        log = log_likelihood(base, looked, found[:strips], [day], drawn.strange)
        came = weights_of(log, drawn.strange)
        one_low, one_high = interval(drawn.damp, came.weights)
        share = looked.damp.mean(axis=1)
        seen = sum(w.damp_cars for w in items) / max(1, sum(w.cars for w in items))
        rows.append([
            one_low, one_high, came.weights @ drawn.damp, truth.damp, came.effective, came.strange,
            seen, even @ share, came.weights @ share,
        ])  # fmt: skip
        if len(truth.cost):
            weighed = int(np.argmin(came.weights[:priced] @ drawn.cost))
            regrets.append(truth.cost[[unweighed, weighed]] - truth.cost.min())
    lows, highs, middle, damp, effective, strange, counted, expected, now = np.array(rows).T
    return Judged(
        high - low, lows, highs, middle, damp, effective, strange, counted, expected, now,
        float(even @ drawn.damp), np.array(regrets).T,
    )  # fmt: skip


def interval(values: Floats, weights: Floats) -> tuple[float, float]:
    """The middle 90 % of weighted values."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = np.interp([0.05, 0.95], sums, values[order])
    return float(low), float(high)
