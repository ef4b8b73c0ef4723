"""What a day costs: one list of items, the same for a plan, a rule, people, cloth and a season.

What is paid in a day stands there as an accountant would book it, and beside it what no bill shows:
the margin of cars that drove away, and goodwill. An hour of work is never counted twice: people
who are there are paid anyway, so work that fits into their time costs nothing more and shows as
work; what goes beyond it is counted at the wage.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.day.setup import DayNumbers
from sim.inputs import Site, value_at

Floats = NDArray[np.float64]
HALF_HOURS = 48
HALF_HOUR_S = 1800.0
ANYWAY, CAUSED, UNBOOKED = "anyway", "caused", "unbooked"
"""What an item is: paid whatever is decided for the day, caused by how the day is run, or a loss
that stands in no book."""


@dataclass(frozen=True, slots=True)
class CostItem:
    """One item of a day's cost.

    Attributes:
        name: of its figure; label, origin: as there.
        nature: one of `ANYWAY`, `CAUSED` and `UNBOOKED`.
    """

    name: str
    label: str
    nature: str
    origin: str


_I = CostItem
COSTS: tuple[CostItem, ...] = (
    _I("cost_wages", "Wages as planned", ANYWAY,
       "People on the line by the half-hour from opening to closing, with opening and closing "
       "work. Paid whatever is decided for the day."),
    _I("cost_overtime", "Wages after closing", CAUSED,
       "The people of closing time until the last car has left."),
    _I("cost_overload", "Work beyond the people present", CAUSED,
       "Each half-hour’s work of preparing, loading, exit, reduced wipes, towels and changes of "
       "set, above what the people there can do, at the wage. Work that fits into their time "
       "costs nothing more."),
    _I("cost_towels", "Towels", CAUSED,
       "Towels for damp cars finished by hand; the time it takes is work."),
    _I("cost_laundry", "Laundry of sets changed", CAUSED,
       "A laundering for each dry set put on during the day; the hands it takes are work."),
    _I("cost_wear", "Wear of cloth", CAUSED,
       "The wear’s share of the life that a set has on average, at the price of a new one."),
    _I("cost_rewash", "Re-washes", CAUSED,
       "Water, soap and power of cars that go round again."),
    _I("cost_lost", "Cars lost", UNBOOKED,
       "Cars that drove away, at what a car leaves: today’s takings less cost per car, or what "
       "the site has entered as the cost of a lost car."),
    _I("cost_damp", "Cars that left damp", UNBOOKED,
       "Goodwill of damp cars that were neither finished nor washed again."),
    _I("cost_reduced", "Reduced wipes", UNBOOKED,
       "Goodwill of passes on which only hood and windshield were wiped."),
)  # fmt: skip
"""The items of `cost`, in the order in which they are added and shown."""
OF_COST = tuple(item.name for item in COSTS)


@dataclass(frozen=True, slots=True)
class Prices:
    """A site's prices on a day, worked out once for any number of runs.

    Attributes:
        wages: of the day as planned [money].
        overtime_per_s: of the people of closing time [money/s].
        work_per_s: of a person [money/s].
        wear: of a full-wipe equivalent [money].
        takings, washing: of a car washed [money].
        lost, damp, reduced, towel, laundry, rewash: of one each [money].
    """

    close_s: float
    wages: float
    overtime_per_s: float
    work_per_s: float
    wear: float
    takings: float
    washing: float
    lost: float
    damp: float
    reduced: float
    towel: float
    laundry: float
    rewash: float


def prices_of(site: Site, day: DayNumbers) -> Prices:
    """The prices of a site on a day."""
    money, crew = site.money, site.crew
    per_s = money.wage_per_h / 3600.0
    outside = (crew.opening_work_min + crew.closing_work_min) / 60.0
    return Prices(
        day.close_s,
        money.wage_per_h * (math.fsum(present_s(site, day)) / 3600.0 + outside),
        per_s * value_at(crew.people, day.close_s),
        per_s,
        wear_price(site),
        money.price_per_car,
        money.cost_per_car,
        money.lost_car_cost,
        money.damp_cost,
        money.reduced_cost,
        money.towel_cost,
        money.launder_price,
        money.cost_per_car,
    )


def wear_price(site: Site) -> float:
    """What a full-wipe equivalent of wear costs [money]: a set's price over its mean life."""
    life = site.wear.life_scale_cars * math.gamma(1.0 + 1.0 / site.wear.life_shape)
    return site.money.set_price / life


def present_s(site: Site, day: DayNumbers) -> list[float]:
    """Person-seconds that are there by half-hour while the site is open; 48 values."""
    table = site.crew.people
    edges = {day.open_s, day.close_s, *(row[0] for row in table)}
    edges |= {at * HALF_HOUR_S for at in range(HALF_HOURS)}
    inside = sorted(edge for edge in edges if day.open_s <= edge <= day.close_s)
    found = [0.0] * HALF_HOURS
    for start, end in itertools.pairwise(inside):
        place = min(int(start // HALF_HOUR_S), HALF_HOURS - 1)
        found[place] += value_at(table, start) * (end - start)
    return found


def able_s(site: Site, day: DayNumbers, closed_s: float = 0.0) -> list[float]:
    """Person-seconds of work that the people can do by half-hour; 48 values.

    Outside opening hours the people of opening or closing time count, as long as there are cars.

    Args:
        closed_s: when the last car had left [s]; the last half-hour goes on until then.
    """
    table = site.crew.people
    found = []
    for at in range(HALF_HOURS):
        begin, end = at * HALF_HOUR_S, (at + 1) * HALF_HOUR_S
        edges = sorted({begin, end, *(r[0] for r in table if begin < r[0] < end)})
        found.append(
            math.fsum(
                value_at(table, min(max(start, day.open_s), day.close_s)) * (until - start)
                for start, until in itertools.pairwise(edges)
            )
        )
    found[-1] *= max(1.0, (closed_s - (HALF_HOURS - 1) * HALF_HOUR_S) / HALF_HOUR_S)
    return found


COUNTED = (
    "cars_washed", "cars_lost", "wear_cars", "finished_cars", "rewashed_cars", "reduced",
    "left_damp", "sets_changed", "overload_s",
)  # fmt: skip
"""What the items of a run are counted from, beside when it closed."""


def money_of(prices: Prices, counts: Mapping[str, Any], closed_s: Any) -> dict[str, Any]:
    """Takings, every item of `COSTS`, `cost` and `margin` of a run, or of many as arrays.

    `cost` is the sum of the items. `margin` is what is left of takings after washing and all
    items but cars lost, which bring nothing and cost nothing: the two move against each other
    where a lost car costs its own margin.

    Args:
        counts: by name of `COUNTED`.
        closed_s: when the last car had left or opening ended, whichever is later [s].
    """
    late_s = np.maximum(0.0, closed_s - prices.close_s)
    found = {
        "takings": prices.takings * counts["cars_washed"],
        "cost_washing": prices.washing * counts["cars_washed"],
        "cost_wages": prices.wages + 0.0 * late_s,
        "cost_overtime": prices.overtime_per_s * late_s,
        "cost_overload": prices.work_per_s * counts["overload_s"],
        "cost_towels": prices.towel * counts["finished_cars"],
        "cost_laundry": prices.laundry * counts["sets_changed"],
        "cost_wear": prices.wear * counts["wear_cars"],
        "cost_rewash": prices.rewash * counts["rewashed_cars"],
        "cost_lost": prices.lost * counts["cars_lost"],
        "cost_damp": prices.damp * counts["left_damp"],
        "cost_reduced": prices.reduced * counts["reduced"],
    }
    cost = sum(found[name] for name in OF_COST)
    left = found["takings"] - found["cost_washing"]
    return {**found, "cost": cost, "margin": left - (cost - found["cost_lost"])}


def overload_s(work_s: Floats, able: Floats) -> float:
    """Work above what people can do, summed over half-hours [person-s]."""
    return float(np.sum(np.maximum(0.0, work_s - able)))
