"""What a change of set costs at a site: on plan, and when a set has worn out on a working day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.inputs import Site


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
