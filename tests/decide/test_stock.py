"""Orders of a site: whole numbers, limits, price breaks, and what is said when something lacks.

The formulas themselves are held against textbooks in `tests/published/test_inventory.py`.
"""

from __future__ import annotations

import itertools

import pytest
from scipy import stats

from sim.checks import check_site
from sim.decide.cloth.stock import (
    best_order,
    order_cost_per_year,
    plan_stock,
    poisson_service,
    price_list,
    stock_problems,
)
from sim.errors import InputError
from sim.inputs import Site, Value

PRICES = [(0, 900.0), (4, 800.0), (10, 780.0)]


def site(**values: Value) -> Site:
    """A site of defaults with some inputs entered."""
    return Site("Orders").with_values(values)


@pytest.mark.parametrize("demand", [0.7, 4.0, 12.5, 60.0])
@pytest.mark.parametrize("least", [1, 3, 7])
def test_no_whole_quantity_is_cheaper(demand: float, least: int) -> None:
    """Of all quantities up to 200, each at the price that holds for it, none costs less a year."""
    found = best_order(demand, 40.0, 0.2, PRICES, least)

    def price(count: int) -> float:
        return [p for from_, p in PRICES if count >= from_][-1]

    costs = {
        count: order_cost_per_year(count, demand, 40.0, 0.2, price(count))
        for count in range(least, 200)
    }
    assert found.cost_per_year == pytest.approx(min(costs.values()), rel=1e-12)
    assert found.price == price(int(found.quantity))
    assert found.quantity >= least


SERVICES, DEMANDS = (0.6, 0.9, 0.99), (0.5, 4.0, 12.0, 30.0, 120.0)


def test_the_reorder_point_is_the_smallest_that_is_enough() -> None:
    """In 15 cases of wished chance and yearly demand the reorder point is SciPy's quantile of the
    Poisson demand of a delivery: no set fewer would do, and none is kept for nothing."""
    for service, demand in itertools.product(SERVICES, DEMANDS):
        kept = site(stock_service=service, order_lead_sd_days=0.0)
        plan = plan_stock(kept, demand, demand)
        law = stats.poisson(demand * 14.0 / 365.0)
        assert plan.reorder_at == int(law.ppf(service)), (service, demand)
        assert plan.service == pytest.approx(float(law.cdf(plan.reorder_at)), rel=1e-12)


def test_the_reorder_point_by_a_printed_table() -> None:
    """Cumulative Poisson probabilities as tables print them: at a mean of 1.0 the values up to 2
    and 3 are 0.9197 and 0.9810, at 2.0 up to 4 and 5 0.9473 and 0.9834 (National Bureau of
    Standards, Handbook of Mathematical Functions, 1964, table 26.7, from memory)."""
    assert poisson_service(2, 1.0) == pytest.approx(0.9197, abs=5e-5)
    assert poisson_service(5, 2.0) == pytest.approx(0.9834, abs=5e-5)
    for mean, service, wanted in ((1.0, 0.9, 2), (1.0, 0.95, 3), (2.0, 0.94, 4), (2.0, 0.95, 5)):
        demand = mean * 365.0 / 14.0
        kept = site(stock_service=service, order_lead_sd_days=0.0)
        assert plan_stock(kept, demand, demand).reorder_at == wanted


def test_a_demand_that_spreads_more_is_negative_binomial() -> None:
    """With a delivery time that varies the point is SciPy's negative binomial quantile of the same
    mean and variance."""
    for service, demand in itertools.product(SERVICES, DEMANDS):
        plan = plan_stock(site(stock_service=service, order_lead_sd_days=12.0), demand, demand)
        mean, variance = plan.lead_mean, plan.lead_sd**2
        law = stats.nbinom(mean**2 / (variance - mean), mean / variance)
        assert plan.reorder_at == int(law.ppf(service)), (service, demand)
        assert plan.service == pytest.approx(float(law.cdf(plan.reorder_at)), rel=1e-9)


def test_a_rounded_normal_point_would_fall_short() -> None:
    """Where 9 sets are needed in a delivery and 99 of 100 deliveries are to be covered, the normal
    formula asks for 16 (9 + 2.3263·3 = 15.98), which by SciPy's Poisson distribution cover fewer:
    17 are kept."""
    surely = site(stock_service=0.99, order_lead_sd_days=0.0)
    demand = 9.0 * 365.0 / 14.0
    plan = plan_stock(surely, demand, demand)
    assert plan.exact_point == pytest.approx(9.0 + 2.3263 * 3.0, abs=1e-3)
    assert float(stats.poisson.cdf(16, 9.0)) < 0.99
    assert plan.reorder_at == int(stats.poisson.ppf(0.99, 9.0)) == 17


def test_a_delivery_that_varies_asks_for_more_in_store() -> None:
    """The safety stock grows with the spread of the delivery time, all else alike."""
    sure = plan_stock(site(order_lead_sd_days=0.0), 30.0, 30.0)
    loose = plan_stock(site(order_lead_sd_days=20.0), 30.0, 30.0)
    assert loose.lead_mean == sure.lead_mean
    assert loose.safety > sure.safety


def test_sets_in_store_and_on_order_count_together() -> None:
    """The position is what is in store and on order; recorded new sets are in store anyway."""
    held = site(spare_sets=2, sets_on_order=3)
    assert plan_stock(held, 4.0, 4.0).position == 5
    assert not plan_stock(held, 4.0, 4.0).order_now
    assert plan_stock(site(), 4.0, 4.0, new=1).position == 1
    assert plan_stock(site(), 4.0, 4.0).order_now


def test_price_breaks_are_read_from_the_site() -> None:
    """Breaks that are entered follow the price of one; none is entered by 0 sets."""
    assert price_list(site()) == [(0, 900.0)]
    two = site(break_sets=4, break_price=800.0, second_break_sets=10, second_break_price=780.0)
    assert price_list(two) == PRICES
    assert check_site(two) == []


def test_what_lacks_is_named_at_once() -> None:
    """No delivery time and no price: both are told, by field; no need where both are there."""
    bare = site(order_lead_days=0.0, set_price=0.0)
    with pytest.raises(InputError, match="Delivery time of a new set") as fault:
        plan_stock(bare, 4.0, 4.0)
    assert [problem.field for problem in fault.value.problems] == ["order_lead_days", "set_price"]
    assert [problem.field for problem in stock_problems(site(), 0.0)] == ["demand"]
    assert poisson_service(0, 0.0) == 1.0
