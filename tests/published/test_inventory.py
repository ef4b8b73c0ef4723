"""Order quantities, reorder points and the newsvendor, by the functions that a site's orders use.

Snyder & Shen, Fundamentals of Supply Chain Theory: example 3.1 (economic order quantity) and the
example of the normal newsvendor; an independent inventory library gives the same figures.
Heizer & Render, Operations Management, chapter on inventory (from memory): reorder points, and
the quantity discount. Books round z; where they do, their z is used.
"""

from __future__ import annotations

import pytest

from sim.decide.cloth.stock import (
    best_order,
    economic_order,
    lead_time_demand,
    newsvendor,
    order_cost_per_year,
    reorder_point,
    z_of,
)

DISCOUNTS = ((0, 5.00), (1_000, 4.80), (2_000, 4.75))


def test_economic_order_quantity() -> None:
    """K = 8, h = 0.225, 1,300 a year: 304.0468 at a time, 68.4105 a year (Snyder & Shen)."""
    quantity, cost = economic_order(1_300.0, 8.0, 0.225)
    assert quantity == pytest.approx(304.0468, abs=5e-5)
    assert cost == pytest.approx(68.4105, abs=5e-5)


def test_newsvendor() -> None:
    """h = 0.18, p = 0.70, demand N(50, 8²): S* = 56.6040 and a cost of 1.9976 (Snyder & Shen)."""
    chance, level, cost = newsvendor(0.18, 0.70, 50.0, 8.0)
    assert chance == pytest.approx(0.70 / 0.88, rel=1e-12)
    assert level == pytest.approx(56.6040, abs=5e-5)
    assert cost == pytest.approx(1.9976, abs=5e-5)


def test_reorder_point_of_a_known_lead_time_demand() -> None:
    """Demand N(350, 10²) in the lead time and z = 1.65: order at 366.5 (Heizer & Render); the
    exact z of 95 % is 1.6449, which gives 366.45."""
    assert reorder_point(350.0, 10.0, 1.65) == pytest.approx(366.5, abs=1e-9)
    assert z_of(0.95) == pytest.approx(1.6449, abs=5e-5)
    assert reorder_point(350.0, 10.0, z_of(0.95)) == pytest.approx(366.45, abs=5e-3)


def test_reorder_point_of_a_daily_demand() -> None:
    """15 a day with a deviation of 5, two days of delivery, z = 1.28: a safety stock of 9.05, and
    39 once rounded (Heizer & Render)."""
    mean, sd = lead_time_demand(15.0, 5.0, 2.0)
    assert mean == 30.0
    assert 1.28 * sd == pytest.approx(9.05, abs=5e-3)
    assert round(reorder_point(mean, sd, 1.28)) == 39


def test_price_breaks() -> None:
    """5,000 a year, 49 an order, keeping 20 % of the price; 5.00, from 1,000 on 4.80, from 2,000
    on 4.75: order 1,000, for 24,725.00 a year (Heizer & Render). 700 at 5.00 cost 25,700, and
    2,000 at 4.75 cost 24,822.50."""
    found = best_order(5_000.0, 49.0, 0.2, DISCOUNTS)
    assert (found.quantity, found.price) == (1_000, 4.80)
    assert found.cost_per_year == pytest.approx(24_725.0, abs=5e-3)
    assert order_cost_per_year(700, 5_000.0, 49.0, 0.2, 5.0) == pytest.approx(25_700.0, abs=5e-3)
    last = order_cost_per_year(2_000, 5_000.0, 49.0, 0.2, 4.75)
    assert last == pytest.approx(24_822.5, abs=5e-3)
