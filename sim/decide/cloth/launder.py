"""How often a set goes to the laundry: the interval of least cost a day over a season's days.

Wax and soil take uptake from laundering to laundering (`sim.physics.water_film.left_by_soil`), so
cars leave damp that clean cloth would have dried; a laundering costs its price, the hands that
change the set, and wear. Intervals repeat, so the long-run cost a day is the cost of an interval
beside its length (the renewal-reward theorem; Ross 1996, Stochastic Processes, chapter 3, from
memory):

    C(D) = [laundering + Σ over the cars of D open days of d(soil as each car comes)] / D

with d what a car costs more because soil has taken uptake, at the wear that a set has on average.
Where d grows in proportion to the cars since, and all soil is taken out, the best interval is the
square-root law of lot sizes (Harris 1913, from memory). A laundering leaves some of the soil in;
it gathers until an interval brings as much as a laundering takes out, and the season is counted
from there on, its days gone round once more until whole intervals are full.

What soil grinds off paint, and mould in cloth that is left wet, are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from sim.decide.cloth.guesses import (
    DAMP_COST,
    HIGH,
    KNOTS,
    LOW,
    SOIL,
    Beliefs,
    DrawnGuesses,
    held_to_others,
)
from sim.decide.firm import Standing
from sim.inputs import INPUTS, Site
from sim.learn.cloth_looks import guessed
from sim.physics.water_film import left_by_soil, soil_after_laundering

Floats = NDArray[np.float64]
RESTORES: Final = "launder_restores"
LAUNDER_WEAR: Final = "launder_wear"
Guessed = Literal["soil_loss_per_1000_cars", "launder_restores", "launder_wear", "damp_cost"]
GUESSED: tuple[Guessed, ...] = (SOIL, RESTORES, LAUNDER_WEAR, DAMP_COST)
"""The guesses that an interval rests on."""
VALUES = 21
"""Equally probable values of each."""
DRAWS = 64
"""Sites that the range of intervals is drawn from."""
STEPS = (0.8566748838545029, 0.7338918566271260, 0.6287067210378087, 0.5385972572236101)
"""Steps of an even sequence in four dimensions (Roberts 2018, from memory)."""
PLACES = 1_024
"""Steps of soil at which what it costs is added up."""
MOST_DAYS = int(INPUTS["launder_every_days"].high)
"""Open days between launderings that are looked at, at most."""
LEAST_RESTORED = 1e-3
"""A laundering that takes out less is one that takes out so much: soil would gather for ever."""
NEAR = 0.02
"""An interval is as good as the best if a day costs no more than this share of what laundering
and soil cost then above it."""


@dataclass(frozen=True, slots=True)
class LaunderPrices:
    """Costs of one laundering [money]: the laundry, the hands that change the set, and the wear."""

    laundry: float
    work: float
    wear: float

    @property
    def together(self) -> float:
        """All of it."""
        return self.laundry + self.work + self.wear


@dataclass(frozen=True, slots=True)
class SoilAt:
    """A site with its guesses at some values.

    Attributes:
        loss_per_1000: share of what is left of the uptake that a thousand cars' soil takes.
        restores: share of the soil that a laundering takes out.
        laundering: what one costs [money].
        damp_cost: of a damp car that is left as it is [money].
    """

    loss_per_1000: float
    restores: float
    laundering: float
    damp_cost: float


@dataclass(frozen=True, slots=True)
class LaunderGuess:
    """One of the guesses and the best intervals at its ends, the rest as expected.

    Attributes:
        low, high: between these it lies at 9 of 10 sites.
        days_low, days_high: best intervals there [open days].
        excess: most that the advised interval costs above the best at one of the ends, a day
            [money].
    """

    input: Guessed
    low: float
    high: float
    days_low: int
    days_high: int
    excess: float


@dataclass(frozen=True, slots=True)
class Laundering:
    """How often a set goes to the laundry.

    Attributes:
        days: open days between launderings; `MOST_DAYS` where seldomer was not looked at.
        cars: wiped between launderings, where the interval is counted in cars; infinite where none
            within the season is best.
        low, high: best days of 9 of 10 drawn sites, all guesses drawn.
        near: fewest and most days that cost at most `NEAR` more.
        prices: of a laundering. cost_per_day: of laundering and soil at the best [money].
        soil_lost: share of the uptake that soil has taken just before a laundering.
        more_damp_share: share of cars that come out damp because of soil, the mean over days.
        saves_never: beside none within a year, saves_nightly: beside one before every open day,
            saves_present: beside the site's own interval; a year [money].
        present_days: the site's own interval.
        open_days: of a year.
        guesses: those that the site entered left out.
        rival: of the ends of the range, the site's own interval and every open day the one that
            leaves the advice least firm [open days]; standing: how the advice stands against it.
        curve: days, cost a day [money] and share of the uptake lost before a laundering, ascending.
    """

    days: int
    cars: float
    low: int
    high: int
    near: tuple[int, int]
    prices: LaunderPrices
    cost_per_day: float
    soil_lost: float
    more_damp_share: float
    saves_never: float
    saves_nightly: float
    saves_present: float
    present_days: int
    open_days: int
    guesses: tuple[LaunderGuess, ...]
    rival: int
    standing: Standing
    curve: tuple[tuple[int, float, float], ...]


def launder_prices(site: Site, wear_price: float) -> LaunderPrices:
    """Costs of a laundering at a site.

    Where a dry set is hung every morning anyway it takes no more hands.

    Args:
        wear_price: of a full-wipe equivalent of wear [money].
    """
    wear, money = site.wear, site.money
    hours = 0.0 if wear.dry_set_at_opening else wear.set_change_min / 60.0
    return LaunderPrices(
        money.launder_price,
        hours * wear.set_change_people * money.wage_per_h,
        wear.launder_wear * wear_price,
    )


class SoilCosts:
    """What soil costs a site: d by share of the uptake that it has taken.

    Args:
        worn: the share of the scale of life that a set comes to; sets are met at every wear from
            new to there alike.
    """

    def __init__(self, beliefs: Beliefs, worn: float) -> None:
        self._by_loss = beliefs.by_loss
        self._worn = np.linspace(0.0, min(1.0, worn), KNOTS) * beliefs.loss.mean

    def of(self, soil: Floats, damp_cost: float) -> Floats:
        """What a car costs more than with clean cloth [money].

        Args:
            soil: share of the uptake that soil has taken, shape (n,).
        """
        both = self._with_wear(soil)
        more = self._by_loss.cost_at(both, damp_cost) - self._by_loss.cost_at(self._worn, damp_cost)
        return np.asarray(more.mean(axis=1))

    def damp(self, soil: Floats) -> Floats:
        """Share of cars that come out damp because of soil; shape (n,)."""
        more = self._by_loss.share_at(self._with_wear(soil)) - self._by_loss.share_at(self._worn)
        return np.asarray(more.mean(axis=1))

    def _with_wear(self, soil: Floats) -> Floats:
        return 1.0 - (1.0 - self._worn) * (1.0 - soil[:, None])


class Intervals:
    """Costs of intervals over a season's days, the guesses at some values.

    Args:
        cars: wiped on each open day of the season, in order, at least one day.
    """

    def __init__(self, costs: SoilCosts, cars: Sequence[float], at: SoilAt) -> None:
        self._cars = np.asarray(cars, dtype=float)
        self._costs, self.at = costs, at
        self._mean = float(self._cars.mean())
        self._leaves = 1.0 - max(at.restores, LEAST_RESTORED)
        most = self._mean * max(MOST_DAYS / max(at.restores, LEAST_RESTORED), len(self._cars))
        # close together where there is little soil, which is where all good intervals lie
        self._places = most * np.linspace(0.0, 1.0, PLACES) ** 3
        d = costs.of(self.soil_of(self._places), at.damp_cost)
        steps = 0.5 * (d[1:] + d[:-1]) * np.diff(self._places)
        self._upto = np.concatenate([[0.0], np.cumsum(steps)])

    def soil_of(self, cars: Floats) -> Floats:
        """Share of the uptake that the soil of so many cars has taken."""
        return 1.0 - np.asarray(left_by_soil(self.at.loss_per_1000, 1.0)) ** cars

    def settled(self, cars: float) -> float:
        """Cars whose soil is left in after a laundering, where each comes so many cars after the
        last: the sum of a geometric series."""
        return cars * self._leaves / (1.0 - self._leaves)

    def total(self, first: Floats | float, last: Floats | float) -> Floats:
        """Cost of the soil from one number of cars on the cloth to another [money]."""
        return np.asarray(
            np.interp(last, self._places, self._upto) - np.interp(first, self._places, self._upto)
        )

    def rate(self, days: int) -> float:
        """Cost a day of laundering after each so many open days [money]."""
        count = len(self._cars)
        intervals = math.ceil(count / days)
        whole = np.resize(self._cars, intervals * days).reshape(intervals, days).sum(axis=1)
        left = [self.settled(self._mean * days)]
        for cars in whole.tolist():
            left.append(soil_after_laundering(left[-1] + cars, 1.0 - self._leaves))
        begun = np.array(left[:-1])
        soil = float(self.total(begun, begun + whole).sum())
        return (intervals * self.at.laundering + soil) / (intervals * days)

    def never(self) -> float:
        """Cost a day of a season without a laundering, the set clean as it begins [money]."""
        return float(self.total(0.0, float(self._cars.sum()))) / len(self._cars)

    def rates(self) -> Floats:
        """Cost a day by open days between launderings, from 1 on [money]."""
        return np.array([self.rate(days) for days in range(1, MOST_DAYS + 1)])

    def per_car(self, cars: float) -> float:
        """Cost a car of laundering after each so many cars, however days lie [money]."""
        left = self.settled(cars)
        return (self.at.laundering + float(self.total(left, left + cars))) / cars

    def best_cars(self) -> float:
        """The cars between launderings of least cost; infinite where none within a season is."""
        from scipy.optimize import minimize_scalar  # slow to load; no page waits for it

        most = min(float(self._cars.sum()), self._mean * MOST_DAYS)
        ends = math.log(1.0), math.log(max(most, 2.0))
        found = minimize_scalar(
            lambda x: self.per_car(math.exp(x)), bounds=ends, method="bounded",
            options={"xatol": 1e-6},
        )  # fmt: skip
        cars = math.exp(float(found.x))
        return cars if cars < 0.99 * most else math.inf

    def soil_before(self, days: int) -> float:
        """Share of the uptake that soil has taken just before a laundering."""
        cars = self._mean * days
        return float(self.soil_of(np.array([cars + self.settled(cars)]))[0])

    def more_damp(self, days: int) -> float:
        """Share of cars that come out damp because of soil, the mean over an interval."""
        cars = self._mean * days
        met = self.settled(cars) + np.linspace(0.0, cars, KNOTS)
        return float(np.mean(self._costs.damp(self.soil_of(met))))


def how_often(
    site: Site,
    known: Collection[str],
    beliefs: Beliefs,
    worn: float,
    wear_price: float,
    cars: Sequence[float],
) -> Laundering:
    """How often sets go to the laundry.

    Args:
        known: inputs that the site entered itself.
        worn: share of the scale of life that a set comes to.
        wear_price: of a full-wipe equivalent of wear [money].
        cars: wiped on each open day of a year, in order, at least one day.
    """
    costs, prices = SoilCosts(beliefs, worn), launder_prices(site, wear_price)
    values = {name: guessed(site, name, known, VALUES) for name in GUESSED}
    values[DAMP_COST] = np.sort(beliefs.damp_cost)
    middle = _at(site, prices, wear_price, {DAMP_COST: float(values[DAMP_COST].mean())})
    here = Intervals(costs, cars, middle)
    rates = here.rates()
    days = int(np.argmin(rates)) + 1
    best, open_days = float(rates[days - 1]), len(cars)
    good = np.flatnonzero(rates <= (1.0 + NEAR) * best) + 1
    u = np.array([[math.fmod(0.5 + (n + 1) * step, 1.0) for n in range(DRAWS)] for step in STEPS])
    drawn = np.array(
        [
            Intervals(costs, cars, _at(site, prices, wear_price, at)).rates()
            for one in u.T.tolist()
            for at in [
                {name: _quantile(values[name], q) for name, q in zip(GUESSED, one, strict=True)}
            ]
        ]
    )
    ordered = np.sort(np.argmin(drawn, axis=1) + 1)
    low, high = (int(ordered[round(share * (DRAWS - 1))]) for share in (LOW, HIGH))
    present = int(site.wear.launder_every_days)
    others = dict.fromkeys((low, high, present, 1))
    rival, standing = held_to_others(
        [(other, drawn[:, other - 1]) for other in others], drawn[:, days - 1], NEAR,
        DrawnGuesses(GUESSED, u),
    )  # fmt: skip
    return Laundering(
        days=days,
        cars=here.best_cars(),
        low=low,
        high=high,
        near=(int(good[0]), int(good[-1])),
        prices=prices,
        cost_per_day=best,
        soil_lost=here.soil_before(days),
        more_damp_share=here.more_damp(days),
        saves_never=open_days * (here.never() - best),
        saves_nightly=open_days * (float(rates[0]) - best),
        saves_present=open_days * (float(rates[present - 1]) - best),
        present_days=present,
        open_days=open_days,
        guesses=tuple(
            _guess(name, values[name], middle, (site, prices, wear_price), (costs, cars), days)
            for name in GUESSED
            if len(values[name]) > 1
        ),
        rival=int(rival),
        standing=standing,
        curve=tuple(
            (number, float(rate), here.soil_before(number)) for number, rate in enumerate(rates, 1)
        ),
    )


def _at(
    site: Site, prices: LaunderPrices, wear_price: float, values: dict[Guessed, float]
) -> SoilAt:
    """The site's guesses, some at other values."""
    wear = site.wear
    worn = values.get(LAUNDER_WEAR, wear.launder_wear) * wear_price
    return SoilAt(
        values.get(SOIL, wear.soil_loss_per_1000_cars),
        values.get(RESTORES, wear.launder_restores),
        replace(prices, wear=worn).together,
        values.get(DAMP_COST, site.money.damp_cost),
    )


def _quantile(values: Floats, share: float) -> float:
    return float(values[min(int(share * len(values)), len(values) - 1)])


def _guess(
    name: Guessed,
    values: Floats,
    middle: SoilAt,
    of: tuple[Site, LaunderPrices, float],
    season: tuple[SoilCosts, Sequence[float]],
    days: int,
) -> LaunderGuess:
    ends = [float(np.quantile(values, share)) for share in (LOW, HIGH)]
    best, excess = [], 0.0
    for end in ends:
        at = _at(*of, {DAMP_COST: middle.damp_cost, name: end})
        rates = Intervals(*season, at).rates()
        best.append(int(np.argmin(rates)) + 1)
        excess = max(excess, float(rates[days - 1] - rates.min()))
    return LaunderGuess(name, ends[0], ends[1], best[0], best[1], excess)
