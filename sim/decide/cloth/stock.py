"""Stock and orders of new cloth sets: how many to order, at which stock, and by when.

Textbook inventory: Harris's economic order quantity with price breaks, reorder points for normal
lead-time demand, and the newsvendor's balance of too many against too few (Snyder & Shen,
Fundamentals of Supply Chain Theory; Heizer & Render, Operations Management, from memory). A site
needs few sets a year, so the normal formula is too coarse for it: the stock at which to order is
the smallest whole one that a distribution of counts says is enough, Poisson, or negative binomial
where the delivery's demand spreads more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import betainc, ndtri, pdtr

from sim.errors import InputError, InputProblem
from sim.inputs import Site
from sim.units import quantity

YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True)
class Order:
    """A quantity to order.

    Attributes:
        quantity: sets.
        price: of one [money].
        cost_per_year: purchase, ordering and keeping [money/year].
    """

    quantity: int
    price: float
    cost_per_year: float


def economic_order(
    demand_per_year: float, order_cost: float, holding_per_year: float
) -> tuple[float, float]:
    """Harris's order quantity √(2KD/h), and what ordering and keeping then cost a year √(2KDh).

    Args:
        demand_per_year: D, above 0.
        order_cost: K of each order [money], ≥ 0.
        holding_per_year: h of keeping one for a year [money], above 0.
    """
    quantity_ = math.sqrt(2.0 * order_cost * demand_per_year / holding_per_year)
    return quantity_, math.sqrt(2.0 * order_cost * demand_per_year * holding_per_year)


def order_cost_per_year(
    quantity_: float, demand_per_year: float, order_cost: float, holding_share: float, price: float
) -> float:
    """Purchase, ordering and keeping a year [money]: c·D + K·D/Q + ½·Q·i·c."""
    return (
        price * demand_per_year
        + order_cost * demand_per_year / quantity_
        + 0.5 * quantity_ * holding_share * price
    )


def best_order(
    demand_per_year: float,
    order_cost: float,
    holding_share: float,
    prices: Sequence[tuple[int, float]],
    least: int = 1,
) -> Order:
    """The whole quantity of least yearly cost under all-units price breaks.

    At each price the cost is convex in the quantity, so the best lies at the economic quantity,
    or at the end of that price's range that lies nearest to it.

    Args:
        holding_share: cost of keeping one for a year, as share of its price.
        prices: from how many on each price holds, ascending, the first from 0 or 1.
        least: fewest in an order.
    """
    found: list[Order] = []
    for at, (from_, price) in enumerate(prices):
        low = max(1, from_, least)
        high = prices[at + 1][0] - 1 if at + 1 < len(prices) else math.inf
        if high < low:
            continue
        ideal, _ = economic_order(demand_per_year, order_cost, holding_share * price)
        for near in {math.floor(ideal), math.ceil(ideal)}:
            count = min(max(near, low), high)
            cost = order_cost_per_year(count, demand_per_year, order_cost, holding_share, price)
            found.append(Order(int(count), price, cost))
    return min(found, key=lambda order: (order.cost_per_year, order.quantity))


def newsvendor(
    over_cost: float, under_cost: float, mean: float, sd: float
) -> tuple[float, float, float]:
    """Stock that balances too many against too few, for normal demand.

    Args:
        over_cost: h of each left over; under_cost: p of each one short [money].
        mean, sd: of the demand.

    Returns:
        chance p/(p + h) that the demand is met, stock S* = μ + z·σ, expected cost (h + p)·φ(z)·σ.
    """
    chance = under_cost / (under_cost + over_cost)
    z = float(ndtri(chance))
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return chance, mean + z * sd, (over_cost + under_cost) * sd * density


def lead_time_demand(
    per_day: float, sd_per_day: float, lead_days: float, lead_sd_days: float = 0.0
) -> tuple[float, float]:
    """Mean and standard deviation of what is needed while an order is on its way.

    μ = d·L and σ² = L·σ_d² + d²·σ_L², demand and delivery time independent.
    """
    variance = lead_days * sd_per_day**2 + (per_day * lead_sd_days) ** 2
    return per_day * lead_days, math.sqrt(variance)


def reorder_point(mean: float, sd: float, z: float) -> float:
    """Stock at which to order: mean demand in the delivery time and z standard deviations."""
    return mean + z * sd


def z_of(service: float) -> float:
    """Standard deviations that a service level takes; 0.95 gives 1.645."""
    return float(ndtri(service))


@dataclass(frozen=True, slots=True)
class StockPlan:
    """When to order new sets and how many.

    Attributes:
        demand_per_year: sets that go out of use in a year.
        lead_mean, lead_sd: sets needed during a delivery.
        exact_point: reorder point by the normal formula, for comparison; safety: what of it is
            for chance.
        reorder_at: order as soon as stock and orders together are down to so many sets: the
            fewest whose `service` is as asked.
        service: chance that this is enough, see `count_service`.
        asked_service: the one wished for; cost_service: the one that costs balance at.
        order: how many at once, and what that costs a year.
        position: sets in store and on order.
        order_now: whether the position is down to the reorder point.
    """

    demand_per_year: float
    lead_mean: float
    lead_sd: float
    exact_point: float
    safety: float
    reorder_at: int
    service: float
    asked_service: float
    cost_service: float
    order: Order
    position: int
    order_now: bool


def price_list(site: Site) -> list[tuple[int, float]]:
    """From how many sets on which price holds, ascending."""
    stock = site.stock
    rows = [(0, site.money.set_price)]
    rows += [
        (sets, price)
        for sets, price in (
            (stock.break_sets, stock.break_price),
            (stock.second_break_sets, stock.second_break_price),
        )
        if sets > 0
    ]
    return rows


def stock_problems(site: Site, demand_per_year: float) -> list[InputProblem]:
    """Why no order can be planned: no delivery time, no price, no need."""
    problems = []
    if site.wear.order_lead_days <= 0.0:
        sentence = (
            "Delivery time of a new set {value}: without one nothing can be said of when to "
            "order. Enter more than 0 days on the Site page."
        )
        filling = {"value": quantity(site.wear.order_lead_days, "days")}
        problems.append(InputProblem("order_lead_days", sentence, filling))
    if site.money.set_price <= 0.0:
        sentence = (
            "New cloth set {value}: without a price no quantity can be weighed against the cost "
            "of keeping it. Enter more than 0 on the Site page."
        )
        filling = {"value": quantity(site.money.set_price, "money")}
        problems.append(InputProblem("set_price", sentence, filling))
    if not problems and not demand_per_year > 0.0:
        sentence = "No set goes out of use within the season, so there is nothing to order."
        problems.append(InputProblem("demand", sentence))
    return problems


def plan_stock(
    site: Site, demand_per_year: float, demand_variance: float, new: int = 0
) -> StockPlan:
    """When to order and how many, for so many sets a year.

    Args:
        demand_variance: of the number of sets in a year.
        new: sets that were recorded and never put on; they are in store even where more were not
            entered as such.

    Raises:
        InputError: with every problem of `stock_problems`.
    """
    problems = stock_problems(site, demand_per_year)
    if problems:
        raise InputError(problems)
    stock, wear = site.stock, site.wear
    per_day = demand_per_year / YEAR_DAYS
    # Sets of a site are few and go out of use one by one: over a delivery the spread is at least
    # that of chance events, whatever the yearly number does.
    sd_per_day = math.sqrt(max(demand_variance, demand_per_year) / YEAR_DAYS)
    mean, sd = lead_time_demand(per_day, sd_per_day, wear.order_lead_days, stock.order_lead_sd_days)
    exact = reorder_point(mean, sd, z_of(stock.stock_service))
    whole = 0
    while count_service(whole, mean, sd) < stock.stock_service:
        whole += 1
    prices = price_list(site)
    order = best_order(
        demand_per_year, stock.order_cost, stock.holding_share, prices, stock.least_order_sets
    )
    cycle_years = order.quantity / demand_per_year
    over = stock.holding_share * order.price * cycle_years
    under = max(site.money.unplanned_change_cost, 1e-9)
    by_cost, _, _ = newsvendor(over, under, mean, sd)
    position = max(stock.spare_sets, new) + stock.sets_on_order
    return StockPlan(
        demand_per_year, mean, sd, exact, exact - mean, whole, count_service(whole, mean, sd),
        stock.stock_service, by_cost, order, position, position <= whole,
    )  # fmt: skip


def poisson_service(stock: int, mean: float) -> float:
    """Chance that Poisson demand of a mean does not exceed a stock."""
    return 1.0 if mean <= 0.0 else float(pdtr(stock, mean))


def count_service(stock: int, mean: float, sd: float) -> float:
    """Chance that a whole-numbered demand of a mean and standard deviation does not exceed a stock.

    Poisson, or where the variance exceeds the mean the negative binomial with both:
    P(N ≤ k) = I_p(r, k + 1) with p = μ/σ² and r = μ²/(σ² − μ), I the regularised incomplete beta
    function (Abramowitz & Stegun 1964, 26.5.26).
    """
    beyond = sd * sd - mean
    if mean <= 0.0 or beyond <= 1e-9 * mean:
        return poisson_service(stock, mean)
    return float(betainc(mean * mean / beyond, stock + 1.0, mean / (sd * sd)))
