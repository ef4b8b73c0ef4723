"""What each measurement would be worth for a day's advice, before anybody makes it.

Preposterior analysis (Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, from memory):
sites are drawn from what is believed now. Each in turn is taken to be the true one. It lives a day
of its own, the measurement is made there with errors as large as the site's inputs have them, and
the others are weighted by how well they explain it (`sim.learn.weigh_in`), the true one itself
left out. The rule that then has the least expected loss is held against the rule that has it now,
both at the true site; the mean of what that saves is what the measurement is worth.

The loss of a rule at a site is what its day costs, at the site's own prices. Where the wish is for
few cars leaving damp, each one above the allowed share counts as a ticket besides, a guess. Rules
are a few (`coarse_rules`): a finer search would gain a little more from the same knowledge.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.checks import site_kappa, site_median_film
from sim.day.blocks import MOST_POINTS
from sim.day.draw import DayDraw
from sim.day.drawn import prior_quantile
from sim.day.engine import PreparedDay, parallel_map
from sim.day.figures import prices_of
from sim.day.kernel import Run
from sim.day.kernel import tables as r
from sim.day.rules import FULL, Rule
from sim.day.setup import ClothNumbers, damp_criterion
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import column
from sim.decide.switching.question import SwitchQuestion, costs_of
from sim.inputs import (
    CALL_BACK,
    CARS_LOOKED_AT,
    DAMP,
    HOODS,
    LET_PASS,
    MEASURED,
    SOAKED,
    SPIN,
    TOWEL,
    Conditions,
    Site,
    Weighing,
)
from sim.learn.answer import MeasurementWorth
from sim.learn.spin import NODES, SpinTest, followed
from sim.learn.weigh_in import TOO_FEW, log_likelihood, weigh
from sim.learn.weighed_day import (
    LEAST_MOISTURE,
    PredictedWeighings,
    WeighedDay,
    damp_share,
    moistures_at,
    shown,
)
from sim.physics.water_film import film_sigma

Floats = NDArray[np.float64]
SITES, TRUTHS, DAYS = 384, 128, 2
"""Sites drawn, how many of them are taken to be the true one, and days by which rules are judged;
multiples of the points of a block."""
FEW_LEFT = TOO_FEW / SITES
"""Weights are evened out until they leave this share of the others: of a few sites they can't leave
as many as of many."""
STREAM = 29
MEASURED_DAY = 1_000_011
"""Index of the draws of measured days, which no day of a plan has."""
BEGIN_DAMP = 3
"""So many damp cars make a crew say that cars begin to come out damp."""
QUARTER_S = 900.0
SPIN_S = 600.0
DRY_KG, TOWEL_KG = 0.1, 0.3
"""Dry weights of strip and towel; only what they hold for their weight matters [kg]."""
OF_EACH, MOST_HOODS = 5, 200
"""Hoods that are dried of each verdict, and cars after which a crew gives up."""
SOME_DAY = date(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class LookedAt:
    """Drawn sites as far as measurements and decisions see them, a row a site.

    Attributes:
        sites: each without doubt.
        u: quantiles that each was drawn at; equal ones are one site.
        loss, damp: of each rule [$ a day] and cars leaving damp a day; shape (sites, rules).
        holding, limit, allowed: see `PredictedWeighings`; shape (sites,).
        moistures, shares, last, before: cloth [kg/kg], share of cars left damp, that of the last
            `CARS_LOOKED_AT`, and cars left damp until then, at times of a grid; (sites, times).
        left, was_damp: of the cars of the measured day, by time; one array a site.
        cloths: scalars of each one's cloth on the day.
    """

    sites: tuple[Site, ...]
    u: Floats
    loss: Floats
    damp: Floats
    holding: Floats
    limit: Floats
    allowed: Floats
    moistures: Floats
    shares: Floats
    last: Floats
    before: Floats
    left: tuple[Floats, ...]
    was_damp: tuple[Floats, ...]
    cloths: tuple[ClothNumbers, ...]


def worth_of_measuring(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    *,
    sites: int = SITES,
    truths: int = TRUTHS,
    kinds: Sequence[str] = MEASURED,
) -> tuple[MeasurementWorth, ...]:
    """What each kind of measurement would be worth, the one worth most first.

    Args:
        progress: told how many sites were looked at, of all to be looked at twice over.
        sites, truths: sites drawn, and of these taken to be true; see `SITES`.
    """
    if not question.drawn:
        return ()
    rules = tuple(dict.fromkeys((question.rules[0], *coarse_rules(question.site))))
    total = sites + truths
    looked = look_at_all(question, rules, sites, executor, lambda n: progress(n, total))
    return worth_among(
        question, looked, truths, kinds, executor, lambda n: progress(sites + n, total)
    )


def worth_among(
    question: SwitchQuestion,
    looked: LookedAt,
    truths: int,
    kinds: Sequence[str],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> tuple[MeasurementWorth, ...]:
    """The same among sites that were looked at, the first `truths` of them taken to be true."""
    jobs = [(question, looked, truth, tuple(kinds)) for truth in range(truths)]
    rows = parallel_map(_of_truth, jobs, executor, told)
    saved, fewer, other = np.moveaxis(np.array(list(rows)), 2, 0)
    found = [
        MeasurementWorth(
            kind,
            float(saved[:, at].mean()),
            1.96 * float(saved[:, at].std(ddof=1)) / math.sqrt(truths),
            float(fewer[:, at].mean()),
            float(other[:, at].mean()),
        )
        for at, kind in enumerate(kinds)
    ]
    return tuple(sorted(found, key=lambda one: -one.money))


# ---- sites ---------------------------------------------------------------------------------------


def times_of(site: Site) -> Floats:
    """Quarter hours at which the cloth is looked at, while the wash is open [s]."""
    opens, closes = site.line.open_h * 3600.0, site.line.close_h * 3600.0
    return np.arange(opens + QUARTER_S, closes + 1.0, QUARTER_S)


def busy_s(site: Site, conditions: Conditions) -> float:
    """When a busy strip is weighed: the end of the busiest three hours of the day [s]."""
    hours = [h for h in range(24) if site.line.open_h <= h < site.line.close_h]
    cars = conditions.arrivals_per_h
    sums = {h + 1: sum(cars[max(0, h - 2) : h + 1]) for h in hours}
    return min(max(sums, key=lambda h: sums[h]) * 3600.0, site.line.close_h * 3600.0 - 60.0)


Piece = tuple[SwitchQuestion, tuple[Rule, ...], int, int]
Row = tuple[
    Site, Floats, Floats, Floats, Floats, Floats, Floats, Floats, Floats, Floats, ClothNumbers
]


def look_at_all(
    question: SwitchQuestion, rules: tuple[Rule, ...], sites: int, executor: Executor | None,
    told: Callable[[int], None],
) -> LookedAt:  # fmt: skip
    """So many drawn sites, looked at side by side."""
    pieces = [(question, rules, *divmod(number, MOST_POINTS)) for number in range(sites)]
    return looked_at(list(parallel_map(_look, pieces, executor, told)))


def looked_at(rows: Sequence[Row]) -> LookedAt:
    """Drawn sites of which each was looked at."""
    (drawn, u, loss, damp, moistures, shares, last, before, left, was_damp,
     cloths) = zip(*rows, strict=True)  # fmt: skip
    criteria = np.array([damp_criterion(site) for site in drawn])
    holding = np.array([site.wheel.holding_capacity_kg_kg for site in drawn])
    hoods = np.array([site.reference.areas_m2[0] for site in drawn])
    return LookedAt(
        drawn, np.array(u), np.array(loss), np.array(damp), holding, criteria[:, 1] * holding,
        criteria[:, 0] * hoods, np.array(moistures), np.array(shares), np.array(last),
        np.array(before), left, was_damp, cloths,
    )  # fmt: skip


def _look(piece: Piece) -> Row:
    question, rules, block, point = piece
    experiment = question.experiment
    u = experiment.points(block, point + 1)[point]
    prepared = experiment.at(block, point).prepare()
    return look_at(question, rules, prepared, u, block * MOST_POINTS + point)


def look_at(
    question: SwitchQuestion, rules: tuple[Rule, ...], prepared: PreparedDay, u: Floats, number: int
) -> Row:
    """A drawn site: what rules cost there, and its measured day, wiped in full.

    Args:
        u: quantiles that it was drawn at.
        number: of the site, which has a measured day of its own.
    """
    site, sets = prepared.site, prepared.sets(question.cloth)
    prices = prices_of(replace(site, money=question.site.money), prepared.numbers)
    loss, damp = np.zeros(len(rules)), np.zeros(len(rules))
    for day in range(DAYS):
        found = prepared.replication(DayDraw(question.seed, day, STREAM)).tallies(rules, sets)
        left_damp, washed = (column(found, name) for name in ("left_damp", "cars_washed"))
        loss += costs_of(prices, found) / DAYS
        damp += left_damp / DAYS
        if question.wish.kind != "cost":
            over = np.maximum(0.0, left_damp - question.wish.allowed_damp_share * washed)
            loss += question.site.money.price_per_car * over / DAYS
    lived = measured_day(question, prepared, number)
    return (site, u, loss, damp, *lived, prepared.numbers.cloth)


Lived = tuple[Floats, Floats, Floats, Floats, Floats, Floats]


def measured_day(question: SwitchQuestion, prepared: PreparedDay, number: int) -> Lived:
    """What can be measured of a drawn site on a day of its own, wiped in full: `moistures` to
    `was_damp` of `LookedAt`."""
    site = prepared.site
    done = prepared.replication(DayDraw(question.seed, number, MEASURED_DAY)).run(FULL)
    times = times_of(site)
    left, marks, after = _cars(done)
    share = damp_share(site, prepared.tables, after, left, np.arange(float(len(left))))
    so_many = np.searchsorted(left, times, side="right")
    sums = np.concatenate([[0.0], np.cumsum(share)])
    first = np.maximum(0, so_many - CARS_LOOKED_AT)
    last = (sums[so_many] - sums[first]) / np.maximum(1, so_many - first)
    cloth = moistures_at(done, prepared.numbers, times.tolist())
    now = damp_share(site, prepared.tables, cloth, times, so_many.astype(float))
    return cloth, now, last, sums[so_many], left, marks


def _cars(done: Run) -> tuple[Floats, Floats, Floats]:
    """When each car left the wheel [s], rising, whether it was damp then, and the cloth's moisture
    after it [kg/kg]."""
    rows = done.flow.rows
    count = int(rows.counts[r.ROWS])
    left = rows.times[:count, r.EXIT]
    order = np.argsort(left)[: int(np.isfinite(left).sum())]
    marks = done.wiped.marks[:count, r.DAMP].astype(float)
    return left[order], marks[order], done.wiped.moisture[:count, r.AFTER][order]


# ---- one of them is the true one -----------------------------------------------------------------

Job = tuple[SwitchQuestion, LookedAt, int, tuple[str, ...]]


def _of_truth(job: Job) -> list[tuple[float, float, float]]:
    """What each measurement would save at a true site [$ a day], by how many more cars would leave
    damp a day, and whether it would change the rule."""
    question, looked, truth, kinds = job
    stream = Generator(PCG64(SeedSequence([question.seed, STREAM, truth])))
    others = ~np.all(looked.u == looked.u[truth], axis=1)
    loss = looked.loss[others]
    now = int(np.argmin(loss.mean(axis=0)))
    found = []
    for kind in kinds:
        log = likelihood_of(question, looked, truth, kind, stream)[others]
        weights = weigh(log, np.zeros(len(log), bool), FEW_LEFT * len(log)).weights
        then = int(np.argmin(weights @ loss))
        saved = looked.loss[truth, now] - looked.loss[truth, then]
        more = looked.damp[truth, then] - looked.damp[truth, now]
        found.append((float(saved), float(more), float(then != now)))
    return found


def likelihood_of(
    question: SwitchQuestion, looked: LookedAt, truth: int, kind: str, stream: Generator,
    at_s: float | None = None,
) -> Floats:  # fmt: skip
    """Log-likelihood of every drawn site, after a measurement was made at one of them with errors
    of `stream`; shape (sites,).

    Args:
        at_s: when hoods or a strip are looked at; None for when it is busy.
    """
    base, known = question.site, question.known or frozenset()
    at_s = busy_s(base, question.conditions) if at_s is None else at_s
    cars = np.empty((len(looked.sites), 0))
    seen = PredictedWeighings(
        np.column_stack([looked.holding, looked.limit]), cars, cars, looked.allowed
    )
    if kind == SOAKED:
        error = math.exp(base.wheel.weigh_in_log_sd * stream.standard_normal())
        held = float(shown(looked.holding[truth], _bias(question, stream))) * error
        return log_likelihood(base, seen, [_strip(SOAKED, held)], [], known=known)
    if kind == TOWEL:
        towels = _towels(base, looked, truth, at_s, stream)
        return log_likelihood(base, seen, towels, [], known=known)
    if kind == SPIN:
        return _spun(question, looked, truth, seen, stream)
    left, was_damp = looked.left[truth], looked.was_damp[truth]
    if kind == DAMP:
        times = left[was_damp > 0.0]
        at_s = min(at_s, float(times[BEGIN_DAMP - 1]) if len(times) >= BEGIN_DAMP else at_s)
    gone = int(np.searchsorted(left, at_s, side="right"))
    before = slice(max(0, gone - CARS_LOOKED_AT), gone)
    some = was_damp[before if kind == HOODS else slice(gone, gone + CARS_LOOKED_AT)]
    error = math.exp(base.wheel.strip_log_sd * stream.standard_normal())
    held = _at(looked.moistures[truth : truth + 1], base, at_s)[0]
    held = float(shown(held, _bias(question, stream))) * error
    item = replace(_strip(kind, held, at_s), cars=len(some), damp_cars=int(some.sum()))
    shares = looked.last if kind == HOODS else looked.shares
    damp, before_s = (_at(values, base, at_s)[:, None] for values in (shares, looked.before))
    cloth = np.column_stack([seen.moistures, _at(looked.moistures, base, at_s)])
    day = WeighedDay((item,), question.conditions, None)
    return log_likelihood(base, PredictedWeighings(cloth, damp, before_s), [], [day], known=known)


def _bias(question: SwitchQuestion, stream: Generator) -> float:
    """Bias of the scale, as it may be."""
    values = question.scale_biases
    return values[int(stream.integers(len(values)))]


def _strip(kind: str, moisture: float, at_s: float = 0.0) -> Weighing:
    weight = 0.0 if kind == HOODS else DRY_KG * (1.0 + moisture)
    return Weighing(kind, SOME_DAY, at_s, weight, 0.0 if kind == HOODS else DRY_KG)


def _at(values: Floats, site: Site, at_s: float) -> Floats:
    """Values at a time between those of the grid; shape (sites,)."""
    times = times_of(site)
    place = float(np.interp(at_s, times, np.arange(len(times))))
    low = min(int(place), len(times) - 2)
    part = place - low
    return np.maximum(LEAST_MOISTURE, (1.0 - part) * values[:, low] + part * values[:, low + 1])


def _towels(
    base: Site, looked: LookedAt, truth: int, at_s: float, stream: Generator
) -> list[Weighing]:
    """Hoods of a true site, as its wheel leaves them at a busy time, judged and dried."""
    site = looked.sites[truth]
    wet = _at(looked.moistures[truth : truth + 1], base, at_s)[0] / looked.holding[truth]
    left = site_median_film(site) * (1.0 - site_kappa(site) * (1.0 - min(1.0, wet)))
    sigma = max(film_sigma(site.water.film_cv), 1e-6)
    water = math.log(max(left, 1e-6) * site.reference.areas_m2[0])
    hoods = water + sigma * stream.standard_normal(MOST_HOODS)
    scatter, takes = (
        prior_quantile(base, name, float(stream.uniform(0.02, 0.98)))
        for name in ("crew_damp_log_sd", "towel_takes")
    )
    looks = hoods + scatter * stream.standard_normal(MOST_HOODS)
    back = looks > math.log(looked.allowed[truth])
    shown = hoods + math.log(takes)
    shown = np.exp(shown + base.wheel.towel_log_sd * stream.standard_normal(MOST_HOODS))
    picked = [np.flatnonzero(one)[:OF_EACH] for one in (back, ~back)]
    whole = all(len(one) == OF_EACH for one in picked)
    until = max(int(one[-1]) for one in picked) + 1 if whole else MOST_HOODS
    item = Weighing(TOWEL, SOME_DAY, 0.0, 0.0, TOWEL_KG)
    called = int(back[:until].sum())
    return [
        replace(
            item, weight_kg=TOWEL_KG + float(shown[place]), verdict=verdict, cars=until,
            damp_cars=called,
        )
        for places, verdict in zip(picked, (CALL_BACK, LET_PASS), strict=True)
        for place in places
    ]  # fmt: skip


def _spun(
    question: SwitchQuestion, looked: LookedAt, truth: int, seen: PredictedWeighings,
    stream: Generator,
) -> Floats:  # fmt: skip
    """A soaked strip before and after ten minutes of idling, after closing."""
    base, sd = question.site, question.site.wheel.weigh_in_log_sd
    errors, bias = np.exp(sd * stream.standard_normal(2)), _bias(question, stream)
    at_s = min(base.line.close_h * 3600.0, 86_400.0 - SPIN_S)
    blank = Weighing(SPIN, SOME_DAY, at_s, 0.0, DRY_KG, after_kg=DRY_KG, spun_s=SPIN_S)
    true = SpinTest((replace(blank, weight_kg=DRY_KG * (1.0 + looked.holding[truth])),),
                    question.conditions)  # fmt: skip
    after = float(followed([looked.cloths[truth]], [true], sd)[0, NODES // 2])
    item = replace(
        blank,
        weight_kg=DRY_KG * (1.0 + float(shown(looked.holding[truth], bias)) * errors[0]),
        after_kg=DRY_KG * (1.0 + float(shown(after, bias)) * errors[1]),
    )
    test = SpinTest((item,), question.conditions)
    rows = np.stack([followed([cloth], [test], sd) for cloth in looked.cloths])
    known = question.known or frozenset()
    return log_likelihood(base, replace(seen, spun=rows), [], [], spins=[test], known=known)
