"""Stock and orders of new cloth sets, and how many sets to own.

Textbook inventory: Harris's economic order quantity with price breaks, reorder points for normal
lead-time demand, and the newsvendor's balance of too many against too few (Snyder & Shen,
Fundamentals of Supply Chain Theory; Heizer & Render, Operations Management, from memory). A site
needs few sets a year, so the normal formula is too coarse for it: the stock at which to order is
the smallest whole one that a distribution of counts says is enough, Poisson, or negative binomial
where the delivery's demand spreads more.

Of the sets in rotation one is on the wheel, others dry, are in the laundry or ready in store. Two
ways to how many to own: a finite-source queue (the machine-repair model, Winston, Operations
Research, from memory), in which every time is exponential, and a small event loop that takes times
as they are and can follow a calendar.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.errors import InputError, InputProblem
from sim.inputs import Site
from sim.special import betainc, ndtri, pdtr
from sim.units import quantity

YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True)
class Order:
    """Sets to order at once, the price of one [money], and what purchase, ordering and keeping then
    cost [money/year]."""

    quantity: int
    price: float
    cost_per_year: float


def economic_order(
    demand_per_year: float, order_cost: float, holding_per_year: float
) -> tuple[float, float]:
    """Harris's order quantity √(2KD/h), and what ordering and keeping then cost a year √(2KDh).

    Args:
        demand_per_year: D, above 0; order_cost: K of each order [money], ≥ 0.
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
    orders: list[Order] = []
    ends = [from_ - 1.0 for from_, _ in prices[1:]]
    for (from_, price), high in zip(prices, [*ends, math.inf], strict=True):
        low = max(1, from_, least)
        if high < low:
            continue
        ideal, _ = economic_order(demand_per_year, order_cost, holding_share * price)
        for near in {math.floor(ideal), math.ceil(ideal)}:
            count = min(max(near, low), high)
            cost = order_cost_per_year(count, demand_per_year, order_cost, holding_share, price)
            orders.append(Order(int(count), price, cost))
    return min(orders, key=lambda order: (order.cost_per_year, order.quantity))


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
    rows = [
        (stock.break_sets, stock.break_price),
        (stock.second_break_sets, stock.second_break_price),
    ]
    return [(0, site.money.set_price), *(row for row in rows if row[0] > 0)]


def stock_problems(site: Site, demand_per_year: float) -> list[InputProblem]:
    """Why no order can be planned: no delivery time, no price, no need."""
    asked = (
        (
            "order_lead_days", site.wear.order_lead_days, "days",
            "Delivery time of a new set {value}: without one nothing can be said of when to "
            "order. Enter more than 0 days on the Site page.",
        ),
        (
            "set_price", site.money.set_price, "money",
            "New cloth set {value}: without a price no quantity can be weighed against the cost "
            "of keeping it. Enter more than 0 on the Site page.",
        ),
    )  # fmt: skip
    problems = [
        InputProblem(name, sentence, {"value": quantity(value, kind)})
        for name, value, kind, sentence in asked
        if value <= 0.0
    ]
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
    while (service := count_service(whole, mean, sd)) < stock.stock_service:
        whole += 1
    order = best_order(
        demand_per_year,
        stock.order_cost,
        stock.holding_share,
        price_list(site),
        stock.least_order_sets,
    )
    cycle_years = order.quantity / demand_per_year
    over = stock.holding_share * order.price * cycle_years
    under = max(site.money.unplanned_change_cost, 1e-9)
    by_cost, _, _ = newsvendor(over, under, mean, sd)
    position = max(stock.spare_sets, new) + stock.sets_on_order
    return StockPlan(
        demand_per_year, mean, sd, exact, exact - mean, whole, service,
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


# ---- sets in rotation ----------------------------------------------------------------------------


Floats = NDArray[np.float64]
MOST_SETS = 8
"""So many sets are looked at, or two more than are owned."""


@dataclass(frozen=True, slots=True)
class FiniteSource:
    """A finite-source queue in balance: `p`, probability of so many units at the servers, shape
    (units + 1,), and the mean numbers at the servers (`down`) and of the others (`up`)."""

    p: Floats
    down: float
    up: float


def finite_source(
    units: int, fail_rate: float, repair_rate: float, servers: int = 1
) -> FiniteSource:
    """M/M/R//K: K units, each comes to the servers at a rate while it is not there.

    Birth rate (K − n)·λ, death rate min(n, R)·μ; the balance is solved from its ratios.

    Args:
        units: K, at least 1; servers: R, at least 1.
        fail_rate: λ of one unit, above 0; repair_rate: μ of one server, above 0.
    """
    logs = [0.0]
    for n in range(1, units + 1):
        ratio = (units - n + 1) * fail_rate / (min(n, servers) * repair_rate)
        logs.append(logs[-1] + math.log(ratio))
    weights = np.exp(np.array(logs) - max(logs))
    p = weights / weights.sum()
    down = float(np.arange(units + 1) @ p)
    return FiniteSource(p, down, units - down)


@dataclass(frozen=True, slots=True)
class Availability:
    """What became of changes of sets: share of them at which no dry set was ready, share of time
    that the wheel waited for one, and how many were looked at."""

    none_ready: float
    waited_share: float
    changes: int


def short_by_formula(sets: int, on_wheel_h: float, away_h: float) -> Availability:
    """Sets that circulate between one wheel and laundry and drying, all times exponential.

    Seen from the wheel it is the server and each set away comes back at a rate 1/away; a change
    finds none ready where it was the last set at the wheel: p₁/(1 − p₀).
    """
    p = finite_source(sets, 1.0 / away_h, 1.0 / on_wheel_h).p
    return Availability(float(p[1] / (1.0 - p[0])), float(p[0]), 0)


def turn_over(sets: int, on_wheel_h: Sequence[float], away_h: Sequence[float]) -> Availability:
    """The event loop: the next set is hung as soon as one is ready, and the last goes away.

    Args:
        on_wheel_h: how long each set in turn stays on the wheel [h].
        away_h: how long it is then away [h]; same length.
    """
    ready = [0.0] * (sets - 1)
    heapq.heapify(ready)
    now, waited, short = 0.0, 0.0, 0
    for stays, away in zip(on_wheel_h, away_h, strict=True):
        now += stays
        heapq.heappush(ready, now + away)
        back = heapq.heappop(ready)
        if back > now:
            short += 1
            waited += back - now
            now = back
    count = len(on_wheel_h)
    return Availability(short / count if count else 0.0, waited / now if now else 0.0, count)


@dataclass(frozen=True, slots=True)
class Want:
    """A change that a calendar asks for.

    Attributes:
        at_h: since the season's first midnight [h]; away_h: how long the set that comes off is
            away, to dry or to be laundered and dry [h].
        is_peak: whether it is a dry set in the middle of a peak day; else it is in the morning.
    """

    at_h: float
    away_h: float
    is_peak: bool


def follow(sets: int, wants: Sequence[Want]) -> list[bool]:
    """Which changes of a calendar, in order of time, find a dry set; one that finds none is left
    out."""
    ready = [-math.inf] * (sets - 1)
    heapq.heapify(ready)
    kept = []
    for want in wants:
        is_ready = bool(ready) and ready[0] <= want.at_h
        if is_ready:
            heapq.heapreplace(ready, want.at_h + want.away_h)
        kept.append(is_ready)
    return kept


@dataclass(frozen=True, slots=True)
class Owned:
    """What so many sets are good for.

    Attributes:
        formula: changes in the morning, all times exponential: the cautious end.
        fixed: the same by the event loop with the site's times as they stand.
        morning_ready, peak_ready: shares of the calendar's changes, in the morning and at noon of
            peak days, that find a dry set ready; None where it asks for none.
    """

    sets: int
    formula: Availability
    fixed: Availability
    morning_ready: float | None
    peak_ready: float | None


def away_hours(site: Site, laundered: bool) -> float:
    """How long a set that came off is away [h]: what comes from the laundry still has to dry."""
    wear = site.wear
    return wear.set_dry_h + (wear.launder_turn_h if laundered else 0.0)


CHECKED = 200
"""Changes that the event loop looks at with fixed times."""


def compare_owned(
    site: Site, wants: Sequence[Want], on_wheel_h: float, away_h: float
) -> list[Owned]:
    """One row a number of sets, from 1 to two more than the site owns.

    Args:
        wants: the season's calendar.
        on_wheel_h: mean time on the wheel between two changes in the morning [h].
        away_h: mean time that a set is then away [h].
    """
    rows = []
    for sets in range(1, min(MOST_SETS, site.wear.sets_owned + 2) + 1):
        formula = short_by_formula(sets, on_wheel_h, away_h)
        fixed = turn_over(sets, [on_wheel_h] * CHECKED, [away_h] * CHECKED)
        kept = follow(sets, wants)
        ready = (_share(kept, wants, is_peak=is_peak) for is_peak in (False, True))
        rows.append(Owned(sets, formula, fixed, *ready))
    return rows


def _share(kept: Sequence[bool], wants: Sequence[Want], *, is_peak: bool) -> float | None:
    ready = [is_so for is_so, want in zip(kept, wants, strict=True) if want.is_peak == is_peak]
    return sum(ready) / len(ready) if ready else None
