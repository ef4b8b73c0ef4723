"""What a change of set costs at a site: on plan, worn out on a working day, and in parts.

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

import numpy as np

from sim.decide.cloth.change import Costs
from sim.inputs import Site
from sim.learn.cloth_life import LifePosterior

SETUP_SHARE = 0.4
"""Part of a change's work that does not depend on how many strips are changed (guess)."""
PARTS = (1, 2, 4)
"""In how many parts a set may be changed."""


@dataclass(frozen=True, slots=True)
class ChangePrices:
    """Costs of one change [money].

    Attributes:
        cloth: the new set.
        work: of the people who change it.
        lost: what is lost with cars that come meanwhile; nothing on plan, out of hours.
        extra: what else an unplanned change costs.
    """

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
    line are lost; where cars pass unwiped meanwhile they count as damp instead.

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
        lost = sum(cars * cars for cars in cars_per_h) / total * hours * damp_car_cost(site)
    work = hours * wear.set_change_people * money.wage_per_h
    return ChangePrices(money.set_price, work, lost, money.unplanned_change_cost)


def damp_car_cost(site: Site) -> float:
    """What a damp car costs by the items of a plan (`sim.day.costs`) [money]: left as it is,
    finished with a towel, or washed again; work beyond the people present apart."""
    crew, money = site.crew, site.money
    left = 1.0 - crew.damp_finish_share - crew.damp_rewash_share
    return (
        left * money.damp_cost
        + crew.damp_finish_share * money.towel_cost
        + crew.damp_rewash_share * money.cost_per_car
    )


@dataclass(frozen=True, slots=True)
class InParts:
    """A way of changing.

    Attributes:
        parts: 1 for the whole set.
        cost_rate: long-run cost per full-wipe equivalent, changes on plan at the same age.
        planned_stops_per_life: stops of the wheel for planned changes in one life of a set, as if
            none wore out before.
        uptake_loss: share of uptake that the wheel as a whole has lost just before a
            change, at the site's own life.
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
    return tuple(
        _way(parts, posterior, prices, age, tuple(damp_cost), uptake_loss_at_life)
        for parts in PARTS
    )


def _way(
    parts: int,
    posterior: LifePosterior,
    prices: ChangePrices,
    age: float,
    damp: tuple[float, ...],
    loss: float,
) -> InParts:
    work = prices.work * (SETUP_SHARE + (1.0 - SETUP_SHARE) / parts)
    planned = prices.cloth / parts + work
    share = work / prices.work if prices.work > 0.0 else 1.0 / parts
    unplanned = planned + prices.lost * share + prices.extra
    changes = Costs(posterior, planned, unplanned)
    rate = parts * float(changes.mean_rate(np.array([age]))[0])
    if parts == 1:
        rate = float(Costs(posterior, planned, unplanned, damp).mean_rate(np.array([age]))[0])
    else:
        rate += _damp_rate(posterior, age, parts, damp)
    # parts are age·k/parts old just before one is changed, k = 1 to parts
    share_of_life = 1.0 if math.isinf(age) else min(1.0, age / posterior.quantile("eta", 0.5))
    return InParts(parts, rate, parts, loss * share_of_life * (parts + 1) / (2 * parts))


def _damp_rate(posterior: LifePosterior, age: float, parts: int, damp: tuple[float, ...]) -> float:
    """Damp cars' cost with the wheel's mean wear, which goes to and fro by 1/parts of the age."""
    mean_life = posterior.mean_life
    span = min(age, mean_life)
    within = np.linspace(0.0, 1.0, 21)
    wear = span * ((parts - 1) / (2 * parts) + within / parts)
    knots = np.linspace(0.0, 1.0, len(damp))
    costs = np.interp(wear[:, None] / posterior.eta, knots, damp)
    return float(np.mean(costs @ posterior.weight))
