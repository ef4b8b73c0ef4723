"""The guesses that an age of change rests on beside the life of sets, and what they do to it.

How much uptake wear takes, and what a damp car costs, decide how dear an old set is. Both are
drawn from what is believed of them, beside the lives of sets, in the range of the best age.

How many more cars come out damp as cloth takes less water, and what that costs by a plan's list,
is simulated: wear and soil change a day through the uptake that they take and nothing else, so the
compiled day is run with several losses of uptake; whatever a site turns out to lose is then read
off.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.engine import Experiment
from sim.day.night import PreviousDay
from sim.day.replicate import run_days
from sim.decide.cloth.change import FLAT, ChangePrices, Costs, change_age
from sim.decide.firm import Contest, Standing, Widener, by_cost
from sim.decide.how_sure import carried
from sim.inputs import Conditions, Scenario, Site, Value
from sim.learn.cloth_life import LifePosterior
from sim.learn.cloth_looks import LOSS, LossBelief, guessed
from sim.special import ndtri

Floats = NDArray[np.float64]
DAMP_COST: Final = "damp_cost"
SOIL: Final = "soil_loss_per_1000_cars"
DAMP_COSTS = 21
"""Equally probable values of it."""
LIFE_AND_GUESSES = ("life_scale_cars", LOSS, DAMP_COST)
"""What is drawn, in the order of `STEPS`."""
KNOTS = 9
"""Steps of wear, from new to the scale of life, at which a damp car's cost is worked out."""
DRAWS = 64
"""Sites that the range of ages is drawn from."""
STEPS = (0.8191725133961645, 0.6710436067037893, 0.5497004779019703)
"""Steps of an even sequence in three dimensions (Roberts 2018, from memory)."""
LOW, HIGH = 0.05, 0.95
LOSSES = (0.0, 0.1, 0.2, 0.32, 0.5, 0.75)
"""Shares of the uptake lost that are looked at; the last are beyond what nearly all sites lose."""
DAMP_DRAWS = 12
"""Simulated days for each expected day and loss, all losses on the same draws."""


@dataclass(frozen=True, slots=True)
class DampByLoss:
    """What lost uptake does to the cars of a site that wipes every car in full.

    Attributes:
        share: share of cars washed that come out of the wheel damp, by `LOSSES`.
        left: more cars that leave damp than with new cloth, a car washed.
        other: what else a car costs more by a plan's items, wear apart: towels, re-washes, work
            beyond the people present, cars lost [money].
    """

    share: tuple[float, ...]
    left: tuple[float, ...]
    other: tuple[float, ...]

    def share_at(self, loss: Floats) -> Floats:
        """Share of cars that come out damp where so much of the uptake is lost; any shape."""
        return np.asarray(np.interp(loss, LOSSES, self.share))

    def cost_at(self, loss: Floats, damp_cost: Floats | float) -> Floats:
        """What a car costs more than with new cloth [money]; any shape.

        Args:
            damp_cost: of a damp car that is left as it is [money].
        """
        left = np.interp(loss, LOSSES, self.left)
        return np.asarray(left * damp_cost + np.interp(loss, LOSSES, self.other))


NO_DAMP = DampByLoss(*((0.0,) * len(LOSSES) for _ in range(3)))
"""Where no day is known that could be simulated."""


def damp_by_loss(
    site: Site, days: Sequence[Conditions], seed: int, draws: int = DAMP_DRAWS
) -> DampByLoss:
    """Days of a site with cloth that has lost more and more of its uptake.

    Every car is wiped in full; each day begins as the night after a day like it leaves the cloth.

    Args:
        days: expected days that stand for the year; those with more cars count for more.
    """
    # cloth at the scale of life has lost all that it loses; a damp car at 1 counts as one
    life = site.wear.life_scale_cars
    worn: dict[str, Value] = {"cloth_wear_cars": life, SOIL: 0.0, "damp_cost": 1.0}
    scenarios = [
        Scenario(str(loss), changes={**worn, "uptake_loss_at_life": loss}) for loss in LOSSES
    ]
    totals = np.zeros((4, len(LOSSES)))
    for number, expected in enumerate(days):
        like_it = PreviousDay(expected, 1)
        days_of = Experiment(site, expected, seed + number, like_it, evenings=1)
        for at, figures in enumerate(run_days(days_of, scenarios, draws)):
            day = figures.day
            # at a price of 1: damp cars of all but members, wet roofs and rears by how they count
            left = day["cost_damp"] + day["cost_zones"]
            other = day["cost"] - left - day["cost_wear"]
            told = (day["damp_cars"], left, other, day["cars_washed"])
            totals[:, at] += [float(values.sum()) for values in told]
    share, left, more = totals[:3] / np.maximum(totals[3], 1.0)
    # paired draws: noise may make a step fall by a hair, lost uptake itself never dries a car
    rising = (np.maximum.accumulate(row) for row in (share, left - left[0], more - more[0]))
    return DampByLoss(*(tuple(row.tolist()) for row in rising))


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What is believed beside the life: what lost uptake does to a car, cars washed for each
    full-wipe equivalent of wear, the uptake lost, and equally probable costs of a damp car [money].
    """

    by_loss: DampByLoss
    cars_per_wear: float
    loss: LossBelief
    damp_cost: Floats

    def cost(self, loss: Floats, weight: Floats, damp_cost: float) -> tuple[float, ...]:
        """More cost per full-wipe equivalent at even steps of wear up to η [money], the mean over
        losses with their weights."""
        worn = np.linspace(0.0, 1.0, KNOTS)[:, None] * loss
        each = self.by_loss.cost_at(worn, damp_cost) @ weight
        return tuple((self.cars_per_wear * each).tolist())

    @property
    def expected(self) -> tuple[float, ...]:
        """The same over everything that is believed."""
        return self.cost(self.loss.value, self.loss.weight, float(self.damp_cost.mean()))

    @property
    def more_damp(self) -> tuple[float, ...]:
        """Share of cars damp above that with new cloth, at the same steps, in expectation."""
        worn = np.linspace(0.0, 1.0, KNOTS)[:, None] * self.loss.value
        share = self.by_loss.share_at(worn) @ self.loss.weight
        return tuple((share - share[0]).tolist())


@dataclass(frozen=True, slots=True)
class Guess:
    """One of the two guesses and the best ages at its ends, the rest as expected.

    Attributes:
        low, high: between these it lies at 9 of 10 sites.
        age_low, age_high: best ages there [full-wipe equivalents]; infinite where waiting is best.
        excess: most that the advised age costs above the best at one of the ends, as a share.
    """

    input: Literal["uptake_loss_at_life", "damp_cost"]
    low: float
    high: float
    age_low: float
    age_high: float
    excess: float

    @property
    def matters(self) -> bool:
        """Whether it moves the answer by more than an age may miss the best."""
        return self.excess > FLAT


@dataclass(frozen=True, slots=True)
class AgeRange:
    """How far the best age may lie elsewhere at a site like this one.

    Attributes:
        low, high: of 9 of 10 drawn sites, life and both guesses drawn; infinite where waiting is
            best.
        without_damp_cars: the best age if damp cars cost nothing.
        guesses: the two, those that the site entered left out.
        rival: of the ends of the range and waiting the age that leaves the advice least firm;
            standing: how the advice stands against it at the drawn sites.
    """

    low: float
    high: float
    without_damp_cars: float
    guesses: tuple[Guess, ...]
    rival: float
    standing: Standing


def damp_costs(site: Site, known: Collection[str]) -> Floats:
    """What a damp car may cost [money]: equally probable values, or the one that was entered."""
    return guessed(site, DAMP_COST, known, DAMP_COSTS)


def range_of_ages(
    posterior: LifePosterior, prices: ChangePrices, beliefs: Beliefs, age: float
) -> AgeRange:
    """What the guesses do to the best age.

    Args:
        age: the advised one, infinite for waiting.
    """
    order = np.argsort(posterior.eta, kind="stable")
    upto = np.cumsum(posterior.weight[order])
    costs = np.sort(beliefs.damp_cost)
    ages, of, quantiles = [], [], []
    for number in range(DRAWS):
        u, v, w = (math.fmod(0.5 + (number + 1) * step, 1.0) for step in STEPS)
        at = order[min(int(np.searchsorted(upto, u)), len(order) - 1)]
        life = LifePosterior(posterior.beta[at : at + 1], posterior.eta[at : at + 1], np.ones(1))
        loss = np.array([beliefs.loss.quantile(v)])
        knots = beliefs.cost(loss, np.ones(1), float(costs[int(w * len(costs))]))
        ages.append(_best(life, prices, knots))
        of.append(Costs(life, prices.planned, prices.unplanned, knots))
        quantiles.append((u, v, w))
    drawn = DrawnGuesses(LIFE_AND_GUESSES, np.array(quantiles).T)
    low, high = (sorted(ages)[round(share * (DRAWS - 1))] for share in (LOW, HIGH))
    without = _best(posterior, prices, (0.0,) * KNOTS)
    rival, standing = held_to_others(
        [(end, _rate(of, end)) for end in (low, high, math.inf)], _rate(of, age), FLAT, drawn
    )
    guesses = _guesses(posterior, prices, beliefs, age)
    return AgeRange(low, high, without, guesses, rival, standing)


@dataclass(frozen=True, slots=True)
class DrawnGuesses:
    """Quantiles of the guesses that were drawn, by name of the input; shape (sites,) each."""

    names: tuple[str, ...]
    u: Floats


def held_to_others(
    others: Sequence[tuple[float, Floats]], ours: Floats, slack: float, drawn: DrawnGuesses
) -> tuple[float, Standing]:
    """The rival that leaves an advice least firm, and how the advice stands against it.

    Args:
        others: rivals with what each costs at the drawn sites, shape (sites,); ours: the same of
            the advice.
        slack: what does not matter, as a share of the advice's mean cost.
    """
    room = slack * float(ours.mean())
    contests = [by_cost(ours, theirs, room) for _rival, theirs in others]
    at = max(range(len(contests)), key=lambda one: contests[one].standing.doubt)
    standing = contests[at].standing
    if not standing.is_firm:
        standing = replace(standing, turns=_turns(contests[at], drawn))
    return others[at][0], standing


def _turns(contest: Contest, drawn: DrawnGuesses) -> tuple[Widener, ...]:
    return carried(drawn.names, np.asarray(ndtri(drawn.u.T)), contest.leads)


def _rate(of: Sequence[Costs], age: float) -> Floats:
    """What an age costs at each drawn site, a full-wipe equivalent."""
    return np.array([float(costs.mean_rate(np.array([age]))[0]) for costs in of])


def _best(life: LifePosterior, prices: ChangePrices, damp: Sequence[float]) -> float:
    return change_age(life, prices.planned, prices.unplanned, damp_cost=damp).age


def _guesses(
    posterior: LifePosterior, prices: ChangePrices, beliefs: Beliefs, age: float
) -> tuple[Guess, ...]:
    loss, one = beliefs.loss, np.ones(1)
    middle = float(beliefs.damp_cost.mean())
    found = []
    if not loss.is_known:
        ends = [loss.quantile(share) for share in (LOW, HIGH)]
        knots = [beliefs.cost(np.array([end]), one, middle) for end in ends]
        found.append(_guess(LOSS, ends, knots, posterior, prices, age))
    if len(beliefs.damp_cost) > 1:
        ends = [float(np.quantile(beliefs.damp_cost, share)) for share in (LOW, HIGH)]
        knots = [beliefs.cost(loss.value, loss.weight, end) for end in ends]
        found.append(_guess(DAMP_COST, ends, knots, posterior, prices, age))
    return tuple(found)


def _guess(
    name: Literal["uptake_loss_at_life", "damp_cost"],
    ends: Sequence[float],
    knots: Sequence[tuple[float, ...]],
    posterior: LifePosterior,
    prices: ChangePrices,
    age: float,
) -> Guess:
    ages, excess = [], 0.0
    for damp in knots:
        best = change_age(posterior, prices.planned, prices.unplanned, damp_cost=damp)
        costs = Costs(posterior, prices.planned, prices.unplanned, damp)
        rate = best.at_failure
        if math.isfinite(age):
            rate = float(costs.mean_rate(np.array([age]))[0])
        excess = max(excess, rate / best.cost_rate - 1.0)
        ages.append(best.age)
    return Guess(name, ends[0], ends[1], ages[0], ages[1], excess)
