"""When to change a set: the age of least long-run cost over what is believed of its life; what a
change costs at a site, on plan, worn out on a working day, and in parts.

Age replacement (Barlow & Proschan 1965, Mathematical Theory of Reliability, from memory). A set is
changed on plan at age T, or when it wears out before. With R the probability to last,

    C(T) = [planned·R(T) + unplanned·(1 − R(T)) + ∫₀ᵀ R(t)·d(t/η) dt] / ∫₀ᵀ R(t) dt

is the long-run cost per full-wipe equivalent; d is what a car costs more because worn cloth takes
less water. Where the life is not known, numerator and denominator are each the mean over what is
believed of it: the long-run cost of sets whose lives are drawn from that belief one by one. T is
best where C is least. Integrals of R over Weibull lives are incomplete gamma functions, so nothing
is summed in steps.

In parts, one after the other, every part is taken to last like a whole set, parts to wear out
independently, and an unplanned change to replace the part that wore out: assumptions, written here
because nobody has measured them. Cloth costs the same either way; a change of a part still needs
the wheel stopped, locked out and tried, which is `SETUP_SHARE` of a whole change's work, and the
extra cost of an unplanned change does not get smaller with the part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sim.day.goodwill import damp_car_price
from sim.inputs import Site
from sim.learn.cloth_life import LifePosterior
from sim.special import gamma, gammainc

Floats = NDArray[np.float64]

AGES = 120
"""Ages looked at before the best is found exactly."""
EARLIEST, LATEST = 0.02, 4.0
"""Ages looked at lie between these multiples of low and high scales."""
FLAT = 0.02
"""An age is as good as the best if it costs no more than this share above it."""
LEAST_SAVING = 0.01
"""A planned change has to save this share of the cost of waiting, or the answer is to wait."""


@dataclass(frozen=True, slots=True)
class ChangeAge:
    """The answer. Ages in full-wipe equivalents, cost rates in money per full-wipe equivalent.

    Attributes:
        age: at which to change on plan; infinite where waiting for failure is best, or nothing
            worth having is saved by a planned change.
        cost_rate: at that age.
        least_age, least_rate: the best planned age, worth having or not, and its cost rate.
        at_failure: cost rate of waiting until a set wears out.
        every_season: cost rate of a change at every season's beginning and whenever a set wears
            out in between; None where no season's wear was given.
        flat: lowest and highest age that cost at most `FLAT` more than the best.
        curve: age at change and cost rate, ages ascending; for the chart.
    """

    age: float
    cost_rate: float
    least_age: float
    least_rate: float
    at_failure: float
    every_season: float | None
    flat: tuple[float, float]
    curve: tuple[tuple[float, float], ...]

    @property
    def waits(self) -> bool:
        """Whether the answer is to wait for failure."""
        return math.isinf(self.age)


NO_DAMP = (0.0, 0.0)


def change_age(
    posterior: LifePosterior,
    planned_cost: float,
    unplanned_cost: float,
    *,
    damp_cost: Sequence[float] = NO_DAMP,
    season_cars: float | None = None,
) -> ChangeAge:
    """The age of least long-run cost.

    Args:
        planned_cost: of a change on plan, the set included [money], above zero.
        unplanned_cost: of a change because the set wore out, the set included [money].
        damp_cost: more damp cars' cost per car [money] at evenly spaced wear from new to η;
            straight in between, the last from η on.
        season_cars: wear of a season [full-wipe equivalents], above zero.

    Raises:
        ValueError: costs or season's wear that are not above zero.
    """
    if not (planned_cost > 0.0 and unplanned_cost > 0.0):
        raise ValueError(f"costs of a change must be above zero: {planned_cost}, {unplanned_cost}")
    costs = Costs(posterior, planned_cost, unplanned_cost, tuple(damp_cost))
    low = EARLIEST * posterior.quantile("eta", 0.025)
    high = LATEST * posterior.quantile("eta", 0.975)
    ages = np.geomspace(low, high, AGES)
    means = costs.mean_rate(np.append(ages, math.inf))
    rates, at_failure = means[:-1], float(means[-1])
    least_age, least_rate = _least(costs, ages, rates)
    if at_failure <= least_rate:
        least_age, least_rate = math.inf, at_failure
    waits = least_rate > (1.0 - LEAST_SAVING) * at_failure
    best = at_failure if waits else least_rate
    season = None if season_cars is None else every_season_rate(costs, season_cars)
    return ChangeAge(
        age=math.inf if waits else least_age,
        cost_rate=best,
        least_age=least_age,
        least_rate=least_rate,
        at_failure=at_failure,
        every_season=season,
        flat=_flat(ages, rates, (1.0 + FLAT) * best, at_failure),
        curve=tuple(zip(ages.tolist(), rates.tolist(), strict=True)),
    )


@dataclass(frozen=True)
class Costs:
    """Costs of a way of changing sets; see `change_age` for units."""

    posterior: LifePosterior
    planned: float
    unplanned: float
    damp: tuple[float, ...] = NO_DAMP

    def mean_rate(self, ages: Floats) -> Floats:
        """Expected cost of a set's life beside its expected length; shape (ages,). Ages may be
        infinite."""
        beta, eta, weight = self.posterior.beta, self.posterior.eta, self.posterior.weight
        x = ages[:, None] / eta
        lasts = np.exp(-(x**beta))
        cost = self.planned * lasts + self.unplanned * (1.0 - lasts) + eta * self._damp(x)
        return np.asarray((cost @ weight) / mean_length(self.posterior, ages))

    @cached_property
    def _at_knots(self) -> list[Floats]:
        """Knots of d in units of η, and ∫₀ᵏ R(u) du and ∫₀ᵏ u·R(u) du; shape (knots, lives)."""
        knots = np.linspace(0.0, 1.0, len(self.damp))
        beta = self.posterior.beta
        return [knots, *(partial_moment(beta, knots[:, None], power) for power in (0, 1))]

    def _damp(self, x: Floats) -> Floats | float:
        """∫₀ˣ R(u)·d(u) du in units of η; d is straight between its knots."""
        if not any(self.damp):
            return 0.0
        knots, *at_knots = self._at_knots
        whole = [partial_moment(self.posterior.beta, x, power) for power in (0, 1)]

        def upto(knot: int, power: int) -> Floats:
            """The integral up to a knot, or to x where that comes first."""
            return np.where(x < knots[knot], whole[power], at_knots[power][knot])

        total = np.zeros(x.shape)
        for i, start in enumerate(knots[:-1]):
            slope = (self.damp[i + 1] - self.damp[i]) / (knots[i + 1] - start)
            flat, rising = (upto(i + 1, power) - upto(i, power) for power in (0, 1))
            total += (self.damp[i] - slope * start) * flat + slope * rising
        beyond = whole[0] - upto(len(knots) - 1, 0)
        return np.asarray(total + self.damp[-1] * beyond)


def partial_moment(beta: Floats, x: Floats, power: int) -> Floats:
    """∫₀ˣ u^power·exp(−u^β) du = Γ(a)/β·P(a, x^β) with a = (power + 1)/β."""
    order = (power + 1.0) / beta
    return np.asarray(gamma(order) / beta * gammainc(order, x**beta))


def mean_length(posterior: LifePosterior, ages: Floats) -> Floats:
    """Expected wear until a set is changed, on plan or worn out; shape (ages,)."""
    x = ages[:, None] / posterior.eta
    lengths = posterior.eta * partial_moment(posterior.beta, x, 0)
    return np.asarray(lengths @ posterior.weight)


def _least(costs: Costs, ages: Floats, rates: Floats) -> tuple[float, float]:
    from scipy.optimize import minimize_scalar  # slow to load; no page waits for it

    at = int(np.argmin(rates))
    low, high = math.log(ages[max(at - 1, 0)]), math.log(ages[min(at + 1, AGES - 1)])

    def rate(log_age: float) -> float:
        return float(costs.mean_rate(np.array([math.exp(log_age)]))[0])

    found = minimize_scalar(rate, bounds=(low, high), method="bounded", options={"xatol": 1e-10})
    return math.exp(float(found.x)), float(found.fun)


def _flat(ages: Floats, rates: Floats, limit: float, at_failure: float) -> tuple[float, float]:
    """Ages between which the curve stays below a limit; infinite if waiting does, too."""
    good = np.flatnonzero(rates <= limit)
    if not len(good):
        return math.inf, math.inf
    first, last = int(good[0]), int(good[-1])
    low = _crossing(ages, rates, limit, first - 1) if first > 0 else float(ages[first])
    if at_failure <= limit:
        return low, math.inf
    return low, _crossing(ages, rates, limit, last) if last + 1 < len(ages) else math.inf


def _crossing(ages: Floats, rates: Floats, limit: float, before: int) -> float:
    share = (limit - rates[before]) / (rates[before + 1] - rates[before])
    return float(ages[before] + share * (ages[before + 1] - ages[before]))


RENEWAL_STEPS = 64


def every_season_rate(costs: Costs, season_cars: float) -> float:
    """Mean cost rate of a change at every season's beginning, worn or not.

    Block replacement: (planned + unplanned·M(s) + damp) / s, with M(s) the expected number of sets
    that wear out within a season of wear s (Barlow & Proschan 1965, from memory).

    Raises:
        ValueError: a season without wear.
    """
    if not season_cars > 0.0:
        raise ValueError(f"a season's wear must be above zero: {season_cars}")
    posterior = costs.posterior
    x = season_cars / posterior.eta
    step = x / RENEWAL_STEPS
    places = np.arange(RENEWAL_STEPS + 1)[:, None] * step
    renewals = renewal_function(posterior.beta, places)
    cost = costs.planned + costs.unplanned * renewals[-1]
    if any(costs.damp):
        knots = np.linspace(0.0, 1.0, len(costs.damp))
        cost = cost + posterior.eta * _season_damp(
            posterior.beta, places, renewals, np.interp(places, knots, costs.damp)
        )
    return float(np.sum(posterior.weight * cost) / season_cars)


def renewal_function(beta: Floats, places: Floats) -> Floats:
    """Expected failures until each place, Weibull(β, 1) lives one after the other.

    M(t) = F(t) + ∫ M(t − u) dF(u), on even steps, the integral by midpoints (Xie 1989, Commun.
    Stat. Simul. Comput. 18:281–293, from memory).

    Args:
        beta: shape (draws,).
        places: evenly spaced from zero, shape (steps + 1, draws).
    """
    fails = -np.expm1(-(places**beta))
    half = -np.expm1(-(((places[:-1] + places[1:]) * 0.5) ** beta))
    found = np.zeros(places.shape)
    for i in range(1, len(places)):
        total = fails[i] - half[0] * found[i - 1]
        # Σ over earlier steps of F(t_i − t_{j−½})·(M_j − M_{j−1})
        if i > 1:
            total = total + np.sum(half[i - 1 : 0 : -1] * np.diff(found[:i], axis=0), axis=0)
        found[i] = total / (1.0 - half[0])
    return found


def _season_damp(beta: Floats, places: Floats, renewals: Floats, damp: Floats) -> Floats:
    """∫ over a season of the expected damp cost at the age then, in units of η; shape (draws,)."""
    lasts = np.exp(-(places**beta))
    step = places[1]
    at_age = lasts * damp
    # age density: the season's own set, and sets begun at each renewal
    born = np.vstack([np.ones(beta.shape), np.diff(renewals, axis=0)])
    upto = np.cumsum(at_age, axis=0) * step - 0.5 * step * (at_age + at_age[0])
    return np.asarray(np.sum(born * upto[::-1], axis=0))


# ---- what a change costs, whole and in parts -----------------------------------------------------


SETUP_SHARE = 0.4
"""Part of a change's work that does not depend on how many strips are changed (guess)."""
PARTS = (1, 2, 4)
"""In how many parts a set may be changed."""


@dataclass(frozen=True, slots=True)
class ChangePrices:
    """Costs of one change [money]: the new set, the work of the people who change it, what is lost
    with cars that come meanwhile (nothing on plan, out of hours), and what else an unplanned change
    costs."""

    cloth: float
    work: float
    lost: float
    extra: float

    @property
    def planned(self) -> float:
        """On plan, before opening or on a quiet morning."""
        return self.cloth + self.work

    @property
    def unplanned(self) -> float:
        """Because a set wore out, at any hour."""
        return self.cloth + self.work + self.lost + self.extra


def change_prices(site: Site, cars_per_h: Sequence[float]) -> ChangePrices:
    """Costs of a change at a site.

    Sets wear out while cars pass, so an unplanned change meets an hour with the more chance the
    more cars it brings. Cars that come during the change and find no room in stack and loading
    line are lost; where cars pass unwiped meanwhile they count as damp instead, their roofs and
    rears as wet.

    Args:
        cars_per_h: cars in hours that stand for the site's hours [cars].
    """
    money, wear = site.money, site.wear
    hours = wear.set_change_min / 60.0
    total = sum(cars_per_h)
    if not total > 0.0:
        lost = 0.0
    elif wear.set_change_cars == "wait":
        room = site.pay.stack_limit_cars + site.pay.loading_line_cars
        over = [max(0.0, cars * hours - room) for cars in cars_per_h]
        away = sum(c * o for c, o in zip(cars_per_h, over, strict=True)) / total
        lost = away * money.lost_car_cost
    else:
        lost = sum(cars * cars for cars in cars_per_h) / total * hours * unwiped_car_cost(site)
    work = hours * wear.set_change_people * money.wage_per_h
    return ChangePrices(money.set_price, work, lost, money.unplanned_change_cost)


def damp_car_cost(site: Site) -> float:
    """What a damp car costs by the items of a plan (`sim.day.figures`) [money]: left as it is,
    or washed again; as if no finisher were there, and work beyond the people present apart."""
    crew, money = site.crew, site.money
    left, rewashed = 1.0 - crew.damp_rewash_share, crew.damp_rewash_share
    return left * damp_car_price(money) + rewashed * money.cost_per_car


def unwiped_car_cost(site: Site) -> float:
    """What a car that no cloth touches costs likewise [money]: a damp car whose roof and rear, as
    far as its class has them, leave wet too; one that is washed again is not gone."""
    money, total, minded = site.money, 0.0, 0.0
    for item in site.vehicles:
        _, _, roof, rear = item.areas_m2
        weight = money.zone_minded_roof * (roof > 0.0) + money.zone_minded_rear * (rear > 0.0)
        total += item.numbers.share
        minded += item.numbers.share * weight
    left = 1.0 - site.crew.damp_rewash_share
    zones = minded / total if total > 0.0 else 0.0
    return damp_car_cost(site) + left * zones * damp_car_price(money)


@dataclass(frozen=True, slots=True)
class InParts:
    """A way of changing.

    Attributes:
        parts: 1 for the whole set.
        cost_rate: long-run cost per full-wipe equivalent, changes on plan at the same age.
        planned_stops_per_life: stops of the wheel for planned changes in one life of a set, as if
            none wore out before.
        uptake_loss: share that the wheel has lost just before a change, at the site's own life.
    """

    parts: int
    cost_rate: float
    planned_stops_per_life: int
    uptake_loss: float


def in_parts(
    posterior: LifePosterior,
    prices: ChangePrices,
    age: float,
    *,
    damp_cost: Sequence[float],
    uptake_loss_at_life: float,
) -> tuple[InParts, ...]:
    """The ways of `PARTS`, each part changed at `age` [full-wipe equivalents]; may be infinite."""
    share_of_life = 1.0 if math.isinf(age) else min(1.0, age / posterior.quantile("eta", 0.5))
    ways = []
    for parts in PARTS:
        work = prices.work * (SETUP_SHARE + (1.0 - SETUP_SHARE) / parts)
        planned = prices.cloth / parts + work
        share = work / prices.work if prices.work > 0.0 else 1.0 / parts
        unplanned = planned + prices.lost * share + prices.extra
        damp = tuple(damp_cost) if parts == 1 else NO_DAMP
        changes = Costs(posterior, planned, unplanned, damp)
        rate = parts * float(changes.mean_rate(np.array([age]))[0])
        if parts > 1:
            rate += _damp_rate(posterior, age, parts, damp_cost)
        # parts are age·k/parts old just before one is changed, k = 1 to parts
        lost = uptake_loss_at_life * share_of_life * (parts + 1) / (2 * parts)
        ways.append(InParts(parts, rate, parts, lost))
    return tuple(ways)


def _damp_rate(posterior: LifePosterior, age: float, parts: int, damp: Sequence[float]) -> float:
    """Damp cars' cost with the wheel's mean wear, which goes to and fro by 1/parts of the age."""
    span = min(age, posterior.mean_life)
    within = np.linspace(0.0, 1.0, 21)
    wear = span * ((parts - 1) / (2 * parts) + within / parts)
    knots = np.linspace(0.0, 1.0, len(damp))
    costs = np.interp(wear[:, None] / posterior.eta, knots, damp)
    return float(np.mean(costs @ posterior.weight))
