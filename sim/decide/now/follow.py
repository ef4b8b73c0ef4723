"""A day that has begun, followed by drawn sites: which of them are still likely, and what comes.

Every drawn site lives through the day so far as it really was wiped, its arrivals scaled until it
has washed as many cars as were counted, and is weighted by how well it explains what was seen:

- damp ones among the last hoods: binomial about the share of those very cars that it leaves damp;
- strips from the wheel: lognormal about their cloth, with the weighings' own errors, all by one
  scale, which may be biased;
- cars that drove away: gamma-mixed Poisson (negative binomial) about those that it lost;
- the cars washed so far, where its line could not have washed so many.

One day in so many (`STRANGE`) is believed to be one that the model does not hold for: there the
share of damp cars is beta about that of the model and errors are wider, so that what was seen still
moves the answer, but less. Weights that leave too few sites are evened out (`sim.learn.weigh_in`).

How many cars are still to come: demand of the day is gamma about what was expected, the cars so far
are as a Poisson count of it, so that demand is gamma again (conjugate; any textbook of Bayesian
statistics, from memory). Each hour's own luck makes the count tell less.

Air, people and a belt that stands are as they were noted (`sim.decide.now.rest`). Every site lives
through the hours so far; those to which the weights lead (systematic resampling)
live through the rest under every course.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.draw import (
    DayCars,
    DayDraw,
    arrival_times,
    demand_factors,
    hour_factors,
    make_cars,
    with_other_arrivals,
)
from sim.day.engine import AS_IT_IS, DrawnSite, PreparedDay, Replication
from sim.day.kernel import Run
from sim.day.kernel import tables as r
from sim.day.rules import HOODS_SEEN, Rule, SetChange, parse_changes
from sim.decide.now.rest import as_noted
from sim.decide.now.so_far import DAY_END_S, Looked, SoFar
from sim.decide.switching.question import SwitchQuestion, read_outcomes, search_draws
from sim.inputs import Conditions, DemandSpread, Site
from sim.learn.weigh_in import (
    BETA_SIZE,
    MISJUDGED,
    STRANGE,
    WIDER_ERRORS,
    Weights,
    averaged,
    systematic,
    weigh,
)
from sim.learn.weighed_day import (
    FASTEST,
    LEAST_MOISTURE,
    SLOWEST,
    better_factors,
    cars_until,
    each_damp,
    moistures_at,
    shown,
    until,
    washed_until,
)
from sim.special import betaln, gammaln, xlog1py, xlogy

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FOLLOWED, MOST_FOLLOWED, CARRIED = 96, 144, 40
"""Drawn sites that live through the hours so far, at first and at most; draws that live through the
rest."""
ENOUGH = 24.0
"""Effective number from which on no more sites are followed."""
FEW = 12.0
"""Weights that leave a lower effective number are evened out until they leave as many."""
TURNED_SIZE, TURNED_SIZE_ODD = 4.0, 1.0
"""Shape of the gamma by which cars that drive away differ from the model, on a usual and on a
strange day: a crew doesn't see every one; a guess."""
COUNT_OFF, LEAST_OFF = 0.03, 2.0
"""A crew's count of cars is off by so much, as a share and in cars at least; a guess."""
FITS, NEARER = 3, 0.95
"""How often the hours so far are lived, at most, until as many cars were washed as were counted; to
what share of it a further time must bring the largest gap, as a full line washes no more."""
ROOM = 1.5
"""So many times the cars expected are made of each site once; a day with more has its own."""
RESAMPLED = 21
"""Index of the stream of the resampling."""


@dataclass(frozen=True, slots=True)
class Past:
    """The hours so far at every followed site; a row or value a site.

    Attributes:
        weights: of the sites by what was seen.
        factors: on the arrivals before each count and after the last one; shape (sites, counts+1).
        damp_share: of the last hoods before now.
        left_damp, washed: cars that left damp, and cars washed, until now.
        scale: cars counted beside those expected until then; None without a count.
        logs: of the likelihood of what was seen, on a usual and on a strange day, and of both
            together; shape (3, sites).
    """

    weights: Weights
    factors: Floats
    damp_share: Floats
    left_damp: Floats
    washed: Floats
    scale: float | None
    logs: Floats

    def by_look(self, damp: int, of: int) -> tuple[Floats, float]:
        """Weights of the sites after one more look at the last hoods, and the probability of it."""
        usual, odd, both = self.logs
        further = _of_both(
            usual + log_of_hoods(damp, of, self.damp_share),
            odd + log_of_hoods_odd(damp, of, self.damp_share),
        )
        ways = gammaln(of + 1) - gammaln(damp + 1) - gammaln(of - damp + 1)
        chance = float(self.weights.weights @ np.exp(ways + further - both))
        return weigh(further, np.zeros(len(further), np.bool_), FEW).weights, chance

    def drawn(self, count: int, seed: int) -> tuple[Ints, Floats]:
        """Sites that are carried on, each once, and their weights, which sum to 1; where there are
        no more, all of them."""
        if count >= len(self.damp_share):
            return np.arange(len(self.damp_share)), self.weights.weights
        stream = Generator(PCG64(SeedSequence([seed, RESAMPLED])))
        picked = systematic(self.weights.weights, count, stream)
        places, often = np.unique(picked, return_counts=True)
        return places, often / count


@dataclass(frozen=True, slots=True)
class _Site:
    """A drawn site with its day: its morning, its standard variates, and the day as was expected.

    Attributes:
        drawn: it with all its mornings.
        luck: factor on demand of each hour, its own.
        exits: when each car left the wheel on the day as expected, rising [s].
        most: its cars, more of them than are to be expected, so that few are made anew.
    """

    drawn: DrawnSite
    prepared: PreparedDay
    expected: Conditions
    streams: DayDraw
    luck: Floats
    exits: Floats
    most: DayCars

    @property
    def day_cv(self) -> float:
        """How far demand of the whole day is off what was expected, as a coefficient."""
        spread, pay = self.prepared.conditions.spread, self.prepared.site.pay
        of_day = pay.day_factor_cv if spread.day_cv is None else spread.day_cv
        return math.hypot(of_day, spread.level_cv)

    @property
    def hour_cv(self) -> float:
        """The same of an hour's own factor."""
        of_hour = self.prepared.conditions.spread.hour_cv
        return self.prepared.site.pay.hour_factor_cv if of_hour is None else of_hour

    def day(self, conditions: Conditions) -> Replication:
        """The day with other cars."""
        site = self.prepared.site
        rates = np.array(conditions.arrivals_per_h) * self.luck
        arrival_s = arrival_times(self.streams, site, rates)
        if len(arrival_s) <= len(self.most.arrival_s):
            cars = with_other_arrivals(self.most, arrival_s)
        else:
            cars = make_cars(self.streams, site, conditions)
        return Replication(self.prepared, cars)

    def run(self, conditions: Conditions, rule: Rule, sets: tuple[SetChange, ...]) -> Run:
        """The same under a rule."""
        return self.day(conditions).run(rule, sets)


class Followed:
    """Drawn sites with a day each, made ready once; the same for every entry of the day.

    Args:
        question: the day's own, with what was believed in the morning.
        plan: the morning's rule.
    """

    def __init__(
        self,
        question: SwitchQuestion,
        plan: Rule,
        first: int = FOLLOWED,
        most: int = MOST_FOLLOWED,
        carried: int = CARRIED,
    ) -> None:
        self.question, self.plan, self.carried = question, plan, carried
        self.planned_sets = parse_changes(question.cloth, question.site.wear.sets_owned)
        self._biases = np.array(question.scale_biases)
        self._first, self._most = first, most
        self._sites = self._drawn(first, 0)
        self._noted, self._changed = AS_IT_IS, list[_Site]()

    def _drawn(self, count: int, begin: int) -> list[_Site]:
        """So many more sites, each on the day as it was expected."""
        experiment, found = self.question.experiment, list[_Site]()
        for draw in search_draws(self.question, count, begin):
            site = experiment.at(draw.block, draw.point)
            prepared = site.prepare()
            spread = DemandSpread(0.0, prepared.conditions.spread.hour_cv)
            expected = replace(prepared.conditions, spread=spread)
            streams = draw.streams()
            most = _most_cars(streams, prepared.site, expected)
            luck = hour_factors(streams, prepared.site, expected.spread)
            one = _Site(site, prepared, expected, streams, luck, np.empty(0), most)
            usual = one.run(expected, self.plan, self.planned_sets)
            found.append(replace(one, exits=_exits(usual)))
        return found

    def _as_noted(self, so_far: SoFar) -> list[_Site]:
        """The sites with what was noted of air, people and belt; kept for the entries to come."""
        noted = as_noted(self.question, so_far)
        if noted == AS_IT_IS:
            return self._sites
        if noted != self._noted:
            self._noted, self._changed = noted, []
        new = self._sites[len(self._changed) :]
        for one in new:
            prepared = one.drawn.prepare(noted)
            most = _most_cars(one.streams, prepared.site, one.expected)
            self._changed.append(replace(one, prepared=prepared, most=most))
        return self._changed

    @property
    def expected_per_h(self) -> tuple[float, ...]:
        """Cars expected in each clock hour."""
        return self.question.conditions.arrivals_per_h

    def past(self, so_far: SoFar, rule: Rule) -> Past:
        """The hours so far at every site.

        Args:
            rule: of the whole day, as it really was switched until now.
        """
        scale, lived = self._scale(so_far), list[_Lived]()
        overlaps = parts_of_hours([at for at, _ in so_far.washed])
        hours = _parts(self.expected_per_h, so_far.counted_s)
        of_hours = float((hours**2).sum()) / max(1.0, float(hours.sum())) ** 2
        while True:
            lived += [
                self._live(one, so_far, rule, scale, of_hours, overlaps)
                for one in self._as_noted(so_far)[len(lived) :]
            ]
            log = np.array([one.logs[2] for one in lived])
            weights = weigh(log, np.zeros(len(log), np.bool_), FEW)
            if weights.effective >= ENOUGH or len(lived) >= self._most:
                break
            if len(self._sites) == len(lived):  # they stay for the entries to come
                self._sites += self._drawn(min(self._first, self._most - len(lived)), len(lived))
        return Past(
            weights,
            np.array([one.factors for one in lived]),
            np.array([one.damp_share for one in lived]),
            np.array([one.left_damp for one in lived]),
            np.array([one.washed for one in lived]),
            scale,
            np.array([one.logs for one in lived]).T,
        )

    def outcomes(self, past: Past, places: Ints, so_far: SoFar, rules: Sequence[Rule]) -> Floats:
        """What becomes of the whole day under rules; shape (rules, places, OUTCOMES)."""
        overlaps = parts_of_hours([at for at, _ in so_far.washed])
        rows, sets, sites = [], so_far.sets(self.planned_sets), self._as_noted(so_far)
        for place in places.tolist():
            one = sites[place]
            conditions = with_cars_times(one.expected, overlaps, past.factors[place])
            rows.append(read_outcomes(one.day(conditions), tuple(rules), sets))
        return np.stack(rows, axis=1)

    def _scale(self, so_far: SoFar) -> float | None:
        """Cars counted beside those expected by then; None without a count."""
        if not so_far.washed:
            return None
        at, washed = so_far.washed[-1]
        usual = [np.searchsorted(one.exits, at, side="right") for one in self._sites[: self._first]]
        return washed / max(1.0, float(np.mean(usual)))

    def _live(
        self,
        one: _Site,
        so_far: SoFar,
        rule: Rule,
        scale: float | None,
        of_hours: float,
        overlaps: Floats,
    ) -> _Lived:
        rest = self._rest(one, so_far, scale, of_hours)
        sets = so_far.sets(self.planned_sets)
        return _live(one, so_far, rule, sets, rest, overlaps, self._biases)

    def _rest(self, one: _Site, so_far: SoFar, scale: float | None, of_hours: float) -> float:
        """Factor on the cars still to come, as its own luck and the cars so far have it."""
        cv, u = one.day_cv, float(one.streams.take("day", 1)[0])
        if scale is None:
            return float(demand_factors(np.array([u]), cv)[0])
        washed = so_far.washed[-1][1]
        count = 1.0 / (one.hour_cv**2 * of_hours + 1.0 / max(1, washed))
        mean, cv = demand_after(cv, count, max(scale, SLOWEST))
        return min(FASTEST, mean * float(demand_factors(np.array([u]), cv)[0]))


def demand_after(cv: float, count: float, scale: float) -> tuple[float, float]:
    """Mean and coefficient of variation of demand, gamma with mean 1 before, after a count.

    Args:
        cv: of demand before.
        count: the count tells as much as a Poisson count of so many cars.
        scale: cars counted beside those expected.
    """
    before = 1.0 / max(cv, 1e-6) ** 2
    shape, rate = before + count, before + count / scale
    return shape / rate, 1.0 / math.sqrt(shape)


def _parts(per_h: Sequence[float], at_s: float) -> Floats:
    """Cars expected until a time [s], hour by hour."""
    ends = [min(at_s, 3600.0 * (hour + 1)) for hour in range(24) if 3600.0 * hour < at_s]
    return np.diff([cars_until(per_h, end) for end in ends], prepend=0.0)


def parts_of_hours(times_s: Sequence[float]) -> Floats:
    """Share of each clock hour that lies before the first time, between two, after the last one;
    shape (24, times + 1)."""
    edges, hours = np.array([0.0, *times_s, DAY_END_S]) / 3600.0, np.arange(24.0)[:, None]
    begin, end = np.maximum(edges[:-1], hours), np.minimum(edges[1:], hours + 1.0)
    return np.asarray(np.maximum(end - begin, 0.0))


def with_cars_times(conditions: Conditions, overlaps: Floats, factors: Floats) -> Conditions:
    """The day with its cars multiplied, in each part by its own factor."""
    cars = np.array(conditions.arrivals_per_h) * (overlaps @ factors)
    return replace(conditions, arrivals_per_h=tuple(cars.tolist()))


def _most_cars(streams: DayDraw, site: Site, expected: Conditions) -> DayCars:
    cars = tuple(ROOM * cars for cars in expected.arrivals_per_h)
    return make_cars(streams, site, replace(expected, arrivals_per_h=cars))


def _exits(done: Run) -> Floats:
    rows = done.flow.rows
    return np.sort(rows.times[: int(rows.counts[r.ROWS]), r.EXIT])  # the lost, NaN, come last


@dataclass(frozen=True, slots=True)
class _Lived:
    """The hours so far at one site; see `Past`."""

    logs: tuple[float, float, float]
    factors: tuple[float, ...]
    damp_share: float
    left_damp: float
    washed: float


def _live(
    one: _Site,
    so_far: SoFar,
    rule: Rule,
    sets: tuple[SetChange, ...],
    rest: float,
    overlaps: Floats,
    biases: Floats,
) -> _Lived:
    times = [at for at, _ in so_far.washed]
    usual = np.searchsorted(one.exits, times, side="right").astype(float)
    wanted = np.array([float(cars) for _, cars in so_far.washed])
    factors = better_factors(np.ones(len(times)), wanted, usual)
    off_by, widest = np.maximum(LEAST_OFF, COUNT_OFF * wanted), math.inf
    for _ in range(FITS):
        past = with_cars_times(one.expected, overlaps, np.append(factors, rest))
        done = one.run(until(past, so_far.now_s), rule, sets)
        had = washed_until(done, times)
        gaps = np.abs(had - wanted)
        if np.all(gaps <= off_by) or gaps.max() > NEARER * widest:
            break
        factors, widest = better_factors(factors, wanted, had), float(gaps.max())
    now = so_far.now_s
    rows, marks = done.flow.rows, done.wiped.marks
    exits = rows.times[: int(rows.counts[r.ROWS]), r.EXIT]
    gone = np.flatnonzero(exits <= now)
    left, shares = each_damp(one.prepared.site, one.prepared.tables, done)
    damp_share = _mean_before(left, shares, Looked(now, 0, HOODS_SEEN))
    return _Lived(
        _log_likelihoods(one, so_far, done, left, shares, had, biases),
        (*factors.tolist(), rest),
        0.0 if math.isnan(damp_share) else damp_share,
        float((marks[gone, r.FATE] == r.LEAVES).sum()),
        float(len(gone)),
    )


def _mean_before(left: Floats, shares: Floats, look: Looked) -> float:
    """Mean share of damp ones among the last hoods before a look; NaN where none had passed."""
    end = int(np.searchsorted(left, look.at_s, side="right"))
    last = shares[max(0, end - look.of) : end]
    return float(last.sum()) / last.size if last.size else math.nan


# ---- how well a site explains what was seen ------------------------------------------------------


def _log_likelihoods(
    one: _Site,
    so_far: SoFar,
    done: Run,
    left: Floats,
    shares: Floats,
    had: Floats,
    biases: Floats,
) -> tuple[float, float, float]:
    usual = odd = 0.0
    if so_far.hoods:
        share = np.array([_mean_before(left, shares, look) for look in so_far.hoods])
        damp, of = np.array([(look.damp, look.of) for look in so_far.hoods]).T
        usual += float(np.nansum(log_of_hoods(damp, of, share)))  # no number: none had passed
        odd += float(np.nansum(log_of_hoods_odd(damp, of, share)))
    if so_far.strips:
        sd, times = one.prepared.site.wheel.strip_log_sd, [at for at, _ in so_far.strips]
        model = moistures_at(done, one.prepared.numbers, times)
        seen = np.array([moisture for _, moisture in so_far.strips])
        usual += _log_strips(seen, model, sd, biases)
        odd += _log_strips(seen, model, WIDER_ERRORS * sd, biases)
    for begin, end, cars in so_far.turned:
        lost = _lost(done, begin, end)
        usual += _log_turned(cars, lost, TURNED_SIZE)
        odd += _log_turned(cars, lost, TURNED_SIZE_ODD)
    wanted = np.array([float(cars) for _, cars in so_far.washed])
    if wanted.size:
        off_by = np.maximum(LEAST_OFF, COUNT_OFF * wanted)
        # what a crew may be off says nothing against a site
        off = np.maximum(np.abs(had - wanted) / off_by - 1.0, 0.0)
        usual += float(-0.5 * (off**2).sum())
        odd += float(-0.5 * ((off / WIDER_ERRORS) ** 2).sum())
    return usual, odd, float(_of_both(usual, odd))


def _of_both(usual: Floats | float, odd: Floats | float) -> Floats:
    return np.asarray(np.logaddexp(math.log(1.0 - STRANGE) + usual, math.log(STRANGE) + odd))


def log_of_hoods(damp: Ints | int, of: Ints | int, share: Floats | float) -> Floats:
    """Log-probability of damp hoods among those looked at, without the binomial coefficient."""
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * np.asarray(share)
    return np.asarray(xlogy(damp, seen) + xlog1py(of - damp, -seen))


def log_of_hoods_odd(damp: Ints | int, of: Ints | int, share: Floats | float) -> Floats:
    """The same on a strange day: beta-binomial."""
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * np.asarray(share)
    a, b = BETA_SIZE * seen, BETA_SIZE * (1.0 - seen)
    return np.asarray(betaln(a + damp, b + of - damp) - betaln(a, b))


def _log_strips(seen: Floats, model: Floats, sd: float, biases: Floats) -> float:
    """Of moistures that one scale has shown, each of its biases as likely as another; without what
    is the same for all."""
    off = np.log(np.maximum(seen, LEAST_MOISTURE) / shown(model, biases[:, None])) / sd
    return float(averaged((-0.5 * off**2 - math.log(sd)).sum(axis=1)))


def _lost(done: Run, begin_s: float, end_s: float) -> float:
    rows = done.flow.rows
    count = int(rows.counts[r.ROWS])
    arrived = rows.times[:count, r.ARRIVAL]
    lost = rows.line[:count, r.LOST] > 0
    return float((lost & (arrived > begin_s) & (arrived <= end_s)).sum())


def _log_turned(cars: int, expected: float, size: float) -> float:
    """Negative binomial about what is expected, without what is the same for every site."""
    mean = max(0.5, expected)  # where the model loses none, one may still have driven away
    return float(
        gammaln(cars + size) - gammaln(size)
        + size * math.log(size / (size + mean)) + cars * math.log(mean / (size + mean))
    )  # fmt: skip
